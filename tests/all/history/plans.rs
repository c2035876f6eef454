//! Plans written and changed by the verbs, and the history that stays with the steps.

use super::Desk;

const NOTES: &str = "\
animal,species,behaviour,began,session,outcome,at_s,step,working
Pepino,cockatiel,rests a foot,2026-01-02 17:00:00,1,high,4.0,2,2
Pepino,cockatiel,rests a foot,2026-01-02 17:00:00,1,missed,9.0,2,2
";

#[test]
fn a_plan_is_written_split_and_merged_with_its_comments() {
    let desk = Desk::new();
    let new = [
        "plan",
        "new",
        "p.toml",
        "--animal",
        "Pepino",
        "--species",
        "cockatiel",
        "--behaviour",
        "rests a foot",
    ];
    let steps = ["--step", "step 1", "--step", "step 2", "--weight", "3.25 oz"];
    desk.ok(&[&new[..], &steps[..]].concat());
    let (code, _, complaint) = desk.run(&new);
    assert_eq!(code, 2, "an existing plan must be left alone: {complaint}");

    desk.ok(&["plan", "change", "p.toml", "step two is too big, split it into looks and leans"]);
    let text = std::fs::read_to_string(desk.path("p.toml")).unwrap();
    assert!(text.contains("# Steps in order"), "{text}");
    assert!(text.contains("weight_g = 92.1"), "{text}");
    let shown = desk.ok(&["plan", "merge", "p.toml", "2", "--show"]);
    assert!(shown.contains("was = [\"looks\"]"), "{shown}");
    assert_eq!(
        text,
        std::fs::read_to_string(desk.path("p.toml")).unwrap(),
        "--show changes nothing"
    );

    // The record knows "step 2" as the second step; in the plan it is the fourth now.
    desk.write("notes.csv", NOTES);
    desk.ok(&["import", "notes.csv", "--zone", "Europe/Berlin"]);
    let progress = desk.json(&["progress", "Pepino", "--plan", "p.toml"]);
    assert_eq!(progress["record"][3]["name"], "step 2");
    assert_eq!(progress["record"][3]["paid"], serde_json::json!([0, 1, 0]));
    assert_eq!(progress["working"], 4);
}

#[test]
fn what_cannot_be_changed_is_said_and_changes_nothing() {
    let desk = Desk::new();
    let plan = desk.write(
        "p.toml",
        "animal = \"A\"\nspecies = \"b\"\nbehaviour = \"c\"\n[[step]]\nname = \"d\"\n",
    );
    let before = std::fs::read_to_string(&plan).unwrap();
    for (arguments, says) in [
        (&["plan", "split", "p.toml", "2"][..], "no step 2"),
        (&["plan", "merge", "p.toml", "1"][..], "last one"),
        (&["plan", "change", "p.toml", "that went well"][..], "one step and one change"),
        (&["plan", "split", "missing.toml", "1"][..], "cannot be read"),
    ] {
        let (code, _, complaint) = desk.run(arguments);
        assert_eq!(code, 2, "{arguments:?}");
        assert!(complaint.contains(says), "{arguments:?}: {complaint}");
    }
    assert_eq!(before, std::fs::read_to_string(&plan).unwrap());
}
