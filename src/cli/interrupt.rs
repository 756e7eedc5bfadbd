use super::failure::Failure;
use crate::live::{Control, stop_on_signals};

/// A control that Ctrl-C stops. Only for playing: nothing else looks at it, and so could be ended.
pub(super) fn interruptible() -> Result<Control, Failure> {
    let control = Control::new();
    stop_on_signals(&control).map_err(|error| {
        Failure::failed(format!("can't catch Ctrl-C, and so could not stop in good order: {error}"))
    })?;
    Ok(control)
}
