use std::time::Instant;

use crate::input::{Input, listen};
use crate::live::{Action, FollowSender, Follower, OutsideClock, PedalMap, Pedals};
use crate::ports::PortError;
use crate::time::{Nanos, Tempo};

/// Follows the MIDI input with `wanted` in its name. `tempo` is what a start is taken to mean before the
/// first clocks have shown another; `epoch` is the moment the playing thread's clock counts from. Gives the
/// input, which is listened to until it is dropped, its name, and how the outside clock stands.
///
/// # Errors
/// No such input, more than one, or it does not open.
pub fn follow(
    wanted: &str,
    epoch: Instant,
    tempo: Tempo,
    mut sender: FollowSender,
) -> Result<(Input, String, OutsideClock), PortError> {
    let (mut follower, outside) = Follower::new(tempo, move |follow| sender.send(follow));
    let (input, name) = listen(wanted, epoch, move |at, bytes| follower.heard(at, bytes))?;
    Ok((input, name, outside))
}

/// Listens to the pedals on the MIDI input with `wanted` in its name. `act` gets the time of each press, by
/// a clock that counts from `epoch`, and what is asked for. It is called on a thread that must not
/// wait: it should allocate nothing and take no lock. Gives the input, which is listened to until it is
/// dropped, and its name.
///
/// # Errors
/// No such input, more than one, or it does not open.
pub fn listen_to_pedals(
    map: &PedalMap,
    wanted: &str,
    epoch: Instant,
    mut act: impl FnMut(Nanos, Action) + Send + 'static,
) -> Result<(Input, String), PortError> {
    let mut pedals = Pedals::new(map);
    listen(wanted, epoch, move |at, bytes| {
        if let Some(action) = pedals.heard(at, bytes) {
            act(at, action);
        }
    })
}
