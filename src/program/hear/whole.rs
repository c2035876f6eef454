//! Whether a model's folder is what it ought to be, before foreign code reads it.
//!
//! Of the models that `models/fetch` brings, every file is known by its SHA-256. They are summed up once; then size,
//! times and number of each file stand for its content, until one of them changes. Of other models the files that
//! their kind needs are looked for.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

use sha2::{Digest, Sha256};

use super::ModelError;
use crate::new_file::Existing;

/// `models/fetch` goes by the same list.
const SUMS: &str = include_str!("../../../models/checksums.sha256");
/// What every model needs; one with i-vectors needs these too.
const NEEDED: [&str; 6] = [
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/Gr.fst",
    "graph/HCLr.fst",
    "graph/disambig_tid.int",
];
const IVECTORS: [&str; 6] = [
    "ivector/final.ie",
    "ivector/final.dubm",
    "ivector/final.mat",
    "ivector/global_cmvn.stats",
    "ivector/online_cmvn.conf",
    "ivector/splice.conf",
];

/// Looks whether the model in `folder` is whole, and says which of those known to us it is. `seen` remembers known
/// models that were whole.
///
/// # Errors
/// [`ModelError`] says what is missing or damaged.
pub(super) fn check(folder: &Path, seen: &Path) -> Result<Option<&'static str>, ModelError> {
    if !folder.is_dir() {
        return Err(ModelError::Missing(folder.to_owned()));
    }
    match known(folder) {
        Some((name, by_name)) => check_sums(folder, name, by_name, seen).map(|()| Some(name)),
        None => check_files(folder).map(|()| None),
    }
}

/// The known model that this is, or says it is, and whether by its folder's name.
fn known(folder: &Path) -> Option<(&'static str, bool)> {
    let real = folder.canonicalize().ok()?;
    let own = real.file_name().and_then(|name| name.to_str()).unwrap_or_default();
    let name_of = |(_, file): (&str, &'static str)| file.strip_suffix("/uuid");
    let names: Vec<&str> = sums().filter_map(name_of).collect();
    if let Some(name) = names.iter().find(|name| **name == own) {
        return Some((name, true));
    }
    let sum = sum_of(&folder.join("uuid")).ok()?;
    let mut said = sums().filter(|(known, _)| *known == sum);
    said.find_map(name_of).map(|name| (name, false))
}

/// Sums and files of all known models, the files as "name/file".
fn sums() -> impl Iterator<Item = (&'static str, &'static str)> {
    SUMS.lines().filter_map(|line| {
        let (sum, file) = line.split_once("  models/")?;
        Some((sum, file))
    })
}

fn check_sums(folder: &Path, name: &str, by_name: bool, seen: &Path) -> Result<(), ModelError> {
    let damaged = |file: String| ModelError::Damaged { folder: folder.to_owned(), file, by_name };
    let unreadable = |file: &Path, source| ModelError::Unreadable { file: file.to_owned(), source };
    let found = files_in(folder).map_err(|source| unreadable(folder, source))?;
    let key = folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
    let stamp = stamp(&key, &found);
    if fs::read_to_string(seen).is_ok_and(|seen| seen.lines().any(|line| line == stamp)) {
        return Ok(());
    }
    let of_this = |(sum, file): (&'static str, &'static str)| {
        Some((file.strip_prefix(name)?.strip_prefix('/')?, sum))
    };
    let wanted: BTreeMap<&str, &str> = sums().filter_map(of_this).collect();
    if let Some(stranger) = found.keys().find(|file| !wanted.contains_key(file.as_str())) {
        return Err(damaged(format!("{stranger} (which does not belong to it)")));
    }
    for (file, sum) in wanted {
        let path = folder.join(file);
        match sum_of(&path) {
            Ok(found) if found == sum => {}
            Ok(_) => return Err(damaged(file.to_owned())),
            Err(source) if source.kind() == io::ErrorKind::NotFound => {
                return Err(ModelError::Broken {
                    folder: folder.to_owned(),
                    what: file.to_owned(),
                });
            }
            Err(source) => return Err(unreadable(&path, source)),
        }
    }
    remember(seen, &stamp);
    Ok(())
}

/// The library ends the whole program over a missing file.
fn check_files(folder: &Path) -> Result<(), ModelError> {
    let ivectors = folder.join("ivector").exists().then_some(IVECTORS);
    for file in NEEDED.into_iter().chain(ivectors.into_iter().flatten()) {
        if !fs::metadata(folder.join(file)).is_ok_and(|meta| meta.is_file() && meta.len() > 0) {
            return Err(ModelError::Broken { folder: folder.to_owned(), what: file.to_owned() });
        }
    }
    Ok(())
}

/// Every file below the folder but hidden ones, by its name from there.
pub(super) fn files_in(folder: &Path) -> io::Result<BTreeMap<String, fs::Metadata>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![(folder.to_owned(), String::new())];
    while let Some((folder, before)) = folders.pop() {
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            let name = entry.file_name().to_string_lossy().into_owned();
            if name.starts_with('.') {
                continue;
            }
            let meta = fs::metadata(entry.path())?;
            let name = format!("{before}{name}");
            if meta.is_dir() {
                // Links could lead round in a circle; a model is two folders deep.
                if before.matches('/').count() < 3 {
                    folders.push((entry.path(), name + "/"));
                }
            } else {
                found.insert(name, meta);
            }
        }
    }
    Ok(found)
}

/// One line for the state of a folder. The time of a file's last change of any kind cannot be set by a program, so
/// that another file with the same time of writing is seen too.
fn stamp(folder: &Path, files: &BTreeMap<String, fs::Metadata>) -> String {
    let mut sum = Sha256::new();
    sum.update(SUMS);
    sum.update(folder.as_os_str().as_encoded_bytes());
    for (name, meta) in files {
        let times = [meta.mtime(), meta.mtime_nsec(), meta.ctime(), meta.ctime_nsec()];
        sum.update(format!("\n{name} {} {} {} {times:?}", meta.len(), meta.dev(), meta.ino()));
    }
    hex(&sum.finalize())
}

/// Keeps a stamp among the latest few. Where it cannot be kept, sums are computed again the next time.
fn remember(seen: &Path, stamp: &str) {
    let before = fs::read_to_string(seen).unwrap_or_default();
    let lines = before.lines().filter(|line| line.len() == stamp.len());
    let kept: Vec<&str> = std::iter::once(stamp).chain(lines).take(8).collect();
    let text = kept.join("\n") + "\n";
    let write = || {
        crate::private::create_folder(seen.parent().unwrap_or(Path::new("")))?;
        crate::new_file::write(seen, text.as_bytes(), Existing::Replaced, None)?;
        Ok::<_, io::Error>(())
    };
    if let Err(error) = write() {
        tracing::debug!("{} cannot be written: {error}", seen.display());
    }
}

fn sum_of(file: &Path) -> io::Result<String> {
    // A pipe or a device would never end.
    if !fs::metadata(file)?.is_file() {
        return Err(io::Error::other("it is not a file"));
    }
    let mut file = io::BufReader::with_capacity(1 << 20, crate::given::open(file)?);
    let mut sum = Sha256::new();
    loop {
        let part = io::BufRead::fill_buf(&mut file)?;
        let length = part.len();
        if length == 0 {
            return Ok(hex(&sum.finalize()));
        }
        sum.update(part);
        io::BufRead::consume(&mut file, length);
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for (file, text) in files {
            let path = folder.path().join(file);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
        folder
    }

    fn said(result: Result<Option<&str>, ModelError>) -> String {
        result.unwrap_err().to_string()
    }

    #[test]
    fn a_model_of_ones_own_needs_what_its_kind_needs() {
        let needed: Vec<(&str, &str)> = NEEDED.map(|file| (file, "x")).to_vec();
        let seen = Path::new("/nonexistent/seen");
        assert!(check(folder(&needed).path(), seen).is_ok());
        for left_out in 0..needed.len() {
            let mut some = needed.clone();
            let (file, _) = some.remove(left_out);
            assert!(said(check(folder(&some).path(), seen)).contains(file), "{file}");
            some.push((file, ""));
            assert!(said(check(folder(&some).path(), seen)).contains(file), "{file} is empty");
        }
        let half = [needed, vec![("ivector/final.ie", "x")]].concat();
        assert!(said(check(folder(&half).path(), seen)).contains("ivector/final.dubm"));
    }

    #[test]
    fn what_remembers_takes_the_place_of_a_plain_file_alone() {
        use std::os::unix::fs::FileTypeExt;
        let outer = tempfile::tempdir().unwrap();
        let seen = outer.path().join("seen");
        remember(&seen, "one");
        remember(&seen, "two");
        assert_eq!(fs::read_to_string(&seen).unwrap(), "two\none\n");
        // As a device is: run by root, it would be gone for the whole computer.
        let device = outer.path().join("device");
        let _listener = std::os::unix::net::UnixListener::bind(&device).unwrap();
        remember(&device, "one");
        assert!(fs::metadata(&device).unwrap().file_type().is_socket());
    }

    #[test]
    fn a_known_model_is_known_by_its_name_or_by_what_it_says_it_is() {
        let outer = tempfile::tempdir().unwrap();
        let named = outer.path().join("en-us-small");
        fs::create_dir(&named).unwrap();
        assert_eq!(known(&named), Some(("en-us-small", true)));
        assert_eq!(known(folder(&[("uuid", "another")]).path()), None);
        let seen = outer.path().join("seen");
        assert!(said(check(&named, &seen)).contains("README is missing"), "none of its files");
        fs::write(named.join("README"), "not the one").unwrap();
        assert!(said(check(&named, &seen)).contains("README is not what it was made with"));
        fs::write(named.join("more.fst"), "x").unwrap();
        assert!(said(check(&named, &seen)).contains("more.fst (which does not belong to it)"));
        assert!(!seen.exists(), "what is damaged is not remembered");
    }

    #[test]
    fn a_stamp_changes_with_a_file_also_when_size_and_time_of_writing_do_not() {
        let model = folder(&[("am/final.mdl", "one")]);
        let file = model.path().join("am/final.mdl");
        let now = || stamp(model.path(), &files_in(model.path()).unwrap());
        let (before, written) = (now(), fs::metadata(&file).unwrap().modified().unwrap());
        assert_eq!(before, now());
        // The clock of the file system ticks a few hundred times a second.
        std::thread::sleep(std::time::Duration::from_millis(20));
        fs::write(&file, "two").unwrap();
        fs::File::options().write(true).open(&file).unwrap().set_modified(written).unwrap();
        assert_eq!(fs::metadata(&file).unwrap().modified().unwrap(), written);
        assert_ne!(before, now());
    }

    #[test]
    fn stamps_are_kept_for_their_owner_alone_and_the_latest_few() {
        let outer = tempfile::tempdir().unwrap();
        let seen = outer.path().join("new/seen");
        for number in 0..20 {
            remember(&seen, &format!("{number:064}"));
        }
        let kept = fs::read_to_string(&seen).unwrap();
        assert_eq!(kept.lines().count(), 8);
        assert_eq!(kept.lines().next(), Some(format!("{:064}", 19).as_str()));
        assert_eq!(fs::metadata(&seen).unwrap().mode() & 0o777, 0o600);
    }
}
