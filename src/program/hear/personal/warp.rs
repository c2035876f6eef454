//! How unlike two sounds are when their time is stretched to fit: dynamic time warping. Pure.

use super::features::{Features, VALUES};
use crate::lesson::Example;

/// A sound that was said faster or slower than this factor is another.
const STRETCH: f32 = 2.0;

impl Example for Features {
    /// In the units of a byte.
    fn distance(&self, other: &Self) -> f32 {
        distance(self, other).unwrap_or(f32::INFINITY)
    }
}

/// Mean distance per frame along the best path; `None` when no path fits. 0 for a sound and itself.
///
/// Symmetric, with the slope between one half and two: Sakoe and Chiba 1978, IEEE Transactions on Acoustics,
/// Speech, and Signal Processing 26(1):43-49, slope constraint P = 1.
pub(super) fn distance(a: &Features, b: &Features) -> Option<f32> {
    let (rows, columns) = (a.len(), b.len());
    if rows < 3 || columns < 3 {
        return None;
    }
    let ratio = rows as f32 / columns as f32;
    if !(1.0 / STRETCH..=STRETCH).contains(&ratio) {
        return None;
    }
    // The latest first: local distances of the row before, and path costs of the two rows before.
    let far = f32::INFINITY;
    let mut local = [vec![far; columns], vec![far; columns]];
    let mut cost = [vec![far; columns], vec![far; columns]];
    for row in 0..rows {
        let here: Vec<f32> =
            (0..columns).map(|column| apart(a.frame(row), b.frame(column))).collect();
        let mut next = vec![far; columns];
        for column in 0..columns {
            let d = here[column];
            if row == 0 && column == 0 {
                next[0] = 2.0 * d;
                continue;
            }
            let at = |costs: &[f32], back: usize| {
                if column >= back { costs[column - back] } else { far }
            };
            let diagonal = at(&cost[1], 1) + 2.0 * d;
            let two_columns =
                at(&cost[1], 2) + if column >= 1 { 2.0 * here[column - 1] + d } else { far };
            let two_rows = at(&cost[0], 1) + 2.0 * local[1][column] + d;
            next[column] = diagonal.min(two_columns).min(two_rows);
        }
        local = [std::mem::take(&mut local[1]), here];
        cost = [std::mem::take(&mut cost[1]), next];
    }
    let whole = cost[1][columns - 1];
    whole.is_finite().then(|| whole / (rows + columns) as f32)
}

/// Distance of two frames, in the units of a byte.
fn apart(a: &[i8], b: &[i8]) -> f32 {
    let sum: i32 = a
        .iter()
        .zip(b)
        .map(|(a, b)| {
            let d = i32::from(*a) - i32::from(*b);
            d * d
        })
        .sum();
    (sum as f32 / VALUES as f32).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tone that glides from one frequency to another.
    fn glide(from_hz: f32, to_hz: f32, seconds: f32) -> Features {
        let count = (seconds * 16_000.0) as usize;
        let mut phase = 0.0f32;
        let samples: Vec<i16> = (0..count)
            .map(|i| {
                let hz = from_hz + (to_hz - from_hz) * i as f32 / count as f32;
                phase += std::f32::consts::TAU * hz / 16_000.0;
                (8_000.0 * phase.sin()) as i16
            })
            .collect();
        Features::of(&samples, &[])
    }

    #[test]
    fn slower_is_nearer_than_another_and_much_slower_is_another() {
        let up = glide(400.0, 2_000.0, 0.4);
        assert_eq!(distance(&up, &up), Some(0.0));
        let slower = distance(&up, &glide(400.0, 2_000.0, 0.55)).unwrap();
        let down = distance(&up, &glide(2_000.0, 400.0, 0.4)).unwrap();
        assert!(slower * 2.0 < down, "{slower} {down}");
        assert_eq!(distance(&up, &glide(400.0, 2_000.0, 0.9)), None);
        assert_eq!(distance(&up, &Features::of(&[], &[])), None);
    }

    #[test]
    fn it_makes_no_difference_which_comes_first() {
        let (a, b) = (glide(300.0, 900.0, 0.3), glide(350.0, 1_000.0, 0.45));
        let (there, back) = (distance(&a, &b).unwrap(), distance(&b, &a).unwrap());
        assert!((there - back).abs() < 1e-3, "{there} {back}");
    }
}
