use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use signal_hook::consts::{SIGINT, SIGTERM};

use crate::live::Control;

/// What a shell adds to a signal's number in the exit status of what it ended (POSIX.1-2017, Shell Command Language,
/// 2.8.2: greater than 128; by common practice 128 and the number).
const ENDED_BY: usize = 128;

/// Which signal stopped the playing, if one did.
#[derive(Clone, Debug, Default)]
pub struct Caught(Arc<AtomicUsize>);

impl Caught {
    /// The exit status that scripts expect then: 130 after Ctrl-C, 143 after a request to terminate.
    pub fn exit_status(&self) -> Option<u8> {
        let signal = self.0.load(Ordering::Acquire);
        (signal > 0).then(|| u8::try_from(ENDED_BY + signal).unwrap_or(1))
    }

    /// Ctrl-C came as a key: a terminal whose keys are ours sends no signal.
    pub fn interrupt(&self) {
        self.0.store(SIGINT as usize, Ordering::Release);
    }

    /// The terminal has gone without a signal that says so.
    pub fn hang_up(&self) {
        #[cfg(unix)]
        self.0.store(signal_hook::consts::SIGHUP as usize, Ordering::Release);
        #[cfg(not(unix))]
        self.0.store(SIGTERM as usize, Ordering::Release);
    }
}

/// From now on Ctrl-C, Ctrl-\ (on Windows Ctrl-Break), a request to terminate and a closed terminal stop
/// playing instead of ending the program, so that every note gets its note-off. A second one while stopping
/// changes nothing: stopping takes well under a second. Can't be undone; call it once, before the first note.
///
/// # Errors
/// The system does not let a signal be caught.
pub fn stop_on_signals(control: &Control) -> io::Result<Caught> {
    #[cfg(unix)]
    let signals = [SIGINT, SIGTERM, signal_hook::consts::SIGHUP, signal_hook::consts::SIGQUIT];
    #[cfg(not(unix))]
    let signals = [SIGINT, SIGTERM];
    let caught = Caught::default();
    for signal in signals {
        // First which, so that whoever sees the stop knows why.
        let number = usize::try_from(signal).unwrap_or(0);
        signal_hook::flag::register_usize(signal, Arc::clone(&caught.0), number)?;
        signal_hook::flag::register(signal, control.stop_flag())?;
    }
    #[cfg(windows)]
    {
        let (caught, control) = (caught.clone(), control.clone());
        super::console_events::on_end(move || {
            caught.hang_up();
            control.stop();
        })?;
    }
    Ok(caught)
}
