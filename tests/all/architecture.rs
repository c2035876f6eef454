//! The layers of `DEVELOPERS.md` are the layers of the source: who imports whom, and what is pure.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
/// What nothing pure names. The two manifests of pure crates are searched as well.
const FORBIDDEN: [&str; 17] = [
    "cpal",
    "rodio",
    "rusqlite",
    "tokio",
    "vosk",
    "std::fs",
    "std::io",
    "std::env",
    "std::thread",
    "std::net",
    "std::process",
    "rand::rng",
    "thread_rng",
    "from_os_rng",
    "Instant",
    "SystemTime",
    "::now(",
];

/// A row of the table.
struct Layer {
    name: String,
    krate: String,
    pure: bool,
    /// `*` stands for anything above.
    imports: Vec<String>,
}

impl Layer {
    /// Its file or folder; the statistics are a crate of their own.
    fn place(&self) -> PathBuf {
        let sources = Path::new(ROOT).join("src");
        if self.name == self.krate {
            return sources.join(&self.name);
        }
        let folder = sources.join(&self.krate).join(&self.name);
        if folder.is_dir() { folder } else { folder.with_extension("rs") }
    }
}

fn map() -> String {
    let text = fs::read_to_string(Path::new(ROOT).join("DEVELOPERS.md")).expect("the map");
    let from = text.find("## Layers").expect("a section on layers");
    text[from..].split("\n## ").next().unwrap_or_default().to_owned()
}

/// What stands between backquotes.
fn quoted(text: &str) -> Vec<String> {
    text.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

fn layers(map: &str) -> Vec<Layer> {
    let rows = map.lines().filter(|line| line.starts_with("| `"));
    let layer = |row: &str| {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [name, krate, _, _, imports] = cells[..] else { panic!("five columns: {row}") };
        Layer {
            name: name.trim_matches('`').to_owned(),
            krate: krate.to_owned(),
            pure: ["stats", "core"].contains(&krate),
            imports: quoted(imports),
        }
    };
    rows.map(layer).collect()
}

fn rust_files(path: &Path, found: &mut Vec<PathBuf>) {
    if path.is_dir() {
        for entry in fs::read_dir(path).expect("a readable folder") {
            rust_files(&entry.expect("a readable entry").path(), found);
        }
    } else if path.extension().is_some_and(|ext| ext == "rs") {
        found.push(path.to_owned());
    }
}

/// The code of a file without its comments.
fn code(text: &str) -> String {
    let code = text.lines().map(|line| line.split("//").next().unwrap_or(""));
    code.collect::<Vec<_>>().join("\n")
}

/// The modules that a file declares, and those of them that only tests have.
fn declared(text: &str) -> (Vec<String>, Vec<String>) {
    let (mut all, mut tests) = (Vec::new(), Vec::new());
    let mut for_tests = false;
    for line in text.lines().map(str::trim) {
        let words: Vec<&str> = line.trim_end_matches(';').split(' ').collect();
        if let ["mod", name] | ["pub", "mod", name] | ["pub(crate)" | "pub(super)", "mod", name] =
            words[..]
            && line.ends_with(';')
        {
            if for_tests { &mut tests } else { &mut all }.push(name.to_owned());
        }
        for_tests = line == "#[cfg(test)]" || for_tests && line.starts_with("#[");
    }
    (all, tests)
}

/// The files of a layer without its tests.
fn program_files(place: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    rust_files(place, &mut files);
    let mut tests = Vec::new();
    for file in &files {
        let inside = match file.file_stem().and_then(|stem| stem.to_str()) {
            Some("mod" | "lib" | "main") => file.with_file_name(""),
            _ => file.with_extension(""),
        };
        let text = fs::read_to_string(file).expect("readable source");
        tests.extend(declared(&text).1.into_iter().map(|name| inside.join(name)));
    }
    files.retain(|file| {
        !tests.iter().any(|test| file.starts_with(test) || *file == test.with_extension("rs"))
    });
    files
}

/// The modules at the root of a crate that this code names: `crate::plan`, `crate::{plan, session::Rep}`.
fn imported(code: &str) -> BTreeSet<String> {
    let roots = ["crate::", "hushtally::", "hushtally_core::"];
    let word = |text: &str| -> String {
        text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
    };
    let mut names = BTreeSet::new();
    for root in roots {
        for (place, _) in code.match_indices(root) {
            let before = code[..place].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '$') {
                continue;
            }
            let after = &code[place + root.len()..];
            let Some(group) = after.strip_prefix('{') else {
                names.insert(word(after));
                continue;
            };
            let mut depth = 0;
            let mut part = String::new();
            for c in group.chars() {
                match c {
                    '{' => depth += 1,
                    '}' if depth == 0 => break,
                    '}' => depth -= 1,
                    ',' if depth == 0 => {
                        names.insert(word(part.trim_start()));
                        part.clear();
                        continue;
                    }
                    _ => {}
                }
                part.push(c);
            }
            names.insert(word(part.trim_start()));
        }
    }
    if code.contains("hushtally_stats") {
        names.insert("stats".to_owned());
    }
    names
}

#[test]
fn layers_import_what_the_map_says() {
    let layers = layers(&map());
    assert!(layers.len() > 30, "only {} layers found", layers.len());
    let place = |name: &str| layers.iter().position(|layer| layer.name == name);
    let mut faults = Vec::new();
    for krate in ["core", "program"] {
        let root = Path::new(ROOT).join("src").join(krate).join("lib.rs");
        let modules = declared(&fs::read_to_string(root).expect("the root of a crate")).0;
        assert!(modules.len() > 10, "only {} modules of {krate} found", modules.len());
        let is_there =
            |name: &String| layers.iter().any(|layer| layer.krate == krate && layer.name == *name);
        let missing = modules.iter().filter(|name| !is_there(name));
        faults.extend(missing.map(|name| format!("{krate}/{name} is not on the map")));
    }
    let mut read = 0;
    for (index, layer) in layers.iter().enumerate() {
        for name in layer.imports.iter().filter(|name| *name != "*") {
            if place(name).is_none_or(|above| above >= index) {
                faults.push(format!(
                    "{} may import {name}, which does not stand above it",
                    layer.name
                ));
            }
        }
        let files = program_files(&layer.place());
        assert!(!files.is_empty(), "{} has no files", layer.name);
        for file in files {
            let text = fs::read_to_string(&file).expect("readable source");
            let text = code(text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default());
            for name in imported(&text) {
                let Some(other) = place(&name).filter(|other| *other != index) else { continue };
                read += 1;
                let any = layer.imports.iter().any(|import| import == "*");
                if other > index || !any && !layer.imports.contains(&name) {
                    faults.push(format!("{} imports {name}", file.display()));
                }
            }
        }
    }
    println!("\nlayer_faults\t{}", faults.len());
    assert!(read > 200, "only {read} imports found");
    assert!(faults.is_empty(), "not as DEVELOPERS.md says:\n{}", faults.join("\n"));
}

#[test]
fn the_map_is_short_and_leads_somewhere() {
    let map = fs::read_to_string(Path::new(ROOT).join("DEVELOPERS.md")).expect("the map");
    assert!(map.len() <= 12 * 1024, "{} bytes", map.len());
    let places = ["src/", "tests/", "prompts/", "models/", "demo/"];
    let is_place = |name: &String| {
        places.iter().any(|place| name.starts_with(place)) && !name.contains(['*', ' '])
    };
    let named: Vec<String> = quoted(&map).into_iter().filter(is_place).collect();
    assert!(named.len() > 15, "only {named:?}");
    let astray: Vec<&String> =
        named.iter().filter(|name| !Path::new(ROOT).join(name).exists()).collect();
    assert!(astray.is_empty(), "DEVELOPERS.md names what is not there: {astray:?}");
}

#[test]
fn pure_layers_name_nothing_impure() {
    let map = map();
    let sources = Path::new(ROOT).join("src");
    let mut files = vec![sources.join("core/Cargo.toml"), sources.join("stats/Cargo.toml")];
    for layer in layers(&map) {
        if layer.pure {
            rust_files(&layer.place(), &mut files);
        }
    }
    let inside = map.split("Pure inside a layer:").nth(1).expect("what is pure inside a layer");
    for part in quoted(inside) {
        let folder = sources.join("program").join(part);
        let parts = [folder.with_extension("rs"), folder];
        assert!(parts.iter().any(|part| part.exists()), "{} is not there", parts[0].display());
        parts.iter().filter(|part| part.exists()).for_each(|part| rust_files(part, &mut files));
    }
    assert!(files.len() > 150, "only {} files found", files.len());
    let mut found = Vec::new();
    for file in files {
        let text = code(&fs::read_to_string(&file).expect("readable source"));
        for word in FORBIDDEN.iter().filter(|word| text.contains(**word)) {
            found.push(format!("{} names {word}", file.display()));
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// Every name in some code, as often as it stands there.
fn names(code: &str) -> Vec<&str> {
    code.split(|c: char| !c.is_alphanumeric() && c != '_').filter(|word| !word.is_empty()).collect()
}

#[test]
fn public_statistics_have_a_caller() {
    let root = Path::new(ROOT);
    let mut callers = Vec::new();
    for place in ["src/core", "src/program", "tests/benches", "tests/all/checks"] {
        rust_files(&root.join(place), &mut callers);
    }
    // These two try whatever there is.
    callers.retain(|file| !file.ends_with("hostile.rs") && !file.ends_with("reference.rs"));
    let statistics = program_files(&root.join("src/stats"));
    let text = |file: &PathBuf| {
        let text = fs::read_to_string(file).expect("readable source");
        code(text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default())
    };
    let sources: Vec<String> = callers.iter().chain(&statistics).map(text).collect();
    let mut times = BTreeMap::new();
    for name in sources.iter().flat_map(|code| names(code)) {
        *times.entry(name).or_insert(0) += 1;
    }
    let mut defined = BTreeMap::new();
    for line in statistics.iter().map(text).collect::<Vec<_>>().iter().flat_map(|code| code.lines())
    {
        if let ["pub", "const", "fn", name, ..]
        | ["pub", "fn" | "const" | "struct" | "enum", name, ..] = names(line)[..]
        {
            *defined.entry(name.to_owned()).or_insert(0) += 1;
        }
    }
    assert!(defined.len() > 150, "only {} found", defined.len());
    let alone: Vec<&String> = defined
        .iter()
        .filter(|(name, definitions)| times.get(name.as_str()).is_none_or(|n| n <= *definitions))
        .map(|(name, _)| name)
        .collect();
    assert!(alone.is_empty(), "nobody calls {alone:?}");
}

/// Where a file that a person names is opened, and the few places that open files of ours or a device.
const MAY_OPEN: [&str; 9] = [
    "given.rs",
    "new_file.rs",
    "hear/whole.rs",
    "private.rs",
    "store/open.rs",
    "store/hold.rs",
    "cli/midi.rs",
    "cli/report.rs",
    "build.rs",
];

#[test]
fn files_that_a_person_names_are_opened_in_one_place() {
    let sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/program");
    let mut files = Vec::new();
    rust_files(&sources, &mut files);
    let mut opened = Vec::new();
    for file in files {
        let name = file.strip_prefix(&sources).expect("it is below").to_string_lossy().into_owned();
        let is_test = name.contains("test") || name.contains("/clock_faults");
        let text = fs::read_to_string(&file).expect("a readable file");
        let program = text.split("#[cfg(test)]").next().unwrap_or_default();
        let opens = [
            " File::open(",
            "(File::open(",
            "fs::File::open(",
            "fs::read(",
            "fs::read_to_string(",
            "::from_path(",
        ];
        if !is_test && opens.iter().any(|call| code(program).contains(call)) {
            opened.push(name);
        }
    }
    opened.retain(|name| !MAY_OPEN.contains(&name.as_str()) && !name.starts_with("recogniser/"));
    assert!(opened.is_empty(), "src/program/given.rs opens files that a person names: {opened:?}");
}

#[test]
fn a_file_takes_the_place_of_another_in_one_place() {
    let sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/program");
    let mut files = Vec::new();
    rust_files(&sources, &mut files);
    let persists = |file: &PathBuf| {
        let text = fs::read_to_string(file).expect("a readable file");
        code(text.split("#[cfg(test)]").next().unwrap_or_default()).contains(".persist")
    };
    files.retain(persists);
    assert_eq!(files, [sources.join("new_file.rs")]);
}
