//! The library as it builds for a browser, called by `compare.mjs`: texts in, the bytes of a MIDI file out.
//!
//! What is asked for stands in a buffer as fields of text, each with a byte 0 after it; what comes of it stands
//! in another. So no pointer is followed on this side.

use std::cell::RefCell;

use openchair::backup::Level;
use openchair::chart::{Role, read_song};
use openchair::practice::SitOutRule;
use openchair::rehearsal::{Rehearsal, Wishes};
use openchair::sink::smf;
use openchair::style::read_style;
use openchair::text::{Problems, Source, report};

thread_local! {
    static ASKED: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
    static ANSWER: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
}

/// Makes room for what is asked for, and says where.
// Unsafe only in that no other library may use the name: the host finds it by that. So below.
#[unsafe(no_mangle)]
pub extern "C" fn asked(length: usize) -> *mut u8 {
    ASKED.with_borrow_mut(|asked| {
        asked.clear();
        asked.resize(length, 0);
        asked.as_mut_ptr()
    })
}

/// Exports what was asked for. True if the answer is a MIDI file, false if it says in words why there is none.
#[unsafe(no_mangle)]
pub extern "C" fn export() -> bool {
    let done = ASKED.with_borrow(|asked| match str::from_utf8(asked) {
        Ok(text) => exported(text),
        Err(error) => Err(error.to_string()),
    });
    let is_file = done.is_ok();
    ANSWER.set(done.unwrap_or_else(String::into_bytes));
    is_file
}

/// Where the answer is.
#[unsafe(no_mangle)]
pub extern "C" fn answer() -> *const u8 {
    ANSWER.with_borrow(|answer| answer.as_ptr())
}

/// How long it is.
#[unsafe(no_mangle)]
pub extern "C" fn answer_length() -> usize {
    ANSWER.with_borrow(Vec::len)
}

fn exported(asked: &str) -> Result<Vec<u8>, String> {
    let mut fields = asked.split_terminator('\0');
    let mut field = || fields.next().ok_or("a field is missing".to_owned());
    let song = Source::new("song.toml", field()?).map_err(|error| error.to_string())?;
    let style_name = field()?;
    let style = Source::new("style.toml", field()?).map_err(|error| error.to_string())?;
    let (band, sit_out, level) = (field()?, field()?, field()?);
    let seed: u64 = field()?.parse().map_err(|_| "a seed is a number".to_owned())?;

    let mut problems = Problems::new();
    let read = read_song(&song, &mut problems);
    let (song, _) = read.ok_or_else(|| report(&song, &problems, false))?;
    let mut problems = Problems::new();
    let read = read_style(style_name, &style, &mut problems);
    let style = read.ok_or_else(|| report(&style, &problems, false))?;

    let rules: Result<Vec<SitOutRule>, _> =
        sit_out.split(',').filter(|rule| !rule.is_empty()).map(SitOutRule::parse).collect();
    let wishes = Wishes {
        band: band.split(',').filter_map(Role::parse).collect(),
        sit_out: rules.map_err(|error| error.to_string())?,
        banjo: if level.is_empty() {
            None
        } else {
            Some(Level::parse(level).ok_or("no such level")?)
        },
        seed,
        ..Wishes::default()
    };
    let rehearsal = Rehearsal::new(song, style, wishes).map_err(|error| error.to_string())?;
    let song = rehearsal.arrangement().map_err(|error| error.to_string())?;
    let mut played = rehearsal.perform(song).map_err(|error| error.to_string())?;
    rehearsal.fill_chair(&mut played, openchair::chart::RoleSet::EMPTY).map_err(|error| error.to_string())?;
    smf::to_bytes(&played.performance).map_err(|error| error.to_string())
}
