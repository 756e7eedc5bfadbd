use super::failure::Failure;
use crate::live::{Caught, Control, stop_on_signals};

/// A control that Ctrl-C stops, and what says so afterwards. Only for what looks at it: nothing else could be ended.
pub(super) fn interruptible() -> Result<(Control, Caught), Failure> {
    let control = Control::new();
    let caught = stop_on_signals(&control).map_err(|error| {
        Failure::failed(format!("can't catch Ctrl-C, and so could not stop in good order: {error}"))
    })?;
    Ok((control, caught))
}
