use ratatui::layout::Rect;

use super::big::Dot;

/// Where everything on the screen is. No two areas share a cell, and all lie in the frame; an area
/// without cells is for what there is no room for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Layout {
    /// Title, key, capo, tempo, bar.
    pub(super) header: Rect,
    /// The passes.
    pub(super) form: Rect,
    /// The present chord.
    pub(super) now: Rect,
    /// The next chord.
    pub(super) next: Rect,
    /// The beats to it.
    pub(super) count: Rect,
    /// The line of bars.
    pub(super) bars: Rect,
    /// The line after it.
    pub(super) next_line: Rect,
    /// Who plays.
    pub(super) chairs: Rect,
    /// Whom to listen to.
    pub(super) singer: Rect,
    /// What the player has to do.
    pub(super) task: Rect,
    /// Messages.
    pub(super) notice: Rect,
    /// Big letters for header, form and notice as well.
    pub(super) all_big: Option<Dot>,
    /// Big letters for bars, chairs and singer.
    pub(super) big: Option<Dot>,
    /// Big letters for what the player has to do.
    pub(super) big_task: Option<Dot>,
    /// Big letters for the line after.
    pub(super) big_next_line: Option<Dot>,
}

/// The smallest screen that has everything.
pub(super) const FULL: (u16, u16) = (60, 16);

/// How high big letters can be: in rows, for dots of 1, 2, 3 and more halves.
const fn rows_of_letters(most: u16) -> u16 {
    Dot::new(1, most * 2 / 7).rows()
}

/// Lays out a frame.
pub(super) fn layout(frame: Rect) -> Layout {
    let (width, height) = (frame.width, frame.height);
    if width < FULL.0 || height < FULL.1 {
        return little(frame);
    }
    let big = (width >= 110 && height >= 36).then_some(Dot::SMALL);
    let all_big = (width >= 170 && height >= 52).then_some(Dot::SMALL);
    let line = |dot: Option<Dot>| dot.map_or(1, Dot::rows);
    // Where both have no room beside a large chord, what to do is larger than what the chart says next.
    let big_task = big.filter(|_| height >= 44);
    let big_next_line = all_big.filter(|_| height >= 66);
    let margin = if width < 100 { 1 } else { 2 };

    let header = line(all_big);
    let form = match (all_big, big, big_task) {
        (Some(_), _, _) => 4,
        // A second row of passes would make the chord smaller.
        (None, Some(_), None) => 1,
        (None, _, _) => 1 + u16::from(height >= 22),
    };
    let bars = line(big) + if big.is_some() { 3 } else { 1 + u16::from(height >= 18) };
    let next_line = if height >= 20 { line(big_next_line) } else { 0 };
    let chairs = line(big);
    let singer = line(big);
    // In the lowest screens it stands where the messages do.
    let task = if height >= 18 { line(big_task) } else { 0 };
    let notice = line(all_big);
    let rest = height - header - form - bars - next_line - chairs - singer - task - notice;
    // At least one row free below the chords, and more where there is room.
    let air = if height < 30 { 1 } else { 2 };
    let block = match rows_of_letters(rest - air) {
        7 if rest > 8 => 8,
        rows => rows,
    };
    let mut gaps = rest - block;
    let mut gap = |share: u16| {
        let rows = gaps.div_ceil(share.max(1));
        gaps -= rows;
        rows
    };

    let inner = width - 2 * margin;
    let mut top = frame.y;
    let mut rows = |height: u16, gap: u16| {
        let area = Rect::new(frame.x + margin, top, inner, height);
        top += height + gap;
        area
    };
    let mut places = Layout { all_big, big, big_task, big_next_line, ..Layout::default() };
    // Where there is little to share out, it goes below the chords first.
    let below = gap(3);
    let before_chairs = gap(2);
    let above = gap(1);
    places.header = rows(header, 0);
    places.form = rows(form, above);
    let block_area = rows(block, below);
    places.bars = rows(bars, 0);
    places.next_line = rows(next_line, before_chairs);
    places.chairs = rows(chairs, 0);
    places.singer = rows(singer, 0);
    places.task = rows(task, 0);
    places.notice = rows(notice, 0);

    let right = part(inner, 42).max(24);
    let (now, side) = columns(block_area, inner - right - 1);
    places.now = now;
    let side = Rect { x: side.x + 1, width: side.width - 1, ..side };
    let next = rows_of_letters((block * 2 / 3).max(4));
    let count = rows_of_letters(block - next);
    places.next = Rect { height: next, ..side };
    places.count = Rect { y: side.bottom() - count, height: count, ..side };
    places
}

/// So many hundredths of some cells.
pub(super) fn part(cells: u16, hundredths: u16) -> u16 {
    (u32::from(cells) * u32::from(hundredths.min(100)) / 100) as u16
}

/// An area of so many columns, and the rest.
fn columns(area: Rect, left: u16) -> (Rect, Rect) {
    let left = left.min(area.width);
    let right = Rect { x: area.x + left, width: area.width - left, ..area };
    (Rect { width: left, ..area }, right)
}

/// What matters most, for a screen too small for everything: the chord, what comes, who plays.
fn little(frame: Rect) -> Layout {
    let mut places = Layout::default();
    let mut bottom = frame.bottom();
    let mut row = |wanted: bool| {
        let height = u16::from(wanted && bottom > frame.y);
        bottom -= height;
        Rect { y: bottom, height, ..frame }
    };
    let height = frame.height;
    // From the bottom up; each only where the chord keeps four rows, or one where it has no more.
    places.notice = row(height >= 8);
    places.task = row(height >= 10);
    places.singer = row(height >= 6);
    places.chairs = row(height >= 7);
    places.bars = row(height >= 9);
    places.next = row(height >= 2);
    places.now = Rect { height: bottom - frame.y, ..frame };
    places
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    pub(super) fn areas(places: &Layout) -> [Rect; 11] {
        let Layout { header, form, now, next, count, bars, next_line, chairs, .. } = *places;
        let Layout { singer, task, notice, .. } = *places;
        [header, form, now, next, count, bars, next_line, chairs, singer, task, notice]
    }

    fn check(width: u16, height: u16) {
        let frame = Rect::new(0, 0, width, height);
        let areas = areas(&layout(frame));
        for (at, area) in areas.iter().enumerate() {
            assert_eq!(frame.intersection(*area), *area, "{width}x{height}: {area} of {areas:?}");
            for other in areas.iter().take(at) {
                assert!(area.intersection(*other).is_empty(), "{width}x{height}: {area} {other}");
            }
        }
    }

    proptest! {
        #[test]
        fn no_two_areas_share_a_cell(width in 1_u16..400, height in 1_u16..200) {
            check(width, height);
        }
    }

    #[test]
    fn nor_at_the_bounds() {
        for height in 1..70 {
            for width in [
                1,
                2,
                20,
                40,
                59,
                60,
                61,
                80,
                99,
                100,
                109,
                110,
                120,
                169,
                170,
                200,
                1000,
                20_000,
                u16::MAX,
            ] {
                check(width, height);
            }
        }
    }

    #[test]
    fn the_chord_is_the_largest_thing() {
        for (width, height) in [(60, 16), (80, 24), (120, 40), (200, 60)] {
            let places = layout(Rect::new(0, 0, width, height));
            assert!(places.now.height * 5 >= height * 2, "{places:?}");
            assert!(places.next.height >= 4 && places.count.height >= 4, "{places:?}");
        }
    }
}
