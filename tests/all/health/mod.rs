//! Health is never judged and never overlooked: what is open is the first thing on every surface.

mod listen;
mod ways_in;

use std::sync::Arc;

use anyhow::Result;
use axum::body::{Body, to_bytes};
use axum::http::{Request, header};
use hushtally::clock::Clock;
use hushtally::review::web::{self, Review};
use hushtally::store::{JournalFilter, Store};
use tower::ServiceExt;

use crate::history::Desk;

const HERE: &str = "127.0.0.1:4321";
const SECRET: &str = "0123456789abcdef0123456789abcdef";
/// An invented record.
const NOTES: &str = "\
animal,species,behaviour,began,session,outcome,at_s,step,working
Pepino,cockatiel,rests a foot,2026-01-02 17:00:00,1,high,4.0,2,2
Pepino,cockatiel,rests a foot,2026-01-02 17:00:00,1,missed,9.0,2,2
";

/// A record with one session.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.write("notes.csv", NOTES);
    desk.ok(&["import", "notes.csv", "--zone", "Europe/Berlin"]);
    desk
}

/// A page of the review, as a browser gets it; with a form, what is sent to it.
async fn browse(desk: &Desk, path: &str, form: Option<&str>) -> Result<String> {
    let store = Store::open(&desk.path("record.db"))?;
    let hear = Box::new(|_: &_, _: &_, _: &mut dyn FnMut(u8)| Err("no film".to_owned()));
    let review = Review::new(store, Clock::real(), SECRET.into(), 4321, hear);
    let address = format!("/{SECRET}/{path}");
    let request = match form {
        None => Request::get(address).header(header::HOST, HERE).body(Body::empty())?,
        Some(form) => Request::post(address)
            .header(header::HOST, HERE)
            .header(header::ORIGIN, format!("http://{HERE}"))
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from(form.to_owned()))?,
    };
    let answer = web::router(Arc::clone(&review)).oneshot(request).await?;
    anyhow::ensure!(answer.status().as_u16() < 400, "{path}: {}", answer.status());
    Ok(String::from_utf8(to_bytes(answer.into_body(), 64 << 20).await?.to_vec())?)
}

/// Pepino's key.
fn animal(desk: &Desk) -> Result<String> {
    Ok(Store::open(&desk.path("record.db"))?.find_animal("Pepino", None)?.id.to_string())
}

/// A page about the animal.
async fn page(desk: &Desk, path: &str) -> Result<String> {
    browse(desk, &format!("animal/{}{path}", animal(desk)?), None).await
}

/// Everything that a person is shown of an animal outside a session, each with the words that came first on it.
async fn surfaces(desk: &Desk) -> Result<Vec<(&'static str, String, &'static str)>> {
    let main = |page: String| page.split("<main").nth(1).unwrap_or_default().to_owned();
    let surfaces = [
        ("plan next", desk.ok(&["plan", "next", "Pepino"]), "Next Pepino"),
        ("progress", desk.ok(&["progress", "Pepino"]), "session"),
        ("handover", desk.ok(&["handover", "Pepino"]), "Last trained"),
        ("recap", desk.ok(&["recap", "--quiet"]), "rests a foot"),
        ("body", desk.ok(&["body", "Pepino"]), " 20"),
        ("home", main(browse(desk, "", None).await?), "<h1>"),
        ("page", main(page(desk, "").await?), "<h1>"),
        ("card", main(page(desk, "/card").await?), "<h1>"),
    ];
    // Where a line is broken is another matter.
    let plain = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    Ok(surfaces.map(|(name, text, then)| (name, plain(text), then)).into())
}

#[tokio::test]
async fn an_open_concern_is_the_first_thing_on_every_surface() -> Result<()> {
    let desk = desk();
    for (name, text, _) in surfaces(&desk).await? {
        assert!(!text.contains("veterinarian: "), "{name}: {text}");
        assert!(!text.contains("noted ill"), "{name}: {text}");
    }
    desk.ok(&["body", "Pepino", "ill", "sneezes"]);
    // Its first letter is a capital in some places.
    let says = "oted ill today: sneezes; no training is planned until you say Pepino is well; see a veterinarian";
    for (name, text, then) in surfaces(&desk).await? {
        let place = text.find(says).unwrap_or_else(|| panic!("not on {name}: {text}"));
        let after = text.find(then).unwrap_or_else(|| panic!("{name} without {then}: {text}"));
        assert!(place < after, "{name} begins with something else: {text}");
        assert!(!text.contains("Work on"), "{name}: {text}");
        assert!(!text.contains("tay at step") && !text.contains("Next time"), "{name}: {text}");
    }
    let next = desk.json(&["plan", "next", "Pepino"]);
    assert_eq!(next["alarms"][0]["warning"], "ill");
    let recap = desk.json(&["recap", "--quiet"]);
    assert_eq!(recap["concerns"][0]["text"], "sneezes");
    assert!(recap["next"].is_null(), "{recap}");
    desk.ok(&["body", "Pepino", "well"]);
    for (name, text, _) in surfaces(&desk).await? {
        assert!(!text.contains("no training is planned"), "{name}: {text}");
    }
    Ok(())
}

#[tokio::test]
async fn a_note_with_a_sign_is_asked_about_until_somebody_answers() -> Result<()> {
    let desk = desk();
    desk.ok(&["body", "Pepino", "note", "blood and limping"]);
    let says = "ou noted blood and limping today, and have not said whether it is a health concern";
    for (name, text, then) in surfaces(&desk).await? {
        let place = text.find(says).unwrap_or_else(|| panic!("not on {name}: {text}"));
        assert!(place < text.find(then).unwrap_or_default(), "{name}: {text}");
    }
    desk.ok(&["body", "Pepino", "no-concern", "beetroot"]);
    for (name, text, _) in surfaces(&desk).await? {
        assert!(!text.contains("you noted"), "{name}: {text}");
    }
    // Nothing is taken away: the note and the answer stand.
    let store = Store::open(&desk.path("record.db"))?;
    let kinds: Vec<&str> =
        store.journal(&JournalFilter::default())?.iter().map(|row| row.entry.kind()).collect();
    assert_eq!(kinds, ["note", "no_concern"]);
    Ok(())
}

#[tokio::test]
async fn ten_falling_weighings_do_not_pass_silently_and_how_long_ago_is_said() -> Result<()> {
    use jiff::ToSpan;
    let desk = desk();
    let zone = jiff::tz::TimeZone::get("Europe/Berlin")?;
    let today = jiff::ZonedDateTime::new(Clock::real().utc(), zone).date();
    // An invented bird that loses a third of a percent a week: no limit is ever reached.
    let weighed = (0..10_i64).map(|week| {
        let day = today.checked_sub((31 + 7 * (9 - week)).days());
        day.map(|day| format!("Pepino,cockatiel,{day} 08:00:00,{}\n", 92.0 - 0.3 * week as f64))
    });
    let lines: String = weighed.collect::<Result<_, _>>()?;
    desk.write("weights.csv", &format!("animal,species,began,weight_g\n{lines}"));
    desk.ok(&["import", "weights.csv", "--zone", "Europe/Berlin"]);
    let says = "eight falls by 0.3 % a week (0.3 to 0.3 %) over the latest 10 weighings: unless it is meant to, see a veterinarian";
    for (name, text, then) in surfaces(&desk).await? {
        let place = text.find(says).unwrap_or_else(|| panic!("not on {name}: {text}"));
        assert!(place < text.find(then).unwrap_or_default(), "{name}: {text}");
    }
    let next = desk.ok(&["plan", "next", "Pepino"]);
    assert!(next.contains("the weight: last weighed 31 days ago"), "{next}");
    assert!(desk.ok(&["body", "Pepino"]).contains("weighed 31 days ago"));
    Ok(())
}

/// A program that shows what is open needs no sentences of its own.
#[test]
fn json_has_the_sentence_beside_each_alarm() {
    let desk = desk();
    desk.ok(&["body", "Pepino", "ill", "coughs"]);
    let views: [(&[&str], &str); 3] = [
        (&["plan", "next", "Pepino"], "/alarms/0"),
        (&["body", "Pepino"], "/alarms/0"),
        (&["progress", "Pepino"], "/body/alarms/0"),
    ];
    for (view, place) in views {
        let printed = desk.ok(&[view, &["--json"]].concat());
        let printed: serde_json::Value = serde_json::from_str(&printed).unwrap();
        let alarm = printed.pointer(place).unwrap();
        assert_eq!(alarm["warning"], "ill", "{view:?}: {printed}");
        assert!(alarm["says"].as_str().unwrap().contains("coughs"), "{view:?}: {printed}");
        assert!(alarm["reason"]["because"].is_string(), "{view:?}: {printed}");
    }
}
