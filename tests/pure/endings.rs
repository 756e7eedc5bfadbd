//! How a song ends beside the hit and the tag: cold, and with its last line over again.

use openchair::arrange::{Arrangement, BarKind, Plan, arrange};
use openchair::chart::{Ending, Lead, Role, read_song, write_song};
use openchair::perform::{Performance, perform};
use openchair::style::read_style;
use openchair::text::{Problems, Source};
use openchair::time::Ticks;

fn played(ending: &str) -> (Arrangement, Performance) {
    let toml = format!(
        "title = 'Nails and Tar'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
         form = ['verse: fiddle', 'verse: voice']\nband = ['bass', 'chop', 'guitar']\n\
         ending = '{ending}'\n[section.verse]\nchords = '''\n| G | C | G | D |\n| C | D | G | % |\n'''\n"
    );
    let style = "about = 'any'\nmeters = ['4/4']\n[bass]\nlooseness = 0\n[[bass.bar]]\nbar = 'R . 5 .'\n\
                 [chop]\nlooseness = 0\n[[chop.bar]]\nbar = '- x - x'\n\
                 [guitar]\nlooseness = 0\n[[guitar.bar]]\nbar = 'R D 5 D'\n";
    let mut problems = Problems::new();
    let (song, _) = read_song(&Source::new("s.toml", toml).unwrap(), &mut problems).unwrap();
    // The usual one goes without saying.
    let said = write_song(&song).contains(&format!("ending   = \"{ending}\""));
    assert_eq!(said, ending != "hit");
    let arrangement = arrange(&song, &Plan::default()).unwrap();
    let style = read_style("any", &Source::new("t", style).unwrap(), &mut problems).unwrap();
    let performance = perform(&arrangement, &style, 1).unwrap();
    (arrangement, performance)
}

#[test]
fn the_last_line_comes_again_with_who_led_it() {
    for (ending, again) in [("last-line", 1), ("last-line-twice", 2)] {
        let (song, performance) = played(ending);
        assert_eq!(song.bars.len(), 16 + 4 * again + 1, "{ending}");
        let passes: Vec<(&str, Option<Lead>)> =
            song.passes.iter().map(|pass| (pass.label.as_str(), pass.lead)).collect();
        for &(label, lead) in &passes[2..2 + again] {
            assert_eq!((label, lead), ("last line: voice", Some(Lead::Voice)));
        }
        assert_eq!(passes.last().unwrap().0, "ending");
        let chords: Vec<String> = song.bars[16..20]
            .iter()
            .map(|bar| {
                let span = &song.spans[bar.spans.start];
                song.chords[span.chord.unwrap().0 as usize].to_string()
            })
            .collect();
        assert_eq!(chords, ["C", "D", "G", "G"]);
        assert_eq!(song.bars[20].number, 21, "its bars are counted on");
        assert_eq!(song.bars.last().unwrap().kind, BarKind::FinalHit);
        // All of the band plays it.
        for part in &performance.parts {
            let inside = part.notes.iter().filter(|note| (16..20).contains(&(note.bar as usize)));
            assert!(inside.count() > 3, "{ending} {}", part.role);
        }
    }
}

#[test]
fn a_cold_end_is_choked_and_a_hit_rings() {
    let longest = |ending: &str| {
        let (song, performance) = played(ending);
        let last = song.bars.len() - 1;
        let notes = performance.parts.iter().filter(|part| part.role != Role::Bass);
        let lengths = notes.flat_map(|part| &part.notes).filter(|note| note.bar as usize == last);
        let lengths: Vec<Ticks> = lengths.map(|note| note.end - note.start).collect();
        assert!(lengths.len() > 6, "{ending}: all strike");
        lengths.into_iter().max().unwrap()
    };
    assert!(longest("cold") < Ticks::QUARTER, "{:?}", longest("cold"));
    assert!(longest("hit") > Ticks::QUARTER * 2, "{:?}", longest("hit"));
}

#[test]
fn every_ending_has_its_word() {
    for ending in Ending::ALL {
        assert_eq!(Ending::parse(ending.as_str()), Some(ending));
    }
}
