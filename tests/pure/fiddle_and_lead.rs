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

pub fn all() -> RoleSet {
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

pub fn part(performance: &Performance, role: Role) -> Option<&Part> {
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
            if pass.is_ending || instrument || bar.melody.is_some() {
                continue;
            }
            // But for what picks up into a break that comes next, in the last beat.
            let comes = song.bars.get(index + 1).is_some_and(|next| next.pass != bar.pass);
            let from = if comes { bar.end() - Ticks::new(1100) } else { bar.end() };
            let mut notes = lead.notes.iter().filter(|note| note.bar as usize == index);
            assert!(notes.all(|note| note.start >= from), "{} bar {}", song.title, bar.number);
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

/// But where a singer pauses: there a note may pass, by step from the one before.
#[test]
fn the_fiddle_strikes_the_chord_of_the_moment() {
    let (mut all, mut passing) = (0, 0);
    for (song, performance, style) in takes() {
        let part = part(&performance, Role::Fiddle).unwrap();
        let slack = song.tempo.ticks_in_millis(25.0);
        for (index, note) in part.notes.iter().enumerate() {
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
            let last = index.checked_sub(1).map(|last| &part.notes[last]);
            let by_step = last
                .is_some_and(|last| (1..=2).contains(&last.pitch.get().abs_diff(note.pitch.get())));
            let passes = bar(&song, note).facts.singer_pauses && by_step;
            all += 1;
            passing += usize::from(!belongs && !swung);
            assert!(belongs || swung || passes, "{} {}: {note:?}", song.title, style.name);
        }
    }
    assert!(passing * 20 < all && passing > 100, "{passing} of {all}");
}

/// A note that hangs over a chord it does not belong to goes on by step to one that does, within a beat and a little
/// (common practice, no source).
#[test]
fn what_hangs_over_gives_way_by_step() {
    let mut hung = 0;
    for (song, performance, style) in takes() {
        let part = part(&performance, Role::Fiddle).unwrap();
        for note in &part.notes {
            let Some(span) = song.spans.iter().find(|span| {
                span.start > note.start + Ticks::EIGHTH && span.start + Ticks::EIGHTH < note.end
            }) else {
                continue;
            };
            let Some(over) = span.chord.and_then(|id| song.chord(id)) else { continue };
            if over.contains(note.pitch.pitch_class()) {
                continue;
            }
            hung += 1;
            let goes_on = part.notes.iter().find(|next| {
                next.start >= span.start
                    && next.start <= note.end
                    && next.slurred == Some(note.pitch)
            });
            let resolved = goes_on.is_some_and(|next| {
                next.pitch.get().abs_diff(note.pitch.get()) <= 2
                    && over.contains(next.pitch.pitch_class())
            });
            let beat = song.meter.beat() + Ticks::EIGHTH;
            let soon = note.end <= span.start + beat;
            assert!(resolved && soon, "{} {}: {note:?} over {over}", song.title, style.name);
        }
    }
    assert!(hung > 100, "{hung}");
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

/// The lowest and the highest note of who leads, and how many sound at once.
fn reach(lead: Option<Lead>, capo: u8) -> (std::ops::RangeInclusive<u8>, usize) {
    // The lowest open strings: G3 of fiddle and mandolin; the guitar's E2 with its capo; the banjo's D3; the bass's E1;
    // the resonator guitar's G2 (tunings: common knowledge, and tests/reference/instruments.json for the first three).
    // Two strings lie under a bow, one under a bass player's finger.
    match lead {
        Some(Lead::Guitar) => (40 + capo..=88, 6),
        Some(Lead::Banjo) => (50..=84, 5),
        Some(Lead::Bass) => (28..=52, 1),
        Some(Lead::Resonator) => (43..=79, 6),
        Some(Lead::Voice) => (48..=79, 1),
        Some(Lead::Fiddle) => (55..=86, 2),
        Some(Lead::Mandolin) => (55..=88, 4),
        None => (55..=83, 1),
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

#[test]
fn the_lead_plays_what_the_leaders_instrument_can() {
    let mut leaders = std::collections::HashSet::new();
    for (song, performance, _) in takes() {
        let Some(lead) = part(&performance, Role::Lead) else { continue };
        for (index, note) in lead.notes.iter().enumerate() {
            let pass = &song.passes[bar(&song, note).pass];
            let last = song.passes.iter().rfind(|pass| !pass.is_ending).unwrap();
            let who = if pass.is_ending { last.lead } else { pass.lead };
            // What sounds while a singer leads and no tune is written picks up into the next pass.
            let sung =
                !pass.is_ending && who == Some(Lead::Voice) && bar(&song, note).melody.is_none();
            let who = if sung { song.passes[bar(&song, note).pass + 1].lead } else { who };
            let (range, most) = reach(who, song.capo);
            assert!(range.contains(&note.pitch.get()), "{who:?} {note:?}");
            // A note that another goes on from ends a tick after that has begun.
            let sounding =
                lead.notes[..index].iter().filter(|it| it.end > note.start + Ticks::new(1));
            assert!(sounding.count() < most, "{who:?} {note:?} in {}", song.title);
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
pub fn exact(style: &Style) -> Style {
    let mut exact = style.clone();
    exact.feel.swing.clear();
    for (_, part) in &mut exact.parts {
        (part.looseness, part.lean) = (0.0, 0.0);
    }
    exact
}

/// A made-up break has the chord on most of its strong beats, and moves by step (common practice, no source). What leans
/// there is measured in tests/musicianship.
#[test]
fn a_break_has_the_chord_on_its_beats() {
    let (mut strongs, mut own, mut steps, mut leaps) = (0, 0, 0, 0);
    for ((_, song, style), key) in PAIRS.iter().zip(KEYS.iter().cycle()) {
        let style = exact(style);
        let song = Song { swing: song.swing.map(|_| 0.5), ..song.clone() };
        for seed in 0..2 {
            let laid = arrange(&song, &plan(&song, key, all())).unwrap();
            let performance = perform(&laid, &style, seed).unwrap();
            let Some(lead) = part(&performance, Role::Lead) else { continue };
            // The fiddle's line is what sounds highest, but for an open string above it.
            let made = |note: &&Note| {
                let bar = bar(&laid, note);
                bar.melody.is_none() && laid.passes[bar.pass].lead == Some(Lead::Fiddle)
            };
            let made: Vec<&Note> = lead.notes.iter().filter(made).collect();
            for pair in made.windows(2).filter(|pair| pair[0].end <= pair[1].start) {
                let far = pair[0].pitch.get().abs_diff(pair[1].pitch.get());
                if pair[1].bar - pair[0].bar < 2 {
                    steps += usize::from(far <= 4);
                    leaps += usize::from(far > 4);
                }
            }
            for note in made {
                let bar = bar(&laid, note);
                if !(note.start - bar.start).is_multiple_of(strong(bar.gait)) {
                    continue;
                }
                let chord = chord(&laid, note.start).unwrap();
                strongs += 1;
                own += usize::from(chord.contains(note.pitch.pitch_class()));
            }
        }
    }
    assert!(strongs > 2000, "{strongs}");
    assert!(own * 100 >= strongs * 85 && own < strongs, "{own} of {strongs}");
    assert!(steps > 3 * leaps, "{steps} steps, {leaps} leaps");
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
    // What hangs over a change rubs until it resolves, and a break leans on its chord: seldom for as long as a beat.
    let few = rubs.len() * 1000 < together;
    assert!(few, "{} of {together}: {:#?}", rubs.len(), &rubs[..rubs.len().min(30)]);
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
