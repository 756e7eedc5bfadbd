//! The head of a request: read in bounds, from whoever is at the other end.

use std::io::{self, Read};
use std::time::{Duration, Instant};

use httparse::{EMPTY_HEADER, Request, Status};

/// No browser's request for a page is longer.
const MOST_BYTES: usize = 8 * 1024;
/// Nor has it more headers.
const MOST_HEADERS: usize = 64;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// The page with its head.
    Page,
    /// The head alone.
    Head,
}

/// Why a request gets no page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Refusal {
    /// It is no HTTP.
    Malformed,
    /// It asks for something else.
    Elsewhere,
    /// It wants to do something else.
    Method,
    /// It did not come in time.
    Late,
    /// Its head is too long.
    TooLarge,
    /// It speaks another version.
    Version,
    /// The connection is gone.
    Gone,
}

/// Something that is read from and that can be told how long to wait.
pub(super) trait Patient: Read {
    /// Waits at most so long for what comes next.
    fn wait(&mut self, time: Duration) -> io::Result<()>;
}

impl Patient for std::net::TcpStream {
    fn wait(&mut self, time: Duration) -> io::Result<()> {
        self.set_read_timeout(Some(time))
    }
}

/// Reads a request for the page at `path`: all of its head by `deadline`, however slowly its bytes come.
pub(super) fn read(
    from: &mut impl Patient,
    path: &str,
    deadline: Instant,
) -> Result<Asked, Refusal> {
    let mut bytes: Vec<u8> = Vec::new();
    let mut block = [0; 1024];
    loop {
        if let Some(asked) = parse(&bytes, path)? {
            return Ok(asked);
        }
        if bytes.len() >= MOST_BYTES {
            return Err(Refusal::TooLarge);
        }
        let left = deadline.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return Err(Refusal::Late);
        }
        from.wait(left).map_err(|_| Refusal::Gone)?;
        match from.read(&mut block) {
            Ok(0) => return Err(Refusal::Gone),
            Ok(count) => bytes.extend(block.iter().take(count)),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error)
                if matches!(error.kind(), io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut) =>
            {
                return Err(Refusal::Late);
            }
            Err(_) => return Err(Refusal::Gone),
        }
    }
}

/// What a head asks for; `None` if more of it must come.
fn parse(bytes: &[u8], path: &str) -> Result<Option<Asked>, Refusal> {
    let mut headers = [EMPTY_HEADER; MOST_HEADERS];
    let mut request = Request::new(&mut headers);
    match request.parse(bytes) {
        Ok(Status::Partial) => return Ok(None),
        Ok(Status::Complete(_)) => {}
        Err(httparse::Error::TooManyHeaders) => return Err(Refusal::TooLarge),
        Err(httparse::Error::Version) => return Err(Refusal::Version),
        Err(_) => return Err(Refusal::Malformed),
    }
    let asked = match request.method {
        Some("GET") => Asked::Page,
        Some("HEAD") => Asked::Head,
        _ => return Err(Refusal::Method),
    };
    if request.path == Some(path) { Ok(Some(asked)) } else { Err(Refusal::Elsewhere) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What comes in pieces, with a silence where one is empty.
    struct Pieces(Vec<&'static [u8]>);

    impl Read for Pieces {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            if self.0.is_empty() {
                return Ok(0);
            }
            let piece = self.0.remove(0);
            if piece.is_empty() {
                return Err(io::ErrorKind::WouldBlock.into());
            }
            into[..piece.len()].copy_from_slice(piece);
            Ok(piece.len())
        }
    }

    impl Patient for Pieces {
        fn wait(&mut self, _: Duration) -> io::Result<()> {
            Ok(())
        }
    }

    fn asked(pieces: &[&'static [u8]]) -> Result<Asked, Refusal> {
        let deadline = Instant::now() + Duration::from_secs(60);
        read(&mut Pieces(pieces.to_vec()), "/abc/", deadline)
    }

    #[test]
    fn a_request_for_the_page_is_read_in_any_pieces() {
        assert_eq!(asked(&[b"GET /abc/ HTTP/1.1\r\nHost: x\r\n\r\n"]), Ok(Asked::Page));
        assert_eq!(asked(&[b"HEAD /abc/ HT", b"TP/1.0\r\n", b"\r\n"]), Ok(Asked::Head));
    }

    #[test]
    fn all_else_is_refused() {
        for (pieces, refusal) in [
            (&[&b"GET /abc HTTP/1.1\r\n\r\n"[..]][..], Refusal::Elsewhere),
            (&[b"GET /abc/?x HTTP/1.1\r\n\r\n"], Refusal::Elsewhere),
            (&[b"GET /abc/../abc/ HTTP/1.1\r\n\r\n"], Refusal::Elsewhere),
            (&[b"POST /abc/ HTTP/1.1\r\n\r\n"], Refusal::Method),
            (&[b"GET /abc/ HTTP/3.0\r\n\r\n"], Refusal::Version),
            (&[b"\x16\x03\x01\x02\x00\x01\x00"], Refusal::Malformed),
            (&[b"GET /abc/ HTTP/1.1\r\nHo", b""], Refusal::Late),
            (&[b"GET /abc/ HTTP/1.1\r\n"], Refusal::Gone),
            (&[], Refusal::Gone),
        ] {
            assert_eq!(asked(pieces), Err(refusal), "{pieces:?}");
        }
        let many: Vec<&[u8]> =
            std::iter::once(&b"GET /abc/ HTTP/1.1\r\n"[..]).chain([&b"a: b\r\n"[..]; 80]).collect();
        assert_eq!(asked(&many), Err(Refusal::TooLarge));
        let long: Vec<&[u8]> = std::iter::once(&b"GET /abc/ HTTP/1.1\r\na: "[..])
            .chain([&[b'x'; 1024][..]; 9])
            .collect();
        assert_eq!(asked(&long), Err(Refusal::TooLarge));
    }
}
