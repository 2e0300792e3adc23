//! The trial by fault: programs with one fault each; an oracle says which would do harm, and proof must stop every one of those.

#[path = "../made/mod.rs"]
mod made;

mod faults;
mod hand;
mod oracle;

use facewright::face::Face;
use facewright::job::Job;
use facewright::proof::{Rank, Verdict, prove};
use faults::{Dice, KINDS};
use oracle::Oracle;
use std::collections::BTreeMap;
use std::fmt::Write;

/// What came of the faults of one kind.
#[derive(Debug, Default, Clone)]
struct Tally {
    tried: usize,
    harmful: usize,
    caught: usize,
    false_alarms: usize,
}

/// What came of a whole trial.
struct Trial {
    tallies: BTreeMap<&'static str, Tally>,
    missed: Vec<String>,
    /// Which findings stopped harmless programs, and how often.
    alarms: BTreeMap<&'static str, usize>,
}

fn trial(programs: &[(String, Job, Face)], count: usize, seed: u64) -> Trial {
    let mut dice = Dice::new(seed);
    let mut trial = Trial { tallies: BTreeMap::new(), missed: Vec::new(), alarms: BTreeMap::new() };
    let judges: Vec<_> = programs
        .iter()
        .map(|(text, job, face)| {
            let oracle = Oracle::new(job, face);
            let sound = oracle.run(text);
            assert!(sound.harm.is_empty(), "the untouched program does harm: {:?}", sound.harm);
            (oracle, sound)
        })
        .collect();
    let mut done = 0;
    while done < count {
        let kind = KINDS[done % KINDS.len()];
        let which = dice.below(programs.len());
        let (text, job, face) = &programs[which];
        done += 1;
        let Some(faulty) = faults::make(kind, text, &mut dice) else { continue };
        let (oracle, sound) = &judges[which];
        let harm = oracle.harm(&faulty, sound);
        let report = prove(faulty.as_bytes(), job, face);
        let stopped = report.verdict == Verdict::Stop;
        let tally = trial.tallies.entry(kind).or_default();
        tally.tried += 1;
        if harm.is_empty() {
            if stopped {
                tally.false_alarms += 1;
                for f in report.findings().iter().filter(|f| f.rank == Rank::Stop) {
                    *trial.alarms.entry(f.kind).or_default() += 1;
                }
            }
        } else {
            tally.harmful += 1;
            if stopped {
                tally.caught += 1;
            } else {
                trial.missed.push(format!("{kind}: {harm:?}\n{}", difference(text, &faulty)));
            }
        }
    }
    trial
}

fn difference(a: &str, b: &str) -> String {
    let at = a.lines().zip(b.lines()).position(|(x, y)| x != y).unwrap_or(0);
    let line = |t: &str| t.lines().nth(at).unwrap_or("(end)").to_owned();
    format!("  line {}: {}  became  {}", at + 1, line(a), line(b))
}

impl Trial {
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
fn the_untouched_program_is_not_stopped() {
    let (text, job, face) = hand::case();
    let report = prove(text.as_bytes(), &job, &face);
    let stops: Vec<_> = report.findings().iter().filter(|f| f.rank != Rank::Note).collect();
    assert!(stops.is_empty(), "{text}\n{report}");
}

/// Faults in all, from the environment: the long run by hand is `FAULTS=50000 cargo test --release --test trial -- --nocapture`.
fn count() -> usize {
    std::env::var("FAULTS").ok().and_then(|v| v.parse().ok()).unwrap_or(3000)
}

#[test]
fn every_harmful_fault_is_stopped() {
    let trial = trial(&[hand::case()], count(), 7);
    println!("{}", trial.table());
    println!("stops on the harmless: {:?}", trial.alarms);
    assert!(
        trial.missed.is_empty(),
        "{} missed:\n{}",
        trial.missed.len(),
        trial.missed.iter().take(20).cloned().collect::<Vec<_>>().join("\n")
    );
    let harmful: usize = trial.tallies.values().map(|t| t.harmful).sum();
    assert!(harmful * 4 > count(), "a trial with too little harm in it: {harmful}");
}
