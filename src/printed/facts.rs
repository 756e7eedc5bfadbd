//! What is said at the head of a chart.

use super::How;
use super::chord_text::key_name;
use crate::arrange::Arrangement;
use crate::chart::{Ending, Kickoff, Song};
use crate::text::{inert, list};
use crate::theory::fretboard::banjo::choose_banjo_capo;
use crate::time::Meter;

/// Meter, tempo, style, band, capos and how it starts. `shapes` is the key that is written behind the capo asked for.
pub(super) fn facts(
    song: &Song,
    played: &Arrangement,
    style: &str,
    how: How,
    shapes: String,
) -> Vec<String> {
    let tempo = played.tempo.beats_per_minute(played.meter).round();
    let band: Vec<&str> = played.band.iter().map(|role| role.as_str()).collect();
    let mut facts = vec![
        played.meter.to_string(),
        format!("{tempo:.0} beats{} a minute", beat(played.meter)),
        inert(style).into_owned(),
        format!("band: {}", list(&band, "and")),
    ];
    let banjo = choose_banjo_capo(played.key);
    if played.capo == 0 && banjo == 0 {
        facts.push("no capos".to_owned());
    } else {
        facts.extend([capo("guitar", played.capo, played), capo("banjo", banjo, played)]);
    }
    if how.capo > 0 {
        facts.push(format!("written as played behind a capo at {}: {shapes} shapes", how.capo));
    }
    facts.extend(kickoff(played));
    if song.ending == Ending::None {
        facts.push("no ending: it stops after the form".to_owned());
    }
    facts
}

fn capo(who: &str, fret: u8, played: &Arrangement) -> String {
    match fret {
        0 => format!("{who}: no capo"),
        fret => {
            format!("{who}: capo {fret}, {} shapes", key_name(played.key.moved(-i32::from(fret))))
        }
    }
}

/// What a beat is, where that is no quarter.
const fn beat(meter: Meter) -> &'static str {
    match meter {
        Meter::FourFour | Meter::TwoFour | Meter::ThreeFour => "",
        Meter::TwoTwo => " (half notes)",
        Meter::SixEight => " (dotted quarters)",
    }
}

fn kickoff(played: &Arrangement) -> Option<String> {
    let plan = played.kickoff.as_ref()?;
    let who = plan.who();
    Some(match (plan.written, plan.kickoff) {
        (Some(_), _) if who.is_empty() => "begins with the pickup".to_owned(),
        (Some(_), _) => format!("begins with the pickup, by the {who}"),
        (None, Kickoff::Shuffles) => format!("kickoff: four shuffles by {who}, two bars"),
        (None, Kickoff::Line) => format!("kickoff: the tune's last line by {who}"),
        (None, Kickoff::Pickup | Kickoff::None) => format!("kickoff: a bar's pickup by {who}"),
    })
}

/// How it ends.
pub(super) const fn ending_words(ending: Ending) -> &'static str {
    match ending {
        Ending::Hit => "all strike home and let it ring",
        Ending::Cold => "all strike home and choke it",
        Ending::Tag => "tag, and all strike home",
        Ending::LastLine => "the last line once more, then all strike home",
        Ending::LastLineTwice => "the last line twice more, then all strike home",
        Ending::None => "",
    }
}
