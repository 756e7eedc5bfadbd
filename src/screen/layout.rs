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
    /// The present chord's other name, and the banjo's capo.
    pub(super) shape: Rect,
    /// The next chord's other name.
    pub(super) next_shape: Rect,
    /// The coming bar's tab.
    pub(super) tab: Rect,
    /// The line of bars.
    pub(super) bars: Rect,
    /// The line after it.
    pub(super) next_line: Rect,
    /// Who plays.
    pub(super) chairs: Rect,
    /// Whom to listen to.
    pub(super) singer: Rect,
    /// What is heard of the player.
    pub(super) heard: Rect,
    /// What the player has to do, in a word as large as may be.
    pub(super) task: Rect,
    /// The same in more words, and what comes. Messages too where they have no row of their own.
    pub(super) detail: Rect,
    /// Messages.
    pub(super) notice: Rect,
    /// Big letters for header, form and notice as well.
    pub(super) all_big: Option<Dot>,
    /// Big letters for bars, chairs and singer.
    pub(super) big: Option<Dot>,
    /// Big letters for the line after.
    pub(super) big_next_line: Option<Dot>,
}

/// The smallest screen that has everything.
pub(super) const FULL: (u16, u16) = (60, 16);

/// How high big letters can be: in rows, for dots of 1, 2, 3 and more halves.
const fn rows_of_letters(most: u16) -> u16 {
    Dot::new(1, most * 2 / 7).rows()
}

/// What not every song or player has a place for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Wants {
    /// The coming bar's tab.
    pub(super) tab: bool,
    /// A row for what the band stops for.
    pub(super) stops: bool,
    /// What a capo makes of the chords.
    pub(super) shape: bool,
    /// What is heard of the player.
    pub(super) heard: bool,
}

/// Lays out a frame. What to do is the largest text after the present chord: nothing else is higher, the next
/// chord neither.
pub(super) fn layout(frame: Rect, wants: Wants) -> Layout {
    let (width, height) = (frame.width, frame.height);
    if width < FULL.0 || height < FULL.1 {
        return little(frame);
    }
    let big = (width >= 110 && height >= 40).then_some(Dot::SMALL);
    let all_big = (width >= 170 && height >= 56).then_some(Dot::SMALL);
    let line = |dot: Option<Dot>| dot.map_or(1, Dot::rows);
    let big_next_line = all_big.filter(|_| height >= 66);
    let margin = if width < 100 { 1 } else { 2 };

    // What the smallest screen leaves out comes in this order, row by row.
    let spare = height - FULL.1;
    let stops = u16::from(wants.stops && (big.is_some() || spare >= 5));
    let voice = u16::from(big.is_some() || spare >= 4);
    let task = match (all_big, height) {
        (Some(_), _) => rows_of_letters(11),
        (None, 31..) => rows_of_letters(7),
        (None, _) => rows_of_letters(4),
    };
    let detail = if spare >= 1 { line(all_big) } else { 0 };
    let form = match (all_big, big) {
        (Some(_), _) => line(all_big),
        // A second row of passes would make the chord smaller.
        (None, Some(_)) => 1,
        (None, None) => u16::from(spare >= 2) + u16::from(spare >= 12),
    };
    let beats = if big.is_some() { 2 } else { 1 };
    let bars = line(big) + beats + voice + stops;
    let next_line = if spare >= 5 + 4 * stops { line(big_next_line) } else { 0 };
    let notice = u16::from(all_big.is_none() && spare >= 9 + stops);
    let (header, chairs, singer) = (line(all_big), line(big), line(big));
    let fixed = header + form + bars + next_line + chairs + singer + task + detail + notice;
    let rest = height.saturating_sub(fixed);
    // A row free below the chords where there is room.
    let air = u16::from(height >= 26);
    let block_of = |rest: u16| match rows_of_letters(rest.saturating_sub(air)) {
        // Two rows of small letters beside the chord.
        7 if rest >= 8 => 8,
        rows => rows,
    };
    let block = block_of(rest);
    // It makes nothing else smaller: only a row that is free is its own.
    let heard = u16::from(wants.heard && block_of(rest.saturating_sub(1)) == block && rest > block);
    let mut gaps = rest - block - heard;
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
    let mut places = Layout { all_big, big, big_next_line, ..Layout::default() };
    // Where there is little to share out, it goes below the chords first.
    let below = gap(4);
    let before_chairs = gap(3);
    let before_task = gap(2);
    let above = gap(1);
    places.header = rows(header, 0);
    places.form = rows(form, above);
    let block_area = rows(block, below);
    places.bars = rows(bars, 0);
    places.next_line = rows(next_line, before_chairs);
    places.chairs = rows(chairs, 0);
    places.singer = rows(singer, 0);
    places.heard = rows(heard, before_task);
    places.task = rows(task, 0);
    places.detail = rows(detail, 0);
    places.notice = rows(notice, 0);
    lay_out_block(&mut places, block_area, task, wants);
    places
}

/// The present chord, the next one beside it, and the tab beside both. Nothing but the present chord is higher
/// than `most`.
fn lay_out_block(places: &mut Layout, block: Rect, most: u16, wants: Wants) {
    /// Columns of a bar of eighths with frets of two figures; of one of sixteenths.
    const TAB: [u16; 2] = [28, 37];
    /// Where the chords keep room for four letters and two.
    const ROOM: u16 = 76;
    /// Columns for `as F#m7`, plain and in the smallest of the big letters.
    const SHAPE: u16 = 8;
    const NAME: u16 = 20;
    let high = block.height;
    let tab = match block.width {
        _ if !wants.tab || high < 8 => 0,
        0..ROOM => 0,
        ROOM..100 => TAB[0],
        100.. => TAB[1],
    };
    let (chords, right) = columns(block, block.width - tab);
    places.tab = right;
    let wide = if tab > 0 { chords.width - 2 } else { chords.width };
    let right = part(wide, 42).max(if tab > 0 { 20 } else { 24 });
    let (now, side) = columns(Rect { width: wide, ..chords }, wide - right - 1);
    let side = Rect { x: side.x + 1, width: side.width - 1, ..side };
    let next = rows_of_letters((high * 2 / 3).max(4)).min(most);
    let left = high - next;
    // Three rows are too few for big figures.
    let count = match rows_of_letters(left).min(most) {
        0 => left,
        rows => rows,
    };
    places.next = Rect { height: next, ..side };
    places.count = Rect { y: side.bottom() - count, height: count, ..side };
    places.now = now;
    if !wants.shape {
        return;
    }
    if high >= 11 && now.width >= 2 * NAME {
        // Beside the chord, at its foot; the capo in a row below.
        let shape = rows_of_letters(if high >= 18 { 7 } else { 4 }).min(most) + 1;
        let (now, beside) = columns(now, now.width - part(now.width, 45).max(NAME));
        places.now = Rect { width: now.width - 1, ..now };
        places.shape = Rect { y: beside.bottom() - shape, height: shape, ..beside };
    } else if high > 7 {
        let shape = if high >= 11 { rows_of_letters(4) } else { 1 };
        places.now = Rect { height: rows_of_letters(high - shape), ..now };
        places.shape = Rect { y: now.bottom() - shape, height: shape, ..now };
    } else {
        // Below the plain count.
        places.count.height = 1;
        places.shape = Rect { y: side.bottom() - 1, height: 1, ..side };
    }
    if places.next.width > 2 * SHAPE {
        let (next, beside) = columns(places.next, places.next.width - SHAPE);
        places.next = next;
        places.next_shape = Rect { y: beside.bottom() - 1, height: 1, ..beside };
    }
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
    let mut rows = |wanted: u16| {
        let height = wanted.min(bottom - frame.y);
        bottom -= height;
        Rect { y: bottom, height, ..frame }
    };
    let height = frame.height;
    // From the bottom up; each only where the chord keeps four rows, or one where it has no more.
    places.notice = rows(u16::from(height >= 8 && height != 12));
    places.task = rows(match height {
        12.. => rows_of_letters(4),
        10.. => 1,
        _ => 0,
    });
    places.singer = rows(u16::from(height >= 6));
    places.chairs = rows(u16::from(height >= 7));
    places.bars = rows(u16::from(height >= 9));
    places.next = rows(u16::from(height >= 2));
    places.now = Rect { height: bottom - frame.y, ..frame };
    places
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// All ways to want something.
    fn wants() -> impl Iterator<Item = Wants> {
        let bit = |of: u8, which: u8| of >> which & 1 == 1;
        (0..16).map(move |of| Wants {
            tab: bit(of, 0),
            stops: bit(of, 1),
            shape: bit(of, 2),
            heard: bit(of, 3),
        })
    }

    fn areas(places: &Layout) -> [Rect; 16] {
        let Layout { header, form, now, next, count, bars, next_line, chairs, .. } = *places;
        let Layout { singer, task, notice, shape, next_shape, tab, detail, heard, .. } = *places;
        [
            header, form, now, next, count, bars, next_line, chairs, singer, task, notice, shape,
            next_shape, tab, detail, heard,
        ]
    }

    fn check(width: u16, height: u16) {
        let frame = Rect::new(0, 0, width, height);
        for wants in wants() {
            let areas = areas(&layout(frame, wants));
            for (at, area) in areas.iter().enumerate() {
                assert_eq!(
                    frame.intersection(*area),
                    *area,
                    "{width}x{height}: {area} of {areas:?}"
                );
                for other in areas.iter().take(at) {
                    assert!(
                        area.intersection(*other).is_empty(),
                        "{width}x{height}: {area} {other}"
                    );
                }
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
    fn the_chord_is_the_largest_thing_and_then_what_to_do() {
        for (width, height) in (60..220).step_by(7).flat_map(|it| (16..80).map(move |h| (it, h))) {
            for wants in wants() {
                let places = layout(Rect::new(0, 0, width, height), wants);
                let task = places.task.height;
                assert!(places.now.height >= task && task >= 4, "{width}x{height} {places:?}");
                if !wants.shape {
                    let letters = rows_of_letters(places.now.height);
                    assert!(letters > task, "{width}x{height} {places:?}");
                }
                assert!(places.next.height >= 4, "{width}x{height} {places:?}");
                let Layout { next, count, singer, chairs, .. } = places;
                for other in [next, count, singer, chairs] {
                    assert!(other.height <= task, "{width}x{height} {places:?}");
                }
                // Its last row is plain.
                assert!(places.shape.height <= task + 1, "{width}x{height} {places:?}");
            }
        }
    }

    #[test]
    fn who_is_heard_takes_no_room_from_anything() {
        for (width, height) in (60..220).step_by(7).flat_map(|it| (16..80).map(move |h| (it, h))) {
            for wants in wants().filter(|wants| !wants.heard) {
                let frame = Rect::new(0, 0, width, height);
                let without = layout(frame, wants);
                let with = layout(frame, Wants { heard: true, ..wants });
                let heights = |places: &Layout| areas(places).map(|area| area.height);
                let (mut with, without) = (heights(&with), heights(&without));
                // Their own row comes last.
                with[15] = 0;
                assert_eq!(with, without, "{width}x{height}");
            }
        }
        let heard = Wants { heard: true, ..Wants::default() };
        assert_eq!(layout(Rect::new(0, 0, 80, 28), heard).heard.height, 1);
    }

    #[test]
    fn what_was_asked_for_has_its_place_where_there_is_room() {
        let all = Wants { tab: true, stops: true, shape: true, heard: true };
        let places = |width, height| layout(Rect::new(0, 0, width, height), all);
        for (width, height) in [(80, 24), (120, 40), (200, 60)] {
            let Layout { tab, shape, next_shape, .. } = places(width, height);
            // A bar of eighths with its chords, counts and two rows of fingers.
            assert!(tab.width >= 20 && tab.height >= 10, "{tab}");
            assert!(shape.height >= 4 && !next_shape.is_empty(), "{shape}");
        }
        let low = places(60, 16);
        assert!(low.tab.is_empty() && !low.shape.is_empty());
        // Without them the chord has the room.
        let none = layout(Rect::new(0, 0, 80, 24), Wants::default());
        assert!(none.now.width > places(80, 24).now.width && none.now.height == 11);
    }
}
