//! One invented session, and every surface that counts its tries.

use std::fs;
use std::path::Path;

use anyhow::{Context, Result};
use hushtally::clock::Clock;
use hushtally::interpret::{Details, Said};
use hushtally::plan::{RewardValue, Side};
use hushtally::session::{Input, Tries};
use hushtally::store::Store;
use serde_json::json;

use crate::end_to_end::{complaint, hushtally};
use crate::review::demo::{PLAN, put};
use crate::review::pages::page_of;

/// Seven rewarded, two missed by word and one by a limited hold; and the sides of some.
const COUNTED: Tries = Tries { rewarded: 7, missed: 3 };

fn tags() -> Vec<(f64, Said)> {
    let rep = |step: Option<u8>, side, value| {
        Said::Rep(Details { step, side, value, ..Details::default() })
    };
    vec![
        (3.0, rep(None, None, None)),
        (7.0, rep(Some(2), Some(Side::Left), None)),
        (11.0, Said::Miss(Details::default())),
        (15.0, rep(None, None, Some(RewardValue::Low))),
        (19.0, rep(None, Some(Side::Right), Some(RewardValue::High))),
        (23.0, Said::Cue),
        // Six seconds later the limited hold has run out.
        (33.0, rep(None, None, Some(RewardValue::Jackpot))),
        (37.0, Said::Miss(Details::default())),
        (41.0, rep(None, None, None)),
        (45.0, rep(None, None, None)),
    ]
}

fn lines() -> String {
    let line = |(at, said): &(f64, Said)| {
        let mut line = serde_json::to_value(said).unwrap();
        line["at_s"] = json!(at);
        format!("{line}\n")
    };
    let asked = json!({ "at_s": 47.0, "kind": "command", "command": "count" });
    let end = json!({ "at_s": 53.0, "kind": "finished" });
    tags().iter().map(line).chain([format!("{asked}\n{end}\n")]).collect()
}

/// The counts that a text gives in the words for them, each time that it gives any.
fn in_words(text: &str) -> Vec<(u32, Tries)> {
    let mut found = Vec::new();
    for part in text.split(" rewarded, ").collect::<Vec<_>>().windows(2) {
        let number = |word: &str| if word == "none" { Some(0) } else { word.parse().ok() };
        let rewarded = part[0].rsplit([' ', '\n']).next().and_then(number);
        let missed = part[1].split_once(" missed").and_then(|(word, _)| number(word));
        let all = part[0]
            .rsplit_once(" tries")
            .and_then(|(before, _)| before.rsplit([' ', '\n', '>', '(']).next())
            .and_then(number);
        if let (Some(all), Some(rewarded), Some(missed)) = (all, rewarded, missed) {
            found.push((all, Tries { rewarded, missed }));
        }
    }
    found
}

/// The counts under the headings of a page's table, or in its figures.
fn in_headings(page: &str) -> Option<(u32, Tries)> {
    let text: String = page
        .split('<')
        .filter_map(|piece| Some(format!("{}\n", piece.split_once('>')?.1)))
        .collect();
    let cells: Vec<&str> = text.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
    let figure = |name: &str| -> Option<u32> {
        let place = cells.iter().position(|cell| *cell == name)?;
        cells.get(place + 1)?.parse().ok()
    };
    if let Some(all) = figure("Tries") {
        return Some((all, Tries { rewarded: figure("Rewarded")?, missed: figure("Missed")? }));
    }
    // A table: the heading's place in its row is the number's place in the first row below.
    let table = page.split("<table class=\"list\">").nth(1)?;
    let headings: Vec<&str> = table.split("</thead>").next()?.split("</th>").collect();
    let of = |name: &str| headings.iter().position(|cell| cell.ends_with(&format!(">{name}")));
    let row: Vec<&str> =
        table.split("<tbody>").nth(1)?.split("</tr>").next()?.split("</t").collect();
    let cell = |name: &str| -> Option<u32> { row.get(of(name)?)?.rsplit('>').next()?.parse().ok() };
    Some((cell("Tries")?, Tries { rewarded: cell("Rewarded")?, missed: cell("Missed")? }))
}

fn run(arguments: &[&str], record: &Path) -> Result<String> {
    let output = hushtally(arguments).env("HUSHTALLY_DB", record).output()?;
    anyhow::ensure!(output.status.success(), "{arguments:?}: {}", complaint(&output));
    Ok(String::from_utf8(output.stdout)?)
}

#[tokio::test]
async fn every_surface_gives_the_same_three_numbers() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let path = |name: &str| folder.path().join(name);
    let (record, plan, lines_file, report) =
        (path("record.db"), path("plan.toml"), path("tags.jsonl"), path("report.html"));
    fs::write(&plan, PLAN)?;
    fs::write(&lines_file, lines())?;
    let store = Store::open(&record)?;
    let (clock, _hands) = Clock::fake("2026-03-01T07:30:00Z".parse()?);
    let inputs: Vec<(f64, Input)> =
        tags().into_iter().map(|(at, said)| (at, Input::said(said, "w"))).collect();
    let session = put(&store, &clock, PLAN, 1, &inputs)?;
    store.refresh()?;
    assert_eq!(store.fold(session)?.summary.tries, COUNTED);
    drop(store);
    let all = (COUNTED.all(), COUNTED);

    // The screen numbers tries, says the count when asked, and ends with the recap.
    let name = |path: &Path| path.to_string_lossy().into_owned();
    let screen = run(&["replay", &name(&lines_file), &name(&plan)], &record)?;
    let missed = screen.matches(": missed").count();
    let numbered = (1..=all.0).all(|n| screen.matches(&format!("try {n}: ")).count() == 1);
    assert!(
        numbered && missed == 3 && !screen.contains(&format!("try {}: ", all.0 + 1)),
        "{screen}"
    );
    assert_eq!(in_words(&screen), [all, all], "{screen}");

    for verb in [&["recap", "--quiet"][..], &["session", "last"], &["handover", "Pepino"]] {
        let text = run(verb, &record)?;
        assert_eq!(in_words(&text), [all], "{verb:?}: {text}");
    }
    for verb in [
        &["recap", "--json"][..],
        &["sessions", "--json"],
        &["export", "sessions", "--format", "jsonl"],
    ] {
        let text = run(verb, &record)?;
        let value: serde_json::Value = serde_json::from_str(text.trim())?;
        let value = value.get(0).unwrap_or(&value);
        let numbers = ["tries", "rewarded", "missed"].map(|name| value[name].as_u64());
        assert_eq!(numbers, [10, 7, 3].map(Some), "{verb:?}: {text}");
    }
    run(&["report", "latest", "-o", &name(&report)], &record)?;
    assert_eq!(in_words(&fs::read_to_string(&report)?)[0], all);

    let list = page_of(&record, "").await?;
    assert_eq!(in_headings(&list).context("no counts in the list")?, all);
    let animal = list
        .split("animal/")
        .nth(1)
        .and_then(|rest| rest.split('"').next())
        .context("no animal")?;
    for page in [format!("session/{session}"), format!("animal/{animal}")] {
        let text = page_of(&record, &page).await?;
        assert_eq!(in_headings(&text).with_context(|| page.clone())?, all, "{page}");
    }
    let card = page_of(
        &record,
        &format!("animal/{animal}/card?behaviour=rests%20a%20foot%20on%20the%20nail%20file"),
    )
    .await?;
    assert_eq!(in_words(&card), [all], "{card}");
    Ok(())
}
