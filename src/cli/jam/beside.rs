use std::thread;

use crossbeam_channel::Sender;

use crate::cli::failure::{Failure, tell};
use crate::live::{Control, Engine, MonotonicClock, PlayReport, raise_priority};
use crate::sink::Losses;

pub(super) const PLEASE_REPORT: &str = "this is a fault in openchair, please report it";

/// Runs the band on a thread of its own, and `desk` on this one beside it. Once `desk` is over, or
/// panics, the band falls silent and ends before anything else. `refuse` hears why the band's thread
/// runs at ordinary priority.
pub(super) fn beside(
    engine: Engine,
    clock: &MonotonicClock,
    control: &Control,
    refuse: &Sender<String>,
    desk: impl FnOnce() -> Result<(), Failure>,
) -> Result<PlayReport, Failure> {
    thread::scope(|scope| {
        // Whatever happens here, a panic included, the thread must not play on.
        let _stop = StopOnDrop(control);
        let player = thread::Builder::new()
            .name("openchair-play".to_owned())
            .spawn_scoped(scope, || {
                if let Err(refusal) = raise_priority() {
                    let _ = refuse.send(refusal);
                }
                engine.run(clock, control)
            })
            .map_err(Failure::failed)?;
        let done = desk();
        control.stop();
        player.thread().unpark();
        let report = player.join();
        done?;
        report
            .map_err(|_| Failure::failed(format!("the playing thread broke off: {PLEASE_REPORT}")))?
            .map_err(Failure::failed)
    })
}

/// Stops the band when it goes, in whatever way.
pub(super) struct StopOnDrop<'a>(pub &'a Control);

impl Drop for StopOnDrop<'_> {
    fn drop(&mut self) {
        self.0.stop();
    }
}

/// What is worth knowing when it is over.
pub(super) fn after(report: &PlayReport) {
    let times = |count: u64, one: &str, more: &str| match count {
        1 => one.to_owned(),
        count => format!("{count} {more}"),
    };
    let Losses { dropouts, late } = report.losses;
    if dropouts > 0 {
        let late = match late {
            0 => String::new(),
            late => format!(" and {} late", times(late, "one message came", "messages came")),
        };
        let often = times(dropouts, "once", "times");
        tell(format!("the sound server lost time {often}{late}; give it longer periods"));
    }
    if report.dropped > 0 {
        let notes = times(report.dropped, "one note", "notes");
        tell(format!("{notes} came too late and were left out: the machine was held up"));
    }
}
