//! Reading styles: what is left out, what is spread over meters, and that no text does harm.

use openchair::chart::Role;
use openchair::style::{RoleStyle, Style, read_style};
use openchair::text::{Problems, Source, report};
use openchair::time::Meter;
use proptest::prelude::*;

fn read(text: &str) -> Result<Style, String> {
    let source = Source::new("t.toml", text).unwrap();
    let mut problems = Problems::new();
    let style = read_style("t", &source, &mut problems);
    assert_eq!(
        style.is_none(),
        !problems.is_empty(),
        "no style without a reason, no reason with one"
    );
    style.ok_or_else(|| report(&source, &problems, false))
}

#[test]
fn what_a_style_leaves_out_has_its_default() {
    let style = read("about = 'Bass'\nmeters = ['4/4']\n[[bass.bar]]\nbar = 'R . 5 .'\n").unwrap();
    assert_eq!((style.name.as_str(), style.about.as_str()), ("t", "Bass"));
    assert!(style.tempo.contains(&10.0) && style.tempo.contains(&400.0));
    assert_eq!(style.part(Role::Chop), None);
    let bass = style.part(Role::Bass).unwrap();
    let plain = RoleStyle { bars: bass.bars.clone(), ..RoleStyle::plain(Role::Bass) };
    assert_eq!(*bass, plain);
    assert_eq!(bass.bars.len(), 1);
}

#[test]
fn what_a_style_writes_is_what_it_gets() {
    let style = read(
        "about = 'All'\nmeters = ['4/4']\ntempo = [80, 140.5]\n[feel]\nswing = [[100, 0.6], [200, 0.5]]\n\
         [guitar]\nprogram = 1\nvolume = 2\npan = 3\nlean = -4\nlooseness = 5\nspread = 6\nlength = 0.7\n\
         clip = 80\ndown_strings = 5\nup_strings = 2\n\
         loudness = { ghost = 10, normal = 20, accent = 30, vary = 4, up = 0.5 }\n\
         [[guitar.bar]]\nbar = 'R D 5 D'\n",
    )
    .unwrap();
    assert_eq!(style.tempo, 80.0..=140.5);
    assert_eq!(style.feel.swing, [(100.0, 0.6), (200.0, 0.5)]);
    let part = style.part(Role::Guitar).unwrap();
    assert_eq!((part.instrument.program, part.instrument.volume, part.instrument.pan), (0, 2, 3));
    assert_eq!((part.lean, part.looseness, part.spread, part.length), (-4.0, 5.0, 6.0, 0.7));
    assert_eq!((part.clip, part.down_strings, part.up_strings), (Some(80.0), 5, 2));
    let loud = part.loudness;
    assert_eq!((loud.ghost, loud.normal, loud.accent, loud.vary, loud.up), (10, 20, 30, 4, 0.5));
}

#[test]
fn a_bar_is_for_every_meter_that_reads_like_the_first() {
    let all = "about = 'All'\nmeters = ['4/4', '2/2', '3/4', '6/8']\n[[bass.bar]]\nbar = 'R . 5 .'\n\
               [[bass.bar]]\nmeter = '3/4'\nbar = 'R . .'\n";
    let told = read(all).unwrap_err();
    assert!(told.contains("no plain bar for 6/8"), "{told}");
    assert!(!told.contains("for 2/2") && !told.contains("for 3/4"), "{told}");
    let style = read(&format!("{all}[[bass.bar]]\nmeter = '6/8'\nbar = 'R . . 5 . .'\n")).unwrap();
    let meters: Vec<Meter> =
        style.part(Role::Bass).unwrap().bars.iter().map(|bar| bar.meter).collect();
    assert_eq!(meters, [Meter::FourFour, Meter::TwoTwo, Meter::ThreeFour, Meter::SixEight]);
}

#[test]
fn a_flood_is_refused_in_few_words() {
    let head = "about = 'Flood'\nmeters = ['4/4']\n";
    let plain = "[[bass.bar]]\nbar = 'R . 5 .'\n";
    let bars = format!("{head}{}", plain.repeat(20_000));
    let slots = format!("{head}[[bass.bar]]\nbar = '{}'\n", "R ".repeat(400_000));
    let when =
        format!("{head}[[bass.bar]]\nwhen = '{}'\nbar = 'R'\n{plain}", "moon and ".repeat(90_000));
    let swing = format!("{head}[feel]\nswing = [{}]\n{plain}", "[1, 2],".repeat(90_000));
    for text in [bars, slots, when, swing] {
        let told = read(&text).unwrap_err();
        assert!(told.matches("error:").count() <= 2, "{}", told.lines().next().unwrap());
    }
}

/// Letters of the notation, the conditions and TOML, and a few that belong to none.
const SCRAPS: &str = "[-R35678v^><.xDU()+!| a-zä𝄞\"'\\\\\n\t=\\[\\]{},0-9]{0,60}";

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn no_bar_panics(bar in SCRAPS, role in prop::sample::select(&Role::ALL[..])) {
        let quoted = toml::Value::String(bar).to_string();
        let _ = read(&format!("about = 'P'\nmeters = ['4/4']\n[[{role}.bar]]\nbar = {quoted}\n"));
    }

    #[test]
    fn no_when_panics(when in "(not |and |change next|phrase end|break| |,|or|[a-zä]{0,4}){0,12}") {
        let quoted = toml::Value::String(when).to_string();
        let _ = read(&format!("about = 'P'\nmeters = ['4/4']\n[[bass.bar]]\nwhen = {quoted}\nbar = 'R'\n"));
    }

    #[test]
    fn no_file_panics(text in "(?s).{0,200}") {
        let _ = read(&text);
    }

    #[test]
    fn no_damage_to_a_sound_file_panics(
        from in any::<prop::sample::Index>(), length in 0..40_usize, scrap in SCRAPS,
    ) {
        let sound: Vec<char> = include_str!("../../backing-styles/boom-chick.toml").chars().collect();
        let from = from.index(sound.len());
        let to = (from + length).min(sound.len());
        let text: String =
            sound[..from].iter().copied().chain(scrap.chars()).chain(sound[to..].iter().copied()).collect();
        let _ = read(&text);
    }
}
