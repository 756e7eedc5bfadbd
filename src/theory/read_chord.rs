use super::chord_error::{ChordError, Piece};
use super::{Chord, Key, Mode, PitchName, Quality};

impl Chord {
    /// Reads a symbol or a number, whichever it is: letters begin symbols, digits and accidentals
    /// begin numbers.
    ///
    /// # Errors
    /// If it is neither: where in the text, and what to write instead.
    pub fn read(text: &str, key: Key) -> Result<Self, ChordError> {
        if text.starts_with(|c: char| c.is_ascii_digit() || ACCIDENTALS.contains(&c)) {
            Self::parse_number(text, key)
        } else {
            Self::parse(text)
        }
    }

    /// Reads a chord symbol: `G`, `F#m7b5`, `B♭7`, `D/F#`.
    ///
    /// # Errors
    /// If it is none: where in the text, and what to write instead.
    pub fn parse(text: &str) -> Result<Self, ChordError> {
        let (root, rest) =
            PitchName::read(text).ok_or_else(|| ChordError::root(&Piece::head(text)))?;
        let place = Piece::tail(text, rest);
        let (quality, bass) = quality_and_bass(&place)?;
        let bass = bass.map(|bass| read_bass(&bass)).transpose()?;
        Ok(Self { root, quality, bass })
    }

    /// Reads a scale-degree number, as Nashville charts have them: `1`, `6m`, `57` (a seventh chord on
    /// 5), `b7`, `1/3` (over the third degree).
    ///
    /// Degrees count on the major scale of the key's tonic in every mode, and a plain number is a
    /// major chord: the flat seventh of a modal or minor tune is `b7`, its minor tonic `1m`, as
    /// pickers call them out.
    ///
    /// # Errors
    /// If it is none: where in the text, and what to write instead.
    pub fn parse_number(text: &str, key: Key) -> Result<Self, ChordError> {
        let (root, rest) =
            read_degree(text, key).ok_or_else(|| ChordError::degree(&Piece::head(text)))?;
        let (quality, bass) = quality_and_bass(&Piece::tail(text, rest))?;
        let bass = bass
            .map(|place| match read_degree(place.text(), key) {
                Some((note, "")) => Ok(note),
                _ => Err(ChordError::bass_degree(&place)),
            })
            .transpose()?;
        Ok(Self { root, quality, bass })
    }
}

/// The marks that raise or lower a scale degree. The flat is a small b, so no root of a symbol.
const ACCIDENTALS: [char; 4] = ['b', '#', '♭', '♯'];

/// What follows a root: a quality, and the place of the slash bass if there is one.
fn quality_and_bass<'a>(place: &Piece<'a>) -> Result<(Quality, Option<Piece<'a>>), ChordError> {
    // 6/9 and m/maj7 have a slash of their own, so the whole is tried first.
    if let Some(quality) = Quality::parse(place.text()) {
        return Ok((quality, None));
    }
    let (head, bass) = match place.split_at_last('/') {
        Some((head, bass)) => (head, Some(bass)),
        None => (place.clone(), None),
    };
    let quality = Quality::parse(head.text()).ok_or_else(|| ChordError::quality(&head))?;
    Ok((quality, bass))
}

fn read_bass(place: &Piece<'_>) -> Result<PitchName, ChordError> {
    match PitchName::read(place.text()) {
        Some((note, "")) => Ok(note),
        _ => Err(ChordError::bass(place)),
    }
}

/// Reads an accidental if there is one and a degree, 1 to 7; gives its note in the key and the rest.
fn read_degree(text: &str, key: Key) -> Option<(PitchName, &str)> {
    let (shift, rest) = match text.chars().next()? {
        'b' | '♭' => (-1, text.trim_start_matches(['b', '♭'])),
        '#' | '♯' => (1, text.trim_start_matches(['#', '♯'])),
        _ => (0, text),
    };
    // One mark at most: a degree shifted twice is called by its neighbour's number.
    if shift != 0 && text.chars().count() - rest.chars().count() != 1 {
        return None;
    }
    let degree = rest.chars().next()?.to_digit(10)?.checked_sub(1)?;
    let major = Key { tonic: key.tonic, mode: Mode::Major };
    let mut note = *major.scale().get(usize::try_from(degree).ok()?)?;
    note.accidental = note.accidental.checked_add(shift)?;
    Some((note, rest.get(1..)?))
}
