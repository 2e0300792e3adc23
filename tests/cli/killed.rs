//! Runs that were killed while they put a set of files in their places, and what the next run makes of it.

use super::journeys::{Bench, text};
use facewright::pipeline::hash;
use std::collections::BTreeMap;
use std::fs;

/// The programs of a folder, or those of a set, by their names.
type Set = BTreeMap<String, Vec<u8>>;

/// What lies in the bench's folder and begins or ends so.
fn found(bench: &Bench, is_one: impl Fn(&str) -> bool) -> Set {
    let entries = fs::read_dir(bench.path(".")).expect("a folder").filter_map(Result::ok);
    let names = entries.map(|e| e.file_name().to_string_lossy().into_owned()).filter(|n| is_one(n));
    names.map(|n| (n.clone(), fs::read(bench.path(&n)).expect("a file"))).collect()
}

fn programs(bench: &Bench) -> Set {
    found(bench, |name| std::path::Path::new(name).extension().is_some_and(|e| e == "nc"))
}

fn divide(bench: &Bench, from: &str, to: &str) {
    let size = |size: &str| format!("largest_program: {size}");
    bench.change("shop.yaml", &size(from), &size(to));
}

/// Lays the folder as a run leaves it that puts a set in the place of another and is killed after so many of its changes; how many there are.
fn kill(bench: &Bench, before: &Set, after: &Set, made: usize) -> usize {
    for name in found(bench, |_| true).keys().filter(|n| n.contains("out")) {
        fs::remove_file(bench.path(name)).expect("removed");
    }
    let put = |name: &str, content: &[u8]| fs::write(bench.path(name), content).expect("written");
    for (name, content) in before {
        put(name, content);
    }
    let gone = before.keys().filter(|name| !after.contains_key(*name)).map(|name| (name, None));
    let changes: Vec<_> = after.iter().map(|(name, content)| (name, Some(content))).chain(gone).collect();
    let mut moves = Vec::new();
    for (k, (to, content)) in changes.iter().enumerate() {
        let from = content.map(|_| format!(".facewright-{k}.part"));
        match (&from, content) {
            (Some(_), Some(content)) if k < made => put(to, content),
            (Some(from), Some(content)) => put(from, content),
            _ if k < made => fs::remove_file(bench.path(to)).expect("removed"),
            _ => {}
        }
        let old = before.get(*to).map(|content| hash(content));
        moves.push(serde_json::json!({ "from": from, "to": to, "old": old }));
    }
    put(".facewright-moves", serde_json::Value::from(moves).to_string().as_bytes());
    changes.len()
}

/// Whatever a killed run left, and after whichever of its changes it was killed: the next set stands alone, also where files that it must
/// not stand beside are put in their places only when the killed run is completed.
#[test]
fn the_next_set_stands_alone_after_a_kill_at_any_change() {
    let bench = Bench::new();
    let (mut size, mut sets) = ("64 kB", Vec::new());
    for next in ["64 kB", "16 kB", "8 kB"] {
        divide(&bench, size, next);
        size = next;
        assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
        sets.push((size, programs(&bench)));
    }
    let [one, two, more] = sets.as_slice() else { panic!("three divisions") };
    assert!(one.1.len() == 1 && two.1.len() == 2 && more.1.len() > 2, "{sets:?}");
    for (before, killed, after) in [(more, one, more), (one, two, one), (two, more, one), (more, one, two)] {
        divide(&bench, size, after.0);
        size = after.0;
        let mut made = 0;
        while made <= kill(&bench, &before.1, &killed.1, made) {
            let output = bench.run(&["write", "job.yaml", "-o", "out.nc"]);
            assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
            let there = programs(&bench);
            let names = || there.keys().collect::<Vec<_>>();
            assert!(there == after.1, "{} for {} after {made} changes: {:?}", after.0, killed.0, names());
            assert!(found(&bench, |n| n.starts_with(".facewright")).is_empty());
            made += 1;
        }
        assert!(made > killed.1.len(), "{made} prefixes");
    }
}

/// What the killed run would have put in its place, and what somebody edited since, is looked at when that run is completed: what is not
/// ours is not lost, and what the killed run wrote is.
#[test]
fn what_may_be_replaced_is_asked_after_a_killed_run_is_completed() {
    let bench = Bench::new();
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    let ours = programs(&bench);
    let theirs: Set = [("out.nc".to_owned(), b"by hand\n".to_vec())].into();
    // Killed before it replaced what `--force` had given up: it is completed, and then nothing is lost any more.
    kill(&bench, &theirs, &ours, 0);
    assert_eq!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.code(), Some(0));
    // Killed before what is no program of ours came into the place.
    kill(&bench, &ours, &theirs, 0);
    assert_eq!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.code(), Some(2));
    assert!(programs(&bench) == theirs);
}
