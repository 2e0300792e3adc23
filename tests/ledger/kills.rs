//! Processes that are killed while they store, and processes that store at once.
//!
//! The child is this test binary again, running [`child`]: it confirms pass after pass and prints each entry once the ledger has
//! returned it. What it printed it was told to be stored.

use super::made_up::{mm, on, place, program, run, survey};
use facewright::ledger::{Cut, Ledger};
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Where the child's ledger lies.
const LEDGER: &str = "FACEWRIGHT_TEST_LEDGER";
/// How many passes it confirms.
const COUNT: &str = "FACEWRIGHT_TEST_COUNT";

/// More passes than the children of one ledger can confirm. Few, since each check of the ledger reads them all.
const PASSES: usize = 1_000;

/// No test by itself: confirms passes of the program `p`, one a transaction.
#[test]
#[ignore = "run by the tests beside it"]
fn child() {
    let (Ok(path), Ok(count)) = (std::env::var(LEDGER), std::env::var(COUNT)) else { return };
    let mut ledger = Ledger::open(Path::new(&path)).expect("readable").expect("there");
    for _ in 0..count.parse::<usize>().expect("a count") {
        let (_, cut) = ledger.confirm(&on("03-02"), &run("p", Some(1))).expect("confirmed");
        let first = cut.run.expect("a pass").first;
        // Past the capture of the test harness, in one write.
        std::io::stdout()
            .lock()
            .write_all(format!("stored {} {first}\n", cut.entry).as_bytes())
            .expect("told");
    }
}

fn start(path: &Path, count: usize) -> Child {
    Command::new(std::env::current_exe().expect("this binary"))
        .args(["--ignored", "--exact", "ledger::kills::child", "--nocapture", "--test-threads", "1"])
        .env(LEDGER, path)
        .env(COUNT, count.to_string())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the child starts")
}

/// The entry and the pass that a line of the child says are stored. The harness may have begun the line.
fn stored(line: &str) -> Option<(i64, u32)> {
    let mut words = line.split("stored ").nth(1)?.split_whitespace();
    Some((words.next()?.parse().ok()?, words.next()?.parse().ok()?))
}

fn ledger_with_a_long_program(path: &Path) {
    let mut ledger = Ledger::open_or_create(path).expect("made");
    let long = program("p", 0.0, &vec![0.001; PASSES]);
    ledger.record(&on("03-01"), &survey("7", "a", Some(0.0)), &[long]).expect("in");
}

fn cuts(path: &Path) -> Vec<Cut> {
    let ledger = Ledger::open(path).expect("whole").expect("there");
    let wrong = ledger.check().expect("readable");
    assert!(wrong.is_empty(), "{wrong:?}");
    ledger.wheel("7").expect("readable").expect("known").cuts
}

fn pass_of(cut: &Cut) -> u32 {
    cut.run.as_ref().expect("a pass").first
}

/// A generator of numbers for the moments of the kills (xorshift; Marsaglia 2003): the same at every run.
struct Moments(u64);

impl Moments {
    fn below(&mut self, n: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % n
    }
}

/// Three hundred kills: each ledger outlives many, and is small enough to be checked whole after each.
#[test]
fn whatever_is_killed_what_was_said_to_be_stored_is_there() {
    const LEDGERS: usize = 15;
    const KILLS_OF_EACH: usize = 20;
    let mut moments = Moments(0x0fac_e0fa_ce0f_ace1);
    for _ in 0..LEDGERS {
        let (_folder, path) = place();
        ledger_with_a_long_program(&path);
        let mut told: Vec<(i64, u32)> = Vec::new();
        for kill in 0..KILLS_OF_EACH {
            kill_one(&path, &mut moments, &mut told);
            let kept = cuts(&path);
            for (i, cut) in (1..).zip(&kept) {
                assert_eq!(pass_of(cut), i, "each pass once, after kill {kill}");
            }
            for &(entry, pass) in &told {
                let at = usize::try_from(pass).expect("small") - 1;
                assert!(
                    kept.get(at).is_some_and(|cut| cut.entry == entry),
                    "pass {pass} lost after kill {kill}"
                );
            }
            assert!(kept.len() < PASSES, "the child ran out of passes: it ended, and no kill ended it");
        }
        assert!(told.len() > KILLS_OF_EACH, "the children stored {} passes", told.len());
    }
}

/// Kills a child at some moment, and adds to `told` what it said was stored.
fn kill_one(path: &Path, moments: &mut Moments, told: &mut Vec<(i64, u32)>) {
    let mut child = start(path, PASSES);
    let mut out = BufReader::new(child.stdout.take().expect("a pipe"));
    // Now and then before anything is stored; else somewhere in the stores that follow.
    let wait_for = told.len() + usize::try_from(moments.below(5)).expect("small");
    let mut line = String::new();
    while told.len() < wait_for && out.read_line(&mut line).expect("the pipe") > 0 {
        told.extend(stored(&line));
        line.clear();
    }
    std::thread::sleep(Duration::from_micros(moments.below(3000)));
    child.kill().expect("killed");
    let end = child.wait().expect("ended");
    assert!(!end.success(), "killed, not ended by itself");
    let mut rest = String::new();
    out.read_to_string(&mut rest).expect("the pipe");
    told.extend(rest.lines().filter_map(stored));
}

#[test]
fn two_processes_wait_for_each_other() {
    const EACH: u32 = 150;
    let (_folder, path) = place();
    ledger_with_a_long_program(&path);
    let count = usize::try_from(EACH).expect("small");
    let children = [start(&path, count), start(&path, count)];
    let outputs = children.map(|c| c.wait_with_output().expect("ended"));
    let said =
        |o: &std::process::Output| String::from_utf8_lossy(&o.stdout).lines().filter_map(stored).count();
    for output in &outputs {
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
        assert_eq!(said(output), count);
    }
    let kept = cuts(&path);
    let passes: Vec<u32> = kept.iter().map(pass_of).collect();
    assert_eq!(passes, (1..=2 * EACH).collect::<Vec<_>>(), "each pass once");
    assert!(kept.iter().all(|cut| cut.taken == mm(0.001)));
}

/// Of many that make the ledger at once one makes it, and all enter into the same.
#[test]
fn a_ledger_is_made_once() {
    let (_folder, path) = place();
    std::thread::scope(|threads| {
        for number in ["1", "2", "3", "4", "5", "6"] {
            let path = &path;
            threads.spawn(move || {
                let mut ledger = Ledger::open_or_create(path).expect("made or found");
                ledger.record(&on("03-02"), &survey(number, "a", Some(0.0)), &[]).expect("in");
            });
        }
    });
    let ledger = Ledger::open(&path).expect("whole").expect("there");
    assert_eq!(ledger.wheels().expect("readable"), ["1", "2", "3", "4", "5", "6"]);
}
