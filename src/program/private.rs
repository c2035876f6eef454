//! Folders for nobody else's eyes.

use std::fs::{self, File};
use std::io;
use std::path::Path;
use std::time::Duration;

use tempfile::TempDir;

/// How the names of passing folders begin.
const PREFIX: &str = "hushtally-";
/// A folder that nobody holds is left over from a program that died, unless it was only just made.
const JUST_MADE: Duration = Duration::from_secs(60);

/// Makes a folder, and those above it that are missing, for its owner alone; one that is there stays as it is.
pub(crate) fn create_folder(folder: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

/// A folder for what is only needed for a while. It is its owner's alone from the moment that it is there, whatever
/// the umask, and it goes away when this is dropped; after a crash, when Hushtally is started again.
#[derive(Debug)]
pub(crate) struct PassingFolder {
    folder: TempDir,
    /// Locked for as long as the folder is in use; the system lets go of it however the program ends.
    _held: File,
}

impl PassingFolder {
    /// Makes one in the system's place for such folders; `what` it is for becomes part of its name.
    pub(crate) fn new(what: &str) -> io::Result<Self> {
        let mut builder = tempfile::Builder::new();
        let prefix = format!("{PREFIX}{what}-");
        builder.prefix(&prefix);
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o700));
        let folder = builder.tempdir()?;
        let held = File::open(folder.path())?;
        held.try_lock()?;
        Ok(PassingFolder { folder, _held: held })
    }

    /// Where it is.
    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }
}

/// Removes the passing folders of programs that died before they could.
pub(crate) fn remove_leftovers() {
    remove_leftovers_in(&std::env::temp_dir(), JUST_MADE);
}

/// Whatever cannot be removed is somebody else's, or is tried again at the next start.
fn remove_leftovers_in(place: &Path, just_made: Duration) {
    for entry in fs::read_dir(place).into_iter().flatten().flatten() {
        if entry.file_name().to_string_lossy().starts_with(PREFIX) {
            let _left = remove_if_left_over(&entry.path(), just_made);
        }
    }
}

fn remove_if_left_over(folder: &Path, just_made: Duration) -> io::Result<()> {
    let meta = fs::symlink_metadata(folder)?;
    // Between its making and its lock a folder in use looks like a leftover.
    let young = meta.modified()?.elapsed().is_ok_and(|age| age < just_made);
    if !meta.is_dir() || young || !is_ours(&meta) {
        return Ok(());
    }
    let held = File::open(folder)?;
    held.try_lock()?;
    fs::remove_dir_all(folder)
}

#[cfg(unix)]
fn is_ours(meta: &fs::Metadata) -> bool {
    std::os::unix::fs::MetadataExt::uid(meta) == rustix::process::geteuid().as_raw()
}

#[cfg(not(unix))]
fn is_ours(_: &fs::Metadata) -> bool {
    true
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::PermissionsExt;

    use super::*;

    #[test]
    fn a_passing_folder_is_private_and_goes_away() {
        let folder = PassingFolder::new("test").unwrap();
        let path = folder.path().to_owned();
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o700);
        fs::write(path.join("file"), "x").unwrap();
        drop(folder);
        assert!(!path.exists());
    }

    #[test]
    fn only_what_nobody_holds_is_left_over() {
        let place = tempfile::tempdir().unwrap();
        let make = |name: &str| {
            let path = place.path().join(name);
            fs::create_dir_all(path.join("in")).unwrap();
            fs::write(path.join("in/report.html"), "a name").unwrap();
            path
        };
        let (dead, alive, other) =
            (make("hushtally-a-1"), make("hushtally-a-2"), make("somebody-else"));
        let held = File::open(&alive).unwrap();
        held.try_lock().unwrap();
        std::os::unix::fs::symlink(&other, place.path().join("hushtally-a-3")).unwrap();
        remove_leftovers_in(place.path(), JUST_MADE);
        assert!(dead.exists(), "it may be about to be held");
        remove_leftovers_in(place.path(), Duration::ZERO);
        assert!(!dead.exists());
        assert!(alive.join("in/report.html").exists() && other.join("in/report.html").exists());
    }
}
