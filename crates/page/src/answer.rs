//! Responses, every one with the headers that keep the page to itself.

use http_body_util::Full;
use hyper::body::Bytes;
use hyper::header::{self, HeaderName, HeaderValue};
use hyper::{Response, StatusCode};

/// A whole response.
pub(crate) type Answer = Response<Full<Bytes>>;

/// Nothing but what this server gives itself: no inline script or style, no frames, no forms.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; \
                      connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// Headers of every response.
const ALWAYS: [(&str, &str); 8] = [
    ("content-security-policy", POLICY),
    ("x-frame-options", "DENY"),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(), geolocation=(), microphone=()"),
    // Another plate may be served at the same address next time.
    ("cache-control", "no-store"),
];

/// A response of a type.
pub(crate) fn of(status: StatusCode, kind: &'static str, body: impl Into<Bytes>) -> Answer {
    let mut response = Response::new(Full::new(body.into()));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    for (name, value) in ALWAYS {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    response
}

/// Words for whoever may not come in or asks for nothing that there is.
pub(crate) fn words(status: StatusCode, words: &str) -> Answer {
    of(status, "text/plain; charset=utf-8", format!("{words}\n"))
}

/// JSON.
pub(crate) fn json(status: StatusCode, value: &serde_json::Value) -> Answer {
    of(status, "application/json", value.to_string())
}

/// A PNG.
pub(crate) fn png(bytes: Vec<u8>) -> Answer {
    if bytes.is_empty() {
        return words(StatusCode::BAD_REQUEST, "no picture of that size");
    }
    of(StatusCode::OK, "image/png", bytes)
}

/// Nothing to show any more.
pub(crate) fn nothing() -> Answer {
    let mut response = words(StatusCode::NO_CONTENT, "");
    *response.body_mut() = Full::default();
    response.headers_mut().remove(header::CONTENT_TYPE);
    response
}

/// Sends to another path of this server.
pub(crate) fn to(path: &'static str) -> Answer {
    let mut response = words(StatusCode::SEE_OTHER, "this way");
    response.headers_mut().insert(header::LOCATION, HeaderValue::from_static(path));
    response
}

/// Sends to the page's own address, with a cookie.
pub(crate) fn enter(cookie: &str) -> Answer {
    with_cookie(to("/"), cookie)
}

/// A response with a cookie.
pub(crate) fn with_cookie(mut response: Answer, cookie: &str) -> Answer {
    if let Ok(value) = HeaderValue::from_str(cookie) {
        response.headers_mut().insert(header::SET_COOKIE, value);
    }
    response
}
