//! Every way that a note comes in: its words of injury or illness are shown back and asked about.

use anyhow::Result;
use hushtally::store::{Entry, Filter, JournalFilter, Store};

use super::{NOTES, animal, browse, desk};
use crate::history::Desk;

const PLAN: &str = "\
animal = \"Pepino\"
species = \"cockatiel\"
behaviour = \"rests a foot\"
[[step]]
name = \"looks at it\"
";
const ASKS: &str = "s it a health concern?";

#[test]
fn typed_into_the_body_log_or_beside_something_else() {
    let desk = desk();
    let (_, out, _) = desk.run(&["body", "Pepino", "note", "blood and limping"]);
    assert!(out.contains("you noted blood and limping today") && out.contains(ASKS), "{out}");
    let (_, _, told) = desk.run(&["capture", "Pepino", "turns", "--context", "he sneezed"]);
    assert!(told.contains("you noted sneezed") && told.contains(ASKS), "{told}");
    let (_, out, told) = desk.run(&["body", "Pepino", "coat", "new feathers come in"]);
    assert!(!out.contains("feathers come in, and have not said"), "{out}{told}");
}

#[test]
fn taken_in_from_a_file() {
    let desk = Desk::new();
    desk.write("n.csv", &NOTES.replace("working\n", "working,note\n").replace("2,2\n", "2,2,\n"));
    let note = "animal,species,began,note\n\
        Pepino,cockatiel,2026-01-03 17:00:00,a swelling below the eye\n\
        Pepino,cockatiel,2026-01-04 17:00:00,he was keen\n";
    desk.write("more.csv", note);
    desk.ok(&["import", "n.csv"]);
    let told = desk.ok(&["import", "more.csv"]);
    assert!(told.contains("Pepino, 3 January 2026: you noted swelling. I") && told.contains(ASKS));
    assert!(!told.contains("4 January"), "{told}");
    // Once is enough.
    assert!(!desk.ok(&["import", "more.csv"]).contains(ASKS));
}

#[test]
fn heard_in_a_recording() {
    let desk = Desk::new();
    desk.write("p.toml", PLAN);
    desk.write(
        "s.jsonl",
        "{\"at_s\":1.0,\"kind\":\"rep\"}\n{\"at_s\":5.0,\"kind\":\"note\",\"text\":\"blood on the perch\"}\n\
         {\"at_s\":9.0,\"kind\":\"finished\"}\n",
    );
    let (code, out, told) = desk.run(&["replay", "s.jsonl", "p.toml"]);
    assert_eq!(code, 0, "{told}");
    assert!(
        format!("{out}{told}").contains("You noted blood. Is it a health concern?"),
        "{out}{told}"
    );
}

#[tokio::test]
async fn written_on_a_page_and_answered_there() -> Result<()> {
    let desk = desk();
    let store = || Store::open(&desk.path("record.db"));
    let session = store()?.sessions(&Filter::default())?[0].id.to_string();
    let page = format!("session/{session}");
    browse(&desk, &format!("{page}/note"), Some("text=he+vomited+twice")).await?;
    let asked = browse(&desk, &page, None).await?;
    assert!(asked.contains("you noted vomited today"), "{asked}");
    assert!(asked.contains("Log it as one"), "{asked}");
    let answer = format!("animal/{}/health", animal(&desk)?);
    browse(&desk, &answer, Some(&format!("do=concern&session={session}"))).await?;
    let logged = browse(&desk, &page, None).await?;
    assert!(logged.contains("noted as a health concern today: he vomited twice"), "{logged}");
    browse(&desk, &answer, Some("do=well")).await?;
    assert!(!browse(&desk, &page, None).await?.contains("health concern"));
    let said: Vec<Entry> =
        store()?.journal(&JournalFilter::default())?.into_iter().map(|row| row.entry).collect();
    let text = "he vomited twice".to_owned();
    assert_eq!(said, [Entry::Concern { text }, Entry::Well { text: String::new() }]);
    // What was answered is not answered again.
    assert!(browse(&desk, &answer, Some("do=no-concern")).await.is_err());
    Ok(())
}
