//! What stands on which page, and how large.

use super::setter::{Block, Setter, grey};
use super::widths::Fonts;
use super::{Anchor, BarSign, ChartSheet, Mark, Page, Row};

/// A4, in points.
const PAGE: (f64, f64) = (595.28, 841.89);
/// Left and right. Letter is wider.
const SIDE: f64 = 42.0;
const TOP: f64 = 44.0;
/// More than at the top, since Letter is 50 points lower than A4: so it prints whole on either.
const BOTTOM: f64 = 70.0;
/// Between two columns.
const BETWEEN: f64 = 22.0;
/// How the size of the chords is sought.
const STEP: f64 = 0.5;

/// The sizes of chords that are tried, in points, from the largest.
struct Sizes {
    largest: f64,
    /// On a page by itself.
    least: f64,
    /// On several pages.
    on_more: f64,
    /// In two columns on one page, the largest and the least; none for what must be read from afar.
    in_columns: Option<(f64, f64)>,
}

/// On a stand before you: letters of 3 mm and more.
const NEAR: Sizes =
    Sizes { largest: 28.0, least: 13.5, on_more: 15.0, in_columns: Some((15.0, 10.0)) };
/// At two metres: capitals of 8 mm, which are a seventh of a degree there (what is read at ease is from memory).
const FAR: Sizes = Sizes { largest: 46.0, least: 32.0, on_more: 34.0, in_columns: None };

/// Lines are broken sooner than that chords get smaller than this.
const WHOLE: f64 = 16.0;

/// How narrow a bar may be, in sizes of the chords: a line that would have narrower ones is broken.
const NARROWEST: f64 = 2.2;
/// How far the fullest bar may be narrowed before lines are broken.
const CROWDED: f64 = 0.7;
/// A bar is no wider than a third of the page.
const FEWEST: f64 = 3.0;

/// A chart set on pages.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pages {
    /// The pages, at least one.
    pub pages: Vec<Page>,
    /// The size of its chords, in points.
    pub size: f64,
    /// In how many columns its sections stand.
    pub columns: usize,
    /// True if a line of the chart had to be broken.
    pub is_broken: bool,
}

/// Sets a chart as large as it may be on one page; where that is too small, in two columns, and then on as many pages
/// as it wants. `big` is to be read at two metres: large, never in columns, with the form after the chords.
pub fn lay_out(sheet: &ChartSheet, big: bool) -> Pages {
    let fonts = Fonts::new();
    let sizes = if big { FAR } else { NEAR };
    let setting = |size, columns| Setting { sheet, fonts: &fonts, size, columns, big };
    let set = |size: f64, columns: usize| setting(size, columns).set();
    let down = |from: f64, to: f64| {
        let steps = ((from - to) / STEP).round() as usize;
        (0..=steps).map(move |step| from - step as f64 * STEP)
    };
    let one = |columns: usize, from: f64, to: f64| {
        let fits = |whole: bool| {
            let sizes = down(from, if whole { to.max(WHOLE.min(from)) } else { to });
            let sizes = sizes.map(|size| set(size, columns));
            let mut fit = sizes.filter(|set| set.pages.len() == 1 && !(whole && set.is_broken));
            fit.next()
        };
        // What does not fit at the least size is not tried at each of the others.
        (set(to, columns).pages.len() == 1).then(|| fits(true).or_else(|| fits(false))).flatten()
    };
    if let Some(found) = one(1, sizes.largest, sizes.least) {
        return found;
    }
    if let Some(found) = sizes.in_columns.and_then(|(from, to)| one(2, from, to)) {
        return found;
    }
    // Far off, the chords go on one page if they can, and the form on the next.
    let fits = |size: &f64| setting(*size, 1).chord_pages().len() == 1;
    if big && fits(&sizes.least) {
        let whole = |size: &f64| fits(size) && !set(*size, 1).is_broken;
        let found = down(sizes.largest, sizes.least).find(whole);
        let found = found.or_else(|| down(sizes.largest, sizes.least).find(fits));
        return set(found.unwrap_or(sizes.least), 1);
    }
    let least = set(sizes.on_more, 1);
    /// Of a longer chart it does not matter how full the last page is.
    const FEW: usize = 12;
    if least.pages.len() > FEW {
        return least;
    }
    let larger = down(sizes.largest, sizes.on_more).map(|size| set(size, 1));
    let mut larger = larger.filter(|set| set.pages.len() <= least.pages.len());
    larger.next().unwrap_or(least)
}

/// A chart at one size.
struct Setting<'a> {
    sheet: &'a ChartSheet,
    fonts: &'a Fonts,
    size: f64,
    columns: usize,
    big: bool,
}

impl Setting<'_> {
    fn setter(&self, width: f64) -> Setter<'_> {
        let small = if self.big {
            (self.size * 0.4).clamp(13.0, 17.0)
        } else {
            (self.size * 0.5).clamp(8.0, 10.5)
        };
        Setter { fonts: self.fonts, size: self.size, small, width }
    }

    fn set(&self) -> Pages {
        let (size, columns) = (self.size, self.columns);
        Pages { pages: self.pages(), size, columns, is_broken: self.is_broken() }
    }

    fn pages(&self) -> Vec<Page> {
        let (wide, column) = self.setters();
        let mut head = self.head(&wide);
        let mut body = self.chords(&column);
        if self.big {
            body.extend(together(column.form(&self.sheet.passes)));
        } else {
            head.extend(wide.form(&self.sheet.passes));
        }
        body.extend(column.signs(&self.sheet.signs));
        self.flow(head, body, column.width)
    }

    /// Without the form and what the signs mean.
    fn chord_pages(&self) -> Vec<Page> {
        let (wide, column) = self.setters();
        self.flow(self.head(&wide), self.chords(&column), column.width)
    }

    /// For the whole width, and for a column.
    fn setters(&self) -> (Setter<'_>, Setter<'_>) {
        let whole = PAGE.0 - 2.0 * SIDE;
        let between = BETWEEN * (self.columns - 1) as f64;
        (self.setter(whole), self.setter((whole - between) / self.columns as f64))
    }

    fn head(&self, wide: &Setter<'_>) -> Vec<Block> {
        vec![wide.head(self.sheet, if self.big { 30.0 } else { 24.0 })]
    }

    fn chords(&self, column: &Setter<'_>) -> Vec<Block> {
        let most = self.most(column);
        let rows: Vec<Vec<Row>> =
            self.sheet.parts.iter().map(|part| broken(&part.rows, most)).collect();
        let units = rows.iter().flatten().map(row_width).fold(FEWEST, f64::max);
        let parts = self.sheet.parts.iter().zip(&rows);
        parts.flat_map(|(part, rows)| column.part(part, rows, units)).collect()
    }

    /// How many bars a line may have.
    fn most(&self, column: &Setter<'_>) -> f64 {
        let cells = self.sheet.parts.iter().flat_map(|part| &part.rows).flat_map(|row| &row.cells);
        let widest = cells.map(|cell| column.needed(cell)).fold(0.0, f64::max);
        (column.width / (NARROWEST * self.size).max(CROWDED * widest)).max(1.0)
    }

    fn is_broken(&self) -> bool {
        let (_, column) = self.setters();
        let most = self.most(&column);
        let mut rows = self.sheet.parts.iter().flat_map(|part| &part.rows);
        rows.any(|row| row_width(row) > most)
    }

    /// Lays blocks one under the other: those of the head over all columns, then the rest.
    fn flow(&self, head: Vec<Block>, body: Vec<Block>, width: f64) -> Vec<Page> {
        let bottom = PAGE.1 - BOTTOM;
        let mut flow = Flow { pages: vec![page()], column: 0, top: TOP, y: TOP };
        for block in glued(head) {
            flow.put(&block, bottom, 1, width);
        }
        flow.y += self.size * 0.5;
        flow.top = flow.y;
        for block in glued(body) {
            flow.put(&block, bottom, self.columns, width);
        }
        let mut pages = flow.pages;
        let count = pages.len();
        if count > 1 {
            let small = self.setter(PAGE.0);
            for (number, page) in (1..).zip(&mut pages) {
                let words = format!("{}  ·  {number} of {count}", short(&self.sheet.title));
                let at = (PAGE.0 - SIDE, PAGE.1 - BOTTOM + 18.0);
                page.marks.push(grey(small.text(at, Anchor::End, 9.0, false, &words)));
            }
        }
        pages
    }
}

/// A form that is not broken over pages, unless it is long.
fn together(mut form: Vec<Block>) -> Vec<Block> {
    /// So many lines stand on half a page.
    const LONG: usize = 16;
    let last = form.len().saturating_sub(1);
    if form.len() <= LONG {
        form.iter_mut().take(last).for_each(|block| block.keeps = true);
    }
    form
}

/// A title that stands in a corner.
fn short(title: &str) -> String {
    const MOST: usize = 60;
    if title.chars().count() <= MOST {
        return title.to_owned();
    }
    title.chars().take(MOST).chain(std::iter::once('…')).collect()
}

const fn page() -> Page {
    Page { width: PAGE.0, height: PAGE.1, marks: Vec::new() }
}

/// Blocks that must stay together, as they follow.
fn glued(blocks: Vec<Block>) -> Vec<Vec<Block>> {
    let mut groups: Vec<Vec<Block>> = Vec::new();
    let mut open = false;
    for block in blocks {
        let keeps = block.keeps;
        match groups.last_mut() {
            Some(group) if open => group.push(block),
            _ => groups.push(vec![block]),
        }
        open = keeps;
    }
    groups
}

struct Flow {
    pages: Vec<Page>,
    column: usize,
    /// Where the columns of this page begin.
    top: f64,
    y: f64,
}

impl Flow {
    fn put(&mut self, group: &[Block], bottom: f64, columns: usize, width: f64) {
        let space = |at_top: bool, block: &Block| if at_top { 0.0 } else { block.space };
        let height: f64 = group.iter().map(|block| block.space + block.height).sum();
        let height = height
            - group.first().map_or(0.0, |first| if self.y <= self.top { first.space } else { 0.0 });
        if self.y + height > bottom && self.y > self.top {
            self.column += 1;
            if self.column >= columns {
                (self.column, self.top) = (0, TOP);
                self.pages.push(page());
            }
            self.y = self.top;
        }
        let x = SIDE + self.column as f64 * (width + BETWEEN);
        for block in group {
            self.y += space(self.y <= self.top, block);
            let marks = block.marks.iter().cloned().map(|mark: Mark| mark.moved(x, self.y));
            if let Some(page) = self.pages.last_mut() {
                page.marks.extend(marks);
            }
            self.y += block.height;
        }
    }
}

pub(super) fn row_width(row: &Row) -> f64 {
    row.indent + row.cells.iter().map(|cell| cell.width).sum::<f64>()
}

/// Lines no longer than `most` bars: longer ones are broken into pieces as long as one another.
pub(super) fn broken(rows: &[Row], most: f64) -> Vec<Row> {
    let mut out = Vec::new();
    for row in rows {
        let pieces = (row_width(row) / most).ceil().max(1.0) as usize;
        if pieces == 1 {
            out.push(row.clone());
            continue;
        }
        let (pickup, bars) = match row.cells.split_first() {
            Some((first, bars)) if first.is_pickup => (Some(first), bars),
            _ => (None, row.cells.as_slice()),
        };
        let size = bars.len().div_ceil(pieces).max(1);
        let count = bars.chunks(size).count();
        // What stands under a pickup's bar stays there; what stood under an ending can't.
        let indent = if row.indent < 1.0 { row.indent } else { 0.0 };
        for (at, cells) in bars.chunks(size).enumerate() {
            let numbers = row.numbers.iter().map(|number| number + at * size).collect();
            let close = if at + 1 == count { row.close } else { BarSign::Line };
            let mut piece = Row { numbers, indent, cells: cells.to_vec(), close };
            match pickup {
                Some(pickup) if at == 0 => piece.cells.insert(0, pickup.clone()),
                Some(pickup) => piece.indent += pickup.width,
                None => {}
            }
            out.push(piece);
        }
    }
    out
}
