//! Change over time, as it is said.

use super::*;
use crate::stats::Estimate;

#[test]
fn a_change_over_time_is_told_in_percent_with_its_interval() {
    let told = |percent: Option<[f64; 3]>| {
        let factor = |percent: f64| 1.0 + percent / 100.0;
        let percent = percent.map(|[point, low, high]| Estimate { point, low, high, n: 9 });
        let nothing = Estimate { point: 0.0, low: 0.0, high: 0.0, n: 9 };
        let per_week = percent.map_or(nothing, |by| Estimate {
            point: factor(by.point),
            low: factor(by.low),
            high: factor(by.high),
            n: by.n,
        });
        let change =
            ChangeOverTime { per_week, percent_a_week: percent, spread: 1.2, without_reward: 0 };
        Wording::english().change_over_time(&change)
    };
    let all = [
        told(Some([8.2, 2.1, 14.4])),
        told(Some([3.4, 0.3, 6.6])),
        told(Some([-20.0, -30.2, -9.8])),
        told(Some([140.0, 10.0, 420.0])),
        told(Some([60.0, 5.0, f64::INFINITY])),
        told(Some([-50.0, -100.0, -20.0])),
        told(None),
    ];
    insta::assert_snapshot!(all.map(|one| one.unwrap_or("nothing".into())).join("\n"), @r"
    about 8 % more a week (2 to 14 %)
    about 3 % more a week (0.3 to 7 %)
    about 20 % fewer a week (10 to 30 %)
    about 2.4 times as many a week (1.1 to 5.2 times)
    about 60 % more a week (at least 5 %)
    about 50 % fewer a week (20 to 100 %)
    nothing
    ");
}
