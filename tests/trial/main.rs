//! The trial by fault: programs with one fault each; an oracle says which would do harm, and proof must stop every one of those.
// A harness that counts and indexes samples of its own making: its casts cannot meet a number that does not fit.
#![allow(clippy::pedantic)]

#[path = "../common/controls.rs"]
mod controls;
#[path = "../made/mod.rs"]
mod made;

mod demo;
mod faults;
mod hand;
mod oracle;

use facewright::face::Face;
use facewright::job::Job;
use facewright::proof::{Rank, Verdict, prove};
use faults::{Dice, KINDS};
use oracle::{Oracle, Sound};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::thread;

/// A sound program with what it is proved against.
struct Case {
    name: &'static str,
    text: String,
    job: Job,
    face: Face,
}

/// What came of the faults of one kind.
#[derive(Debug, Default, Clone)]
struct Tally {
    tried: usize,
    harmful: usize,
    caught: usize,
    false_alarms: usize,
}

/// What came of a whole trial.
#[derive(Default)]
struct Trial {
    tallies: BTreeMap<&'static str, Tally>,
    missed: Vec<String>,
    /// Which findings stopped harmless programs, and how often: each program counts once for each kind.
    alarms: BTreeMap<&'static str, usize>,
    /// One example of each.
    examples: BTreeMap<&'static str, String>,
}

/// The handwritten program, and the demo's for every control that holds it in one part: what a later part
/// begins with stands in the part before it.
fn cases() -> Vec<Case> {
    let (text, job, face) = hand::case();
    let mut cases = demo::cases();
    cases.push(Case { name: "by hand", text, job, face });
    cases
}

/// The faults `from..count` in steps of `by`, each from its own seed: the same whatever runs beside it.
fn some(cases: &[Case], judges: &[(Oracle, Sound)], (from, count, by): (usize, usize, usize)) -> Trial {
    let mut trial = Trial::default();
    for i in (from..count).step_by(by) {
        let kind = KINDS[i % KINDS.len()];
        let mut dice = Dice::new(7_919 * i as u64 + 7);
        let Some((which, faulty)) = fault(kind, cases, &mut dice) else { continue };
        let (Case { name, text, job, face }, (oracle, sound)) = (&cases[which], &judges[which]);
        let harm = oracle.harm(&faulty, sound);
        let report = prove(faulty.as_bytes(), job, face);
        let stopped = report.verdict == Verdict::Stop;
        let tally = trial.tallies.entry(kind).or_default();
        tally.tried += 1;
        tally.harmful += usize::from(!harm.is_empty());
        match (harm.is_empty(), stopped) {
            (false, true) => tally.caught += 1,
            (false, false) => {
                trial.missed.push(format!("{name}: {kind}: {harm:?}\n{}", difference(text, &faulty)));
            }
            (true, true) => {
                tally.false_alarms += 1;
                let mut kinds: Vec<_> = report
                    .findings()
                    .iter()
                    .filter(|f| f.rank == Rank::Stop)
                    .map(|f| (f.kind, &f.what))
                    .collect();
                kinds.dedup_by_key(|k| k.0);
                for (stop, what) in kinds {
                    *trial.alarms.entry(stop).or_default() += 1;
                    let example = || format!("{name}: {kind}: {what}\n{}", difference(text, &faulty));
                    trial.examples.entry(stop).or_insert_with(example);
                }
            }
            (true, false) => {}
        }
    }
    trial
}

/// A fault of a kind in one of the programs where it finds a place: every other time in the last, the handwritten
/// one, whose few blocks each carry more and take a tenth of the time.
fn fault(kind: &str, cases: &[Case], dice: &mut Dice) -> Option<(usize, String)> {
    (0..20).find_map(|_| {
        let which = dice.below(2 * cases.len()).min(cases.len() - 1);
        let case = &cases[which];
        Some((which, faults::make(kind, &case.text, &case.job.control, dice)?))
    })
}

fn trial(cases: &[Case], count: usize) -> Trial {
    let judges: Vec<_> = cases
        .iter()
        .map(|Case { name, text, job, face }| {
            let oracle = Oracle::new(job, face);
            let sound = oracle.sound(text);
            assert!(sound.harm().is_empty(), "{name}: untouched, it does harm: {:?}", sound.harm());
            (oracle, sound)
        })
        .collect();
    let workers = thread::available_parallelism().map_or(1, usize::from);
    thread::scope(|scope| {
        let judges = &judges;
        let parts: Vec<_> =
            (0..workers).map(|w| scope.spawn(move || some(cases, judges, (w, count, workers)))).collect();
        parts.into_iter().fold(Trial::default(), |all, part| all.and(part.join().expect("a worker ends")))
    })
}

fn difference(a: &str, b: &str) -> String {
    let at = a.lines().zip(b.lines()).position(|(x, y)| x != y).unwrap_or(0);
    let line = |t: &str| t.lines().nth(at).unwrap_or("(end)").to_owned();
    format!("  line {}: {}  became  {}", at + 1, line(a), line(b))
}

impl Trial {
    fn and(mut self, other: Self) -> Self {
        for (kind, t) in other.tallies {
            let all = self.tallies.entry(kind).or_default();
            all.tried += t.tried;
            all.harmful += t.harmful;
            all.caught += t.caught;
            all.false_alarms += t.false_alarms;
        }
        for (kind, count) in other.alarms {
            *self.alarms.entry(kind).or_default() += count;
        }
        self.missed.extend(other.missed);
        for (kind, example) in other.examples {
            self.examples.entry(kind).or_insert(example);
        }
        self
    }

    fn table(&self) -> String {
        let mut out =
            String::from("| fault | tried | harmful | caught | false alarms |\n|---|---|---|---|---|\n");
        let mut all = Tally::default();
        for (kind, t) in &self.tallies {
            let _ =
                writeln!(out, "| {kind} | {} | {} | {} | {} |", t.tried, t.harmful, t.caught, t.false_alarms);
            all.tried += t.tried;
            all.harmful += t.harmful;
            all.caught += t.caught;
            all.false_alarms += t.false_alarms;
        }
        let _ = writeln!(
            out,
            "| all | {} | {} | {} | {} |",
            all.tried, all.harmful, all.caught, all.false_alarms
        );
        out
    }
}

#[test]
fn the_untouched_programs_are_not_stopped() {
    for Case { name, text, job, face } in cases() {
        let report = prove(text.as_bytes(), &job, &face);
        let found: Vec<_> = report.findings().iter().filter(|f| f.rank == Rank::Stop).collect();
        assert!(found.is_empty(), "{name}\n{report}");
    }
}

/// Faults in all, from the environment: the long run by hand is `FAULTS=50000 cargo test --release --test trial -- --nocapture`.
fn count() -> usize {
    std::env::var("FAULTS").ok().and_then(|v| v.parse().ok()).unwrap_or(3024)
}

#[test]
fn every_harmful_fault_is_stopped() {
    let trial = trial(&cases(), count());
    println!("{}", trial.table());
    println!("stops on the harmless: {:?}", trial.alarms);
    for (stop, example) in &trial.examples {
        println!("{stop}, for example {example}");
    }
    assert!(
        trial.missed.is_empty(),
        "{} missed:\n{}",
        trial.missed.len(),
        trial.missed.iter().take(40).cloned().collect::<Vec<_>>().join("\n")
    );
    let all = |of: fn(&Tally) -> usize| trial.tallies.values().map(of).sum::<usize>();
    assert!(all(|t| t.tried) * 16 > count() * 15, "kinds of fault find no place");
    assert!(all(|t| t.harmful) * 4 > count(), "a trial with too little harm in it");
}
