//! Offsets worth a closer look.

use super::{MOST_DRIFT, NEAR_S, Onset};

/// An offset (s) at a drift, to be looked at closely.
pub(super) type Candidate = (f64, f64);

/// This many are looked at.
const MOST: usize = 12;

/// Places where many differences meet, the fullest first.
///
/// Drift by drift, and of each only the fullest are kept: three hours of tags in a film as long give millions of
/// differences at each of dozens of drifts.
pub(super) fn candidates(session: &[Onset], film: &[Onset]) -> Vec<Candidate> {
    let span = session.iter().map(|o| o.at_s).fold(0.0, f64::max);
    // As many drifts that between two of them nothing moves farther than the window is wide.
    let steps = ((span * MOST_DRIFT / NEAR_S).ceil() as i32).clamp(0, 100);
    let mut fullest: Vec<Full> = Vec::new();
    for step in -steps..=steps {
        let drift = if steps == 0 { 0.0 } else { MOST_DRIFT * f64::from(step) / f64::from(steps) };
        fullest.extend(apart(full(&differences(session, film, drift), drift)));
    }
    apart(fullest).into_iter().map(|(_, candidate)| candidate).collect()
}

/// How many differences meet at a candidate.
type Full = (usize, Candidate);

/// Every difference of times of the same kind, in order.
fn differences(session: &[Onset], film: &[Onset], drift: f64) -> Vec<f64> {
    let mut differences: Vec<f64> = Vec::new();
    for s in session {
        let at = s.at_s * (1.0 + drift);
        differences.extend(film.iter().filter(|f| f.kind == s.kind).map(|f| f.at_s - at));
    }
    differences.sort_unstable_by(f64::total_cmp);
    differences
}

/// Where three or more meet.
fn full(differences: &[f64], drift: f64) -> Vec<Full> {
    let mut found = Vec::new();
    let mut end = 0;
    for (begin, low) in differences.iter().enumerate() {
        while end < differences.len() && differences[end] <= low + 2.0 * NEAR_S {
            end += 1;
        }
        if end - begin >= 3 {
            found.push((end - begin, (differences[(begin + end) / 2], drift)));
        }
    }
    found
}

/// The fullest that are not the same place.
fn apart(mut found: Vec<Full>) -> Vec<Full> {
    found.sort_by_key(|one| std::cmp::Reverse(one.0));
    let mut apart: Vec<Full> = Vec::new();
    for (count, candidate) in found {
        if apart.iter().all(|(_, kept)| (kept.0 - candidate.0).abs() > 2.0 * NEAR_S) {
            apart.push((count, candidate));
            if apart.len() == MOST {
                break;
            }
        }
    }
    apart
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::review::align::OnsetKind;

    #[test]
    fn the_fullest_place_is_first_and_no_place_comes_twice() {
        let marker = |at_s: f64| Onset { at_s, kind: OnsetKind::Marker };
        // Ever farther apart, so that differences only meet at the true offset.
        let session: Vec<Onset> = (1..60).map(|n: i32| marker(f64::from(n * n) * 0.37)).collect();
        let film: Vec<Onset> = session.iter().map(|o| marker(40.0 + o.at_s * 1.0002)).collect();
        let found = candidates(&session, &film);
        assert!((found[0].0 - 40.0).abs() < NEAR_S, "{found:?}");
        assert!(found.len() <= MOST);
        for (place, one) in found.iter().enumerate() {
            assert!(found[..place].iter().all(|other| (other.0 - one.0).abs() > 2.0 * NEAR_S));
        }
    }
}
