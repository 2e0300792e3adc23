//! Writes output files, all parts of a program together, and what is printed.
//!
//! What facewright did not write, or what was edited since, is replaced only by force: a program is known by its checksum, a page or
//! picture by the comment at its end.

use super::destination::followed;
use super::error::CliError;
use super::together::{Change, Failure, Held, folder_of};
use super::width;
use crate::diagnostics::checksum::Checksum;
use crate::diagnostics::text::{escaped_json, visible_lines};
use crate::job::Job;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// What an output replaces, and what it must not.
#[derive(Debug, Clone, Copy)]
pub(super) struct Replacing<'a> {
    /// The job: none of the files that it is read from is ever replaced.
    pub job: &'a Job,
    /// Further files that the command reads.
    pub inputs: &'a [&'a Path],
    /// Whether a file that facewright did not write, or that was edited since, may be replaced.
    pub force: bool,
}

/// Writes files and removes old ones, all together: each name refers to the complete old or new content, and a run that was killed in the
/// middle is completed by the next one ([`together`](super::together)).
///
/// What is replaced, whether it may be, and which old files go, as `old` tells, is asked while the folders are held and nothing in them
/// is half done: what a killed run has yet to put in its place would else escape.
pub(super) fn write_files(
    files: &[(PathBuf, &[u8])],
    old: impl FnOnce() -> Vec<PathBuf>,
    replacing: Replacing<'_>,
) -> Result<(), CliError> {
    let mut held = Held::default();
    let targets = files
        .iter()
        .map(|(path, _)| hold_target(path, &mut held))
        .collect::<Result<Vec<PathBuf>, CliError>>()?;
    let written =
        files.iter().zip(targets).map(|((path, content), target)| checked(path, target, content, replacing));
    let removed = old().into_iter().map(|path| lost(path, replacing));
    let changes = written.chain(removed).collect::<Result<Vec<Change<'_>>, CliError>>()?;
    held.apply(&changes).map_err(not_written)
}

/// Writes one file; see [`write_files`].
pub(super) fn write_file(path: &Path, content: &[u8], replacing: Replacing<'_>) -> Result<(), CliError> {
    write_files(&[(path.to_owned(), content)], Vec::new, replacing)
}

/// Writes new files: where one cannot be written whole none is there, and what is there is never replaced.
pub(super) fn create_files(files: &[(PathBuf, &[u8])]) -> Result<(), CliError> {
    let mut held = Held::default();
    files.iter().try_for_each(|(path, _)| hold_folder(path, path, &mut held))?;
    held.create(files).map_err(not_written)
}

fn not_written((path, source): Failure) -> CliError {
    CliError::File { action: "write", path, source }
}

/// Where a file is to lie, links followed; its folder, and the one of its name, are held from now on.
fn hold_target(path: &Path, held: &mut Held) -> Result<PathBuf, CliError> {
    let failed = |source| not_written((path.to_owned(), source));
    followed(path).map_err(failed)?;
    if path.exists() && !path.is_file() {
        return Err(failed(io::Error::other("it is no file; name a file")));
    }
    hold_folder(path, path, held)?;
    // Where it leads now: a killed run may have had a link to remove.
    let target = followed(path).map_err(failed)?;
    hold_folder(path, &target, held)?;
    Ok(target)
}

/// Holds the folder in which a file, named by a path, lies.
fn hold_folder(path: &Path, target: &Path, held: &mut Held) -> Result<(), CliError> {
    let folder = folder_of(target);
    if !folder.is_dir() {
        return Err(CliError::NoFolder { path: path.to_owned(), folder: folder.to_owned() });
    }
    held.hold(folder).map_err(|source| not_written((path.to_owned(), source)))
}

/// A file to be removed, if it may be lost.
fn lost(path: PathBuf, replacing: Replacing<'_>) -> Result<Change<'static>, CliError> {
    refuse_input_as_output(&path, &path, replacing)?;
    if !replacing.force && !std::fs::read(&path).is_ok_and(|there| may_be_replaced(&there)) {
        return Err(CliError::Input(format!(
            "{}: it bears the name of a part of this program, and facewright did not write it, or it was edited since\n  to mend it: move it away, name another file, or say `--force`",
            path.display()
        )));
    }
    Ok(Change { target: path, content: None, permissions: None })
}

/// A file to be written, if what stands in its place may be replaced.
fn checked<'c>(
    path: &Path,
    target: PathBuf,
    content: &'c [u8],
    replacing: Replacing<'_>,
) -> Result<Change<'c>, CliError> {
    let failed = |source| not_written((path.to_owned(), source));
    refuse_input_as_output(path, &target, replacing)?;
    let old = target.metadata().ok();
    if old.as_ref().is_some_and(|m| m.permissions().readonly()) {
        return Err(failed(io::Error::other(
            "it may not be written to; change its permissions, or name another file",
        )));
    }
    if old.is_some() && !replacing.force {
        let there = std::fs::read(&target).map_err(failed)?;
        if there != content && !may_be_replaced(&there) {
            return Err(CliError::Input(format!(
                "{}: there is a file that facewright did not write, or that was edited since, and it would be lost\n  to mend it: name another file, or say `--force`",
                path.display()
            )));
        }
    }
    Ok(Change { target, content: Some(content), permissions: old.map(|m| m.permissions()) })
}

/// Whether the content of a file is ours and as we wrote it, or nothing.
fn may_be_replaced(content: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(content) else { return false };
    if text.trim().is_empty() {
        return true;
    }
    if let Some((page, seal)) = text.rsplit_once(SEAL_BEGINS) {
        return seal == seal_of(page);
    }
    let written = text.lines().find_map(|line| Checksum::read(comment_of(line.trim())?));
    written == Some(Checksum::of(text)) && is_laid_out_by_us(text)
}

/// Whether blanks and line ends are those that we write. The checksum passes over them, since what a transfer changes harms no cut; but who set
/// them by hand would miss them.
fn is_laid_out_by_us(text: &str) -> bool {
    let lines = text.strip_suffix('\n').unwrap_or(text).split('\n');
    let crlf = text.contains("\r\n");
    lines.into_iter().all(|line| {
        let line = if crlf { line.strip_suffix('\r') } else { Some(line) };
        line.is_some_and(|l| {
            !l.is_empty() && l.trim() == l && !l.contains("  ") && !l.contains(char::is_control)
        })
    })
}

/// The text of a line that is a comment as a whole, in brackets or behind a semicolon.
fn comment_of(line: &str) -> Option<&str> {
    line.strip_prefix(';').or_else(|| line.strip_prefix('(')?.strip_suffix(')'))
}

/// How the comment begins by which a page or picture is known as ours.
const SEAL_BEGINS: &str = "<!-- facewright ";

fn seal_of(page: &str) -> String {
    format!("{} -->\n", Checksum::of(page))
}

/// A page or picture with the comment by which a later run knows it as ours and not edited since.
pub(super) fn sealed(page: &str) -> String {
    format!("{page}{SEAL_BEGINS}{}", seal_of(page))
}

/// Refuses to overwrite an input.
fn refuse_input_as_output(path: &Path, target: &Path, replacing: Replacing<'_>) -> Result<(), CliError> {
    let Ok(target) = target.canonicalize() else { return Ok(()) };
    let read: Vec<&Path> = replacing.job.files().chain(replacing.inputs.iter().copied()).collect();
    if read.iter().filter_map(|f| f.canonicalize().ok()).any(|input| input == target) {
        return Err(CliError::Input(format!(
            "{}: the job is read from this file, and it would be lost\n  to mend it: name another file to write to",
            path.display()
        )));
    }
    Ok(())
}

/// How much of what is printed for a person is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Detail {
    /// Only what must be seen: verdicts, warnings, cautions and what was written.
    Quiet,
    Usual,
    /// Also what else there is to tell.
    Whole,
}

/// Writes text for a person to standard error; a closed pipe is not an error.
pub(super) fn tell(text: &str) -> Result<(), CliError> {
    put(&mut io::stderr().lock(), "standard error", visible_lines(text).as_bytes())
}

/// Writes a page for a person to standard error, as wide as its terminal.
pub(super) fn tell_page(text: &str) -> Result<(), CliError> {
    match width::of_terminal(&io::stderr()) {
        Some(width) => tell(&width::fitted(text, width)),
        None => tell(text),
    }
}

/// Writes text for a person to standard output, with control characters made visible, as wide as its terminal.
pub(super) fn print_text(text: &str) -> Result<(), CliError> {
    let text = visible_lines(text);
    match width::of_terminal(&io::stdout()) {
        Some(width) => print(width::fitted(&text, width).as_bytes()),
        None => print(text.as_bytes()),
    }
}

/// Writes a result to standard output; a closed pipe is not an error.
pub(super) fn print(content: &[u8]) -> Result<(), CliError> {
    put(&mut io::stdout().lock(), "standard output", content)
}

/// Writes to a stream. Who closed a pipe wants no more of it.
fn put(stream: &mut impl Write, name: &str, content: &[u8]) -> Result<(), CliError> {
    match stream.write_all(content).and_then(|()| stream.flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(not_written((name.into(), e))),
        _ => Ok(()),
    }
}

/// A value as one JSON object.
pub(super) fn json(value: &impl serde::Serialize) -> Result<String, CliError> {
    let text = serde_json::to_string_pretty(value);
    let failed = |e| CliError::File {
        action: "write",
        path: "the result as JSON".into(),
        source: io::Error::other(e),
    };
    text.map(|t| escaped_json(&t) + "\n").map_err(failed)
}
