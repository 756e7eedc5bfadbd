use std::ops::RangeInclusive;

use super::super::{Action, Command, Standing, Status};
use super::shown::next_level;
use super::{Answer, Ask, Desk};
use crate::backup::CHAIR;
use crate::chart::Role;
use crate::theory::Key;
use crate::theory::fretboard::banjo::choose_banjo_capo;
use crate::time::Nanos;

/// A step of the tempo, in percent of the song's own.
const STEP: f64 = 4.0;

/// The slowest and the fastest practice speed that keys reach, in percent.
const SPEEDS: RangeInclusive<f64> = 10.0..=200.0;

impl Desk {
    /// What a player's action leads to. `status` is the latest.
    pub fn act(&mut self, action: Action, status: &Status, now: Nanos) -> Answer {
        match action {
            Action::PauseOrGo if status.standing == Standing::Paused => {
                Answer::default().with(Command::Go)
            }
            Action::PauseOrGo => Answer::default().with(Command::Pause),
            Action::Silence => Answer::say("silence").with(Command::Silence),
            // Who plays by an outside clock can't leave it: the count takes the place of the next bar.
            Action::CountIn if self.wish.follows && status.standing == Standing::Playing => {
                Answer::say("count-in from the next bar line").with(Command::CountIn(1))
            }
            Action::CountIn if status.standing == Standing::Paused => {
                Answer::default().with(Command::CountIn(1))
            }
            // What is paused goes on from the beginning of its bar.
            Action::CountIn => Answer::default().with(Command::Pause).with(Command::CountIn(1)),
            Action::BarBack => self.jump(status, |at, _| at.saturating_sub(1)),
            // While a bar is played, the next one comes anyway: forward means the one after it.
            // From a kickoff, whose bars are all number 0, the form's first bar is forward.
            Action::BarForward => {
                self.jump(status, |at, playing| at + if playing && at > 0 { 2 } else { 1 })
            }
            Action::SectionBack => self.section_back(status),
            Action::SectionForward => self.section_forward(status),
            Action::Slower => self.at_speed(self.speed - STEP),
            Action::Faster => self.at_speed(self.speed + STEP),
            Action::SpeedQuarter => self.at_speed(25.0),
            Action::SpeedHalf => self.at_speed(50.0),
            Action::SpeedThreeQuarters => self.at_speed(75.0),
            Action::SpeedFull => self.at_speed(100.0),
            Action::Tap => match self.taps.tap(now) {
                Some(beats) => self.at_speed(beats / self.base * 100.0),
                None => Answer::say("tap on"),
            },
            Action::SitOut(role) => self.sit_out(role, status),
            Action::ChangeClicks => {
                self.wish.change_clicks = !self.wish.change_clicks;
                let on = if self.wish.change_clicks { "on" } else { "off" };
                Answer::say(format!("clicks before a change: {on}"))
                    .with(Command::ChangeClicks(self.wish.change_clicks))
            }
            Action::KeyUp | Action::KeyDown if self.wish.drills => {
                Answer::say("a drill keeps its key: choose it at the start with --key")
            }
            Action::KeyUp => self.transpose(1, status),
            Action::KeyDown => self.transpose(-1, status),
            Action::LoopSection | Action::LoopFrom | Action::LoopTo | Action::LoopOff
                if self.wish.drills =>
            {
                Answer::say("a drill goes round as it is")
            }
            Action::LoopSection if self.stretch.is_some() => self.stop_looping(),
            Action::LoopSection => match self.pass_of(self.number(status)) {
                Some(pass) => self.loop_bars(pass),
                None => Answer::default(),
            },
            Action::LoopFrom => {
                // A loop begins with the form, though the mark be set before it.
                let number = self.number(status).max(1);
                self.mark = Some(number);
                let to = Action::LoopTo.key();
                Answer::say(format!("a loop from bar {number}; {to} at its last bar"))
            }
            Action::LoopTo => {
                let to = self.number(status);
                let first = self.pass_of(to).map_or(1, |pass| *pass.start());
                let from = self.mark.take().unwrap_or(first);
                self.loop_bars(from.min(to)..=from.max(to))
            }
            Action::LoopOff => self.stop_looping(),
            Action::ChordNames => {
                self.shown.chords = self.shown.chords.next(choose_banjo_capo(self.whole.key));
                Answer::say(self.shown.chords.words())
            }
            Action::Tab => {
                self.shown.tab = next_level(self.shown.tab);
                Answer::say(match self.shown.tab {
                    Some(level) => format!("tab of the coming bar: {level}"),
                    None => "no tab of the coming bar".to_owned(),
                })
            }
            Action::Louder => Answer::ask(Ask::Louder),
            Action::Softer => Answer::ask(Ask::Softer),
            Action::GotIt => Answer::ask(Ask::GotIt),
            Action::NextChange => Answer::ask(Ask::NextChange),
            Action::Help => Answer::ask(Ask::Help),
            Action::Quit => Answer::ask(Ask::Quit),
        }
    }

    /// A jump by bars; asked for again before the bar line it goes on from where the last one leads.
    fn jump(&mut self, status: &Status, to: impl Fn(usize, bool) -> usize) -> Answer {
        let here = self.number(status);
        let playing = status.standing == Standing::Playing;
        let target = match self.heading {
            Some((_, target)) => to(target, false),
            None => to(here, playing),
        };
        self.head_for(here, target)
    }

    pub(super) fn head_for(&mut self, here: usize, target: usize) -> Answer {
        let last = self.whole.bars.last().map_or(1, |bar| bar.number);
        let bars = self.stretch.clone().unwrap_or(1..=last);
        // A loop comes round: after its last bar is its first.
        let beyond = self.stretch.is_some() && target > *bars.end();
        let target = if beyond { *bars.start() } else { target };
        let target = target.clamp(*bars.start(), *bars.end());
        self.heading = Some((here, target));
        Answer::say(format!("to bar {target}")).with(Command::Jump(target))
    }

    fn section_back(&mut self, status: &Status) -> Answer {
        let here = self.number(status);
        let at = self.heading.map_or(here, |(_, target)| target);
        let first = self.pass_of(at).map_or(1, |pass| *pass.start());
        // From its first bar the section before is meant, from any other the section's own beginning.
        let target = if at > first {
            first
        } else {
            self.pass_of(first.saturating_sub(1)).map_or(1, |pass| *pass.start())
        };
        self.head_for(here, target)
    }

    fn section_forward(&mut self, status: &Status) -> Answer {
        let here = self.number(status);
        let at = self.heading.map_or(here, |(_, target)| target);
        let after = self.pass_of(at).map_or(at, |pass| *pass.end()) + 1;
        self.head_for(here, after)
    }

    /// The tempo at once; at the next bar line the score that was made for it.
    pub(super) fn at_speed(&mut self, percent: f64) -> Answer {
        if self.wish.follows {
            return Answer::say("the tempo is the outside clock's");
        }
        self.speed = percent.clamp(*SPEEDS.start(), *SPEEDS.end());
        // A hand on the tempo ends the climbing.
        self.wish.ramp = None;
        let tempo = self.tempo();
        let beats = tempo.beats_per_minute(self.rehearsal.song().meter);
        let mut answer = Answer::say(format!("{:.0} % · tempo {beats:.0}", self.speed));
        answer.commands.push(Command::Tempo(tempo));
        self.add_score(&mut answer);
        answer
    }

    fn transpose(&mut self, half_steps: i32, status: &Status) -> Answer {
        self.in_key(self.whole.key.moved(half_steps), status)
    }

    pub(super) fn in_key(&mut self, key: Key, status: &Status) -> Answer {
        let before = self.rehearsal.wishes().key;
        self.rehearsal.set_key(Some(key));
        let from = if status.standing == Standing::Playing { " from the next bar" } else { "" };
        let mut answer = Answer::say(format!("key of {key}{from}"));
        if !self.add_score(&mut answer) {
            self.rehearsal.set_key(before);
        }
        answer
    }

    fn sit_out(&mut self, role: Role, status: &Status) -> Answer {
        let filled = self.rehearsal.wishes().banjo.is_some();
        let there = self.whole.band.contains(role) || (filled && role == CHAIR);
        if !there {
            return self.join(role, status);
        }
        let out = self.muted.contains(role);
        let others = self.muted.iter().filter(|&other| other != role);
        self.muted = if out { others.collect() } else { self.muted.with(role) };
        let done = if out { "plays again" } else { "sits out" };
        let mut answer = Answer::say(format!("the {role} {done}")).with(Command::Mute(self.muted));
        // The banjo that fills the chair covers for whoever is out, from the next bar on.
        if filled && role != CHAIR {
            self.add_score(&mut answer);
        }
        answer
    }

    /// Brings in a role that was not in the line-up.
    fn join(&mut self, role: Role, status: &Status) -> Answer {
        if self.style().part(role).is_none() {
            return Answer::say(format!("{} has no part for the {role}", self.style().name));
        }
        let before = self.rehearsal.wishes().band.clone();
        self.rehearsal.set_band(self.whole.band.with(role).iter().collect());
        let from = if status.standing == Standing::Playing { " from the next bar" } else { "" };
        let mut answer = Answer::say(format!("the {role} comes in{from}"));
        if self.add_score(&mut answer) {
            self.muted = self.muted.iter().filter(|&other| other != role).collect();
            return answer.with(Command::Mute(self.muted));
        }
        self.rehearsal.set_band(before);
        answer
    }

    pub(super) fn loop_bars(&mut self, bars: RangeInclusive<usize>) -> Answer {
        let (from, to) = (*bars.start(), (*bars.end()).min(self.form_bars()));
        if to == 0 {
            return Answer::say("the kickoff can't be looped");
        }
        if from > to {
            return Answer::say("the ending can't be looped");
        }
        self.stretch = Some(from..=to);
        self.anew = true;
        self.mark = None;
        self.wish.ramp = None;
        self.rounds = None;
        let mut answer = Answer::say(if from == to {
            format!("looping bar {from}")
        } else {
            format!("looping bars {from} to {to}")
        });
        self.add_score(&mut answer);
        answer.with(Command::Rounds(None))
    }

    fn stop_looping(&mut self) -> Answer {
        self.mark = None;
        if self.stretch.take().is_none() {
            return Answer::say("nothing is looped");
        }
        self.wish.ramp = None;
        self.rounds = None;
        let mut answer = Answer::say("no more looping");
        self.add_score(&mut answer);
        answer.with(Command::Rounds(None))
    }
}
