//! How alike two pieces of sound are, and where one lies in the other.
#![allow(dead_code, missing_docs, clippy::unwrap_used)]

/// The correlation coefficient.
pub fn likeness(one: &[f32], other: &[f32]) -> f64 {
    let sum = |pairs: &mut dyn Iterator<Item = (f32, f32)>| -> f64 {
        pairs.map(|(a, b)| f64::from(a) * f64::from(b)).sum()
    };
    let both = sum(&mut one.iter().copied().zip(other.iter().copied()));
    let square = |it: &[f32]| sum(&mut it.iter().copied().zip(it.iter().copied()));
    both / (square(one) * square(other) + 1e-12).sqrt()
}

/// By how many frames a piece of the recording lies after the reference, within `around` of `near`,
/// and how alike they are there.
pub fn lag(
    recording: &[f32],
    reference: &[f32],
    near: i64,
    around: i64,
    from: usize,
    length: usize,
) -> (i64, f64) {
    let piece = &reference[from..from + length];
    let found = (near - around..=near + around).filter_map(|lag| {
        let start = usize::try_from(from as i64 + lag).ok()?;
        Some((lag, likeness(recording.get(start..start + length)?, piece)))
    });
    found.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap()
}
