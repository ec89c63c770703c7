//! Who may talk to the page: the page itself, from this computer.

use std::sync::Mutex;
use std::time::Instant;

use axum::body::Body;
use axum::http::{HeaderMap, Method, Request, Response, StatusCode, header};

use super::lock::locked;

/// The header in which the page proves that it is ours.
pub(super) const TOKEN_HEADER: &str = "x-hitchwork";

/// This many changes a second may be asked for, and this many at once.
const RATE: f64 = 60.0;
const BURST: f64 = 240.0;

/// The rules of the house.
pub(super) struct Guard {
    hosts: [String; 2],
    token: String,
    bucket: Mutex<(f64, Instant)>,
}

impl Guard {
    pub(super) fn new(port: u16) -> Self {
        Self {
            hosts: [format!("127.0.0.1:{port}"), format!("localhost:{port}")],
            token: token(),
            bucket: Mutex::new((BURST, Instant::now())),
        }
    }

    pub(super) fn token(&self) -> &str {
        &self.token
    }

    /// Why a request is refused, if it is. Another site's page can send requests here, but
    /// names itself as their origin; a name that leads here by a trick of its owner is not
    /// one of our hosts; and neither knows the token.
    pub(super) fn refuses(&self, request: &Request<Body>) -> Option<Response<Body>> {
        let headers = request.headers();
        let text = |name| headers.get(name).and_then(|value| value.to_str().ok());
        let host = text(header::HOST);
        if !host.is_some_and(|host| self.hosts.iter().any(|ours| ours == host)) {
            return Some(said(
                StatusCode::FORBIDDEN,
                "this page is only for the computer that it runs on",
            ));
        }
        let ours = |origin: &str| {
            self.hosts
                .iter()
                .any(|host| origin == format!("http://{host}"))
        };
        if headers.contains_key(header::ORIGIN) && !text(header::ORIGIN).is_some_and(ours) {
            return Some(said(
                StatusCode::FORBIDDEN,
                "other sites may not ask for this",
            ));
        }
        let elsewhere = |site: &str| !matches!(site, "same-origin" | "none");
        let fetched = headers
            .get("sec-fetch-site")
            .and_then(|value| value.to_str().ok());
        if fetched.is_some_and(elsewhere) && request.uri().path() != "/" {
            return Some(said(
                StatusCode::FORBIDDEN,
                "other sites may not ask for this",
            ));
        }
        match *request.method() {
            Method::GET | Method::HEAD => None,
            Method::POST if !self.knows(headers) => Some(said(
                StatusCode::FORBIDDEN,
                "load the page again: it belongs to an earlier run",
            )),
            Method::POST if !self.lets_through() => {
                Some(said(StatusCode::TOO_MANY_REQUESTS, "slower, please"))
            }
            Method::POST => None,
            _ => Some(said(
                StatusCode::METHOD_NOT_ALLOWED,
                "that cannot be done here",
            )),
        }
    }

    fn knows(&self, headers: &HeaderMap) -> bool {
        headers
            .get(TOKEN_HEADER)
            .is_some_and(|token| token.as_bytes() == self.token.as_bytes())
    }

    fn lets_through(&self) -> bool {
        let mut bucket = locked(&self.bucket);
        let (left, since) = *bucket;
        let left = (left + since.elapsed().as_secs_f64() * RATE).min(BURST);
        let enough = left >= 1.0;
        *bucket = (if enough { left - 1.0 } else { left }, Instant::now());
        enough
    }
}

/// A word that only the page knows, by the chance of the operating system.
fn token() -> String {
    use std::hash::{BuildHasher, RandomState};
    let word = |_| format!("{:016x}", RandomState::new().hash_one(Instant::now()));
    (0..2).map(word).collect()
}

/// A short answer in words.
pub(super) fn said(status: StatusCode, words: &str) -> Response<Body> {
    let mut response = Response::new(Body::from(format!("{words}\n")));
    *response.status_mut() = status;
    response
}
