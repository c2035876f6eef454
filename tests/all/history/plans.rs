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
        "./p.toml",
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
fn a_new_plan_lies_where_listen_looks_and_is_found_by_its_name() {
    let desk = Desk::new();
    let new = ["plan", "new", "--animal", "Lady Pip", "--species", "owl", "--behaviour", "turns"];
    let told = desk.ok(&new);
    let file = desk.path("plans/lady-pip.toml");
    assert!(file.exists(), "{told}");
    assert!(told.contains(&*file.to_string_lossy()), "it says where: {told}");
    assert!(told.trim_end().ends_with("hushtally listen"), "no name is needed: {told}");
    assert!(!desk.path("lady-pip.toml").exists());
    assert_eq!(desk.run(&new).0, 2, "an existing plan must be left alone");
    desk.ok(&[&["plan", "new", "other"], &new[2..]].concat());
    for name in ["other", "other.toml"] {
        let shown = desk.ok(&["plan", "merge", name, "1", "--show"]);
        assert!(shown.contains("animal = \"Lady Pip\""), "{shown}");
    }
    // What lies here comes before what lies there.
    desk.ok(&[&["plan", "new", "./other.toml"], &new[2..3], &["Owen"], &new[4..]].concat());
    assert!(desk.ok(&["plan", "merge", "other.toml", "1", "--show"]).contains("Owen"));
    // Another folder, by the environment or by a flag, is said with its name.
    let own = desk.path("own");
    let told = desk.ok(&[&new[..], &["--plans", own.to_str().unwrap()]].concat());
    assert!(own.join("lady-pip.toml").exists(), "{told}");
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

#[test]
fn a_species_that_is_not_known_is_asked_about_and_a_known_one_is_not() {
    let desk = Desk::new();
    let new = |file: &str, species: &str, more: &[&str]| {
        let file = format!("./{file}");
        let plan = ["plan", "new", &file, "--animal", "Pip", "--species", species];
        desk.run(&[&plan[..], &["--behaviour", "turns", "--weight", "3 kg"], more].concat())
    };
    let kind = |file: &str| {
        let text = std::fs::read_to_string(desk.path(file)).unwrap();
        text.lines().find(|line| line.starts_with("kind")).unwrap().to_owned()
    };
    for (file, species, expected) in [
        ("grey.toml", "grey parrot", "other_bird"),
        ("dog.toml", "dog", "dog"),
        ("donkey.toml", "donkey", "donkey"),
        ("horse.toml", "Icelandic horse", "horse"),
    ] {
        let (code, _, told) = new(file, species, &[]);
        assert_eq!(code, 0, "{species}: {told}");
        assert_eq!(kind(file), format!("kind = \"{expected}\""), "{species}");
    }
    let (code, _, told) = new("q.toml", "quokka", &[]);
    assert!(code == 2 && told.contains("--kind"), "{code}: {told}");
    assert!(!desk.path("q.toml").exists());
    assert_eq!(new("q.toml", "quokka", &["--kind", "small_mammal"]).0, 0);
    assert_eq!(kind("q.toml"), "kind = \"small_mammal\"");
}
