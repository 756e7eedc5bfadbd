use std::ops::RangeInclusive;

use super::super::{Command, Status};
use super::{Answer, ChordsAs, Desk};
use crate::backup::{CHAIR, Level};
use crate::chart::RoleSet;
use crate::practice::Chairs;
use crate::theory::Key;

/// What a hand on a screen asks for: a place or a value itself, where a key of the keyboard knows only a step.
#[derive(Clone, Debug, PartialEq)]
pub enum Touch {
    /// The bar of that number, after the next bar line.
    Bar(usize),
    /// These bars go round, by their numbers.
    Loop(RangeInclusive<usize>),
    /// A practice speed, in percent.
    Speed(f64),
    /// A key.
    Key(Key),
    /// A banjo in the open chair, or none.
    Banjo(Option<Level>),
    /// Whose chair is open in which pass.
    Chairs(Chairs),
    /// The level of the tab that is shown, or none.
    Tab(Option<Level>),
    /// How chords are written.
    Chords(ChordsAs),
}

impl Desk {
    /// What a touch leads to. `status` is the latest.
    pub fn touch(&mut self, touch: Touch, status: &Status) -> Answer {
        match touch {
            Touch::Bar(number) => self.head_for(self.number(status), number),
            Touch::Speed(percent) => self.at_speed(percent),
            Touch::Loop(_) | Touch::Key(_) if self.wish.drills => {
                Answer::say("a drill keeps its key and goes round as it is")
            }
            Touch::Loop(bars) => self.loop_bars(bars),
            Touch::Key(key) => self.in_key(key, status),
            Touch::Banjo(level) => self.fill(level),
            Touch::Chairs(chairs) => {
                self.rehearsal.set_chairs(chairs);
                let said = match chairs {
                    Chairs::AsWritten => "all chairs as the song has them",
                    Chairs::Turns => "another chair is open in each pass",
                    Chairs::Surprise { announced: true, .. } => "surprises, told a pass before",
                    Chairs::Surprise { announced: false, .. } => "surprises in each pass",
                };
                Answer::say(said).with(Command::Chairs(chairs))
            }
            Touch::Tab(level) => {
                self.shown.tab = level;
                Answer::default()
            }
            Touch::Chords(how) => {
                self.shown.chords = how;
                Answer::default()
            }
        }
    }

    /// Another player in the open chair, or nobody; a banjo of the band's own leaves it first.
    fn fill(&mut self, level: Option<Level>) -> Answer {
        let (banjo, band) = (self.rehearsal.wishes().banjo, self.rehearsal.wishes().band.clone());
        let others = |set: RoleSet| set.iter().filter(|role| *role != CHAIR).collect::<Vec<_>>();
        if level.is_some() && self.whole.band.contains(CHAIR) {
            self.rehearsal.set_band(others(self.whole.band));
        }
        self.rehearsal.set_banjo(level);
        let mut answer = Answer::say(match level {
            Some(level) => format!("with a banjo: {level}"),
            None => "your chair is open".to_owned(),
        });
        if !self.add_score(&mut answer) {
            self.rehearsal.set_banjo(banjo);
            self.rehearsal.set_band(band);
            return answer;
        }
        self.shown.tab = level.or(self.shown.tab);
        self.muted = others(self.muted).into_iter().collect();
        answer.with(Command::Mute(self.muted))
    }
}
