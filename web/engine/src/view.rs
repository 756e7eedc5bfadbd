//! What a player sees, as data for the page.

use openchair::backup::Level;
use openchair::live::{ChordsAs, Standing};
use openchair::screen::{Coming, Facts, Now, Open, Singer, View, silent_next};
use openchair::tablature;
use openchair::time::Nanos;
use serde_json::{Value, json};

use crate::table::Table;

impl Table {
    /// The view at a time.
    pub fn view(&mut self, now: i64) -> Result<Vec<u8>, String> {
        let status = self.status;
        let song = self.song().ok_or("nothing is played")?;
        let silent = self.silent();
        let next = silent_next(&status, &song, self.desk.chairs());
        let covered = self.desk.coverage(status.score, silent);
        let covered_next = next.and_then(|next| self.desk.coverage(status.score, next));
        let style = self.desk.style().name.clone();
        let facts = Facts {
            style: &style,
            base: self.desk.full_tempo(),
            whole: self.desk.whole_of(status.score).map_or(&*song, |whole| whole),
            loop_bars: self.desk.stretch().map(|bars| (*bars.start(), *bars.end())),
            mark: self.desk.mark(),
            rounds: self.desk.rounds(),
            rounds_before: self.desk.rounds_before(),
            chairs: self.desk.chairs(),
            output: "",
            message: None,
            drill: None,
            open: covered.as_deref().map(|now| Open { now, next: covered_next.as_deref() }),
            chords: self.desk.shown().chords,
            tab: None,
            listens: false,
            noticed: None,
        };
        let view = View::new(&status, &song, &facts, Nanos(now));
        let bar = song.bars.get(status.bar);
        let chart = format!("{} {:?} {:?}", status.score, self.desk.shown().chords, silent);
        if self.charts.1.as_ref() != Some(&chart) {
            self.charts = (self.charts.0.wrapping_add(1), Some(chart));
        }
        let mut data = shown(&view);
        if let Value::Object(data) = &mut data {
            let beat = song.meter.beat();
            let more = json!({
                "standing": match status.standing {
                    Standing::CountingIn { .. } => "count",
                    Standing::Playing => "play",
                    Standing::Paused => "pause",
                    Standing::Ended => "end",
                },
                "index": status.bar,
                "visit": status.visit,
                // Nanoseconds, for what moves from beat to beat.
                "barStart": status.bar_start.0,
                "beatNanos": status.tempo.nanos(beat).0,
                "barBeats": bar.map_or(1, |bar| bar.beats()),
                "loop": self.desk.stretch().map(|bars| [*bars.start(), *bars.end()]),
                "mark": self.desk.mark(),
                "lastBar": self.desk.form_bars(),
                "chart": self.charts.0,
                "tabLevel": self.desk.shown().tab.map(Level::as_str),
                "banjoLevel": self.desk.rehearsal().wishes().banjo.map(Level::as_str),
                "chords": match self.desk.shown().chords {
                    ChordsAs::Names => "names",
                    ChordsAs::Numbers => "numbers",
                    ChordsAs::Shapes => "shapes",
                },
                "wantedSpeed": self.desk.speed(&status),
            });
            if let Value::Object(more) = more {
                data.extend(more);
            }
        }
        let text = data.to_string();
        if self.shown.as_ref() == Some(&text) {
            return Ok(Vec::new());
        }
        self.shown = Some(text.clone());
        Ok(text.into_bytes())
    }

    /// The banjo's part.
    pub fn tab(&mut self) -> Result<Vec<u8>, String> {
        let tab = self.desk.tablature(self.status.score, self.silent());
        tab.map_or_else(
            || Ok(Vec::new()),
            |tab| tablature::json(&tab).map(String::into_bytes).map_err(|why| why.to_string()),
        )
    }
}

fn shown(view: &View) -> Value {
    json!({
        "title": view.title,
        "style": view.style,
        "key": view.key,
        "capo": view.capo,
        "banjo": view.banjo.as_ref().map(|banjo| json!({
            "capo": banjo.capo, "now": banjo.now, "next": banjo.next,
        })),
        "tempo": view.tempo,
        "speed": view.speed,
        "now": match &view.now {
            Now::Chord(chord) => json!({ "chord": chord.to_string() }),
            Now::Count(beat) => json!({ "count": beat }),
            Now::End => json!({ "end": true }),
        },
        "next": match &view.coming {
            Coming::Chord(chord) => Some(chord.to_string()),
            Coming::End => Some("end".to_owned()),
            Coming::Never => None,
        },
        "beats": view.beats,
        "bar": view.bar,
        "form": view.form,
        "pass": view.pass,
        "passesBefore": view.unnamed.0,
        "beat": view.beat,
        "chairs": view.chairs.iter().map(|chair| json!({
            "role": chair.role.as_str(), "open": chair.open,
        })).collect::<Vec<_>>(),
        "announced": view.announced,
        "singer": view.singer.words(),
        "sings": view.singer == Singer::Sings,
        "task": view.task.as_ref().map(|task| json!({
            "now": task.now.short,
            "full": task.now.full,
            "coming": task.coming.as_ref().map(|(bars, words)| json!({
                "bars": bars, "short": words.short, "full": words.full,
            })),
        })),
        "looping": view.looping,
    })
}
