//! What a page, a card or a report of the review shows stands in `prompts/en/pages.toml`: none of it in a template, in
//! the program of the pages, or in their script; what the terminal shows of a session stands in `screen.toml`, none of it
//! in the program; and every text there is asked for.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;
use hushtally::wording::{filled, text};
use minijinja::context;

use crate::sentences::{rust_files, texts};

const PAGES: &str = "src/program/review/pages";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn files(folder: &str, ending: &str) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(root().join(folder))? {
        let path = entry?.path();
        if path.to_string_lossy().ends_with(ending) {
            found.push(path);
        }
    }
    anyhow::ensure!(!found.is_empty(), "{folder} has no {ending}");
    Ok(found)
}

/// A text without what stands between `open` and `close`.
fn without(text: &str, open: &str, close: &str) -> String {
    let mut left = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once(open) {
        left += before;
        left.push(' ');
        rest = after.split_once(close).map_or("", |(_, after)| after);
    }
    left + rest
}

/// Words that a template itself shows, or reads aloud: in text, and in attributes that are read.
fn shown(template: &str) -> Vec<String> {
    let plain = without(&without(template, "{{", "}}"), "{%", "%}");
    let read = ["aria-label=\"", "title=\"", "placeholder=\"", "alt=\"", "data-live=\""];
    let attributes = read
        .iter()
        .flat_map(|name| plain.split(name).skip(1).filter_map(|after| after.split('"').next()));
    // Keys of the keyboard are the same in every language, and so is the program's name.
    let text = without(&without(&plain, "<kbd>", "</kbd>"), "<", ">");
    let all = attributes.map(str::to_owned).chain([text]);
    all.flat_map(|text| {
        let words = text.split(|c: char| !c.is_alphabetic()).map(str::to_owned);
        words.filter(|word| !word.is_empty() && word != "Hushtally").collect::<Vec<_>>()
    })
    .collect()
}

#[test]
fn no_template_shows_words_of_its_own() -> Result<()> {
    for file in files(PAGES, ".html")? {
        let found = shown(&fs::read_to_string(&file)?);
        assert!(found.is_empty(), "{}: {found:?}", file.display());
    }
    assert_eq!(shown("<p class=\"lead\">{{ name }} is well</p>"), ["is", "well"]);
    assert_eq!(shown("<b title=\"Step {{ n }}\" data-key=\"k\"><kbd>k</kbd></b>"), ["Step"]);
    assert_eq!(shown("<p>{% if a %}{{ t('well') }}{% endif %}: {{ n }}.</p>"), [""; 0]);
    Ok(())
}

#[test]
fn the_script_of_the_pages_says_nothing_of_its_own() -> Result<()> {
    let script = fs::read_to_string(root().join(PAGES).join("review.js"))?;
    let said = |line: &&str| line.contains("say(\"") || line.contains("say(`");
    assert_eq!(script.lines().filter(said).collect::<Vec<_>>(), [""; 0]);
    let known = table("script")?;
    let asked: BTreeSet<String> = names_after(&script, "words.").into_iter().collect();
    assert_eq!(asked.difference(&known).collect::<Vec<_>>(), [""; 0]);
    assert_eq!(known.difference(&asked).collect::<Vec<_>>(), [""; 0]);
    Ok(())
}

/// Names of a table in the files of texts.
fn table(name: &str) -> Result<BTreeSet<String>> {
    let mut names = BTreeSet::new();
    for file in files("prompts/en", ".toml")? {
        let parsed: toml::Table = fs::read_to_string(&file)?.parse()?;
        if let Some(found) = parsed.get(name).and_then(toml::Value::as_table) {
            names.extend(found.keys().cloned());
        }
    }
    anyhow::ensure!(!names.is_empty(), "there is no [{name}]");
    Ok(names)
}

/// The names that stand right after `sign`.
fn names_after(text: &str, sign: &str) -> Vec<String> {
    let name = |after: &str| {
        after.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect::<String>()
    };
    text.split(sign).skip(1).map(name).filter(|name| !name.is_empty()).collect()
}

#[test]
fn every_text_of_a_page_is_there_and_is_asked_for() -> Result<()> {
    let mut asked = BTreeSet::new();
    for file in files(PAGES, ".html")? {
        asked.extend(names_after(&fs::read_to_string(&file)?, "t('"));
    }
    let mut sources = Vec::new();
    rust_files(&root().join("src/program"), &mut sources)?;
    let mut screens = BTreeSet::new();
    for file in sources {
        let source = fs::read_to_string(&file)?;
        asked.extend(names_after(&source, "\"page."));
        screens.extend(names_after(&source, "\"screen."));
    }
    for file in files("prompts/en", ".toml")? {
        let text = fs::read_to_string(&file)?;
        asked.extend(names_after(&text, "\"page."));
        screens.extend(names_after(&text, "\"screen."));
    }
    for (part, asked) in [("page", asked), ("screen", screens)] {
        let known = table(part)?;
        // A name that ends so is the begin of several.
        let fits = |one: &String, of: &String| {
            one == of || one.ends_with('_') && of.starts_with(one.as_str())
        };
        let missing = asked.iter().filter(|one| !known.iter().any(|of| fits(one, of)));
        assert_eq!(missing.collect::<Vec<_>>(), [""; 0], "of [{part}]");
        let idle = known.iter().filter(|of| !asked.iter().any(|one| fits(one, of)));
        assert_eq!(idle.collect::<Vec<_>>(), [""; 0], "nobody asks for these of [{part}]");
    }
    Ok(())
}

/// Files whose texts people see: of a session, of the record, in a plan's changes, on a page, a card or a report.
const SHOWN: [&str; 11] = [
    "src/program/review",
    "src/program/run",
    "src/program/cli/big",
    "src/program/cli/history",
    "src/program/cli/midi.rs",
    "src/program/cli/nudges.rs",
    "src/program/cli/report.rs",
    "src/program/cli/review.rs",
    "src/program/cli/screen.rs",
    "src/program/cli/shelf.rs",
    "src/program/cli/sound.rs",
];
/// What shows nothing: answers to what is not a page, headers, drawing, lines for programs, what is read and made up,
/// tests.
const NOT_SHOWN: [&str; 10] = [
    "guard.rs",
    "server.rs",
    "vtt.rs",
    "json.rs",
    "lines.rs",
    "tags/line.rs",
    "tags/before.rs",
    "history/invented.rs",
    "clock_faults.rs",
    "owner_faults.rs",
];
/// What goes before a text for an engineer, a program, or whoever types a command, and before the name of a number.
const BEFORE: [&str; 14] = [
    "expect(",
    "must_use =",
    "context(",
    "with_context(|| format!(",
    "after_help =",
    "bail!(",
    "anyhow!(",
    "wrong(",
    "wrong(format!(",
    "#[error(",
    "reason:",
    "unreachable!(",
    "tracing::warn!(",
    "now(",
];
/// Errors of the command line that no sign goes before, and the head of a table to fill in.
const ERRORS: [&str; 6] = [
    "{} ({}, key {})",
    "none yet",
    "port {} of this computer is taken; choose another with --port",
    "seconds are a number, such as 2.5",
    "between 0.3 and 60 seconds",
    "\\\ndate,animal,species,",
];

/// A text that people could read: two words or more beside what is filled in, and no markup, header or message to
/// engineers.
fn readable(before: &str, text: &str) -> bool {
    let said = without(text, "{", "}");
    let words = said.split(|c: char| !c.is_alphabetic()).filter(|word| word.len() > 1).count();
    let filled = text.contains('{') && words > 0;
    let markup =
        ["<", "=", "; charset", "{template}", "chart {}", "piece other", "step small", "self."];
    (words > 1 || filled)
        && text.contains(' ')
        && !markup.iter().any(|sign| text.contains(sign))
        && !BEFORE.iter().any(|sign| before.ends_with(sign))
        && !ERRORS.iter().any(|error| text.starts_with(error))
}

#[test]
fn what_is_shown_has_no_texts_in_the_program() -> Result<()> {
    let mut sources = Vec::new();
    for folder in SHOWN {
        let path = root().join(folder);
        if path.is_dir() { rust_files(&path, &mut sources)? } else { sources.push(path) }
    }
    let mut found = Vec::new();
    for file in sources {
        if NOT_SHOWN.iter().any(|name| file.ends_with(name)) {
            continue;
        }
        for (before, text, _) in texts(&fs::read_to_string(&file)?) {
            if readable(&before, &text) {
                found.push(format!("{}: {text}", file.display()));
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
    assert!(readable("say(", "No try was rewarded") && !readable("class(", "missed"));
    assert!(readable("format!(", "try {number}: missed") && readable("format!(", "held {:.1} s"));
    assert!(!readable("bail!(", "there is no such plan") && !readable("format!(", "{a}, {b}"));
    Ok(())
}

#[test]
fn every_reason_why_a_statistic_does_not_exist_has_its_words() -> Result<()> {
    let mut sources = Vec::new();
    for folder in ["src/stats", "src/core/history"] {
        rust_files(&root().join(folder), &mut sources)?;
    }
    let mut named = BTreeSet::new();
    for file in sources {
        let texts = texts(&fs::read_to_string(&file)?);
        let reason =
            |(before, text, _): (String, String, String)| before.ends_with("why:").then_some(text);
        named.extend(texts.into_iter().filter_map(reason));
    }
    assert_eq!(named, table("undefined_as")?);
    Ok(())
}

/// What nothing else renders, since it is shown when something fails.
#[test]
fn remarks_and_tables_of_a_session_are_worded() {
    let told = [
        (
            filled("screen.lost", context! { why => "Xrun" }),
            "no sound (Xrun); looking for the microphone",
        ),
        (
            filled("screen.gap", context! { lasted_s => 1.25, why => "Xrun" }),
            "no sound for 1.2 s (Xrun)",
        ),
        (
            filled("screen.lost_in_session", context! { at => "0:04.2", why => "Xrun" }),
            "no sound since 0:04.2 (Xrun); looking for the microphone, the session goes on",
        ),
        (
            filled("screen.unsure", context! { words => "yes", other => "yet" }),
            "not sure: \"yes\" or \"yet\"?",
        ),
        (filled("screen.was_talk", context! { words => "yes" }), "that was talk: \"yes\""),
        (filled("screen.press", context! { press => "Double" }), "double press"),
        (
            filled("screen.not_understood", context! { line => "yse", near => "yes" }),
            "not understood: yse. Did you mean: yes?",
        ),
        (
            filled("screen.not_understood", context! { line => "yse", near => None::<&str> }),
            "not understood: yse",
        ),
        (
            filled(
                "screen.hears_best",
                context! { low => 2000.0, high => 5000.0, source => "A", below => 1000.0 },
            ),
            "Hears best from 2000 to 5000 Hz (A). Nudges stay below 1000 Hz.",
        ),
        (
            filled(
                "screen.film_placed",
                context! { offset_s => 1.23456, drift_ppm => -12.6, error_ms => 8.4, matched => 20, expected => 24 },
            ),
            "The session's sound begins at 1.235 s of the film; its clock drifts by -13 ppm. 20 of 24 words were found in both; a time is right to within 8 ms.",
        ),
        (text("screen.output_plays_nothing"), "it plays nothing"),
        (filled("screen.nudge_named", context! { name => "pay_this_one" }), "pay this one"),
        (
            filled("screen.session_nudge", context! { name => "of_a_newer_one" }),
            "nudge: of a newer one",
        ),
    ];
    for (said, expected) in told {
        assert_eq!(said, expected);
    }
}
