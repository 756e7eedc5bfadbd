use super::Arrangement;
use crate::time::Ticks;

impl Arrangement {
    /// The same after so many bars of clicks instead of those it has: for what goes round, which has none.
    #[must_use]
    pub fn counted_in(mut self, bars: u32) -> Self {
        let start = self.meter.bar() * i64::from(bars);
        let later = start - self.start;
        let move_on = |at: &mut Ticks| *at += later;
        self.bars.iter_mut().for_each(|bar| move_on(&mut bar.start));
        for span in &mut self.spans {
            move_on(&mut span.start);
            move_on(&mut span.end);
        }
        self.stops.iter_mut().for_each(|stop| move_on(&mut stop.start));
        for note in &mut self.melody {
            move_on(&mut note.start);
            move_on(&mut note.end);
        }
        self.passes.iter_mut().for_each(|pass| move_on(&mut pass.start));
        move_on(&mut self.end);
        (self.start, self.count_in) = (start, bars);
        self
    }
}

#[cfg(test)]
mod tests {
    use crate::arrange::{Arrangement, Plan, arrange};
    use crate::chart::read_song;
    use crate::perform::perform;
    use crate::style::read_style;
    use crate::text::{Problems, Source};
    use crate::time::Ticks;

    fn song(count_in: u32) -> Arrangement {
        let text = "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
                    form = ['a: voice']\n[section.a]\nchords = '| G | C | D / G / | (2/4) G |'\n\
                    stops = '| . | x--- | . | . |'\n";
        let source = Source::new("song.toml", text).unwrap();
        let song = read_song(&source, &mut Problems::new()).unwrap().0;
        arrange(&song, &Plan { count_in, ..Plan::default() }).unwrap()
    }

    #[test]
    fn is_what_a_count_in_from_the_start_would_be() {
        let (later, asked) = (song(0).counted_in(2), song(2));
        assert_eq!(format!("{later:?}"), format!("{asked:?}"));
        assert_eq!(format!("{:?}", asked.counted_in(0)), format!("{:?}", song(0)));
    }

    #[test]
    fn a_loop_plays_the_same_notes_later() {
        let toml = std::fs::read_to_string("backing-styles/boom-chick.toml").unwrap();
        let source = Source::new("boom-chick.toml", toml).unwrap();
        let style = read_style("boom-chick", &source, &mut Problems::new()).unwrap();
        let round = song(0).excerpt(1..=3, 2).unwrap();
        let at_once = perform(&round, &style, 1).unwrap();
        let later = perform(&round.counted_in(1), &style, 1).unwrap();
        assert_eq!(later.clicks.len(), 4);
        for (one, other) in at_once.parts.iter().zip(&later.parts) {
            let pitches = |part: &crate::perform::Part| -> Vec<_> {
                part.notes.iter().map(|note| (note.pitch, note.bar)).collect()
            };
            assert_eq!(pitches(one), pitches(other), "{}", one.role);
        }
        assert_eq!(later.end - at_once.end, Ticks::QUARTER * 4);
    }
}
