use crate::cli::failure::Failure;
use crate::sink::{quietly, sound_devices};
use crate::text::list;

/// Other devices than the default one, as options to choose them by.
pub(in crate::cli) fn other_devices() -> Vec<String> {
    let devices = quietly(sound_devices);
    devices.into_iter().map(|device| format!("--device {:?}", device.name)).collect()
}

/// Why nothing can be played; `what` says what to do about it.
pub(in crate::cli) fn no_device(what: &str) -> Failure {
    let others = other_devices();
    match others.as_slice() {
        [] => Failure::failed(format!("there is no sound device and no --port: {what}")),
        others => Failure::failed(format!(
            "there is no default sound device and no --port: {what} (try {})",
            list(others, "or")
        )),
    }
}
