//! Weight, pace, success and sides together: each may be chance, or have a harmless cause; several that point the same
//! way are told.

use super::body::{ASK_AT, Alarm, Body, Train, Warning};
use super::course::Course;
use super::progress::{self, Verdict};
use super::{CUSTOM, reason, sides};
use crate::plan::Plan;
use crate::stats::energy::reaches;

/// Signs that must point the same way (common practice, no source).
const SEVERAL: usize = 2;

/// Tells of signs that point the same way. Each of them is shown by itself to be more than chance.
pub(super) fn look(course: &Course, plan: &Plan, body: &Body) -> Option<Alarm> {
    let step = course.working().and_then(|step| progress::step(course, step, &plan.advice));
    let pace = step.as_ref().and_then(|step| step.change_over_time.known()?.percent_a_week);
    let lighter = body.trend.is_some_and(|trend| trend.falls)
        || body.change_pct.is_some_and(|change| reaches(change, ASK_AT));
    let signs: Vec<&'static str> = [
        ("falling_weight", lighter),
        ("falling_pace", pace.is_some_and(|pace| pace.high < 0.0)),
        ("falling_success", step.as_ref().is_some_and(|step| step.verdict == Verdict::Worse)),
        ("uneven_sides", sides::uneven(course, body.well).is_some()),
    ]
    .into_iter()
    .filter_map(|(sign, there)| there.then_some(sign))
    .collect();
    if signs.len() < SEVERAL {
        return None;
    }
    let inputs = [("signs", signs.len() as f64, "")];
    let method = "each by its own test: see body, progress, sides";
    let reason = reason("together", ("together", &[]), &inputs, method, CUSTOM);
    Some(Alarm { warning: Warning::Together { signs }, train: Train::AsPlanned, reason })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::body::{Fact, Noted, read};
    use crate::history::testing::{history, plan, session};
    use crate::history::{Ladder, Session};
    use crate::plan::Side;

    #[test]
    fn several_signs_are_told_and_one_is_not() {
        // Each session slower than the one before, and ever more on one side.
        let fading = |day: i32| -> Session {
            let mut session = session(3 * day, 2, 12, 12);
            let slower = 1.15_f64.powi(day);
            session.active_s *= slower;
            for (i, one) in session.tries.iter_mut().enumerate() {
                one.active_s *= slower;
                one.side = Some(if i < 2 { Side::Left } else { Side::Right });
            }
            session
        };
        let (history, plan) = (history((0..14).map(fading).collect()), plan());
        let present = Ladder::of(0, &plan);
        let course = Course::new(&history, &plan.behaviour, &present);
        let today = history.sessions[13].day;
        let told = |log: &[Noted]| look(&course, &plan, &read(log, today)).map(|a| a.warning);
        let Some(Warning::Together { signs }) = told(&[]) else { panic!("not told") };
        assert_eq!(signs, ["falling_pace", "uneven_sides"]);
        let falling =
            |i: usize| Noted { day: history.sessions[i].day, fact: Fact::Weight(400.0 - i as f64) };
        let log: Vec<Noted> = (0..14).map(falling).collect();
        let Some(Warning::Together { signs }) = told(&log) else { panic!("not told") };
        assert_eq!(signs[0], "falling_weight");
        let steady = crate::history::testing::history(
            (0..14).map(|day| session(3 * day, 2, 12, 12)).collect(),
        );
        let course = Course::new(&steady, &plan.behaviour, &present);
        assert_eq!(
            look(&course, &plan, &read(&log, today)),
            None,
            "the weight alone is told by itself"
        );
    }
}
