//! Listening to MIDI inputs through a real JACK server: whole messages with the time of their frame.

use std::sync::mpsc;
use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::playing::jack::{
    SERVER_PID, Sender, is_inside, signal, with_server, with_server_beside_others,
};
use openchair::input::{Input, listen};
use openchair::ports::{PortError, PortSource, PortTarget, ports_list};
use openchair::time::Nanos;

type Heard = mpsc::Receiver<(Nanos, Vec<u8>)>;

fn listen_to(wanted: &str, epoch: Instant) -> Result<(Input, String, Heard), PortError> {
    let (tell, heard) = mpsc::channel();
    let (input, name) = listen(wanted, epoch, move |at, bytes| {
        let _ = tell.send((at, bytes.to_vec()));
    })?;
    Ok((input, name, heard))
}

fn next(heard: &Heard) -> (Nanos, Vec<u8>) {
    heard.recv_timeout(Duration::from_secs(10)).expect("a message")
}

/// Tries until it holds: the server tells of ports on a thread of its own.
fn soon(mut holds: impl FnMut() -> bool) -> bool {
    let give_up = Instant::now() + Duration::from_secs(10);
    while !holds() {
        if Instant::now() > give_up {
            return false;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    true
}

#[test]
fn whole_messages_come_with_the_time_of_their_frame() {
    let test = name_of(whole_messages_come_with_the_time_of_their_frame);
    if !is_inside(test) {
        return with_server(test, 256);
    }
    let mut sender = Sender::new("pedal board", 1);
    let epoch = Instant::now();
    let (input, name, heard) = listen_to("PEDAL", epoch).unwrap();
    assert_eq!(name, "pedal board:out 1 (jack)");

    // Running status, a clock within an exclusive, an end without a beginning.
    sender.say(&[0xB0, 64, 127, 64, 0]);
    sender.say(&[0xF0, 0x7D, 0xF8, 1, 0xF7]);
    sender.say(&[5, 6, 0xFA]);
    let expected: [&[u8]; 5] =
        [&[0xB0, 64, 127], &[0xB0, 64, 0], &[0xF8], &[0xF0, 0x7D, 1, 0xF7], &[0xFA]];
    for bytes in expected {
        assert_eq!(next(&heard).1, bytes);
    }
    while sender.written.pop().is_ok() {}

    // Timing clocks, as they come.
    let mut off = Vec::new();
    for _ in 0..200 {
        sender.say(&[0xF8]);
        let (at, bytes) = next(&heard);
        assert_eq!(bytes, [0xF8]);
        let frame = sender.written.pop().unwrap();
        // What the server says of that frame, brought over to our clock.
        let theirs = i64::try_from(sender.client().frames_to_time(frame)).unwrap() * 1000;
        let between = (0..3)
            .map(|_| {
                let before = epoch.elapsed();
                let server = i64::try_from(sender.client().time()).unwrap() * 1000;
                let after = epoch.elapsed();
                let middle = i64::try_from((before + after).as_nanos() / 2).unwrap();
                (after - before, middle - server)
            })
            .min()
            .unwrap()
            .1;
        off.push((at.0 - theirs - between).abs());
        std::thread::sleep(Duration::from_millis(2));
    }
    off.sort_unstable();
    let at = |percent: usize| off[(off.len() - 1) * percent / 100] / 1000;
    println!("measured: times of input are off by p50 {} µs, p99 {} µs", at(50), at(99));
    // A period is 5,333 µs: times that were its beginning's, or its handling's, would be off by half
    // of that.
    assert!(at(50) < 500, "{off:?}");
    assert!(!input.is_lost());
}

#[test]
fn a_port_that_goes_is_lost_and_own_ports_are_not_offered() {
    let test = name_of(a_port_that_goes_is_lost_and_own_ports_are_not_offered);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let sender = Sender::new("pedal", 2);
    let error = listen_to("pedal", Instant::now()).map(|it| it.1).unwrap_err();
    assert_eq!(
        error.to_string(),
        "\"pedal\" is in the names of 2 MIDI inputs; write more of the one you mean:\n  \
         pedal:out 1 (jack)\n  pedal:out 2 (jack)"
    );
    let error = listen_to("organ", Instant::now()).map(|it| it.1).unwrap_err();
    assert!(error.to_string().starts_with("no MIDI input has \"organ\" in its name"), "{error}");

    let (input, ..) = listen_to("pedal:out 2", Instant::now()).unwrap();
    let own = |list: &[openchair::ports::MidiPort]| {
        list.iter().filter(|port| port.name.starts_with("openchair")).count()
    };
    let list = ports_list();
    assert_eq!((own(&list.outputs), own(&list.inputs)), (0, 0), "{list:?}");
    if !list.hints.is_empty() {
        let (_, out) = PortSource::open(&PortTarget::Virtual, Instant::now()).unwrap();
        let list = ports_list();
        assert_eq!((own(&list.outputs), own(&list.inputs)), (0, 0), "{list:?}");
        assert!(!out.is_lost());
        out.close();
    }
    // They are there; only they are not offered.
    let inputs = sender.client().ports(None, None, jack::PortFlags::IS_INPUT);
    assert!(inputs.iter().any(|port| port.starts_with("openchair")), "{inputs:?}");

    // Unplugged by hand it is not lost; gone it is.
    let ours = inputs.iter().find(|port| port.starts_with("openchair")).unwrap();
    sender.client().disconnect_ports_by_name("pedal:out 2", ours).unwrap();
    std::thread::sleep(Duration::from_millis(100));
    assert!(!input.is_lost());
    drop(sender);
    assert!(soon(|| input.is_lost()));
    drop(input);
}

#[test]
fn a_server_that_dies_loses_its_inputs() {
    let test = name_of(a_server_that_dies_loses_its_inputs);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let sender = Sender::new("pedal", 1);
    let (input, ..) = listen_to("pedal", Instant::now()).unwrap();
    assert!(!input.is_lost());
    signal(std::env::var(SERVER_PID).unwrap().parse().unwrap(), "TERM");
    assert!(soon(|| input.is_lost()));
    drop(input);
    // The dead server's client can't be taken down in an orderly way.
    std::mem::forget(sender);
}
