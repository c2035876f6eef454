//! Changes to a plan's text.

use super::*;

const TEXT: &str = "\
animal = \"Brindle\" # small
species = \"donkey\"
behaviour = \"lifts a hoof\"
start_step = 2 # for now

# The first.
[[step]]
name = \"shifts weight\"

[[step]]
name = \"bends\" # a little

[[step]]
name = \"lifts\"

[rewards.low]
what = \"a straw\" # dry
kcal_per_piece = 0.2

[limits]
planned_reps = 12 # few
";

fn changed(change: &PlanChange) -> (String, Plan) {
    let text = change_plan("b.toml", TEXT, change).unwrap();
    let plan = Plan::parse("b.toml", &text).unwrap();
    (text, plan)
}

fn names(plan: &Plan) -> Vec<&str> {
    plan.steps.iter().map(|step| step.name.as_str()).collect()
}

#[test]
fn steps_come_and_go_and_sessions_still_start_at_the_same_one() {
    let name = || "stands".to_owned();
    for (change, expected, start) in [
        (PlanChange::Add { after: 0, name: name() }, "stands shifts weight bends lifts", 3),
        (PlanChange::Add { after: 2, name: name() }, "shifts weight bends stands lifts", 2),
        (PlanChange::Add { after: u8::MAX, name: name() }, "shifts weight bends lifts stands", 2),
        (PlanChange::Move { step: 3, to: 1 }, "lifts shifts weight bends", 3),
        (PlanChange::Move { step: 2, to: u8::MAX }, "shifts weight lifts bends", 3),
        (PlanChange::Move { step: 1, to: 2 }, "bends shifts weight lifts", 1),
        (PlanChange::Remove { step: 1 }, "bends lifts", 1),
        (PlanChange::Remove { step: 2 }, "shifts weight lifts", 2),
    ] {
        let (text, plan) = changed(&change);
        assert_eq!(names(&plan).join(" "), expected, "{change:?}");
        assert_eq!(plan.start_step, start, "{change:?}");
        for comment in ["# small", "# for now", "# dry", "# few"] {
            assert!(text.contains(comment), "{change:?}: {text}");
        }
    }
}

#[test]
fn a_step_that_is_called_otherwise_stays_what_it_was_in_the_record() {
    let (text, plan) = changed(&PlanChange::Rename { step: 2, name: "bends the knee".into() });
    assert_eq!((plan.steps[1].name.as_str(), plan.steps[1].key()), ("bends the knee", "bends"));
    assert!(text.contains("name = \"bends the knee\" # a little"), "{text}");
    let again = PlanChange::Rename { step: 2, name: "bows".into() };
    let text = change_plan("b.toml", &text, &again).unwrap();
    assert_eq!(Plan::parse("b.toml", &text).unwrap().steps[1].key(), "bends");
}

#[test]
fn criterion_length_tries_and_treats() {
    let hold = PlanChange::Criterion { step: 3, dimension: Dimension::Duration, goal: 2.0 };
    let step = changed(&hold).1.steps[2].clone();
    assert_eq!((step.dimension, step.goal), (Dimension::Duration, Some(2.0)));
    let limits = changed(&PlanChange::Length { minutes: 2.5 }).1.limits;
    assert_eq!((limits.planned.as_secs(), limits.planned_reps), (150, 12));
    assert_eq!(changed(&PlanChange::Tries { tries: 8 }).1.limits.planned_reps, 8);
    let treat = |value, what: &str| PlanChange::Treat { value, what: what.into(), pieces: 3 };
    let (text, plan) = changed(&treat(RewardValue::Low, "a carrot"));
    assert_eq!(plan.rewards.low.kcal_per_piece, None, "it was the straw's");
    assert!(text.contains("what = \"a carrot\" # dry"), "{text}");
    let same = changed(&treat(RewardValue::Low, "a straw")).1.rewards.low;
    assert_eq!((same.kcal_per_piece, same.pieces), (Some(0.2), 3));
    let (text, plan) = changed(&treat(RewardValue::Jackpot, "apples"));
    assert_eq!((plan.rewards.jackpot.what.as_str(), plan.rewards.jackpot.pieces), ("apples", 3));
    assert!(text.contains("[rewards.jackpot]"), "{text}");
}

#[test]
fn what_cannot_be_is_said_and_a_change_is_described_with_names() {
    let plan = Plan::parse("b.toml", TEXT).unwrap();
    let faults = [
        (PlanChange::Remove { step: 4 }, "there is no step 4; the plan has 3"),
        (PlanChange::Move { step: 2, to: 9 }, "there is no step 9"),
        (PlanChange::Merge { step: 3 }, "no next step"),
        (PlanChange::Rename { step: 1, name: " ".into() }, "b.toml"),
    ];
    for (change, expected) in faults {
        let error = change_plan("b.toml", TEXT, &change).unwrap_err().to_string();
        assert!(error.contains(expected), "{error}");
        // What is read back before that is tried is harmless.
        let _named = change.described(&plan);
    }
    let one = "animal = \"A\"\nspecies = \"b\"\nbehaviour = \"c\"\n[[step]]\nname = \"d\"\n";
    let only = change_plan("a.toml", one, &PlanChange::Remove { step: 1 });
    assert_eq!(only, Err(EditError::OnlyStep));
    let moved = PlanChange::Move { step: 1, to: u8::MAX }.described(&plan);
    assert_eq!((moved.of.as_str(), moved.beside.as_str()), ("shifts weight", "lifts"));
    let value = RewardValue::Low;
    assert!(
        PlanChange::Treat { value, what: "hay".into(), pieces: 1 }.described(&plan).energy_goes
    );
}
