//! The one connection: how the file is made, opened, brought up to date, and how entries go in.

use super::error::LedgerError;
use super::records::Stamp;
use super::statements::{self as sql, APPLICATION_ID, MIGRATIONS};
use crate::units::Length;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior, params};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a process waits for another: a transaction takes milliseconds, a slow share seconds.
const WAIT: Duration = Duration::from_secs(30);

/// An open ledger.
#[derive(Debug)]
pub struct Ledger {
    pub(super) connection: Connection,
    path: PathBuf,
}

impl Ledger {
    /// Opens a ledger; none where there is no such file.
    ///
    /// # Errors
    /// Where the file cannot be used, is damaged, or is of a later version. It is left as it is then.
    pub fn open(path: &Path) -> Result<Option<Self>, LedgerError> {
        match path.try_exists() {
            Ok(false) => Ok(None),
            Ok(true) => Self::connect(path, MIGRATIONS.len()).map(Some),
            Err(source) => Err(LedgerError::Unusable { path: path.to_owned(), source: source.into() }),
        }
    }

    /// Opens a ledger, and makes it where there is none.
    ///
    /// # Errors
    /// As [`Self::open`]; also where the file cannot be made.
    pub fn open_or_create(path: &Path) -> Result<Self, LedgerError> {
        if let Some(ledger) = Self::open(path)? {
            return Ok(ledger);
        }
        create(path, MIGRATIONS.len())?;
        Self::connect(path, MIGRATIONS.len())
    }

    /// Where it lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    fn connect(path: &Path, version: usize) -> Result<Self, LedgerError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags).map_err(|e| failed(path, e))?;
        let mut ledger = Self { connection, path: path.to_owned() };
        ledger.set_up().map_err(|e| failed(path, e))?;
        ledger.check_mark()?;
        ledger.check_pages()?;
        ledger.migrate(version)?;
        Ok(ledger)
    }

    fn set_up(&self) -> rusqlite::Result<()> {
        let c = &self.connection;
        c.busy_timeout(WAIT)?;
        c.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
        c.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
        c.pragma_update(None, "foreign_keys", true)?;
        c.pragma_update(None, "synchronous", "FULL")?;
        c.pragma_update(None, "cell_size_check", true)
    }

    fn number(&self, pragma: &str) -> Result<i64, LedgerError> {
        self.connection.pragma_query_value(None, pragma, |row| row.get(0)).map_err(|e| self.failed(e))
    }

    /// A database of another program is no ledger.
    fn check_mark(&self) -> Result<(), LedgerError> {
        if self.number("application_id")? == APPLICATION_ID {
            return Ok(());
        }
        Err(self.damaged("it does not bear the mark of a ledger"))
    }

    /// Damage to a page is found before anything is read from it: a sum over a damaged table would be a wrong allowance.
    fn check_pages(&self) -> Result<(), LedgerError> {
        let found: String = self
            .connection
            .pragma_query_value(None, "quick_check", |row| row.get(0))
            .map_err(|e| self.failed(e))?;
        if found == "ok" { Ok(()) } else { Err(self.damaged(found)) }
    }

    /// Brings the tables up to date, all steps or none.
    fn migrate(&mut self, to: usize) -> Result<(), LedgerError> {
        let known = i64::try_from(to).unwrap_or(i64::MAX);
        let found = self.number("user_version")?;
        if found == known {
            return Ok(());
        }
        if !(1..=known).contains(&found) {
            return Err(LedgerError::Newer { path: self.path.clone(), version: found, known });
        }
        self.write(|transaction, _| {
            // Another process may have been faster.
            let found: i64 = transaction.pragma_query_value(None, "user_version", |row| row.get(0))?;
            let done = usize::try_from(found).unwrap_or(usize::MAX);
            for step in MIGRATIONS.iter().take(to).skip(done) {
                transaction.execute_batch(step)?;
            }
            transaction.pragma_update(None, "user_version", known)?;
            Ok(Ok(()))
        })
    }

    /// Runs a transaction that nobody else's can come between. What it returns is on the disk.
    ///
    /// The inner result is a refusal of the ledger's own; nothing is stored then.
    pub(super) fn write<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>, &Path) -> rusqlite::Result<Result<T, LedgerError>>,
    ) -> Result<T, LedgerError> {
        let Self { connection, path } = self;
        let stored = || -> rusqlite::Result<Result<T, LedgerError>> {
            let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let done = work(&transaction, path)?;
            // Dropped without a commit, it is rolled back.
            if done.is_ok() {
                transaction.commit()?;
            }
            Ok(done)
        };
        stored().map_err(|e| failed(path, e))?
    }

    /// Reads several things as they stand at one moment.
    pub(super) fn read<T>(
        &self,
        work: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, LedgerError> {
        let read = || {
            let transaction = self.connection.unchecked_transaction()?;
            work(&transaction)
        };
        read().map_err(|e| self.failed(e))
    }

    pub(super) fn failed(&self, source: rusqlite::Error) -> LedgerError {
        failed(&self.path, source)
    }

    pub(super) fn damaged(&self, what: impl Into<String>) -> LedgerError {
        LedgerError::Damaged { path: self.path.clone(), what: what.into() }
    }
}

/// A new entry: its number.
pub(super) fn enter(transaction: &Transaction<'_>, stamp: &Stamp) -> rusqlite::Result<i64> {
    transaction.execute(sql::ENTER, params![stamp.at.as_str(), stamp.by])?;
    Ok(transaction.last_insert_rowid())
}

/// A depth as it is kept: whole nanometres.
pub(super) fn nm(length: Length) -> i64 {
    /// Nanometres in a millimetre.
    const NM: f64 = 1e6;
    #[allow(
        clippy::cast_possible_truncation,
        reason = "a cast from a float saturates, and no wheel is that deep"
    )]
    let whole = (length.as_mm() * NM).round() as i64;
    whole
}

/// A depth as it was kept.
pub(super) fn length(nm: i64) -> Length {
    Length::mm(nm as f64 / 1e6)
}

/// Makes a ledger beside its place and gives it its name when it is whole. Where another process was faster, its ledger stays.
fn create(path: &Path, version: usize) -> Result<(), LedgerError> {
    let unusable =
        |source: std::io::Error| LedgerError::Unusable { path: path.to_owned(), source: source.into() };
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let beside = builder.tempfile_in(folder).map_err(unusable)?.into_temp_path();
    let made = || -> rusqlite::Result<()> {
        let connection = Connection::open(&beside)?;
        connection.pragma_update(None, "journal_mode", "WAL")?;
        connection.pragma_update(None, "synchronous", "FULL")?;
        let transaction = connection.unchecked_transaction()?;
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        for step in MIGRATIONS.iter().take(version) {
            transaction.execute_batch(step)?;
        }
        transaction.pragma_update(None, "user_version", i64::try_from(version).unwrap_or(i64::MAX))?;
        transaction.commit()?;
        // Closing brings all of the log into the file and takes the log away.
        connection.close().map_err(|(_, e)| e)
    };
    made().map_err(|e| failed(path, e))?;
    std::fs::File::open(&beside).and_then(|f| f.sync_all()).map_err(unusable)?;
    match beside.persist_noclobber(path) {
        Err(e) if e.error.kind() != std::io::ErrorKind::AlreadyExists => return Err(unusable(e.error)),
        _ => {}
    }
    // The name itself is on disk only once its folder is.
    #[cfg(unix)]
    std::fs::File::open(folder).and_then(|f| f.sync_all()).map_err(unusable)?;
    Ok(())
}

fn failed(path: &Path, source: rusqlite::Error) -> LedgerError {
    let path = path.to_owned();
    match source.sqlite_error_code() {
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt) => {
            LedgerError::Damaged { path, what: source.to_string() }
        }
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => LedgerError::Held { path },
        _ => LedgerError::Unusable { path, source: source.into() },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ledger of the first version holds no edges; opened today it does, and keeps what it held.
    #[test]
    fn an_old_ledger_is_brought_up_to_date() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wheels.db");
        create(&path, 1).unwrap();
        {
            let mut old = Ledger::connect(&path, 1).unwrap();
            let stamp = Stamp { at: super::super::Moment::from_unix(0), by: "A".into() };
            old.write(|t, _| {
                let id = enter(t, &stamp)?;
                t.execute(sql::ADD_WHEEL, params![id, "7", "kept"])?;
                Ok(Ok(()))
            })
            .unwrap();
            assert!(old.connection.prepare(sql::EDGES_OF_TOOL).is_err(), "no edges yet");
        }
        let today = Ledger::open(&path).unwrap().unwrap();
        assert_eq!(today.number("user_version").unwrap(), 3);
        assert_eq!(today.wheels().unwrap(), ["7"]);
        assert!(today.edges("any").unwrap().is_none());
    }

    /// A ledger of the second version does not say which lines were measured again. What was cut on them counts as often as it was
    /// entered, before the job is written again and after.
    #[test]
    fn cuts_on_lines_measured_again_are_kept_from_an_old_ledger() {
        use super::super::{AgainRecord, FaceProfile, Lines, SurveyRecord};
        use crate::geometry::Point;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wheels.db");
        create(&path, 2).unwrap();
        let (first, all) = ("1".repeat(64), "2".repeat(64));
        let stamp = Stamp { at: super::super::Moment::from_unix(0), by: "A".into() };
        {
            let mut old = Ledger::connect(&path, 2).unwrap();
            old.write(|t, _| {
                for _ in 1..=8 {
                    enter(t, &stamp)?;
                }
                let add_survey = |id: i64, lines: &str| {
                    t.execute(
                        "INSERT INTO surveys VALUES (?1, 1, ?2, '', '', 0, 1000000, '{}')",
                        params![id, lines],
                    )
                };
                let add_program = |id: i64, survey: i64, depths: [i64; 2]| {
                    let hash = id.to_string().repeat(64);
                    t.execute(
                        "INSERT INTO programs VALUES (?1, ?2, ?3, 1, 1, 0, '', '[]')",
                        params![id, survey, hash],
                    )?;
                    let mut total = 0;
                    for (number, depth) in (1..).zip(depths) {
                        total += depth;
                        t.execute(sql::ADD_PASS, params![id, number, "rough", "T", depth, total, 0.0, 0.0])?;
                    }
                    Ok::<_, rusqlite::Error>(())
                };
                let add_cut = |id: i64, program: Option<i64>, passes: i64, taken: i64| {
                    let run = program.map(|_| (1, passes, taken));
                    t.execute(
                        "INSERT INTO cuts VALUES (?1, 1, ?1, NULL, ?2, ?3, ?4, ?5, ?6, 0, '')",
                        params![id, program, run.map(|r| r.0), run.map(|r| r.1), run.map(|r| r.2), taken],
                    )
                };
                t.execute(sql::ADD_WHEEL, params![1, "7", "kept"])?;
                add_cut(2, None, 0, 200_000)?;
                add_survey(3, &first)?;
                add_program(4, 3, [100_000, 200_000])?;
                add_cut(5, Some(4), 2, 300_000)?;
                add_survey(6, &all)?;
                add_program(7, 6, [100_000, 100_000])?;
                add_cut(8, Some(7), 1, 100_000)?;
                Ok(Ok(()))
            })
            .unwrap();
        }
        let mut today = Ledger::open(&path).unwrap().unwrap();
        let standing = |ledger: &Ledger| {
            let seen = ledger.standing("7", Lines { all: &all, first: &first }).unwrap().unwrap();
            [seen.taken, seen.told, seen.already].map(nm)
        };
        assert_eq!(standing(&today), [200_000, 300_000, 100_000]);
        let mm = Length::mm;
        let profile =
            crate::geometry::Profile::new(vec![Point::new(70.0, 0.0), Point::new(80.0, 0.0)]).unwrap();
        let job = SurveyRecord {
            number: "7".into(),
            name: "kept".into(),
            measurement: all.clone(),
            job: String::new(),
            claims: Some(mm(0.2)),
            verdict: String::new(),
            clean_up: mm(0.4),
            limit: mm(1.0),
            face: FaceProfile::between(&profile, &profile, mm(0.01)),
            again: Some(AgainRecord {
                first: first.clone(),
                begins: mm(0.257),
                most: mm(0.265),
                uncertainty: mm(0.005),
            }),
            inches: false,
        };
        today.record(&stamp, &job, &[]).unwrap();
        // The pass ended 0.1 mm below the 0.257 mm from which it counts.
        assert_eq!(nm(today.wheel("7").unwrap().unwrap().taken), 200_000 + 357_000);
        assert_eq!(standing(&today), [200_000, 300_000, 100_000]);
        assert_eq!(today.check().unwrap(), Vec::<String>::new());
    }

    #[test]
    fn a_later_ledger_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wheels.db");
        let ledger = Ledger::open_or_create(&path).unwrap();
        ledger.connection.pragma_update(None, "user_version", 99).unwrap();
        drop(ledger);
        let before = std::fs::read(&path).unwrap();
        assert!(matches!(Ledger::open(&path), Err(LedgerError::Newer { version: 99, known: 3, .. })));
        assert!(std::fs::read(&path).unwrap() == before);
    }

    #[test]
    fn what_durability_rests_on_is_in_force() {
        let folder = tempfile::tempdir().unwrap();
        let ledger = Ledger::open_or_create(&folder.path().join("wheels.db")).unwrap();
        let text =
            |pragma| ledger.connection.pragma_query_value(None, pragma, |r| r.get::<_, String>(0)).unwrap();
        assert_eq!(text("journal_mode"), "wal");
        // 2 is FULL: https://sqlite.org/pragma.html#pragma_synchronous
        assert_eq!(ledger.number("synchronous").unwrap(), 2);
        assert_eq!(ledger.number("foreign_keys").unwrap(), 1);
    }

    /// Every table refuses a change and a deletion.
    #[test]
    fn nothing_is_ever_changed_or_deleted() {
        let folder = tempfile::tempdir().unwrap();
        let ledger = Ledger::open_or_create(&folder.path().join("wheels.db")).unwrap();
        let c = &ledger.connection;
        let tables: Vec<String> = c
            .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
            .unwrap()
            .query_map([], |r| r.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        assert_eq!(tables.len(), 9, "{tables:?}");
        for table in tables {
            let guards: i64 = c
                .query_row(
                    "SELECT count(*) FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = ?1
                        AND (sql LIKE '%BEFORE UPDATE%' OR sql LIKE '%BEFORE DELETE%')",
                    [&table],
                    |r| r.get(0),
                )
                .unwrap();
            assert_eq!(guards, 2, "{table}");
        }
    }
}
