//! The fiddle's and the lead's notes in every song, style and key: what a hand can hold, what an ear can
//! bear, and nothing changed for the others.

use std::sync::LazyLock;

use crate::common::midi_file;
use crate::common::shipped;
use openchair::arrange::{Arrangement, Bar, Plan, arrange};
use openchair::chart::{Lead, Role, RoleSet, Song};
use openchair::perform::{Message, Note, Part, Performance, messages, perform};
use openchair::sink::smf;
use openchair::style::{Loudness, Style};
use openchair::theory::fretboard::banjo::Drone;
use openchair::theory::{Chord, Key};
use openchair::time::{Meter, Ticks};

static PAIRS: LazyLock<Vec<(std::path::PathBuf, Song, Style)>> = LazyLock::new(shipped::pairs);

const KEYS: [&str; 4] = ["C", "E", "G", "Bb"];

fn all() -> RoleSet {
    Role::ALL.into_iter().collect()
}

fn plan(song: &Song, key: &str, band: RoleSet) -> Plan {
    let key = Key { mode: song.key.mode, ..Key::parse(key).unwrap() };
    Plan { key: Some(key), band: Some(band), ..Plan::default() }
}

/// Every song in every style, each in one of the keys by turns.
fn takes() -> impl Iterator<Item = (Arrangement, Performance, &'static Style)> {
    PAIRS.iter().zip(KEYS.iter().cycle()).map(|((_, song, style), key)| {
        // A drone rubs against the third of the chord over it, and is meant to.
        let plan = Plan { drone: Some(Drone::Fits), ..plan(song, key, all()) };
        let arrangement = arrange(song, &plan).unwrap();
        let performance = perform(&arrangement, style, 11).unwrap();
        (arrangement, performance, style)
    })
}

fn part(performance: &Performance, role: Role) -> Option<&Part> {
    performance.parts.iter().find(|part| part.role == role)
}

fn bar<'a>(song: &'a Arrangement, note: &Note) -> &'a Bar {
    &song.bars[note.bar as usize]
}

/// The chord at a time.
fn chord(song: &Arrangement, at: Ticks) -> Option<&Chord> {
    let span = song.spans.iter().rfind(|span| span.start <= at)?;
    song.chord(span.chord?)
}

/// "Leaving a role out changes no other role's notes", and neither does taking one in.
#[test]
fn they_change_nothing_for_the_others() {
    for (_, song, style) in PAIRS.iter() {
        let played = |band: RoleSet| {
            let arrangement = arrange(song, &Plan { band: Some(band), ..Plan::default() }).unwrap();
            perform(&arrangement, style, 3).unwrap()
        };
        let whole = played(all());
        for left_out in Role::ALL {
            let fewer = played(Role::ALL.into_iter().filter(|role| *role != left_out).collect());
            for role in Role::ALL.into_iter().filter(|role| *role != left_out) {
                assert_eq!(part(&fewer, role), part(&whole, role), "{role} without {left_out}");
            }
        }
    }
}

#[test]
fn they_play_where_they_are_asked_to() {
    let (mut fiddles, mut leads) = (0, 0);
    for (song, performance, style) in takes() {
        let fiddle = part(&performance, Role::Fiddle).unwrap();
        fiddles += 1;
        for note in &fiddle.notes {
            assert!(!bar(&song, note).resting.contains(Role::Fiddle));
        }
        let Some(lead) = part(&performance, Role::Lead) else {
            let asked = |bar: &Bar| {
                let lead = song.passes[bar.pass].lead;
                bar.melody.is_some() || lead.is_some_and(|lead| lead != Lead::Voice)
            };
            assert!(!song.bars.iter().any(asked), "{} in {}", song.title, style.name);
            continue;
        };
        leads += 1;
        for (index, bar) in song.bars.iter().enumerate() {
            let pass = &song.passes[bar.pass];
            let instrument = pass.lead.is_some_and(|lead| lead != Lead::Voice);
            let notes = lead.notes.iter().filter(|note| note.bar as usize == index).count();
            if !pass.is_ending && !instrument && bar.melody.is_none() {
                assert_eq!(notes, 0, "{} bar {}", song.title, bar.number);
            }
        }
    }
    assert!(fiddles > 50 && leads > 50);
}

/// GDAE, G3 D4 A4 E5 (tests/reference/instruments.json): every two notes at once lie on strings side by
/// side, within a hand's frame of a fourth, no farther up than third position (common practice, no
/// source).
#[test]
fn a_hand_can_hold_what_the_fiddle_plays() {
    let open = [55_i32, 62, 69, 76];
    let mut double = 0;
    for (song, performance, _) in takes() {
        let notes = &part(&performance, Role::Fiddle).unwrap().notes;
        for (at, note) in notes.iter().enumerate() {
            assert!((55..=83).contains(&note.pitch.get()), "{note:?}");
            let sounding: Vec<&Note> =
                notes[..at].iter().filter(|other| other.end > note.start).collect();
            assert!(sounding.len() <= 1, "{}: {note:?} over {sounding:?}", song.title);
            let Some(other) = sounding.first() else { continue };
            double += 1;
            let mut pair = [note, other].map(|note| i32::from(note.pitch.get()));
            pair.sort_unstable();
            let held = open.windows(2).any(|strings| {
                let [below, above] = [pair[0] - strings[0], pair[1] - strings[1]];
                let reach = 0..=10;
                let near = below == 0 || above == 0 || (below - above).abs() <= 5;
                reach.contains(&below) && reach.contains(&above) && near
            });
            assert!(held, "{pair:?} on {open:?}");
            assert!(!matches!(pair[1] - pair[0], 0..=2 | 11), "{pair:?}");
        }
    }
    assert!(double > 5000, "{double}");
}

#[test]
fn the_fiddle_plays_the_chord_of_the_moment() {
    for (song, performance, style) in takes() {
        let part = part(&performance, Role::Fiddle).unwrap();
        let slack = song.tempo.ticks_in_millis(25.0);
        for note in &part.notes {
            // Its place on the grid lies within its lean and looseness.
            let near = [note.start, note.start + slack, (note.start - slack).max(song.start)];
            let fits = near.into_iter().filter_map(|at| chord(&song, at));
            let belongs = fits.clone().any(|chord| chord.contains(note.pitch.pitch_class()));
            // A swung off-beat may carry a change of chord with it.
            let next = song.spans.iter().find(|span| span.start > note.start);
            let swung = next
                .filter(|span| span.start - note.start < Ticks::EIGHTH)
                .and_then(|span| song.chord(span.chord?))
                .is_some_and(|chord| chord.contains(note.pitch.pitch_class()));
            assert!(belongs || swung, "{} {}: {note:?}", song.title, style.name);
        }
    }
}

/// Backup stands behind the guitar: what the styles make of volume and loudness, by General MIDI's
/// curve (gain goes with the square of controller 7 and of velocity; Developer Guidelines, from memory).
#[test]
fn the_fiddle_is_never_louder_than_the_guitar() {
    let gain = |volume: u8, velocity: u8| (f64::from(volume) * f64::from(velocity)).powi(2);
    for style in shipped::styles() {
        let part = |role| style.part(role).unwrap();
        let (fiddle, guitar) = (part(Role::Fiddle), part(Role::Guitar));
        let level = |part: &openchair::style::RoleStyle, of: fn(&Loudness) -> u8| {
            gain(part.instrument.volume, of(&part.loudness))
        };
        for of in [|l: &Loudness| l.normal, |l: &Loudness| l.accent] {
            assert!(level(fiddle, of) < level(guitar, of), "{}", style.name);
        }
    }
}

fn range(lead: Option<Lead>) -> std::ops::RangeInclusive<u8> {
    // The lowest open strings that a break uses: G3 of fiddle and mandolin; E3, an octave above the
    // guitar's lowest; the banjo's D3; the bass's E1; the resonator guitar's G2 (tunings: common
    // knowledge, and tests/reference/instruments.json for the first three).
    match lead {
        Some(Lead::Guitar) => 52..=79,
        Some(Lead::Banjo) => 50..=79,
        Some(Lead::Bass) => 28..=43,
        Some(Lead::Resonator) => 43..=74,
        Some(Lead::Voice) => 48..=79,
        Some(Lead::Fiddle | Lead::Mandolin) | None => 55..=83,
    }
}

/// General MIDI Level 1 sound set, from 0: 110 fiddle, 25 steel guitar, 105 banjo, 32 acoustic bass, 26
/// jazz guitar, 53 voice oohs. It has no mandolin: 24, nylon guitar, is our own choice.
fn program(lead: Lead) -> u8 {
    match lead {
        Lead::Voice => 53,
        Lead::Fiddle => 110,
        Lead::Mandolin => 24,
        Lead::Guitar => 25,
        Lead::Banjo => 105,
        Lead::Bass => 32,
        Lead::Resonator => 26,
    }
}

/// True for a written tune on the banjo.
fn breaks(song: &Arrangement, bar: &Bar) -> bool {
    song.passes[bar.pass].lead == Some(Lead::Banjo) && bar.melody.is_some()
}

#[test]
fn the_lead_plays_one_note_at_a_time_on_the_leaders_instrument() {
    let mut leaders = std::collections::HashSet::new();
    for (song, performance, _) in takes() {
        let Some(lead) = part(&performance, Role::Lead) else { continue };
        // But on the banjo, which rolls around the tune.
        let voices =
            |pair: &[Note]| pair[0].end <= pair[1].start || breaks(&song, bar(&song, &pair[0]));
        assert!(lead.notes.windows(2).all(voices));
        for note in &lead.notes {
            let pass = &song.passes[bar(&song, note).pass];
            let last = song.passes.iter().rfind(|pass| !pass.is_ending).unwrap();
            let who = if pass.is_ending { last.lead } else { pass.lead };
            assert!(range(who).contains(&note.pitch.get()), "{who:?} {note:?}");
            if let Some(who) = who {
                assert_eq!(lead.program_at(note.start), program(who), "{who:?} {note:?}");
                leaders.insert(who);
            }
        }
        let mut sent = lead.instrument.program;
        for timed in messages(&performance) {
            match timed.message {
                Message::Program { channel, program } if channel == Role::Lead.channel() => {
                    assert!(timed.at == Ticks::ZERO || program != sent, "once for each change");
                    sent = program;
                }
                Message::NoteOn { channel, .. } if channel == Role::Lead.channel() => {
                    assert_eq!(sent, lead.program_at(timed.at));
                }
                _ => {}
            }
        }
    }
    assert!(leaders.len() >= 5, "{leaders:?}");
}

/// Where the strong beats are.
fn strong(meter: Meter) -> Ticks {
    match meter {
        Meter::FourFour | Meter::TwoTwo => Ticks::QUARTER * 2,
        Meter::ThreeFour => meter.bar(),
        Meter::TwoFour | Meter::SixEight => meter.beat(),
    }
}

/// Without feel, so that every note stands where it is written.
fn exact(style: &Style) -> Style {
    let mut exact = style.clone();
    exact.feel.swing.clear();
    for (_, part) in &mut exact.parts {
        (part.looseness, part.lean) = (0.0, 0.0);
    }
    exact
}

/// A made-up break has the chord on its strong beats, no note a semitone from the chord on any beat,
/// and moves by step (common practice, no source).
#[test]
fn a_break_has_the_chord_on_its_beats() {
    let (mut notes, mut steps, mut leaps) = (0, 0, 0);
    for ((_, song, style), key) in PAIRS.iter().zip(KEYS.iter().cycle()) {
        let style = Style { parts: exact(style).parts, ..exact(style) };
        let song = Song { swing: song.swing.map(|_| 0.5), ..song.clone() };
        for seed in 0..2 {
            let laid = arrange(&song, &plan(&song, key, all())).unwrap();
            let performance = perform(&laid, &style, seed).unwrap();
            let Some(lead) = part(&performance, Role::Lead) else { continue };
            let made = |note: &&Note| bar(&laid, note).melody.is_none();
            let made: Vec<&Note> = lead.notes.iter().filter(made).collect();
            for pair in made.windows(2) {
                let far = pair[0].pitch.get().abs_diff(pair[1].pitch.get());
                if pair[1].bar - pair[0].bar < 2 {
                    steps += usize::from(far <= 4);
                    leaps += usize::from(far > 4);
                }
            }
            for note in made {
                notes += 1;
                let bar = bar(&laid, note);
                let place = note.start - bar.start;
                let chord = chord(&laid, note.start).unwrap();
                let class = i32::from(note.pitch.pitch_class());
                let own = chord.tones().any(|tone| i32::from(tone) == class);
                if place.is_multiple_of(strong(bar.meter)) {
                    assert!(own, "{} {}: {note:?} on {chord}", song.title, style.name);
                }
                let clash = chord
                    .tones()
                    .any(|tone| matches!((i32::from(tone) - class).rem_euclid(12), 1 | 11));
                let beat = place.is_multiple_of(bar.meter.beat());
                assert!(!beat || own || !clash, "{}: {note:?} on {chord}", song.title);
            }
        }
    }
    assert!(notes > 10_000, "{notes}");
    assert!(steps > 5 * leaps, "{steps} steps, {leaps} leaps");
}

/// No two notes a semitone apart sound together for a beat or longer, but for those that the chart asks
/// for: both of the chord, or of the written tune.
#[test]
fn they_rub_against_nobody() {
    let mut rubs = Vec::new();
    let mut together = 0;
    for (song, performance, style) in takes() {
        let beat = song.meter.beat().min(Ticks::QUARTER);
        for role in [Role::Fiddle, Role::Lead] {
            let Some(mine) = part(&performance, role) else { continue };
            for other in performance.parts.iter().filter(|part| part.role != role) {
                for note in &mine.notes {
                    if role == Role::Lead && bar(&song, note).melody.is_some() {
                        continue;
                    }
                    let from = other
                        .notes
                        .partition_point(|it| it.start + song.meter.bar() * 4 < note.start);
                    let near = other.notes[from..].iter().take_while(|it| it.start < note.end);
                    for it in near {
                        let both = it.end.min(note.end) - it.start.max(note.start);
                        if both < beat
                            || (other.role == Role::Lead && bar(&song, it).melody.is_some())
                        {
                            continue;
                        }
                        together += 1;
                        if it.pitch.get().abs_diff(note.pitch.get()) != 1 {
                            continue;
                        }
                        let at = it.start.max(note.start) + Ticks::new(both.get() / 2);
                        let chord = chord(&song, at);
                        let own = |note: &Note| {
                            chord.is_some_and(|chord| chord.contains(note.pitch.pitch_class()))
                        };
                        if !(own(it) && own(note)) {
                            rubs.push(format!(
                                "{} {} {role} {} with {} {} over {}",
                                song.title,
                                style.name,
                                note.pitch.get(),
                                other.role,
                                it.pitch.get(),
                                chord.unwrap()
                            ));
                        }
                    }
                }
            }
        }
    }
    assert!(together > 10_000, "{together}");
    assert!(rubs.is_empty(), "{} of {together}: {:#?}", rubs.len(), &rubs[..rubs.len().min(30)]);
}

/// A line of four is answered by the next: same chords, same idea.
#[test]
fn the_second_line_answers_the_first() {
    let text = "title = 'T'\nkey = 'G'\nmeter = '4/4'\ntempo = 110\nstyle = 'boom-chick'\n\
                form = ['a: fiddle']\nending = 'none'\n[section.a]\nchords = '''\n\
                | G | C | D | G |\n| G | C | D | G |\n| C | C | G | D |\n| G | C | D | G |\n'''\n";
    let song = shipped::song(text);
    for style in shipped::styles().into_iter().filter(|style| style.fits(Meter::FourFour)) {
        let style = exact(&style);
        let laid = arrange(&song, &Plan { band: Some(all()), ..Plan::default() }).unwrap();
        let performance = perform(&laid, &style, 5).unwrap();
        let lead = part(&performance, Role::Lead).unwrap();
        let line = |bars: std::ops::Range<u32>| -> Vec<(i64, u8)> {
            let own = lead.notes.iter().filter(|note| bars.contains(&note.bar));
            own.map(|note| ((note.start.get()) % (4 * 3840), note.pitch.get())).collect()
        };
        let (first, second) = (line(0..3), line(4..7));
        let same = first.iter().filter(|note| second.contains(note)).count();
        assert!(same * 10 >= first.len() * 7, "{}: {first:?} {second:?}", style.name);
        let third: Vec<u8> = line(8..11).into_iter().map(|note| note.1).collect();
        let mean =
            |notes: &[u8]| notes.iter().map(|n| f64::from(*n)).sum::<f64>() / notes.len() as f64;
        let first: Vec<u8> = first.into_iter().map(|note| note.1).collect();
        assert!(mean(&third) > mean(&first), "{}", style.name);
        // The pass comes home.
        assert_eq!(lead.notes.last().unwrap().pitch.pitch_class(), 7, "{}", style.name);
    }
}

const TUNE: &str = "title = 'Tune'\nkey = 'G'\nmeter = '4/4'\ntempo = 100\nstyle = 'boom-chick'\n\
    band = ['bass', 'lead']\nending = 'none'\nform = ['a: voice', 'a: banjo', 'a']\n[section.a]\n\
    chords = '| G | N.C. | D |'\nstops = '| . | . | x - |'\nmelody = '| G A / B | / c =f f | - d - - |'\n";

/// The written tune, note for note: `c` over N.C. and `d` in the stop too, the tie held, the accidental
/// kept to the bar line.
#[test]
fn a_written_tune_is_played_as_it_is_written() {
    let song = shipped::song(TUNE);
    let style = exact(&shipped::styles().into_iter().find(|s| s.name == song.style).unwrap());
    for (key, by) in [("G", 0), ("A", 2), ("C", 5), ("F", -2), ("Db", 6), ("D", -5)] {
        let plan = Plan { key: Some(Key::parse(key).unwrap()), ..Plan::default() };
        let laid = arrange(&song, &plan).unwrap();
        let performance = perform(&laid, &style, 1).unwrap();
        let lead = part(&performance, Role::Lead).unwrap();
        let notes: Vec<(i64, i32)> = lead
            .notes
            .iter()
            .map(|note| (note.start.get(), i32::from(note.pitch.get()) - by))
            .collect();
        let pass = |at: i64| {
            [(0, 67), (960, 69), (2880, 71), (4800, 72), (5760, 77), (6720, 77), (8640, 74)]
                .map(|(start, pitch)| (start + at, pitch))
        };
        let classes = |notes: &[(i64, i32)]| {
            notes.iter().map(|(at, pitch)| (*at, pitch.rem_euclid(12))).collect::<Vec<_>>()
        };
        // The banjo has each note within its eighth, and rolls around it.
        let broken = |at: i64| (11_520..23_040).contains(&at);
        let (on_banjo, notes): (Vec<_>, Vec<_>) =
            notes.into_iter().partition(|(at, _)| broken(*at));
        for (at, pitch) in pass(11_520) {
            let own = |(start, other): &&(i64, i32)| {
                (at..at + 480).contains(start) && (other - pitch) % 12 == 0
            };
            assert!(on_banjo.iter().any(|note| own(&note)), "{key} {at} {pitch}: {on_banjo:?}");
        }
        assert!(on_banjo.len() > 14, "{on_banjo:?}");
        let wanted: Vec<(i64, i32)> = [0, 23_040].into_iter().flat_map(pass).collect();
        assert_eq!(classes(&notes), classes(&wanted), "{key}");
        if by == 0 {
            assert_eq!(notes, wanted);
        }
        // The tie lasts over the bar line, up to the next note less its style's share.
        assert!(lead.notes[2].end.get() > 3840 + 480, "{:?}", lead.notes[2]);
        assert_eq!(lead.instrument.program, 53);
        let programs: Vec<u8> = lead.programs.iter().map(|(_, program)| *program).collect();
        assert_eq!(programs, [105, 110], "the banjo, then what the style says for nobody");
    }
}

#[test]
fn a_loop_that_begins_in_a_tie_strikes_its_note() {
    let song = shipped::song(TUNE);
    let style = exact(&shipped::styles().into_iter().find(|s| s.name == song.style).unwrap());
    let laid = arrange(&song, &Plan::default()).unwrap();
    let round = laid.excerpt(2..=2, 2).unwrap();
    let performance = perform(&round, &style, 1).unwrap();
    let lead = part(&performance, Role::Lead).unwrap();
    let notes: Vec<(i64, u8)> =
        lead.notes.iter().map(|note| (note.start.get(), note.pitch.get())).collect();
    let bar = [(0, 71), (960, 72), (1920, 77), (2880, 77)];
    let again = bar.map(|(at, pitch)| (at + 3840, pitch));
    assert_eq!(notes, [bar, again].concat());
}

/// "one track a role, named exactly by its role, on a channel of its own, with its program, volume and
/// pan": the first ones at 0, and the lead's program again before the first note of another instrument.
#[test]
fn the_file_holds_the_lead_with_its_sounds() {
    let mut changes = 0;
    for (song, performance, style) in takes() {
        let bytes = smf::to_bytes(&performance).unwrap();
        let file = midi_file::MidiFile::read(&bytes).unwrap();
        for part in &performance.parts {
            let track = file.track(part.role.as_str()).unwrap();
            let channel = part.role.channel();
            assert_eq!(track.channels(), [channel]);
            assert_eq!(track.notes().unwrap().len(), part.notes.len());
            let mut program = None;
            let mut notes = part.notes.iter();
            let mut controls = Vec::new();
            for (at, event) in &track.events {
                match event {
                    midi_file::Event::Program { program: now, .. } => {
                        assert!(program.is_some() || *at == 0, "the first one at 0");
                        assert_ne!(program, Some(*now), "only where it changes");
                        changes += usize::from(program.is_some());
                        program = Some(*now);
                    }
                    midi_file::Event::Control { controller: 84, value, .. } => {
                        let slurred = notes.as_slice()[0].slurred.map(|from| from.get());
                        assert_eq!(slurred, Some(*value), "what the next note goes on from");
                    }
                    midi_file::Event::Control { controller, .. } => {
                        assert_eq!(*at, 0);
                        controls.push(*controller);
                    }
                    midi_file::Event::NoteOn { .. } => {
                        let note = notes.next().unwrap();
                        let wanted = part.program_at(note.start);
                        assert_eq!(program, Some(wanted), "{} {}", song.title, style.name);
                    }
                    _ => {}
                }
            }
            assert_eq!(controls, [7, 10]);
            assert!(notes.next().is_none());
        }
    }
    assert!(changes > 100, "{changes}");
}
