//! The bench page: a plate seen in the browser as the proof found it, its floors changed in place, its packet written.
//!
//! A small server on the loopback address serves one plate file. It decides nothing: reading, planning, proving and the
//! packet are [`packet`]'s, words and heights are [`intake`]'s, pictures are [`sheet`]'s. It never gives out a file of the
//! plate's folder as it is there: everything that the browser gets was made here or is part of the program. It writes the plate
//! file and the packet, and nothing else.
//!
//! [`gate`] says who may come in; [`board`] is what stands on the page; [`view`] is that as JSON; [`paper`] is the file.

mod answer;
mod board;
mod gate;
mod keys;
mod paper;
mod routes;
mod run;
mod server;
mod view;

use board::{Board, PacketState};
use keys::Keys;
use paper::Paper;
use server::Shared;
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// What is served, and where.
#[derive(Debug, Clone, Copy)]
pub struct Wish<'a> {
    /// The plate file.
    pub plate: &'a Path,
    /// The port on the loopback address; 0 for a free one.
    pub port: u16,
    /// Gives the date line of a packet's manifest.
    pub date: fn() -> String,
}

/// Where the page is.
#[derive(Debug, Clone)]
pub struct Addresses {
    /// To be printed: lets in whoever has it, as often as it is visited.
    pub printed: String,
    /// To start a browser with: lets in once, since other users may see what a program was started with.
    pub once: String,
}

/// Why nothing is served.
#[derive(Debug)]
pub enum NotServed {
    /// The plate file can't be found.
    NoPlate(PathBuf, io::Error),
    /// The port can't be had.
    NoPort(u16, io::Error),
    /// The system gives no random numbers or no threads.
    System(String),
}

impl fmt::Display for NotServed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoPlate(path, error) => write!(f, "the plate file `{}` can't be read: {error}", path.display()),
            Self::NoPort(port, error) => write!(f, "port {port} on 127.0.0.1 can't be had: {error}"),
            Self::System(what) => write!(f, "the page can't be served: {what}"),
        }
    }
}

impl std::error::Error for NotServed {}

/// How long an end waits for a packet that is being written.
const LAST_WAIT: Duration = Duration::from_secs(10);

/// Serves the page of a plate until `stopped` says so; `ready` is told where it is once it can be visited.
///
/// # Errors
/// [`NotServed`] if it can't begin.
pub fn serve(wish: &Wish<'_>, ready: &mut dyn FnMut(&Addresses), stopped: &dyn Fn() -> bool) -> Result<(), NotServed> {
    let paper = Paper::at(wish.plate).map_err(|e| NotServed::NoPlate(wish.plate.to_owned(), e))?;
    let system = |error: &dyn fmt::Display| NotServed::System(error.to_string());
    let keys = Keys::fresh().map_err(|e| system(&e))?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        // Pictures are drawn there; each takes all processors for a moment anyway.
        .max_blocking_threads(3)
        .build()
        .map_err(|e| system(&e))?;
    let listener = runtime.block_on(server::listen(wish.port)).map_err(|e| NotServed::NoPort(wish.port, e))?;
    let port = listener.local_addr().map_err(|e| system(&e))?.port();
    let address = |key: &str| format!("http://127.0.0.1:{port}/?key={key}");
    let addresses = Addresses { printed: address(keys.address()), once: address(&keys.once().unwrap_or_default()) };
    let board = Arc::new(Board::new(paper, wish.date));
    let threads = board.start();
    let shared = Arc::new(Shared { board: Arc::clone(&board), keys, port });
    ready(&addresses);
    runtime.block_on(server::serve(listener, shared, stopped));
    board.end();
    runtime.shutdown_timeout(Duration::from_secs(1));
    for thread in threads {
        // A thread that panicked has nothing more to end.
        let _ = thread.join();
    }
    let began = Instant::now();
    while board.now().packet == PacketState::Making && began.elapsed() < LAST_WAIT {
        std::thread::sleep(Duration::from_millis(20));
    }
    Ok(())
}
