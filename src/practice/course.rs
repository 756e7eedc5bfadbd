use super::{Change, Marks, Ramp};

/// What is practised now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exercise {
    /// The change.
    pub change: Change,
    /// The speeds: from where the player stands to the top.
    pub ramp: Ramp,
    /// True if it has been learnt at full speed before.
    pub review: bool,
}

/// The order in which a song's changes are practised: first those that are not learnt at the top of
/// the ramp, the most frequent first, over and over; once all are learnt, all of them, beginning with
/// the one that was practised longest ago.
///
/// Each goes on from the day before: a step below the last speed.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    changes: Vec<Change>,
    ramp: Ramp,
    /// The order of the review, once nothing is left to learn: places in `changes`.
    review: Option<Vec<usize>>,
    /// The present change: its place in `changes`.
    at: usize,
}

impl Course {
    /// Over `changes`, the most frequent first. `None` if there are none.
    pub fn new(changes: Vec<Change>, ramp: Ramp, marks: &Marks) -> Option<Self> {
        let last = changes.len().checked_sub(1)?;
        let mut course = Self { changes, ramp, review: None, at: last };
        course.go_on(marks);
        Some(course)
    }

    /// The present exercise, as the marks now stand.
    pub fn exercise(&self, marks: &Marks) -> Option<Exercise> {
        let change = *self.changes.get(self.at)?;
        let reached = marks.of(&change).reached;
        let Ramp { from, to, step } = self.ramp;
        let start = reached.map_or(from, |reached| {
            let (low, high) = (from.min(to), from.max(to));
            let back = if to < from { step.abs() } else { -step.abs() };
            (reached + back).clamp(low, high)
        });
        let ramp = Ramp { from: start, to, step };
        Some(Exercise { change, ramp, review: self.is_learnt(self.at, marks) })
    }

    /// The present change's place among the changes, from 1, and how many there are.
    pub fn place(&self) -> (usize, usize) {
        (self.at + 1, self.changes.len())
    }

    /// Goes on to the next change, after what was practised is in the marks.
    pub fn go_on(&mut self, marks: &Marks) {
        let count = self.changes.len();
        let after = |at: usize| (1..=count).map(move |step| (at + step) % count.max(1));
        if let Some(open) = after(self.at).find(|&at| !self.is_learnt(at, marks)) {
            (self.at, self.review) = (open, None);
            return;
        }
        match &self.review {
            Some(order) => {
                let place = order.iter().position(|&at| at == self.at).unwrap_or(0);
                if let Some(&next) = order.iter().cycle().nth(place + 1) {
                    self.at = next;
                }
            }
            None => {
                // A stable sort, from the change after the present one: of those of one day the present
                // one comes last.
                let mut order: Vec<usize> = after(self.at).collect();
                let practised = |at: usize| Some(marks.of(self.changes.get(at)?).practised);
                order.sort_by_key(|&at| practised(at));
                if let Some(&first) = order.first() {
                    self.at = first;
                }
                self.review = Some(order);
            }
        }
    }

    fn is_learnt(&self, at: usize, marks: &Marks) -> bool {
        // A hair below is rounding.
        let enough = self.ramp.to - 0.05;
        let learnt = self.changes.get(at).and_then(|change| marks.of(change).learnt);
        learnt.is_some_and(|learnt| learnt >= enough)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Day;
    use super::*;
    use crate::theory::Chord;

    const RAMP: Ramp = Ramp { from: 60.0, to: 100.0, step: 4.0 };

    fn song() -> Vec<Change> {
        [("G", "C", 9), ("C", "D", 5), ("D", "G", 2)]
            .map(|(from, to, count)| Change {
                from: Chord::parse(from).unwrap(),
                to: Chord::parse(to).unwrap(),
                count,
            })
            .to_vec()
    }

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    fn now(course: &Course, marks: &Marks) -> (String, f64, bool) {
        let exercise = course.exercise(marks).unwrap();
        (exercise.change.to_string(), exercise.ramp.from, exercise.review)
    }

    fn is(change: &str, from: f64, review: bool) -> (String, f64, bool) {
        (change.to_owned(), from, review)
    }

    #[test]
    fn a_first_day_and_a_second() {
        let mut marks = Marks::new("Tar Bucket");
        let mut course = Course::new(song(), RAMP, &marks).unwrap();
        assert_eq!(now(&course, &marks), is("G to C", 60.0, false));
        let first = course.exercise(&marks).unwrap().change;
        marks.practised(&first, 80.0, day("2024-03-09"));
        course.go_on(&marks);
        assert_eq!(now(&course, &marks), is("C to D", 60.0, false));
        let second = course.exercise(&marks).unwrap().change;
        marks.learnt(&second, 100.0, day("2024-03-09"));
        course.go_on(&marks);
        assert_eq!(now(&course, &marks), is("D to G", 60.0, false));
        course.go_on(&marks);
        assert_eq!(
            now(&course, &marks),
            is("G to C", 76.0, false),
            "what is learnt is passed over"
        );

        let course = Course::new(song(), RAMP, &marks).unwrap();
        assert_eq!(now(&course, &marks), is("G to C", 76.0, false), "the next day");
    }

    #[test]
    fn got_it_too_slow_comes_again() {
        let mut marks = Marks::new("Tar Bucket");
        let mut course = Course::new(song(), RAMP, &marks).unwrap();
        marks.learnt(&song()[0], 72.0, day("2024-03-09"));
        for wanted in
            [is("C to D", 60.0, false), is("D to G", 60.0, false), is("G to C", 68.0, false)]
        {
            course.go_on(&marks);
            assert_eq!(now(&course, &marks), wanted);
        }
    }

    #[test]
    fn what_is_all_learnt_is_gone_over_from_the_oldest() {
        let mut marks = Marks::new("Tar Bucket");
        for (change, when) in song().iter().zip(["2024-03-09", "2024-03-07", "2024-03-08"]) {
            marks.learnt(change, 100.0, day(when));
        }
        let mut course = Course::new(song(), RAMP, &marks).unwrap();
        let mut heard = Vec::new();
        for _ in 0..4 {
            let exercise = course.exercise(&marks).unwrap();
            assert!(exercise.review && exercise.ramp.from == 96.0);
            heard.push(exercise.change.to_string());
            marks.learnt(&exercise.change, 100.0, day("2024-03-10"));
            course.go_on(&marks);
        }
        assert_eq!(heard, ["C to D", "D to G", "G to C", "C to D"]);
    }

    #[test]
    fn the_last_one_learnt_leads_into_the_review() {
        let mut marks = Marks::new("Tar Bucket");
        marks.learnt(&song()[0], 100.0, day("2024-03-10"));
        marks.learnt(&song()[1], 100.0, day("2024-03-10"));
        let mut course = Course::new(song(), RAMP, &marks).unwrap();
        assert_eq!(now(&course, &marks).0, "D to G");
        marks.learnt(&song()[2], 100.0, day("2024-03-10"));
        course.go_on(&marks);
        assert_eq!(now(&course, &marks), is("G to C", 96.0, true));
    }

    #[test]
    fn one_change_comes_again_and_none_makes_no_course() {
        let mut marks = Marks::new("Tar Bucket");
        let one = vec![song()[0]];
        let mut course = Course::new(one, RAMP, &marks).unwrap();
        course.go_on(&marks);
        assert_eq!(now(&course, &marks), is("G to C", 60.0, false));
        marks.learnt(&song()[0], 104.0, day("2024-03-10"));
        course.go_on(&marks);
        course.go_on(&marks);
        assert_eq!(now(&course, &marks), is("G to C", 100.0, true));
        assert_eq!(Course::new(Vec::new(), RAMP, &marks), None);
    }

    #[test]
    fn a_falling_ramp_goes_on_a_step_above() {
        let mut marks = Marks::new("Tar Bucket");
        marks.practised(&song()[0], 80.0, day("2024-03-10"));
        let down = Ramp { from: 100.0, to: 50.0, step: 10.0 };
        let course = Course::new(song(), down, &marks).unwrap();
        assert_eq!(now(&course, &marks), is("G to C", 90.0, false));
    }
}
