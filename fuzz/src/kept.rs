use std::sync::LazyLock;

use openchair::live::{Action, PedalMap, Trigger, forget_in, teach_in};
use openchair::page::progress_html;
use openchair::practice::{Change, Day, Marks, changes};
use openchair::progress::{by_song, read_entries, words};
use openchair::rehearsal::{Rehearsal, Shipped, Wishes};
use openchair::text::Problems;

use crate::{dice, shown, text};

/// A pedal file, which a user may write in too.
pub fn pedals(bytes: &[u8]) {
    let Some(given) = text("pedals.toml", bytes) else { return };
    let mut problems = Problems::new();
    let before = PedalMap::read(&given, &mut problems);
    shown(&given, &problems);
    let trigger = Trigger::Controller { channel: (dice(bytes) % 16) as u8, number: 64 };
    let Ok(taught) = teach_in(&given.text, trigger, Action::PauseOrGo) else { return };
    if !problems.is_empty() {
        return;
    }
    // What was right is right with one more thing taught, which is what was meant.
    let source = text("pedals.toml", taught.as_bytes()).expect("what is written is a text");
    let after = PedalMap::read(&source, &mut problems);
    assert!(problems.is_empty(), "{taught}");
    assert_eq!(after.action(trigger), Some(Action::PauseOrGo), "{taught}");
    assert!(!before.is_empty() || after.triggers(Action::PauseOrGo).count() == 1, "{taught}");
    let forgotten = forget_in(&taught, Action::PauseOrGo).expect("it was read just now");
    let source = text("pedals.toml", forgotten.as_bytes()).expect("what is written is a text");
    let last = PedalMap::read(&source, &mut problems);
    assert!(problems.is_empty() && last.action(trigger).is_none(), "{forgotten}");
}

/// What the program keeps of practising: pass marks, and the figures of takes.
pub fn kept(bytes: &[u8]) {
    let Ok(given) = std::str::from_utf8(bytes) else { return };
    if let Ok(mut marks) = Marks::read(given, "Lantern on the Landing") {
        for change in CHANGES.iter() {
            marks.of(change);
            marks.practised(change, 80.0, Day::new(2026, 2, 28).expect("a day"));
        }
        let again = Marks::read(&marks.write(), "Lantern on the Landing");
        assert_eq!(again.as_ref(), Ok(&marks), "what is kept is read again");
    }
    let (entries, _) = read_entries(given);
    let songs = by_song(&entries);
    for wide in [20, 80] {
        assert!(words(&songs, wide).ends_with('\n'));
    }
    progress_html(&songs);
}

static CHANGES: LazyLock<Vec<Change>> = LazyLock::new(|| {
    let song = Shipped::song("lantern-on-the-landing").expect("it is shipped");
    let song = Rehearsal::read(&song, &Shipped, Wishes::default()).expect("it can be played");
    changes(&song.whole().expect("the whole song"))
});
