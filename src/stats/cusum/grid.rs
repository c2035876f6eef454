//! Reference values on a grid, so that a sum moves by whole steps and its run length is exact.

/// The fraction with a denominator of at most `most` that is nearest to `x`, not zero.
pub(super) fn nearest_fraction(x: f64, most: u32) -> (u32, u32) {
    (1..=most)
        .map(|b| ((x * f64::from(b)).round().clamp(1.0, 1e9) as u32, b))
        .min_by(|p, q| {
            let miss = |&(a, b): &(u32, u32)| (x - f64::from(a) / f64::from(b)).abs();
            miss(p).total_cmp(&miss(q))
        })
        .unwrap_or((1, 1))
}

/// A threshold in grid steps, rounded up with a margin for rounding.
pub(super) fn grid_steps(threshold: f64, parts: u32) -> usize {
    (threshold * f64::from(parts) - 1e-6).ceil().clamp(1.0, 1e6) as usize
}
