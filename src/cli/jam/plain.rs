use std::convert::Infallible;
use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use crossbeam_channel::{Receiver, Sender, bounded};

use crate::arrange::{Arrangement, bar_words, pass_words};
use crate::cli::failure::tell;
use crate::cli::terminal::shown;
use crate::live::{Action, Standing, Status};
use crate::practice::Chairs;
use crate::screen::{Open, Task, Told, announced};

/// Lines that may wait for a slow reader; past that they are left out rather than hold up the band.
const WAITING: usize = 1024;

/// How long the end waits for the last line: a screen that holds its output (Ctrl-S, a full pipe)
/// must not hold up the program.
const PATIENCE: Duration = Duration::from_millis(200);

/// What is shown where there is no screen: a line a bar, for logs, pipes and screen readers.
pub(super) struct Plain {
    lines: Option<Sender<String>>,
    /// Never gets anything; ends when the last line is written.
    written: Receiver<Infallible>,
    /// True once the reader has gone away.
    unread: Arc<AtomicBool>,
    /// What ends a line: in raw mode a terminal does not go back to the margin by itself.
    line_end: &'static str,
    /// True if the player has keys.
    keys: bool,
    shown: Shown,
}

/// What was shown last, so that nothing is shown twice.
#[derive(Debug, Default)]
struct Shown {
    standing: Option<Standing>,
    bar: Option<u32>,
    pass: Option<(usize, u32)>,
    told: Told,
}

impl Plain {
    /// Writes to standard output, on a thread of its own.
    pub(super) fn new(raw: bool) -> Self {
        let (lines, waiting) = bounded::<String>(WAITING);
        let (writing, written) = bounded(0);
        let unread = Arc::new(AtomicBool::new(false));
        let gone = Arc::clone(&unread);
        let writer = thread::Builder::new().name("openchair-lines".to_owned()).spawn(move || {
            let _writing: Sender<Infallible> = writing;
            for line in waiting {
                let mut out = io::stdout().lock();
                // Told, for it is the band that stops then. What else goes wrong must not stop it.
                let done = out.write_all(line.as_bytes()).and_then(|()| out.flush());
                if done.is_err_and(|error| error.kind() == io::ErrorKind::BrokenPipe) {
                    gone.store(true, Ordering::Release);
                    return;
                }
            }
        });
        if let Err(error) = writer {
            tell(format!("the bars can't be shown, the band plays on: {error}"));
        }
        let line_end = if raw { "\r\n" } else { "\n" };
        Self { lines: Some(lines), written, unread, line_end, keys: raw, shown: Shown::default() }
    }

    /// True if whoever read the lines has gone away.
    pub(super) fn is_read_no_more(&self) -> bool {
        self.unread.load(Ordering::Acquire)
    }

    /// Adds a line.
    pub(super) fn say(&self, line: &str) {
        if let Some(lines) = &self.lines {
            let _ = lines.try_send(format!("{}{}", shown(line, &io::stdout()), self.line_end));
        }
    }

    /// Shows what is new in how the band stands. To be called for every status.
    pub(super) fn show(
        &mut self,
        song: &Arrangement,
        status: &Status,
        chairs: Chairs,
        open: Option<Open<'_>>,
    ) {
        for line in self.shown.lines(song, status, chairs, open, self.keys) {
            self.say(&line);
        }
    }
}

impl Drop for Plain {
    fn drop(&mut self) {
        self.lines = None;
        let _ = self.written.recv_timeout(PATIENCE);
    }
}

impl Shown {
    fn lines(
        &mut self,
        song: &Arrangement,
        status: &Status,
        chairs: Chairs,
        open: Option<Open<'_>>,
        keys: bool,
    ) -> Vec<String> {
        let mut lines = Vec::new();
        let before = self.standing.replace(status.standing);
        match status.standing {
            Standing::CountingIn { .. } if before != self.standing => {
                lines.push("count-in".to_owned());
            }
            Standing::Paused if before.is_some_and(|before| before != Standing::Paused) => {
                let number = song.bars.get(status.bar).map_or(1, |bar| bar.number);
                lines.push(if keys {
                    format!("paused: {} goes on from bar {number}", Action::PauseOrGo.key())
                } else {
                    "paused".to_owned()
                });
            }
            _ => {}
        }
        if status.standing != Standing::Playing {
            return lines;
        }
        let Some(bar) = song.bars.get(status.bar) else { return lines };
        if self.bar == Some(status.visit) {
            return lines;
        }
        self.bar = Some(status.visit);
        let pass = (bar.pass, status.pass);
        if self.pass != Some(pass) {
            self.pass = Some(pass);
            let open = bar.resting.union(status.muted).union(status.out);
            lines.push(pass_words(song, bar, open));
            lines.extend(announced(status, song, chairs));
        }
        if let Some(task) = open.and_then(|open| Task::new(status, song, open)) {
            lines.extend(self.told.lines(&task, status.visit));
        }
        lines.push(format!("{:>5}  {}", bar.number, bar_words(song, bar)));
        lines
    }
}
