//! What a test needs from the machine, and what happens when it is not there.

use std::env;
use std::path::PathBuf;

/// Whether `program` can be run. Where it cannot, the test says so and passes, since a user may run the tests
/// without everything; with `CI=true` or `HUSHTALLY_STRICT=1` it fails instead, so that nothing is skipped
/// unseen.
pub(crate) fn program(program: &str) -> bool {
    let found = env::var_os("PATH")
        .is_some_and(|path| env::split_paths(&path).any(|folder| folder.join(program).is_file()));
    found || missing(&format!("the program {program}"))
}

/// The folder that `models/fetch` fills, if the speech model is in it; else as for [`program`].
pub(crate) fn data_folder() -> Option<PathBuf> {
    let set = |name| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let folder = set("HUSHTALLY_HOME")
        .or_else(|| set("XDG_DATA_HOME").map(|data| data.join("hushtally")))
        .or_else(|| set("HOME").map(|home| home.join(".local/share/hushtally")))?;
    let found = folder.join("models/en-us-small").is_dir();
    (found || missing("the speech model")).then_some(folder)
}

fn missing(what: &str) -> bool {
    let strict = ["CI", "HUSHTALLY_STRICT"]
        .into_iter()
        .any(|name| env::var(name).is_ok_and(|value| value == "true" || value == "1"));
    assert!(!strict, "{what} is missing; models/fetch --tests brings it");
    eprintln!("skipped: {what} is missing; models/fetch --tests brings it");
    false
}

/// Whether the speech model is here; as [`program`].
pub(crate) fn model() -> bool {
    let home = env::var_os("HUSHTALLY_HOME").map(std::path::PathBuf::from).or_else(|| {
        let data = env::var_os("XDG_DATA_HOME").map(std::path::PathBuf::from).or_else(|| {
            Some(std::path::PathBuf::from(env::var_os("HOME")?).join(".local/share"))
        })?;
        Some(data.join("hushtally"))
    });
    let found = home.is_some_and(|home| home.join("models/en-us-small/am/final.mdl").is_file());
    found || missing("the speech model")
}

/// Says that something else is missing, as [`program`] does; false.
pub(crate) fn thing(what: &str) -> bool {
    missing(what)
}

/// The same for a file that `models/fetch --tests` brings.
pub(crate) fn file(file: &std::path::Path) -> bool {
    file.is_file() || missing(&format!("the file {}", file.display()))
}

/// A file or folder in `HUSHTALLY_SHARED`, or in `shared` beside the project; if it is absent, says so.
pub(crate) fn shared(name: &str) -> Option<PathBuf> {
    let folder = env::var_os("HUSHTALLY_SHARED")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared"), PathBuf::from);
    let found = folder.join(name);
    if !found.exists() {
        eprintln!("skipped: no {name} in ../shared or HUSHTALLY_SHARED");
    }
    found.exists().then_some(found)
}
