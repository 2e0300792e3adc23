//! Names of the files into which a program is divided.

use super::together::folder_of;
use std::path::{Path, PathBuf};

/// The path of a part: its suffix is inserted before the file extension.
pub(super) fn path_of_part(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(suffix);
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}

/// Programs of the same name that another division into parts has left: beside the new ones they would be taken for parts of these.
pub(super) fn parts_of_before(path: &Path, now: &[(PathBuf, &[u8])]) -> Vec<PathBuf> {
    let folder = folder_of(path);
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let begin = path_of_part(path, "-part-");
    let begin = begin.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let is_part = |other: &Path| {
        let numbers = other.file_stem().and_then(|s| s.to_str()?.strip_prefix(&begin)?.split_once("-of-"));
        let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
        other.extension() == path.extension() && numbers.is_some_and(|(k, n)| digits(k) && digits(n))
    };
    let whole = (now.len() > 1).then(|| path.to_owned());
    let mut old: Vec<PathBuf> = entries
        .filter_map(|e| Some(folder.join(e.ok()?.file_name())))
        .filter(|other| is_part(other))
        .chain(whole.filter(|p| p.is_file()))
        .filter(|other| !now.iter().any(|(new, _)| new.file_name() == other.file_name()))
        .collect();
    old.sort();
    old
}
