//! Which files belong to a record: the database, what SQLite keeps beside it, our own copies, the marks of sessions
//! that go on, and what was learnt of voices.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What SQLite and this program put right behind the database's name.
const COMPANIONS: [&str; 6] = ["", "-wal", "-shm", "-journal", "-live", ".forgetting"];
/// Copies that this program puts beside the database; the rest of the name says of when.
const COPIES: [&str; 4] = [".before-format-", ".before-restore-", ".copying", ".restoring"];

/// Whether a file is, or would become, part of the record at `record`: by its name, however it is spelt, or because
/// it is the same file by a link.
pub(crate) fn belongs_to_record(record: &Path, asked: &Path) -> bool {
    let bases = [record.to_owned(), real(record)];
    let asked_names = [asked.to_owned(), real(asked)];
    let same_file = identity(asked);
    bases.iter().any(|base| {
        let own_folders = [suffixed(base, "-live"), folder_of(base).join("learnt")];
        asked_names.iter().any(|asked| {
            named_like(base, asked) && same_folder(&folder_of(base), &folder_of(asked))
                || own_folders.iter().any(|own| same_folder(own, &folder_of(asked)))
        }) || same_file.is_some() && own_files(base).iter().any(|own| identity(own) == same_file)
    })
}

/// Copies that this program itself has put beside the database, sorted.
pub(crate) fn copies(record: &Path) -> io::Result<Vec<PathBuf>> {
    let entries = fs::read_dir(folder_of(record))?;
    let is_copy = |path: &PathBuf| {
        behind(record, path).is_some_and(|rest| COPIES.iter().any(|copy| rest.starts_with(copy)))
    };
    let mut copies: Vec<PathBuf> =
        entries.flatten().map(|entry| entry.path()).filter(is_copy).collect();
    copies.sort();
    Ok(copies)
}

fn own_files(record: &Path) -> Vec<PathBuf> {
    let mut files = copies(record).unwrap_or_default();
    files.extend(COMPANIONS.map(|ending| suffixed(record, ending)));
    files
}

/// Whether the last part of a path is a name that the record uses. Small and capital letters count as the same: on
/// some file systems they are.
fn named_like(record: &Path, asked: &Path) -> bool {
    behind(record, asked).is_some_and(|rest| {
        COMPANIONS.contains(&rest.as_str()) || COPIES.iter().any(|copy| rest.starts_with(copy))
    })
}

/// What follows the record's name in the name of another file.
fn behind(record: &Path, asked: &Path) -> Option<String> {
    let name = |path: &Path| Some(path.file_name()?.to_string_lossy().to_lowercase());
    Some(name(asked)?.strip_prefix(&name(record)?)?.to_owned())
}

/// The file's name with something put behind it.
pub(crate) fn suffixed(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// The folder that a file lies in.
pub(crate) fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// The path without links, also of a file that is not there yet.
fn real(path: &Path) -> PathBuf {
    if let Ok(real) = fs::canonicalize(path) {
        return real;
    }
    // A link that leads nowhere yet: what is written to it would be made there.
    let path = match fs::read_link(path) {
        Ok(target) => folder_of(path).join(target),
        Err(_) => path.to_owned(),
    };
    match (fs::canonicalize(folder_of(&path)), path.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => path,
    }
}

fn same_folder(one: &Path, other: &Path) -> bool {
    let one = identity(one);
    one.is_some() && one == identity(other)
}

/// What makes two names the same file.
#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    let meta = fs::metadata(path).ok()?;
    Some((meta.dev(), meta.ino()))
}

#[cfg(not(unix))]
fn identity(path: &Path) -> Option<PathBuf> {
    fs::canonicalize(path).ok()
}

#[cfg(test)]
#[cfg(unix)]
mod tests {
    use std::os::unix::fs::symlink;

    use super::*;

    #[test]
    fn the_record_is_known_by_every_name() {
        let home = tempfile::tempdir().unwrap();
        let at = |name: &str| home.path().join(name);
        let record = at("record.db");
        fs::create_dir_all(at("learnt")).unwrap();
        fs::create_dir_all(at("record.db-live")).unwrap();
        for file in ["record.db", "record.db-wal", "record.db.before-format-3", "other.db"] {
            fs::write(at(file), file).unwrap();
        }
        fs::hard_link(&record, at("hard")).unwrap();
        fs::hard_link(at("record.db.before-format-3"), at("hard copy")).unwrap();
        symlink(&record, at("soft")).unwrap();
        symlink("record.db-shm", at("dangling")).unwrap();
        symlink(home.path(), at("way")).unwrap();
        let ours = [
            "record.db",
            "./record.db",
            "learnt/../record.db",
            "RECORD.DB-WAL",
            "record.db-wal",
            "record.db-shm",
            "record.db-journal",
            "record.db.before-restore-20260102T030405Z",
            "record.db.copying",
            "record.db-live/x",
            "learnt/anyone.json",
            "hard",
            "hard copy",
            "soft",
            "dangling",
            "way/record.db",
            "way/record.db-shm",
        ];
        for name in ours {
            assert!(belongs_to_record(&record, &at(name)), "{name}");
            assert!(belongs_to_record(&at("soft"), &at(name)), "{name}, the record by a link");
        }
        for name in ["other.db", "record.db.bak", "record.dbx", "report.html", "way/x", "none/x"] {
            assert!(!belongs_to_record(&record, &at(name)), "{name}");
        }
        assert_eq!(copies(&record).unwrap(), [at("record.db.before-format-3")]);
    }
}
