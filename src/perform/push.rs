use super::bar_view::BarView;
use crate::arrange::Span;
use crate::band::Notation;
use crate::style::{BanjoStrings, BassNote, Degree, Loud, Strike, Stroke};
use crate::time::{Meter, Ticks};

/// A push: a chord that comes an eighth before its beat and lasts over it. The whole band catches it, and strikes that
/// beat no more (common practice, no source).
impl BarView<'_> {
    /// The beat that a chord is pushed ahead of, if it is.
    pub(super) fn pushed_beat(&self, span: &Span) -> Option<Ticks> {
        // In 2/4 the eighths between the beats are the backbeats, where chords change as a matter of course.
        let beat = match self.bar.gait {
            Meter::TwoFour => return None,
            Meter::SixEight => Meter::SixEight.beat(),
            Meter::FourFour | Meter::TwoTwo | Meter::ThreeFour => Ticks::QUARTER,
        };
        let target = span.start + Ticks::EIGHTH;
        let on_beat = (target - self.bar.start).is_multiple_of(beat);
        (on_beat && span.chord.is_some() && span.end >= target + beat).then_some(target)
    }

    /// What the role strikes at a push. `None` for a role that goes its own way.
    pub(super) fn push(&self) -> Option<Strike> {
        let root = Some(BassNote::Degree { degree: Degree::Root, octave: 0 });
        let (bass, stroke) = match self.role.row().notation {
            Notation::Notes => (root, None),
            Notation::Strokes => (None, Some(Stroke::Chop)),
            Notation::NotesAndStrokes => (root, Some(Stroke::Down)),
            Notation::BanjoStrings | Notation::Bow | Notation::Break => return None,
        };
        Some(Strike { bass, stroke, strings: BanjoStrings::NONE, loud: Loud::Accent })
    }
}

#[cfg(test)]
mod tests {
    use crate::arrange::{Plan, arrange};
    use crate::chart::{Role, read_song};
    use crate::perform::perform;
    use crate::style::read_style;
    use crate::text::{Problems, Source};

    /// At which eighths of the song each of bass, chop, guitar and fiddle begins a stroke.
    fn strikes(chords: &str, meter: &str) -> Vec<Vec<i64>> {
        let song = format!(
            "title = 'Kettle'\nkey = 'G'\nmeter = '{meter}'\ntempo = 120\nstyle = 'any'\nform = ['a']\n\
             ending = 'none'\nband = ['bass', 'chop', 'guitar', 'fiddle']\n[section.a]\nchords = '{chords}'\n"
        );
        let mut style = format!("about = 'any'\nmeters = ['{meter}']\n");
        for (role, bar) in [
            ("bass", "R . 5 ."),
            ("chop", "- x - x"),
            ("guitar", "R D 5 D"),
            ("fiddle", "oo . . ."),
        ] {
            style += &format!(
                "[{role}]\nlooseness = 0\nloudness = {{ vary = 0 }}\n[[{role}.bar]]\nbar = '{bar}'\n"
            );
        }
        let mut problems = Problems::new();
        let (song, _) = read_song(&Source::new("s", song).unwrap(), &mut problems).unwrap();
        let style = read_style("any", &Source::new("t", style).unwrap(), &mut problems).unwrap();
        let played = perform(&arrange(&song, &Plan::default()).unwrap(), &style, 1).unwrap();
        [Role::Bass, Role::Chop, Role::Guitar, Role::Fiddle]
            .map(|role| {
                let part = played.parts.iter().find(|part| part.role == role).unwrap();
                let mut at: Vec<i64> = part.notes.iter().map(|n| n.start.get() / 480).collect();
                at.dedup();
                at
            })
            .to_vec()
    }

    #[test]
    fn all_catch_a_push_and_none_strikes_its_beat_again() {
        let [bass, chop, guitar, fiddle] = &strikes("| G / / / / / / C | C | G |", "4/4")[..]
        else {
            panic!("four roles")
        };
        assert_eq!(bass, &[0, 4, 7, 12, 16, 20]);
        assert_eq!(chop, &[2, 6, 7, 10, 14, 18, 22]);
        assert_eq!(fiddle, &[0, 7, 16]);
        assert_eq!(guitar, &[0, 2, 4, 6, 7, 10, 12, 14, 16, 18, 20, 22]);
    }

    #[test]
    fn a_push_within_a_bar_is_caught_as_well() {
        let [bass, _, guitar, _] = &strikes("| G / / C / / / / |", "4/4")[..] else {
            panic!("three roles")
        };
        assert_eq!(bass, &[0, 3]);
        assert_eq!(guitar, &[0, 2, 3, 6]);
    }

    #[test]
    fn a_chord_on_the_beat_or_a_short_one_is_no_push() {
        let [bass, ..] = &strikes("| G / / / / / C / | C |", "4/4")[..] else { panic!() };
        assert_eq!(bass[..3], [0, 4, 6], "a beat, and then the next bar's own");
        assert!(bass.contains(&8));
        let [bass, ..] = &strikes("| G C | G |", "2/4")[..] else { panic!() };
        assert!(bass.contains(&4), "in 2/4 it is the backbeat");
    }
}
