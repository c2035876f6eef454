//! Hiss for tests, the same at every run.

/// White noise evenly spread from -1 up to 1, by a linear congruential generator (constants of Numerical Recipes, from
/// memory).
pub(super) fn hiss(seed: u32) -> impl Iterator<Item = f64> {
    let mut state = seed;
    std::iter::repeat_with(move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 16) / 32_768.0 - 1.0
    })
}
