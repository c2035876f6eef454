//! The project's English: words that have one in their place in the glossary of `DEVELOPERS.md` are not used in code,
//! comments, messages and documents.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
/// A word, and what is written in its place.
const WORDS: [(&str, &str); 6] = [
    ("anew", "again, or from scratch"),
    ("how-manieth", "which one, counted from 1"),
    ("heardness", "audibility"),
    ("gone through again", "replayed"),
    ("gone through once more", "replayed"),
    ("wrong use", "usage error"),
];
/// After these, "is no" is what an engineer writes.
const AFTER_NO: [&str; 9] =
    ["longer", "more", "less", "such", "later", "better", "worse", "greater", "use"];

/// Files with one of these endings below a folder.
fn files(folder: &Path, endings: &[&str], found: &mut Vec<PathBuf>) -> Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let ends = |ending: &&str| path.extension().is_some_and(|its| its == *ending);
        if path.is_dir() {
            files(&path, endings, found)?;
        } else if endings.iter().any(ends) {
            found.push(path);
        }
    }
    Ok(())
}

/// Whether `text` has `word`, standing by itself.
fn has(text: &str, word: &str) -> bool {
    let part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
    text.match_indices(word).any(|(at, _)| {
        !part(text[..at].chars().next_back()) && !part(text[at + word.len()..].chars().next())
    })
}

/// Whether a comment says "is no …" where "is not a …" is meant.
fn is_no(comment: &str) -> bool {
    let words: Vec<&str> = comment.split_whitespace().collect();
    words.windows(4).any(|words| {
        let [before, is, no, after] = words else { return false };
        ["is", "are", "was", "were"].contains(is)
            && *no == "no"
            && !["there", "here"].contains(&before.to_lowercase().as_str())
            && !AFTER_NO.contains(&after.trim_matches(|c: char| !c.is_alphabetic()))
    })
}

#[test]
fn the_words_of_the_glossary_are_used() -> Result<()> {
    let root = Path::new(ROOT);
    let mut found = vec![root.join("README.md"), root.join("DEVELOPERS.md")];
    for folder in ["src", "prompts", "tests", "models"] {
        files(&root.join(folder), &["rs", "md", "toml", "html", "js", "py", "sh"], &mut found)?;
    }
    let mut wrong = Vec::new();
    for path in found {
        if path.ends_with("tests/all/glossary.rs") {
            continue;
        }
        let text = fs::read_to_string(&path)?;
        let place = path.strip_prefix(root)?.display();
        for (number, line) in (1..).zip(text.lines()) {
            let lower = line.to_lowercase();
            // The glossary itself names what it replaces.
            let rows = line.starts_with('|') && path.ends_with("DEVELOPERS.md");
            for (word, instead) in WORDS.iter().filter(|(word, _)| !rows && has(&lower, word)) {
                wrong.push(format!("{place}:{number}: \"{word}\": {instead}"));
            }
            let comment =
                line.trim_start().starts_with("//") && path.extension() == Some("rs".as_ref());
            if comment && is_no(line) {
                wrong.push(format!("{place}:{number}: \"is no\": is not"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    Ok(())
}

#[test]
fn what_is_written_otherwise_is_seen() {
    assert!(has("it begins anew.", "anew") && !has("a renewal, anewly", "anew"));
    assert!(is_no("/// Louder than this is no nudge.") && is_no("/// Times that are no times."));
    for fine in ["// There is no plan.", "// It is no longer open.", "// short is yes, long is no."]
    {
        assert!(!is_no(fine), "{fine}");
    }
}
