//! The text of a new plan, with comments that say what may be changed.

use serde::Serialize;
use toml_edit::{DocumentMut, value};

use super::BodyKind;

/// What a new plan is made from.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Fresh {
    /// The animal's name.
    pub animal: String,
    /// Its species.
    pub species: String,
    /// The goal behaviour.
    pub behaviour: String,
    /// Names of the steps in order; when empty, three to be filled in.
    pub steps: Vec<String>,
    /// The everyday treat, when known.
    pub treat: Option<String>,
    /// A better one, when known; several at once are the jackpot.
    pub better_treat: Option<String>,
    /// Weight in grams and which equation of energy fits, when known.
    pub body: Option<(f64, BodyKind)>,
}

const HEAD: &str = "\
# A plan for Hushtally. Everything after a # is for people.
# `hushtally listen` with this file begins a session; `hushtally plan next` says what to do next.
";

const STEPS: &str = "
# Steps in order, each a little closer to the goal. One element rises at a time: form (as here), duration,
# distance, distraction, latency, side, place or person.
#   dimension = \"duration\"
#   goal = 5.0              seconds, metres or count
#   id = \"short-name\"       so that its history follows it when the name changes
";

const REWARDS: &str = "
# What each reward is. kcal_per_piece lets Hushtally keep to the day's budget.
";

const REST: &str = "
[limits]
planned_minutes = 3.0
planned_reps = 20

# Does anybody near say the words too: a bird that repeats the marker, a child, a radio? Without the # before these
# two lines, what is much softer than your own tags is not sure, and waits for you.
# [words]
# others_near = true

# More of your own way, also under [words]:
#   marker_begins = true     a marker or another tag begins the session; else \"begin\" does, and a tag before it or
#                            after \"finish\" is not sure and waits for you
#   say_taken_back = true    what \"cancel\" took back is said in the ear too, not only shown
";

/// A name for the file of a plan: the animal's, in letters and digits that every disk takes.
///
/// ```
/// assert_eq!(hushtally_core::plan::file_name("Lady Brindle!"), "lady-brindle.toml");
/// assert_eq!(hushtally_core::plan::file_name("犬"), "plan.toml");
/// ```
pub fn file_name(animal: &str) -> String {
    let words: Vec<String> = animal
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_ascii_lowercase)
        .collect();
    let name = if words.is_empty() { "plan".to_owned() } else { words.join("-") };
    format!("{name}.toml")
}

/// The text of a new plan.
pub fn fresh(new: &Fresh) -> String {
    let mut head = DocumentMut::new();
    head["animal"] = value(&new.animal);
    head["species"] = value(&new.species);
    head["behaviour"] = value(&new.behaviour);
    let mut text = format!("{HEAD}{head}{STEPS}");
    let blank = ["looks at it", "comes near it", "touches it"].map(str::to_owned);
    let steps = if new.steps.is_empty() { &blank[..] } else { &new.steps };
    for step in steps {
        let mut table = DocumentMut::new();
        table["name"] = value(step);
        text.push_str(&format!("[[step]]\n{table}\n"));
    }
    text.push_str(REWARDS.trim_start_matches('\n'));
    let everyday = new.treat.as_deref().unwrap_or("an everyday treat");
    let better = new.better_treat.as_deref().or(new.treat.as_deref()).unwrap_or("a better treat");
    for (name, what, pieces) in
        [("low", everyday, ""), ("high", better, ""), ("jackpot", better, "pieces = 3\n")]
    {
        let mut table = DocumentMut::new();
        table["what"] = value(what);
        text.push_str(&format!("[rewards.{name}]\n{table}{pieces}\n"));
    }
    text.push_str(REST.trim_start_matches('\n'));
    if let Some((grams, kind)) = new.body {
        let mut body = DocumentMut::new();
        body["weight_g"] = value(grams);
        let kinds = BodyKind::ALL.map(BodyKind::name).join(", ");
        text.push_str(&format!(
            "\n# The day's budget of treats: {}.\n# Which equation fits: {kinds}.\n[body]\n{body}kind = \"{}\"\nactivity = {:?}\n",
            kind.source(),
            kind.name(),
            kind.usual_activity(),
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Plan, PlanChange, change_plan};

    fn new() -> Fresh {
        Fresh {
            animal: "Pepino \"the\" bird".into(),
            species: "cockatiel".into(),
            behaviour: "rests a foot\non the file".into(),
            steps: vec!["looks".into(), "touches".into(), "rests".into()],
            body: Some((92.0, BodyKind::OtherBird)),
            ..Fresh::default()
        }
    }

    #[test]
    fn a_new_plan_is_a_plan() {
        let kinds = BodyKind::ALL.map(|kind| Some((92.0, kind)));
        for body in kinds.into_iter().chain([None]) {
            let text = fresh(&Fresh { body, ..new() });
            let plan = Plan::parse("new.toml", &text).unwrap();
            assert_eq!(plan.animal, "Pepino \"the\" bird");
            assert_eq!(plan.steps.len(), 3);
            assert_eq!(plan.body.map(|body| (body.weight_g, body.kind)), body);
        }
        let told =
            fresh(&new()).replace("# [words]", "[words]").replace("# others_near", "others_near");
        assert!(Plan::parse("new.toml", &told).unwrap().words.others_near());
        let blank = fresh(&Fresh { steps: Vec::new(), ..new() });
        assert_eq!(Plan::parse("new.toml", &blank).unwrap().steps.len(), 3);
    }

    #[test]
    fn a_split_keeps_comments_and_the_step_itself() {
        let text = "\
animal = \"Brindle\" # small
species = \"donkey\"
behaviour = \"lifts a hoof\"
start_step = 2

[[step]]
name = \"shifts weight\"

# This one takes long.
[[step]]
name = \"holds it\" # up
dimension = \"duration\"
goal = 4.0

[limits]
planned_reps = 12 # few
";
        let split = change_plan("b.toml", text, &PlanChange::Split { step: 2, into: Vec::new() });
        insta::assert_snapshot!(split.unwrap(), @r#"
        animal = "Brindle" # small
        species = "donkey"
        behaviour = "lifts a hoof"
        start_step = 2

        [[step]]
        name = "shifts weight"

        [[step]]
        name = "holds it, up to 2"
        dimension = "duration"
        goal = 2.0

        # This one takes long.
        [[step]]
        name = "holds it" # up
        dimension = "duration"
        goal = 4.0

        [limits]
        planned_reps = 12 # few
        "#);
        let into = vec!["bends".to_owned(), "lifts".to_owned()];
        let split = change_plan("b.toml", text, &PlanChange::Split { step: 1, into }).unwrap();
        let plan = Plan::parse("b.toml", &split).unwrap();
        let names: Vec<&str> = plan.steps.iter().map(|step| step.name.as_str()).collect();
        assert_eq!(names, ["bends", "lifts", "shifts weight", "holds it"]);
        assert_eq!(plan.start_step, 4);
        let merged = change_plan("b.toml", text, &PlanChange::Merge { step: 1 }).unwrap();
        assert!(merged.contains("# This one takes long."), "{merged}");
        assert!(merged.contains("was = [\"shifts weight\"]"), "{merged}");
        let plan = Plan::parse("b.toml", &merged).unwrap();
        assert_eq!((plan.steps.len(), plan.start_step), (1, 1));
    }

    #[test]
    fn a_step_that_is_not_there_cannot_be_changed() {
        let text = fresh(&new());
        let split = change_plan("n.toml", &text, &PlanChange::Split { step: 9, into: Vec::new() });
        assert_eq!(split.unwrap_err().to_string(), "there is no step 9; the plan has 3");
        let merge = change_plan("n.toml", &text, &PlanChange::Merge { step: 3 });
        assert!(merge.unwrap_err().to_string().contains("last one"));
    }
}
