//! What is printed fits a terminal of 80 columns; ordinary notes are taken in, and a look at them keeps nothing.

use super::Desk;
use crate::needs;

#[test]
fn no_line_that_is_printed_of_the_demo_is_wider_than_a_terminal() {
    let desk = Desk::new();
    desk.ok(&["demo-history", "record.db"]);
    let key = desk.json(&["sessions", "--latest", "1"])[0]["id"].as_str().unwrap().to_owned();
    let lines: [&[&str]; 18] = [
        &["animals"],
        &["sessions"],
        &["sessions", "--calendar"],
        &["session", &key[..8]],
        &["session", "last"],
        &["progress", "Pepino"],
        &["progress", "Pepino", "--why"],
        &["progress", "Brindle", "--why"],
        &["plan", "next", "Pepino"],
        &["plan", "next", "Brindle", "--why"],
        &["plan", "test", "Pepino"],
        &["body", "Pepino"],
        &["body", "Brindle"],
        &["capture", "Pepino"],
        &["handover", "Brindle"],
        &["export", "reps", "--columns"],
        &["export", "sessions", "--columns"],
        &["nudges", "--quiet"],
    ];
    for line in lines {
        let text = desk.ok(line);
        assert!(!text.trim().is_empty(), "{line:?}");
        for printed in text.lines() {
            let columns = printed.chars().count();
            assert!(columns <= 80, "{line:?} prints {columns} columns: {printed}");
        }
    }
    let progress = desk.ok(&["progress", "Pepino"]);
    assert!(progress.lines().count() < 14, "more than how it goes and three numbers: {progress}");
    assert!(progress.contains("of 100 tries meet the criterion now"), "{progress}");
    let why = desk.ok(&["progress", "Pepino", "--why"]);
    assert!(why.lines().count() > 60 && !why.contains(".000000"), "{why}");
    // A key is as long as it needs to be, and finds its session.
    assert!(desk.ok(&["sessions"]).contains(&format!("session {}", &key[..8])));
}

#[test]
fn ordinary_notes_are_taken_in_and_a_look_keeps_nothing() {
    let desk = Desk::new();
    desk.write(
        "notes.csv",
        "Date,Dog,Notes\n2026-01-02,Fido,sat by himself\n2026-01-03,Fido,calm\n",
    );
    let look = desk.ok(&["import", "notes.csv", "--dry-run"]);
    assert!(look.contains("The column dog is taken for animal."), "{look}");
    assert!(look.contains("Nothing is kept. It would take in 0 sessions"), "{look}");
    assert!(look.contains("2 notes and weights"), "{look}");
    assert_eq!(desk.json(&["animals"]).as_array().unwrap().len(), 0, "a look keeps nothing");
    assert!(desk.ok(&["import", "notes.csv"]).starts_with("The column date is taken for began."));
    let animals = desk.json(&["animals"]);
    assert_eq!((&animals[0]["name"], &animals[0]["species"]), (&"Fido".into(), &"dog".into()));
    // What no name says, the user does.
    desk.write("diary.csv", "tag,seen,on\nFido,calm again,2026-01-04\n");
    let (_, _, complaint) = desk.run(&["import", "diary.csv"]);
    assert!(complaint.contains("--column NAME=animal"), "{complaint}");
    let said = ["--column", "tag=animal", "--column", "seen=note", "--column", "on=began"];
    let mut line = vec!["import", "diary.csv"];
    line.extend(said);
    assert!(desk.ok(&line).contains("1 note or weight"));
    // The template is a file that can be taken in.
    desk.ok(&["import", "--template", "template.csv"]);
    let look = desk.ok(&["import", "template.csv", "--dry-run"]);
    assert!(look.contains("3 notes and weights"), "{look}");
}

#[test]
fn a_report_without_names_has_a_title_and_root_gets_a_pdf_too() {
    let desk = Desk::new();
    desk.ok(&["demo-history", "record.db"]);
    desk.ok(&["report", "Pepino", "--hide-names", "-o", "hidden.html"]);
    let page = std::fs::read_to_string(desk.path("hidden.html")).unwrap();
    let title = "Training report: rests a foot on the nail file";
    assert!(page.contains(&format!("<h1>{title}</h1>")), "{page}");
    assert!(page.contains(&format!("<title>{title} · Hushtally</title>")));
    assert!(!page.contains("Pepino"));
    desk.ok(&["report", "Pepino", "-o", "named.html"]);
    let page = std::fs::read_to_string(desk.path("named.html")).unwrap();
    assert!(page.contains("<h1>Pepino: rests a foot on the nail file</h1>"));
    // Whoever runs the tests, root in a container or not.
    if needs::program("chromium") {
        desk.ok(&["report", "latest", "-o", "latest.pdf"]);
        assert!(std::fs::read(desk.path("latest.pdf")).unwrap().starts_with(b"%PDF"));
    }
}
