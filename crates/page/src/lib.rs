//! The bench page: a plate seen in the browser as the proof found it, all of it changed in its sentences, its packet written.
//!
//! A small server on the loopback address serves a plate file or a folder's; a tablet on the local network gets the page at the machine of
//! one plate, if the maker asks for it. It decides nothing: reading, planning, proving and the
//! packet are [`packet`]'s, words and heights are [`intake`]'s, pictures are [`sheet`]'s. It never gives out a file of the
//! plate's folder as it is there: everything that the browser gets was made here or is part of the program. It writes the plate
//! file, the shop file if that lies within its folder, new plates of the folder, the packet and ticks, and nothing else.
//!
//! [`gate`] says who may come in, [`lan`] who from the network; [`shelf`] has the plates; [`board`] is what stands on a plate's page, [`view`]
//! is that as JSON, [`words`] its sentences; [`paper`] is the file.

mod answer;
mod bench;
mod board;
mod changed;
mod changes;
mod gate;
mod keys;
mod lan;
mod near;
mod paper;
mod routes;
mod run;
mod server;
mod shelf;
mod sketch;
mod story;
mod ticks;
mod view;
mod ways;
mod words;

pub use lan::{Told, network_address};

use keys::Keys;
use lan::Tablets;
use server::Shared;
use shelf::Shelf;
use std::fmt;
use std::io;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// What is served, and where.
#[derive(Clone, Copy)]
pub struct Wish<'a> {
    /// A plate file, or a folder with plates.
    pub what: What<'a>,
    /// The port on the loopback address; 0 for a free one.
    pub port: u16,
    /// Gives the date line of a packet's manifest.
    pub date: fn() -> String,
    /// The tablet beside the machine, if one may come in.
    pub lan: Option<Lan<'a>>,
}

/// The local network, listened to for the page at the machine.
#[derive(Clone, Copy)]
pub struct Lan<'a> {
    /// This computer's addresses there.
    pub addresses: &'a [IpAddr],
    /// Told what the terminal shows: codes above all.
    pub tell: &'a dyn Fn(&Told),
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
    /// Where a tablet on the local network finds the page that asks for its code.
    pub lan: Vec<String>,
}

/// Why nothing is served.
#[derive(Debug)]
pub enum NotServed {
    /// The plate file, or the folder, can't be found.
    NoPlate(PathBuf, io::Error),
    /// The port can't be had.
    NoPort(u16, io::Error),
    /// An address on the local network can't be had.
    NoAddress(IpAddr, io::Error),
    /// A tablet works at one plate.
    NotOnePlate,
    /// The system gives no random numbers or no threads.
    System(String),
}

impl fmt::Display for NotServed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoPlate(path, error) => write!(f, "`{}` can't be read: {error}", path.display()),
            Self::NoPort(port, error) => write!(f, "port {port} on 127.0.0.1 can't be had: {error}"),
            Self::NoAddress(address, error) => write!(f, "{address} can't be listened on: {error}"),
            Self::NotOnePlate => write!(f, "a tablet is let in to one plate, and no plate file was named"),
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
    if wish.lan.is_some() && !shelf.is_one() {
        return Err(NotServed::NotOnePlate);
    }
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
    let mut network = Vec::new();
    for &at in wish.lan.iter().flat_map(|lan| lan.addresses) {
        network.push(runtime.block_on(server::listen_at(at, port)).map_err(|e| NotServed::NoAddress(at, e))?);
    }
    let of = |listener: &tokio::net::TcpListener| listener.local_addr().map(|a| format!("http://{a}/"));
    let lan = network.iter().map(of).collect::<io::Result<Vec<String>>>().map_err(|e| system(&e))?;
    let printed = address(keys.address());
    let addresses = Addresses { printed, once: address(&keys.once().unwrap_or_default()), lan };
    let tablets = wish.lan.map(|_| Tablets::new()).transpose().map_err(|e| system(&e))?;
    let shared = Arc::new(Shared { shelf, keys, port, tablets });
    ready(&addresses);
    let tell = |told: &Told| {
        if let Some(lan) = &wish.lan {
            (lan.tell)(told);
        }
    };
    runtime.block_on(server::serve(listener, network, Arc::clone(&shared), stopped, &tell));
    shared.shelf.end();
    runtime.shutdown_timeout(Duration::from_secs(1));
    Ok(())
}
