use std::io;

use crate::live::Control;

/// From now on Ctrl-C, a request to terminate and a closed terminal stop playing instead of ending
/// the program, so that every note gets its note-off. A second one while stopping changes nothing:
/// stopping takes well under a second. Can't be undone; call it once, before the first note.
///
/// # Errors
/// The system does not let a signal be caught.
pub fn stop_on_signals(control: &Control) -> io::Result<()> {
    use signal_hook::consts::{SIGINT, SIGTERM};

    #[cfg(unix)]
    let signals = [SIGINT, SIGTERM, signal_hook::consts::SIGHUP];
    #[cfg(not(unix))]
    let signals = [SIGINT, SIGTERM];
    for signal in signals {
        signal_hook::flag::register(signal, control.stop_flag())?;
    }
    Ok(())
}
