//! The one way in which we write a file for somebody: beside its place, for its owner alone, on disk, and only then
//! under its name; never over the record, and over nothing else unasked.

use std::fs::{self, File, Permissions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::own_files::{belongs_to_record, folder_of};

/// What becomes of a file that has the name already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Existing {
    /// It stays, and nothing is written.
    Kept,
    /// The same, where the user may ask for the other with `--overwrite`.
    KeptUnlessAsked,
    /// The new one takes its place.
    Replaced,
    /// The new one takes its place, and who may read it stays as it was.
    Changed,
}

impl Existing {
    /// As the flag `--overwrite` says.
    pub(crate) fn asked(overwrite: bool) -> Self {
        if overwrite { Existing::Replaced } else { Existing::KeptUnlessAsked }
    }
}

/// Why a file is not written.
#[derive(Debug, thiserror::Error)]
pub(crate) enum NewFileError {
    #[error("{} is there already: choose another name{}", path.display(), if *may { ", or add --overwrite to write over it" } else { "" })]
    There { path: PathBuf, may: bool },
    #[error("{} belongs to the record, and nothing is written over that: choose another name", .0.display())]
    Record(PathBuf),
    #[error("{} is not a plain file: choose another name", .0.display())]
    NotPlain(PathBuf),
    #[error("{} was changed by somebody else in the meantime, so nothing was written: look at it, then ask for your change again", .0.display())]
    ChangedMeanwhile(PathBuf),
    #[error("{} cannot be written: {source}", path.display())]
    Disk { path: PathBuf, source: io::Error },
}

impl From<NewFileError> for io::Error {
    fn from(error: NewFileError) -> Self {
        match error {
            NewFileError::Disk { source, .. } => source,
            other => io::Error::other(other),
        }
    }
}

/// A file that is being written. Without [`NewFile::finish`] it never was.
#[derive(Debug)]
pub(crate) struct NewFile {
    file: BufWriter<NamedTempFile>,
    to: PathBuf,
    existing: Existing,
}

impl NewFile {
    /// Begins a file that is to be called `to`. `record` is where the record lies, or would lie.
    pub(crate) fn begin(
        to: &Path,
        existing: Existing,
        record: Option<&Path>,
    ) -> Result<Self, NewFileError> {
        if record.is_some_and(|record| belongs_to_record(record, to)) {
            return Err(NewFileError::Record(to.to_owned()));
        }
        let disk = |source| NewFileError::Disk { path: to.to_owned(), source };
        let old = fs::metadata(to).ok();
        if old.as_ref().is_some_and(|old| !old.is_file()) {
            return Err(NewFileError::NotPlain(to.to_owned()));
        }
        if matches!(existing, Existing::Kept | Existing::KeptUnlessAsked)
            && fs::symlink_metadata(to).is_ok()
        {
            return Err(there(to, existing));
        }
        // Behind a link lies the file itself.
        let place = if old.is_some() { fs::canonicalize(to).map_err(disk)? } else { to.to_owned() };
        let file = tempfile::Builder::new()
            .prefix(".hushtally-")
            .tempfile_in(folder_of(&place))
            .map_err(disk)?;
        if let (Existing::Changed, Some(old)) = (existing, old) {
            file.as_file().set_permissions(old.permissions()).map_err(disk)?;
        }
        Ok(NewFile { file: BufWriter::new(file), to: place, existing })
    }

    /// Lets everybody read it who may read the folder: for what holds nothing of the user's.
    pub(crate) fn for_all(self) -> Result<Self, NewFileError> {
        #[cfg(unix)]
        {
            let mode = std::os::unix::fs::PermissionsExt::from_mode(0o644);
            let set = |mode: Permissions| self.file.get_ref().as_file().set_permissions(mode);
            set(mode).map_err(|source| NewFileError::Disk { path: self.to.clone(), source })?;
        }
        Ok(self)
    }

    /// Where it is while it is written, for a writer that wants a name.
    pub(crate) fn path(&self) -> &Path {
        self.file.get_ref().path()
    }

    /// Puts it on disk under its name.
    pub(crate) fn finish(self) -> Result<(), NewFileError> {
        let NewFile { file, to, existing } = self;
        let disk = |source| NewFileError::Disk { path: to.clone(), source };
        let file = file.into_inner().map_err(|error| disk(error.into_error()))?;
        file.as_file().sync_all().map_err(disk)?;
        let named = match existing {
            Existing::Kept | Existing::KeptUnlessAsked => file.persist_noclobber(&to),
            Existing::Replaced | Existing::Changed => file.persist(&to),
        };
        match named {
            Ok(_) => sync_folder(&folder_of(&to)).map_err(disk),
            Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => {
                Err(there(&to, existing))
            }
            Err(error) => Err(disk(error.error)),
        }
    }
}

impl Write for NewFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// Writes a whole file. See [`NewFile`].
pub(crate) fn write(
    to: &Path,
    bytes: &[u8],
    existing: Existing,
    record: Option<&Path>,
) -> Result<(), NewFileError> {
    let mut file = NewFile::begin(to, existing, record)?;
    let disk = |source| NewFileError::Disk { path: to.to_owned(), source };
    file.write_all(bytes).map_err(disk)?;
    file.finish()
}

/// Writes `after` in the place of a file that was read as `before`, if that is what it still holds. Of two of our own
/// programs that change one file the later one is told; it never undoes what the first wrote.
pub(crate) fn change(to: &Path, before: &[u8], after: &[u8]) -> Result<(), NewFileError> {
    let disk = |source| NewFileError::Disk { path: to.to_owned(), source };
    // Held until this one is written; whoever waits for it then finds another file under the name.
    let held = File::open(to).map_err(disk)?;
    held.lock().map_err(disk)?;
    if fs::read(to).map_err(disk)? != before {
        return Err(NewFileError::ChangedMeanwhile(to.to_owned()));
    }
    write(to, after, Existing::Changed, None)
}

fn there(path: &Path, existing: Existing) -> NewFileError {
    NewFileError::There { path: path.to_owned(), may: existing == Existing::KeptUnlessAsked }
}

/// Makes the disk keep the names in a folder.
fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}

#[cfg(test)]
#[cfg(unix)]
mod tests {
    use std::os::unix::fs::{PermissionsExt, symlink};

    use super::*;

    fn mode(path: &Path) -> u32 {
        fs::metadata(path).unwrap().permissions().mode() & 0o777
    }

    #[test]
    fn a_file_is_whole_private_and_over_nothing_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let to = folder.path().join("report.html");
        write(&to, b"first", Existing::asked(false), None).unwrap();
        assert_eq!((fs::read(&to).unwrap(), mode(&to)), (b"first".to_vec(), 0o600));
        let refused = write(&to, b"second", Existing::asked(false), None).unwrap_err().to_string();
        assert!(refused.contains("--overwrite"), "{refused}");
        let refused = write(&to, b"second", Existing::Kept, None).unwrap_err().to_string();
        assert!(refused.contains("there already") && !refused.contains("--overwrite"), "{refused}");
        assert_eq!(fs::read(&to).unwrap(), b"first");
        fs::set_permissions(&to, Permissions::from_mode(0o640)).unwrap();
        write(&to, b"third", Existing::Changed, None).unwrap();
        assert_eq!((fs::read(&to).unwrap(), mode(&to)), (b"third".to_vec(), 0o640));
        // Through a link, the file behind it; and what is given up leaves nothing behind.
        symlink(&to, folder.path().join("link")).unwrap();
        write(&folder.path().join("link"), b"fourth", Existing::asked(true), None).unwrap();
        assert_eq!((fs::read(&to).unwrap(), mode(&to)), (b"fourth".to_vec(), 0o600));
        drop(NewFile::begin(&folder.path().join("never"), Existing::Kept, None).unwrap());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }

    #[test]
    fn of_two_that_change_one_file_at_once_one_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let to = folder.path().join("plan.toml");
        fs::write(&to, "as it was").unwrap();
        let texts = ["first", "second", "third", "fourth"];
        let changed: Vec<Result<(), NewFileError>> = std::thread::scope(|scope| {
            let to = &to;
            let started =
                texts.map(|text| scope.spawn(move || change(to, b"as it was", text.as_bytes())));
            started.into_iter().map(|one| one.join().unwrap()).collect()
        });
        let done: Vec<usize> = (0..texts.len()).filter(|place| changed[*place].is_ok()).collect();
        assert_eq!(done.len(), 1, "{changed:?}");
        assert_eq!(fs::read_to_string(&to).unwrap(), texts[done[0]]);
        let told = changed.into_iter().find_map(Result::err).unwrap().to_string();
        assert!(told.contains("changed by somebody else") && told.contains("nothing was written"));
    }

    #[test]
    fn what_appears_meanwhile_is_kept_and_what_is_not_a_file_refused() {
        let folder = tempfile::tempdir().unwrap();
        let to = folder.path().join("new");
        let file = NewFile::begin(&to, Existing::Kept, None).unwrap();
        fs::write(&to, "somebody else's").unwrap();
        assert!(matches!(file.finish(), Err(NewFileError::There { .. })));
        assert_eq!(fs::read(&to).unwrap(), b"somebody else's");
        for path in [folder.path(), Path::new("/dev/null")] {
            let refused = write(path, b"x", Existing::Replaced, None);
            assert!(matches!(refused, Err(NewFileError::NotPlain(_))), "{refused:?}");
        }
    }
}
