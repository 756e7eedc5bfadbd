use std::num::NonZeroU32;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::failure::{Failure, tell};
use super::files::{midi, write_whole};
use super::jam::{Heard, Jam, Listen, NoStage, Stage, no_device, other_devices, server_instead};
use super::options::{HANDS, Live, OpenChair, Options, PRACTICE, taken};
use super::rehearse::{rehearsal, tell_remarks};
use super::voices::{Kind, save};
use crate::chart::RoleSet;
use crate::live::{Desk, MonotonicClock, Wish};
use crate::practice::{Ramp, Stretch, parse_ramp, parse_times};
use crate::rehearsal::{Rehearsal, Voices, Wishes, stem};
use crate::synth::Room;
use crate::text::list;

#[derive(Debug, clap::Args)]
pub(super) struct Play {
    /// The song: a file, or a name that `openchair songs` lists
    pub song: PathBuf,
    #[command(flatten)]
    pub options: Options,
    #[command(flatten)]
    pub chair: OpenChair,
    /// Go round and round: a section (verse, verse:2, verse:guitar), or bars by the numbers on the
    /// screen (5-8, 5)
    #[arg(long = "loop", value_name = "SECTION|BARS", help_heading = PRACTICE, value_parser = Stretch::parse)]
    pub stretch: Option<Stretch>,
    /// Stop after so many rounds; without --loop, play the form so often before the ending
    #[arg(long, value_name = "N", help_heading = PRACTICE, allow_negative_numbers = true, value_parser = parse_times)]
    pub times: Option<NonZeroU32>,
    /// Begin at one speed and climb to another by a step each round, in percent: 60:100:4
    #[arg(long, value_name = "FROM:TO:STEP", help_heading = PRACTICE, conflicts_with = "speed", value_parser = parse_ramp)]
    pub ramp: Option<Ramp>,
    #[command(flatten)]
    pub live: Live,
    /// Go with the MIDI clock that comes in at the input with this in its name
    #[arg(long, value_name = "NAME", help_heading = HANDS, conflicts_with_all = ["ramp", "speed", "tempo"])]
    pub follow: Option<String>,
    #[command(flatten)]
    pub listening: Listen,
}

/// Plays a song in real time.
pub(super) fn run(play: &Play) -> Result<ExitCode, Failure> {
    play.live.check()?;
    play.listening.check(&play.song)?;
    let rehearsal = rehearsal(&play.song, wishes(play)?)?;
    let whole = rehearsal.whole().map_err(Failure::usage)?;
    rehearsal.chair_is_open(&whole).map_err(taken)?;
    tell_remarks(&rehearsal, &whole);
    let stretch = rehearsal.bars(&whole);
    stretch.map_err(|why| Failure::usage(format!("--loop: {why}")))?;
    let clock = MonotonicClock::new();
    let voices = rehearsal.voices().in_room(play.live.place.or(Room::Parlor));
    let stage = match Stage::open(&play.live, &voices, clock.epoch()) {
        Ok(stage) => stage,
        Err(NoStage::Failed(failure)) => return Err(failure),
        Err(NoStage::NoDevice) => {
            let live_alone = play.follow.is_some() || play.listening.is_asked();
            if play.ramp.is_some() || live_alone {
                return Err(no_device("this needs one, or a port"));
            }
            if let Some(failure) = server_instead(&play.song) {
                return Err(failure);
            }
            to_files(&rehearsal, &voices, play)?;
            return Ok(ExitCode::SUCCESS);
        }
    };
    let wish = Wish {
        ramp: play.ramp,
        change_clicks: play.live.cues,
        follows: play.follow.is_some(),
        drills: false,
    };
    let (listen, song) = (&play.listening, play.song.as_path());
    let listen = Some(Heard { listen, asked: rehearsal.clone(), song });
    let desk = Desk::new(rehearsal, wish).map_err(Failure::usage)?;
    let follow = play.follow.as_deref();
    Jam { desk, live: &play.live, stage, clock, follow, listen, drilling: None }.play()
}

/// What is asked for. Without a loop the form itself comes several times, and the ending once.
fn wishes(play: &Play) -> Result<Wishes, Failure> {
    let looped = play.stretch.is_some() || play.ramp.is_some();
    Ok(Wishes {
        times: play.times.filter(|_| !looped).unwrap_or(NonZeroU32::MIN),
        rounds: play.times.filter(|_| looped),
        stretch: play.stretch.clone(),
        count_in: play.live.count_in,
        banjo: play.chair.banjo(),
        ..play.options.wishes()?
    })
}

/// With nothing to play on: the files, in the working folder.
fn to_files(rehearsal: &Rehearsal, voices: &Voices, play: &Play) -> Result<(), Failure> {
    let arrangement = rehearsal.arrangement()?;
    let mut band = rehearsal.perform(arrangement).map_err(Failure::failed)?;
    rehearsal.fill_chair(&mut band, RoleSet::EMPTY).map_err(taken)?;
    let performance = band.performance;
    let name = stem(&play.song);
    let (mid, wav) = (PathBuf::from(format!("{name}.mid")), PathBuf::from(format!("{name}.wav")));
    let others = other_devices();
    let device = match others.as_slice() {
        [] => "no sound device".to_owned(),
        others => format!("no default sound device (try {})", list(others, "or")),
    };
    tell(format!(
        "there is {device} and no --port; writing {} and {} instead",
        mid.display(),
        wav.display()
    ));
    write_whole(Path::new(&mid), &midi(&performance)?)?;
    save(voices, &performance, play.live.soundfont.as_deref(), Kind::Wav, &wav)
}
