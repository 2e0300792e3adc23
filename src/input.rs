//! Input files read whole, within bounds: no pipe that waits for ever, no device that never ends. Standard input is read where it is
//! asked for, by `-`.
//!
//! A job and a shop file are a few kilobytes, a scan of a million points some 40 MB, a program some hundred kilobytes. The bounds
//! are far above and are stated in docs/trust.md.

use std::ffi::OsString;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// The most that a file may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Most {
    /// Bytes.
    pub bytes: u64,
    /// Lines, of whatever length: each costs some hundred bytes of memory, if it is empty.
    pub lines: usize,
}

/// The largest job or shop file.
pub const LARGEST_YAML: Most = Most { bytes: 4 << 20, lines: usize::MAX };
/// The largest scan.
pub const LARGEST_SCAN: Most = Most { bytes: 64 << 20, lines: 5_000_000 };
/// The largest program: reading takes up to a hundred and fifty times as much memory.
pub const LARGEST_PROGRAM: Most = Most { bytes: 6 << 20, lines: usize::MAX };

/// Where an input comes from: a file, or standard input for `-`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A file.
    File(PathBuf),
    /// What is piped into the command.
    Standard,
}

/// What stands for standard input where a file is asked for.
const DASH: &str = "-";

/// How standard input is named where a file would be, as in `standard input:4:3`. Files that are named relative to it lie in the
/// current folder.
const STANDARD: &str = "standard input";

impl From<OsString> for Input {
    fn from(word: OsString) -> Self {
        if word == DASH { Self::Standard } else { Self::File(word.into()) }
    }
}

impl From<&Path> for Input {
    /// A file of that name, whatever it is.
    fn from(path: &Path) -> Self {
        Self::File(path.to_owned())
    }
}

impl Input {
    /// The file's path, or the name of standard input, for messages.
    #[must_use]
    pub fn name(&self) -> &Path {
        match self {
            Self::File(path) => path,
            Self::Standard => Path::new(STANDARD),
        }
    }

    /// The path of a file; none for standard input.
    #[must_use]
    pub fn file(&self) -> Option<&Path> {
        match self {
            Self::File(path) => Some(path),
            Self::Standard => None,
        }
    }

    /// Reads it whole.
    ///
    /// # Errors
    /// As [`read`].
    pub fn read(&self, most: Most) -> io::Result<Vec<u8>> {
        match self {
            Self::File(path) => read(path, most),
            Self::Standard => bounded(io::stdin().lock(), most),
        }
    }
}

/// Reads a file.
///
/// # Errors
/// If it cannot be read, is no file (a folder, pipe or device), or holds more than it may.
pub fn read(path: &Path, most: Most) -> io::Result<Vec<u8>> {
    // Asked before it is opened: opening a pipe waits for whoever writes into it.
    if !std::fs::metadata(path)?.is_file() {
        return Err(io::Error::other("it is a folder, a pipe or a device; name a file"));
    }
    bounded(File::open(path)?, most)
}

/// What a reader holds. A file may grow while it is read, and a pipe may never end.
fn bounded(from: impl Read, most: Most) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    from.take(most.bytes + 1).read_to_end(&mut bytes)?;
    let beyond =
        |what: String| Err(io::Error::other(format!("it is larger than {what}; is it the right file?")));
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > most.bytes {
        return beyond(format!("{} MB", most.bytes >> 20));
    }
    let parts = |mark: u8| bytes.split(|b| *b == mark).skip(1).count();
    if most.lines < bytes.len() && parts(b'\n').max(parts(b'\r')) > most.lines {
        return beyond(format!("{} lines", most.lines));
    }
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_ends_is_read_and_nothing_else() -> io::Result<()> {
        let folder = tempfile::tempdir()?;
        let path = folder.path().join("a");
        std::fs::write(&path, b"1234")?;
        let of = |bytes| Most { bytes, lines: usize::MAX };
        assert_eq!(read(&path, of(4))?, b"1234");
        assert!(read(&path, of(3)).is_err_and(|e| e.to_string().contains("larger than")));
        let lines = folder.path().join("lines");
        std::fs::write(&lines, b"#\n#\n#\n")?;
        assert!(read(&lines, Most { bytes: 10, lines: 3 }).is_ok());
        assert!(read(&lines, Most { bytes: 10, lines: 2 }).is_err_and(|e| e.to_string().contains("2 lines")));
        assert!(read(folder.path(), of(4)).is_err_and(|e| e.to_string().contains("name a file")));
        assert!(read(&folder.path().join("b"), of(4)).is_err_and(|e| e.kind() == io::ErrorKind::NotFound));
        #[cfg(target_os = "linux")]
        assert!(read(Path::new("/dev/zero"), of(4)).is_err_and(|e| e.to_string().contains("device")));
        Ok(())
    }
}
