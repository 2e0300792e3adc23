//! Processes that are killed while they store, and processes that store at once.
//!
//! The child is this test binary again, running [`child`]: it confirms pass after pass and prints each entry once the ledger has
//! returned it. What it printed it was told to be stored. A child that is to be killed never ends by itself, however long the kill is
//! in coming: where all passes of a program have run, it enters the next program. A parent that is gone ends it, since nobody reads then.

use super::made_up::{hash, mm, on, place, program, run, survey};
use facewright::ledger::{Cut, Ledger, ProgramRecord};
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Where the child's ledger lies.
const LEDGER: &str = "FACEWRIGHT_TEST_LEDGER";
/// How many passes it confirms; without it, passes until it is killed.
const COUNT: &str = "FACEWRIGHT_TEST_COUNT";

/// Passes of each program: more than the children with a count confirm, and few enough that those without one come to their end.
const PASSES: usize = 400;

/// The programs that a child enters one after the other, each from the depth at which the one before it ends.
fn long_program(number: usize) -> ProgramRecord {
    let passes = u32::try_from(number * PASSES).expect("small");
    program(&name(number), f64::from(passes) * 0.001, &vec![0.001; PASSES])
}

fn name(number: usize) -> String {
    format!("p{number}")
}

/// No test by itself: confirms passes, one a transaction.
#[test]
#[ignore = "run by the tests beside it"]
fn child() {
    let Ok(path) = std::env::var(LEDGER) else { return };
    let count = std::env::var(COUNT).map_or(usize::MAX, |count| count.parse().expect("a count"));
    let mut ledger = Ledger::open(Path::new(&path)).expect("readable").expect("there");
    let run_before = ledger.wheel("7").expect("readable").expect("known").cuts.len();
    for done in (run_before..).take(count) {
        let number = done / PASSES;
        if done % PASSES == 0 {
            ledger.record(&on("03-01"), &survey("7", "a", None), &[long_program(number)]).expect("in");
        }
        let (_, cut) = ledger.confirm(&on("03-02"), &run(&name(number), Some(1))).expect("confirmed");
        // Past the capture of the test harness, in one write.
        std::io::stdout().lock().write_all(format!("stored {}\n", cut.entry).as_bytes()).expect("told");
    }
}

fn start(path: &Path, count: Option<usize>) -> Child {
    Command::new(std::env::current_exe().expect("this binary"))
        .args(["--ignored", "--exact", "ledger::kills::child", "--nocapture", "--test-threads", "1"])
        .env(LEDGER, path)
        .envs(count.map(|count| (COUNT, count.to_string())))
        .stdout(Stdio::piped())
        .spawn()
        .expect("the child starts")
}

/// The entry that a line of the child says is stored. The harness may have begun the line.
fn stored(line: &str) -> Option<i64> {
    line.split("stored ").nth(1)?.trim().parse().ok()
}

fn ledger_with_a_long_program(path: &Path) {
    let mut ledger = Ledger::open_or_create(path).expect("made");
    ledger.record(&on("03-01"), &survey("7", "a", Some(0.0)), &[long_program(0)]).expect("in");
}

fn cuts(path: &Path) -> Vec<Cut> {
    let ledger = Ledger::open(path).expect("whole").expect("there");
    let wrong = ledger.check().expect("readable");
    assert!(wrong.is_empty(), "{wrong:?}");
    ledger.wheel("7").expect("readable").expect("known").cuts
}

/// The program of a cut, and the first of its passes.
fn pass_of(cut: &Cut) -> (String, usize) {
    let run = cut.run.as_ref().expect("a pass");
    (run.hash.clone(), usize::try_from(run.first).expect("small"))
}

/// All passes of all programs, in the order in which children confirm them.
fn all_passes() -> impl Iterator<Item = (String, usize)> {
    (0..).flat_map(|number| (1..=PASSES).map(move |pass| (hash(&name(number)), pass)))
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

/// Three hundred kills: each ledger outlives many, and is checked whole after each.
#[test]
fn whatever_is_killed_what_was_said_to_be_stored_is_there() {
    const LEDGERS: usize = 15;
    const KILLS_OF_EACH: usize = 20;
    let mut moments = Moments(0x0fac_e0fa_ce0f_ace1);
    for _ in 0..LEDGERS {
        let (_folder, path) = place();
        ledger_with_a_long_program(&path);
        let mut told: Vec<i64> = Vec::new();
        for kill in 0..KILLS_OF_EACH {
            kill_one(&path, &mut moments, &mut told);
            let kept = cuts(&path);
            let passes: Vec<_> = kept.iter().map(pass_of).collect();
            let each_once: Vec<_> = all_passes().take(kept.len()).collect();
            assert_eq!(passes, each_once, "after kill {kill}");
            let lost: Vec<_> = told.iter().filter(|&&told| !kept.iter().any(|c| c.entry == told)).collect();
            assert!(lost.is_empty(), "{lost:?} lost after kill {kill}");
        }
        assert!(told.len() > KILLS_OF_EACH, "the children stored {} passes", told.len());
    }
}

/// Kills a child at some moment, and adds to `told` what it said was stored.
fn kill_one(path: &Path, moments: &mut Moments, told: &mut Vec<i64>) {
    let mut child = start(path, None);
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
    assert_eq!(end.code(), None, "killed, not ended by itself");
    let mut rest = String::new();
    out.read_to_string(&mut rest).expect("the pipe");
    told.extend(rest.lines().filter_map(stored));
}

#[test]
fn two_processes_wait_for_each_other() {
    const EACH: usize = 150;
    let (_folder, path) = place();
    ledger_with_a_long_program(&path);
    let children = [start(&path, Some(EACH)), start(&path, Some(EACH))];
    let outputs = children.map(|c| c.wait_with_output().expect("ended"));
    let said =
        |o: &std::process::Output| String::from_utf8_lossy(&o.stdout).lines().filter_map(stored).count();
    for output in &outputs {
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
        assert_eq!(said(output), EACH);
    }
    let kept = cuts(&path);
    let passes: Vec<_> = kept.iter().map(pass_of).collect();
    assert_eq!(passes, all_passes().take(2 * EACH).collect::<Vec<_>>(), "each pass once");
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
