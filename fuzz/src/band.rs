use std::num::NonZeroU32;

use openchair::arrange::Arrangement;
use openchair::backup::Level;
use openchair::chart::{RoleSet, Song, read_song, write_song};
use openchair::coverage::CoverageReport;
use openchair::interchange::{in_key, write_abc, write_musicxml};
use openchair::practice::{SitOutRule, Stretch, changes};
use openchair::printed::{ChordsAs, How, chart_sheet, html, lay_out, pdf, svg};
use openchair::rehearsal::{BackupPart, NoRehearsal, Rehearsal, Rendition, Shipped, Wishes};
use openchair::sink::smf;
use openchair::synth::Renderer;
use openchair::tablature::{json, musicxml, neck_svg, neck_text, text as tab_text};
use openchair::text::{Problems, Source};
use openchair::theory::Key;

use crate::{dice, shown, text};

/// A form that is played longer than this is arranged and performed, and not written out in every way: that takes
/// seconds, which many shorter songs make better use of.
const MOST_BARS: usize = 1_500;

/// A song's text: read, and written again.
pub fn song(bytes: &[u8]) {
    let Some(source) = text("song.toml", bytes) else { return };
    let mut problems = Problems::new();
    let read = read_song(&source, &mut problems);
    assert_eq!(read.is_none(), !problems.is_empty(), "a song, or what is wrong with it");
    shown(&source, &problems);
    if let Some((song, _)) = read {
        written(&song);
    }
}

/// Everything that the program makes of a song. That takes a thousand times as long as reading it.
pub fn band(bytes: &[u8]) {
    let Some(source) = text("song.toml", bytes) else { return };
    match Rehearsal::read(&source, &Shipped, wishes(dice(bytes))) {
        Ok(rehearsal) => everything(&rehearsal, dice(bytes)),
        Err(NoRehearsal::SitOut(why)) => assert!(!why.to_string().is_empty()),
        Err(NoRehearsal::Read(_)) => {}
    }
}

/// What is written of a song is a song again, and the same.
pub fn written(song: &Song) {
    let text = write_song(song);
    let source = Source::new("again.toml", text.clone()).expect("a song's file is a text");
    let mut problems = Problems::new();
    let again = read_song(&source, &mut problems);
    shown(&source, &problems);
    let (again, _) = again.unwrap_or_else(|| panic!("not read again:\n{text}"));
    assert_eq!(again.title, song.title);
    assert_eq!(again.sections.len(), song.sections.len(), "{text}");
    assert_eq!(again.form.len(), song.form.len(), "{text}");
    assert_eq!(write_song(&again), text);
    write_abc(song);
    write_musicxml(song);
}

fn pick<T: Copy>(from: &[T], dice: usize, by: usize) -> Option<T> {
    // Often nothing, as most players ask for nothing.
    from.get(dice / by % (2 * from.len())).copied()
}

/// What a player may ask for, of the input's own dice.
fn wishes(dice: usize) -> Wishes {
    let keys = ["A", "Bb", "F#m", "E dorian", "D mixolydian", "Cm"];
    let rules = ["guitar", "chop", "bass", "turns", "surprise", "guitar@chorus", "bass@verse"];
    let stretches = ["verse", "1-4", "2", "verse:2", "chorus"];
    let key = pick(&keys, dice, 1).and_then(|key| Key::parse(key).ok());
    let rule = pick(&rules, dice, 7).and_then(|rule| SitOutRule::parse(rule).ok());
    let stretch = pick(&stretches, dice, 49).and_then(|it| Stretch::parse(it).ok());
    Wishes {
        key,
        sit_out: rule.into_iter().collect(),
        stretch,
        banjo: pick(&Level::ALL, dice, 343),
        speed: pick(&[25.0, 60.0, 150.0], dice, 1_001).unwrap_or(100.0),
        rounds: NonZeroU32::new((dice / 3_003 % 3) as u32),
        count_in: (dice / 11_003 % 3) as u32,
        seed: dice as u64,
        ..Wishes::default()
    }
}

/// All that is made of a rehearsal.
pub fn everything(rehearsal: &Rehearsal, dice: usize) {
    let Ok(arrangement) = rehearsal.arrangement() else { return };
    let band = rehearsal.perform(arrangement).expect("its style was found to go with it");
    exported(&band);
    if band.arrangement.bars.len() > MOST_BARS {
        return;
    }
    covered(rehearsal, &band);
    banjo(rehearsal, &band, Level::ALL[dice % 4]);
    printed(rehearsal, &band);
    drilled(rehearsal, &band.arrangement);
    drop(in_key(rehearsal.song(), band.arrangement.key));
    let mut synth = rehearsal.voices().synth(&band.performance, 8_000);
    let (mut left, mut right) = (vec![0.0; 800], vec![0.0; 800]);
    synth.render(&mut left, &mut right);
    assert!(left.iter().chain(&right).all(|sample| sample.is_finite()));
}

/// What is exported is a MIDI file, with a track for the song and one for each player.
fn exported(band: &Rendition) {
    let bytes = smf::to_bytes(&band.performance).expect("written to memory");
    let file = openchair::midi_file::read(&bytes).expect("what was written can be read");
    assert!(!file.tracks.is_empty());
}

fn covered(rehearsal: &Rehearsal, band: &Rendition) {
    let covered = band.coverage(RoleSet::EMPTY);
    let style = &rehearsal.style().name;
    let report = CoverageReport::new(&band.arrangement, &covered, style, true);
    serde_json::to_string(&report).expect("a report is data");
}

fn banjo(rehearsal: &Rehearsal, band: &Rendition, level: Level) {
    let BackupPart { tab, instrument, alone } = rehearsal.backup_part(band, level);
    for width in [40, 80, 400] {
        tab_text(&tab, width);
        neck_text(&tab, width);
    }
    json(&tab).expect("a tab is data");
    musicxml(&tab, instrument).expect("written to memory");
    neck_svg(&tab).expect("written to memory");
    smf::to_bytes(&alone).expect("written to memory");
}

fn printed(rehearsal: &Rehearsal, band: &Rendition) {
    let played = &band.arrangement;
    let passes = band.coverage(RoleSet::EMPTY).passes(played);
    for (chords, capo, big) in [(ChordsAs::Names, 0, false), (ChordsAs::Both, 5, true)] {
        let how = How { chords, capo };
        let style = &rehearsal.style().name;
        let sheet = chart_sheet(rehearsal.song(), played, &passes, style, how);
        let pages = lay_out(&sheet, big);
        svg(&sheet.title, &pages.pages);
        pdf(&sheet.title, &pages.pages).expect("written to memory");
        html("Charts", &[(sheet, pages)], big);
    }
}

fn drilled(rehearsal: &Rehearsal, played: &Arrangement) {
    for change in changes(played).iter().take(3) {
        let drill = rehearsal.drill(played, change, 2);
        let Ok(arrangement) = drill.arrangement() else { continue };
        exported(&drill.perform(arrangement).expect("the song's own style goes with it"));
    }
}
