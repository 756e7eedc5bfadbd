//! `openchair serve` as typed: what it gives to whom, what it withstands, and how it ends.
#![cfg(unix)]

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use assert_cmd::assert::Assert;
use predicates::str::contains;
use tempfile::TempDir;

const SONG: &str = "songs/lantern-on-the-landing.toml";

/// A server that ends with the test.
struct Server {
    child: Child,
    /// `127.0.0.1:40001`
    at: String,
    path: String,
}

impl Server {
    fn start(arguments: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_openchair"))
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .arg("serve")
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let told = BufReader::new(child.stdout.take().unwrap());
        let mut lines = told.lines().map(Result::unwrap);
        let url = lines.find_map(|line| line.trim().strip_prefix("http://").map(str::to_owned));
        let url = url.expect("an address");
        let (at, path) = url.split_once('/').unwrap();
        Self { child, at: at.to_owned(), path: format!("/{path}") }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(&self.at).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream
    }

    /// The whole answer to these bytes.
    fn answer(&self, request: &[u8]) -> Answer {
        let mut stream = self.connect();
        // Who is refused in the middle of it may be cut off.
        let _ = stream.write_all(request);
        Answer::read(&mut stream)
    }

    fn get(&self, path: &str) -> Answer {
        self.answer(format!("GET {path} HTTP/1.1\r\nHost: x\r\n\r\n").as_bytes())
    }

    /// What Ctrl-C does. Gives how long it took to end.
    fn interrupt(&mut self) -> Duration {
        let since = Instant::now();
        let pid = i32::try_from(self.child.id()).unwrap();
        let pid = rustix::process::Pid::from_raw(pid).unwrap();
        rustix::process::kill_process(pid, rustix::process::Signal::INT).unwrap();
        let status = self.child.wait().unwrap();
        assert!(status.success(), "{status}");
        since.elapsed()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

struct Answer {
    status: u16,
    head: String,
    body: Vec<u8>,
}

impl Answer {
    fn read(stream: &mut TcpStream) -> Self {
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes).unwrap();
        let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").expect("a head");
        let head = String::from_utf8(bytes[..end].to_vec()).unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        Self { status, head, body: bytes[end + 4..].to_vec() }
    }
}

/// What `openchair` writes to standard output.
fn written(arguments: &[&str]) -> Vec<u8> {
    let run = Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(arguments)
        .output()
        .unwrap();
    run.stdout
}

#[test]
fn the_page_is_at_its_path_and_nothing_is_elsewhere() {
    let server = Server::start(&[SONG, "--charts", "--numbers"]);
    assert!(server.at.starts_with("127.0.0.1:"), "{}", server.at);
    assert!(server.path.len() >= 18 && server.path.ends_with('/'), "{}", server.path);
    let page = server.get(&server.path);
    assert_eq!(page.status, 200);
    let chart = written(&["chart", SONG, "-o", "-", "--format", "html", "--numbers"]);
    assert!(page.body == chart, "the page is the chart");
    for header in [
        "Content-Type: text/html; charset=utf-8",
        "Cache-Control: no-store",
        "X-Content-Type-Options: nosniff",
        "Referrer-Policy: no-referrer",
        "Content-Security-Policy: default-src 'none'; style-src 'unsafe-inline'; img-src data:",
        "Connection: close",
    ] {
        assert!(page.head.contains(header), "no {header} in {}", page.head);
    }
    assert!(!page.head.contains("script-src"), "a chart runs nothing");
    let head = server.answer(format!("HEAD {} HTTP/1.1\r\n\r\n", server.path).as_bytes());
    assert_eq!((head.status, head.body.len()), (200, 0));
    assert!(head.head.contains(&format!("Content-Length: {}", chart.len())));
    let path = server.path.as_str();
    let short = &path[..path.len() - 1];
    for other in ["/", short, "/favicon.ico", "/robots.txt", "/../../etc/passwd", "/songs/", "//"] {
        let answer = server.get(other);
        assert_eq!(answer.status, 404, "{other}");
        assert!(answer.body.len() < 40 && !answer.head.contains(short), "{other} tells nothing");
    }
    assert_eq!(server.get(&format!("{path}x")).status, 404);
    assert_eq!(server.get(&format!("{path}../{}", &path[1..])).status, 404);
    // Another server has another path.
    assert_ne!(Server::start(&[SONG]).path, server.path);
}

#[test]
fn other_requests_are_refused() {
    let server = Server::start(&[SONG]);
    let path = &server.path;
    let long = "x".repeat(20_000);
    let many: String = (0..100).map(|at| format!("h{at}: x\r\n")).collect();
    for (request, status) in [
        (format!("POST {path} HTTP/1.1\r\nContent-Length: 3\r\n\r\nabc"), 405),
        (format!("DELETE {path} HTTP/1.1\r\n\r\n"), 405),
        ("OPTIONS * HTTP/1.1\r\n\r\n".to_owned(), 405),
        ("CONNECT far:443 HTTP/1.1\r\n\r\n".to_owned(), 405),
        (format!("GET {path} HTTP/9.9\r\n\r\n"), 505),
        (format!("GET {path}\r\n\r\n"), 400),
        ("\u{0}\u{1}\u{2}\r\n\r\n".to_owned(), 400),
        (format!("GET /{long} HTTP/1.1\r\n\r\n"), 431),
        (format!("GET {path} HTTP/1.1\r\na: {long}\r\n\r\n"), 431),
        (format!("GET {path} HTTP/1.1\r\n{many}\r\n"), 431),
    ] {
        let answer = server.answer(request.as_bytes());
        assert_eq!(answer.status, status, "{request:.60}");
        let allows = answer.head.contains("\r\nAllow: GET, HEAD");
        assert_eq!(allows, status == 405, "{}", answer.head);
    }
    // After all that it still serves, what is sent along or not.
    let more = format!("GET {path} HTTP/1.1\r\nContent-Length: 9\r\n\r\nsomething");
    assert_eq!(server.answer(more.as_bytes()).status, 200);
}

#[test]
fn who_is_slow_is_left() {
    let mut server = Server::start(&[SONG]);
    let since = Instant::now();
    // As many as one device may open, and none says what it wants.
    let mut silent: Vec<TcpStream> = (0..12).map(|_| server.connect()).collect();
    sleep(Duration::from_millis(300));
    let mut one_more = server.connect();
    assert_eq!(Answer::read(&mut one_more).status, 503, "one more is one too many");
    // A byte now and then is no better than none.
    let mut last = silent.pop().unwrap();
    let dripping = std::thread::spawn(move || {
        for byte in b"GET / HTTP/1.1\r\n".iter().cycle() {
            if last.write_all(&[*byte]).is_err() || since.elapsed() > Duration::from_secs(15) {
                break;
            }
            sleep(Duration::from_millis(200));
        }
        since.elapsed()
    });
    for mut stream in silent {
        assert_eq!(Answer::read(&mut stream).status, 408);
    }
    let dripped = dripping.join().unwrap();
    assert!(dripped < Duration::from_secs(12), "{dripped:?}");
    assert_eq!(server.get(&server.path).status, 200, "then there is room again");
    assert!(server.interrupt() < Duration::from_secs(2));
}

#[test]
fn ctrl_c_ends_it_whoever_is_there() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("large.html");
    fs::write(&file, vec![b'x'; 30_000_000]).unwrap();
    let mut server = Server::start(&[file.to_str().unwrap()]);
    let silent = server.connect();
    // This one asks, and takes nothing.
    let mut greedy = server.connect();
    write!(greedy, "GET {} HTTP/1.1\r\n\r\n", server.path).unwrap();
    sleep(Duration::from_millis(500));
    let took = server.interrupt();
    assert!(took < Duration::from_secs(2), "{took:?}");
    assert!(TcpStream::connect(&server.at).is_err(), "nobody is left there");
    drop((silent, greedy));
}

#[test]
fn songs_lessons_and_files_are_served() {
    let folder = TempDir::new().unwrap();
    let band = Server::start(&[SONG, "eels-in-the-kettle"]);
    let answer = band.get(&band.path);
    assert!(answer.body == written(&["page", SONG, "eels-in-the-kettle", "-o", "-"]));
    assert!(answer.head.contains("'wasm-unsafe-eval'"), "the band plays");
    let server = Server::start(&[SONG, "eels-in-the-kettle", "--charts", "--big"]);
    let page = String::from_utf8(server.get(&server.path).body).unwrap();
    assert!(page.contains("<h1>Lantern on the Landing</h1>"));
    assert!(page.contains("<h1>Eels in the Kettle</h1>") && page.contains("class=\"big\""));
    let all = Server::start(&["--charts"]);
    let page = String::from_utf8(all.get(&all.path).body).unwrap();
    let songs = fs::read_dir("songs").unwrap().map(|entry| entry.unwrap().path());
    let songs = songs.filter(|path| path.extension().is_some_and(|ending| ending == "toml"));
    assert_eq!(page.matches("<h1>").count(), songs.count());
    let lesson = Server::start(&["songs/lessons/first-week.toml"]);
    let answer = lesson.get(&lesson.path);
    let page = String::from_utf8(answer.body).unwrap();
    let (_, sheet) = page.split_once("id=\"sheet\"").unwrap();
    let (sheet, _) = sheet.split_once("id=\"more\"").unwrap();
    assert!(sheet.contains("In this lesson") && !sheet.contains("<audio"));
    assert!(!sheet.contains(".wav") && !sheet.contains(".mid"), "a page alone is served");
    let file = folder.path().join("mine.html");
    fs::write(&file, "<!DOCTYPE html><title>Mine</title><script>1</script>").unwrap();
    let own = Server::start(&[file.to_str().unwrap()]);
    let answer = own.get(&own.path);
    assert_eq!(answer.body, fs::read(&file).unwrap());
    assert!(answer.head.contains("script-src 'unsafe-inline'"), "what the player made may run");
    assert!(!answer.head.contains("http:") && !answer.head.contains('*'), "and fetch nothing");
}

fn refused(arguments: &[&str]) -> Assert {
    assert_cmd::Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("serve")
        .args(arguments)
        .timeout(Duration::from_secs(20))
        .assert()
}

#[test]
fn what_cannot_be_is_said() {
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    refused(&[SONG, "--port", &port]).code(1).stderr(contains("is taken"));
    refused(&[SONG, "--lan", "--address", "192.0.2.77"])
        .code(1)
        .stderr(contains("192.0.2.77 is no address of this computer"));
    refused(&[SONG, "--address", "127.0.0.1"]).code(2).stderr(contains("--lan"));
    refused(&[SONG, "--minutes", "0"]).code(2).stderr(contains("minutes from 1 to 1440"));
    refused(&[SONG, "--port", "70000"]).code(2).stderr(contains("a port from 1 to 65535"));
    refused(&[SONG, "songs/lessons/first-week.toml"])
        .code(2)
        .stderr(contains("a lesson or a page is served by itself"));
    refused(&[SONG, "--big"]).code(2).stderr(contains("add --charts"));
    refused(&["no-such.html"]).code(1).stderr(contains("there is no file no-such.html"));
    refused(&["no-such-song"]).code(1).stderr(contains("there is no file or song"));
    let folder = TempDir::new().unwrap();
    let odd = folder.path().join("odd.html");
    fs::create_dir(&odd).unwrap();
    refused(&[odd.to_str().unwrap()]).code(1).stderr(contains("is no file"));
    let pipe = folder.path().join("pipe.html");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    refused(&[pipe.to_str().unwrap()]).code(1).stderr(contains("it is a pipe, no file"));
}

/// Only where it is asked to: another address of this computer's own is another matter.
#[cfg(target_os = "linux")]
#[test]
fn it_is_heard_at_its_own_address_alone() {
    let server = Server::start(&[SONG, "--lan", "--address", "127.0.0.2"]);
    let port = server.at.strip_prefix("127.0.0.2:").expect("where it was asked to").to_owned();
    assert_eq!(server.get(&server.path).status, 200);
    assert!(TcpStream::connect(format!("127.0.0.1:{port}")).is_err());
    let alone = Server::start(&[SONG]);
    let port = alone.at.strip_prefix("127.0.0.1:").unwrap().to_owned();
    assert!(TcpStream::connect(format!("127.0.0.2:{port}")).is_err());
}
