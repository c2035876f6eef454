//! Runs of misses: how often the plain rule "so many in a row" fires by chance.

use super::{StatsError, bad, share};

/// P(at least one run of `run` misses or more in `trials`), each missed with chance `miss`
/// independently: exact Markov chain over the length of the present run (Feller 1968, chapter XIII).
///
/// # Errors
/// [`StatsError::Bad`] unless the chance is from 0 to 1 and the run is at least 1.
pub fn run_chance(trials: u32, miss: f64, run: u32) -> Result<f64, StatsError> {
    let miss = share("the chance of a miss", miss)?;
    if run == 0 {
        return Err(bad("the run", "at least 1", 0.0));
    }
    if run > trials {
        return Ok(0.0);
    }
    // still[j]: no such run yet, and the present one is j long.
    let mut still = vec![0.0; run as usize];
    still[0] = 1.0;
    for _ in 0..trials {
        let total: f64 = still.iter().sum();
        still.rotate_right(1);
        still.iter_mut().for_each(|p| *p *= miss);
        still[0] = total * (1.0 - miss);
    }
    Ok((1.0 - still.iter().sum::<f64>()).clamp(0.0, 1.0))
}
