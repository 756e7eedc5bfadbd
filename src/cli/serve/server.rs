//! The server: one page at one path, to so many at a time, each for so long.

use std::io::{self, Read, Write};
use std::net::{IpAddr, Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::answer::{Served, busy, has_body, page_head, refused};
use super::request::read;
use crate::live::Control;

/// A class with a tablet each, asking at once.
const MOST: usize = 64;
/// One device opens no more; a page needs one.
const MOST_OF_ONE: usize = 12;
/// How long a head may take to come, in all.
const HEAD_TIME: Duration = Duration::from_secs(5);
/// How long a page may take to go, in all: two megabytes over a bad wireless line.
const PAGE_TIME: Duration = Duration::from_secs(60);
/// How long one piece of it may take.
const PIECE_TIME: Duration = Duration::from_secs(10);
/// How often the server looks whether it is to stop.
const LOOK: Duration = Duration::from_millis(25);

/// What is served where.
pub(super) struct Server {
    listener: TcpListener,
    path: String,
    page: Served,
    /// Who is there, by address.
    there: Mutex<Vec<IpAddr>>,
    sent: AtomicU64,
}

impl Server {
    /// Listens at an address, any port if it is 0.
    pub(super) fn bind(at: SocketAddr, path: String, page: Served) -> io::Result<Self> {
        let listener = TcpListener::bind(at)?;
        listener.set_nonblocking(true)?;
        let there = Mutex::new(Vec::new());
        Ok(Self { listener, path, page, there, sent: AtomicU64::new(0) })
    }

    /// Where a browser finds the page.
    pub(super) fn address(&self) -> io::Result<String> {
        Ok(format!("http://{}{}", self.listener.local_addr()?, self.path))
    }

    /// Serves until it is stopped, or the time is over. Gives how often the page went out.
    pub(super) fn run(self, control: &Control, time: Duration) -> u64 {
        let until = Instant::now() + time;
        let server = Arc::new(self);
        while !control.is_stopping() && Instant::now() < until {
            match server.listener.accept() {
                Ok((stream, from)) => server.take(stream, from.ip()),
                // Nobody is there, or whoever was has gone again; or files are short, which passes.
                Err(_) => thread::sleep(LOOK),
            }
        }
        server.sent.load(Ordering::Acquire)
    }

    /// Gives a connection a thread of its own, if there is room.
    fn take(self: &Arc<Self>, mut stream: TcpStream, from: IpAddr) {
        let ready = stream.set_nonblocking(false);
        let ready = ready.and_then(|()| stream.set_write_timeout(Some(PIECE_TIME)));
        if ready.is_err() {
            return;
        }
        let Some(guest) = Guest::of(self, from) else {
            // The answer fits what the system holds for a new connection: this does not wait.
            let _ = stream.set_write_timeout(Some(LOOK));
            let _ = stream.write_all(busy().as_bytes());
            return;
        };
        let spawned = thread::Builder::new().stack_size(256 * 1024).spawn(move || {
            guest.server.serve(&mut stream);
            drop(guest);
        });
        // Without a thread the connection ends here.
        drop(spawned);
    }

    fn serve(&self, stream: &mut TcpStream) {
        let asked = match read(stream, &self.path, Instant::now() + HEAD_TIME) {
            Ok(asked) => asked,
            Err(why) => {
                if let Some(answer) = refused(why) {
                    let _ = stream.write_all(answer.as_bytes());
                }
                part(stream);
                return;
            }
        };
        let until = Instant::now() + PAGE_TIME;
        let mut sent = stream.write_all(page_head(&self.page).as_bytes()).is_ok();
        if has_body(asked) {
            sent = sent && write_by(stream, &self.page.bytes, until).is_ok();
            if sent {
                self.sent.fetch_add(1, Ordering::AcqRel);
            }
        }
        part(stream);
    }
}

/// Writes all of it by then, however little the other end takes at a time.
fn write_by(to: &mut TcpStream, mut bytes: &[u8], until: Instant) -> io::Result<()> {
    while !bytes.is_empty() {
        let left = until.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return Err(io::ErrorKind::TimedOut.into());
        }
        to.set_write_timeout(Some(left.min(PIECE_TIME)))?;
        match to.write(bytes) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(count) => bytes = bytes.get(count..).unwrap_or_default(),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(())
}

/// Ends a connection so that the answer arrives: what still comes is read and dropped for a moment, since a
/// connection that is closed with bytes unread is cut off.
fn part(stream: &mut TcpStream) {
    const MOST_READS: usize = 64;
    let _ = stream.shutdown(Shutdown::Write);
    let _ = stream.set_read_timeout(Some(Duration::from_millis(250)));
    let until = Instant::now() + Duration::from_secs(1);
    let mut block = [0; 4096];
    for _ in 0..MOST_READS {
        if Instant::now() >= until || !matches!(stream.read(&mut block), Ok(1..)) {
            break;
        }
    }
}

/// One of those who are served; no longer counted once dropped.
struct Guest {
    server: Arc<Server>,
    from: IpAddr,
}

impl Guest {
    /// `None` if there are too many.
    fn of(server: &Arc<Server>, from: IpAddr) -> Option<Self> {
        let mut there = server.there.lock().unwrap_or_else(PoisonError::into_inner);
        let of_one = there.iter().filter(|other| **other == from).count();
        if there.len() >= MOST || of_one >= MOST_OF_ONE {
            return None;
        }
        there.push(from);
        Some(Self { server: Arc::clone(server), from })
    }
}

impl Drop for Guest {
    fn drop(&mut self) {
        let mut there = self.server.there.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(at) = there.iter().position(|other| *other == self.from) {
            there.swap_remove(at);
        }
    }
}
