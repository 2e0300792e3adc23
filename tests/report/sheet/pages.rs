//! The pages that the tests look at, made by the program itself.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// A folder for this run's pages, kept under the build's own.
fn folder() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sheet");
    fs::create_dir_all(&folder).expect("a folder");
    folder
}

/// Runs `facewright sheet`.
pub fn sheet(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_facewright"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        // Pages of an earlier run, perhaps of an earlier version, may stand there.
        .args(["sheet", "--force"])
        .args(arguments)
        .output()
        .expect("facewright runs")
}

/// The page of the demo.
pub fn demo() -> &'static Path {
    static PAGE: OnceLock<PathBuf> = OnceLock::new();
    PAGE.get_or_init(|| {
        let path = folder().join("demo.html");
        let out = sheet(&["demo-data/job.yaml", "-o", &path.display().to_string()]);
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        path
    })
}

/// A folder with the demo's files, one of them with its text changed.
fn copied(name: &str, file: &str, changes: &[(&str, &str)]) -> PathBuf {
    let folder = folder().join(name);
    fs::create_dir_all(&folder).expect("a folder");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    for entry in fs::read_dir(&demo).expect("the demo").flatten().filter(|e| e.path().is_file()) {
        fs::copy(entry.path(), folder.join(entry.file_name())).expect("a copy");
    }
    let path = folder.join(file);
    let mut text = fs::read_to_string(&path).expect("the file");
    for (from, to) in changes {
        assert!(text.contains(from), "the demo's {file} no longer holds {from}");
        text = text.replace(from, to);
    }
    fs::write(&path, text).expect("the file");
    folder
}

/// The page of the demo's job with its text changed, and the exit code.
pub fn changed(name: &str, changes: &[(&str, &str)], arguments: &[&str]) -> (PathBuf, Option<i32>) {
    let folder = copied(name, "job.yaml", changes);
    let job = folder.join("job.yaml");
    let page = folder.join("page.html");
    let _ = fs::remove_file(&page);
    let (job, to) = (job.display().to_string(), page.display().to_string());
    let mut all = vec![job.as_str(), "-o", &to];
    all.extend(arguments);
    let out = sheet(&all);
    assert!(page.exists(), "no page: {}", String::from_utf8_lossy(&out.stderr));
    (page, out.status.code())
}

/// The page of the demo in a shop whose control counts inches, and the exit code.
pub fn inches() -> (PathBuf, Option<i32>) {
    let units = ("  units: mm\n  unit_word: G71\n", "  units: inch\n  unit_word: G70\n");
    let folder = copied("inches", "shop.yaml", &[units, ("resolution: 0.001 mm", "resolution: 0.0001 in")]);
    let (job, page) = (folder.join("job.yaml"), folder.join("page.html"));
    let out = sheet(&[&job.display().to_string(), "-o", &page.display().to_string()]);
    assert!(page.exists(), "no page: {}", String::from_utf8_lossy(&out.stderr));
    (page, out.status.code())
}

/// The page of a wheel with a crack.
pub fn refused() -> &'static Path {
    static PAGE: OnceLock<PathBuf> = OnceLock::new();
    PAGE.get_or_init(|| {
        let (page, code) = changed("refused", &[("kind: scrape", "kind: crack")], &[]);
        assert_eq!(code, Some(1));
        page
    })
}

/// The page of the demo for a control that holds little, so that the program comes in parts; and the parts as `write` leaves them.
pub fn in_parts() -> (PathBuf, Vec<String>) {
    let folder = copied("parts", "shop.yaml", &[("largest_program: 64 kB", "largest_program: 14 kB")]);
    let (job, page) = (folder.join("job.yaml"), folder.join("page.html"));
    let out = sheet(&[&job.display().to_string(), "-o", &page.display().to_string()]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let out = Command::new(env!("CARGO_BIN_EXE_facewright"))
        .args(["write", "--force"])
        .arg(&job)
        .arg("-o")
        .arg(folder.join("wheel.nc"))
        .output()
        .expect("facewright runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let parts = (1..).map_while(|n| {
        let mut files = fs::read_dir(&folder).expect("the folder").flatten().map(|e| e.path());
        files.find(|f| f.to_string_lossy().contains(&format!("wheel-part-{n}-of-")))
    });
    let parts = parts.map(|f| fs::read_to_string(f).expect("a part")).collect();
    (page, parts)
}

/// A program file for `--program`.
pub fn program(name: &str, text: &str) -> PathBuf {
    let path = folder().join(name);
    fs::write(&path, text).expect("a program");
    path
}
