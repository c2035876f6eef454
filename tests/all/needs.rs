//! What a test needs from the machine, and what happens when it is not there.
//!
//! All of it stands in `tests/needed.txt`, so that `tests/needed` can look for it before the first test runs. Where
//! something is missing the test says so and passes, since a user may run the tests without everything; with `CI=true` or
//! `HUSHTALLY_STRICT=1` it fails instead, unless `HUSHTALLY_WITHOUT` names it.

use std::env;
use std::path::PathBuf;

const NEEDED: &str = include_str!("../needed.txt");

/// Whether `name` can be used: it was found, and this machine is not said to be without it.
fn needed(kind: &str, name: &str, found: bool) -> bool {
    let listed = |line: &str| line.split_once(' ') == Some((kind, name));
    assert!(NEEDED.lines().any(listed), "tests/needed.txt lacks the line \"{kind} {name}\"");
    let without = env::var("HUSHTALLY_WITHOUT").unwrap_or_default();
    let given_up = without.split_whitespace().any(|word| word == name || word == kind);
    if found && !given_up {
        return true;
    }
    let strict = ["CI", "HUSHTALLY_STRICT"]
        .into_iter()
        .any(|name| env::var(name).is_ok_and(|value| value == "true" || value == "1"));
    assert!(given_up || !strict, "{name} is missing; tests/needed says what to do");
    eprintln!("skipped: {name} is missing; tests/needed says what to do");
    false
}

/// Whether `program` can be run.
pub(crate) fn program(program: &str) -> bool {
    let found = env::var_os("PATH")
        .is_some_and(|path| env::split_paths(&path).any(|folder| folder.join(program).is_file()));
    needed("program", program, found)
}

/// Whether something else can be used, which the test has or has not found.
pub(crate) fn thing(name: &str, found: bool) -> bool {
    needed("thing", name, found)
}

/// The folder that `models/fetch` fills, if the speech model is in it.
pub(crate) fn data_folder() -> Option<PathBuf> {
    let set = |name| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let folder = set("HUSHTALLY_HOME")
        .or_else(|| set("XDG_DATA_HOME").map(|data| data.join("hushtally")))
        .or_else(|| set("HOME").map(|home| home.join(".local/share/hushtally")));
    let folder = folder.filter(|folder| folder.join("models/en-us-small/am/final.mdl").is_file());
    thing("model", folder.is_some()).then_some(folder).flatten()
}

/// Whether the speech model is here.
pub(crate) fn model() -> bool {
    data_folder().is_some()
}

/// The Python that `models/fetch --tests` fills with the packages of `tests/python.txt`.
pub(crate) fn python() -> Option<PathBuf> {
    let cache = || {
        env::var_os("XDG_CACHE_HOME")
            .map(PathBuf::from)
            .or_else(|| env::var_os("HOME").map(|home| PathBuf::from(home).join(".cache")))
    };
    let python = env::var_os("HUSHTALLY_PYTHON")
        .map(PathBuf::from)
        .or_else(|| cache().map(|cache| cache.join("hushtally/venv/bin/python")))
        .filter(|python| python.exists());
    thing("python-packages", python.is_some()).then_some(python).flatten()
}

/// A file or folder in `HUSHTALLY_SHARED`, or in `shared` beside the project.
pub(crate) fn shared(name: &str) -> Option<PathBuf> {
    let folder = env::var_os("HUSHTALLY_SHARED")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared"), PathBuf::from);
    let found = folder.join(name);
    needed("shared", name, found.exists()).then_some(found)
}
