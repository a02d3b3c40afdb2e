//! The server: connections on the loopback address and, if the maker asks for it, on the local network; each with its limits.

use crate::answer::{self, Answer};
use crate::gate::{self, Gate};
use crate::keys::Keys;
use crate::lan::{self, Tablets, Told, Tried};
use crate::routes;
use crate::shelf::Shelf;
use http_body_util::{BodyExt, Limited};
use hyper::body::{Body, Bytes, Incoming};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Request, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use std::convert::Infallible;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, SocketAddrV4};
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
    /// Who is let in on the local network, if it is listened to.
    pub(crate) tablets: Option<Tablets>,
}

/// By which door a connection came.
#[derive(Clone)]
enum Door {
    /// The loopback address.
    Own,
    /// An address on the local network.
    Network(SocketAddr),
}

/// A listener on the loopback address and nowhere else; port 0 takes a free one.
pub(crate) async fn listen(port: u16) -> std::io::Result<TcpListener> {
    TcpListener::bind(SocketAddrV4::new(Ipv4Addr::LOCALHOST, port)).await
}

/// A listener on an address of the local network: on the port that the loopback address has if that is free, else on any.
pub(crate) async fn listen_at(address: IpAddr, port: u16) -> std::io::Result<TcpListener> {
    match TcpListener::bind((address, port)).await {
        Ok(listener) => Ok(listener),
        Err(error) if error.kind() == std::io::ErrorKind::AddrInUse => TcpListener::bind((address, 0)).await,
        Err(error) => Err(error),
    }
}

/// Serves until told to stop; `tell` gets what the terminal shows about tablets.
pub(crate) async fn serve(
    listener: TcpListener,
    network: Vec<TcpListener>,
    shared: Arc<Shared>,
    stopped: &dyn Fn() -> bool,
    tell: &dyn Fn(&Told),
) {
    let mut doors =
        vec![tokio::spawn(keep_open(listener, Door::Own, Arc::new(Semaphore::new(CONNECTIONS)), Arc::clone(&shared)))];
    // Room of its own, so that nobody on the network keeps the maker from the own page.
    let room = Arc::new(Semaphore::new(CONNECTIONS));
    for listener in network {
        let Ok(address) = listener.local_addr() else { continue };
        doors.push(tokio::spawn(keep_open(listener, Door::Network(address), Arc::clone(&room), Arc::clone(&shared))));
    }
    while !stopped() {
        tokio::time::sleep(LOOK).await;
        for told in shared.tablets.iter().flat_map(Tablets::unsaid) {
            tell(&told);
        }
    }
    doors.iter().for_each(tokio::task::JoinHandle::abort);
}

async fn keep_open(listener: TcpListener, door: Door, room: Arc<Semaphore>, shared: Arc<Shared>) {
    // The semaphore is never closed.
    while let Ok(permit) = Arc::clone(&room).acquire_owned().await {
        match listener.accept().await {
            Ok((stream, _)) => {
                let (shared, door) = (Arc::clone(&shared), door.clone());
                tokio::spawn(async move {
                    attend(stream, door, shared).await;
                    drop(permit);
                });
            }
            // No more files may be open, say: it gets better when a connection ends.
            Err(_) => tokio::time::sleep(LOOK).await,
        }
    }
}

async fn attend(stream: TcpStream, door: Door, shared: Arc<Shared>) {
    let service = service_fn(move |request| {
        let (shared, door) = (Arc::clone(&shared), door.clone());
        async move {
            Ok::<_, Infallible>(match door {
                Door::Own => one(request, &shared).await,
                Door::Network(address) => from_network(request, &shared, address).await,
            })
        }
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
    match whole(body, most).await {
        Ok(bytes) => routes::respond(&shared.shelf, &head.method, &head.uri, bytes).await,
        Err(answer) => answer,
    }
}

/// A request from the local network: to the page at the machine, or with a code.
async fn from_network(request: Request<Incoming>, shared: &Shared, address: SocketAddr) -> Answer {
    let Some(tablets) = &shared.tablets else { return answer::words(StatusCode::FORBIDDEN, "nobody is let in here") };
    let (head, body) = request.into_parts();
    let name = lan::cookie_name(address.port());
    let gate = tablets.check(&head, &address.to_string(), &name);
    if let lan::Gate::Shut(status, words) = gate {
        return answer::words(status, words);
    }
    let bytes = match whole(body, BODY).await {
        Ok(bytes) => bytes,
        Err(answer) => return answer,
    };
    match gate {
        lan::Gate::Try => tried(tablets, &bytes, &name),
        lan::Gate::Outside if head.uri.path() == "/" => {
            tablets.asked();
            routes::code_page()
        }
        lan::Gate::Open if head.uri.path() == "/" => answer::to(routes::MACHINE),
        _ => routes::respond(&shared.shelf, &head.method, &head.uri, bytes).await,
    }
}

/// What a code is typed in as.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Typed {
    code: String,
}

fn tried(tablets: &Tablets, body: &[u8], name: &str) -> Answer {
    let Ok(typed) = serde_json::from_slice::<Typed>(body) else {
        return answer::words(StatusCode::BAD_REQUEST, "that is no code");
    };
    let no = |status, says: &str| answer::json(status, &serde_json::json!({ "says": says }));
    match tablets.tried(&typed.code) {
        Tried::Right(cookie) => {
            let cookie = format!("{name}={cookie}; Path=/; HttpOnly; SameSite=Strict");
            answer::with_cookie(no(StatusCode::OK, ""), &cookie)
        }
        Tried::Wrong => no(
            StatusCode::UNAUTHORIZED,
            "that is not the code, or it is not good any more; the terminal shows the one that is good now",
        ),
        Tried::TooSoon => no(StatusCode::TOO_MANY_REQUESTS, "a moment between two tries, please"),
        Tried::Closed => no(
            StatusCode::UNAUTHORIZED,
            "too many wrong codes came; nobody is let in until the program is started again",
        ),
    }
}

/// A request's whole body, within its limits.
async fn whole(body: Incoming, most: usize) -> Result<Bytes, Answer> {
    if body.size_hint().lower() > most as u64 {
        return Err(answer::words(StatusCode::PAYLOAD_TOO_LARGE, "that is too much"));
    }
    match timeout(PATIENCE, Limited::new(body, most).collect()).await {
        Ok(Ok(collected)) => Ok(collected.to_bytes()),
        Ok(Err(error)) if error.is::<http_body_util::LengthLimitError>() => {
            Err(answer::words(StatusCode::PAYLOAD_TOO_LARGE, "that is too much"))
        }
        Ok(Err(_)) => Err(answer::words(StatusCode::BAD_REQUEST, "the body is not whole")),
        Err(_) => Err(answer::words(StatusCode::REQUEST_TIMEOUT, "the body did not come")),
    }
}
