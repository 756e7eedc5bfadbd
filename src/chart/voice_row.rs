use super::mark_row::Alphabet;

/// Where the singer sings.
pub(super) const VOICE: Alphabet<bool> = Alphabet {
    row: "voice",
    marks: &[('=', true), ('-', false)],
    help: "write `=` where the singer sings and `-` where they pause",
    plain: '=',
};
