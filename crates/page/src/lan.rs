//! The tablet beside the machine: listened to on the local network only if the maker asks for it.
//!
//! A device is let in by a code that the terminal shows, and gets a cookie of its own. With it come the page at the machine, its
//! pictures, ticks and readings; nothing else. It is plain HTTP: whoever can listen on that network can read along and take the
//! cookie, which is why so little can be done with it.
//!
//! A code is good once and for a while. Few wrong tries make a new one, tries are a second apart, and after [`MOST_CODES`] codes
//! were guessed at in vain no more is taken: of 28⁶ codes that leaves whoever guesses a chance of 1 in 9 million for as long as the
//! server lives.

use crate::gate;
use crate::keys::{same, secret};
use crate::routes::machine;
use hyper::http::request::Parts;
use hyper::{Method, StatusCode};
use std::collections::VecDeque;
use std::net::{IpAddr, UdpSocket};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// What codes are made of: no vowels, so that no words come of it, and nothing that is read as something else.
const LETTERS: &[u8; 28] = b"BCDFGHJKLMNPQRSTVWXZ23456789";
/// Letters of a code.
const LONG: usize = 6;
/// How long a code is good.
const GOOD_FOR: Duration = Duration::from_secs(600);
/// Wrong tries of a code.
const TRIES: u32 = 5;
/// Between two tries, whoever makes them.
const BETWEEN: Duration = Duration::from_secs(1);
/// Codes that may be tried in vain before no more is taken.
const MOST_CODES: u32 = 10;
/// Devices that are let in at a time; one more sends the first away.
const DEVICES: usize = 8;

/// Who is let in on the local network.
pub(crate) struct Tablets {
    now: Mutex<Now>,
    good_for: Duration,
    between: Duration,
}

#[derive(Default)]
struct Now {
    code: Option<Code>,
    /// Codes that were made and not yet shown on the terminal.
    unsaid: Vec<Told>,
    /// Codes that were tried in vain.
    in_vain: u32,
    last_try: Option<Instant>,
    cookies: VecDeque<String>,
}

struct Code {
    letters: String,
    made: Instant,
    wrong: u32,
}

/// What the terminal shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told {
    /// A code, to be typed on the tablet: good once and for ten minutes.
    Code(String),
    /// A device was let in.
    LetIn,
    /// Too many codes were tried in vain: no more is taken until the server is started anew.
    Closed,
}

/// What becomes of a code.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Tried {
    /// It was right; the device's cookie.
    Right(String),
    /// It was wrong, or not good any more.
    Wrong,
    /// The last try was a moment ago.
    TooSoon,
    /// No code is taken any more.
    Closed,
}

/// What becomes of a request from the network.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Gate {
    /// It may go on to the page at the machine.
    Open,
    /// It is one of the few files that the page for the code needs as well, or that page.
    Outside,
    /// A code is tried.
    Try,
    /// It may not; the status and the words.
    Shut(StatusCode, &'static str),
}

/// What may be had without a code: the page that asks for it and what it is drawn with, all of it part of the program.
const OUTSIDE: [&str; 10] = [
    "/",
    "/style.css",
    "/machine.css",
    "/code.js",
    "/ask.js",
    "/make.js",
    "/mark.svg",
    "/regular.ttf",
    "/italic.ttf",
    "/bold.ttf",
];
/// What the page at the machine needs beside that.
const INSIDE: [&str; 2] = ["/machine.js", "/steps.js"];

impl Tablets {
    /// Nobody is let in yet; the first code is made.
    ///
    /// # Errors
    /// If the system gives no random numbers.
    pub(crate) fn new() -> Result<Self, getrandom::Error> {
        Self::with(GOOD_FOR, BETWEEN)
    }

    fn with(good_for: Duration, between: Duration) -> Result<Self, getrandom::Error> {
        let tablets = Self { now: Mutex::default(), good_for, between };
        tablets.make(&mut tablets.now())?;
        Ok(tablets)
    }

    fn now(&self) -> MutexGuard<'_, Now> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn make(&self, now: &mut Now) -> Result<(), getrandom::Error> {
        let letters = letters()?;
        now.unsaid.push(Told::Code(letters.clone()));
        now.code = Some(Code { letters, made: Instant::now(), wrong: 0 });
        Ok(())
    }

    /// What was not yet shown on the terminal.
    pub(crate) fn unsaid(&self) -> Vec<Told> {
        std::mem::take(&mut self.now().unsaid)
    }

    /// Somebody looks at the page that asks for the code: if there is none that is good, one is made.
    pub(crate) fn asked(&self) {
        let mut now = self.now();
        let good = now.code.as_ref().is_some_and(|c| c.made.elapsed() < self.good_for);
        if !good && now.in_vain < MOST_CODES {
            // Without random numbers there is no code, and nobody is let in.
            let _ = self.make(&mut now);
        }
    }

    /// Tries a code.
    pub(crate) fn tried(&self, said: &str) -> Tried {
        let mut now = self.now();
        if now.in_vain >= MOST_CODES {
            return Tried::Closed;
        }
        if now.last_try.is_some_and(|last| last.elapsed() < self.between) {
            return Tried::TooSoon;
        }
        now.last_try = Some(Instant::now());
        let plain: String = said.chars().filter(|c| !c.is_whitespace()).map(|c| c.to_ascii_uppercase()).collect();
        let good_for = self.good_for;
        let Some(code) = now.code.as_mut().filter(|c| c.made.elapsed() < good_for) else { return Tried::Wrong };
        if same(&plain, &code.letters) {
            let Ok(cookie) = secret() else { return Tried::Wrong };
            now.code = None;
            now.cookies.push_back(cookie.clone());
            if now.cookies.len() > DEVICES {
                now.cookies.pop_front();
            }
            now.unsaid.push(Told::LetIn);
            return Tried::Right(cookie);
        }
        code.wrong += 1;
        if code.wrong >= TRIES {
            now.code = None;
            now.in_vain += 1;
            if now.in_vain >= MOST_CODES {
                now.unsaid.push(Told::Closed);
            } else {
                let _ = self.make(&mut now);
            }
        }
        Tried::Wrong
    }

    fn knows(&self, cookie: &str) -> bool {
        // All are looked at, so that it takes as long whichever it is.
        self.now().cookies.iter().fold(false, |found, known| same(cookie, known) | found)
    }

    /// Looks at a request's head; `own` is the address and port that it came in by, `name` that of the cookie.
    pub(crate) fn check(&self, head: &Parts, own: &str, name: &str) -> Gate {
        if let Err((status, words)) = gate::from_here(head, own) {
            return Gate::Shut(status, words);
        }
        let (path, writes) = (head.uri.path(), head.method == Method::POST);
        if writes && !gate::is_pages_write(head) {
            return Gate::Shut(StatusCode::FORBIDDEN, "writes come from the page itself, as JSON");
        }
        if writes && path == "/code" {
            return Gate::Try;
        }
        let known = gate::cookies(&head.headers, name).any(|c| self.knows(c));
        let rest = path.strip_prefix("/plate/1/");
        let at_machine = rest.is_some_and(|rest| machine::is_one(rest, &head.method));
        match (known, writes) {
            (true, _) if at_machine => Gate::Open,
            (true, false) if path == "/" || INSIDE.contains(&path) => Gate::Open,
            (_, false) if OUTSIDE.contains(&path) => Gate::Outside,
            (true, _) => Gate::Shut(StatusCode::FORBIDDEN, "from here only the page at the machine can be used"),
            (false, _) => Gate::Shut(StatusCode::FORBIDDEN, "type the code that the terminal shows"),
        }
    }
}

/// The tablet's cookie: another name than the maker's own, so that neither is ever taken for the other.
pub(crate) fn cookie_name(port: u16) -> String {
    format!("platewright-tablet-{port}")
}

/// Letters of a new code, each as likely as any other.
fn letters() -> Result<String, getrandom::Error> {
    let mut made = String::with_capacity(LONG);
    while made.len() < LONG {
        let mut byte = [0u8];
        getrandom::fill(&mut byte)?;
        // 252 is the greatest multiple of 28 in a byte.
        if byte[0] < 252 {
            made.push(char::from(LETTERS[usize::from(byte[0]) % LETTERS.len()]));
        }
    }
    Ok(made)
}

/// This computer's address on the local network: the one by which others are reached. Nothing is sent to find it.
/// `None` if it has no private address, which is the only kind that is listened on unasked.
pub fn network_address() -> Option<IpAddr> {
    // An address kept for documents (RFC 5737): a datagram socket is only pointed at it.
    let socket = UdpSocket::bind(("0.0.0.0", 0)).ok()?;
    socket.connect(("192.0.2.1", 9)).ok()?;
    match socket.local_addr().ok()?.ip() {
        IpAddr::V4(v4) if v4.is_private() || v4.is_link_local() => Some(IpAddr::V4(v4)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn code(tablets: &Tablets) -> String {
        match tablets.unsaid().pop() {
            Some(Told::Code(code)) => code,
            other => panic!("{other:?}"),
        }
    }

    fn quick() -> Tablets {
        Tablets::with(Duration::from_secs(60), Duration::ZERO).unwrap()
    }

    #[test]
    fn a_code_lets_in_once() {
        let tablets = quick();
        let code = code(&tablets);
        assert_eq!(code.len(), LONG);
        assert!(code.bytes().all(|b| LETTERS.contains(&b)), "{code}");
        let typed = format!(" {} {}", code[..3].to_lowercase(), &code[3..]);
        let Tried::Right(cookie) = tablets.tried(&typed) else { panic!("{code} is right") };
        assert!(tablets.knows(&cookie) && !tablets.knows("") && !tablets.knows(&cookie[1..]));
        assert_eq!(tablets.unsaid(), [Told::LetIn]);
        assert_eq!(tablets.tried(&code), Tried::Wrong);
        // Another one is made when somebody asks again, and only one.
        tablets.asked();
        tablets.asked();
        assert_eq!(tablets.unsaid().len(), 1);
    }

    #[test]
    fn few_tries_and_few_codes() {
        let tablets = quick();
        let mut seen = Vec::new();
        for _ in 0..MOST_CODES {
            let code = code(&tablets);
            for _ in 0..TRIES {
                assert_eq!(tablets.tried("AAAAAA"), Tried::Wrong);
            }
            assert_ne!(tablets.tried(&code).clone_if_right(), Some(()), "{code} was used up");
            assert!(!seen.contains(&code));
            seen.push(code);
            // The try of the used-up code was one of the next code's.
            if let Some(code) = tablets.now().code.as_mut() {
                code.wrong = 0;
            }
        }
        assert_eq!(tablets.unsaid(), [Told::Closed]);
        tablets.asked();
        assert!(tablets.unsaid().is_empty());
        assert_eq!(tablets.tried("AAAAAA"), Tried::Closed);
    }

    impl Tried {
        fn clone_if_right(&self) -> Option<()> {
            matches!(self, Self::Right(_)).then_some(())
        }
    }

    #[test]
    fn codes_expire_and_tries_are_apart() {
        let tablets = Tablets::with(Duration::ZERO, Duration::ZERO).unwrap();
        let old = code(&tablets);
        assert_eq!(tablets.tried(&old), Tried::Wrong);
        let tablets = Tablets::with(GOOD_FOR, Duration::from_secs(3600)).unwrap();
        let right = code(&tablets);
        assert_eq!(tablets.tried("BBBBB"), Tried::Wrong);
        assert_eq!(tablets.tried(&right), Tried::TooSoon);
    }

    #[test]
    fn the_ninth_device_sends_the_first_away() {
        let tablets = quick();
        let mut cookies = Vec::new();
        for _ in 0..=DEVICES {
            tablets.asked();
            let Tried::Right(cookie) = tablets.tried(&code(&tablets)) else { panic!("it is right") };
            let _ = tablets.unsaid();
            cookies.push(cookie);
        }
        assert!(!tablets.knows(&cookies[0]) && cookies[1..].iter().all(|c| tablets.knows(c)));
    }
}
