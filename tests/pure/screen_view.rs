//! Every word and number of the screen, without a terminal.

use crate::common::stage::{FERRY, facts, in_meter, on_beat, playing, song, view};
use openchair::arrange::Arrangement;
use openchair::chart::{Role, RoleSet};
use openchair::live::{ChordsAs, Standing};
use openchair::practice::Chairs;
use openchair::screen::{
    BandMark, BarView, Coming, Drill, Facts, Mark, Now, Singer, Tab, TabView, View,
};
use openchair::time::{Meter, Nanos, Tempo, Ticks};

fn now(view: &View) -> String {
    match &view.now {
        Now::Chord(chord) => chord.to_string(),
        Now::Count(beat) => format!("count {beat}"),
        Now::End => "end".to_owned(),
    }
}

fn coming(view: &View) -> String {
    match &view.coming {
        Coming::Chord(chord) => format!("{chord} in {}", view.beats),
        Coming::End => format!("end in {}", view.beats),
        Coming::Never => "never".to_owned(),
    }
}

fn both(song: &Arrangement, bar: usize, beat: i64) -> (String, String) {
    let view = view(song, bar, beat);
    (now(&view), coming(&view))
}

/// The eighth notes of a bar that are sung.
fn sung(bar: &BarView) -> String {
    bar.eighths.iter().map(|mark| if mark.sung { '=' } else { '.' }).collect()
}

/// What the band does in each, as the chart writes it.
fn band(bar: &BarView) -> String {
    let sign = |mark: &Mark| match mark.band {
        BandMark::Plays => '.',
        BandMark::Hit => 'x',
        BandMark::Held => 'o',
        BandMark::Silent => '-',
    };
    bar.eighths.iter().map(sign).collect()
}

fn pair(now: &str, coming: &str) -> (String, String) {
    (now.to_owned(), coming.to_owned())
}

#[test]
fn beats_are_counted_down_to_the_next_chord() {
    let ferry = song(FERRY);
    assert_eq!(both(&ferry, 1, 0), pair("G", "C in 4"));
    assert_eq!(both(&ferry, 1, 3), pair("G", "C in 1"));
    assert_eq!(both(&ferry, 2, 0), pair("C", "D in 2"));
    assert_eq!(both(&ferry, 2, 2), pair("D", "G in 2"));
    // Held over the bar line: two bars of G, then D.
    assert_eq!(both(&ferry, 5, 0), pair("G", "D in 8"));
    assert_eq!(both(&ferry, 6, 1), pair("G", "D in 3"));
    // Into another pass, and through a bar of two beats.
    assert_eq!(both(&ferry, 16, 3), pair("G", "F#m7b5/C in 1"));
    assert_eq!(both(&ferry, 17, 1), pair("F#m7b5/C", "G in 3"));
    assert_eq!(both(&ferry, 18, 0), pair("G", "Bbmaj13/Ab in 2"));
    assert_eq!(both(&ferry, 22, 0), pair("N.C.", "C in 4"));
}

/// What to do in a bar of the ferry, and what comes.
fn tasks(number: usize) -> (String, Option<(usize, String)>) {
    let task = view(&song(FERRY), number, 0).task.unwrap();
    (task.now.full, task.coming.map(|(bars, words)| (bars, words.short)))
}

#[test]
fn what_is_to_be_done_is_told_two_bars_ahead() {
    let says = |now: &str, bars, coming: &str| (now.to_owned(), Some((bars, coming.to_owned())));
    // Bars 2, 4, 7 and 8 are sung by half at most; the guitar's break begins at 9.
    assert_eq!(tasks(1), says("roll softly, between boom and chick", 1, "fill"));
    assert_eq!(tasks(2), says("fill, the singer pauses", 1, "roll softly"));
    assert_eq!(tasks(5), says("roll softly, between boom and chick", 2, "fill"));
    assert_eq!(tasks(8), says("fill, the singer pauses", 1, "roll softly"));
    assert_eq!(tasks(9), ("roll softly, the guitar leads".to_owned(), None));
    let ferry = song(FERRY);
    let last = view(&ferry, ferry.bars.len(), 0).task.unwrap();
    assert_eq!((last.now.short.as_str(), last.coming), ("the last chord, with the band", None));
}

#[test]
fn lines_tell_what_is_new_and_nothing_twice() {
    let ferry = song(FERRY);
    let mut told = openchair::screen::Told::default();
    let mut lines = |number: usize, visit: u32| {
        told.lines(&view(&ferry, number, 0).task.unwrap(), visit).join("; ")
    };
    let fill = "fill, the singer pauses";
    assert_eq!(lines(5, 1), format!("you: roll softly, between boom and chick; in 2 bars: {fill}"));
    assert_eq!(lines(6, 2), "", "that was said");
    assert!(lines(7, 3).starts_with(&format!("you: {fill}")));
    assert_eq!(lines(9, 5), "you: roll softly, the guitar leads");
    assert_eq!(lines(10, 6), "");
}

#[test]
fn what_a_surprise_holds_is_not_told() {
    use openchair::screen::silent_next;
    let ferry = song(FERRY);
    let status = playing(&ferry, 7);
    let next = |chairs| silent_next(&status, &ferry, chairs);
    assert_eq!(next(Chairs::AsWritten), Some(RoleSet::EMPTY));
    assert_eq!(next(Chairs::Turns), Some(Chairs::Turns.open_in(1, ferry.band)));
    assert_eq!(next(Chairs::Surprise { seed: 4, announced: false }), None);
    assert!(next(Chairs::Surprise { seed: 4, announced: true }).is_some());
}

#[test]
fn the_last_chord_counts_down_to_the_end() {
    let ferry = song(FERRY);
    let last = ferry.bars.len();
    assert_eq!(both(&ferry, last, 0), pair("G", "end in 4"));
    let mut status = playing(&ferry, last);
    status.standing = Standing::Ended;
    let ended = View::new(&status, &ferry, &facts(&ferry), Nanos(0));
    assert_eq!((now(&ended), ended.beat), ("end".to_owned(), None));
    assert_eq!(ended.waiting.as_deref(), Some("THE END  q stops"));
}

#[test]
fn beats_are_the_meters_own() {
    let jig = in_meter("6/8", "| D | D | G / / / / A |");
    assert_eq!(both(&jig, 1, 0), pair("D", "G in 4"));
    assert_eq!(both(&jig, 3, 1), pair("G", "A in 1"));
    assert_eq!(view(&jig, 1, 1).line[0].beats, 2);
    let cut = in_meter("2/2", "| D | G |");
    assert_eq!(both(&cut, 1, 0), pair("D", "G in 2"));
    let waltz = in_meter("3/4", "| D | G |");
    assert_eq!(both(&waltz, 1, 1), pair("D", "G in 2"));
    assert_eq!((view(&waltz, 1, 2).beat, view(&waltz, 1, 2).tempo), (Some(2), 90));
}

#[test]
fn a_loop_comes_round() {
    let mut round = in_meter("4/4", "| D | G | D |");
    round.round = Some(3);
    // D at the end goes on into D at the beginning.
    assert_eq!(both(&round, 3, 0), pair("D", "G in 8"));
    assert_eq!(view(&round, 3, 0).next_line, [], "its only line is shown already");
    let mut one = in_meter("4/4", "| D | D |");
    one.round = Some(2);
    assert_eq!(both(&one, 2, 0), pair("D", "never"));
    let mut split = in_meter("4/4", "| D / G / |");
    split.round = Some(1);
    assert_eq!(both(&split, 1, 3), pair("G", "D in 1"));
}

#[test]
fn the_line_is_as_the_chart_writes_it() {
    let ferry = song(FERRY);
    let shown = |view: &View| -> Vec<String> {
        view.line.iter().map(|bar: &BarView| bar.shares.join(" ")).collect()
    };
    let first = view(&ferry, 3, 2);
    assert_eq!(shown(&first), ["G", "C D", "G / / D", "Em"]);
    assert_eq!((first.here, first.beat, first.bar), (2, Some(2), 3));
    let odd = view(&ferry, 18, 0);
    assert_eq!(shown(&odd), ["F#m7b5/C", "G", "Bbmaj13/Ab C#mMaj7/G#", "Cadd9"]);
    assert_eq!((odd.here, odd.line[1].crooked), (1, Some(Meter::TwoFour.into())));
    assert_eq!(odd.next_line.len(), 4);
    // The last line of the song has nothing after it but the ending.
    assert_eq!(shown(&view(&ferry, 24, 0)), ["G", "N.C.", "C", "D"]);
    assert_eq!(view(&ferry, 25, 0).next_line, []);
}

#[test]
fn the_voice_is_shown_as_the_song_says() {
    let ferry = song(FERRY);
    assert_eq!(view(&ferry, 2, 1).singer, Singer::Sings);
    assert_eq!(view(&ferry, 2, 2).singer, Singer::Pauses);
    assert_eq!(view(&ferry, 9, 0).singer.words(), "guitar leads");
    assert_eq!(view(&ferry, 17, 0).singer, Singer::Nobody);
    let line = view(&ferry, 2, 0).line;
    assert_eq!((sung(&line[1]), band(&line[1])), ("====....".to_owned(), "........".to_owned()));
    assert_eq!(sung(&view(&ferry, 9, 0).line[0]), "........");
    // The band stops while the voice sings on: the one hides nothing of the other.
    let hush = view(&ferry, 21, 0).line;
    assert_eq!((sung(&hush[0]), band(&hush[0])), ("========".to_owned(), "x-------".to_owned()));
    assert_eq!((sung(&hush[1]), band(&hush[1])), ("........".to_owned(), "--------".to_owned()));
    assert_eq!((sung(&hush[3]), band(&hush[3])), ("........".to_owned(), "x---x---".to_owned()));
    assert!(view(&ferry, 1, 0).stops && !view(&in_meter("3/4", "| D |"), 1, 0).stops);
}

#[test]
fn chairs_are_open_for_whatever_reason() {
    let ferry = song(FERRY);
    let open = |view: &View| -> Vec<Role> {
        view.chairs.iter().filter(|chair| chair.open).map(|chair| chair.role).collect()
    };
    assert_eq!(open(&view(&ferry, 1, 0)), []);
    assert_eq!(open(&view(&ferry, 9, 0)), [Role::Guitar]);
    let mut status = playing(&ferry, 9);
    status.muted = RoleSet::EMPTY.with(Role::Bass);
    status.out = RoleSet::EMPTY.with(Role::Chop);
    let all = View::new(&status, &ferry, &facts(&ferry), Nanos(0));
    assert_eq!(open(&all), Role::BAND);
}

#[test]
fn a_kickoff_is_bar_0_and_says_what_comes() {
    let ferry = song(&FERRY.replace("capo = 0", "capo = 0\nkickoff = \"shuffles\""));
    for (bar, beats) in [(0, 8), (1, 4)] {
        let mut status = playing(&ferry, 0);
        status.bar = bar;
        let view = View::new(&status, &ferry, &facts(&ferry), on_beat(&ferry, &status, 0));
        assert_eq!((now(&view), coming(&view)), pair("N.C.", &format!("G in {beats}")));
        assert_eq!((view.bar, view.here, view.line.len()), (0, bar, 2));
        assert_eq!((view.form[0].as_str(), view.pass), ("kickoff: chop and guitar", 0));
        assert_eq!((view.singer, view.next_line.len()), (Singer::Nobody, 4));
    }
    let first = view(&ferry, 1, 0);
    assert_eq!((first.bar, first.pass, first.line.len()), (1, 1, 4));
}

#[test]
fn a_held_chord_is_marked_where_it_is_struck() {
    let held = song(&FERRY.replace("| x--- | ---- | . | x-x- |", "| oo.. | ---- | . | x-o- |"));
    let hush = view(&held, 21, 0).line;
    assert_eq!((sung(&hush[0]), band(&hush[0])), ("========".to_owned(), "o.......".to_owned()));
    assert_eq!(band(&hush[3]), "x---o.--");
}

#[test]
fn surprises_are_told_only_when_asked() {
    let ferry = song(FERRY);
    let status = playing(&ferry, 1);
    let announced = |chairs| {
        let facts = openchair::screen::Facts { chairs, ..facts(&ferry) };
        View::new(&status, &ferry, &facts, Nanos(0)).announced
    };
    assert_eq!(announced(Chairs::AsWritten), None);
    assert_eq!(announced(Chairs::Surprise { seed: 4, announced: false }), None);
    assert_eq!(announced(Chairs::Turns).as_deref(), Some("next pass open: chop"));
    let mut last = playing(&ferry, ferry.bars.len());
    assert_eq!(openchair::screen::announced(&last, &ferry, Chairs::Turns), None, "nothing follows");
    last.bar -= 1;
    assert!(
        openchair::screen::announced(&last, &ferry, Chairs::Turns).is_some(),
        "the ending does"
    );
    for seed in 0..20 {
        let chairs = Chairs::Surprise { seed, announced: true };
        let said = announced(chairs).unwrap();
        let next = chairs.open_in(1, ferry.band);
        assert_eq!(said.contains("all play"), next.is_empty(), "{said}");
        assert!(next.iter().all(|role| said.contains(role.as_str())), "{said}");
    }
}

#[test]
fn a_count_in_counts_every_bar_and_down_to_the_first_chord() {
    let ferry = song(FERRY);
    let mut status = playing(&ferry, 5);
    status.standing = Standing::CountingIn { bars: 2 };
    let bar = ferry.meter.bar();
    status.bar_start = ferry.tempo.nanos(bar * 2);
    let seen: Vec<(String, String)> = (0..8)
        .map(|beat| {
            let at = ferry.tempo.nanos(ferry.meter.beat() * beat + Ticks::new(1));
            let view = View::new(&status, &ferry, &facts(&ferry), Nanos(at.0 + 1));
            assert_eq!((view.beat, view.waiting.as_deref()), (None, Some("COUNT-IN")));
            (now(&view), coming(&view))
        })
        .collect();
    let wanted: Vec<(String, String)> = (0..8)
        .map(|beat| (format!("count {}", beat % 4 + 1), format!("G in {}", 8 - beat)))
        .collect();
    assert_eq!(seen, wanted);
}

#[test]
fn paused_says_where_it_goes_on_and_by_which_key() {
    let ferry = song(FERRY);
    let mut status = playing(&ferry, 7);
    status.standing = Standing::Paused;
    let view = View::new(&status, &ferry, &facts(&ferry), Nanos(1 << 40));
    assert_eq!(view.waiting.as_deref(), Some("PAUSED  Space goes on from bar 7"));
    assert_eq!((now(&view), coming(&view), view.beat), ("D".into(), "G in 4".into(), None));
}

#[test]
fn tempo_speed_loop_and_drill_are_told() {
    let ferry = song(FERRY);
    let mut status = playing(&ferry, 5);
    status.tempo = Tempo::new(100.0, Meter::FourFour, 75.0);
    status.round = 2;
    let mut told = facts(&ferry);
    told.loop_bars = Some((5, 8));
    told.drill = Some(Drill { change: ("G", "C"), number: (1, 3), mark: Some(72.0) });
    let view = View::new(&status, &ferry, &told, Nanos(0));
    assert_eq!((view.tempo, view.speed, view.bar), (75, 75, 5));
    assert_eq!(view.looping.as_deref(), Some("round 3"), "a drill goes round as a whole");
    assert_eq!(view.drill.as_deref(), Some("drill 1 of 3: G to C  mark 72 %"));
    told.loop_bars = Some((5, 5));
    told.drill = None;
    told.rounds = Some(4);
    let one = View::new(&status, &ferry, &told, Nanos(0));
    assert_eq!(one.looping.as_deref(), Some("loop bar 5  round 3 of 4"));
    told.rounds_before = 2;
    let another = View::new(&status, &ferry, &told, Nanos(0));
    assert_eq!(another.looping.as_deref(), Some("loop bar 5  round 1 of 4"));
    told.mark = Some(7);
    let marked = View::new(&status, &ferry, &told, Nanos(0));
    assert_eq!(marked.looping.as_deref(), Some("loop from 7 to …"));
}

#[test]
fn a_loop_is_shown_in_the_songs_form_and_in_the_charts_lines() {
    let ferry = song(FERRY);
    let outside = |bars: &[BarView]| -> Vec<(usize, bool)> {
        bars.iter().map(|bar| (bar.number, bar.outside)).collect()
    };
    // From the middle of the second pass's first line to the middle of its second.
    let round = ferry.excerpt(11..=14, 3).unwrap();
    let mut told = facts(&round);
    told.whole = &ferry;
    told.loop_bars = Some((11, 14));
    let mut status = playing(&round, 12);
    // In the third round.
    status.bar += 8;
    let view = View::new(&status, &round, &told, on_beat(&round, &status, 1));
    assert_eq!(view.form, ["verse: voice", "verse: guitar", "odd", "hush: voice", "ending"]);
    assert_eq!((view.pass, view.bar, view.here, view.beat), (1, 12, 3, Some(1)));
    assert_eq!(outside(&view.line), [(9, true), (10, true), (11, false), (12, false)]);
    assert_eq!(outside(&view.next_line), [(13, false), (14, false), (15, true), (16, true)]);
    let last = playing(&round, 14);
    let view = View::new(&last, &round, &told, on_beat(&round, &last, 0));
    assert_eq!(view.here, 1);
    assert_eq!(outside(&view.line)[..2], [(13, false), (14, false)]);
    assert_eq!(outside(&view.next_line)[2..], [(11, false), (12, false)], "round again");
}

#[test]
fn what_is_broken_is_said_in_words() {
    let ferry = song(FERRY);
    let mut status = playing(&ferry, 5);
    status.lost = true;
    status.dropped = 2;
    let view = View::new(&status, &ferry, &facts(&ferry), Nanos(0));
    assert_eq!(view.lost.as_deref(), Some("OUTPUT GONE: looking for attic synth"));
    assert_eq!(view.message.as_deref(), Some("2 late notes left out"));
}

#[test]
fn a_bar_past_the_end_shows_the_last() {
    let ferry = song(FERRY);
    let mut status = playing(&ferry, 1);
    status.bar = usize::MAX;
    let view = View::new(&status, &ferry, &facts(&ferry), on_beat_of_last(&ferry));
    assert_eq!(view.bar, ferry.bars.len());
}

fn on_beat_of_last(song: &Arrangement) -> Nanos {
    on_beat(song, &playing(song, song.bars.len()), 2)
}

#[test]
fn a_long_form_is_named_in_part_and_the_present_pass_always() {
    let passes = vec!["\"a\""; 500].join(", ");
    let long = song(&format!(
        "title = \"Ford\"\nkey = \"D\"\nmeter = \"4/4\"\ntempo = 90\nstyle = \"drive\"\n\
         form = [{passes}]\n[section.a]\nchords = \"| D |\"\n"
    ));
    for number in [1, 48, 49, 95, 96, 250, 500, 501] {
        let view = view(&long, number, 0);
        assert!(view.form.len() <= 96 && view.pass < view.form.len(), "{number}");
        assert_eq!(view.unnamed.0 + view.pass, number - 1);
        assert_eq!(view.unnamed.0 + view.form.len() + view.unnamed.1, 501);
    }
}

/// A song in A, so with the banjo's capo at the second fret.
fn in_a() -> Arrangement {
    song(
        &FERRY
            .replace("key = \"G\"", "key = \"A\"")
            .replace("| G | C / D / | G / / D | Em |", "| A | D/F# / E7 / | A / / E | F#m |"),
    )
}

#[test]
fn the_banjo_is_told_its_capo_and_its_shapes() {
    assert_eq!(view(&song(FERRY), 1, 0).banjo, None, "open G needs none");
    let song = in_a();
    let banjo = view(&song, 2, 0).banjo.unwrap();
    // Two frets down: D is held as a C, E7 as a D7 (from memory, and plain arithmetic).
    assert_eq!((banjo.capo, banjo.now.as_str(), banjo.next.as_str()), (2, "as C", "as D7"));
    let shapes = Facts { chords: ChordsAs::Shapes, ..facts(&song) };
    let status = playing(&song, 2);
    let view = View::new(&status, &song, &shapes, on_beat(&song, &status, 0));
    assert_eq!((now(&view), coming(&view)), pair("C", "D7 in 2"));
    let banjo = view.banjo.unwrap();
    assert_eq!((banjo.now.as_str(), banjo.next.as_str()), ("is D/F#", "is E7"));
}

#[test]
fn chords_are_called_by_their_numbers_everywhere() {
    let song = in_a();
    let numbers = Facts { chords: ChordsAs::Numbers, ..facts(&song) };
    let status = playing(&song, 2);
    let view = View::new(&status, &song, &numbers, on_beat(&song, &status, 0));
    assert_eq!((now(&view), coming(&view)), pair("4/6", "5⁷ in 2"));
    let line: Vec<String> = view.line.iter().map(|bar| bar.shares.join(" ")).collect();
    assert_eq!(line, ["1", "4/6 5⁷", "1 / / 5", "6m"]);
    // No chord has no number.
    assert_eq!(view.banjo.unwrap().now, "as C");
    let stopped = View::new(&playing(&song, 22), &song, &numbers, Nanos(0));
    assert_eq!(now(&stopped), "N.C.");
    assert_eq!(stopped.banjo.unwrap().now, "");
}

#[test]
fn the_tab_is_that_of_the_bar_to_come() {
    let whole = song(FERRY);
    let bars = |song: &Arrangement, of: &str| -> Vec<String> {
        song.bars.iter().map(|bar| format!("{of} {}\nD|---|", bar.number)).collect()
    };
    let tab = |song: &Arrangement, number: usize, standing, next: bool| -> TabView {
        let (now, after) = (bars(song, "now"), bars(song, "next"));
        let tab = Some(Tab { now: &now, next: next.then_some(&after) });
        let mut status = playing(song, number);
        status.standing = standing;
        View::new(&status, song, &Facts { tab, ..facts(&whole) }, Nanos(0)).tab.unwrap()
    };
    let first = |tab: TabView| tab.rows.first().cloned().unwrap_or_default();
    let playing_on = tab(&whole, 2, Standing::Playing, true);
    assert_eq!((playing_on.bar.as_str(), playing_on.rows.len()), ("bar 3", 2));
    assert_eq!(first(playing_on), "now 3");
    // Whoever waits is about to play the bar itself.
    for standing in [Standing::Paused, Standing::CountingIn { bars: 1 }] {
        assert_eq!(first(tab(&whole, 2, standing, true)), "now 2");
    }
    // The chairs of the next pass, if they are told.
    assert_eq!(first(tab(&whole, 8, Standing::Playing, true)), "next 9");
    assert_eq!(tab(&whole, 8, Standing::Playing, false).rows, Vec::<String>::new());
    // A loop comes round, a song ends.
    let round = whole.excerpt(10..=13, 1).unwrap();
    assert_eq!(first(tab(&round, 13, Standing::Playing, true)), "next 10");
    let last = whole.bars.last().unwrap().number;
    assert_eq!(tab(&whole, last, Standing::Playing, true).rows, Vec::<String>::new());
    assert_eq!(tab(&whole, 2, Standing::Ended, true), TabView::default());
}
