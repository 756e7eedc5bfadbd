//! The whole chart, as data for the page.

use openchair::screen::{BandMark, BarView, chart_lines};
use serde::Serialize;

use crate::table::Table;

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Chart<'a> {
    meter: &'static str,
    passes: Vec<Pass<'a>>,
    lines: Vec<Line>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Pass<'a> {
    label: &'a str,
    lead: Option<&'static str>,
    of_form: bool,
}

#[derive(Serialize)]
struct Line {
    pass: usize,
    bars: Vec<Bar>,
}

#[derive(Serialize)]
struct Bar {
    number: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    crooked: Option<String>,
    beats: u32,
    shares: Vec<String>,
    /// An eighth note each: `.` plays on, `x` all hit, `o` all hold, `-` silent. None where the band plays on all along.
    #[serde(skip_serializing_if = "String::is_empty")]
    stops: String,
    /// An eighth note each: `=` sung, `-` not. None where nobody sings.
    #[serde(skip_serializing_if = "String::is_empty")]
    sung: String,
}

impl Bar {
    fn new(bar: BarView) -> Self {
        let marks = || bar.eighths.iter();
        let stops = match marks().all(|mark| mark.band == BandMark::Plays) {
            true => String::new(),
            false => marks()
                .map(|mark| match mark.band {
                    BandMark::Plays => '.',
                    BandMark::Hit => 'x',
                    BandMark::Held => 'o',
                    BandMark::Silent => '-',
                })
                .collect(),
        };
        let sung = match marks().any(|mark| mark.sung) {
            true => marks().map(|mark| if mark.sung { '=' } else { '-' }).collect(),
            false => String::new(),
        };
        Self {
            number: bar.number,
            crooked: bar.crooked.map(|meter| meter.to_string()),
            beats: bar.beats,
            shares: bar.shares,
            stops,
            sung,
        }
    }
}

impl Table {
    /// The chart as it is played now.
    pub fn chart(&mut self) -> Result<Vec<u8>, String> {
        let whole = self.desk.whole_of(self.status.score).ok_or("nothing is played")?;
        let passes = whole.passes.iter().map(|pass| Pass {
            label: &pass.label,
            lead: pass.lead.map(|lead| lead.as_str()),
            of_form: pass.is_of_form(),
        });
        let lines = chart_lines(whole, self.desk.shown().chords);
        let chart = Chart {
            meter: whole.meter.as_str(),
            passes: passes.collect(),
            lines: lines
                .into_iter()
                .map(|(pass, bars)| Line { pass, bars: bars.into_iter().map(Bar::new).collect() })
                .collect(),
        };
        serde_json::to_vec(&chart).map_err(|why| why.to_string())
    }
}
