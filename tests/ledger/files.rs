//! Files that are damaged, no ledgers, or cannot be written: told with exit code 3, and left as they are.

use super::made_up::{on, place, program, run, survey};
use facewright::ledger::{Ledger, LedgerError};
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn ledger_of_some_wheels(path: &Path) {
    let mut ledger = Ledger::open_or_create(path).expect("made");
    for number in 0..12 {
        let name = number.to_string();
        let programs = [program(&name, 0.0, &[0.1, 0.1])];
        ledger.record(&on("03-02"), &survey(&name, "a", Some(0.2)), &programs).expect("in");
        ledger.confirm(&on("03-02"), &run(&name, None)).expect("cut");
    }
}

fn command(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_facewright")).args(arguments).output().expect("the command runs")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Whatever page is overwritten, cut off or zeroed: no answer is given from it, and not a byte of it is changed.
#[test]
fn a_damaged_ledger_is_told_and_left() {
    const PAGE: usize = 4096;
    let (_folder, path) = place();
    ledger_of_some_wheels(&path);
    let whole = fs::read(&path).expect("readable");
    let pages = whole.len() / PAGE;
    assert!(pages > 10, "{pages} pages");
    let zeroed = |page: usize| {
        let mut bytes = whole.clone();
        bytes[page * PAGE..(page + 1) * PAGE].fill(0);
        bytes
    };
    let mut damaged: Vec<(String, Vec<u8>)> =
        (0..pages).map(|page| (format!("page {page} zeroed"), zeroed(page))).collect();
    damaged.push(("cut off".into(), whole[..whole.len() / 2].to_vec()));
    damaged.push(("text".into(), b"wheel 7: 0.2 mm\n".repeat(400)));
    damaged.push(("empty".into(), Vec::new()));
    let mut told = 0;
    for (what, bytes) in &damaged {
        fs::write(&path, bytes).expect("written");
        match Ledger::open(&path) {
            Err(LedgerError::Damaged { .. }) => told += 1,
            // A page that holds nothing may be zero.
            Ok(Some(ledger)) => {
                assert_eq!(ledger.check().expect("readable"), Vec::<String>::new(), "{what}");
                assert_eq!(ledger.wheels().expect("readable").len(), 12, "{what}");
            }
            other => panic!("{what}: {other:?}"),
        }
        assert!(fs::read(&path).expect("readable") == *bytes, "{what}: changed");
    }
    assert!(told + 1 >= damaged.len(), "{told} of {} told", damaged.len());
    fs::write(&path, zeroed(2)).expect("written");
    let output = command(&["ledger", "check", "--ledger", path.to_str().expect("a path")]);
    assert_eq!(output.status.code(), Some(3), "{}", said(&output));
    assert!(said(&output).contains("left as it is"), "{}", said(&output));
}

/// Another program's database is no ledger, and nothing is put into it.
#[test]
fn another_database_is_no_ledger() {
    let (_folder, path) = place();
    ledger_of_some_wheels(&path);
    let mut bytes = fs::read(&path).expect("readable");
    // The application's mark stands at offset 68: https://sqlite.org/fileformat.html#application_id
    bytes[68..72].fill(7);
    fs::write(&path, &bytes).expect("written");
    let opened = Ledger::open_or_create(&path);
    assert!(matches!(opened, Err(LedgerError::Damaged { .. })), "{opened:?}");
    assert!(fs::read(&path).expect("readable") == bytes);
}

/// The laws that no constraint holds are seen where a hand has broken them: the guards taken away, a number changed.
#[test]
fn check_sees_what_a_hand_has_changed() {
    for (change, law) in [
        ("UPDATE passes SET total_nm = total_nm + 1 WHERE number = 1", "step by step"),
        ("UPDATE cuts SET wheel = 1 WHERE program IS NOT NULL", "another wheel"),
        ("UPDATE cuts SET passes = 9 WHERE passes = 2", "does not have"),
        ("INSERT INTO entries (at, by) VALUES ('2026-03-02T00:00:00Z', '')", "of no table"),
        ("UPDATE programs SET survey = 99999", "names a row of surveys"),
    ] {
        let (_folder, path) = place();
        ledger_of_some_wheels(&path);
        let hand = rusqlite::Connection::open(&path).expect("opened");
        hand.execute_batch("PRAGMA foreign_keys = OFF; DROP TRIGGER passes_stay; DROP TRIGGER cuts_stay; DROP TRIGGER programs_stay;")
            .expect("guards away");
        hand.execute_batch(change).expect("changed");
        drop(hand);
        let wrong = Ledger::open(&path).expect("opened").expect("there").check().expect("readable");
        assert!(wrong.iter().any(|w| w.contains(law)), "{change}: {wrong:?}");
    }
}

/// The guards refuse what no entry of ours does.
#[test]
fn a_change_or_a_deletion_is_refused() {
    let (_folder, path) = place();
    ledger_of_some_wheels(&path);
    let hand = rusqlite::Connection::open(&path).expect("opened");
    for change in [
        "UPDATE cuts SET taken_nm = 0",
        "DELETE FROM cuts",
        "UPDATE entries SET by = 'B'",
        "DELETE FROM passes",
        "UPDATE wheels SET number = 'x'",
    ] {
        let refused = hand.execute_batch(change).expect_err(change).to_string();
        assert!(refused.contains("never"), "{refused}");
    }
}

#[test]
fn no_ledger_is_told_with_how_it_comes_to_be() {
    let (_folder, path) = place();
    let path = path.to_str().expect("a path");
    let output = command(&["ledger", "show", "--ledger", path]);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(!Path::new(path).exists(), "asking makes no ledger");
}
