//! What is answered.

use super::request::{Asked, Refusal};

/// A page to be served.
#[derive(Clone, Debug)]
pub(super) struct Served {
    /// What it is called.
    pub title: String,
    /// All of it.
    pub bytes: Vec<u8>,
    /// True if it runs: the page of a song book, or a file of the player's own. What is only read may run nothing.
    pub runs: bool,
}

/// What a page that is only read may do: nothing but look as it does, and sound that it holds itself.
const READ: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; media-src data:; base-uri 'none'; \
                    form-action 'none'; frame-ancestors 'none'";
/// What one that runs may do besides: run what it holds, and fetch nothing.
const RUN: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data: blob:; media-src data: blob:; \
                   font-src data:; script-src 'unsafe-inline' 'wasm-unsafe-eval' blob: data:; worker-src blob: data:; \
                   connect-src data: blob:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// The head of an answer with the page.
pub(super) fn page_head(page: &Served) -> String {
    let policy = if page.runs { RUN } else { READ };
    head(
        "200 OK",
        "text/html; charset=utf-8",
        page.bytes.len(),
        &format!("Content-Security-Policy: {policy}\r\n"),
    )
}

/// The whole answer to a request that gets no page; `None` where nobody is left to hear it.
pub(super) fn refused(why: Refusal) -> Option<String> {
    let (status, more) = match why {
        Refusal::Malformed => ("400 Bad Request", ""),
        Refusal::Elsewhere => ("404 Not Found", ""),
        Refusal::Method => ("405 Method Not Allowed", "Allow: GET, HEAD\r\n"),
        Refusal::Late => ("408 Request Timeout", ""),
        Refusal::TooLarge => ("431 Request Header Fields Too Large", ""),
        Refusal::Version => ("505 HTTP Version Not Supported", ""),
        Refusal::Gone => return None,
    };
    Some(plain(status, more))
}

/// To whoever comes while as many are there as can be.
pub(super) fn busy() -> String {
    plain("503 Service Unavailable", "Retry-After: 2\r\n")
}

fn plain(status: &str, more: &str) -> String {
    let words = format!("{status}\n");
    head(status, "text/plain; charset=utf-8", words.len(), more) + &words
}

fn head(status: &str, kind: &str, length: usize, more: &str) -> String {
    format!(
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\nConnection: close\r\n\
         Cache-Control: no-store\r\nX-Content-Type-Options: nosniff\r\nX-Frame-Options: DENY\r\n\
         Referrer-Policy: no-referrer\r\nX-Robots-Tag: noindex\r\nCross-Origin-Opener-Policy: same-origin\r\n\
         Cross-Origin-Resource-Policy: same-origin\r\n\
         Permissions-Policy: microphone=(self), midi=(self), camera=(), geolocation=()\r\n{more}\r\n"
    )
}

/// True if the page is to follow its head.
pub(super) fn has_body(asked: Asked) -> bool {
    asked == Asked::Page
}
