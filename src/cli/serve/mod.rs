//! A page in the room: served to whoever has its address, for as long as the teacher lets it.

mod answer;
mod page;
mod qr;
mod request;
mod server;

use std::io::{self, IsTerminal};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use super::chart::ChartLook;
use super::failure::{Failure, coloured, tell};
use super::files::{say_to_stdout, to_stdout};
use super::interrupt::interruptible;
use super::terminal::shows_a_screen;

use page::served;
use qr::{Ink, lines};
use server::Server;

#[derive(Debug, clap::Args)]
pub(super) struct Serve {
    /// What to serve: songs, for the band to play in the browser; or a lesson; or FILE.html. All songs that come with the
    /// program without it
    pub things: Vec<PathBuf>,
    /// Serve the songs' charts in place of the band
    #[arg(long)]
    pub charts: bool,
    /// Let other devices on the network open it; this computer alone without it
    #[arg(long)]
    pub lan: bool,
    /// The address on the network to serve at, where this computer has several
    #[arg(long, value_name = "ADDRESS", requires = "lan")]
    pub address: Option<IpAddr>,
    /// The port to serve at; one that is free without it
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = port)]
    pub port: Option<u16>,
    /// Stop by itself after so many minutes, 1 to 1440
    #[arg(long, value_name = "N", default_value_t = 120, allow_negative_numbers = true, value_parser = minutes)]
    pub minutes: u64,
    #[command(flatten)]
    pub look: ChartLook,
}

/// Serves a page until it is stopped.
pub(super) fn run(serve: &Serve) -> Result<ExitCode, Failure> {
    let ChartLook { numbers, big, capo } = &serve.look;
    if !serve.charts && (numbers.is_some() || *big || capo.is_some()) {
        return Err(Failure::usage("--numbers, --big and --capo are for charts: add --charts"));
    }
    let page = served(&serve.things, serve.charts, &serve.look)?;
    let address = match (serve.lan, serve.address) {
        (false, _) => IpAddr::V4(Ipv4Addr::LOCALHOST),
        (true, Some(address)) => address,
        (true, None) => own_address()?,
    };
    // Ctrl-C is how it is meant to end: no failure to tell of.
    let (control, _) = interruptible()?;
    let (title, bytes) = (page.title.clone(), page.bytes.len());
    let port = serve.port.unwrap_or(0);
    let server = Server::bind(SocketAddr::new(address, port), secret_path()?, page)
        .map_err(|error| not_bound(address, port, &error))?;
    let url = server.address().map_err(Failure::failed)?;
    let whom = if serve.lan {
        "to any device on this network that has the address"
    } else {
        "to this computer alone; --lan opens it to the network"
    };
    say_to_stdout(&format!("{title} ({}), {whom}:\n\n    {url}\n\n", size(bytes)))?;
    // Other devices can't come to an address of this computer alone.
    if serve.lan && io::stdout().is_terminal() {
        show_code(&url)?;
    }
    if serve.lan {
        tell(
            "plain http: others on the network could read along, and a browser may refuse the page its microphone; \
             nothing but this page is served",
        );
    }
    let stops = match serve.minutes {
        1 => "after a minute".to_owned(),
        minutes => format!("after {minutes} minutes"),
    };
    tell(format!("Ctrl-C stops it; it stops by itself {stops}"));
    let sent = server.run(&control, Duration::from_secs(serve.minutes * 60));
    tell(match sent {
        0 => "stopped; nobody opened the page".to_owned(),
        1 => "stopped; the page went out once".to_owned(),
        sent => format!("stopped; the page went out {sent} times"),
    });
    Ok(ExitCode::SUCCESS)
}

/// Shows the address as a QR code, if there is room.
fn show_code(url: &str) -> Result<(), Failure> {
    let size = ratatui::crossterm::terminal::size();
    let columns = size.ok().map(|(columns, _)| columns).filter(|columns| *columns > 0);
    let columns = columns.unwrap_or(80);
    let ink = if !shows_a_screen() {
        Ink::Letters
    } else if coloured(&io::stdout()) {
        Ink::Coloured
    } else {
        Ink::Blocks
    };
    match lines(url, ink, usize::from(columns)) {
        // Made here alone, of blocks and two colours.
        Some(lines) => to_stdout(format!("{}\n\n", lines.join("\n")).as_bytes()),
        None => {
            tell("the window is too narrow for a QR code");
            Ok(())
        }
    }
}

/// This computer's address on the network: from where it would send to a far one. Nothing is sent.
fn own_address() -> Result<IpAddr, Failure> {
    /// For documents (RFC 5737): it is on no network.
    const FAR: (Ipv4Addr, u16) = (Ipv4Addr::new(192, 0, 2, 1), 9);
    let found = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        socket.connect(FAR)?;
        socket.local_addr()
    });
    match found {
        Ok(found) if !found.ip().is_unspecified() => Ok(found.ip()),
        _ => Err(Failure::failed(
            "--lan: this computer is on no network that could be found; say its address with --address",
        )),
    }
}

/// A path that nobody guesses: 80 random bits, in letters and digits that can't be taken for one another.
fn secret_path() -> Result<String, Failure> {
    const LETTERS: &[u8; 32] = b"abcdefghjkmnpqrstuvwxyz123456789";
    let mut random = [0; 16];
    getrandom::fill(&mut random)
        .map_err(|error| Failure::failed(format!("the system gives no random numbers: {error}")))?;
    let letters = random.iter().filter_map(|byte| LETTERS.get(usize::from(byte % 32)));
    let path: String = letters.map(|letter| char::from(*letter)).collect();
    Ok(format!("/{path}/"))
}

fn not_bound(address: IpAddr, port: u16, error: &io::Error) -> Failure {
    match error.kind() {
        io::ErrorKind::AddrInUse => {
            Failure::failed(format!("port {port} is taken; leave --port out for one that is free"))
        }
        io::ErrorKind::AddrNotAvailable => {
            Failure::failed(format!("--address: {address} is no address of this computer"))
        }
        io::ErrorKind::PermissionDenied => Failure::failed(format!(
            "the system does not let you serve at port {port}; use one from 1024, or leave --port out"
        )),
        _ => Failure::failed(format!("can't serve at {address}: {error}")),
    }
}

fn size(bytes: usize) -> String {
    format!("{} kB", bytes.div_ceil(1000))
}

fn port(text: &str) -> Result<u16, String> {
    let port = text.trim().parse().ok().filter(|port| *port > 0);
    port.ok_or_else(|| "write a port from 1 to 65535".to_owned())
}

fn minutes(text: &str) -> Result<u64, String> {
    let minutes = text.trim().parse().ok().filter(|minutes| (1..=1440).contains(minutes));
    minutes.ok_or_else(|| "write minutes from 1 to 1440".to_owned())
}
