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
mod near;
mod paper;
mod routes;
mod run;
mod server;
mod shelf;
mod story;
mod view;

use keys::Keys;
use server::Shared;
use shelf::Shelf;
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// What is served, and where.
#[derive(Debug, Clone, Copy)]
pub struct Wish<'a> {
    /// A plate file, or a folder with plates.
    pub what: What<'a>,
    /// The port on the loopback address; 0 for a free one.
    pub port: u16,
    /// Gives the date line of a packet's manifest.
    pub date: fn() -> String,
}

/// A plate or many.
#[derive(Debug, Clone, Copy)]
pub enum What<'a> {
    /// The plate file.
    Plate(&'a Path),
    /// A folder with plates in it, where new ones can be made.
    Folder(&'a Path),
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
    /// The plate file, or the folder, can't be found.
    NoPlate(PathBuf, io::Error),
    /// The port can't be had.
    NoPort(u16, io::Error),
    /// The system gives no random numbers or no threads.
    System(String),
}

impl fmt::Display for NotServed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoPlate(path, error) => write!(f, "`{}` can't be read: {error}", path.display()),
            Self::NoPort(port, error) => write!(f, "port {port} on 127.0.0.1 can't be had: {error}"),
            Self::System(what) => write!(f, "the page can't be served: {what}"),
        }
    }
}

impl std::error::Error for NotServed {}

/// Serves the page of a plate until `stopped` says so; `ready` is told where it is once it can be visited.
///
/// # Errors
/// [`NotServed`] if it can't begin.
pub fn serve(wish: &Wish<'_>, ready: &mut dyn FnMut(&Addresses), stopped: &dyn Fn() -> bool) -> Result<(), NotServed> {
    let shelf = match wish.what {
        What::Plate(plate) => Shelf::one(plate, wish.date).map_err(|e| NotServed::NoPlate(plate.to_owned(), e))?,
        What::Folder(folder) => Shelf::of(folder, wish.date).map_err(|e| NotServed::NoPlate(folder.to_owned(), e))?,
    };
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
    let shared = Arc::new(Shared { shelf, keys, port });
    ready(&addresses);
    runtime.block_on(server::serve(listener, Arc::clone(&shared), stopped));
    shared.shelf.end();
    runtime.shutdown_timeout(Duration::from_secs(1));
    Ok(())
}
