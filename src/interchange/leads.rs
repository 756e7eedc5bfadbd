//! Who is meant by a word for an instrument.

use crate::band::Lead;
use crate::text::called;

/// The lead that goes by a word in small letters, ours or one that players have for it: `fiddle`, `violin`, `mando`.
pub(super) fn lead_called(word: &str) -> Option<Lead> {
    let known = Lead::ALL.into_iter().map(Lead::as_str);
    Lead::parse(word).or_else(|| Lead::parse(called(word, known)?))
}
