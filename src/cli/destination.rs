//! Where a result goes: a file that is named, or standard output, whatever it is called by.

use super::together::folder_of;
use std::ffi::OsString;
use std::io;
use std::path::{Path, PathBuf};

/// Where a result goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Destination {
    /// A file.
    File(PathBuf),
    /// Standard output: `-`, or its name among the open files of the process, such as `/dev/stdout`.
    Standard,
}

/// What stands for standard output where a file is asked for.
const DASH: &str = "-";
/// Folders in which a system shows the open files of a process by their numbers, and the number of standard output.
const OPEN_FILES: [&str; 3] = ["/dev/fd", "/proc/self/fd", "/proc/thread-self/fd"];
const STANDARD_OUTPUT: u32 = 1;

impl From<OsString> for Destination {
    fn from(word: OsString) -> Self {
        if word == DASH || open_file(Path::new(&word)) == Some(STANDARD_OUTPUT) {
            Self::Standard
        } else {
            Self::File(word.into())
        }
    }
}

impl Destination {
    /// The path of a file; none for standard output.
    pub fn file(&self) -> Option<&Path> {
        match self {
            Self::File(path) => Some(path),
            Self::Standard => None,
        }
    }
}

/// Most links that lead from one to the next, as of a file system (`SYMLOOP_MAX`, POSIX).
const MOST_LINKS: usize = 40;

/// Where a link leads, also one to a file that is not there yet; any other path as it is.
///
/// # Errors
/// If it leads back to itself, or is an open file of this process: what such a name leads to would be replaced beside the one who holds it open.
pub(super) fn followed(path: &Path) -> io::Result<PathBuf> {
    if open_file(path).is_some() {
        return Err(io::Error::other(
            "it is an open file of this process; name a file, or `-` for standard output",
        ));
    }
    match steps(path).nth(MOST_LINKS) {
        Some(_) => Err(io::Error::other("it is a link that leads back to itself; name a file")),
        None => match steps(path).last() {
            Some(to) => Ok(to.canonicalize().unwrap_or(to)),
            None => Ok(path.to_owned()),
        },
    }
}

/// The number of the open file of this process that a path names, also by links.
fn open_file(path: &Path) -> Option<u32> {
    let number = |at: PathBuf| {
        let folder = folder_of(&at).canonicalize().ok()?;
        let is_one = OPEN_FILES.iter().any(|of| Path::new(of).canonicalize().is_ok_and(|of| of == folder));
        if is_one { at.file_name()?.to_str()?.parse().ok() } else { None }
    };
    std::iter::once(path.to_owned()).chain(steps(path).take(MOST_LINKS)).find_map(number)
}

/// What a link leads to, and so on while that is a link.
fn steps(path: &Path) -> impl Iterator<Item = PathBuf> {
    let next = |at: &PathBuf| Some(folder_of(at).join(at.read_link().ok()?));
    std::iter::successors(next(&path.to_owned()), next)
}
