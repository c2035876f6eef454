//! Words said against words heard, in order.

/// What became of words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Fate {
    /// Heard as said: index of both.
    Right(usize, usize),
    /// Heard as another.
    Wrong(usize, usize),
    /// Not heard.
    Missed(usize),
    /// Heard and not said.
    Extra(usize),
}

/// What one error costs: a missed and an extra word together more than one word for another, two words for
/// others more than a missed and an extra one with a right one between.
const WRONG: usize = 3;
const GAP: usize = 2;

/// The fates with the least cost, by edit distance.
pub(super) fn align<A: AsRef<str>, B: AsRef<str>>(said: &[A], heard: &[B]) -> Vec<Fate> {
    let (rows, columns) = (said.len() + 1, heard.len() + 1);
    let mut cost = vec![vec![0usize; columns]; rows];
    for row in 0..rows {
        for column in 0..columns {
            cost[row][column] = match (row, column) {
                (0, n) | (n, 0) => n * GAP,
                _ => {
                    let same = said[row - 1].as_ref() == heard[column - 1].as_ref();
                    (cost[row - 1][column - 1] + if same { 0 } else { WRONG })
                        .min(cost[row - 1][column] + GAP)
                        .min(cost[row][column - 1] + GAP)
                }
            };
        }
    }
    let (mut row, mut column) = (said.len(), heard.len());
    let mut fates = Vec::new();
    while row > 0 || column > 0 {
        let here = cost[row][column];
        let same = row > 0 && column > 0 && said[row - 1].as_ref() == heard[column - 1].as_ref();
        if row > 0 && column > 0 && here == cost[row - 1][column - 1] + if same { 0 } else { WRONG }
        {
            (row, column) = (row - 1, column - 1);
            fates.push(if same { Fate::Right(row, column) } else { Fate::Wrong(row, column) });
        } else if row > 0 && here == cost[row - 1][column] + GAP {
            row -= 1;
            fates.push(Fate::Missed(row));
        } else {
            column -= 1;
            fates.push(Fate::Extra(column));
        }
    }
    fates.reverse();
    fates
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fewest_errors_in_order() {
        let fates = align(&["yes", "two", "high"], &["yes", "high", "left"]);
        assert_eq!(fates, [Fate::Right(0, 0), Fate::Missed(1), Fate::Right(2, 1), Fate::Extra(2)]);
        assert_eq!(align(&["no"], &["go"]), [Fate::Wrong(0, 0)]);
        assert_eq!(align::<&str, &str>(&[], &[]), []);
    }
}
