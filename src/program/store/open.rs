//! Opening the database: made when missing, checked, copied before an upgrade, refused with words.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior, ffi};
use rusqlite_migration::{M, Migrations};

use super::hold::Hold;
use super::{SessionId, StoreError};
use crate::own_files::folder_of;
pub(super) use crate::own_files::suffixed as beside;
use crate::private::{PassingFolder, create_folder};

const MIGRATIONS: [M<'static>; 12] = [
    M::up(include_str!("migrations/0001-log.sql")),
    M::up(include_str!("migrations/0002-projections.sql")),
    M::up(include_str!("migrations/0003-catch-up.sql")),
    M::up(include_str!("migrations/0004-owner.sql")),
    M::up(include_str!("migrations/0005-planned.sql")),
    M::up(include_str!("migrations/0006-told.sql")),
    M::up(include_str!("migrations/0007-declining.sql")),
    M::up(include_str!("migrations/0008-details.sql")),
    M::up(include_str!("migrations/0009-named.sql")),
    M::up(include_str!("migrations/0010-declined.sql")),
    M::up(include_str!("migrations/0011-sitting.sql")),
    M::up(include_str!("migrations/0012-links.sql")),
];
/// Marks the file as ours; set by the first migration.
const APPLICATION_ID: i64 = 0x4875_5461;
/// Bytes up to which the whole file is checked at every start: a tenth of a second.
const CHECKED_WHOLE: i64 = 16 << 20;
/// How long to wait for another program to finish writing.
const PATIENCE: Duration = Duration::from_secs(5);

/// An open database. See the [module](super).
#[derive(Debug)]
pub struct Store {
    pub(super) conn: Connection,
    pub(super) path: PathBuf,
    pub(super) read_only: bool,
    /// Sessions that this program is in.
    pub(super) held: RefCell<BTreeMap<SessionId, Hold>>,
    /// Where the copy lies that is looked at in place of the file; it goes after the connection.
    _copy: Option<PassingFolder>,
}

impl Store {
    /// Opens the database for reading and writing, and makes it (file for the owner only, in a folder
    /// for the owner only) when it is missing. Checks it, takes rights away from others, and brings it to the
    /// present format after putting a copy beside it.
    ///
    /// # Errors
    /// The folder or file cannot be made, is not ours, is damaged, or is of a newer format. What is not ours
    /// is left as it is.
    pub fn open(path: &Path) -> Result<Store, StoreError> {
        only_a_file(path)?;
        make_private(path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(path, flags).map_err(|e| at_open(path, e))?;
        let mut store = Store {
            conn,
            path: path.to_owned(),
            read_only: false,
            held: RefCell::default(),
            _copy: None,
        };
        store.settle().map_err(|e| in_file(path, e))?;
        Ok(store)
    }

    /// Opens an existing database for reading and writing; where the disk, the folder or the file cannot be
    /// written, for views only.
    ///
    /// # Errors
    /// The file is missing, is empty, is not ours, is damaged, or is of a newer format. It is left as it is.
    pub fn open_existing(path: &Path) -> Result<Store, StoreError> {
        Store::open_any_format(path)?;
        match Store::open(path) {
            Err(error @ (StoreError::ReadOnly(_) | StoreError::CannotOpen { .. })) => {
                Store::open_read_only(path).map_err(|_| error)
            }
            opened => opened,
        }
    }

    /// Opens an existing database to look at it. Nothing is written to it, unless it is of an older format and
    /// must be brought up to date first.
    ///
    /// # Errors
    /// As [`Store::open_existing`].
    pub fn open_to_look(path: &Path) -> Result<Store, StoreError> {
        match Store::open_read_only(path) {
            Err(StoreError::Older { .. }) => Store::open(path),
            opened => opened,
        }
    }

    /// Opens an existing database for views only; nothing is written to it, also no upgrade.
    ///
    /// # Errors
    /// The file is missing, is empty, is not ours, or is of another format than this program's.
    pub fn open_read_only(path: &Path) -> Result<Store, StoreError> {
        let store = Store::open_any_format(path)?;
        let found = store.check_ours().map_err(|e| in_file(path, e))?;
        if found < known() {
            return Err(StoreError::Older { path: path.to_owned(), found });
        }
        Ok(store)
    }

    /// The same, also of an older format.
    pub(super) fn open_any_format(path: &Path) -> Result<Store, StoreError> {
        only_a_file(path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let open = |path: &Path, flags| {
            Connection::open_with_flags(path, flags).map_err(|e| at_open(path, e))
        };
        let mut conn = open(path, flags)?;
        conn.busy_timeout(PATIENCE)?;
        let look = |conn: &Connection| {
            conn.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))
        };
        let mut passing = None;
        if look(&conn).is_err_and(|e| cannot_write(&e)) {
            if has_log(path) {
                // A log can only be read with a file of one's own beside it: that may stand beside a copy.
                let (folder, copy) = copied(path)?;
                conn = open(&copy, flags)?;
                passing = Some(folder);
            } else {
                // On a disk that cannot be written, SQLite needs to be told that nobody else writes.
                conn = open(&fixed(path), flags | OpenFlags::SQLITE_OPEN_URI)?;
            }
        }
        let (path, held) = (path.to_owned(), RefCell::default());
        let store = Store { conn, path, read_only: true, held, _copy: passing };
        match store.check_ours().map_err(|e| in_file(&store.path, e))? {
            // Ours is only empty while it is being made.
            0 => Err(StoreError::Empty { path: store.path.clone() }),
            _ => Ok(store),
        }
    }

    /// Where the database is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// A transaction that holds the right to write from its start, so that it cannot fail half-way
    /// because somebody else wrote in between.
    pub(super) fn write(&self) -> Result<Transaction<'_>, StoreError> {
        Ok(Transaction::new_unchecked(&self.conn, TransactionBehavior::Immediate)?)
    }

    fn settle(&mut self) -> Result<(), StoreError> {
        self.conn.busy_timeout(PATIENCE)?;
        if self.conn.is_readonly("main")? {
            return Err(StoreError::ReadOnly(failure(ffi::SQLITE_READONLY)));
        }
        let version = self.check_ours()?;
        // Nobody reads it by accident. Where the rights are not ours to change, they stay as they are.
        for ending in ["", "-wal", "-shm"] {
            let _ = restrict(&beside(&self.path, ending));
        }
        self.conn.pragma_update(None, "trusted_schema", false)?;
        self.conn.pragma_update(None, "cell_size_check", true)?;
        self.conn.pragma_update(None, "secure_delete", true)?;
        let mode: String =
            self.conn.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))?;
        if mode != "wal" {
            return Err(StoreError::Refused(format!(
                "{} lies on a file system that cannot keep a write-ahead log: choose a local disk",
                self.path.display()
            )));
        }
        self.conn.pragma_update(None, "synchronous", "FULL")?;
        self.conn.pragma_update(None, "foreign_keys", true)?;
        self.quick_check()?;
        if version < known() {
            self.upgrade(version)?;
        }
        Ok(())
    }

    /// The format of the file; zero for an empty one.
    fn check_ours(&self) -> Result<i64, StoreError> {
        let number =
            |pragma: &str| self.conn.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
        let pages = number("page_count")?;
        if pages == 0 {
            return Ok(0);
        }
        let things: i64 =
            self.conn.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        let (whose, found) = (number("application_id")?, number("user_version")?);
        // One that is only just being made has no mark yet, and nothing else.
        let begun = whose == 0 && things == 0 && found == 0;
        if whose != APPLICATION_ID && !begun {
            return Err(StoreError::NotOurs { path: self.path.clone() });
        }
        if found > known() {
            return Err(StoreError::Newer { path: self.path.clone(), found, known: known() });
        }
        Ok(found)
    }

    /// The whole of a file of usual size; of a large one the tables that everything hangs on, since the
    /// trainer is waiting. The rest is for [`Store::verify`].
    fn quick_check(&self) -> Result<(), StoreError> {
        let number =
            |pragma: &str| self.conn.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
        let large = number("page_count")? * number("page_size")? > CHECKED_WHOLE;
        let tables =
            ["animal", "animal_name", "plan_version", "session", "session_summary", "stale"];
        let checks: Vec<String> = if large {
            tables.map(|table| format!("PRAGMA quick_check('{table}')")).to_vec()
        } else {
            vec!["PRAGMA quick_check(1)".into()]
        };
        for check in checks {
            let said: String = self.conn.query_row(&check, [], |row| row.get(0))?;
            if said != "ok" {
                return Err(StoreError::Damaged { path: self.path.clone(), detail: said });
            }
        }
        Ok(())
    }

    fn upgrade(&mut self, from: i64) -> Result<(), StoreError> {
        if from > 0 {
            self.copy_before_upgrade(known())?;
        }
        let steps = MIGRATIONS;
        let migrations = Migrations::from_slice(&steps);
        let mut tries = 0;
        loop {
            match migrations.to_latest(&mut self.conn) {
                Ok(()) => return Ok(()),
                // Another program may be doing the same upgrade at this moment.
                Err(_) if self.check_ours()? == known() => return Ok(()),
                Err(rusqlite_migration::Error::RusqliteError { err, .. })
                    if tries < 3 && is_busy(&err) =>
                {
                    tries += 1;
                }
                Err(rusqlite_migration::Error::RusqliteError { err, .. })
                    if !matches!(StoreError::from(clone_code(&err)), StoreError::Sqlite(_)) =>
                {
                    return Err(err.into());
                }
                Err(error) => return Err(StoreError::Upgrade { detail: error.to_string() }),
            }
        }
    }
}

/// The latest format that this program knows.
fn known() -> i64 {
    MIGRATIONS.len() as i64
}

fn cannot_write(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied)
    )
}

fn is_busy(error: &rusqlite::Error) -> bool {
    matches!(error.sqlite_error_code(), Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked))
}

fn failure(code: i32) -> rusqlite::Error {
    rusqlite::Error::SqliteFailure(ffi::Error::new(code), None)
}

/// The same failure without its text, to look at its class.
pub(super) fn clone_code(error: &rusqlite::Error) -> rusqlite::Error {
    match error.sqlite_error() {
        Some(code) => rusqlite::Error::SqliteFailure(*code, None),
        None => rusqlite::Error::InvalidQuery,
    }
}

fn at_open(path: &Path, error: rusqlite::Error) -> StoreError {
    match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => StoreError::NotOurs { path: path.to_owned() },
        _ => StoreError::CannotOpen { path: path.to_owned(), source: error },
    }
}

/// Names the file where SQLite only gives a code.
fn in_file(path: &Path, error: StoreError) -> StoreError {
    let StoreError::Sqlite(source) = error else { return error };
    let path = path.to_owned();
    match source.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => StoreError::NotOurs { path },
        Some(ErrorCode::DatabaseCorrupt) => {
            StoreError::Damaged { path, detail: source.to_string() }
        }
        Some(ErrorCode::CannotOpen) => StoreError::CannotOpen { path, source },
        _ => StoreError::Sqlite(source),
    }
}

fn has_log(path: &Path) -> bool {
    fs::metadata(beside(path, "-wal")).is_ok_and(|log| log.len() > 0)
}

/// A private copy of the file and its log, to look at; gone with the folder.
fn copied(path: &Path) -> Result<(PassingFolder, PathBuf), StoreError> {
    let files = |source| StoreError::Files { doing: "copy", path: path.to_owned(), source };
    let folder = PassingFolder::new("record").map_err(files)?;
    let copy = folder.path().join("record.db");
    for ending in ["", "-wal"] {
        fs::copy(beside(path, ending), beside(&copy, ending)).map_err(files)?;
    }
    Ok((folder, copy))
}

/// The file as an address that says that nobody changes it.
fn fixed(path: &Path) -> PathBuf {
    let text = path.to_string_lossy();
    let text = text.replace('%', "%25").replace('?', "%3f").replace('#', "%23");
    format!("file:{text}?immutable=1").into()
}

/// Refuses what could hold us up, or is written to as a whole.
fn only_a_file(path: &Path) -> Result<(), StoreError> {
    if crate::given::is_no_file(path) {
        return Err(StoreError::NotOurs { path: path.to_owned() });
    }
    Ok(())
}

/// Makes folder and file for the owner alone when they are missing.
fn make_private(path: &Path) -> Result<(), StoreError> {
    let files =
        |doing, path: &Path, source| StoreError::Files { doing, path: path.to_owned(), source };
    make_folder(path)?;
    match create_private(path) {
        Ok(()) => sync_folder(path),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => Ok(()),
        Err(e) => Err(files("make", path, e)),
    }
}

/// Makes the folder that the file is to lie in; those that were missing, the outer one first.
pub(super) fn make_folder(path: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let folder = folder_of(path);
    let missing = folder.ancestors().take_while(|folder| !folder.exists());
    let mut made: Vec<PathBuf> =
        missing.filter(|folder| !folder.as_os_str().is_empty()).map(Path::to_owned).collect();
    made.reverse();
    if !made.is_empty() {
        create_folder(&folder).map_err(|source| StoreError::Files {
            doing: "make the folder",
            path: folder,
            source,
        })?;
    }
    Ok(made)
}

/// Makes an empty file that only its owner may read and write; an error when there is one.
pub(super) fn create_private(path: &Path) -> io::Result<()> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)?.sync_all()
}

#[cfg(unix)]
fn restrict(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let meta = fs::metadata(path)?;
    if meta.permissions().mode() & 0o077 == 0 || !meta.is_file() {
        return Ok(());
    }
    fs::set_permissions(path, fs::Permissions::from_mode(0o600))
}

#[cfg(not(unix))]
fn restrict(_path: &Path) -> io::Result<()> {
    Ok(())
}

pub(super) fn remove_if_there(path: &Path) -> Result<(), StoreError> {
    match fs::remove_file(path) {
        Err(source) if source.kind() != io::ErrorKind::NotFound => {
            Err(StoreError::Files { doing: "remove", path: path.to_owned(), source })
        }
        _ => Ok(()),
    }
}

/// Makes the disk keep a file's content.
pub(super) fn sync(path: &Path) -> Result<(), StoreError> {
    fs::File::open(path).and_then(|file| file.sync_all()).map_err(|source| StoreError::Files {
        doing: "write",
        path: path.to_owned(),
        source,
    })
}

/// Makes the disk keep a file's name.
pub(super) fn sync_folder(path: &Path) -> Result<(), StoreError> {
    if cfg!(unix) { sync(&folder_of(path)) } else { Ok(()) }
}
