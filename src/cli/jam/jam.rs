use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, unbounded};

use super::beside::{PLEASE_REPORT, StopOnDrop, after, beside};
use super::drilling::Drilling;
use super::front::Front;
use super::hands::Hands;
use super::listen::{Listen, Listening, Meanwhile};
use super::player::Player;
use super::stage::Stage;
use crate::arrange::Arrangement;
use crate::chart::RoleSet;
use crate::cli::failure::{Failure, tell};
use crate::cli::files::{diary, say_to_stdout};
use crate::cli::interrupt::interruptible;
use crate::cli::options::Live;
use crate::coverage::Coverage;
use crate::live::{
    Action, Answer, Ask, Caught, Clock, Command, Control, Desk, KeeperNotice, Keeping,
    MonotonicClock, Outside, Remote, Settings, Slot, Standing, Status, Suspension, engine, keep,
    raise_hand_priority,
};
use crate::rehearsal::Rehearsal;
use crate::review::words;
use crate::screen::{Drill, Facts, Input, Open, Tab, silent_next};
use crate::sink::Volume;
use crate::take::Recorded;
use crate::text::WIDE;

/// How long the player's hand is waited for at a time. A key is seen at once; this is how soon it is seen what the band
/// does, and what a pedal says: less than a hand feels.
const PATIENCE: Duration = Duration::from_millis(8);

/// The same while the band rests and nobody has touched anything for a while: a battery is not emptied by waiting.
const AT_REST: Duration = Duration::from_millis(200);
const A_WHILE: Duration = Duration::from_millis(500);

/// How long a terminal may be gone before the band stops by itself: nobody hears it with a hand on the keys.
const HANG_UP: Duration = Duration::from_secs(1);

/// How long the band gets to fall silent before the program stands still.
const SILENCE: Duration = Duration::from_millis(500);

/// How long the outputs may take to be closed then: sound rings out first.
const CLOSING: Duration = Duration::from_secs(4);

/// What is queued in a server's period when the band has fallen silent.
const LAST_PERIOD: Duration = Duration::from_millis(60);

/// A turn of the volume key, in percent.
const VOLUME_STEP: i8 = 5;

/// Playing live: the desk, the playing thread, the outputs, and the player's hand and eye.
pub(in crate::cli) struct Jam<'a> {
    /// Knows the song.
    pub desk: Desk,
    /// What to play to and by what hand.
    pub live: &'a Live,
    /// What to play to, opened.
    pub stage: Stage,
    /// The clock that the stage was opened on.
    pub clock: MonotonicClock,
    /// The MIDI input whose clock is followed.
    pub follow: Option<&'a str>,
    /// How the player is heard, if they may be.
    pub listen: Option<Heard<'a>>,
    /// A drill, if it is one.
    pub drilling: Option<Drilling>,
}

/// How a player is heard, and what they are to be reviewed by.
pub(in crate::cli) struct Heard<'a> {
    /// What was asked for.
    pub listen: &'a Listen,
    /// What they asked for before the first key was pressed.
    pub asked: Rehearsal,
    /// The song's file.
    pub song: &'a Path,
}

impl Jam<'_> {
    /// Plays until the song is over or the player stops.
    pub(in crate::cli) fn play(mut self) -> Result<ExitCode, Failure> {
        let (control, caught) = interruptible()?;
        let opening = self.desk.open().map_err(Failure::usage)?;
        let (mut engine, ends) = engine(Settings {
            score: opening.score,
            tempo: opening.tempo,
            clock: self.live.clock_sent(),
            plays_on: true,
        });
        for supply in self.stage.outputs.drain(..) {
            engine.install(supply);
        }
        let mut remote = ends.remote;
        for command in opening.commands {
            send(&mut remote, command);
        }
        let keeper = std::mem::take(&mut self.stage.keeper);
        let keeping = keep(keeper, ends.door.lost, ends.door.supplies).map_err(Failure::failed)?;
        let outside = self.follow.map(|name| (name, ends.follow, opening.tempo));
        let title = &self.desk.song().title;
        let epoch = self.clock.epoch();
        let begun = self.listen.as_ref().map(|heard| heard.listen.begin(title, epoch));
        let (mut listening, ear) = begun.transpose()?.flatten().unzip();
        let instrument = listening.as_ref().map(|it| it.wanted.as_str()).zip(ear.flatten());
        let pedal = self.live.pedal.as_deref();
        let hands = Hands::open(pedal, outside, instrument, epoch)?;
        for name in &self.stage.names {
            tell(format!("playing to {name}"));
        }
        let clock = self.clock;
        let (refuse, refusals) = unbounded();
        let table = Table {
            desk: &mut self.desk,
            remote,
            // These two before the first note: a program in the background stands still when it takes
            // the terminal, and one that stands still sends no note-off.
            suspension: Suspension::catch().unwrap_or_default(),
            front: Front::open(self.live.plain),
            refusals,
            keeping: &keeping,
            hands: &hands,
            outside: Outside::Awaited,
            volume: self.stage.sounds.then_some(&self.stage.volume),
            drilling: self.drilling.as_mut(),
            player: listening.as_mut().map(|it| Player {
                // What a microphone hears is kept as sound, by itself.
                meanwhile: it.record.clone().filter(|_| it.ears.is_none()).map(Meanwhile::new),
                tape: &mut it.tape,
                ears: it.ears.as_ref(),
                noticed: None,
                seen: (0, 0),
            }),
            output: self.stage.names.join(" and "),
            clock,
            has_pedal: pedal.is_some(),
            touched: Instant::now(),
            status: None,
            lost: [false; 2],
        };
        let result = beside(engine, &clock, &control, &refuse, || table.follow(&control, &caught));
        drop((keeping, hands));
        // First what can't be had again.
        let kept = listening.as_mut().map(Listening::keep).transpose();
        after(&result?);
        if let (Some(heard), Some(recorded)) = (&self.listen, kept?.flatten()) {
            heard.tell_how_it_went(&self.desk, recorded);
        }
        Ok(caught.exit_status().map_or(ExitCode::SUCCESS, ExitCode::from))
    }
}

impl Heard<'_> {
    /// Tells a player how it went, once it is over.
    fn tell_how_it_went(&self, desk: &Desk, recorded: &Recorded) {
        let song = self.song.to_string_lossy();
        match self.asked.review_recorded(recorded, false, desk.times(), &song) {
            // Somebody whose terminal has gone has the file.
            Ok(review) => {
                _ = say_to_stdout(&words(&review, WIDE));
                let told = (!self.listen.no_log).then(|| diary::keep(&review)).flatten();
                told.into_iter().for_each(tell);
            }
            Err(why) => tell(format!("no review: {why}")),
        }
    }
}

fn send(remote: &mut Remote, command: Command) {
    // Without room the playing thread stands still or is over, and nothing can be told to it.
    let _ = remote.send(command);
}

/// Where all of it comes together while the band plays.
struct Table<'a> {
    desk: &'a mut Desk,
    remote: Remote,
    front: Front,
    /// Why the band's thread runs at ordinary priority.
    refusals: Receiver<String>,
    keeping: &'a Keeping,
    hands: &'a Hands,
    /// How the outside clock stood when it was last looked at.
    outside: Outside,
    /// Of the built-in sound, if it plays.
    volume: Option<&'a Volume>,
    drilling: Option<&'a mut Drilling>,
    /// The player, if they are heard.
    player: Option<Player<'a>>,
    output: String,
    clock: MonotonicClock,
    suspension: Suspension,
    /// True if a foot may act, which wakes nobody.
    has_pedal: bool,
    /// When the player last did something.
    touched: Instant,
    status: Option<Status>,
    /// Which of the outputs are gone: port, sound.
    lost: [bool; 2],
}

impl Table<'_> {
    /// Until the song is over, the player stops, or `control` is stopped.
    fn follow(mut self, control: &Control, caught: &Caught) -> Result<(), Failure> {
        // Silence first, before the terminal and the files, on a panic too.
        let stop = StopOnDrop(control);
        if let Some(drilling) = &self.drilling {
            let words = drilling.words();
            self.front.say(&words);
        }
        if self.hands.outside.is_some() {
            let go = Action::PauseOrGo.key();
            self.front
                .say(&format!("the outside clock's start begins the song; {go} does without"));
        }
        let mut gone_since: Option<Instant> = None;
        // All threads have been started by now.
        raise_hand_priority();
        while !self.remote.is_over() && !control.is_stopping() {
            if self.keeping.has_broken_off() || self.hands.has_broken_off() {
                let what = "what looks after the ports broke off";
                return Err(Failure::failed(format!("{what}: {PLEASE_REPORT}")));
            }
            let input = match self.front.poll(self.patience()) {
                Ok(input) => {
                    gone_since = None;
                    input
                }
                // A terminal that has gone can't be waited for. Its hang-up comes as a signal, or not at all.
                Err(_) => {
                    if gone_since.get_or_insert_with(Instant::now).elapsed() > HANG_UP {
                        caught.hang_up();
                        break;
                    }
                    thread::sleep(PATIENCE);
                    None
                }
            };
            // Whoever read the lines has enough.
            if self.front.is_read_no_more() {
                break;
            }
            let stop = match input {
                Some(Input::Action(action)) => self.act(action),
                Some(Input::Interrupt) => {
                    caught.interrupt();
                    true
                }
                Some(Input::Suspend) => {
                    self.suspend();
                    false
                }
                Some(Input::Redraw) | None => false,
            };
            let pedals: Vec<Action> = self.hands.actions.try_iter().collect();
            let stop = pedals.into_iter().fold(stop, |stop, action| self.act(action) || stop);
            if stop {
                break;
            }
            if self.suspension.asked() {
                self.suspend();
            }
            self.hear();
            self.draw();
        }
        drop(stop);
        let now = self.clock.now();
        self.hear();
        if let Some(player) = &mut self.player {
            player.tape.stop(now);
        }
        if let (Some(drilling), Some(status)) = (&mut self.drilling, self.status) {
            let notice = drilling.keep(self.desk.speed(&status), false);
            drop(self.front);
            notice.into_iter().for_each(tell);
        }
        Ok(())
    }

    /// How long to wait for the player's hand.
    fn patience(&self) -> Duration {
        let rests = self.status.is_some_and(|status| status.standing == Standing::Paused);
        let still = self.touched.elapsed() > A_WHILE;
        let awaited = self.has_pedal || self.player.is_some();
        if rests && still && !awaited { AT_REST } else { PATIENCE }
    }

    /// Does what the player asks. True if that is to stop.
    fn act(&mut self, action: Action) -> bool {
        // What the player acts on is the present: this thread may have been put aside since it looked.
        self.touched = Instant::now();
        self.hear();
        let Some(status) = self.status else { return action == Action::Quit };
        let answer = self.desk.act(action, &status, self.clock.now());
        let ask = answer.ask;
        self.answer(answer);
        match ask {
            None => {}
            Some(Ask::Help) => self.front.help(),
            Some(Ask::Quit) => return true,
            Some(Ask::Louder) => self.turn(VOLUME_STEP),
            Some(Ask::Softer) => self.turn(-VOLUME_STEP),
            Some(Ask::GotIt) => self.next_lesson(&status, true),
            Some(Ask::NextChange) => self.next_lesson(&status, false),
        }
        false
    }

    fn answer(&mut self, answer: Answer) {
        for command in answer.commands {
            send(&mut self.remote, command);
        }
        if let Some(message) = answer.message {
            self.front.say(&message);
        }
    }

    fn turn(&mut self, by: i8) {
        let said = match self.volume {
            Some(volume) => format!("volume {} %", volume.turn(by)),
            None => {
                "the synth at the port has a volume of its own; these keys turn the built-in sound"
                    .to_owned()
            }
        };
        self.front.say(&said);
    }

    fn next_lesson(&mut self, status: &Status, learnt: bool) {
        let speed = self.desk.speed(status);
        let Some(drilling) = &mut self.drilling else {
            self.front.say("this key is for a drill: openchair drill SONG");
            return;
        };
        let notice = drilling.keep(speed, learnt);
        drilling.go_on();
        let (song, ramp, mut words) = (drilling.song(), drilling.ramp(), drilling.words());
        if learnt {
            words = format!("learnt at {speed:.0} %; {words}");
        }
        match self.desk.take_up(song, Some(ramp), status) {
            Ok(answer) => self.answer(answer),
            Err(why) => self.front.say(&why.to_string()),
        }
        self.front.say(notice.as_deref().unwrap_or(&words));
    }

    /// Takes in how the band stands, and what the keeper of the outputs says.
    fn hear(&mut self) {
        while let Some(status) = self.remote.next_status() {
            self.status = Some(status);
            for command in self.desk.watch(&status) {
                send(&mut self.remote, command);
            }
            if let Some(song) = self.desk.arrangement(status.score).map(Arc::clone) {
                let [now, next] = self.open(&song, &status);
                let open = now.as_deref().map(|now| Open { now, next: next.as_deref() });
                self.front.follow(&song, &status, self.desk.chairs(), open);
                if let Some(player) = &mut self.player {
                    player.tape.follow(&status, &song);
                }
            }
        }
        if let Some(player) = &mut self.player {
            if player.listen() {
                self.front.say("your instrument is heard");
            }
            let notices = player.ears.map(|ears| ears.notices.try_iter());
            notices.into_iter().flatten().for_each(|notice| self.front.say(&notice));
        }
        // Drops the scores that are played no more.
        self.remote.status();
        let notices: Vec<KeeperNotice> = self.keeping.notices().collect();
        for notice in notices {
            let lost = !matches!(notice, KeeperNotice::Back { .. });
            match (notice.slot(), &mut self.lost) {
                (Slot::Port, [port, _]) => *port = lost,
                (Slot::Sound, [_, sound]) => *sound = lost,
            }
            self.front.say(&notice.to_string());
        }
        for notice in self.refusals.try_iter().chain(self.hands.notices.try_iter()) {
            self.front.say(&notice);
        }
        if let Some(outside) = &self.hands.outside {
            let stands = outside.at(self.clock.now());
            match (self.outside, stands) {
                (Outside::Awaited, Outside::Heard(_)) => {
                    self.front.say("the outside clock is heard")
                }
                (Outside::Heard(_), Outside::Lost(_)) => {
                    self.front.say("the outside clock is silent: its last tempo is kept");
                }
                (Outside::Lost(_), Outside::Heard(_)) => {
                    self.front.say("the outside clock is back")
                }
                _ => {}
            }
            self.outside = stands;
        }
    }

    /// What the band leaves open with the chairs of now, and with those of the next pass if they are told.
    fn open(&mut self, song: &Arrangement, status: &Status) -> [Option<Arc<Coverage>>; 2] {
        self.silent(song, status).map(|silent| self.desk.coverage(status.score, silent?))
    }

    /// Who is silent now, and who in the next pass if that is told.
    fn silent(&self, song: &Arrangement, status: &Status) -> [Option<RoleSet>; 2] {
        let next = silent_next(status, song, self.desk.chairs());
        [Some(status.muted.union(status.out)), next]
    }

    fn draw(&mut self) {
        let Some(status) = self.status else { return };
        let Some(song) = self.desk.arrangement(status.score).map(Arc::clone) else { return };
        let [now, next] = self.open(&song, &status);
        let swing = self.desk.swing(status.score);
        if let Some(player) = &mut self.player {
            player.look(&song, &status, swing);
        }
        let [tab, next_tab] =
            self.silent(&song, &status).map(|silent| self.desk.tab(status.score, silent?));
        let facts = Facts {
            style: &self.desk.style().name,
            base: self.desk.full_tempo(),
            whole: self.desk.whole_of(status.score).map_or(&*song, |whole| whole),
            mark: self.desk.mark(),
            rounds: self.desk.rounds(),
            rounds_before: self.desk.rounds_before(),
            loop_bars: self.desk.stretch().map(|bars| (*bars.start(), *bars.end())),
            chairs: self.desk.chairs(),
            output: &self.output,
            message: None,
            drill: self.drilling.as_ref().map(|drilling| Drill {
                change: drilling.change(),
                number: drilling.number(),
                mark: drilling.mark(),
            }),
            open: now.as_deref().map(|now| Open { now, next: next.as_deref() }),
            chords: self.desk.shown().chords,
            tab: tab
                .as_deref()
                .map(|now| Tab { now, next: next_tab.as_ref().map(|next| next.as_slice()) }),
            listens: self.player.is_some(),
            noticed: self.player.as_ref().and_then(|player| player.noticed.as_ref()),
        };
        // A terminal that has gone must not stop the band; its hang-up comes as a signal.
        let _ = self.front.draw(&song, &status, facts, self.clock.now());
    }

    /// Ctrl-Z: silence, then the terminal, then the program stands still until it is called back.
    fn suspend(&mut self) {
        // At the very beginning nothing is known yet, but it was told to play.
        let playing = self.status.is_none_or(|status| status.standing != Standing::Paused);
        send(&mut self.remote, Command::Pause);
        let give_up = Instant::now() + SILENCE;
        while self.status.is_none_or(|status| status.standing != Standing::Paused)
            && Instant::now() < give_up
        {
            thread::sleep(PATIENCE);
            self.hear();
        }
        thread::sleep(LAST_PERIOD);
        // A sound server waits for its clients, and one that stands still holds up all the others.
        let closing = self.keeping.rest();
        send(&mut self.remote, Command::HandBack);
        let _ = closing.recv_timeout(CLOSING);
        self.front.leave();
        let stood = Suspension::stand_still();
        self.keeping.wake();
        if let Err(error) = self.front.enter().and(stood) {
            self.front.say(&format!("the terminal did not come back whole: {error}"));
        }
        // Whoever has keys goes on when both hands are ready.
        if playing && !self.front.has_keys() {
            let give_up = Instant::now() + CLOSING;
            while self.status.is_some_and(|status| status.lost) && Instant::now() < give_up {
                thread::sleep(PATIENCE);
                self.hear();
            }
            send(&mut self.remote, Command::Go);
        }
    }
}

#[cfg(test)]
#[path = "jam_tests.rs"]
mod tests;
