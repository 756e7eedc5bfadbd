use std::io::{self, IsTerminal, Stdout, Write};
use std::mem::ManuallyDrop;
use std::panic;
use std::sync::Once;
use std::sync::atomic::{AtomicU8, Ordering};
use std::time::{Duration, Instant};

use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::cursor::{Hide, Show};
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use ratatui::crossterm::terminal::{
    BeginSynchronizedUpdate, EndSynchronizedUpdate, EnterAlternateScreen, LeaveAlternateScreen,
    disable_raw_mode, enable_raw_mode,
};
use ratatui::crossterm::{execute, queue};
use ratatui::layout::Rect;

use super::cells::Look;
use super::draw::draw;
use super::help::{draw_help, help_pages};
use super::view::View;
use crate::live::{Action, Key};

/// Between two drawings at least: thirty a second, a fifth of what a hand needs to feel a delay.
const BETWEEN: Duration = Duration::from_millis(33);

/// How much of the terminal is ours: nothing, its keys, or its keys and its screen. One for the
/// process, as the terminal is.
static TAKEN: AtomicU8 = AtomicU8::new(NOTHING);
const NOTHING: u8 = 0;
const KEYS: u8 = 1;
const SCREEN: u8 = 2;

/// What the player or the terminal did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// A key was pressed that does something.
    Action(Action),
    /// The screen has another size, or shows another page of the help: draw again.
    Redraw,
    /// Ctrl-C: the end, and not as one that was asked for by its own key.
    Interrupt,
    /// Ctrl-Z: [`Screen::leave`], stop the process, and [`Screen::enter`] when it goes on.
    Suspend,
}

/// The terminal as the band's screen, from [`Screen::new`] until it is dropped. However the program
/// ends, a panic in any thread included, the terminal is as it was before.
#[derive(Debug)]
pub struct Screen {
    /// Never dropped: of a terminal that has gone it would complain to standard error, which has gone too, and that
    /// is a panic (ratatui 0.30). [`leave`] shows the cursor again.
    terminal: ManuallyDrop<Terminal<CrosstermBackend<Stdout>>>,
    look: Look,
    /// The page of the help that is shown.
    help: Option<usize>,
    /// What is on the screen.
    shown: Option<(View, Option<usize>)>,
    drawn_at: Option<Instant>,
}

impl Screen {
    /// Takes the terminal over. Colours are used unless `NO_COLOR` is set (no-color.org).
    ///
    /// # Errors
    /// Standard output is no terminal, or it refuses.
    pub fn new() -> io::Result<Self> {
        if !io::stdout().is_terminal() {
            return Err(io::Error::other("standard output is no terminal"));
        }
        leave_on_panic();
        let colour = std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
        enter()?;
        let terminal =
            Terminal::new(CrosstermBackend::new(io::stdout())).inspect_err(|_| leave())?;
        let terminal = ManuallyDrop::new(terminal);
        Ok(Self { terminal, look: Look { colour }, help: None, shown: None, drawn_at: None })
    }

    /// Takes the terminal over again after [`Screen::leave`].
    ///
    /// # Errors
    /// The terminal refuses.
    pub fn enter(&mut self) -> io::Result<()> {
        enter()?;
        self.shown = None;
        self.terminal.clear()
    }

    /// Gives the terminal back as it was.
    pub fn leave(&mut self) {
        leave();
    }

    /// Shows a view. Does nothing if it is on the screen already, or another was drawn less than
    /// 33 ms ago: call it again after the next [`Screen::poll`]. While the terminal is not ours (after
    /// [`Screen::leave`], or a panic in another thread) nothing is drawn.
    ///
    /// # Errors
    /// The terminal is gone.
    pub fn draw(&mut self, view: &View) -> io::Result<()> {
        let same =
            self.shown.as_ref().is_some_and(|(shown, help)| shown == view && *help == self.help);
        let soon = self.drawn_at.is_some_and(|at| at.elapsed() < BETWEEN);
        if same || soon || TAKEN.load(Ordering::Acquire) != SCREEN {
            return Ok(());
        }
        let (look, help) = (self.look, self.help);
        queue!(io::stdout(), BeginSynchronizedUpdate)?;
        let drawn = self.terminal.draw(|frame| match help {
            Some(page) => draw_help(page, frame.area(), frame.buffer_mut()),
            None => draw(view, look, frame.area(), frame.buffer_mut()),
        });
        let drawn = drawn.map(|_| ());
        execute!(io::stdout(), EndSynchronizedUpdate)?;
        drawn?;
        self.shown = Some((view.clone(), help));
        self.drawn_at = Some(Instant::now());
        Ok(())
    }

    /// Waits for a key or another size, `timeout` at most. The key for help is answered here: it shows
    /// the keys, their next page, and at last none.
    ///
    /// # Errors
    /// The terminal is gone.
    pub fn poll(&mut self, timeout: Duration) -> io::Result<Option<Input>> {
        let Some(event) = next_event(timeout)? else { return Ok(None) };
        Ok(match event {
            Event::Resize(..) => {
                self.shown = None;
                self.drawn_at = None;
                Some(Input::Redraw)
            }
            Event::Key(key) => match (input(key), self.help) {
                (Some(Input::Action(Action::Help)), page) => {
                    let size = self.terminal.size()?;
                    let pages = help_pages(Rect::new(0, 0, size.width, size.height));
                    let next = page.map_or(0, |page| page + 1);
                    self.help = (next < pages).then_some(next);
                    Some(Input::Redraw)
                }
                (Some(Input::Action(Action::Quit)), Some(_)) if key.code == KeyCode::Esc => {
                    self.help = None;
                    Some(Input::Redraw)
                }
                (input, _) => input,
            },
            _ => None,
        })
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        leave();
    }
}

/// The keys of a terminal whose screen goes on line by line: each is there at once, without Enter.
/// What is printed meanwhile must end its lines with a carriage return too.
#[derive(Debug)]
pub struct Keyboard(());

impl Keyboard {
    /// Takes the keys over, until it is dropped.
    ///
    /// # Errors
    /// Standard input is no terminal, or it refuses.
    pub fn new() -> io::Result<Self> {
        leave_on_panic();
        take_keys()?;
        Ok(Self(()))
    }

    /// Takes them over again after [`Keyboard::leave`].
    ///
    /// # Errors
    /// The terminal refuses.
    pub fn enter(&mut self) -> io::Result<()> {
        take_keys()
    }

    /// Gives them back.
    pub fn leave(&mut self) {
        leave();
    }

    /// Waits for a key, `timeout` at most.
    ///
    /// # Errors
    /// The terminal is gone.
    pub fn poll(&mut self, timeout: Duration) -> io::Result<Option<Input>> {
        Ok(match next_event(timeout)? {
            Some(Event::Key(key)) => input(key),
            _ => None,
        })
    }
}

impl Drop for Keyboard {
    fn drop(&mut self) {
        leave();
    }
}

fn take_keys() -> io::Result<()> {
    let nothing =
        TAKEN.compare_exchange(NOTHING, KEYS, Ordering::AcqRel, Ordering::Acquire).is_ok();
    if nothing { enable_raw_mode().inspect_err(|_| leave()) } else { Ok(()) }
}

fn enter() -> io::Result<()> {
    if TAKEN.swap(SCREEN, Ordering::AcqRel) == SCREEN {
        return Ok(());
    }
    let entered =
        enable_raw_mode().and_then(|()| execute!(io::stdout(), EnterAlternateScreen, Hide));
    entered.inspect_err(|_| leave())
}

/// Safe to call at any time and from any thread; only the first call after an entry does anything.
fn leave() {
    let taken = TAKEN.swap(NOTHING, Ordering::AcqRel);
    if taken == NOTHING {
        return;
    }
    // Each by itself: where one fails, the others still help.
    let mut out = io::stdout();
    if taken == SCREEN {
        let _ = queue!(out, EndSynchronizedUpdate);
        let _ = queue!(out, LeaveAlternateScreen);
        let _ = queue!(out, Show);
    }
    let _ = out.flush();
    let _ = disable_raw_mode();
}

/// From now on a panic gives the terminal back before it is reported.
fn leave_on_panic() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let report = panic::take_hook();
        panic::set_hook(Box::new(move |panic| {
            leave();
            report(panic);
        }));
    });
}

/// The next thing that happens in the terminal, if it does within `timeout`.
fn next_event(timeout: Duration) -> io::Result<Option<Event>> {
    if event::poll(wait(timeout)?)? { event::read().map(Some) } else { Ok(None) }
}

/// Waits until something happens in the terminal, and gives how long is still to be waited for it.
///
/// The library that reads the keys must not be the one to wait: of a terminal that is gone it reads
/// nothing again and again, and never comes back (crossterm 0.29).
///
/// # Errors
/// The terminal is gone.
#[cfg(unix)]
fn wait(timeout: Duration) -> io::Result<Duration> {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};

    let input = io::stdin();
    let mut ready = [PollFd::new(&input, PollFlags::IN)];
    let longest = Timespec::try_from(timeout).ok();
    match poll(&mut ready, longest.as_ref()) {
        // A signal may have brought another size.
        Ok(_) | Err(rustix::io::Errno::INTR) => {}
        Err(error) => return Err(error.into()),
    }
    let [ready] = ready;
    let happened = ready.revents();
    if happened.intersects(PollFlags::HUP | PollFlags::ERR) {
        return Err(io::Error::new(io::ErrorKind::BrokenPipe, "the terminal is gone"));
    }
    // Some systems can't wait for a terminal in this way.
    Ok(if happened.contains(PollFlags::NVAL) { timeout } else { Duration::ZERO })
}

#[cfg(not(unix))]
fn wait(timeout: Duration) -> io::Result<Duration> {
    Ok(timeout)
}

/// True if the keys of the terminal are this program's to read. A program that a shell runs in the
/// background (`&`) is stopped by the system if it takes them.
pub fn has_keys() -> bool {
    io::stdin().is_terminal() && in_foreground()
}

#[cfg(unix)]
fn in_foreground() -> bool {
    let ours = rustix::process::getpgrp();
    rustix::termios::tcgetpgrp(io::stdin()).is_ok_and(|front| front == ours)
}

#[cfg(not(unix))]
fn in_foreground() -> bool {
    true
}

/// What a key press means.
fn input(key: KeyEvent) -> Option<Input> {
    // Some systems tell of a key's release too.
    if key.kind == KeyEventKind::Release {
        return None;
    }
    if key.modifiers.contains(KeyModifiers::CONTROL) {
        return match key.code {
            KeyCode::Char('c' | 'C') => Some(Input::Interrupt),
            KeyCode::Char('z' | 'Z') => Some(Input::Suspend),
            _ => None,
        };
    }
    if key.modifiers.contains(KeyModifiers::ALT) {
        return None;
    }
    let key = match key.code {
        KeyCode::Char(' ') => Key::Space,
        KeyCode::Char(sign) => Key::Char(sign),
        KeyCode::Enter => Key::Enter,
        KeyCode::Esc => Key::Escape,
        KeyCode::Backspace => Key::Backspace,
        KeyCode::Left => Key::Left,
        KeyCode::Right => Key::Right,
        KeyCode::Up => Key::Up,
        KeyCode::Down => Key::Down,
        KeyCode::PageUp => Key::PageUp,
        KeyCode::PageDown => Key::PageDown,
        _ => return None,
    };
    let lower = match key {
        // With the capitals locked the keys do the same.
        Key::Char(sign) => Key::Char(sign.to_ascii_lowercase()),
        other => other,
    };
    Action::of_key(key).or_else(|| Action::of_key(lower)).map(Input::Action)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn press(code: KeyCode, modifiers: KeyModifiers) -> Option<Input> {
        input(KeyEvent::new(code, modifiers))
    }

    #[test]
    fn keys_do_what_the_table_says() {
        let plain = |code| press(code, KeyModifiers::NONE);
        assert_eq!(plain(KeyCode::Char(' ')), Some(Input::Action(Action::PauseOrGo)));
        assert_eq!(plain(KeyCode::PageDown), Some(Input::Action(Action::SectionForward)));
        assert_eq!(
            press(KeyCode::Char('?'), KeyModifiers::SHIFT),
            Some(Input::Action(Action::Help))
        );
        assert_eq!(plain(KeyCode::Char('L')), Some(Input::Action(Action::LoopSection)));
        assert_eq!(plain(KeyCode::F(5)), None);
    }

    #[test]
    fn control_keys_stop_and_suspend() {
        let control = |sign| press(KeyCode::Char(sign), KeyModifiers::CONTROL);
        assert_eq!(control('c'), Some(Input::Interrupt));
        assert_eq!(control('z'), Some(Input::Suspend));
        assert_eq!(control('b'), None);
        assert_eq!(press(KeyCode::Char('b'), KeyModifiers::ALT), None);
    }

    #[test]
    fn letting_a_key_go_does_nothing() {
        let mut key = KeyEvent::new(KeyCode::Char(' '), KeyModifiers::NONE);
        key.kind = KeyEventKind::Release;
        assert_eq!(input(key), None);
    }
}
