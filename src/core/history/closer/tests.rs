use super::super::testing::{history, plan, session};
use super::super::{AnimalHistory, Found, Session};
use super::*;
use crate::plan::RewardValue;

fn look_at(history: &AnimalHistory) -> Closer {
    let present = history.ladders[0].clone();
    look(&Course::new(history, "rests a foot on the nail file", &present), &plan())
}

/// Two minutes of tries every five seconds: the first minute is met and quick to answer, the second is not.
fn fading(day: i32) -> Session {
    let mut one = session(day, 2, 24, 24);
    for (index, tried) in one.tries.iter_mut().enumerate() {
        tried.active_s = 5.0 * index as f64 + 2.0;
        tried.latency_s = Some(if index < 12 { 1.0 } else { 2.0 } + 0.01 * index as f64);
        if index >= 12 && index % 2 == 0 {
            tried.paid = None;
        }
    }
    one.cues = 30;
    one
}

#[test]
fn minutes_are_counted_within_sessions_and_over_them() {
    let minutes = look_at(&history((0..25).map(fading).collect())).minutes;
    assert_eq!((minutes.sessions, minutes.latest.len(), minutes.before.len()), (20, 2, 2));
    assert!(minutes.from_cue);
    let [first, second] = [minutes.latest[0], minutes.latest[1]];
    // By hand: all of 12 a session, and 6 of 12.
    assert_eq!((first.share.point, first.share.n), (1.0, 240));
    assert_eq!((second.share.point, second.share.n), (0.5, 240));
    assert!(first.share.low > second.share.high);
    assert!(first.took_s.unwrap().high < second.took_s.unwrap().low);
    // Two sessions say nothing of a minute.
    assert!(look_at(&history((0..2).map(fading).collect())).minutes.latest.is_empty());
}

#[test]
fn a_step_that_takes_longer_than_this_animals_steps_is_flagged() {
    // Steps 1 and 2 took 2 and 3 sessions: two have no usual.
    let mut sessions: Vec<Session> = vec![session(0, 1, 8, 20), session(1, 1, 17, 20)];
    sessions.extend([session(2, 2, 5, 20), session(3, 2, 9, 20), session(4, 2, 18, 20)]);
    sessions.push(session(5, 3, 5, 20));
    let found = look_at(&history(sessions.clone())).to_criterion;
    assert_eq!(
        (found.took.as_slice(), found.so_far, found.beyond),
        ([2, 3].as_slice(), Some(1), false)
    );
    assert!(matches!(found.usual, Found::NotYet(_)));
    // With a third learnt step there is one, and a fourth that goes on and on leaves it.
    let mut ladder = history(Vec::new()).ladders[0].clone();
    ladder.rungs.push(super::super::Rung {
        key: "d".into(),
        name: "d".into(),
        ..ladder.rungs[0].clone()
    });
    sessions.push(session(6, 3, 17, 20));
    sessions.extend((7..20).map(|day| session(day, 4, 10, 20)));
    let history = AnimalHistory::new("Pepino", "cockatiel", vec![ladder], sessions);
    let found = look_at(&history).to_criterion;
    // Logs of 2, 3, 2 (by hand): mean 0.828, scatter 0.234, taken as 0.25; t 4.303 on two degrees; so
    // the middle is 2.29 and the upper end exp(0.828 + 4.303 x 0.25 x sqrt(4/3)) = 7.93.
    let usual = *found.usual.known().unwrap();
    approx::assert_abs_diff_eq!(usual.point, 2.289, epsilon = 0.005);
    approx::assert_abs_diff_eq!(usual.high, 7.93, epsilon = 0.05);
    assert_eq!((found.so_far, found.beyond), (Some(13), true));
}

#[test]
fn the_quickest_treat_and_its_waning_are_found() {
    let sessions = (0..20).map(|day| {
        let mut one = session(day, 1, 30, 30);
        let mut now = 0.0;
        for (index, tried) in one.tries.iter_mut().enumerate() {
            // After a low one the next try takes 6 s; after a high one 3 s, late in the session 5 s.
            let before_high = index > 0 && (index - 1) % 2 == 0;
            let scatter = 1.0 + 0.05 * ((index * 7 + day as usize) % 5) as f64;
            now += scatter
                * if !before_high {
                    6.0
                } else if index < 20 {
                    3.0
                } else {
                    5.0
                };
            tried.active_s = now;
            tried.paid = Some(if index % 2 == 0 { RewardValue::High } else { RewardValue::Low });
        }
        one.active_s = now;
        one
    });
    let pays = look_at(&history(sessions.collect())).pays;
    let of = |value| pays.iter().find(|one| one.value == value).unwrap();
    assert!(of(RewardValue::High).quickest && !of(RewardValue::Low).quickest);
    let wanes = of(RewardValue::High).wanes.unwrap();
    assert!(wanes.low > 1.2 && wanes.high < 2.2, "{wanes:?}");
    let steady = of(RewardValue::Low).wanes.unwrap();
    assert!(steady.low < 1.0 && steady.high > 1.0, "{steady:?}");
}

#[test]
fn what_a_jackpot_does_is_told_with_its_interval_and_not_of_two() {
    let with = |sessions: i32| {
        let one = |day| {
            let mut one = session(day, 1, 30, 30);
            for (index, tried) in one.tries.iter_mut().enumerate() {
                tried.paid = (index % 2 == 0).then_some(RewardValue::High);
            }
            one.tries[4].paid = Some(RewardValue::Jackpot);
            one.tries[5..10].iter_mut().for_each(|tried| tried.paid = Some(RewardValue::High));
            one
        };
        look_at(&history((0..sessions).map(one).collect())).jackpots
    };
    let found = with(10).unwrap();
    assert_eq!(found.jackpots, 10);
    assert!(found.more_met.low > 0.3 && found.more_met.point < 0.6, "{found:?}");
    assert_eq!(with(2), None);
}

#[test]
fn the_trainers_hands_are_read_from_cues_and_markers() {
    let mut sessions: Vec<Session> = (0..6).map(fading).collect();
    sessions.iter_mut().for_each(|one| one.person = Some("Ada".into()));
    let hands = look_at(&history(sessions)).hands;
    assert_eq!((hands.len(), hands[0].person.as_str()), (1, "Ada"));
    // Every try was cued, five seconds apart; 24 of 30 cues came to a try.
    let cue_to_cue = hands[0].cue_to_cue_s.unwrap();
    assert!((4.8..=5.2).contains(&cue_to_cue.point), "{cue_to_cue:?}");
    assert!((2.0..4.5).contains(&hands[0].marker_to_cue_s.unwrap().point));
    assert_eq!(hands[0].try_to_try_s, None);
    let unsaid = hands[0].unsaid.unwrap();
    approx::assert_abs_diff_eq!(unsaid.point, 0.2, epsilon = 1e-12);
}
