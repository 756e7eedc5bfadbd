//! The band for a browser's page, called by the scripts in `web/page`: texts in, words and sound out.
//!
//! What is asked for stands in one buffer as UTF-8, what comes of it in another; so no pointer is followed on this
//! side. A page has two of these: the one in the sound's worker plays ([`load`] with a rate), the one beside the
//! screen follows what the other did and says what a player sees ([`load`] with rate 0, [`replay`], [`view`]). So
//! nothing that is reckoned for the eye can stop the sound.

mod asked;
mod calls;
mod chart;
mod ear;
mod log;
mod printed;
mod shelf;
mod sound;
mod table;
mod view;

use std::cell::RefCell;

use asked::Asked;
use ear::Ear;
use openchair::time::Nanos;
use table::Table;

thread_local! {
    static ASKED: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
    static ANSWER: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
    static TABLE: RefCell<Option<Table>> = const { RefCell::new(None) };
    /// Sound that is heard by itself, beside no band.
    static EAR: RefCell<Option<Ear>> = const { RefCell::new(None) };
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

/// What was asked for, as text.
fn text() -> Result<String, String> {
    ASKED
        .with_borrow(|asked| str::from_utf8(asked).map(str::to_owned))
        .map_err(|why| why.to_string())
}

/// Answers. True if it is what was asked for, false if it says in words why not.
fn reply(done: Result<Vec<u8>, String>) -> bool {
    let well = done.is_ok();
    ANSWER.set(done.unwrap_or_else(String::into_bytes));
    well
}

fn at_table(does: impl FnOnce(&mut Table) -> Result<Vec<u8>, String>) -> bool {
    reply(TABLE.with_borrow_mut(|table| match table {
        Some(table) => does(table),
        None => Err("no song is loaded".to_owned()),
    }))
}

/// The bytes of a MIDI file of a song with wishes, as JSON; see [`Asked`].
#[unsafe(no_mangle)]
pub extern "C" fn midi() -> bool {
    reply(text().and_then(|text| Asked::read(&text)).and_then(|asked| asked.midi()))
}

/// Takes up a song with wishes, as JSON: to be played at so many frames a second, or for the eye alone if `rate` is
/// 0. Answers with what there is to choose, as JSON.
#[unsafe(no_mangle)]
pub extern "C" fn load(rate: u32) -> bool {
    let table =
        text().and_then(|text| Asked::read(&text)).and_then(|asked| Table::new(&asked, rate));
    reply(table.and_then(|table| {
        let facts = table.facts();
        TABLE.set(Some(table));
        facts
    }))
}

/// Does what a hand asks: `start`, a word of an action (`pause`, `bass`) or a touch (`bar 12`, `loop 5-8`,
/// `speed 75`, `key D`, `banjo full`, `chairs turns`, `tab off`, `chords numbers`), or sets the loudness
/// (`volume bass 80`). Answers with what to tell the player.
#[unsafe(no_mangle)]
pub extern "C" fn act() -> bool {
    text().map_or_else(|why| reply(Err(why)), |text| at_table(|table| table.act(&text)))
}

/// Plays the next frames, at most [`sound::MOST`]: the left side's samples from where it says, then the right's.
#[unsafe(no_mangle)]
pub extern "C" fn render(frames: usize) -> *const f32 {
    TABLE.with_borrow_mut(|table| {
        table.as_mut().map_or(std::ptr::null(), |table| table.render(frames))
    })
}

/// The next frame to be played, from 0.
#[unsafe(no_mangle)]
pub extern "C" fn frame() -> f64 {
    TABLE.with_borrow(|table| table.as_ref().map_or(0.0, |table| table.frame() as f64))
}

/// Answers with what happened since it was asked last, a line each, for [`replay`] in another.
#[unsafe(no_mangle)]
pub extern "C" fn news() -> bool {
    at_table(|table| Ok(table.news()))
}

/// Does once more what a line of [`news`] says, without a sound.
#[unsafe(no_mangle)]
pub extern "C" fn replay() -> bool {
    text().map_or_else(|why| reply(Err(why)), |line| at_table(|table| table.replay(&line)))
}

/// Answers with what a player sees at a time in nanoseconds, as JSON.
#[unsafe(no_mangle)]
pub extern "C" fn view(now: f64) -> bool {
    at_table(|table| table.view(now as i64))
}

/// Answers with the whole chart as it is played now, as JSON.
#[unsafe(no_mangle)]
pub extern "C" fn chart() -> bool {
    at_table(Table::chart)
}

/// Answers with the banjo's part as it stands now, as JSON: what `openchair tab --json` writes; empty where no tab is
/// shown.
#[unsafe(no_mangle)]
pub extern "C" fn tab() -> bool {
    at_table(|table| table.tab())
}

/// Begins to hear sound of so many channels and samples a second; beside the band that is loaded, or by itself. `alone`
/// is the number of the channel that is heard alone, or less than 0.
#[unsafe(no_mangle)]
pub extern "C" fn listen(beside: bool, channels: u32, rate: u32, alone: i32) -> bool {
    let ear = Ear::new(channels, rate, u32::try_from(alone).ok());
    if beside {
        return at_table(|table| {
            table.listen(ear);
            Ok(Vec::new())
        });
    }
    EAR.set(Some(ear));
    reply(Ok(Vec::new()))
}

/// Takes what stands in the buffer as sound: floats, frame by frame.
#[unsafe(no_mangle)]
pub extern "C" fn take(beside: bool) {
    let push = |ear: Option<&mut Ear>| {
        ASKED.with_borrow(|asked| ear.into_iter().for_each(|ear| ear.take(asked)));
    };
    match beside {
        true => TABLE.with_borrow_mut(|table| push(table.as_mut().and_then(Table::ear))),
        false => EAR.with_borrow_mut(|ear| push(ear.as_mut())),
    }
}

/// What came so many seconds after [`listen`] was heard when the band's time was `now`, in nanoseconds.
#[unsafe(no_mangle)]
pub extern "C" fn mark(seconds: f64, now: f64) {
    TABLE.with_borrow_mut(|table| {
        if let Some(ear) = table.as_mut().and_then(Table::ear) {
            ear.mark(seconds, Nanos(now as i64));
        }
    });
}

/// Answers with how a player does who is heard beside the band, so much late in nanoseconds: a line, and the chord that
/// was missed, as JSON.
#[unsafe(no_mangle)]
pub extern "C" fn noticed(late: f64) -> bool {
    at_table(|table| table.noticed(Nanos(late as i64)))
}

/// Answers with the review of who was heard beside the band until `now`, and heard so much late, both in nanoseconds; as
/// JSON. The song's file is called as the buffer says.
#[unsafe(no_mangle)]
pub extern "C" fn review(late: f64, now: f64) -> bool {
    let (late, now) = (Nanos(late as i64), Nanos(now as i64));
    text()
        .map_or_else(|why| reply(Err(why)), |song| at_table(|table| table.review(late, now, &song)))
}

/// The sound that was heard by itself.
fn ear() -> Result<Ear, String> {
    EAR.take().ok_or_else(|| "nothing was heard".to_owned())
}

/// Answers with the review of what was heard by itself, as JSON, beside a song with wishes, as JSON. `delay` is in
/// nanoseconds by how much it was delayed, where it begins with the count-in; what is no number, where it does not.
#[unsafe(no_mangle)]
pub extern "C" fn review_sound(delay: f64) -> bool {
    let delay = (!delay.is_nan()).then(|| Nanos(delay as i64));
    let asked = text().and_then(|text| Asked::read(&text));
    reply(
        asked.and_then(|asked| ear::review_sound(ear()?, asked.rehearsal()?, delay, asked.file())),
    )
}

/// Answers with how much later than they were played the clicks are heard that were played at these seconds, a list in
/// JSON; as JSON.
#[unsafe(no_mangle)]
pub extern "C" fn delay() -> bool {
    reply(text().and_then(|clicks| ear::delay(ear()?, &clicks)))
}

/// Answers with takes over days in words, from the lines of what was kept.
#[unsafe(no_mangle)]
pub extern "C" fn progress() -> bool {
    reply(text().map(|lines| ear::progress(&lines)))
}

/// Begins or ends telling what the band plays as MIDI; see [`sent`].
#[unsafe(no_mangle)]
pub extern "C" fn tell_midi(on: bool) -> bool {
    at_table(|table| {
        table.tell_midi(on);
        Ok(Vec::new())
    })
}

/// Answers with what the band played as MIDI since it was asked last, a line each: the frame, and the message's bytes.
#[unsafe(no_mangle)]
pub extern "C" fn sent() -> bool {
    at_table(|table| Ok(table.sent()))
}

/// The bytes of a sound file of a song with wishes, as JSON: what `openchair export` writes.
#[unsafe(no_mangle)]
pub extern "C" fn wav() -> bool {
    reply(text().and_then(|text| Asked::read(&text)).and_then(|asked| asked.wav()))
}

/// A chart to print of a song with wishes, as JSON: what `openchair chart` writes as a page. Chords are names, numbers
/// (1) or both (2); large, to be read at two metres, if that is asked for.
#[unsafe(no_mangle)]
pub extern "C" fn printed(chords: u32, big: bool) -> bool {
    let asked = text().and_then(|text| Asked::read(&text));
    reply(asked.and_then(|asked| printed::chart(&asked, chords, big)))
}
