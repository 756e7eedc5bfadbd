//! Where the desk, the engine and the sound come together, or the desk alone for the eye.

use std::sync::Arc;

use openchair::arrange::Arrangement;
use openchair::backup::{CHAIR, Level};
use openchair::chart::{Role, RoleSet};
use openchair::live::{
    Action, BINDINGS, Command, Control, Desk, Engine, Key, Remote, Settings, Slot, Standing,
    Status, Supply, engine,
};
use openchair::practice::Change;
use openchair::rehearsal::{Rehearsal, Voices};
use openchair::time::Nanos;
use serde::Serialize;

use crate::asked::{Asked, Practised};
use crate::calls::Call;
use crate::ear::Kept;
use crate::log::{self, Entry};
use crate::sound::{MOST, STEP, Sound};

pub struct Table {
    /// The changes that the song has.
    changes: Vec<Change>,
    /// What was asked for before the first touch: what a player is reviewed by.
    pub(crate) asked: Rehearsal,
    pub(crate) kept: Option<Kept>,
    pub(crate) desk: Desk,
    pub(crate) status: Status,
    stage: Option<Stage>,
    news: Vec<String>,
    pub(crate) seed: u64,
    /// What was shown last.
    pub(crate) shown: Option<String>,
    /// The number of the chart and of the tab that were shown last, and what they hang on.
    pub(crate) charts: (u32, Option<String>),
}

/// What plays, where there is to be sound.
struct Stage {
    engine: Engine,
    remote: Remote,
    control: Control,
    sound: Sound,
}

/// What there is to choose.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Facts<'a> {
    title: &'a str,
    composer: Option<&'a str>,
    notes: Option<&'a str>,
    key: String,
    keys: Vec<String>,
    meter: String,
    /// Beats a minute at full speed.
    tempo: f64,
    style: &'a str,
    roles: Vec<RoleFacts>,
    levels: Vec<&'static str>,
    level: Option<&'static str>,
    chair: &'static str,
    speed: f64,
    count_in: u32,
    remarks: Vec<String>,
    keys_for: Vec<KeyFacts>,
    changes: Vec<ChangeFacts>,
}

/// A change of chords that can be drilled.
#[derive(Serialize)]
struct ChangeFacts {
    /// As it is asked for: `G:C`.
    word: String,
    name: String,
    count: u32,
}

/// A key of the keyboard.
#[derive(Serialize)]
struct KeyFacts {
    /// As browsers name them.
    keys: Vec<String>,
    word: &'static str,
    says: &'static str,
}

/// What a browser calls a key.
fn name(key: &Key) -> String {
    match key {
        Key::Char(sign) => sign.to_string(),
        Key::Space => " ".to_owned(),
        Key::Enter => "Enter".to_owned(),
        Key::Escape => "Escape".to_owned(),
        Key::Backspace => "Backspace".to_owned(),
        Key::Left => "ArrowLeft".to_owned(),
        Key::Right => "ArrowRight".to_owned(),
        Key::Up => "ArrowUp".to_owned(),
        Key::Down => "ArrowDown".to_owned(),
        Key::PageUp => "PageUp".to_owned(),
        Key::PageDown => "PageDown".to_owned(),
    }
}

/// True for what the page can do.
const fn is_of_page(action: Action) -> bool {
    !matches!(
        action,
        Action::Help
            | Action::Quit
            | Action::Louder
            | Action::Softer
            | Action::GotIt
            | Action::NextChange
    )
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct RoleFacts {
    role: &'static str,
    in_band: bool,
    /// False if the style has nothing for it to play.
    has_part: bool,
}

impl Table {
    /// Sets up for a song; without an engine and a sound if `rate` is 0.
    pub fn new(asked: &Asked, rate: u32) -> Result<Self, String> {
        let Practised { rehearsal, wish, changes } = asked.practised()?;
        let (seed, voices) = (rehearsal.wishes().seed, (rate > 0).then(|| rehearsal.voices()));
        let before = rehearsal.clone();
        let mut desk = Desk::new(rehearsal, wish).map_err(|why| why.to_string())?;
        let opening = desk.open().map_err(|why| why.to_string())?;
        let status = standing_by(&desk, 1, opening.tempo, Nanos(0));
        let stage = voices.map(|voices: Voices| {
            let sound = Sound::new(voices.live(rate));
            Stage::new(sound, opening.score, opening.tempo, opening.commands)
        });
        Ok(Self {
            changes,
            asked: before,
            kept: None,
            desk,
            status,
            stage,
            news: Vec::new(),
            seed,
            shown: None,
            charts: (0, None),
        })
    }

    /// What there is to choose, as JSON.
    pub fn facts(&self) -> Result<Vec<u8>, String> {
        let (desk, whole) = (&self.desk, self.desk.whole());
        let wishes = desk.rehearsal().wishes();
        let facts = Facts {
            title: &desk.song().title,
            composer: desk.song().composer.as_deref(),
            notes: desk.song().notes.as_deref(),
            key: whole.key.to_string(),
            keys: (0..12).map(|steps| whole.key.moved(steps).to_string()).collect(),
            meter: whole.meter.to_string(),
            tempo: desk.full_tempo().beats_per_minute(whole.meter),
            style: &desk.style().name,
            roles: Role::ALL
                .into_iter()
                .map(|role| RoleFacts {
                    role: role.as_str(),
                    in_band: whole.band.contains(role),
                    has_part: desk.style().part(role).is_some(),
                })
                .collect(),
            levels: Level::ALL.map(Level::as_str).to_vec(),
            level: wishes.banjo.map(Level::as_str),
            chair: CHAIR.as_str(),
            speed: wishes.speed,
            count_in: wishes.count_in,
            keys_for: BINDINGS
                .iter()
                .filter(|binding| is_of_page(binding.action))
                .map(|binding| KeyFacts {
                    keys: binding.keys.iter().map(name).collect(),
                    word: binding.word,
                    says: binding.says,
                })
                .collect(),
            changes: self
                .changes
                .iter()
                .map(|change| ChangeFacts {
                    word: format!("{}:{}", change.from, change.to),
                    name: change.to_string(),
                    count: change.count,
                })
                .collect(),
            remarks: desk.rehearsal().remarks(whole).iter().map(ToString::to_string).collect(),
        };
        serde_json::to_vec(&facts).map_err(|why| why.to_string())
    }

    /// What was asked for in words. What the player is told.
    pub fn act(&mut self, text: &str) -> Result<Vec<u8>, String> {
        let call =
            Call::parse(text, self.seed).ok_or_else(|| format!("nothing is called `{text}`"))?;
        if let Call::Volume(role, percent) = call {
            if let Some(stage) = &mut self.stage {
                stage.sound.turn(role, percent);
            }
            return Ok(Vec::new());
        }
        // What the player acts on is the present.
        self.hear();
        if matches!(call, Call::Start(_)) && self.status.standing == Standing::Ended {
            self.note(&Entry::Again);
            self.again();
        }
        let now = self.now();
        self.note(&Entry::Act(now, text.to_owned()));
        let (commands, said) = self.answer(call, now);
        if let Some(stage) = &mut self.stage {
            stage.tell(commands);
        }
        Ok(said.unwrap_or_default().into_bytes())
    }

    fn answer(&mut self, call: Call, now: Nanos) -> (Vec<Command>, Option<String>) {
        let answer = match call {
            Call::Start(bars) => {
                let bars = bars.unwrap_or(self.desk.rehearsal().wishes().count_in);
                let go = if bars > 0 { Command::CountIn(bars) } else { Command::Go };
                return (vec![go], None);
            }
            Call::Volume(..) => return (Vec::new(), None),
            Call::Action(action) => self.desk.act(action, &self.status, now),
            Call::Touch(touch) => self.desk.touch(touch, &self.status),
        };
        (answer.commands, answer.message)
    }

    /// A song that is over begins anew, as it is wished for now.
    fn again(&mut self) {
        // It could be opened before, and a wish that can't be had was taken back.
        let Ok(opening) = self.desk.open() else { return };
        self.status =
            standing_by(&self.desk, self.status.score.wrapping_add(1), opening.tempo, self.now());
        self.status.score = self.desk.newest();
        if let Some(stage) = self.stage.take() {
            self.stage =
                Some(Stage::new(stage.sound, opening.score, opening.tempo, opening.commands));
        }
    }

    /// Takes in how the band stands.
    fn hear(&mut self) {
        let Some(mut stage) = self.stage.take() else { return };
        while let Some(status) = stage.remote.next_status() {
            self.status = status;
            self.note_at(stage.sound.now(), &Entry::Status(status));
            let commands = self.desk.watch(&status);
            stage.tell(commands);
        }
        // Drops the scores that are played no more.
        stage.remote.status();
        self.stage = Some(stage);
    }

    /// Plays the next frames.
    pub fn render(&mut self, frames: usize) -> *const f32 {
        let frames = frames.min(MOST);
        let mut at = 0;
        while at < frames {
            let step = STEP.min(frames - at);
            if let Some(stage) = &mut self.stage {
                stage.engine.turn(stage.sound.now(), &stage.control);
                stage.sound.play(at, step);
            }
            at += step;
            self.hear();
        }
        self.stage.as_mut().map_or(std::ptr::null(), |stage| stage.sound.played(frames))
    }

    /// Begins or ends telling what is played as MIDI.
    pub fn tell_midi(&mut self, on: bool) {
        if let Some(stage) = &mut self.stage {
            stage.sound.tell_all(on);
        }
    }

    /// What was played as MIDI since it was asked last.
    pub fn sent(&mut self) -> Vec<u8> {
        self.stage.as_mut().map(|stage| stage.sound.sent().into_bytes()).unwrap_or_default()
    }

    /// The next frame to be played.
    pub fn frame(&self) -> u64 {
        self.stage.as_ref().map_or(0, |stage| stage.sound.frame())
    }

    fn now(&self) -> Nanos {
        self.stage.as_ref().map_or(Nanos(0), |stage| stage.sound.now())
    }

    fn note(&mut self, entry: &Entry) {
        self.note_at(self.now(), entry);
    }

    fn note_at(&mut self, now: Nanos, entry: &Entry) {
        self.news.push(log::line(now, entry));
    }

    /// What happened since it was asked last.
    pub fn news(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.news).join("\n").into_bytes()
    }

    /// Does once more what happened elsewhere.
    pub fn replay(&mut self, line: &str) -> Result<Vec<u8>, String> {
        match log::read(line).ok_or_else(|| format!("not understood: {line}"))? {
            Entry::Status(status) => {
                self.status = status;
                self.desk.watch(&status);
                self.keep(&status);
            }
            Entry::Act(now, text) => {
                if let Some(call) = Call::parse(&text, self.seed) {
                    self.answer(call, now);
                }
            }
            Entry::Again => self.again(),
        }
        Ok(Vec::new())
    }

    /// The arrangement that is heard.
    pub(crate) fn song(&self) -> Option<Arc<Arrangement>> {
        self.desk.arrangement(self.status.score).map(Arc::clone)
    }

    /// Who is silent now.
    pub(crate) fn silent(&self) -> RoleSet {
        self.status.muted.union(self.status.out)
    }
}

/// How a band stands that waits for its first note.
fn standing_by(desk: &Desk, score: u32, tempo: openchair::time::Tempo, now: Nanos) -> Status {
    Status {
        score,
        standing: Standing::Paused,
        bar: 0,
        visit: 0,
        bar_start: now,
        tempo,
        since: now,
        round: 0,
        pass: 0,
        muted: desk.muted(),
        out: desk.chairs().open_in(0, desk.whole().band),
        dropped: 0,
        lost: false,
        lost_time: None,
    }
}

impl Stage {
    fn new(
        sound: Sound,
        score: Box<openchair::live::Score>,
        tempo: openchair::time::Tempo,
        commands: Vec<Command>,
    ) -> Self {
        let (mut engine, ends) = engine(Settings { score, tempo, clock: None, plays_on: true });
        engine.install(Supply { slot: Slot::Sound, out: sound.output() });
        engine.begin(sound.now());
        let mut stage = Self { engine, remote: ends.remote, control: Control::new(), sound };
        // It begins when it is told to.
        let waits = |command: &Command| !matches!(command, Command::Go | Command::CountIn(_));
        stage.tell(commands.into_iter().filter(waits).collect());
        stage
    }

    fn tell(&mut self, commands: Vec<Command>) {
        for command in commands {
            // There is room for more than any hand asks between two blocks of sound.
            let _ = self.remote.send(command);
        }
    }
}
