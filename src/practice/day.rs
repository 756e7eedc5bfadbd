use std::fmt;

/// A day of the calendar, written year, month, day: `2024-03-09` (ISO 8601).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day {
    year: u16,
    month: u8,
    day: u8,
}

impl Day {
    /// `None` where the calendar has no such day, or the year has more than four digits.
    pub fn new(year: u16, month: u8, day: u8) -> Option<Self> {
        let leap =
            year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        let days = match month {
            2 => 28 + u8::from(leap),
            4 | 6 | 9 | 11 => 30,
            _ => 31,
        };
        let known = year <= 9999 && (1..=12).contains(&month) && (1..=days).contains(&day);
        known.then_some(Self { year, month, day })
    }

    /// Reads `2024-03-09`.
    pub fn parse(text: &str) -> Option<Self> {
        let parts: Vec<&str> = text.split('-').collect();
        let &[year, month, day] = parts.as_slice() else { return None };
        let digits =
            |text: &str, many| text.len() == many && text.bytes().all(|b| b.is_ascii_digit());
        if !(digits(year, 4) && digits(month, 2) && digits(day, 2)) {
            return None;
        }
        Self::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?)
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_the_calendars() {
        for text in ["2024-02-29", "2000-02-29", "1999-12-31", "0001-01-01"] {
            assert_eq!(Day::parse(text).unwrap().to_string(), text);
        }
        for text in [
            "2023-02-29",
            "1900-02-29",
            "2024-13-01",
            "2024-00-10",
            "2024-04-31",
            "2024-1-1",
            "2024-01-00",
            "20240-01-1",
            "+024-01-01",
            "2024-01",
            "",
            "heute",
        ] {
            assert_eq!(Day::parse(text), None, "{text}");
        }
        assert!(Day::parse("2023-12-31") < Day::parse("2024-01-01"));
    }
}
