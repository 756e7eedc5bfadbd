use crate::arrange::Bar;
use crate::chart::Role;

/// What a bar's chance is drawn by: its number, or for one who answers lines its place in what it
/// plays, so that those that answer each other are alike in each pass. Of 64 bits everywhere, since a pass is
/// shifted past 32.
pub(super) const fn draw(role: Role, bar: &Bar, number: usize) -> u64 {
    if role.row().playing.answers_lines {
        (bar.pass as u64) << 20 | (theme(bar.line) as u64) << 8 | bar.turn as u64
    } else {
        number as u64
    }
}

/// Which idea a line of a break is made of: the second line answers the first with the same, the third
/// brings another, the fourth comes back to the first (common practice, no source: the A A B A of
/// songs). Lines of the same number are alike.
pub(super) const fn theme(line: usize) -> usize {
    line / 4 * 2 + (line % 4 == 2) as usize
}
