//! Writes output files atomically: a temporary file in the same folder is written, synced and then renamed.

use super::error::CliError;
use crate::diagnostics::text::visible_lines;
use crate::job::Job;
use crate::pipeline::ProvedPart;
use std::io::Write;
use std::path::Path;

/// Writes a file so that its name always refers to the complete old or new content. Refuses to overwrite an input of the job.
pub(super) fn write_file(path: &Path, content: &[u8], job: &Job) -> Result<(), CliError> {
    refuse_input_as_output(path, job)?;
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let failed = |source| CliError::File { action: "write", path: path.to_owned(), source };
    if path.exists() && !path.is_file() {
        return Err(failed(std::io::Error::other("it is no file; name a file")));
    }
    if !folder.is_dir() {
        return Err(CliError::NoFolder { path: path.to_owned(), folder: folder.to_owned() });
    }
    let mut beside = temporary_file_in(folder).map_err(failed)?;
    beside.write_all(content).map_err(failed)?;
    beside.as_file().sync_all().map_err(failed)?;
    beside.persist(path).map_err(|e| failed(e.error))?;
    // The name is on disk only after the folder is synced.
    #[cfg(unix)]
    std::fs::File::open(folder).and_then(|f| f.sync_all()).map_err(failed)?;
    Ok(())
}

/// Writes a program that was proved; the type admits no other.
pub(super) fn write_program(path: &Path, part: &ProvedPart, job: &Job) -> Result<(), CliError> {
    write_file(path, part.program().text.as_bytes(), job)
}

/// Refuses to overwrite an input of the job.
fn refuse_input_as_output(path: &Path, job: &Job) -> Result<(), CliError> {
    let Ok(target) = path.canonicalize() else { return Ok(()) };
    let scans = job.measured.lines.iter().map(|l| &l.file);
    let mut inputs = scans
        .chain([&job.file, &job.shop_file])
        .chain(job.passport.as_ref().map(|p| &p.ledger))
        .filter_map(|f| f.canonicalize().ok());
    if inputs.any(|input| input == target) {
        return Err(CliError::Input(format!(
            "{}: the job is read from this file, and it would be lost\n  to mend it: name another file to write to",
            path.display()
        )));
    }
    Ok(())
}

/// A new temporary file in a folder, with the default permissions of the system.
fn temporary_file_in(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder)
}

/// Writes text for a person to standard output, with control characters made visible.
pub(super) fn print_text(text: &str) -> Result<(), CliError> {
    print(visible_lines(text).as_bytes())
}

/// Writes a result to standard output; a closed pipe is not an error.
pub(super) fn print(content: &[u8]) -> Result<(), CliError> {
    let mut out = std::io::stdout().lock();
    match out.write_all(content).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(CliError::File { action: "write", path: "standard output".into(), source: e })
        }
        _ => Ok(()),
    }
}

/// A value as one JSON object.
pub(super) fn json(value: &impl serde::Serialize) -> Result<String, CliError> {
    let text = serde_json::to_string_pretty(value);
    let failed = |e| CliError::File {
        action: "write",
        path: "the result as JSON".into(),
        source: std::io::Error::other(e),
    };
    text.map(|t| t + "\n").map_err(failed)
}
