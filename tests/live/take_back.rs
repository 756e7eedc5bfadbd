//! Taking back what a real JACK server has queued: what is due before the cut goes out, and no more.

use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::playing::jack::{Listener, is_inside, with_server};
use openchair::live::{Clock, MonotonicClock};
use openchair::perform::Message;
use openchair::ports::{PortSource, PortTarget};
use openchair::time::Nanos;

#[test]
fn what_is_taken_back_in_time_never_goes_out() {
    let test = name_of(what_is_taken_back_in_time_never_goes_out);
    if !is_inside(test) {
        return with_server(test, 256);
    }
    let mut listener = Listener::new("listener");
    let clock = MonotonicClock::new();
    let (_, mut out) =
        PortSource::open(&PortTarget::Named("listener".to_owned()), clock.epoch()).unwrap();
    let guard = out.guard();
    // A period, what taking back may take, and 2.5 ms by which the frames may be off.
    assert_eq!(guard.0, 256 * 1_000_000_000 / 48_000 + 3_000_000 + 2_500_000);
    let mut wanted = Vec::new();
    let mut next = clock.now().0 + 50_000_000;
    for round in 0..100u8 {
        // Sixty messages, a millisecond apart, that tell round and place; then a cut among them.
        let start = next;
        let due = |place: u8| Nanos(start + i64::from(place) * 1_000_000);
        for place in 0..60 {
            let message = Message::Control { channel: 0, controller: round, value: place };
            out.send(due(place), message).unwrap();
        }
        let wait = i64::from(round) * 7 % 50 * 1_000_000 - guard.0 - 20_000_000;
        clock.sleep_until(Nanos(start + wait));
        let before = Instant::now();
        // Shorter by now: how far the frames are off is known.
        let from = Nanos(clock.now().0 + out.guard().0);
        out.take_back(from);
        // Only what was done in time is held to it; a loaded machine puts any thread aside.
        let in_time = before.elapsed() < Duration::from_millis(1);
        let until = (0..60).find(|&place| due(place) >= from).unwrap_or(60);
        wanted.push((in_time, until));
        next = due(59).0.max(from.0) + 1_000_000;
    }
    out.close();
    let mut held = 0;
    for (round, &(in_time, until)) in wanted.iter().enumerate() {
        let heard = listener.listen().iter().filter(|it| usize::from(it.bytes[1]) == round);
        let places: Vec<u8> = heard.map(|it| it.bytes[2]).collect();
        assert_eq!(places, (0..places.len() as u8).collect::<Vec<_>>(), "in order");
        assert!(places.len() >= usize::from(until), "what is due before the cut goes out");
        if in_time {
            held += 1;
            assert_eq!(places.len(), usize::from(until), "round {round}");
        }
    }
    println!(
        "measured: {held} of 100 cuts were made in time, and not one message too many went out"
    );
    assert!(held > 50, "{held}");
}
