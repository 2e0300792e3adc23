//! Sets that are whole after kills, beside other runs, and where a name cannot be taken.

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
