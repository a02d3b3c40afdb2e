//! Who may come in. Every request passes here before anything else looks at it.
//!
//! The page holds the maker's work, and any page open in the same browser can send requests to the loopback address. So a
//! request must name this very server as its host (a name that was bent to the loopback address does not help), come from
//! no other page (`Origin`, and `Sec-Fetch-Site` where the browser says it), and carry the secret of this run in a cookie that the
//! browser sends from this page only. The first visit gets it by the secret in the printed address.

use crate::keys::Keys;
use hyper::header::{CONTENT_TYPE, COOKIE, HOST, HeaderMap, HeaderName, ORIGIN};
use hyper::http::request::Parts;
use hyper::{Method, StatusCode, Version};

/// Longest path with its query, bytes.
const LONGEST: usize = 512;

/// What becomes of a request.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Gate {
    /// It may go on.
    Open,
    /// The first visit: it gets its cookie and is sent to the page's own address.
    Enter,
    /// It may not; the status and the words.
    Shut(StatusCode, &'static str),
}

/// Looks at a request's head.
pub(crate) fn check(head: &Parts, keys: &Keys, port: u16) -> Gate {
    if let Err((status, words)) = from_here(head, &format!("127.0.0.1:{port}")) {
        return Gate::Shut(status, words);
    }
    let target = &head.uri;
    let writes = head.method == Method::POST;
    if !writes
        && target.path() == "/"
        && target.query().and_then(|q| q.strip_prefix("key=")).is_some_and(|k| keys.lets_in(k))
    {
        return Gate::Enter;
    }
    if !cookies(&head.headers, &cookie_name(port)).any(|c| keys.knows(c)) {
        return Gate::Shut(StatusCode::FORBIDDEN, "open the page by the address that the terminal shows");
    }
    match writes && !is_pages_write(head) {
        true => Gate::Shut(StatusCode::FORBIDDEN, "writes come from the page itself, as JSON"),
        false => Gate::Open,
    }
}

/// Whether a request is a plain one to this very server, `own` by address and port, and comes from no other page.
///
/// # Errors
/// The status and the words if not.
pub(crate) fn from_here(head: &Parts, own: &str) -> Result<(), (StatusCode, &'static str)> {
    if head.version != Version::HTTP_11 && head.version != Version::HTTP_10 {
        return Err((StatusCode::HTTP_VERSION_NOT_SUPPORTED, "HTTP/1.1 is spoken here"));
    }
    if one(&head.headers, &HOST) != Some(own) {
        return Err((StatusCode::MISDIRECTED_REQUEST, "this server answers to its own address only"));
    }
    let target = &head.uri;
    if target.scheme().is_some() || target.authority().is_some() || !target.path().starts_with('/') {
        return Err((StatusCode::BAD_REQUEST, "only paths are asked for here"));
    }
    if target.path_and_query().is_some_and(|p| p.as_str().len() > LONGEST) {
        return Err((StatusCode::URI_TOO_LONG, "this address is too long"));
    }
    let another = (StatusCode::FORBIDDEN, "another page may not ask here");
    let origin = head.headers.contains_key(ORIGIN).then(|| one(&head.headers, &ORIGIN));
    if origin.is_some_and(|said| said != Some(format!("http://{own}").as_str())) {
        return Err(another);
    }
    let site = HeaderName::from_static("sec-fetch-site");
    if head.headers.contains_key(&site)
        && !one(&head.headers, &site).is_some_and(|said| said == "same-origin" || said == "none")
    {
        return Err(another);
    }
    if head.method != Method::POST && head.method != Method::GET && head.method != Method::HEAD {
        return Err((StatusCode::METHOD_NOT_ALLOWED, "only GET, HEAD and POST"));
    }
    Ok(())
}

/// Whether a write comes from a page, as JSON: a form of another page can't send that, and a write without an origin comes from
/// no page. Whose page the origin is was looked at before.
pub(crate) fn is_pages_write(head: &Parts) -> bool {
    head.headers.contains_key(ORIGIN) && one(&head.headers, &CONTENT_TYPE) == Some("application/json")
}

/// The cookie's name: cookies are not told apart by port, so the port is in it.
pub(crate) fn cookie_name(port: u16) -> String {
    format!("platewright-{port}")
}

/// The values of the cookies of a name.
pub(crate) fn cookies<'h>(headers: &'h HeaderMap, name: &str) -> impl Iterator<Item = &'h str> {
    let name = name.to_owned();
    let all = headers.get_all(COOKIE).iter().filter_map(|v| v.to_str().ok()).flat_map(|v| v.split(';'));
    all.filter_map(|pair| pair.trim().split_once('=')).filter(move |(n, _)| *n == name).map(|(_, value)| value)
}

/// The value of a header that is there once.
fn one<'h>(headers: &'h HeaderMap, name: &HeaderName) -> Option<&'h str> {
    let mut all = headers.get_all(name).iter();
    let value = all.next()?.to_str().ok()?;
    all.next().is_none().then_some(value)
}
