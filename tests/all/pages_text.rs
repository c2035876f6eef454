//! What a page, a card or a report of the review shows stands in `prompts/en/pages.toml`: none of it in a template, in
//! the program of the pages, or in their script; and every text there is asked for.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

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

/// Files whose texts people see, beside those of the review.
const SHOWN: [&str; 1] = ["src/program/review"];
/// Parts of the review that show nothing: errors of the command line, answers to what is not a page, headers, drawing.
const NOT_SHOWN: [&str; 5] = ["align.rs", "guard.rs", "server.rs", "vtt.rs", "film.rs"];

/// A text that people could read: two words or more, and no markup, header or message to engineers.
fn readable(before: &str, text: &str) -> bool {
    let words = text.split(|c: char| !c.is_alphabetic()).filter(|word| word.len() > 1).count();
    let markup =
        ["<", "=", "; charset", "{template}", "chart {}", "piece other", "step small", "self."];
    let to_engineers = ["expect(", "must_use =", "context("];
    words > 1
        && text.contains(' ')
        && !markup.iter().any(|sign| text.contains(sign))
        && !to_engineers.iter().any(|sign| before.ends_with(sign))
}

#[test]
fn the_programs_of_pages_have_no_texts_of_their_own() -> Result<()> {
    let mut sources = Vec::new();
    for folder in SHOWN {
        let path = root().join(folder);
        if path.is_dir() { rust_files(&path, &mut sources)? } else { sources.push(path) }
    }
    let mut found = Vec::new();
    for file in sources {
        let name = file.file_name().and_then(|name| name.to_str()).context("a name")?;
        if NOT_SHOWN.contains(&name) {
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
    Ok(())
}
