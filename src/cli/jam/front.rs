use std::io::{self, IsTerminal};
use std::thread;
use std::time::{Duration, Instant};

use super::plain::Plain;
use crate::arrange::Arrangement;
use crate::cli::failure::tell;
use crate::cli::terminal::shows_a_screen;
use crate::live::{Action, BINDINGS, Status};
use crate::practice::Chairs;
use crate::screen::{Facts, Input, Keyboard, Open, Screen, View, has_keys};
use crate::time::Nanos;

/// How long something said stays on the screen.
const SHOWN_FOR: Duration = Duration::from_secs(4);

/// What the player sees, and the keys.
pub(super) struct Front {
    shape: Shape,
    said: Option<(String, Instant)>,
}

enum Shape {
    Screen(Box<Screen>),
    /// A line a bar, with keys if standard input is a terminal.
    Lines(Box<Plain>, Option<Keyboard>),
}

impl Front {
    /// The screen where there is one, or lines.
    pub(super) fn open(plain: bool) -> Self {
        let lines = || {
            // Somebody who reads a log or hears a screen reader has keys all the same.
            let keys = has_keys().then(|| Keyboard::new().ok()).flatten();
            let plain = Plain::new(keys.is_some());
            if keys.is_some() {
                plain.say(&format!("{}: all keys", Action::Help.key()));
            }
            Shape::Lines(Box::new(plain), keys)
        };
        let shape = if plain || !io::stdout().is_terminal() || !has_keys() || !shows_a_screen() {
            lines()
        } else {
            match Screen::new() {
                Ok(screen) => Shape::Screen(Box::new(screen)),
                Err(error) => {
                    tell(format!("this terminal shows no screen ({error}): a line a bar instead"));
                    lines()
                }
            }
        };
        Self { shape, said: None }
    }

    /// True if the player has keys to go on with.
    pub(super) const fn has_keys(&self) -> bool {
        matches!(self.shape, Shape::Screen(_) | Shape::Lines(_, Some(_)))
    }

    /// True if whoever read what is written line by line has gone away (`| head`).
    pub(super) fn is_read_no_more(&self) -> bool {
        matches!(&self.shape, Shape::Lines(plain, _) if plain.is_read_no_more())
    }

    /// Waits for the player's hand, so long at most.
    pub(super) fn poll(&mut self, patience: Duration) -> io::Result<Option<Input>> {
        match &mut self.shape {
            Shape::Screen(screen) => screen.poll(patience),
            Shape::Lines(_, Some(keys)) => keys.poll(patience),
            Shape::Lines(_, None) => {
                thread::sleep(patience);
                Ok(None)
            }
        }
    }

    /// Says something to the player.
    pub(super) fn say(&mut self, what: &str) {
        match &self.shape {
            Shape::Screen(_) => self.said = Some((what.to_owned(), Instant::now())),
            Shape::Lines(plain, Some(_)) => plain.say(what),
            Shape::Lines(_, None) => tell(what),
        }
    }

    /// Lists the keys where there is no screen to show them over.
    pub(super) fn help(&mut self) {
        if let Shape::Lines(plain, Some(_)) = &self.shape {
            for binding in BINDINGS {
                plain.say(&format!("{:<14}{}", binding.key_words(), binding.says));
            }
        }
    }

    /// Shows a status that is new. To be called for each, in order.
    pub(super) fn follow(
        &mut self,
        song: &Arrangement,
        status: &Status,
        chairs: Chairs,
        open: Option<Open<'_>>,
    ) {
        if let Shape::Lines(plain, _) = &mut self.shape {
            plain.show(song, status, chairs, open);
        }
    }

    /// Draws how the band stands now, if there is a screen.
    pub(super) fn draw(
        &mut self,
        song: &Arrangement,
        status: &Status,
        facts: Facts<'_>,
        now: Nanos,
    ) -> io::Result<()> {
        let Shape::Screen(screen) = &mut self.shape else { return Ok(()) };
        if self.said.as_ref().is_some_and(|(_, since)| since.elapsed() > SHOWN_FOR) {
            self.said = None;
        }
        let message = self.said.as_ref().map(|(said, _)| said.as_str());
        let facts = Facts { message, ..facts };
        screen.draw(&View::new(status, song, &facts, now))
    }

    /// Gives the terminal back for a while.
    pub(super) fn leave(&mut self) {
        match &mut self.shape {
            Shape::Screen(screen) => screen.leave(),
            Shape::Lines(_, Some(keys)) => keys.leave(),
            Shape::Lines(_, None) => {}
        }
    }

    /// Takes it again.
    pub(super) fn enter(&mut self) -> io::Result<()> {
        match &mut self.shape {
            Shape::Screen(screen) => screen.enter(),
            Shape::Lines(_, Some(keys)) => keys.enter(),
            Shape::Lines(_, None) => Ok(()),
        }
    }
}
