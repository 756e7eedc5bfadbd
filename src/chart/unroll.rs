use super::chord_row::{ChordRow, Token};
use super::mark_row::MarkRow;
use super::melody_row::{MelodyRow, MelodyToken, count, melody_share};
use super::split::share_length;
use super::{ChartBar, Share, Stop, Tune};
use crate::theory::Chord;
use crate::time::{BarMeter, Ticks};

/// The bars of a section as played, from rows without problems.
pub(super) fn unroll(
    chords: &ChordRow,
    voice: Option<&MarkRow<bool>>,
    stops: Option<&MarkRow<Stop>>,
    melody: Option<&MelodyRow>,
) -> Vec<ChartBar> {
    let mut bars = Vec::with_capacity(chords.length());
    let mut order = chords.plays.iter().cloned().flatten().peekable();
    let mut line = 0;
    let mut line_start = true;
    let mut sounding: Option<Chord> = None;
    // What sounded before the last bar that is no `%`.
    let mut before_written = None;
    while let Some(at) = order.next() {
        let Some(written) = chords.bars.get(at) else { continue };
        let Some(meter) = written.meter else { continue };
        // A phrase runs from where a line begins to where a line ends, through whatever ending was
        // taken on the way; going back ends it too.
        let line_end = written.ends_line || order.peek().is_none_or(|&next| next <= at);
        if !written.again {
            before_written = sounding;
        }
        let mut chord = if written.again { before_written } else { sounding };
        let tokens = chords.tokens.get(written.tokens.clone()).unwrap_or_default();
        let chords = tokens.iter().map(|token| {
            if let Token::Chord(next) = token {
                chord = *next;
            }
            chord
        });
        let chords = shares(share_length(meter, tokens.len()), chords, |a, b| a == b);
        sounding = chords.last().and_then(|share| share.value);
        let singing = match voice {
            Some(voice) => marks(meter, voice.bar(at), |a, b| a == b),
            None => vec![Share::new(meter.bar(), !line_end)],
        };
        let stops = match stops {
            // Two hits in a row are two hits.
            Some(stops) => marks(meter, stops.bar(at), |a, b| a == b && *a != Stop::Hit),
            None => vec![Share::new(meter.bar(), Stop::PlayOn)],
        };
        let melody = melody.map_or_else(Vec::new, |melody| tune(meter, melody.bar(at)));
        bars.push(ChartBar { meter, chords, singing, stops, melody, line, line_start, line_end });
        line += u32::from(line_end);
        line_start = line_end;
    }
    bars
}

fn marks<T: Copy>(meter: BarMeter, values: &[T], same: fn(&T, &T) -> bool) -> Vec<Share<T>> {
    shares(share_length(meter, values.len()), values.iter().copied(), same)
}

fn tune(meter: BarMeter, tokens: &[MelodyToken]) -> Vec<Share<Tune>> {
    shared_tune(melody_share(meter, count(tokens)).unwrap_or_default(), tokens)
}

/// Notes, holds and rests of which a share has that length: a note and what holds it are one share, and so are rests
/// side by side.
pub(super) fn shared_tune(share: Ticks, tokens: &[MelodyToken]) -> Vec<Share<Tune>> {
    let mut shares: Vec<Share<Tune>> = Vec::with_capacity(tokens.len());
    for MelodyToken { tune, tuplet } in tokens {
        let length = tuplet.length(share).unwrap_or_default();
        match shares.last_mut() {
            Some(last)
                if *tune == Tune::Hold || *tune == Tune::Rest && last.value == Tune::Rest =>
            {
                last.length += length;
            }
            _ => shares.push(Share::new(length, *tune)),
        }
    }
    shares
}

/// Shares of `length` for each of `values`, neighbours that are the `same` joined.
fn shares<T>(
    length: Option<Ticks>,
    values: impl Iterator<Item = T>,
    same: fn(&T, &T) -> bool,
) -> Vec<Share<T>> {
    let length = length.unwrap_or_default();
    // Most bars hold one thing from end to end.
    let mut shares: Vec<Share<T>> = Vec::with_capacity(1);
    for value in values {
        match shares.last_mut() {
            Some(last) if same(&last.value, &value) => last.length += length,
            _ => shares.push(Share::new(length, value)),
        }
    }
    shares
}
