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
mod tests {
    use super::*;
    use crate::cli::division::parts_of_before;
    use crate::cli::error::CliError;
    use crate::cli::output::{Replacing, sealed, write_files};
    use crate::input::Input;
    use crate::job::Variation;
    use crate::pipeline::{Loaded, load_input};
    use std::io::{BufRead, BufReader};
    use std::process::{Child, Command, Stdio};

    /// The folder of the child.
    const FOLDER: &str = "FACEWRIGHT_TEST_FOLDER";
    /// The first set that it writes.
    const FROM: &str = "FACEWRIGHT_TEST_FROM";

    /// The names of a set: every one is of another division than the one before it.
    fn names(set: usize) -> Vec<String> {
        match [5, 1, 3][set % 3] {
            1 => vec!["out.nc".into()],
            parts => (1..=parts).map(|k| format!("out-part-{k}-of-{parts}.nc")).collect(),
        }
    }

    /// What each file of a set holds.
    fn content(set: usize) -> String {
        sealed(&format!("set {set}\n").repeat(400))
    }

    fn demo() -> Loaded {
        load_input(&Input::from(Path::new("demo-data/job.yaml")), &Variation::default()).unwrap()
    }

    /// Writes a set as the command does: what it replaces is what it finds.
    fn write_for(loaded: &Loaded, folder: &Path, set: usize) -> Result<(), CliError> {
        let content = content(set);
        let files: Vec<(PathBuf, &[u8])> =
            names(set).into_iter().map(|name| (folder.join(name), content.as_bytes())).collect();
        let replacing = Replacing { job: loaded.job(), inputs: &[], force: false };
        write_files(&files, || parts_of_before(&folder.join("out.nc"), &files), replacing)
    }

    fn write(folder: &Path, set: usize) -> Result<(), CliError> {
        write_for(&demo(), folder, set)
    }

    /// What the next run does before it looks at the folder.
    fn settle(folder: &Path) {
        Held::default().hold(folder).unwrap();
    }

    /// The names in a folder, in order.
    fn found(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
        let mut all: Vec<String> = entries.collect();
        all.sort();
        all
    }

    /// No test by itself: writes set after set until it is killed.
    #[test]
    #[ignore = "run by the test beside it"]
    fn child() {
        let Ok(folder) = std::env::var(FOLDER) else { return };
        let from: usize = std::env::var(FROM).unwrap().parse().unwrap();
        let loaded = demo();
        for set in from.. {
            write_for(&loaded, Path::new(&folder), set).unwrap();
            // Past the capture of the test harness; a parent that is gone ends it.
            if io::stdout().lock().write_all(format!("wrote {set}\n").as_bytes()).is_err() {
                return;
            }
        }
    }

    fn start(folder: &Path, from: usize) -> Child {
        let name = "cli::together::tests::child";
        Command::new(std::env::current_exe().unwrap())
            .args(["--ignored", "--exact", name, "--nocapture", "--test-threads", "1"])
            .env(FOLDER, folder)
            .env(FROM, from.to_string())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap()
    }

    /// Three hundred kills: what the next run then finds is one set whole, the last that was told or the one begun after it; and where it
    /// writes another, that one alone is there.
    #[test]
    fn a_set_is_there_whole_after_every_kill() {
        const FOLDERS: usize = 6;
        const KILLS_OF_EACH: usize = 50;
        let (loaded, mut half_done) = (demo(), [0, 0]);
        // A generator of numbers for the moments (xorshift; Marsaglia 2003): the same at every run.
        let mut state = 0x0fac_e0fa_ce0f_ace1_u64;
        for _ in 0..FOLDERS {
            let place = tempfile::tempdir().unwrap();
            let folder = place.path();
            let mut last = 0;
            write(folder, last).unwrap();
            for kill in 0..KILLS_OF_EACH {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                let mut child = start(folder, last + 1);
                let mut out = BufReader::new(child.stdout.take().unwrap());
                let told = |line: &str| line.split("wrote ").nth(1)?.trim().parse::<usize>().ok();
                let wait_for = last + usize::try_from(state % 4).unwrap();
                let mut line = String::new();
                while last < wait_for && out.read_line(&mut line).unwrap() > 0 {
                    last = told(&line).unwrap_or(last);
                    line.clear();
                }
                std::thread::sleep(Duration::from_micros(state % 20_000));
                child.kill().unwrap();
                child.wait().unwrap();
                let mut rest = String::new();
                out.read_to_string(&mut rest).unwrap();
                last = rest.lines().filter_map(told).next_back().unwrap_or(last);
                // The next run: it looks at what is there, or writes yet another division at once.
                let sets = if kill % 2 == 0 {
                    half_done[0] += usize::from(is_half_done(folder));
                    settle(folder);
                    [last, last + 1]
                } else {
                    half_done[1] += usize::from(is_half_done(folder));
                    write_for(&loaded, folder, last + 2).unwrap();
                    [last + 2; 2]
                };
                let there = found(folder);
                let set = sets.into_iter().find(|&set| there == names(set));
                let set = set.unwrap_or_else(|| panic!("after set {last}: {there:?}"));
                for name in there {
                    assert_eq!(fs::read_to_string(folder.join(&name)).unwrap(), content(set), "{name}");
                }
                last = set;
            }
        }
        let shown = half_done.iter().all(|kills| *kills > 3);
        assert!(shown, "{half_done:?} kills of 300 fell between two renames: this test shows nothing");
    }

    /// Four runs at once, each of which writes set after set to one folder, and is killed while the others go on: what stands there then is one set whole.
    #[test]
    fn runs_that_write_to_one_folder_do_not_mix_their_sets() {
        const RUNS: usize = 4;
        const SETS_OF_EACH: usize = 20;
        let place = tempfile::tempdir().unwrap();
        let folder = place.path();
        let mut runs: Vec<Child> = (0..RUNS).map(|run| start(folder, run * 1000)).collect();
        let mut last = Vec::new();
        for run in &mut runs {
            let out = BufReader::new(run.stdout.take().unwrap());
            let told = out.lines().map_while(Result::ok).filter(|line| line.contains("wrote "));
            last.extend(told.take(SETS_OF_EACH).last());
            run.kill().unwrap();
            run.wait().unwrap();
        }
        assert_eq!(last.len(), RUNS, "every run has written");
        settle(folder);
        let there = found(folder);
        let first = fs::read_to_string(folder.join(&there[0])).unwrap();
        let set: usize = first.split("set ").nth(1).unwrap().lines().next().unwrap().parse().unwrap();
        assert_eq!(there, names(set));
        for name in there {
            assert_eq!(fs::read_to_string(folder.join(&name)).unwrap(), content(set), "{name}");
        }
    }

    /// A file that cannot be put in its place: where it is the first, nothing has changed; where it is a later one, the next run puts the rest in place.
    #[test]
    fn a_name_that_cannot_be_taken_leaves_none_or_all_to_the_next_run() {
        for in_the_way in [0, 1, 2] {
            let place = tempfile::tempdir().unwrap();
            let folder = place.path();
            let names = ["a", "b", "c"];
            let change = |name: &&str| Change {
                target: folder.join(name),
                content: Some(b"new".as_slice()),
                permissions: None,
            };
            let changes: Vec<Change<'_>> = names.iter().map(change).collect();
            fs::create_dir(folder.join(names[in_the_way])).unwrap();
            let mut held = Held::default();
            held.hold(folder).unwrap();
            let (at, _) = held.apply(&changes).unwrap_err();
            assert_eq!(at, folder.join(names[in_the_way]));
            if in_the_way == 0 {
                assert_eq!(found(folder), ["a"]);
                continue;
            }
            assert!(is_half_done(folder));
            fs::remove_dir(folder.join(names[in_the_way])).unwrap();
            settle(folder);
            assert_eq!(found(folder), names);
            assert!(names.iter().all(|name| fs::read(folder.join(name)).unwrap() == b"new"));
        }
    }

    #[test]
    fn what_was_edited_since_the_kill_is_left_alone() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path();
        let moves = [
            Move { from: Some(".facewright-a.part".into()), to: "a".into(), old: None },
            Move { from: Some(".facewright-b.part".into()), to: "b".into(), old: None },
            Move { from: Some(".facewright-c.part".into()), to: "../c".into(), old: None },
            Move { from: None, to: "d".into(), old: None },
        ];
        fs::write(folder.join(JOURNAL), serde_json::to_vec(&moves).unwrap()).unwrap();
        for name in [".facewright-a.part", ".facewright-b.part", ".facewright-c.part"] {
            fs::write(folder.join(name), "new").unwrap();
        }
        fs::write(folder.join("b"), "by hand").unwrap();
        fs::write(folder.join("d"), "by hand").unwrap();
        assert!(is_half_done(folder));
        settle(folder);
        assert_eq!(found(folder), ["a", "b", "d"]);
        assert_eq!(fs::read_to_string(folder.join("a")).unwrap(), "new");
        assert_eq!(fs::read_to_string(folder.join("b")).unwrap(), "by hand");
    }

    /// What bears the journal's name and is none stays as it is, and so does what a link of that name leads to.
    #[test]
    fn what_is_no_journal_is_left_alone() {
        let place = tempfile::tempdir().unwrap();
        let (folder, journal) = (place.path(), place.path().join(JOURNAL));
        let refused = || write(folder, 1).unwrap_err().to_string();
        fs::write(&journal, "a list by hand").unwrap();
        assert!(refused().contains("move it elsewhere"));
        assert_eq!(fs::read_to_string(&journal).unwrap(), "a list by hand");
        fs::remove_file(&journal).unwrap();
        fs::create_dir(&journal).unwrap();
        assert!(refused().contains("move it elsewhere"));
        fs::remove_dir(&journal).unwrap();
        #[cfg(unix)]
        for leads_to in ["/dev/zero", "elsewhere"] {
            fs::write(folder.join("elsewhere"), "a list by hand").unwrap();
            std::os::unix::fs::symlink(leads_to, &journal).unwrap();
            assert!(!is_half_done(folder) && refused().contains("move it elsewhere"));
            assert_eq!(fs::read_to_string(folder.join("elsewhere")).unwrap(), "a list by hand");
            fs::remove_file(&journal).unwrap();
        }
        assert!(!folder.join("out.nc").exists());
        write(folder, 1).unwrap();
    }

    #[test]
    fn a_journal_that_was_not_written_whole_changes_nothing() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path();
        fs::write(folder.join(JOURNAL), "[{\"from\":\".facewright-a.part\",\"to\":\"a\"").unwrap();
        fs::write(folder.join(".facewright-a.part"), "new").unwrap();
        fs::write(folder.join("a"), "old").unwrap();
        assert!(!is_half_done(folder));
        write(folder, 1).unwrap();
        assert_eq!(found(folder), ["a", "out.nc"]);
        assert_eq!(fs::read_to_string(folder.join("a")).unwrap(), "old");
    }
}
