//! How alike words sound. Pure.
//!
//! Weighted edit distance over ARPAbet phones. Costs: 1 to leave out or put in a phone, or to change a vowel
//! into a consonant; 0.5 between vowels; between consonants 0.4 within a manner or place class (stops by
//! place, fricatives by place, affricates, nasals, liquids), else 0.7. The classes are those of any phonetics
//! textbook (stops p b, t d, k g, and so on); the weights are our own choice, no source.

const VOWELS: &str = " AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW ";
const CLASSES: [&str; 13] =
    ["P B", "T D", "K G", "F V", "TH DH", "S Z", "SH ZH", "CH JH", "M N NG", "L R", "W", "Y", "HH"];

/// How far two ways of saying something are apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Apart {
    /// Cost of all changes.
    pub(super) cost: f64,
    /// The same by the phones of the longer one: 0 is the same, 1 has nothing in common.
    pub(super) share: f64,
}

/// The distance of two ways of saying something.
pub(super) fn distance(a: &str, b: &str) -> Apart {
    let (a, b): (Vec<&str>, Vec<&str>) = (a.split(' ').collect(), b.split(' ').collect());
    let mut last: Vec<f64> = (0..=b.len()).map(|n| n as f64).collect();
    for (row, x) in a.iter().enumerate() {
        let mut this = vec![row as f64 + 1.0];
        for (column, y) in b.iter().enumerate() {
            let change = last[column] + change(x, y);
            this.push(change.min(last[column + 1] + 1.0).min(this[column] + 1.0));
        }
        last = this;
    }
    let cost = last[b.len()];
    Apart { cost, share: cost / a.len().max(b.len()) as f64 }
}

/// The least distance between any two ways of saying two words; `None` when one of them has none.
pub(super) fn nearest(a: &[String], b: &[String]) -> Option<Apart> {
    a.iter()
        .flat_map(|a| b.iter().map(|b| distance(a, b)))
        .min_by(|x, y| x.share.total_cmp(&y.share))
}

fn change(a: &str, b: &str) -> f64 {
    if a == b {
        return 0.0;
    }
    let vowel = |phone: &str| VOWELS.contains(&format!(" {phone} "));
    match (vowel(a), vowel(b)) {
        (true, true) => 0.5,
        (false, false) => {
            let class = |phone: &str| {
                CLASSES.iter().position(|class| class.split(' ').any(|member| member == phone))
            };
            if class(a) == class(b) { 0.4 } else { 0.7 }
        }
        _ => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_by_hand() {
        let share = |a, b| distance(a, b).share;
        assert_eq!(share("T UW", "T UW"), 0.0);
        assert!((share("L EH F T", "R EH F T") - 0.1).abs() < 1e-9);
        assert!((share("G OW", "N OW") - 0.35).abs() < 1e-9);
        assert!((share("AH P", "AH") - 0.5).abs() < 1e-9);
        assert!((distance("R EY T", "W EY T").cost - 0.7).abs() < 1e-9);
        let said = |text: &str| vec![text.to_owned()];
        assert_eq!(nearest(&said("T UW"), &[]), None);
        assert_eq!(nearest(&said("T UW"), &said("T UW")).map(|apart| apart.share), Some(0.0));
    }
}
