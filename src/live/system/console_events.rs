//! What Windows tells a program in a console besides Ctrl-C.

use std::future::poll_fn;
use std::io;
use std::task::Poll;
use std::thread;

use tokio::runtime::Builder;
use tokio::signal::windows::{ctrl_break, ctrl_close, ctrl_logoff, ctrl_shutdown};

/// From now on `stop` is called where Ctrl-Break is pressed, the console's window is closed, the user logs off or
/// the system shuts down. But for Ctrl-Break, Windows ends a program as soon as it has answered, and without an answer
/// after five seconds (Microsoft, "HandlerRoutine callback function", Timeouts; from memory): the library's answer
/// never comes, so that the program has this time to end by itself. Of logging off and shutting down Windows tells
/// no program that has a window's library in it (the same page, Remarks), as its MIDI brings along: there the program
/// is ended with its session. Can't be undone.
///
/// # Errors
/// The system does not let them be caught, or has no thread to wait for them.
pub(super) fn on_end(stop: impl Fn() + Send + 'static) -> io::Result<()> {
    let (mut key, mut close) = (ctrl_break()?, ctrl_close()?);
    let (mut logoff, mut shutdown) = (ctrl_logoff()?, ctrl_shutdown()?);
    let runtime = Builder::new_current_thread().build()?;
    thread::Builder::new().name("openchair-end".to_owned()).spawn(move || {
        loop {
            // Each is looked at, so that each wakes this thread; and again and again, since Windows ends the program
            // at once where nobody listens any more.
            runtime.block_on(poll_fn(|context| {
                let told = [
                    key.poll_recv(context).is_ready(),
                    close.poll_recv(context).is_ready(),
                    logoff.poll_recv(context).is_ready(),
                    shutdown.poll_recv(context).is_ready(),
                ];
                if told.contains(&true) { Poll::Ready(()) } else { Poll::Pending }
            }));
            stop();
        }
    })?;
    Ok(())
}
