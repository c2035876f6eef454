//! Files that a person names: opened in one place, so that none can hold the program up or fill its memory.

use std::fs::{self, File, FileType};
use std::io::{self, Read};
use std::path::Path;

/// Opens a file for reading; only a file.
///
/// # Errors
/// It is not there or may not be read; or it is a folder ([`io::ErrorKind::IsADirectory`]), a pipe, a device or a socket
/// ([`io::ErrorKind::InvalidInput`]): from a pipe nothing may ever come, a device may never end.
pub(crate) fn open(path: &Path) -> io::Result<File> {
    // Looked at before it is opened, since to open a device may already do something.
    only_a_file(fs::metadata(path)?.file_type())?;
    let mut options = fs::OpenOptions::new();
    options.read(true);
    #[cfg(unix)]
    {
        // What was put in its place since then does not hold us up either.
        let wait_for_nobody = rustix::fs::OFlags::NONBLOCK.bits();
        if let Ok(flags) = i32::try_from(wait_for_nobody) {
            std::os::unix::fs::OpenOptionsExt::custom_flags(&mut options, flags);
        }
    }
    let file = options.open(path)?;
    only_a_file(file.metadata()?.file_type())?;
    Ok(file)
}

/// The whole text of a file that has at most this many bytes.
///
/// # Errors
/// As [`open`]; it has more, or is not text.
pub(crate) fn text(path: &Path, most: u64) -> io::Result<String> {
    let mut bytes = Vec::new();
    open(path)?.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        let mega = most >> 20;
        let error = format!("it has more than {mega} MB, far more than such a file needs");
        return Err(io::Error::new(io::ErrorKind::FileTooLarge, error));
    }
    String::from_utf8(bytes)
        .map_err(|_| io::Error::new(io::ErrorKind::InvalidData, "it is not text in UTF-8"))
}

/// Whether there is something at this path that is not a file.
pub(crate) fn is_no_file(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|meta| !meta.is_file())
}

fn only_a_file(kind: FileType) -> io::Result<()> {
    use io::ErrorKind::{InvalidInput, IsADirectory};
    if kind.is_file() {
        return Ok(());
    }
    if kind.is_dir() {
        return Err(io::Error::new(IsADirectory, "it is a folder, not a file"));
    }
    #[cfg(unix)]
    if std::os::unix::fs::FileTypeExt::is_fifo(&kind) {
        let error = "it is a pipe, not a file: put what comes out of it into a file first";
        return Err(io::Error::new(InvalidInput, error));
    }
    Err(io::Error::new(InvalidInput, "it is a device, not a file"))
}

#[cfg(test)]
mod tests {
    use std::process::Command;

    use super::*;

    #[test]
    fn only_files_are_opened_and_nothing_is_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let pipe = folder.path().join("pipe");
        assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        let named = |path: &Path| open(path).unwrap_err().to_string();
        assert!(named(folder.path()).contains("folder"));
        assert!(named(&pipe).contains("a pipe"));
        assert!(named(Path::new("/dev/zero")).contains("a device"));
        assert!(is_no_file(&pipe) && !is_no_file(&folder.path().join("none")));
        assert_eq!(open(&folder.path().join("none")).unwrap_err().kind(), io::ErrorKind::NotFound);
    }

    #[test]
    fn text_is_read_whole_or_refused() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("text");
        fs::write(&file, "x".repeat(1 << 20)).unwrap();
        assert_eq!(text(&file, 1 << 20).unwrap().len(), 1 << 20);
        assert!(text(&file, (1 << 20) - 1).unwrap_err().to_string().contains("more than"));
        fs::write(&file, b"\xff\xfe").unwrap();
        assert!(text(&file, 9).unwrap_err().to_string().contains("UTF-8"));
    }
}
