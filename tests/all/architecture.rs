//! The pure modules stay pure: none of them names a device, a file, a clock, a thread or chance.

use std::fs;
use std::path::{Path, PathBuf};

const PURE: [&str; 9] = [
    "core",
    "stats",
    "program/hear/clicks",
    "program/hear/personal/combine.rs",
    "program/hear/personal/features.rs",
    "program/hear/personal/lesson.rs",
    "program/hear/personal/matcher.rs",
    "program/hear/personal/takes.rs",
    "program/hear/personal/warp.rs",
];
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

#[test]
fn pure_modules_import_nothing_impure() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    for module in PURE {
        rust_files(&src.join(module), &mut files);
    }
    assert!(files.len() > 40, "only {} files found", files.len());
    let mut found = Vec::new();
    for file in files {
        let text = code(&fs::read_to_string(&file).expect("readable source"));
        for word in FORBIDDEN.iter().filter(|word| text.contains(**word)) {
            found.push(format!("{} names {word}", file.display()));
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn the_engine_does_not_know_the_simulated_animal() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&src.join("core/session"), &mut files);
    rust_files(&src.join("stats"), &mut files);
    for file in files {
        let text = code(&fs::read_to_string(&file).expect("readable source"));
        assert!(!text.contains("sim::"), "{} names the simulation", file.display());
    }
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
