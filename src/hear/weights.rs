/// Takes one weight after the other from a net's file: little-endian floats of 32 bits. Zeros once there are none left.
pub(super) struct Reader<'a>(std::slice::ChunksExact<'a, u8>);

impl<'a> Reader<'a> {
    pub fn new(file: &'a [u8]) -> Self {
        Self(file.chunks_exact(4))
    }

    pub fn one(&mut self) -> f32 {
        let four = self.0.next().and_then(|four| four.try_into().ok());
        f32::from_le_bytes(four.unwrap_or_default())
    }

    pub fn row<const N: usize>(&mut self) -> [f32; N] {
        std::array::from_fn(|_| self.one())
    }

    pub fn rows<const N: usize>(&mut self, count: usize) -> Vec<[f32; N]> {
        (0..count).map(|_| self.row()).collect()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_come_in_their_order() {
        let file: Vec<u8> = [1.0_f32, 2.0, -3.5].iter().flat_map(|x| x.to_le_bytes()).collect();
        let mut reader = Reader::new(&file);
        assert_eq!(reader.one(), 1.0);
        assert_eq!(reader.row(), [2.0, -3.5, 0.0]);
        let mut sums = [1.0, 1.0];
        weigh(2.0, &[0.5, -1.0], &mut sums);
        assert_eq!(sums, [2.0, -1.0]);
    }
}
