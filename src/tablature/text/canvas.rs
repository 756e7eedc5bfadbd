/// Rows of characters that are written to at any place.
#[derive(Default)]
pub(super) struct Canvas {
    rows: Vec<Vec<char>>,
}

impl Canvas {
    /// Writes a word into a row, over what stands there.
    pub(super) fn put(&mut self, row: usize, column: usize, word: &str) {
        if self.rows.len() <= row {
            self.rows.resize_with(row + 1, Vec::new);
        }
        let Some(cells) = self.rows.get_mut(row) else { return };
        for (at, c) in (column..).zip(word.chars()) {
            if cells.len() <= at {
                cells.resize(at + 1, ' ');
            }
            if let Some(cell) = cells.get_mut(at) {
                *cell = c;
            }
        }
    }

    /// How long a row is so far.
    pub(super) fn length(&self, row: usize) -> usize {
        self.rows.get(row).map_or(0, Vec::len)
    }

    /// The rows that hold anything, without spaces at their ends.
    pub(super) fn lines(&self) -> String {
        let rows = self.rows.iter().map(|row| row.iter().collect::<String>());
        rows.filter(|row| !row.trim().is_empty())
            .map(|row| format!("{}\n", row.trim_end()))
            .collect()
    }
}
