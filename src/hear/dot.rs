/// The sum of the products of what stands side by side, as far as the shorter reaches. In eight sums at once: a
/// single one would have to wait for each addition before the next.
pub(super) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let rows = a.len().min(b.len()) / 8 * 8;
    let (Some((a, a_rest)), Some((b, b_rest))) =
        (a.split_at_checked(rows), b.split_at_checked(rows))
    else {
        return 0.0;
    };
    let mut sums = [0.0_f32; 8];
    for (a, b) in a.chunks_exact(8).zip(b.chunks_exact(8)) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    sums.iter().sum::<f32>() + a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum::<f32>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_product_counts_once() {
        for length in 0..40_usize {
            let a: Vec<f32> = (0..length).map(|n| n as f32).collect();
            let b = vec![2.0; length + 3];
            let sum = (length * length.saturating_sub(1)) as f32;
            assert_eq!(dot(&a, &b), sum);
            assert_eq!(dot(&b, &a), sum);
        }
    }
}
