//! The server: connections on the loopback address, each with its limits.

use crate::answer::{self, Answer};
use crate::gate::{self, Gate};
use crate::keys::Keys;
use crate::routes;
use crate::shelf::Shelf;
use http_body_util::{BodyExt, Limited};
use hyper::body::{Body, Incoming};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Request, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use std::convert::Infallible;
use std::net::{Ipv4Addr, SocketAddrV4};
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio::time::timeout;

/// Connections at a time; more wait until one ends.
const CONNECTIONS: usize = 128;
/// Time for a request's head, and for its body; also for the next request on a connection.
const PATIENCE: Duration = Duration::from_secs(5);
/// After so long a connection takes no further request; what goes on has [`GRACE`] to end.
const LIFE: Duration = Duration::from_secs(120);
const GRACE: Duration = Duration::from_secs(25);
/// Largest head, bytes.
const HEAD: usize = 16 << 10;
/// Most headers.
const HEADERS: usize = 64;
/// Largest body, bytes.
const BODY: usize = 64 << 10;
/// Largest body with a drawing, bytes.
const DRAWING: usize = 48 << 20;
/// How often is looked whether to stop.
const LOOK: Duration = Duration::from_millis(50);

/// What requests need.
pub(crate) struct Shared {
    pub(crate) shelf: Shelf,
    pub(crate) keys: Keys,
    pub(crate) port: u16,
}

/// A listener on the loopback address and nowhere else; port 0 takes a free one.
pub(crate) async fn listen(port: u16) -> std::io::Result<TcpListener> {
    TcpListener::bind(SocketAddrV4::new(Ipv4Addr::LOCALHOST, port)).await
}

/// Serves until told to stop.
pub(crate) async fn serve(listener: TcpListener, shared: Arc<Shared>, stopped: &dyn Fn() -> bool) {
    let room = Arc::new(Semaphore::new(CONNECTIONS));
    while !stopped() {
        let next = async {
            // The semaphore is never closed.
            let permit = Arc::clone(&room).acquire_owned().await.ok()?;
            Some((permit, listener.accept().await))
        };
        match timeout(LOOK, next).await {
            Ok(Some((permit, Ok((stream, _))))) => {
                let shared = Arc::clone(&shared);
                tokio::spawn(async move {
                    attend(stream, shared).await;
                    drop(permit);
                });
            }
            // No more files may be open, say: it gets better when a connection ends.
            Ok(Some((_, Err(_)))) => tokio::time::sleep(LOOK).await,
            Ok(None) | Err(_) => {}
        }
    }
}

async fn attend(stream: TcpStream, shared: Arc<Shared>) {
    let service = service_fn(move |request| {
        let shared = Arc::clone(&shared);
        async move { Ok::<_, Infallible>(one(request, &shared).await) }
    });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(PATIENCE)
        .max_buf_size(HEAD)
        .max_headers(HEADERS)
        .serve_connection(TokioIo::new(stream), service);
    let mut connection = pin!(connection);
    // How a connection ends concerns nobody but its client.
    if timeout(LIFE, connection.as_mut()).await.is_err() {
        connection.as_mut().graceful_shutdown();
        let _ = timeout(GRACE, connection).await;
    }
}

async fn one(request: Request<Incoming>, shared: &Shared) -> Answer {
    let (head, body) = request.into_parts();
    match gate::check(&head, &shared.keys, shared.port) {
        Gate::Shut(status, words) => return answer::words(status, words),
        Gate::Enter => {
            let name = gate::cookie_name(shared.port);
            let cookie = format!("{name}={}; Path=/; HttpOnly; SameSite=Strict", shared.keys.cookie());
            return answer::enter(&cookie);
        }
        Gate::Open => {}
    }
    let most = if head.uri.path() == routes::NEW { DRAWING } else { BODY };
    if body.size_hint().lower() > most as u64 {
        return answer::words(StatusCode::PAYLOAD_TOO_LARGE, "that is too much");
    }
    let bytes = match timeout(PATIENCE, Limited::new(body, most).collect()).await {
        Ok(Ok(collected)) => collected.to_bytes(),
        Ok(Err(error)) if error.is::<http_body_util::LengthLimitError>() => {
            return answer::words(StatusCode::PAYLOAD_TOO_LARGE, "that is too much");
        }
        Ok(Err(_)) => return answer::words(StatusCode::BAD_REQUEST, "the body is not whole"),
        Err(_) => return answer::words(StatusCode::REQUEST_TIMEOUT, "the body did not come"),
    };
    routes::respond(&shared.shelf, &head.method, &head.uri, bytes).await
}
