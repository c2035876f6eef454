//! Folders for nobody else's eyes.

use std::fs;
use std::io;
use std::path::Path;

/// Makes a folder, and those above it that are missing, for its owner alone; one that is there stays as it is.
pub(crate) fn create_folder(folder: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}
