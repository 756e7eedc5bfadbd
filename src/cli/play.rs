use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::args::{Live, Play};
use super::drill::DrillPlan;
use super::export::midi;
use super::failure::{Failure, tell};
use super::jam::Jam;
use super::lessons::Lessons;
use super::library::stem;
use super::output::write_whole;
use super::rehearse::{remark, song_and_style};
use super::stage::{NoStage, Stage};
use super::voices::Voices;
use crate::arrange::arrange;
use crate::live::{Desk, MonotonicClock, Wish};
use crate::perform::{Performance, perform};
use crate::sink::{quietly, sound_devices};
use crate::text::list;

/// Plays a song in real time.
pub(super) fn run(play: &Play) -> Result<ExitCode, Failure> {
    refuse_contradictions(&play.live)?;
    play.listening.check(&play.song)?;
    let (song, style) = song_and_style(&play.song, &play.options)?;
    let (mut plan, chairs) = play.options.plan(0).map_err(Failure::usage)?;
    plan.tag = style.tag;
    // Without a loop the form itself comes several times, and the ending once.
    let looped = play.stretch.is_some() || play.ramp.is_some();
    if let (Some(times), false) = (play.times, looped) {
        plan.times = times;
    }
    let arrangement = arrange(&song, &plan).map_err(Failure::usage)?;
    remark(&song, &style, &arrangement, &play.options);
    let stretch = play.stretch.as_ref().map(|stretch| stretch.bars(&arrangement)).transpose();
    let stretch = stretch.map_err(|why| Failure::usage(format!("--loop: {why}")))?;
    let rounds = play.times.filter(|_| looped).map(u32::from);
    let clock = MonotonicClock::new();
    let voices = Voices::of(&song, &style, plan.band, play.options.seed);
    let stage = match Stage::open(&play.live, &voices, clock.epoch()) {
        Ok(stage) => stage,
        Err(NoStage::Failed(failure)) => return Err(failure),
        Err(NoStage::NoDevice) => {
            let live_alone = play.follow.is_some() || play.listening.listen.is_some();
            if play.ramp.is_some() || live_alone {
                return Err(no_device("this needs one, or a port"));
            }
            let (mut plan, _) = play.options.plan(play.live.count_in).map_err(Failure::usage)?;
            plan.tag = style.tag;
            plan.times = play.times.filter(|_| !looped).unwrap_or(plan.times);
            let whole = arrange(&song, &plan).map_err(Failure::usage)?;
            let mut whole = match stretch {
                None => whole,
                Some(bars) => {
                    let rounds = rounds.unwrap_or(1) as usize;
                    whole.excerpt(bars, rounds).ok_or_else(|| no_device("use --port"))?
                }
            };
            chairs.lay_out(&mut whole);
            let performance =
                perform(&whole, &style, play.options.seed).map_err(Failure::failed)?;
            to_files(&performance, &voices, play)?;
            return Ok(ExitCode::SUCCESS);
        }
    };
    let wish = Wish {
        plan,
        seed: play.options.seed,
        count_in: play.live.count_in,
        chairs,
        stretch,
        rounds,
        ramp: play.ramp,
        cues: play.live.cues,
        follows: play.follow.is_some(),
        drills: false,
    };
    let desk = Desk::new(song, style, wish).map_err(Failure::usage)?;
    let listen = Some(play);
    let follow = play.follow.as_deref();
    Jam { desk, live: &play.live, stage, clock, follow, listen, lessons: None }.play()
}

/// Plays a song's chord changes one by one.
pub(super) fn drill(live: &Live, seed: u64, plan: DrillPlan) -> Result<ExitCode, Failure> {
    refuse_contradictions(live)?;
    let clock = MonotonicClock::new();
    let voices = Voices::of(&plan.song, &plan.style, plan.plan.band, seed);
    let stage = match Stage::open(live, &voices, clock.epoch()) {
        Ok(stage) => stage,
        Err(NoStage::Failed(failure)) => return Err(failure),
        Err(NoStage::NoDevice) => return Err(no_device("a drill needs one, or a port")),
    };
    let (style, arranging, chairs) = (plan.style.clone(), plan.plan.clone(), plan.chairs);
    let Some(lessons) = Lessons::new(plan) else {
        return Err(Failure::failed("there is no change to practise"));
    };
    let wish = Wish {
        plan: arranging,
        seed,
        count_in: live.count_in,
        chairs,
        stretch: None,
        rounds: None,
        ramp: Some(lessons.ramp()),
        cues: live.cues,
        follows: false,
        drills: true,
    };
    let desk = Desk::new(lessons.song(), style, wish).map_err(Failure::usage)?;
    Jam { desk, live, stage, clock, follow: None, listen: None, lessons: Some(lessons) }.play()
}

fn refuse_contradictions(live: &Live) -> Result<(), Failure> {
    live.contradiction().map_or(Ok(()), |why| Err(Failure::usage(why)))
}

/// Other devices than the default one, as options to choose them by.
fn other_devices() -> Vec<String> {
    let devices = quietly(sound_devices);
    devices.into_iter().map(|device| format!("--device {:?}", device.name)).collect()
}

fn no_device(what: &str) -> Failure {
    let others = other_devices();
    match others.as_slice() {
        [] => Failure::failed(format!("there is no sound device and no --port: {what}")),
        others => Failure::failed(format!(
            "there is no default sound device and no --port: {what} (try {})",
            list(others, "or")
        )),
    }
}

/// With nothing to play on: the files, in the working folder.
fn to_files(performance: &Performance, voices: &Voices, play: &Play) -> Result<(), Failure> {
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
    write_whole(Path::new(&mid), &midi(performance)?)?;
    voices.save(performance, play.live.soundfont.as_deref(), &wav)
}
