use super::layout::Layout;
use super::write_rows::{chords, melody, pickup_chord, pickup_melody, stops, voice};
use super::{Dynamic, Ending, Kickoff, Pass, Pickup, Role, RoleSet, Section, Song, Stop};
use crate::text::{quoted, quoted_lines};
use crate::theory::fretboard::banjo::Drone;

/// The widest line of a form; one that is longer is broken.
const WIDEST: usize = 100;

/// The widest line of a form that is broken.
const BROKEN: usize = 80;

/// Writes a song as a song file: what [`read_song`](super::read_song) reads back as the same song.
///
/// It is laid out as a person would: a phrase a line, bars in columns, `%` for the bar before again,
/// repeats and endings where there is no singer, and nothing that goes without saying. What a song does
/// not hold is lost: numbers for chords, remarks.
///
/// ```
/// use openchair::chart::{read_song, write_song};
/// use openchair::text::{Problems, Source};
///
/// let text = r#"title    = "Heron Reel"
/// key      = "G"
/// meter    = "4/4"
/// tempo    = 108
/// style    = "boom-chick"
/// form = ["verse: voice", "verse: guitar"]
///
/// [section.verse]
/// chords = """
/// | G | % | C   | G |
/// | G | D | D G | % |
/// """
/// "#;
/// let source = Source::new("heron-reel.toml", text)?;
/// let song = read_song(&source, &mut Problems::new()).map(|(song, _)| song);
/// assert_eq!(song.as_ref().map(write_song).as_deref(), Some(text));
/// # Ok::<(), openchair::text::TooLarge>(())
/// ```
pub fn write_song(song: &Song) -> String {
    let mut out = head(song);
    out.push_str(&form(song));
    for section in &song.sections {
        out.push_str(&written(section, song));
    }
    out
}

/// What stands above the form, the values below one another.
fn head(song: &Song) -> String {
    let mut out = String::new();
    let mut line = |key: &str, value: String| out.push_str(&format!("{key:<8} = {value}\n"));
    line("title", quoted(&song.title));
    if let Some(composer) = &song.composer {
        line("composer", quoted(composer));
    }
    line("key", quoted(&song.key.to_string()));
    line("meter", quoted(song.meter.as_str()));
    line("tempo", song.tempo.to_string());
    line("style", quoted(&song.style));
    if let Some(swing) = song.swing {
        line("swing", swing.to_string());
    }
    if song.kickoff != Kickoff::default() {
        line("kickoff", quoted(song.kickoff.as_str()));
    }
    if song.ending != Ending::default() {
        line("ending", quoted(song.ending.as_str()));
    }
    if song.drone != Drone::default() {
        line("drone", quoted(song.drone.as_str()));
    }
    if let Some(capo) = song.capo {
        line("capo", capo.to_string());
    }
    if song.band != Role::BAND.into_iter().collect() {
        line("band", roles(song.band));
    }
    if let Some(notes) = &song.notes {
        let lines = notes.contains('\n');
        line("notes", if lines { quoted_lines(notes) } else { quoted(notes) });
    }
    out
}

fn roles(roles: RoleSet) -> String {
    let words: Vec<String> = roles.iter().map(|role| quoted(role.as_str())).collect();
    format!("[{}]", words.join(", "))
}

/// The form on one line if it has room there; else a new line begins with the first section, as far as
/// lines get full enough.
fn form(song: &Song) -> String {
    let entries: Vec<String> = song.form.iter().map(|pass| entry(pass, song)).collect();
    let line = format!("form = [{}]\n", entries.join(", "));
    if line.chars().count() <= WIDEST {
        return line;
    }
    // Rounds: from one time through the first section to the next.
    let first = song.form.first().map(|pass| pass.section);
    let mut rounds: Vec<Vec<&str>> = Vec::new();
    let mut before = None;
    for (pass, entry) in song.form.iter().zip(&entries) {
        let begins = Some(pass.section) == first && before != first;
        before = Some(pass.section);
        match rounds.last_mut() {
            Some(round) if !begins => round.push(entry),
            _ => rounds.push(vec![entry]),
        }
    }
    let mut lines: Vec<String> = Vec::new();
    for round in rounds {
        let whole = format!("{},", round.join(", "));
        let parts = if wide(&whole) > BROKEN {
            round.iter().map(|entry| format!("{entry},")).collect()
        } else {
            vec![whole]
        };
        for part in parts {
            match lines.last_mut() {
                Some(line) if wide(line) + 1 + wide(&part) <= BROKEN => {
                    line.push(' ');
                    line.push_str(&part);
                }
                _ => lines.push(part),
            }
        }
    }
    let lines: String = lines.iter().map(|line| format!("  {line}\n")).collect();
    format!("form = [\n{lines}]\n")
}

fn wide(text: &str) -> usize {
    text.chars().count()
}

fn entry(pass: &Pass, song: &Song) -> String {
    let name = song.sections.get(pass.section).map_or("", |section| section.name.as_str());
    match (pass.lead, pass.sit_out.is_empty()) {
        (None, true) => quoted(name),
        (Some(lead), true) => quoted(&format!("{name}: {lead}")),
        (lead, false) => {
            let lead = lead.map_or(String::new(), |lead| format!(", lead = \"{lead}\""));
            let out = roles(pass.sit_out);
            format!("{{ play = {}{lead}, sit_out = {out} }}", quoted(name))
        }
    }
}

/// A section under its heading.
fn written(section: &Section, song: &Song) -> String {
    let bars = &section.bars;
    let sung = bars.iter().any(|bar| !bar.sings_as_written_without());
    let layout = Layout::of(bars, !sung);
    let mut out = format!("\n{}\n", super::read::heading(&section.name));
    if section.dynamics != Dynamic::default() {
        out.push_str(&format!("dynamics = {}\n", quoted(section.dynamics.as_str())));
    }
    let pickup = section.pickup.as_ref();
    let has_tune = bars.iter().any(|bar| !bar.melody.is_empty());
    let sung = sung || pickup.is_some_and(|pickup| !pickup.sings);
    // Each row has a bar for the pickup.
    let mut row = |key: &str, first: &dyn Fn(&Pickup) -> String, lines: String| {
        let first = pickup.map_or_else(String::new, |pickup| format!("| {} ", first(pickup)));
        out.push_str(&format!("{key} = \"\"\"\n{first}{lines}\"\"\"\n"));
    };
    let signed = layout
        .signed(|at, before| chords(bars, at, before, song.meter, at == 0 && pickup.is_none()));
    row("chords", &pickup_chord, signed);
    if sung {
        let sings = |pickup: &Pickup| if pickup.sings { "=" } else { "-" }.to_owned();
        row("voice", &sings, layout.plain(|at| bars.get(at).map(voice)));
    }
    if has_tune {
        let tune = |pickup: &Pickup| pickup_melody(pickup, song.key);
        row("melody", &tune, layout.plain(|at| bars.get(at).map(|bar| melody(bar, song.key))));
    }
    let plays_on = |stop: Stop| stop == Stop::PlayOn;
    if !bars.iter().all(|bar| bar.stops.iter().all(|share| plays_on(share.value))) {
        row("stops", &|_| ".".to_owned(), layout.plain(|at| bars.get(at).map(stops)));
    }
    out
}
