//! What the next session is to be: treats, turns, rest, the last step.

use super::*;

#[test]
fn treats_fit_into_what_the_day_still_allows() {
    let text = format!(
        "{PLAN}\n[rewards.low]\nwhat = \"millet\"\nkcal_per_piece = 0.1\n[rewards.high]\nwhat = \"sunflower\"\n\
         kcal_per_piece = 0.5\n[rewards.jackpot]\nwhat = \"sunflower\"\npieces = 3\nkcal_per_piece = 0.5\n\
         [body]\nweight_g = 90\nkind = \"other_bird\"\nactivity = 1.5\n"
    );
    let plan = Plan::parse("p.toml", &text).unwrap();
    let mut history = history(vec![session(0, 2, 20, 20)]);
    history.ladders = vec![Ladder::of(1, &plan)];
    let body = read(&[], date(2026, 1, 2));
    // A 90 g parrot-like bird: a tenth of 1.5 x 12.81671 kcal is 1.9225 (Hand-Rearing Birds, table B.2). The
    // same day already brought 20 x 0.5 kcal, so nothing is left.
    let today = next::plan(&history, &plan, &body, date(2026, 1, 2)).treats;
    assert_eq!((today.reps, today.left_today_kcal), (0, Found::Known(0.0)));
    let next = next::plan(&history, &plan, &body, date(2026, 1, 3)).treats;
    approx::assert_abs_diff_eq!(*next.left_today_kcal.known().unwrap(), 1.922_506, epsilon = 1e-6);
    // What is given for something else on the same day counts too, by the plan that it was trained by: 2 x 0.7.
    let other = text.replace("rests a foot on the nail file", "turns").replace("0.5", "0.7");
    history.ladders.push(Ladder::of(2, &Plan::parse("q.toml", &other).unwrap()));
    history.sessions.push(Session { behaviour: "turns".into(), version: 2, ..session(1, 2, 2, 2) });
    let after = next::plan(&history, &plan, &body, date(2026, 1, 3)).treats;
    let left = *after.left_today_kcal.known().unwrap();
    approx::assert_abs_diff_eq!(left, 1.922_506 - 1.4, epsilon = 1e-6);
    // Of twenty high rewards and ten of the usual mix, 4 of 30 are low, 25.5 high, 0.5 jackpots: 0.463 kcal a
    // reward, so that four fit (arithmetic).
    assert_eq!(next.reps, 4);
    assert_eq!(next.kinds.iter().map(|kind| kind.pieces).collect::<Vec<_>>(), [1, 7]);
}

#[test]
fn behaviours_in_training_take_turns_and_rested_ones_are_due() {
    let named = |day, name: &str| Session { behaviour: name.into(), ..session(day, 1, 20, 20) };
    let history = history(vec![named(0, "waves"), named(40, "targets"), named(41, "turns")]);
    assert_eq!(next::behaviour(&history), Some("targets"));
    assert_eq!(next::behaviour(&crate::history::testing::history(Vec::new())), None);
    let plan = Plan { behaviour: "targets".into(), ..plan() };
    let next = next::plan(&history, &plan, &read(&[], date(2026, 2, 13)), date(2026, 2, 13));
    assert_eq!(next.due, [next::Due { name: "waves".into(), days: 42 }]);
    assert!(next.chosen.because.contains("waited longest"), "{}", next.chosen.because);
}

#[test]
fn no_rest_is_advised_to_an_animal_that_rested() {
    // Ten sessions in a week, all declining: at 602ce15 a rest fitted on any later day.
    let sessions = (0..10).map(|day| {
        let mut one = session(day / 2, 2, 8, 20);
        one.began = one.began.checked_add(jiff::SignedDuration::from_mins(i64::from(day))).unwrap();
        one.declined_s = Some(99.0);
        one
    });
    let history = history(sessions.collect());
    let rest = |today| {
        let change = change::advise(&course(&history), 2, &plan().advice, today).unwrap();
        change.ways.iter().any(|fitting| fitting.way == change::Way::Rest)
    };
    assert!(rest(date(2026, 1, 6)));
    // 42 days after the latest session.
    assert!(!rest(date(2026, 2, 17)));
}

#[test]
fn what_rested_for_long_is_tried_first_and_is_not_called_safe() {
    let sessions = vec![session(0, 2, 19, 20), session(1, 3, 12, 20)];
    let soon = next_after(sessions.clone(), date(2026, 1, 5));
    let warm = soon.warm_up.as_ref().unwrap();
    assert_eq!((warm.step, warm.try_first), (2, false));
    let note = handover::note(&history(sessions.clone()), &soon).lines.join("\n");
    assert!(note.contains("Safe to fall back on: step 2"), "{note}");
    // 70 days later.
    let late = next_after(sessions.clone(), date(2026, 3, 14));
    assert_eq!((late.decision.says, late.work.step), (crate::decide::Says::TryFirst, 3));
    let warm = late.warm_up.as_ref().unwrap();
    assert_eq!((warm.step, warm.try_first), (2, true));
    assert!(warm.reason.because.contains("rested for 70 days"), "{}", warm.reason.because);
    let note = handover::note(&history(sessions), &late).lines.join("\n");
    assert!(!note.to_lowercase().contains("safe"), "{note}");
    assert!(
        note.contains("Try step 3, rests a foot on it, first: it rested for 70 days."),
        "{note}"
    );
}

#[test]
fn used_up_treats_are_said_and_no_empty_list() {
    let text = format!(
        "{PLAN}\n[rewards.low]\nwhat = \"seed\"\nkcal_per_piece = 0.5\n[rewards.high]\nwhat = \"seed\"\nkcal_per_piece = 0.5\n\
         [rewards.jackpot]\nwhat = \"seed\"\nkcal_per_piece = 0.5\n[body]\nweight_g = 90\nkind = \"other_bird\"\nactivity = 1.5\n"
    );
    let plan = Plan::parse("p.toml", &text).unwrap();
    let history = AnimalHistory::new(
        "Pepino",
        "cockatiel",
        vec![Ladder::of(1, &plan)],
        vec![session(0, 2, 20, 20)],
    );
    let at = |day| next::plan(&history, &plan, &read(&[], day), day);
    let today = at(date(2026, 1, 2));
    assert_eq!((today.treats.reps, today.length.planned_reps), (0, 0));
    let told = crate::wording::Wording::english().next(&today);
    assert!(told.contains("Treats are used up for today; train tomorrow."), "{told}");
    assert!(!told.contains("Lay out") && !told.contains("0 rewarded"), "{told}");
    let note = handover::note(&history, &today).lines.join("\n");
    assert!(note.contains("Treats are used up for today; train tomorrow."), "{note}");
    // The next day allows some: one number of them, whoever asks.
    let next = at(date(2026, 1, 3));
    assert!(next.treats.reps > 0 && next.treats.reps < 20);
    assert_eq!(next.length.planned_reps, next.treats.reps);
}

#[test]
fn a_weight_of_a_month_ago_is_said_to_be_old() {
    let text = format!(
        "{PLAN}\n[rewards.high]\nwhat = \"seed\"\nkcal_per_piece = 0.01\n[rewards.low]\nwhat = \"seed\"\nkcal_per_piece = 0.01\n\
         [rewards.jackpot]\nwhat = \"seed\"\nkcal_per_piece = 0.01\n[body]\nweight_g = 90\nkind = \"other_bird\"\nactivity = 1.5\n"
    );
    let plan = Plan::parse("p.toml", &text).unwrap();
    let history = history(vec![session(0, 2, 20, 20)]);
    let log = weighed(&[91.0]);
    let says = |today| {
        let next = next::plan(&history, &plan, &read(&log, today), today);
        let watch = next.watch.iter().map(|tip| tip.says.clone());
        watch.chain([next.treats.reason.because]).collect::<Vec<_>>().join("\n")
    };
    let fresh = says(date(2026, 1, 5));
    assert!(!fresh.contains("weighed"), "{fresh}");
    // Once: it was said of the treats, too.
    let old = says(date(2026, 2, 1));
    assert_eq!(old.matches("last weighed 31 days ago").count(), 1, "{old}");
}

#[test]
fn the_last_step_leads_on_and_its_unmeasured_goal_is_said() {
    let sessions: Vec<Session> = (0..16).map(|day| session(day, 3, 19, 20)).collect();
    let of = |sessions: &[Session]| {
        let today = sessions.last().unwrap().day;
        crate::wording::Wording::english().next(&next_after(sessions.to_vec(), today))
    };
    let first = of(&sessions[..1]);
    assert!(first.contains("Ask for step 3 in other places and with other people."), "{first}");
    assert!(first.contains("Its goal of 5 seconds was never measured."), "{first}");
    assert!(of(&sessions[..9]).contains("Reward step 3 more thinly."), "{}", of(&sessions[..9]));
    assert!(of(&sessions).contains("Leave step 3 for a week, then test it."), "{}", of(&sessions));
    let mut held = sessions;
    held.push(session(23, 3, 19, 20));
    held.iter_mut().for_each(|one| one.tries[0].duration_s = Some(6.0));
    let kept = of(&held);
    assert!(kept.contains("Keep step 3 with one session a week."), "{kept}");
    assert!(!kept.contains("never measured"), "{kept}");
}
