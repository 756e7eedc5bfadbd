//! The engine under a fake clock: an hour of playing with a player who never stops pressing keys.

use std::sync::{Arc, Mutex};

use crate::common::shipped;
use crate::playing::model::{Doing, Model, Piece, Swap, Take};
use crate::playing::probe::{Heard, Probe, Tape};
use openchair::arrange::{Plan, arrange};
use openchair::chart::{Role, RoleSet};
use openchair::live::{
    Clock, Command, Control, Ends, Entry, FakeClock, Remote, Score, Settings, Slot, Supply, engine,
};
use openchair::perform::{Message, perform};
use openchair::practice::Chairs;
use openchair::theory::Key;
use openchair::time::{Nanos, Tempo};
use proptest::prelude::*;

const SECOND: i64 = 1_000_000_000;
/// Before the first note of all the channels get their sounds.
const LEAD: i64 = SECOND / 10;

/// How outputs take messages: how far ahead, and from when on for good. No whole milliseconds, so that
/// nothing falls together by chance.
const AT_ONCE: (i64, i64) = (0, 0);
const AHEAD: (i64, i64) = (105_000_007, 3_000_017);

/// A small generator of random numbers (xorshift).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 >> 11
    }

    fn below(&mut self, below: usize) -> usize {
        (self.next() % below as u64) as usize
    }

    fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }
}

/// Loops of two songs, in several keys: the whole form, some bars, a single one.
fn takes() -> Arc<Vec<Take>> {
    let mut takes = Vec::new();
    let styles = shipped::styles();
    for name in ["one-plank-short", "lantern-on-the-landing"] {
        let songs = shipped::songs();
        let (_, song) =
            songs.iter().find(|(path, _)| path.ends_with(format!("{name}.toml"))).unwrap();
        let style = styles.iter().find(|style| style.name == song.style).unwrap();
        for key in ["C", "Eb"] {
            let band = Some(Role::ALL.into_iter().collect());
            let plan = Plan { key: Some(Key::parse(key).unwrap()), band, ..Plan::default() };
            let whole = arrange(song, &plan).unwrap();
            for (bars, rounds) in [(1..=1000, 1), (5..=12, 4), (9..=9, 5)] {
                let arrangement = whole.excerpt(bars, rounds).unwrap();
                let performance = perform(&arrangement, style, 5).unwrap();
                takes.push(Take { arrangement, performance });
            }
        }
    }
    Arc::new(takes)
}

/// The player: presses something now and then, and looks at what the screen would show.
struct Player {
    remote: Remote,
    model: Model,
    takes: Arc<Vec<Take>>,
    random: Random,
    guard: i64,
    ahead: i64,
    /// Actions still to come, and the time of the next.
    left: usize,
    next: i64,
    every: i64,
    /// From when on the last action is heard.
    cut: i64,
    /// The time that the engine saw last.
    seen: i64,
    looks: usize,
    checks: usize,
    ids: u32,
    used: Vec<&'static str>,
    log: Vec<String>,
    tapes: Vec<Tape>,
}

impl Player {
    fn look(&mut self, now: i64) {
        let seen = std::mem::replace(&mut self.seen, now);
        self.looks += 1;
        let due = now >= self.next;
        if (due || self.looks.is_multiple_of(64)) && seen > self.cut {
            self.check(seen);
        }
        if due {
            let cut = (now + self.guard).max(self.cut);
            // Too near a bar line it would be a matter of a nanosecond on which side it falls.
            self.model.advance(seen);
            let near = self.model.line().is_some_and(|line| (line - cut).abs() < 1_000);
            if near && self.guard > 0 {
                return;
            }
            if self.left == 0 {
                self.send(Command::End);
                self.next = i64::MAX;
                return;
            }
            self.left -= 1;
            self.next = now + 1 + (self.random.next() % (2 * self.every as u64)) as i64;
            self.act(cut);
        }
    }

    /// The screen shows what was heard up to `seen`.
    fn check(&mut self, seen: i64) {
        let Some(status) = self.remote.status() else { return };
        // Bar lines are reckoned to a few nanoseconds.
        self.model.advance(seen + 100);
        if let Some(wrong) = self.model.differs(&status) {
            panic!(
                "at {seen}: {wrong}; after {:#?}",
                &self.log[self.log.len().saturating_sub(12)..]
            );
        }
        self.checks += 1;
        if self.model.doing == Doing::Paused && seen > self.cut + 10_000_000 {
            for tape in &self.tapes {
                // Clicks that were struck, too, are over.
                assert_eq!(tape.sounding(seen), [], "silent at {seen}");
            }
        }
    }

    fn send(&mut self, command: Command) {
        self.remote.send(command).unwrap();
    }

    fn roles(&mut self) -> RoleSet {
        let bits = self.random.below(1 << Role::ALL.len());
        Role::ALL.into_iter().filter(|&role| bits >> role as usize & 1 == 1).collect()
    }

    fn tempo(&mut self) -> Tempo {
        Tempo::from_micros(200_000 + self.random.below(800_000) as u32)
    }

    fn act(&mut self, mut cut: i64) {
        let begun = !self.used.is_empty();
        let what = if !begun { 0 } else { self.random.below(100) };
        self.log.push(format!("{cut}: {what}"));
        // A pause is not for long.
        if begun && self.model.doing == Doing::Paused && self.random.chance(60) {
            self.used.push("go");
            self.send(Command::Go);
            self.model.go(cut, 0);
            self.cut = cut;
            return;
        }
        let word = match what {
            0 if !begun => {
                // There is time for the first messages.
                cut += self.ahead - self.guard;
                self.send(Command::Go);
                self.model.go(cut, LEAD);
                "first go"
            }
            0..=9 => {
                self.send(Command::Pause);
                self.model.pause(cut);
                "pause"
            }
            10..=11 => {
                self.send(Command::Silence);
                self.model.pause(cut);
                "silence"
            }
            12..=16 => {
                let bars = 1 + self.random.below(2) as u32;
                self.send(Command::CountIn(bars));
                self.model.count_in(cut, bars);
                "count in"
            }
            17..=36 => {
                let tempo = self.tempo();
                self.send(Command::Tempo(tempo));
                self.model.set_tempo(cut, tempo);
                "tempo"
            }
            37..=51 => {
                let roles = self.roles();
                self.send(Command::Mute(roles));
                self.model.mute(cut, roles);
                "mute"
            }
            52..=57 => {
                let seed = self.random.next();
                let surprise = Chairs::Surprise { seed, announced: false };
                let chairs = [Chairs::AsWritten, Chairs::Turns, surprise][self.random.below(3)];
                self.send(Command::Chairs(chairs));
                self.model.advance(cut);
                self.model.chairs = chairs;
                "chairs"
            }
            58..=60 => {
                let on = self.random.chance(50);
                self.send(Command::ChangeClicks(on));
                "cues"
            }
            61..=79 => {
                let number = self.random.below(40);
                self.send(Command::Jump(number));
                self.model.jump(cut, number);
                "jump"
            }
            80..=81 => {
                let left = self.random.chance(50).then_some(1_000_000);
                self.send(Command::Rounds(left));
                self.model.advance(cut);
                self.model.rounds_left = left;
                "rounds"
            }
            _ => {
                self.ids += 1;
                let take = self.random.below(self.takes.len());
                let at = if self.random.chance(60) { Entry::BarLine } else { Entry::Round };
                let from = self.random.chance(40).then(|| self.random.below(40));
                let tempo = self.random.chance(40).then(|| self.tempo());
                let of = &self.takes[take];
                let score = Box::new(Score::new(self.ids, &of.arrangement, &of.performance));
                self.send(Command::Play { score, at, from, tempo });
                self.model.play(cut, Swap { id: self.ids, take, at, from, tempo });
                "play"
            }
        };
        self.used.push(word);
        self.log.push(format!("{word} -> {:?} {:?}", self.model.doing, self.model.bar));
        self.cut = cut;
    }
}

/// What a session has left.
struct Session {
    tapes: Vec<Tape>,
    pieces: Vec<Piece>,
    takes: Arc<Vec<Take>>,
    checks: usize,
    used: Vec<&'static str>,
    length: i64,
}

/// Plays with so many random actions, one every so often on average, to outputs of these kinds.
fn session(seed: u64, actions: usize, every: i64, kinds: &[(i64, i64)]) -> Session {
    let takes = takes();
    let player: Arc<Mutex<Option<Player>>> = Arc::default();
    let its_player = Arc::clone(&player);
    let clock = Arc::new(FakeClock::watched(move |now| {
        if let Some(player) = its_player.lock().unwrap().as_mut() {
            player.look(now.0);
        }
    }));
    let tempo = Tempo::from_micros(500_000);
    let score = Score::new(0, &takes[0].arrangement, &takes[0].performance);
    let settings =
        Settings { score: Box::new(score), tempo, clock: Some(Nanos(0)), plays_on: false };
    let (mut engine, Ends { remote, .. }) = engine(settings);
    let mut tapes = Vec::new();
    for (slot, &(ahead, guard)) in [Slot::Port, Slot::Sound].into_iter().zip(kinds) {
        let (out, tape) = Probe::new(&clock, ahead, guard);
        engine.install(Supply { slot, out });
        tapes.push(tape);
    }
    let most = |of: fn(&(i64, i64)) -> i64| kinds.iter().map(of).max().unwrap();
    *player.lock().unwrap() = Some(Player {
        remote,
        model: Model::new(Arc::clone(&takes), 0, 0, tempo),
        takes: Arc::clone(&takes),
        random: Random(seed | 1),
        guard: most(|kind| kind.1),
        ahead: most(|kind| kind.0),
        left: actions,
        next: 0,
        every,
        cut: i64::MIN,
        seen: 0,
        looks: 0,
        checks: 0,
        ids: 0,
        used: Vec::new(),
        log: Vec::new(),
        tapes: tapes.clone(),
    });
    let report = engine.run(clock.as_ref(), &Control::new()).unwrap();
    assert_eq!(report.dropped, 0);
    let mut player = player.lock().unwrap().take().unwrap();
    player.model.advance(clock.now().0);
    assert_eq!(player.left, 0, "all was played");
    Session {
        tapes,
        pieces: player.model.pieces,
        takes,
        checks: player.checks,
        used: player.used,
        length: clock.now().0,
    }
}

impl Session {
    /// Everything that has to hold after any session.
    fn hold(&self) -> (usize, usize) {
        let mut counts = (0, 0);
        for tape in &self.tapes {
            assert!(tape.is_closed());
            for (_, lasted, ..) in tape.pairs() {
                // The longest note is a few bars at the slowest tempo.
                assert!(lasted < 30 * SECOND, "hangs for {lasted}");
            }
            counts = self.holds_the_notes(&tape.all());
        }
        if let [one, other] = self.tapes.as_slice() {
            let (one, other) = (in_order(one, self.length), in_order(other, self.length));
            for (one, other) in one.iter().zip(&other) {
                let same = (one.at, one.message) == (other.at, other.message);
                assert!(same, "both outputs get the same: {one:?} {other:?}");
            }
            assert_eq!(one.len(), other.len());
        }
        counts
    }

    /// Each note of the bars that the model says were played has sounded at its time, and no other
    /// but those that feel or a slow strum brings over a bar line. Gives how many of each.
    fn holds_the_notes(&self, heard: &[Heard]) -> (usize, usize) {
        let mut wanted = Vec::new();
        for piece in &self.pieces {
            let Take { arrangement, performance } = &self.takes[piece.take];
            let bar = &arrangement.bars[piece.bar];
            for part in performance.parts.iter().filter(|part| !piece.silent.contains(part.role)) {
                let notes = part.notes.iter().filter(|note| note.bar as usize == piece.bar);
                for note in notes.filter(|note| (bar.start..bar.end()).contains(&note.start)) {
                    let at = piece.bar_start + piece.tempo.nanos(note.start - bar.start).0;
                    // At the very edge of a piece either may have it.
                    let to = piece.to.min(self.length) - 1_000;
                    if (piece.from + 1_000..to).contains(&at) {
                        let (pitch, program) = (note.pitch.get(), part.program_at(note.start));
                        wanted.push((at, part.role.channel(), pitch, note.velocity, program));
                    }
                }
            }
        }
        let edges: Vec<i64> = self.pieces.iter().flat_map(|piece| [piece.from, piece.to]).collect();
        // Each with the program that its channel has by then.
        let mut programs = [0; 16];
        let mut played: Vec<(i64, u8, u8, u8, u8)> = Vec::new();
        // What lies beyond the end belongs to a bar that was never reached: it had gone out too soon to be
        // taken back; `hold` sees to its note-off.
        for heard in heard.iter().filter(|heard| heard.at < self.length) {
            match heard.message {
                Message::Program { channel, program } => programs[usize::from(channel)] = program,
                Message::NoteOn { channel, pitch, velocity } if channel != 9 => {
                    let program = programs[usize::from(channel)];
                    played.push((heard.at, channel, pitch.get(), velocity, program));
                }
                _ => {}
            }
        }
        // Within a microsecond two notes may stand in either order.
        played.sort_by_key(|&(at, channel, pitch, ..)| (channel, pitch, at));
        wanted.sort_by_key(|&(at, channel, pitch, ..)| (channel, pitch, at));
        let mut played = played.into_iter();
        let mut over_the_line = 0;
        for want in &wanted {
            loop {
                let Some(got) = played.next() else { panic!("not played: {want:?}") };
                let same = (got.1, got.2, got.3, got.4) == (want.1, want.2, want.3, want.4);
                if same && (got.0 - want.0).abs() < 1_000 {
                    break;
                }
                over_the_line += 1;
                assert!(near_an_edge(&edges, got.0), "{got:?}, wanted is {want:?}");
            }
        }
        for got in played {
            assert!(near_an_edge(&edges, got.0), "{got:?}");
        }
        (wanted.len(), over_the_line)
    }
}

fn near_an_edge(edges: &[i64], at: i64) -> bool {
    // As far as feel and strums reach at the slowest tempo.
    let reach = SECOND / 5;
    let after = edges.partition_point(|&edge| edge < at);
    [after.wrapping_sub(1), after]
        .iter()
        .any(|&place| edges.get(place).is_some_and(|edge| (edge - at).abs() < reach))
}

fn in_order(tape: &Tape, end: i64) -> Vec<Heard> {
    let mut all = tape.all();
    // At the end each keeps what it can't take back any more.
    all.retain(|it| !matches!(it.message, Message::Sync(_)) && !it.last_word && it.at < end);
    // What comes at one instant, as at the end, in any order.
    all.sort_by_key(|heard| (heard.at, heard.message.bytes()));
    all
}

#[test]
fn an_hour_with_two_thousand_actions() {
    for kinds in [&[AT_ONCE][..], &[AHEAD], &[AT_ONCE, AHEAD]] {
        let begun = std::time::Instant::now();
        let session = session(0x5EED, 2000, 1_800_000_000, kinds);
        let played = session.length;
        assert!((3000..4200).contains(&(played / SECOND)), "{} s", played / SECOND);
        assert!(session.checks > 2000);
        let (in_their_bars, over_the_line) = session.hold();
        assert!(in_their_bars > 5_000 && over_the_line < in_their_bars / 5);
        for word in [
            "go", "pause", "silence", "count in", "tempo", "mute", "chairs", "cues", "jump", "play",
        ] {
            assert!(session.used.iter().filter(|&&used| used == word).count() > 20, "{word}");
        }
        if kinds.contains(&AHEAD) {
            assert!(session.tapes.iter().any(|tape| tape.taken_back() > 1000), "it took back");
        }
        println!(
            "{kinds:?}: {} checks, {in_their_bars} notes, {over_the_line} over a line, {:?}",
            session.checks,
            begun.elapsed()
        );
    }
}

/// Ends within the guard before a bar line: notes of the bar that never comes are out already.
#[test]
fn a_session_that_ends_just_before_a_bar() {
    let (..) = session(8_850_899_653_136_736_406, 60, 900_000_000, &[AHEAD]).hold();
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(24) })]

    #[test]
    fn any_player_however_hasty(
        seed in any::<u64>(),
        every in prop_oneof![Just(3_000_000_i64), Just(40_000_000), Just(900_000_000)],
        kinds in prop_oneof![
            Just(vec![AT_ONCE]),
            Just(vec![AHEAD]),
            Just(vec![AT_ONCE, AHEAD]),
            Just(vec![AHEAD, (480 * 1_000_003, 190 * 1_000_007)]),
        ],
    ) {
        let (..) = session(seed, 60, every, &kinds).hold();
    }
}
