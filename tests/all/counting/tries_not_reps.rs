//! No sentence counts reps: what is counted are tries, of them rewarded and missed.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// Every file below a folder with this ending.
fn files(folder: &Path, ending: &str) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            found.extend(files(&path, ending)?);
        } else if path.extension().is_some_and(|its| its == ending) {
            found.push(path);
        }
    }
    Ok(found)
}

/// Whether a text for people speaks of reps, or counts misses.
fn counts_wrongly(text: &str) -> bool {
    let lower = text.to_lowercase();
    let mut words = lower.split(|c: char| !c.is_alphanumeric() && c != '_' && c != '-');
    words.any(|word| ["rep", "reps", "misses"].contains(&word))
}

/// What a template shows: its text, and the texts inside its expressions.
fn shown(template: &str) -> String {
    let mut text = String::new();
    let mut rest = template;
    while let Some(begin) = rest.find("{{").into_iter().chain(rest.find("{%")).min() {
        text += &rest[..begin];
        let end = rest[begin..].find(if rest[begin..].starts_with("{{") { "}}" } else { "%}" });
        let Some(end) = end else { break };
        let inside = &rest[begin..begin + end];
        if inside.starts_with("{{") {
            // Comparisons and names are not texts; what is counted by is.
            for call in inside.split("count(").skip(1) {
                text += &format!(" {} ", call.split(')').next().unwrap_or_default());
            }
        }
        rest = &rest[begin + end + 2..];
    }
    text + rest
}

/// What a page shows of its markup: text, and the attributes that are read out.
fn of_page(html: &str) -> String {
    let mut text = String::new();
    for piece in html.split('<') {
        let (tag, after) = piece.split_once('>').unwrap_or(("", piece));
        for name in ["aria-label=\"", "placeholder=\"", "title=\""] {
            if let Some(value) = tag.split(name).nth(1) {
                text += &format!(" {} ", value.split('"').next().unwrap_or_default());
            }
        }
        text += &format!(" {after} ");
    }
    text
}

/// The string literals of a program's text.
fn literals(program: &str) -> Vec<String> {
    let program = program.replace("'\"'", "' '").replace("'\\\"'", "' '");
    let mut found = Vec::new();
    for line in program.lines().filter(|line| !line.trim_start().starts_with("//")) {
        let mut pieces =
            line.replace("\\\"", "'").split('"').map(str::to_owned).collect::<Vec<_>>();
        // Text that goes on on the next line has no end here; it is a literal all the same.
        for inside in pieces.drain(..).skip(1).step_by(2) {
            found.push(inside);
        }
    }
    found
}

#[test]
fn no_prompt_and_no_page_counts_reps() -> Result<()> {
    let mut wrong = Vec::new();
    let mut read = 0;
    for file in files(&Path::new(ROOT).join("prompts/en"), "toml")? {
        // What people say, and what they write in notes, is theirs.
        if ["words.toml", "signs.toml"].iter().any(|words| file.ends_with(words)) {
            continue;
        }
        let table: toml::Table = toml::from_str(&fs::read_to_string(&file)?)?;
        for text in texts(&toml::Value::Table(table)) {
            read += 1;
            if counts_wrongly(&shown(&text)) {
                wrong.push(format!("{}: {text}", file.display()));
            }
        }
    }
    for file in files(&Path::new(ROOT).join("src/program/review/pages"), "html")? {
        read += 1;
        let text = of_page(&shown(&fs::read_to_string(&file)?));
        for line in text.lines().filter(|line| counts_wrongly(line)) {
            wrong.push(format!("{}: {line}", file.display()));
        }
    }
    assert!(read > 100, "{read} texts were read");
    assert!(wrong.is_empty(), "{wrong:#?}");
    Ok(())
}

fn texts(value: &toml::Value) -> Vec<String> {
    match value {
        toml::Value::String(text) => vec![text.clone()],
        toml::Value::Table(table) => table.values().flat_map(texts).collect(),
        toml::Value::Array(values) => values.iter().flat_map(texts).collect(),
        _ => Vec::new(),
    }
}

/// A format string without the names of its values.
fn without_braces(literal: &str) -> String {
    literal.split('{').map(|part| part.split_once('}').map_or(part, |(_, text)| text)).collect()
}

#[test]
fn no_sentence_of_the_program_counts_reps() -> Result<()> {
    let mut wrong = Vec::new();
    let mut sources = files(&Path::new(ROOT).join("src"), "rs")?;
    sources.extend(files(&Path::new(ROOT).join("src/program/review/pages"), "js")?);
    for file in sources {
        let name = file.strip_prefix(ROOT)?.display().to_string();
        if name.contains("tests") || name.contains("testing") || name.contains("properties") {
            continue;
        }
        let text = fs::read_to_string(&file)?;
        let program = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
        for literal in literals(program) {
            // A name has no space; what is exported by the name of "reps" may be called so.
            let text = without_braces(&literal).replace("export of reps", "");
            let mut words = text.split(|c: char| !c.is_alphanumeric() && c != '_');
            if literal.contains(' ') && words.any(|word| word == "reps") {
                wrong.push(format!("{name}: {literal}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    Ok(())
}
