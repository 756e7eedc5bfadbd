//! The contract of the exported file, for charts that nobody would write: keys, meters, shares, chords
//! of every quality, stops, crooked bars, leads and open chairs at random.

use std::sync::LazyLock;

use proptest::prelude::*;

use openchair::arrange::{Plan, SitOut};
use openchair::chart::Role;
use openchair::style::Style;

use crate::common::contract;
use crate::common::made_up::{Request, request};
use crate::common::midi_file::MidiFile;
use crate::common::played;
use crate::common::shipped;
use crate::common::timetable::Timetable;

static STYLES: LazyLock<Vec<Style>> = LazyLock::new(shipped::styles);

fn style(request: &Request) -> &'static Style {
    let fitting: Vec<&Style> = STYLES.iter().filter(|s| s.fits(request.meter)).collect();
    fitting[request.style.index(fitting.len())]
}

proptest! {
    #[test]
    fn every_chart_is_exported_as_it_is_written(request in request()) {
        let song = shipped::song(&request.toml);
        let style = style(&request);
        let Request { plan, seed, role, .. } = &request;
        let bytes = shipped::export(&song, plan, style, *seed);
        prop_assert_eq!(&bytes, &shipped::export(&song, plan, style, *seed));
        let file = MidiFile::read(&bytes).unwrap();
        let sheet = Timetable::new(&song, plan, style);
        contract::hold(&file, &song.title, &sheet, style);

        // One more chair open: the others play on as they did.
        let mut fewer: Plan = plan.clone();
        fewer.sit_out.push(SitOut { role: *role, section: None });
        let without = shipped::exported(&song, &fewer, style, *seed);
        prop_assert!(without.track(role.as_str()).is_none());
        for other in Role::ALL.into_iter().filter(|other| other != role) {
            prop_assert_eq!(file.track(other.as_str()), without.track(other.as_str()));
        }

        // However slow the strokes and loose the hands, no pitch sounds twice at once.
        let mut slow = style.clone();
        for (_, part) in &mut slow.parts {
            (part.spread, part.looseness) = (80.0, 30.0);
        }
        let file = shipped::exported(&song, plan, &slow, *seed);
        for track in Role::ALL.into_iter().filter_map(|role| file.track(role.as_str())) {
            prop_assert!(track.notes().is_ok(), "{:?}", track.notes());
        }

        // Without its walks, every note is one of the chord's.
        let plain = shipped::without_walks(style);
        let file = shipped::exported(&song, plan, &plain, *seed);
        let sheet = Timetable::new(&song, plan, &plain);
        for role in Role::ALL {
            if let Some(track) = file.track(role.as_str()) {
                let part = played::Played::new(role, track, &sheet, plain.part(role).unwrap());
                part.chord_notes_only();
            }
        }
    }
}
