use std::num::NonZeroU32;

use super::values::{Wrong, line, list, nodes, read, whole, words};
use super::{Lesson, LessonItem};
use crate::backup::Level;
use crate::chart::{check_style_name, read_roles};
use crate::practice::{ChangeChoice, MOST_DRILL_BARS, SPEEDS, SitOutRule, Stretch};
use crate::text::{Item, Node, Problems, Source, Table, list as in_words, nearest, parse_toml};
use crate::theory::Key;

/// The heading of what is practised.
pub const LESSON_ITEM: &str = "item";

const KEYS: [&str; 3] = ["title", "notes", LESSON_ITEM];

const ITEM_KEYS: [&str; 14] = [
    "song",
    "speeds",
    "sit_out",
    "band",
    "key",
    "style",
    "level",
    "loop",
    "rounds",
    "changes",
    "change_bars",
    "with_banjo",
    "count_in",
    "notes",
];

/// So many items are months of practice.
const MOST_ITEMS: usize = 40;
/// Each speed is a file of sound.
const MOST_SPEEDS: usize = 12;
/// Each change is one at each speed.
const MOST_CHANGES: usize = 12;
/// A track of so many rounds of eight bars lasts half an hour.
const MOST_ROUNDS: u32 = 64;
/// More bars of clicks than anyone waits for.
const MOST_COUNT_IN: u32 = 16;

const TITLE: &str = "\"First week\"";
const SONG: &str = "\"lantern-on-the-landing.toml\"";
const NOTES: &str = "\"a word to the student\"";

/// Reads a lesson's file, as far as it can be read. Everything that is wrong with it is added to `problems`;
/// what only its songs show is not: whether they are there, and have what the lesson asks for.
pub fn read_lesson(source: &Source, problems: &mut Problems) -> Lesson {
    let before = problems.len();
    let table = parse_toml(source, problems);
    let broken = problems.len() > before;
    table.only(&KEYS, "a lesson", problems);
    // What seems to be missing in broken TOML may be there.
    let missing = |key: &str| !broken && !has(&table, key, &KEYS);
    if missing("title") {
        problems.add(0..0, "the lesson has no `title`", format!("write title = {TITLE}"));
    }
    if missing(LESSON_ITEM) {
        problems.add(
            0..0,
            "the lesson has nothing to practise",
            format!("write a heading [[{LESSON_ITEM}]] and under it song = {SONG}"),
        );
    }
    let title = line(&table, "title", TITLE, problems).map(|title| title.value);
    let notes = words(&table, "notes", NOTES, problems);
    let items = items(&table, broken, problems);
    Lesson { title: title.unwrap_or_default(), notes, items }
}

/// True if the table has `key`, or one that was most likely meant to be it and is told of as that.
fn has(table: &Table, key: &str, known: &[&str]) -> bool {
    !table.lacks(key)
        || table.fields.iter().any(|field| {
            !known.contains(&field.key.as_str())
                && nearest(&field.key, known.iter().copied()) == Some(key)
        })
}

fn items(table: &Table, broken: bool, problems: &mut Problems) -> Vec<LessonItem> {
    let Some(node) = table.get(LESSON_ITEM) else { return Vec::new() };
    let wrong = |node: &Node, problems: &mut Problems| {
        problems.add(
            node.span.clone(),
            match node.item {
                Item::Table(_) => format!("[{LESSON_ITEM}] stands in single brackets"),
                _ => format!("`{LESSON_ITEM}` is {} where tables belong", node.kind()),
            },
            format!("head each thing to practise by [[{LESSON_ITEM}]], in double brackets"),
        );
    };
    let Item::Array(nodes) = &node.item else {
        wrong(node, problems);
        return Vec::new();
    };
    if let Some(first_too_many) = nodes.get(MOST_ITEMS) {
        problems.add(
            first_too_many.span.clone(),
            format!("the lesson has {} things to practise", nodes.len()),
            format!("write {MOST_ITEMS} at most, and another lesson for the rest"),
        );
    }
    let mut found = Vec::new();
    for node in nodes.iter().take(MOST_ITEMS) {
        match &node.item {
            Item::Table(table) => found.extend(item(node, table, broken, problems)),
            _ => wrong(node, problems),
        }
    }
    found
}

fn item(node: &Node, table: &Table, broken: bool, problems: &mut Problems) -> Option<LessonItem> {
    table.only(&ITEM_KEYS, &format!("[[{LESSON_ITEM}]]"), problems);
    if !broken && !has(table, "song", &ITEM_KEYS) {
        problems.add(
            // The heading alone: its table reaches to the next one.
            node.span.start..node.span.start + 1,
            "this says nothing of which song",
            format!("write song = {SONG}, the file as seen from the lesson's"),
        );
    }
    let stretch = read(table, "loop", "\"verse:2\"", problems, |text| {
        Stretch::parse(text).map_err(|error| Wrong::all("`loop` is empty", error.to_string()))
    });
    let changes = list(table, "changes", "[\"G:C\", \"D7:G\"]", problems, change);
    if let Some(first_too_many) = changes.get(MOST_CHANGES) {
        problems.add(
            first_too_many.span.clone(),
            format!("`changes` names {} changes", changes.len()),
            format!("write {MOST_CHANGES} at most, those that need it most"),
        );
    }
    let rounds = whole(table, "rounds", 1..=MOST_ROUNDS, "4", problems);
    if rounds.is_some() && table.lacks("loop") && table.lacks("changes") {
        problems.add(
            table.get("rounds").map_or(0..0, |node| node.span.clone()),
            "nothing goes round here, so `rounds` says nothing",
            "add loop = \"verse\" or changes = [\"G:C\"], or leave `rounds` out",
        );
    }
    let change_bars = whole(table, "change_bars", 1..=MOST_DRILL_BARS, "2", problems);
    if change_bars.is_some() && table.lacks("changes") {
        problems.add(
            table.get("change_bars").map_or(0..0, |node| node.span.clone()),
            "there are no changes here, so `change_bars` says nothing",
            "add changes = [\"G:C\"], or leave `change_bars` out",
        );
    }
    let item = LessonItem {
        speeds: speeds(table, problems),
        sit_out: list(table, "sit_out", "[\"guitar\"]", problems, |text| {
            SitOutRule::parse(text).map_err(|error| {
                Wrong::all(format!("nobody is called `{text}`"), error.to_string())
            })
        }),
        band: table
            .get("band")
            .map(|node| read_roles(node, "band", problems))
            // What is wrong in it is told; the song's own does for judging the rest.
            .filter(|band| !band.is_empty()),
        key: read(table, "key", "\"A\"", problems, |text| {
            Key::parse(text.trim()).map_err(|error| Wrong {
                range: (text.trim() == text).then(|| error.range()),
                message: error.to_string(),
                help: error.help(),
            })
        }),
        style: line(table, "style", "\"boom-chick\"", problems).filter(|style| {
            let wrong = check_style_name(&style.value);
            wrong
                .map_err(|wrong| problems.add(style.span.clone(), wrong.message, wrong.help))
                .is_ok()
        }),
        level: read(table, "level", "\"sixths\"", problems, level)
            .map_or(Level::Full, |level| level.value),
        stretch,
        rounds: rounds.and_then(NonZeroU32::new).unwrap_or(LessonItem::ROUNDS),
        changes,
        change_bars: change_bars.unwrap_or(LessonItem::CHANGE_BARS),
        with_banjo: with_banjo(table, problems),
        count_in: whole(table, "count_in", 0..=MOST_COUNT_IN, "1", problems).unwrap_or(1),
        notes: words(table, "notes", NOTES, problems),
        song: line(table, "song", SONG, problems)?,
    };
    Some(item)
}

fn change(text: &str) -> Result<ChangeChoice, Wrong> {
    ChangeChoice::parse(text)
        .map_err(|error| Wrong::all(format!("`{text}` is no chord change"), error.to_string()))
}

fn level(text: &str) -> Result<Level, Wrong> {
    Level::parse(text.trim()).ok_or_else(|| {
        let known = Level::ALL.map(Level::as_str);
        let help = match nearest(text, known) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the levels are {}", in_words(&known, "and")),
        };
        Wrong::all(format!("there is no level `{text}`"), help)
    })
}

fn with_banjo(table: &Table, problems: &mut Problems) -> Option<std::ops::Range<usize>> {
    let node = table.get("with_banjo")?;
    match node.item {
        Item::Bool(true) => Some(node.span.clone()),
        Item::Bool(false) => None,
        _ => {
            problems.add(
                node.span.clone(),
                format!("`with_banjo` is {} where true or false belongs", node.kind()),
                "write with_banjo = true, without quotes",
            );
            None
        }
    }
}

fn speeds(table: &Table, problems: &mut Problems) -> Vec<f64> {
    const EXAMPLE: &str = "[60, 80, 100]";
    let mut speeds: Vec<f64> = Vec::new();
    let nodes = nodes(table, "speeds", EXAMPLE, problems);
    for node in nodes {
        let number = match node.item {
            Item::Integer(number) => number as f64,
            Item::Float(number) => number,
            _ => f64::NAN,
        };
        if !SPEEDS.contains(&number) {
            problems.add(
                node.span.clone(),
                "this is no practice speed",
                format!(
                    "write a percentage of the tempo from {} to {}, as in speeds = {EXAMPLE}",
                    SPEEDS.start(),
                    SPEEDS.end()
                ),
            );
        } else if speeds.contains(&number) {
            problems.add(
                node.span.clone(),
                format!("`speeds` has {number} twice"),
                "name each speed once",
            );
        } else {
            speeds.push(number);
        }
    }
    if let Some(first_too_many) = nodes.get(MOST_SPEEDS) {
        problems.add(
            first_too_many.span.clone(),
            format!("`speeds` has {} speeds, and each is a file of sound", nodes.len()),
            format!("write {MOST_SPEEDS} at most"),
        );
    }
    if speeds.is_empty() { vec![100.0] } else { speeds }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Role;

    fn lesson(toml: &str) -> (Lesson, Vec<String>) {
        let source = Source::new("l.toml", toml).unwrap();
        let mut problems = Problems::new();
        let lesson = read_lesson(&source, &mut problems);
        let told = problems
            .in_order()
            .into_iter()
            .map(|problem| format!("{}: {}", &source.text[problem.span.clone()], problem.message));
        (lesson, told.collect())
    }

    #[test]
    fn all_that_a_lesson_can_say() {
        let (lesson, told) = lesson(
            "title = 'First week'\nnotes = 'Slowly.'\n[[item]]\nsong = 'a.toml'\nspeeds = [60, 80.5]\n\
             sit_out = ['guitar@verse', 'turns']\nband = ['bass', 'guitar']\nkey = 'A'\nstyle = 'drive'\n\
             level = 'sixths'\nloop = 'verse:2'\nrounds = 3\nchanges = ['G:C']\nchange_bars = 1\n\
             with_banjo = true\ncount_in = 0\nnotes = 'x'\n[[item]]\nsong = 'b.toml'\n",
        );
        assert_eq!(told, [""; 0]);
        assert_eq!(
            (lesson.title.as_str(), lesson.notes.as_deref()),
            ("First week", Some("Slowly."))
        );
        let [first, second] = lesson.items.try_into().unwrap();
        assert_eq!(first.song.value, "a.toml");
        assert_eq!(first.speeds, [60.0, 80.5]);
        assert_eq!(first.sit_out.len(), 2);
        assert_eq!(first.band, Some([Role::Bass, Role::Guitar].into_iter().collect()));
        assert_eq!(first.key.map(|key| key.value), Key::parse("A").ok());
        assert_eq!(first.level, Level::Sixths);
        assert_eq!((first.rounds.get(), first.change_bars, first.count_in), (3, 1, 0));
        assert!(first.with_banjo.is_some());
        assert_eq!((second.speeds, second.level, second.count_in), (vec![100.0], Level::Full, 1));
        assert_eq!((second.rounds.get(), second.with_banjo), (4, None));
    }

    #[test]
    fn what_is_misspelt_is_not_called_missing() {
        let (_, told) = lesson("titel = 'x'\n[[itme]]\nsong = 'a'\n");
        assert_eq!(told.len(), 2, "{told:?}");
        let (_, told) = lesson("");
        assert_eq!(told.len(), 2, "{told:?}");
    }
}
