//! Whose session it is. Two things together, since each alone has a hole:
//!
//! - A lock on a small file beside the record, which the operating system lets go of however the program ends. It
//!   tells an unfinished session that nobody is in from one that a program is in. But such a file can be deleted,
//!   and some file systems know no locks.
//! - The turn in the record itself, counted on by whoever takes the session up and looked at in the transaction of
//!   every event. A program that was passed over is refused there, whatever became of its lock.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension};

use super::open::beside;
use super::session::no;
use super::{SessionId, Store, StoreError};
use crate::private::create_folder;

/// Whoever looks whether a session is held has its lock for a moment, so a lock is tried for a few times.
const TRIES: u32 = 6;
const PAUSE: Duration = Duration::from_millis(8);

/// A session that this program is in.
#[derive(Debug)]
pub(super) struct Hold {
    /// Without one (a file system that knows no locks) the turn alone decides.
    _lock: Option<Lock>,
    turn: i64,
}

impl Store {
    /// Makes a session this program's own, before anything of it is read that is to be gone on with. Sessions begun
    /// here are so from the start. It is let go of by [`Store::finish`] or [`Store::let_go`], when the store is
    /// closed, and by the end of the program however it comes.
    ///
    /// # Errors
    /// Another program is in the session, it has ended, or it cannot be told whether somebody is in it.
    pub fn take_up(&self, session: SessionId) -> Result<(), StoreError> {
        self.claim(session)?;
        match ended(&self.conn, no(&self.conn, session)?) {
            Ok(false) => Ok(()),
            wrong => {
                self.let_go(session);
                wrong.and(Err(StoreError::Ended(session)))
            }
        }
    }

    /// The same, also of a session that has ended: its events may be written once more.
    pub(super) fn claim(&self, session: SessionId) -> Result<(), StoreError> {
        if self.held.borrow().contains_key(&session) {
            return Ok(());
        }
        let lock = self.lock(session)?;
        let tx = self.write()?;
        let turn = next_turn(&tx, no(&tx, session)?)?;
        tx.commit()?;
        self.hold(session, Some(lock), turn);
        Ok(())
    }

    /// Lets go of a session, so that another program may go on with it.
    pub fn let_go(&self, session: SessionId) {
        self.held.borrow_mut().remove(&session);
    }

    /// The lock of a session; an error when another program has it, or when there can be none.
    pub(super) fn lock(&self, session: SessionId) -> Result<Lock, StoreError> {
        Lock::take(&live_folder(&self.path), session)
    }

    pub(super) fn hold(&self, session: SessionId, lock: Option<Lock>, turn: i64) {
        self.held.borrow_mut().insert(session, Hold { _lock: lock, turn });
    }

    /// Refuses to write to session `no` when another program has taken it up since. To be asked in the transaction
    /// that writes.
    pub(super) fn still_ours(
        &self,
        conn: &Connection,
        no: i64,
        session: SessionId,
    ) -> Result<(), StoreError> {
        let mut statement = conn.prepare_cached("SELECT turn FROM owner WHERE session = ?1")?;
        let turn: Option<i64> = statement.query_row([no], |row| row.get(0)).optional()?;
        let ours = self.held.borrow().get(&session).map(|hold| hold.turn);
        if turn == ours { Ok(()) } else { Err(StoreError::TakenOver(session)) }
    }

    /// Whether a program, this one or another, is in the session. Where that cannot be told, it counts as so.
    pub(super) fn is_held(&self, session: SessionId) -> bool {
        is_locked(&live_folder(&self.path).join(session.to_string()))
    }
}

/// Counts the turn of session `no` on; the new one.
pub(super) fn next_turn(conn: &Connection, no: i64) -> Result<i64, StoreError> {
    let mut statement = conn.prepare_cached(
        "INSERT INTO owner (session, turn) VALUES (?1, 1)
         ON CONFLICT DO UPDATE SET turn = turn + 1 RETURNING turn",
    )?;
    Ok(statement.query_row([no], |row| row.get(0))?)
}

/// Whether session `no` has an end.
pub(super) fn ended(conn: &Connection, no: i64) -> Result<bool, StoreError> {
    let mut statement = conn.prepare_cached(
        "SELECT 1 FROM event INDEXED BY event_finished WHERE session = ?1 AND kind = 'finished'",
    )?;
    Ok(statement.exists([no])?)
}

/// Waits until no other program makes a copy beside the database, since the name of a copy that is not whole yet is always
/// the same. Others wait until the file is dropped. The folder itself is locked, so nothing is left behind; on a file
/// system that knows no locks there is nothing to wait for.
pub(super) fn one_at_a_time(path: &Path) -> Option<File> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = File::open(folder.unwrap_or(Path::new("."))).ok()?;
    folder.lock().is_ok().then_some(folder)
}

/// Whether a program is in any session of the database at `path`.
pub(super) fn anyone_in(path: &Path) -> bool {
    let folder = live_folder(path).read_dir();
    folder.is_ok_and(|files| files.flatten().any(|file| is_locked(&file.path())))
}

fn live_folder(path: &Path) -> PathBuf {
    beside(path, "-live")
}

fn is_locked(path: &Path) -> bool {
    match File::open(path) {
        Ok(file) => matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock)),
        Err(error) => error.kind() != io::ErrorKind::NotFound,
    }
}

/// A locked file; it goes away with its lock.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
    path: PathBuf,
}

impl Lock {
    fn take(folder: &Path, session: SessionId) -> Result<Lock, StoreError> {
        let path = folder.join(session.to_string());
        let files = |doing, source| StoreError::Files { doing, path: path.clone(), source };
        let mut trouble = StoreError::InUse(session);
        for _ in 0..TRIES {
            create_folder(folder).map_err(|source| files("make", source))?;
            let file = match open_private(&path) {
                Ok(file) => file,
                // The last one out has just removed the folder.
                Err(error) if error.kind() == io::ErrorKind::NotFound => {
                    trouble = files("make", error);
                    continue;
                }
                Err(source) => return Err(files("make", source)),
            };
            match file.try_lock() {
                // Not that of a file which its owner has just removed.
                Ok(()) if is_at(&file, &path) => return Ok(Lock { _file: file, path }),
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => {
                    trouble = StoreError::InUse(session);
                    thread::sleep(PAUSE);
                }
                Err(TryLockError::Error(source)) => return Err(files("lock", source)),
            }
        }
        Err(trouble)
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // While it is still locked, so that nobody locks a file that is about to vanish without seeing that it did.
        let _ = fs::remove_file(&self.path);
    }
}

fn open_private(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

/// Whether this open file is the one that the path names.
#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let (Ok(open), Ok(named)) = (file.metadata(), fs::metadata(path)) else { return false };
    (open.dev(), open.ino()) == (named.dev(), named.ino())
}

#[cfg(not(unix))]
fn is_at(_: &File, path: &Path) -> bool {
    path.exists()
}

impl Drop for Store {
    fn drop(&mut self) {
        self.held.borrow_mut().clear();
        // Only empty when nobody else is in a session.
        let _ = fs::remove_dir(live_folder(&self.path));
    }
}
