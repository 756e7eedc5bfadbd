/// Takes one weight after the other from a net's file, written by `tests/outside/ear/packed.py`. What stands alone, and
/// what is added, are floats of 32 bits; of rows, which are nearly all, first what a step means in each column, as such
/// floats, then the rows in steps, 2047 at most, as integers of 16 bits. All little-endian. Zeros once there are none
/// left.
///
/// In steps a net is a third as large where it is packed, and every page carries it. Of 590 strokes each was heard as it
/// was with floats; with steps of 10 bits all but one, of 8 bits all but eleven.
pub(super) struct Reader<'a>(&'a [u8]);

impl<'a> Reader<'a> {
    pub const fn new(file: &'a [u8]) -> Self {
        Self(file)
    }

    fn bytes<const N: usize>(&mut self) -> [u8; N] {
        let Some((bytes, rest)) = self.0.split_first_chunk() else { return [0; N] };
        self.0 = rest;
        *bytes
    }

    pub fn one(&mut self) -> f32 {
        f32::from_le_bytes(self.bytes())
    }

    pub fn row<const N: usize>(&mut self) -> [f32; N] {
        std::array::from_fn(|_| self.one())
    }

    pub fn rows<const N: usize>(&mut self, count: usize) -> Vec<[f32; N]> {
        let steps: [f32; N] = self.row();
        let row = |_| steps.map(|step| f32::from(i16::from_le_bytes(self.bytes())) * step);
        (0..count).map(row).collect()
    }
}

/// Adds to each sum so much by its weight. Nothing for 0, which much is after a layer that lets nothing below it
/// through.
pub(super) fn weigh<const N: usize>(x: f32, weights: &[f32; N], sums: &mut [f32; N]) {
    if x != 0.0 {
        sums.iter_mut().zip(weights).for_each(|(sum, weight)| *sum += x * weight);
    }
}

/// A layer from any number of inputs: for each of them the weights of all that goes out, and what is added.
pub(super) struct Layer<const OUT: usize> {
    weights: Vec<[f32; OUT]>,
    bias: [f32; OUT],
}

impl<const OUT: usize> Layer<OUT> {
    pub fn read(reader: &mut Reader, inputs: usize) -> Self {
        Self { weights: reader.rows(inputs), bias: reader.row() }
    }

    /// The weighted sums.
    pub fn sums(&self, inputs: impl Iterator<Item = f32>) -> [f32; OUT] {
        let mut sums = self.bias;
        for (x, weights) in inputs.zip(&self.weights) {
            weigh(x, weights, &mut sums);
        }
        sums
    }

    /// The sums, where they are above 0.
    pub fn run(&self, inputs: impl Iterator<Item = f32>) -> [f32; OUT] {
        self.sums(inputs).map(|sum| sum.max(0.0))
    }
}

/// Bytes of so many rows of so many columns in a file.
#[cfg(test)]
pub(super) const fn rows(count: usize, columns: usize) -> usize {
    4 * columns + 2 * count * columns
}

/// Bytes of a layer.
#[cfg(test)]
pub(super) const fn layer(inputs: usize, outputs: usize) -> usize {
    rows(inputs, outputs) + 4 * outputs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_come_in_their_order() {
        let mut file: Vec<u8> =
            [1.0_f32, 2.0, -3.5, 0.5, 0.25].iter().flat_map(|x| x.to_le_bytes()).collect();
        file.extend([2_047_i16, -3, 4, 0].iter().flat_map(|x| x.to_le_bytes()));
        let mut reader = Reader::new(&file);
        assert_eq!(reader.one(), 1.0);
        assert_eq!(reader.row(), [2.0, -3.5]);
        assert_eq!(reader.rows(2), [[1023.5, -0.75], [2.0, 0.0]]);
        assert_eq!(reader.row(), [0.0; 3]);
        let mut sums = [1.0, 1.0];
        weigh(2.0, &[0.5, -1.0], &mut sums);
        assert_eq!(sums, [2.0, -1.0]);
    }
}
