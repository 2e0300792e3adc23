//! Files that appear together or not at all, also where the run is killed in the middle.
//!
//! Every content is written to a temporary file beside its place and synced. Where more than one name changes, the changes are
//! listed in a journal in the same folder, synced before the first of them is made: whoever writes there next finds it and
//! makes those that are left (write-ahead logging; Gray and Reuter, Transaction Processing, 1993, from memory). The journal is also the lock of the
//! folder: while it is held nobody else writes there through this module, so that every temporary file that is found was left by a run that is no more.
//! Files are written only through [`Held`], whose folders were settled when they were taken: whoever asks what is there, and what is to go, takes
//! them first.
//!
//! Limits: until the next run, files of both sets may stand beside each other after a kill. Files in several folders, as by links,
//! and names that are not Unicode are renamed one after another without a journal.

use crate::pipeline::hash;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use std::fs::{self, File, Permissions, TryLockError};
use std::io::{self, Read, Seek, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::NamedTempFile;

/// The journal of a folder.
const JOURNAL: &str = ".facewright-moves";
/// How the name of a temporary file begins and ends.
const TEMPORARY: [&str; 2] = [".facewright-", ".part"];
/// How a journal begins, and the most that one holds: a set has some tens of files.
const BEGINS: u8 = b'[';
const MOST: u64 = 1 << 20;
/// How often, and how far apart, another run is waited for: some seconds, and its own writing takes a fraction of one.
const TRIES: u32 = 100;
const BETWEEN: Duration = Duration::from_millis(50);

/// A file to be written or removed.
#[derive(Debug)]
pub(super) struct Change<'a> {
    /// Its path, links followed.
    pub target: PathBuf,
    /// What it is to hold; none where it is to go.
    pub content: Option<&'a [u8]>,
    /// Permissions of the file that it replaces.
    pub permissions: Option<Permissions>,
}

/// A change as the journal holds it: names in the journal's folder.
#[derive(Debug, Serialize, Deserialize)]
struct Move {
    /// The temporary file; none where the target is to go.
    from: Option<String>,
    to: String,
    /// Checksum of what stood at the target: what was edited since is left alone.
    old: Option<String>,
}

/// What went wrong, and with which file.
pub(super) type Failure = (PathBuf, io::Error);

/// Folders that nobody else writes to through this module, and in which nothing is half done.
#[derive(Default)]
pub(super) struct Held {
    folders: Vec<Folder>,
}

impl Held {
    /// Takes a folder, or waits for it some seconds, and makes the changes that a killed run has left there.
    ///
    /// One in which this run may make no files holds none that are half done by it or its like, and is not taken: a link may lie there.
    pub fn hold(&mut self, folder: &Path) -> io::Result<()> {
        let path = folder.canonicalize()?;
        if self.folders.iter().any(|held| held.path == path) {
            return Ok(());
        }
        match Folder::take(path.clone()) {
            Ok(mut folder) => {
                folder.settle()?;
                self.folders.push(folder);
                Ok(())
            }
            Err(e) if may_not(&e) && !path.join(JOURNAL).exists() => Ok(()),
            Err(e) => Err(e),
        }
    }

    /// Makes all changes, so that a kill at any moment leaves all or none of them to whoever writes there next.
    pub fn apply(mut self, changes: &[Change<'_>]) -> Result<(), Failure> {
        let Some(first) = changes.first() else { return Ok(()) };
        let at = |change: &Change<'_>| change.target.clone();
        let staged = changes
            .iter()
            .map(|change| match change.content {
                Some(content) => stage(&change.target, content, change.permissions.as_ref()).map(Some),
                None => Ok(None),
            })
            .zip(changes)
            .map(|(staged, change)| staged.map_err(|e| (at(change), e)))
            .collect::<Result<Vec<Option<NamedTempFile>>, Failure>>()?;
        if changes.len() > 1
            && let Some(folder) = self.of_all(changes)
            && let Some(moves) = listed(changes, &staged)
        {
            folder.enter(&moves).map_err(|e| (at(first), e))?;
        }
        let mut staged = staged.into_iter();
        for (made, change) in changes.iter().enumerate() {
            let Some(beside) = staged.next() else { break };
            let Err((error, beside)) = put(beside, &change.target) else { continue };
            if made > 0 && changes.len() > 1 {
                // The rest is for the next run, which finds these files by the names in the journal.
                std::iter::once(beside).chain(staged).flatten().for_each(|file| drop(file.keep()));
            } else {
                // Nothing was changed, and nothing is left to be made.
                self.folders.iter_mut().try_for_each(Folder::forget).map_err(|e| (at(change), e))?;
            }
            return Err((at(change), error));
        }
        sync_all_names(changes.iter().map(|change| change.target.as_path()))?;
        self.folders.iter_mut().for_each(Folder::clear);
        Ok(())
    }

    /// Writes files where none are: all are whole, and none of them is there where one cannot be written.
    ///
    /// A kill may leave some of them; each is whole.
    pub fn create(self, files: &[(PathBuf, &[u8])]) -> Result<(), Failure> {
        let mut names = HashSet::new();
        let mut is_new = |path: &PathBuf| fs::symlink_metadata(path).is_err() && names.insert(path.clone());
        if let Some(path) = files.iter().map(|(path, _)| path).find(|path| !is_new(path)) {
            return Err((path.clone(), io::ErrorKind::AlreadyExists.into()));
        }
        let staged = files
            .iter()
            .map(|(path, content)| stage(path, content, None).map_err(|e| (path.clone(), e)))
            .collect::<Result<Vec<NamedTempFile>, Failure>>()?;
        for (beside, (path, _)) in staged.into_iter().zip(files) {
            beside.persist_noclobber(path).map_err(|e| (path.clone(), e.error))?;
        }
        sync_all_names(files.iter().map(|(path, _)| path.as_path()))?;
        // Not before: whoever takes a folder removes the temporary files that are found there.
        drop(self);
        Ok(())
    }

    /// The one folder of all changes, if it is one.
    fn of_all(&mut self, changes: &[Change<'_>]) -> Option<&mut Folder> {
        let lies_in = |change: &Change<'_>| folder_of(&change.target).canonicalize().ok();
        let folder = changes.first().and_then(lies_in)?;
        let all = changes.iter().all(|change| lies_in(change).as_ref() == Some(&folder));
        self.folders.iter_mut().find(|held| all && held.path == folder)
    }
}

/// Whether a folder is not ours to write to.
fn may_not(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem)
}

/// Whether a run was killed in this folder while it put files in their places.
pub(super) fn is_half_done(folder: &Path) -> bool {
    let path = folder.join(JOURNAL);
    if !is_plain(&path) {
        return false;
    }
    let mut text = Vec::new();
    let read = File::open(&path).and_then(|file| file.take(MOST).read_to_end(&mut text));
    read.is_ok() && read_moves(&text).is_some()
}

/// The folder of a file.
pub(super) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// Puts a file in its place, or removes what is there; what was to be put, where that fails.
fn put(beside: Option<NamedTempFile>, target: &Path) -> Result<(), (io::Error, Option<NamedTempFile>)> {
    match beside {
        Some(beside) => beside.persist(target).map(drop).map_err(|e| (e.error, Some(e.file))),
        None => gone(target).map_err(|e| (e, None)),
    }
}

/// Writes a content beside its place, on the disk.
fn stage(target: &Path, content: &[u8], permissions: Option<&Permissions>) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let [begin, end] = TEMPORARY;
    let mut beside = builder.prefix(begin).suffix(end).tempfile_in(folder_of(target))?;
    beside.write_all(content)?;
    if let Some(permissions) = permissions {
        beside.as_file().set_permissions(permissions.clone())?;
    }
    beside.as_file().sync_all()?;
    Ok(beside)
}

/// The changes of one folder for its journal; none where a name is not Unicode.
fn listed(changes: &[Change<'_>], staged: &[Option<NamedTempFile>]) -> Option<Vec<Move>> {
    let name = |path: &Path| Some(path.file_name()?.to_str()?.to_owned());
    let one = |(change, beside): (&Change<'_>, &Option<NamedTempFile>)| {
        let from = match beside {
            Some(beside) => Some(name(beside.path())?),
            None => None,
        };
        Some(Move { from, to: name(&change.target)?, old: checksum(&change.target) })
    };
    changes.iter().zip(staged).map(one).collect()
}

/// Checksum of a file's content; none where there is no file.
fn checksum(path: &Path) -> Option<String> {
    let content = fs::read(path).ok()?;
    Some(hash(&content))
}

/// The changes of a journal that was written whole.
fn read_moves(text: &[u8]) -> Option<Vec<Move>> {
    serde_json::from_slice(text).ok()
}

/// Removes a file, if it is there.
fn gone(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => Err(e),
        _ => Ok(()),
    }
}

/// Names are on disk only after their folder is synced.
fn sync_names(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    File::open(folder)?.sync_all()?;
    #[cfg(not(unix))]
    let _ = folder;
    Ok(())
}

/// Syncs the folders of files.
fn sync_all_names<'p>(files: impl Iterator<Item = &'p Path>) -> Result<(), Failure> {
    let mut folders: Vec<&Path> = files.map(folder_of).collect();
    folders.dedup();
    folders.into_iter().try_for_each(|folder| sync_names(folder).map_err(|e| (folder.to_owned(), e)))
}

/// A folder that nobody else writes to through this module.
struct Folder {
    path: PathBuf,
    journal: File,
    /// Whether changes are listed that may not be made yet.
    pending: bool,
}

impl Folder {
    /// Takes the lock of a folder, or waits for it some seconds.
    fn take(folder: PathBuf) -> io::Result<Self> {
        let path = folder.join(JOURNAL);
        for _ in 0..TRIES {
            // A link, device or folder of that name is not ours: what it leads to would be emptied, or read without end.
            if fs::symlink_metadata(&path).is_ok() && !is_plain(&path) {
                return Err(in_the_way(&path));
            }
            let journal = File::options().read(true).write(true).create(true).truncate(false).open(&path)?;
            match journal.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => {
                    std::thread::sleep(BETWEEN);
                    continue;
                }
                // A file system without locks.
                Err(TryLockError::Error(e)) if e.kind() == io::ErrorKind::Unsupported => {}
                Err(TryLockError::Error(e)) => return Err(e),
            }
            // Its last holder may have removed it between the opening and the lock.
            if is_at(&journal, &path) {
                return Ok(Self { path: folder, journal, pending: false });
            }
        }
        Err(io::Error::other("another run is writing to this folder; try again when it has ended"))
    }

    /// Makes the changes that a killed run has left, and removes its temporary files.
    fn settle(&mut self) -> io::Result<()> {
        let mut text = Vec::new();
        (&self.journal).take(MOST).read_to_end(&mut text)?;
        if text.first().is_some_and(|b| *b != BEGINS) || text.len() as u64 == MOST {
            self.pending = true;
            return Err(in_the_way(&self.path.join(JOURNAL)));
        }
        if let Some(moves) = read_moves(&text) {
            self.pending = true;
            moves.iter().try_for_each(|m| self.make(m))?;
            sync_names(&self.path)?;
        }
        self.forget()?;
        let [begin, end] = TEMPORARY;
        for entry in fs::read_dir(&self.path)? {
            let name = entry?.file_name();
            if name.to_str().is_some_and(|n| n.starts_with(begin) && n.ends_with(end)) {
                gone(&self.path.join(name))?;
            }
        }
        Ok(())
    }

    /// Makes one change of a killed run, unless it was made, or somebody edited the file since.
    fn make(&self, change: &Move) -> io::Result<()> {
        let [begin, end] = TEMPORARY;
        let plain =
            |name: &str| Path::new(name).components().count() == 1 && Path::new(name).file_name().is_some();
        let to = self.path.join(&change.to);
        if !plain(&change.to) || checksum(&to) != change.old {
            return Ok(());
        }
        match &change.from {
            Some(from) if plain(from) && from.starts_with(begin) && from.ends_with(end) => {
                match fs::rename(self.path.join(from), to) {
                    Err(e) if e.kind() != io::ErrorKind::NotFound => Err(e),
                    _ => Ok(()),
                }
            }
            Some(_) => Ok(()),
            None => gone(&to),
        }
    }

    /// Lists the changes, on the disk.
    fn enter(&mut self, moves: &[Move]) -> io::Result<()> {
        let text = serde_json::to_vec(moves).map_err(io::Error::other)?;
        self.pending = true;
        self.journal.write_all(&text)?;
        self.journal.sync_all()?;
        // The temporary files must be found by their names, and the journal by its own.
        sync_names(&self.path)
    }

    /// Nothing that is listed is left to be made.
    fn forget(&mut self) -> io::Result<()> {
        self.journal.set_len(0)?;
        self.journal.rewind()?;
        self.pending = false;
        Ok(())
    }

    /// All changes are made.
    const fn clear(&mut self) {
        self.pending = false;
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What is listed and not made is for the next run; a journal that stays empty harms nobody.
        if !self.pending {
            let _ = fs::remove_file(self.path.join(JOURNAL));
        }
    }
}

/// Whether a path is that of a file, and no link.
fn is_plain(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok_and(|m| m.is_file())
}

/// What stands in the place of the journal and is none.
fn in_the_way(journal: &Path) -> io::Error {
    io::Error::other(format!(
        "{}, beside it, is where facewright keeps what a set of files still lacks, and holds something else; move it elsewhere",
        journal.display()
    ))
}

/// Whether an open file is the one that bears a name, and no link to it.
fn is_at(file: &File, path: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let key = |m: fs::Metadata| (m.dev(), m.ino());
        file.metadata().ok().map(key) == fs::symlink_metadata(path).ok().map(key)
    }
    #[cfg(not(unix))]
    {
        let _ = file;
        path.exists()
    }
}

#[cfg(test)]
mod tests;
