//! Who is at a session right now. A lock on a small file, which the operating system lets go of however
//! the program ends: so an unfinished session is told apart from one that another program is in.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};

use super::open::{beside, create_private};
use super::{SessionId, Store, StoreError};
use crate::private::create_folder;

impl Store {
    /// Claims an unfinished session, to go on with it. Sessions begun here are claimed by themselves, and
    /// let go of by [`Store::finish`] or when the store is closed.
    ///
    /// # Errors
    /// Another program is in the session.
    pub fn take_up(&self, session: SessionId) -> Result<(), StoreError> {
        if self.held.borrow().contains_key(&session) {
            return Ok(());
        }
        let path = self.claim(session);
        let file = (|| {
            create_folder(&beside(&self.path, "-live"))?;
            match create_private(&path) {
                Err(e) if e.kind() != std::io::ErrorKind::AlreadyExists => return Err(e),
                _ => {}
            }
            OpenOptions::new().write(true).open(&path)
        })()
        .map_err(|source| StoreError::Files {
            doing: "make",
            path: path.clone(),
            source,
        })?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(StoreError::InUse(session)),
            Err(TryLockError::Error(source)) => {
                return Err(StoreError::Files { doing: "lock", path, source });
            }
        }
        self.held.borrow_mut().insert(session, file);
        Ok(())
    }

    /// Lets go of a session.
    pub(super) fn let_go(&self, session: SessionId) {
        if let Some(file) = self.held.borrow_mut().remove(&session) {
            // Removed while still locked, so that nobody locks a file that is about to vanish.
            let _ = std::fs::remove_file(self.claim(session));
            drop(file);
        }
    }

    /// Whether a program, this one or another, is in the session.
    pub(super) fn is_held(&self, session: SessionId) -> bool {
        is_locked(&self.claim(session))
    }

    fn claim(&self, session: SessionId) -> PathBuf {
        beside(&self.path, "-live").join(session.to_string())
    }
}

/// Whether a program is in any session of the database at `path`.
pub(super) fn anyone_in(path: &Path) -> bool {
    let folder = beside(path, "-live").read_dir();
    folder.is_ok_and(|files| files.flatten().any(|file| is_locked(&file.path())))
}

fn is_locked(path: &Path) -> bool {
    let Ok(file) = File::open(path) else { return false };
    matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock))
}

impl Drop for Store {
    fn drop(&mut self) {
        let held: Vec<SessionId> = self.held.borrow().keys().copied().collect();
        for session in held {
            self.let_go(session);
        }
        // Only empty when nobody else is in a session.
        let _ = std::fs::remove_dir(beside(&self.path, "-live"));
    }
}
