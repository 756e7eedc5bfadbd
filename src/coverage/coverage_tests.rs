use proptest::prelude::*;

use super::*;
use crate::arrange::{Plan, SitOut, arrange};
use crate::chart::read_song;
use crate::perform::perform;
use crate::style::{Style, read_style};
use crate::text::{Problems, Source};

const BAND: &str = "
[[bass.bar]]
bar = 'R . 5 .'
[[chop.bar]]
bar = '- x - x'
[[guitar.bar]]
bar = 'R . D (U) 5 . D U'
[[banjo.bar]]
bar = '3 2 5 1 4 2 5 1'
[[fiddle.bar]]
bar = 'oo . . .'
[[lead.bar]]
bar = 'o . o .'
";

fn style(text: &str) -> Style {
    let head = "about = 'a test'\nmeters = ['4/4']\n";
    let source = Source::new("t.toml", format!("{head}{text}")).unwrap();
    let mut problems = Problems::new();
    let style = read_style("t", &source, &mut problems);
    style.unwrap_or_else(|| panic!("{:?}", problems.in_order()))
}

fn song(head: &str, form: &str, section: &str) -> crate::chart::Song {
    let toml = format!(
        "title = 'Mud on the Oar'\nkey = 'G'\nmeter = '4/4'\ntempo = 110\nstyle = 't'\n{head}\n\
         form = {form}\n[section.a]\n{section}\n"
    );
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    read_song(&source, &mut problems).unwrap_or_else(|| panic!("{:?}", problems.in_order())).0
}

const FOUR: &str = "chords = '| G | C | D | G |'\nvoice = '| = | = | = | - |'";

struct Heard {
    song: Arrangement,
    covered: Coverage,
}

fn heard(style_text: &str, head: &str, form: &str, section: &str, out: &[Role]) -> Heard {
    let style = style(style_text);
    let song = song(head, form, section);
    let sit_out = out.iter().map(|&role| SitOut { role, section: None }).collect();
    let song = arrange(&song, &Plan { sit_out, tag: style.tag, ..Plan::default() }).unwrap();
    let played = perform(&song, &style, 1).unwrap();
    let covered = coverage(&song, &played, RoleSet::EMPTY);
    Heard { song, covered }
}

fn band(head: &str, out: &[Role]) -> Heard {
    heard(BAND, head, "['a: voice']", FOUR, out)
}

impl Heard {
    fn jobs(&self) -> Vec<Job> {
        self.covered.bars.iter().map(|bar| bar.job).collect()
    }

    fn first(&self) -> Shares {
        self.covered.bars[0].shares
    }
}

const NO_END: &str = "ending = 'none'";

#[test]
fn each_player_covers_what_is_their_job() {
    let alone = |role: &str| band(&format!("{NO_END}\nband = ['{role}']"), &[]).first();
    let Shares { down, back, and } = alone("bass");
    assert!(down > 800 && back == 0 && and == 0, "{down} {back} {and}");
    let Shares { down, back, and } = alone("chop");
    assert!(down == 0 && back > 800 && and == 0, "{down} {back} {and}");
    let Shares { down, back, and } = alone("guitar");
    assert!((500..900).contains(&down), "a guitar's bass strings are softer than a bass: {down}");
    assert!((350..700).contains(&back), "its chick is softer than a chop: {back}");
    assert!((50..400).contains(&and), "a ghost and an up-stroke on two of four: {and}");
    let Shares { down, back, and } = alone("banjo");
    assert!(and > 800 && down < 500 && back < 400, "{down} {back} {and}");
}

#[test]
fn long_bows_and_what_rings_on_cover_nothing() {
    let fiddle = band(&format!("{NO_END}\nband = ['fiddle']"), &[]);
    assert_eq!(fiddle.first(), Shares::default());
    let long = heard("[[bass.bar]]\nbar = 'R . . .'\n", NO_END, "['a']", FOUR, &[]);
    let levels: Vec<bool> = long.covered.bars[0].slots.iter().map(|slot| slot.level > 0).collect();
    assert_eq!(levels, [true, false, false, false, false, false, false, false]);
    let half = long.first().down;
    assert!((400..=500).contains(&half), "one of two downbeats: {half}");
}

#[test]
fn ghosts_count_less_than_strokes() {
    let and = |bar: &str| {
        heard(&format!("[[guitar.bar]]\nbar = '{bar}'\n"), NO_END, "['a']", FOUR, &[]).first().and
    };
    let (ghost, plain) = (and("R (U) D (U) 5 (U) D (U)"), and("R U D U 5 U D U"));
    assert!(ghost > 50 && ghost * 2 < plain, "{ghost} {plain}");
}

#[test]
fn off_beats_are_found_however_they_swing() {
    for swing in [0.5, 0.58, 0.66, 0.75] {
        for tempo in [60, 110, 220] {
            let head = format!("{NO_END}\nswing = {swing}");
            let style = style(BAND);
            let song = song(&head, "['a']", FOUR);
            let plan = Plan {
                tempo: Some(f64::from(tempo)),
                band: Some([Role::Guitar].into_iter().collect()),
                ..Plan::default()
            };
            let song = arrange(&song, &plan).unwrap();
            let played = perform(&song, &style, 1).unwrap();
            let covered = coverage(&song, &played, RoleSet::EMPTY);
            for bar in &covered.bars {
                let struck: Vec<bool> = bar.slots.iter().map(|slot| slot.level > 0).collect();
                let expected = [true, false, true, true, true, false, true, true];
                assert_eq!(struck, expected, "swing {swing}, tempo {tempo}");
            }
        }
    }
}

#[test]
fn a_band_that_comes_down_behind_the_singer_still_covers_the_beat() {
    let soft = "chords = '| G | C | D | G |'\ndynamics = 'p'\nvoice = '| = | = | = | - |'";
    let (loud, soft) = (band(NO_END, &[]), heard(BAND, NO_END, "['a: voice']", soft, &[]));
    for place in BeatPart::ALL {
        let (loud, soft) = (loud.first().of(place), soft.first().of(place));
        assert!(loud.abs_diff(soft) < 100, "{place}: {loud} {soft}");
    }
}

#[test]
fn the_job_is_a_teachers() {
    use Job::{Boom, BoomVamp, Fill, RollSoft, Vamp};
    // Common practice, no source.
    let jobs = |members: &str| band(&format!("{NO_END}\nband = [{members}]"), &[]).jobs();
    assert_eq!(jobs("'bass', 'chop', 'guitar'"), [RollSoft, RollSoft, RollSoft, Fill]);
    assert_eq!(jobs("'bass', 'guitar'"), [Vamp, Vamp, Vamp, Fill]);
    assert_eq!(jobs("'chop', 'guitar'"), [Boom, Boom, Boom, Fill]);
    assert_eq!(jobs("'bass', 'chop'"), [RollSoft, RollSoft, RollSoft, Fill]);
    assert_eq!(jobs("'guitar'"), [RollSoft, RollSoft, RollSoft, Fill]);
    assert_eq!(jobs("'bass'"), [Vamp, Vamp, Vamp, Fill]);
    assert_eq!(jobs("'chop'"), [Boom; 4]);
    assert_eq!(jobs("'fiddle'"), [BoomVamp; 4]);
}

#[test]
fn the_job_goes_with_who_leads() {
    let jobs = |members: &str, lead: &str| {
        let head = format!("{NO_END}\nband = [{members}]");
        let jobs = heard(BAND, &head, &format!("['a: {lead}']"), FOUR, &[]).jobs();
        assert!(jobs.iter().all(|job| *job == jobs[0]), "{jobs:?}");
        jobs[0]
    };
    let full = "'bass', 'chop', 'guitar'";
    assert_eq!(jobs("'guitar'", "guitar"), Job::BoomVamp);
    assert_eq!(jobs(full, "guitar"), Job::RollSoft);
    assert_eq!(jobs(full, "mandolin"), Job::Vamp);
    assert_eq!(jobs(full, "fiddle"), Job::Roll);
    assert_eq!(jobs(full, "bass"), Job::Sparse);
    assert_eq!(jobs(full, "banjo"), Job::Lead);
    assert_eq!(jobs("'bass', 'chop', 'guitar', 'banjo'", "fiddle"), Job::Sparse);
    // With a lead in the band, that plays the break of every instrument.
    assert_eq!(jobs("'bass', 'chop', 'guitar', 'lead'", "banjo"), Job::Sparse);
    assert_eq!(jobs("'guitar', 'lead'", "banjo"), Job::Vamp);
}

/// Eighths without a gap, loud or soft, are the guitar's own groove; up-strokes after each chick alone are not.
#[test]
fn a_guitar_that_subdivides_is_rolled_with() {
    let job = |guitar: &str, form: &str| {
        let style = format!(
            "[[bass.bar]]\nbar = 'R . 5 .'\n[[chop.bar]]\nbar = '- x - x'\n[[guitar.bar]]\nbar = '{guitar}'\n"
        );
        heard(&style, NO_END, form, FOUR, &[]).jobs()[0]
    };
    let (sung, played) = ("['a: voice']", "['a: fiddle']");
    for all in ["R U D U 5 U D U", "R (U) D (U) 5 (U) D (U)"] {
        assert_eq!(job(all, sung), Job::RollWith);
        assert_eq!(job(all, played), Job::RollWith);
    }
    for half in ["R . D U 5 . D U", "R . D (U) 5 . D (U)"] {
        assert_eq!(job(half, sung), Job::RollSoft);
        assert_eq!(job(half, played), Job::Roll);
    }
}

#[test]
fn where_the_ands_are_full_there_is_little_to_do() {
    let strums = "[[bass.bar]]\nbar = 'R . 5 .'\n[[chop.bar]]\nbar = '- U! x U! - U! x U!'\n\
                  [[guitar.bar]]\nbar = 'R . D U! 5 . D U!'\n";
    let it = heard(strums, NO_END, "['a: voice']", FOUR, &[]);
    assert!(it.first().and >= 600, "{:?}", it.first());
    assert_eq!(it.jobs()[0], Job::Sparse);
}

#[test]
fn a_hushed_pass_is_left_alone() {
    let jobs = |mark: &str, form: &str| {
        heard(BAND, NO_END, form, &format!("{FOUR}\ndynamics = '{mark}'"), &[]).jobs()
    };
    let (sung, played) = ("['a: voice']", "['a: fiddle']");
    assert_eq!(jobs("p", sung), [Job::Sparse, Job::Sparse, Job::Sparse, Job::Fill]);
    assert_eq!(jobs("p", played), [Job::Sparse; 4]);
    assert_eq!(jobs("mp", sung)[0], Job::RollSoft);
}

#[test]
fn whose_chair_is_open_leads_if_it_is_the_leads() {
    let head = format!("{NO_END}\nband = ['bass', 'chop', 'guitar', 'lead']");
    let out = heard(BAND, &head, "['a: fiddle']", FOUR, &[Role::Lead]);
    assert_eq!(out.jobs(), [Job::Lead; 4]);
}

#[test]
fn stops_and_bars_without_a_chord_are_the_players_rest_too() {
    let section = "chords = '| G | N.C. | D | G / N.C. / |'\nstops = '| . | . | x--- | . |'";
    let stopped = heard(BAND, NO_END, "['a']", section, &[]);
    assert_eq!(stopped.jobs(), [Job::Roll, Job::Rest, Job::Rest, Job::Rest]);
    let shares = stopped.covered.shares(&stopped.song).unwrap();
    assert!(shares.down > 850 && shares.back > 850, "the silence is no gap: {shares:?}");
}

#[test]
fn kickoff_and_ending_have_their_own_answers() {
    let head = "ending = 'tag'\nkickoff = 'shuffles'";
    let jobs = heard(BAND, head, "['a: voice']", FOUR, &[]).jobs();
    assert_eq!(jobs.first(), Some(&Job::Rest));
    assert_eq!(jobs.last(), Some(&Job::Rest));
    let out = heard(BAND, head, "['a: voice']", FOUR, &[Role::Chop, Role::Guitar]);
    assert_eq!(out.jobs().first(), Some(&Job::Lead), "nobody is left to kick it off");
}

#[test]
fn passes_sum_up_their_bars() {
    let form = "['a: voice', 'a: guitar']";
    let it = heard(BAND, "ending = 'hit'", form, FOUR, &[]);
    let passes = it.covered.passes(&it.song);
    let labels: Vec<&str> = passes.iter().map(|pass| pass.label.as_str()).collect();
    assert_eq!(labels, ["a: voice", "a: guitar", "ending"]);
    let [sung, played, ending] = passes.as_slice() else { panic!("{passes:?}") };
    assert_eq!((sung.bars, played.bars, ending.bars), ((1, 4), (5, 8), (9, 9)));
    assert_eq!(sung.counts(), [(Job::RollSoft, 3), (Job::Fill, 1)]);
    assert_eq!(sung.jobs.iter().map(|run| run.bars).collect::<Vec<_>>(), [(1, 3), (4, 4)]);
    assert_eq!(played.missing(), [BeatPart::And]);
    assert!(played.open.contains(Role::Guitar) && !played.rhythm.contains(Role::Guitar));
    assert_eq!(ending.shares, None);
}

fn roles() -> impl Strategy<Value = RoleSet> {
    (0_u8..64).prop_map(|bits| {
        let bit = |role: &Role| bits >> (*role as u8) & 1 == 1;
        Role::ALL.into_iter().filter(bit).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn silencing_one_more_never_covers_more(muted in roles(), one in 0_usize..6, seed in 0_u64..9) {
        let style = style(BAND);
        let head = format!("{NO_END}\nband = ['bass', 'chop', 'guitar', 'banjo', 'fiddle', 'lead']");
        let song = song(&head, "['a: voice', 'a: guitar']", FOUR);
        let song = arrange(&song, &Plan::default()).unwrap();
        let played = perform(&song, &style, seed).unwrap();
        let before = coverage(&song, &played, muted);
        let after = coverage(&song, &played, muted.with(Role::ALL[one]));
        for (before, after) in before.bars.iter().zip(&after.bars) {
            for place in BeatPart::ALL {
                prop_assert!(after.shares.of(place) <= before.shares.of(place));
            }
        }
    }
}
