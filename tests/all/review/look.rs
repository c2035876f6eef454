//! The charts have a look of our own: shapes and words that together would be somebody else's stay away.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;

use super::pages::bench;

/// An attribute of a piece of markup, as a number.
fn number(markup: &str, name: &str) -> f64 {
    let value = markup.split(&format!(" {name}=\"")).nth(1).and_then(|rest| rest.split('"').next());
    value.and_then(|value| value.parse().ok()).unwrap_or(f64::NAN)
}

/// Elements of a name in the charts of a page, each as its opening tag.
fn elements<'a>(page: &'a str, name: &str) -> Vec<&'a str> {
    let charts = page.split("<svg ").skip(1).filter_map(|rest| rest.split("</svg>").next());
    let open = format!("<{name} ");
    charts
        .flat_map(|chart| chart.split(&open).skip(1).collect::<Vec<_>>())
        .filter_map(|rest| rest.split('>').next())
        .collect()
}

/// What a page has of the combination that is not ours: crosses, short level strokes, lines up and down through
/// the plot, and its words.
fn faults(page: &str) -> Vec<String> {
    let mut faults = Vec::new();
    for path in elements(page, "path") {
        let shape = path.split(" d=\"").nth(1).and_then(|d| d.split('"').next()).unwrap_or("");
        if shape.matches(['M', 'm']).count() > 1 {
            faults.push(format!("a mark of crossing strokes: {shape}"));
        }
    }
    for line in elements(page, "line") {
        let across = (number(line, "x2") - number(line, "x1")).abs();
        let down = (number(line, "y2") - number(line, "y1")).abs();
        if down < 0.1 && across < 16.0 {
            faults.push(format!("a dash: {line}"));
        }
        if across < 0.1 && down > 150.0 && line.contains("class=\"phase\"") {
            faults.push(format!("a line at a change: {line}"));
        }
    }
    let small = page.to_lowercase();
    for word in
        ["\u{d7}", "\u{f7}", "ratio chart", "cumulative record", "record floor", "count per minute"]
    {
        // The film's speed is a number of times.
        let text = small.replace("1\u{d7}</span>", "");
        if text.contains(word) {
            faults.push(format!("the word {word}"));
        }
    }
    faults
}

#[tokio::test]
async fn no_chart_has_crosses_and_dashes() -> Result<()> {
    let bench = bench()?;
    let list = bench.get("").await?.text;
    let animals: Vec<&str> =
        list.split("/animal/").skip(1).filter_map(|rest| rest.split(['"', '?']).next()).collect();
    let mut pages = vec![bench.session(""), bench.session("/report.html")];
    for animal in animals {
        for rest in ["", "?scale=ratio", "/report.html", "/report.html?scale=ratio"] {
            pages.push(format!("animal/{animal}{rest}"));
        }
    }
    for page in pages {
        let text = bench.get(&page).await?.text;
        assert!(elements(&text, "circle").len() > 5, "{page} has no chart");
        assert_eq!(faults(&text), Vec::<String>::new(), "{page}");
        // Drawn for a window and for a phone.
        let drawn = |width: &str| text.matches(&format!("<svg class=\"chart {width}\"")).count();
        assert!(drawn("wide") > 1 && drawn("wide") == drawn("narrow"), "{page}");
        let in_words = text.contains(">equal heights are equal factors<");
        assert_eq!(in_words, page.contains("ratio"), "{page}");
    }
    Ok(())
}

#[test]
fn the_check_of_the_charts_can_fail() {
    let chart = |inside: &str| format!("<svg class=\"chart\">{inside}</svg>");
    let cross =
        r#"<path class="miss open" d="M86.6 94.1l7.0 7.0m0 -7.0l-7.0 7.0"><title>x</title></path>"#;
    let dash = r#"<line class="record" x1="10.0" y1="50.0" x2="18.0" y2="50.0"/>"#;
    let change = r#"<line class="phase" x1="9.0" y1="26.0" x2="9.0" y2="276.0"/>"#;
    for inside in [cross, dash, change, "<text>\u{d7}1.08</text>"] {
        assert_eq!(faults(&chart(inside)).len(), 1, "{inside}");
    }
    let fine =
        r#"<line class="whisker" x1="9.0" y1="26.0" x2="9.0" y2="276.0"/><path d="M1 1l2 2z"/>"#;
    assert!(faults(&chart(fine)).is_empty());
}

fn files(path: &Path, found: &mut Vec<PathBuf>) {
    if path.is_dir() {
        for entry in fs::read_dir(path).expect("a readable folder") {
            files(&entry.expect("a readable entry").path(), found);
        }
    } else {
        found.push(path.to_owned());
    }
}

#[test]
fn the_code_calls_things_by_our_words() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut all = Vec::new();
    for place in ["src", "prompts", "tests", "demo", "README.md", "DEVELOPERS.md"] {
        files(&root.join(place), &mut all);
    }
    // In two halves, as this file is looked at too. The list of frequent English words has every word.
    let words = [["celer", "ation"], ["flu", "ency"]].map(|halves| halves.concat());
    let mut found = Vec::new();
    for file in all.iter().filter(|file| !file.ends_with("frequent.tsv")) {
        let Ok(text) = fs::read_to_string(file) else { continue };
        let text = text.to_lowercase();
        for word in words.iter().filter(|word| text.contains(*word)) {
            found.push(format!("{}: {word}", file.display()));
        }
    }
    assert!(all.len() > 300, "only {} files", all.len());
    assert!(found.is_empty(), "{}", found.join("\n"));
}
