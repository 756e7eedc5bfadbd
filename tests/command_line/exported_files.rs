//! Every shipped song in every style that plays its meter, with every chair open in turn: what the
//! program exports is what the chart says. Its bytes are the library's, as the first test says.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use openchair::arrange::{Looseness, Plan, SitOut};
use openchair::chart::{Role, RoleSet, Song};
use openchair::style::Style;
use openchair::theory::Key;

use crate::common::contract;
use crate::common::midi_file;
use crate::common::midi_file::{MidiFile, Note, Track};
use crate::common::played;
use crate::common::shipped;
use crate::common::shipped::{export, exported, pairs};
use crate::common::timetable;
use crate::common::timetable::Timetable;

/// The program's own where none is asked for.
const SEED: u64 = 1;

const KEYS: [&str; 12] = ["G", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#", "Ab"];

fn sit_out(role: Role, section: Option<&str>) -> SitOut {
    SitOut { role, section: section.map(Into::into) }
}

/// What is asked for here: a band that keeps so close that places of the grid can be told apart.
fn tight() -> Plan {
    Plan { looseness: Looseness::Tight, ..Plan::default() }
}

fn without(roles: &[Role]) -> Plan {
    Plan { sit_out: roles.iter().map(|&role| sit_out(role, None)).collect(), ..tight() }
}

fn roles_of(file: &MidiFile) -> Vec<Role> {
    file.tracks[1..].iter().filter_map(|track| Role::parse(&track.name()?)).collect()
}

fn played<'a>(
    role: Role,
    file: &MidiFile,
    sheet: &'a Timetable,
    style: &'a Style,
) -> played::Played<'a> {
    let track = file.track(role.as_str()).unwrap();
    played::Played::new(role, track, sheet, style.part(role).unwrap())
}

/// The song's line-up, as far as the style has something to play for it.
fn band_of(song: &Song, style: &Style) -> impl Iterator<Item = Role> {
    song.band.iter().filter(|&role| style.part(role).is_some())
}

/// Every set of the first three roles to leave out, the empty one first.
fn sets() -> impl Iterator<Item = Vec<Role>> {
    (0..8_u8).map(|bits| Role::BAND.into_iter().filter(|&r| bits >> r as u8 & 1 == 1).collect())
}

fn line_up(roles: &[Role]) -> Plan {
    Plan { band: Some(roles.iter().copied().collect()), ..tight() }
}

/// Something to ask for: in the words of the command line, and of the library.
struct Asked {
    words: Vec<String>,
    plan: Plan,
    seed: u64,
}

impl Asked {
    fn for_plan(words: &str, plan: Plan) -> Self {
        let feel = format!("--feel {}", plan.looseness);
        let words = words.split_whitespace().chain(feel.split(' '));
        Self { words: words.map(str::to_owned).collect(), plan, seed: SEED }
    }

    fn for_seed(seed: u64) -> Self {
        Self { seed, ..Self::for_plan(&format!("--seed {seed}"), tight()) }
    }
}

/// All that the tests below ask of the library.
fn everything_asked(song: &Song, style: &Style) -> Vec<Asked> {
    let mut all = vec![Asked::for_plan("", tight())];
    for looseness in Looseness::ALL {
        all.push(Asked::for_plan("", Plan { looseness, ..Plan::default() }));
    }
    for out in sets().skip(1) {
        let words: Vec<String> = out.iter().map(|role| format!("--sit-out {role}")).collect();
        all.push(Asked::for_plan(&words.join(" "), without(&out)));
        let left: Vec<Role> = band_of(song, style).filter(|role| !out.contains(role)).collect();
        if !left.is_empty() {
            let words: Vec<&str> = left.iter().map(|role| role.as_str()).collect();
            all.push(Asked::for_plan(&format!("--band {}", words.join(",")), line_up(&left)));
        }
    }
    all.extend([1, 2, 0, u64::MAX].map(Asked::for_seed));
    for role in band_of(song, style) {
        let section = &song.sections[role as usize % song.sections.len()].name;
        let plan = Plan { sit_out: vec![sit_out(role, Some(section))], ..tight() };
        all.push(Asked::for_plan(&format!("--sit-out {role}@{section}"), plan));
    }
    for key in KEYS {
        let plan = Plan { key: Some(Key::parse(key).unwrap()), ..tight() };
        all.push(Asked::for_plan(&format!("--key {key}"), plan));
    }
    let tempo = song.tempo * 0.75;
    let plan = Plan { tempo: Some(tempo), ..tight() };
    all.push(Asked::for_plan(&format!("--tempo {tempo}"), plan));
    for speed in [75.0, 110.0] {
        all.push(Asked::for_plan(&format!("--speed {speed}"), Plan { speed, ..tight() }));
    }
    for count_in in [1, 2] {
        let plan = Plan { count_in, ..tight() };
        all.push(Asked::for_plan(&format!("--count-in {count_in}"), plan));
    }
    all
}

/// What the program itself writes to standard output, and that it says nothing strange.
fn written_by_the_program(song: &Path, style: &Style, words: &[String]) -> Vec<u8> {
    let done = Command::new(env!("CARGO_BIN_EXE_openchair"))
        .arg("export")
        .arg(song)
        .args(["-o", "-", "--format", "mid", "--style", &style.name])
        .args(words)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{said}");
    let known = ["nobody plays", "feels right", "stays in its mode"];
    assert!(said.is_empty() || known.iter().any(|remark| said.contains(remark)), "{said}");
    done.stdout
}

/// What holds of the library's bytes in the tests below holds of the program's: every song in every style once,
/// each time asked for something else, so that all is asked for several times.
#[test]
fn the_program_writes_what_the_library_makes() {
    let mut counted = BTreeMap::<String, usize>::new();
    for (turn, (path, song, style)) in pairs().into_iter().enumerate() {
        let mut all = everything_asked(&song, &style);
        // Coprime to the count, or nearly: what is asked for differs between the styles of a song too.
        let asked = all.swap_remove(turn * 7 % all.len());
        let wanted = export(&song, &asked.plan, &style, asked.seed);
        let wrote = written_by_the_program(&path, &style, &asked.words);
        assert!(wrote == wanted, "{path:?} {} {:?}", style.name, asked.words);
        *counted.entry(asked.words.first().cloned().unwrap_or_default()).or_default() += 1;
    }
    for option in ["--sit-out", "--band", "--seed", "--key"] {
        assert!(counted[option] > 2, "{counted:?}");
    }
}

#[test]
fn every_song_in_every_style_with_every_chair_open() {
    for (path, song, style) in pairs() {
        let band = exported(&song, &tight(), &style, SEED);
        for out in sets() {
            let plan = without(&out);
            let bytes = export(&song, &plan, &style, SEED);
            assert_eq!(bytes, export(&song, &plan, &style, SEED), "the same input, the same bytes");
            let file = MidiFile::read(&bytes).unwrap();
            let sheet = Timetable::new(&song, &plan, &style);
            contract::hold(&file, &song.title, &sheet, &style);
            let left: Vec<Role> = band_of(&song, &style).filter(|r| !out.contains(r)).collect();
            assert_eq!(roles_of(&file), left);
            for (role, track) in left.iter().zip(&file.tracks[1..]) {
                let whole = band.track(role.as_str()).unwrap();
                assert_eq!(whole.bytes, track.bytes, "{role} without {out:?} in {path:?}");
            }
            if !left.is_empty() {
                // The line-up says the same in other words.
                let plan = line_up(&left);
                assert!(bytes == export(&song, &plan, &style, SEED), "{left:?}");
            }
        }
    }
}

#[test]
fn places_of_the_grid_can_be_told_apart() {
    // Else the checks of the grid would have nothing to say of these songs.
    for (path, song, style) in pairs() {
        let sheet = Timetable::new(&song, &tight(), &style);
        let file = exported(&song, &tight(), &style, SEED);
        for role in band_of(&song, &style) {
            assert!(played(role, &file, &sheet, &style).is_clear(), "{role} {path:?}");
        }
    }
}

#[test]
fn a_seed_is_a_performance() {
    for (path, song, style) in pairs() {
        let first = export(&song, &tight(), &style, SEED);
        for seed in [2, 0, u64::MAX] {
            let other = export(&song, &tight(), &style, seed);
            assert!(first != other, "{path:?} {}", style.name);
            let sheet = Timetable::new(&song, &tight(), &style);
            contract::hold(&MidiFile::read(&other).unwrap(), &song.title, &sheet, &style);
        }
    }
}

#[test]
fn a_chair_left_open_in_one_section_is_open_there_only() {
    for (path, song, style) in pairs() {
        let band = exported(&song, &tight(), &style, SEED);
        for role in band_of(&song, &style) {
            for section in &song.sections {
                let plan = Plan { sit_out: vec![sit_out(role, Some(&section.name))], ..tight() };
                let file = exported(&song, &plan, &style, SEED);
                let sheet = Timetable::new(&song, &plan, &style);
                contract::hold(&file, &song.title, &sheet, &style);
                for (before, after) in band.tracks.iter().zip(&file.tracks) {
                    let own = before.name().as_deref() == Some(role.as_str());
                    assert!(
                        own || before.bytes == after.bytes,
                        "{role}@{} in {path:?}",
                        section.name
                    );
                }
                elsewhere_is_the_same(&song, &style, role, (&band, &file), &sheet);
            }
        }
    }
}

/// A note elsewhere is as it was. What leads into the open chair may be another: its last note ends
/// where the chair opens, and nobody walks into a chord that they do not play.
fn elsewhere_is_the_same(
    song: &Song,
    style: &Style,
    role: Role,
    (band, file): (&MidiFile, &MidiFile),
    sheet: &Timetable,
) {
    let whole = Timetable::new(song, &tight(), style);
    let before = played(role, band, &whole, style);
    let silent = |bar: &timetable::Bar| bar.silent.contains(role);
    let leads_in = |at: i64| {
        let next = sheet.bars.iter().position(|bar| bar.start > at);
        let here = sheet.bar_at(at).is_some_and(silent);
        !here && next.is_some_and(|next| silent(&sheet.bars[next]))
    };
    // What rings from further back as far as the bar that leads into the open chair is struck again there, or not,
    // as that bar may be another: how much longer it would have rung is not compared.
    let end = |p: &played::Played<'_>, note: &Note, at: i64| {
        let opens = sheet.bars.iter().position(|bar| bar.start > at && silent(bar));
        let leads = opens.and_then(|opens| sheet.bars.get(opens.checked_sub(1)?));
        let rings_on = leads.is_some_and(|bar| note.end as f64 >= p.window(bar.start).0);
        if rings_on { i64::MAX } else { note.end }
    };
    let stays = |p: &played::Played<'_>| -> Vec<Note> {
        let kept = |note: &Note| {
            let at = p.place(note).unwrap();
            let stays = sheet.heard(role, at) && !leads_in(at);
            stays.then(|| Note { end: end(p, note, at), ..*note })
        };
        p.notes.iter().filter_map(kept).collect()
    };
    if file.track(role.as_str()).is_none() {
        assert!(stays(&before).is_empty());
        return;
    }
    let after = played(role, file, sheet, style);
    let (before_it, after_it) = (stays(&before), stays(&after));
    let other = before_it.iter().zip(&after_it).find(|(one, other)| one != other);
    assert_eq!(other, None, "{role} {} {}", song.title, style.name);
    assert_eq!(before_it.len(), after_it.len(), "{role}");
    // And where it leads in, the strokes fall where they fell.
    let starts = |p: &played::Played<'_>| -> Vec<i64> {
        let kept = |note: &&midi_file::Note| leads_in(p.place(note).unwrap());
        let mut starts: Vec<i64> = p.notes.iter().filter(kept).map(|note| note.start).collect();
        starts.dedup();
        starts
    };
    assert_eq!(starts(&before), starts(&after), "{role}");
}

#[test]
fn the_leader_is_silent_and_the_song_has_such_passes() {
    // That the leader's role is silent is part of the contract's checks; here, that songs have it.
    let mut seen = RoleSet::EMPTY;
    for (_, song, style) in pairs() {
        let sheet = Timetable::new(&song, &tight(), &style);
        for bar in &sheet.bars {
            seen = seen.union(bar.silent);
        }
        let file = exported(&song, &tight(), &style, SEED);
        contract::hold(&file, &song.title, &sheet, &style);
    }
    assert!(seen.contains(Role::Guitar) && seen.contains(Role::Chop));
}

#[test]
fn another_key_moves_every_note_by_the_interval() {
    for (path, song, style) in pairs() {
        let from = exported(&song, &tight(), &style, SEED);
        let plain = shipped::without_walks(&style);
        let plain_from = exported(&song, &tight(), &plain, SEED);
        for key in KEYS {
            let plan = Plan { key: Some(Key::parse(key).unwrap()), ..tight() };
            let file = exported(&song, &plan, &style, SEED);
            let sheet = Timetable::new(&song, &plan, &style);
            // The key signature, the chords' names and the bass's roots among it.
            contract::hold(&file, &song.title, &sheet, &style);
            let up = (12 + sheet.key.tonic.pitch_class() - song.key.tonic.pitch_class()) % 12;
            let bass = |file: &MidiFile, up: u8| -> Vec<(i64, u8)> {
                let notes = file.track("bass").unwrap().notes().unwrap();
                notes.iter().map(|note| (note.start, (note.key + up) % 12)).collect()
            };
            let starts = |file: &MidiFile| -> Vec<i64> {
                bass(file, 0).into_iter().map(|(start, _)| start).collect()
            };
            assert_eq!(starts(&from), starts(&file), "nothing moves in time");
            let plain_to = exported(&song, &plan, &plain, SEED);
            assert_eq!(bass(&plain_from, up), bass(&plain_to, 0), "{key} {path:?}");
        }
    }
}

#[test]
fn another_tempo_changes_the_tempo_and_nothing_written() {
    for (path, song, style) in pairs() {
        let own = exported(&song, &tight(), &style, SEED);
        let own_sheet = Timetable::new(&song, &tight(), &style);
        // The faster the fewer steps of a run; the practice speed leaves every note as it is.
        let calm = shipped::without_walks(&style);
        let calm_plan = Plan { tempo: Some(song.tempo * 0.75), ..tight() };
        let calm_sheet = Timetable::new(&song, &calm_plan, &calm);
        let calm_own = exported(&song, &tight(), &calm, SEED);
        let calm_file = exported(&song, &calm_plan, &calm, SEED);
        for role in Role::BAND {
            let before = written(&played(role, &calm_own, &own_sheet, &calm));
            let after = written(&played(role, &calm_file, &calm_sheet, &calm));
            assert_eq!(before, after, "{role} {path:?}");
        }
        for plan in [
            Plan { tempo: Some(song.tempo * 0.75), ..tight() },
            Plan { speed: 75.0, ..tight() },
            Plan { speed: 110.0, ..tight() },
        ] {
            let file = exported(&song, &plan, &style, SEED);
            let sheet = Timetable::new(&song, &plan, &style);
            contract::hold(&file, &song.title, &sheet, &style);
            let others = |track: &Track| -> Vec<(u64, midi_file::Event)> {
                let is_tempo = |event: &midi_file::Event| {
                    matches!(event, midi_file::Event::Meta { kind: midi_file::TEMPO, .. })
                };
                track.events.iter().filter(|(_, event)| !is_tempo(event)).cloned().collect()
            };
            assert_eq!(others(&own.tracks[0]), others(&file.tracks[0]));
            for role in band_of(&song, &style) {
                let (before, after) =
                    (played(role, &own, &own_sheet, &style), played(role, &file, &sheet, &style));
                if plan.tempo.is_none() {
                    assert_eq!(written(&before), written(&after), "{role} {path:?} {plan:?}");
                }
            }
        }
    }
}

/// What a part plays at each place of the grid, feel apart.
fn written(part: &played::Played<'_>) -> Vec<(i64, u8)> {
    let mut notes: Vec<(i64, u8)> =
        part.notes.iter().map(|note| (part.place(note).unwrap(), note.key)).collect();
    notes.sort_unstable();
    notes
}

#[test]
fn a_count_in_shifts_everything_by_whole_bars() {
    for (_, song, style) in pairs() {
        let own = exported(&song, &tight(), &style, SEED);
        let own_sheet = Timetable::new(&song, &tight(), &style);
        for count_in in [1, 2] {
            let plan = Plan { count_in, ..tight() };
            let file = exported(&song, &plan, &style, SEED);
            let sheet = Timetable::new(&song, &plan, &style);
            let shift = sheet.start;
            assert_eq!(shift, (own_sheet.bars[0].end) * i64::from(plan.count_in));
            contract::hold(&file, &song.title, &sheet, &style);
            for role in band_of(&song, &style) {
                // To the tick and the touch: a count-in changes nothing of how the song is played.
                let before = played(role, &own, &own_sheet, &style).notes;
                let moved = |note: &Note| Note {
                    start: note.start + shift,
                    end: note.end + shift,
                    ..*note
                };
                let moved: Vec<Note> = before.iter().map(moved).collect();
                assert_eq!(moved, played(role, &file, &sheet, &style).notes, "{role}");
            }
        }
    }
}
