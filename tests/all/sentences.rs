//! What is said or shown of an animal stands in `prompts/`, so that another language is a folder: no sentence of that
//! kind in the program's decisions, sessions and histories. Names of numbers, methods and sources may stand.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;

const FOLDERS: [&str; 3] = ["src/core/decide", "src/core/session", "src/core/history"];
/// This many words make a sentence.
const WORDS: usize = 4;
/// Names of what is counted, and an error of the command line.
const NAMES: [&str; 6] = [
    "answers to the cue take",
    "from try to try it takes",
    "from movement to movement it takes",
    "sessions with a reward",
    "sessions of this person and of others on the same step",
    "a baseline has 3 to 1000 sessions, and a lot 2 to 1000",
];
/// What goes before a text that is none of an animal: the name of a number, a method, a source, an error, a remark to
/// the compiler.
const BEFORE: [&str; 11] = [
    "Quantity::new(",
    "method:",
    "method =",
    "source:",
    "source =",
    "share =",
    "&str =",
    "#[error(",
    "must_use =",
    "reason =",
    "expect(",
];

pub(crate) fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) -> Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        let tests = ["tests", "tests.rs", "testing.rs", "properties.rs", "details.rs"];
        if path.is_dir() && !tests.contains(&name) {
            rust_files(&path, found)?;
        } else if name.ends_with(".rs") && !tests.contains(&name) {
            found.push(path);
        }
    }
    Ok(())
}

/// A line without its comment; the address `http://…` is none.
fn without_comment(line: &str) -> &str {
    let begin = line.match_indices("//").find(|(at, _)| !line[..*at].ends_with(':'));
    begin.map_or(line, |(at, _)| &line[..at])
}

/// The texts of a program, each with what stands before and after it; comments are left out.
pub(crate) fn texts(program: &str) -> Vec<(String, String, String)> {
    let mut program = program;
    for tests in ["#[cfg(test)]\nmod tests {", "#[cfg(test)]\npub(super) mod tests {"] {
        program = program.split(tests).next().unwrap_or_default();
    }
    let code: Vec<&str> = program.lines().map(without_comment).collect();
    let code = code.join("\n").replace("'\"'", "' '");
    let mut found = Vec::new();
    let mut from = 0;
    while let Some(begin) = code[from..].find('"').map(|place| from + place) {
        let mut end = begin + 1;
        while !code[end..].starts_with('"') {
            end += code[end..].chars().next().map_or(1, char::len_utf8);
            // The sign after a backslash ends nothing.
            if code[..end].ends_with('\\') {
                end += code[end..].chars().next().map_or(1, char::len_utf8);
            }
        }
        let (before, after) = (code[..begin].trim_end(), code[end + 1..].trim_start());
        found.push((before.to_owned(), code[begin + 1..end].to_owned(), after.to_owned()));
        from = end + 1;
    }
    found
}

fn words(text: &str) -> usize {
    let words = text.split(|c: char| !c.is_alphabetic());
    words.filter(|word| word.len() > 1).count()
}

/// The name of a number: the first of three in brackets, of which the last is its unit.
fn names_a_number(before: &str, after: &str) -> bool {
    let mut depth = 0;
    let inside = after.find(|c| {
        depth += i32::from("([{".contains(c)) - i32::from(")]}".contains(c));
        depth < 0
    });
    let inside = inside.map(|end| after[..end].trim_end().trim_end_matches(','));
    before.ends_with('(')
        && inside.is_some_and(|inside| inside.starts_with(',') && inside.ends_with('"'))
}

/// A source names its year, or says that there is none.
fn is_a_source(text: &str) -> bool {
    let year = |word: &str| word.len() == 4 && word.bytes().all(|byte| byte.is_ascii_digit());
    text.split(|c: char| !c.is_alphanumeric()).any(year)
        || ["no source", "from memory", "ed., table"].iter().any(|sign| text.contains(sign))
}

fn sentences(program: &str) -> Vec<String> {
    let is_one = |(before, text, after): &(String, String, String)| {
        words(text) >= WORDS
            && text.contains(' ')
            && !NAMES.contains(&text.as_str())
            && !BEFORE.iter().any(|sign| before.ends_with(sign))
            && !names_a_number(before, after)
            && !is_a_source(text)
    };
    texts(program).into_iter().filter(is_one).map(|(_, text, _)| text).collect()
}

#[test]
fn no_sentence_about_an_animal_stands_in_the_program() -> Result<()> {
    let mut files = Vec::new();
    for folder in FOLDERS {
        rust_files(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder), &mut files)?;
    }
    assert!(files.len() > 40, "only {} files were read", files.len());
    let mut found = Vec::new();
    for file in files {
        let said = sentences(&fs::read_to_string(&file)?);
        found.extend(said.into_iter().map(|text| format!("{}: {text}", file.display())));
    }
    assert!(found.is_empty(), "{found:#?}");
    Ok(())
}

#[test]
fn a_sentence_is_found_and_a_name_a_method_and_a_source_are_not() {
    let found = [
        "let because = \"the latest session ended on a miss\";",
        "format!(\"{n} of the last {m} tries met it\")",
        "tips.push(says(\"stop after a paid success\", 1));",
    ];
    for program in found {
        assert_eq!(sentences(program).len(), 1, "{program}");
    }
    let others = [
        "Quantity::new(\"share of the planned time\", by_time, \"\")",
        "(\"days since its latest session\", days.map_or(0.0, f64::from), \"days\")",
        "let method = \"share of the planned time, whichever is further\";",
        "let from = \"Wilson, J Am Stat Assoc 22, 1927\";",
        "// let because = \"the latest session ended on a miss\";",
    ];
    for program in others {
        assert_eq!(sentences(program), [""; 0], "{program}");
    }
}
