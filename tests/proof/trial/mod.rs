//! The trial by fault: programs with one fault each; an oracle says which would do harm, and proof must stop every one of those.
// A harness that counts and indexes samples of its own making: its casts cannot meet a number that does not fit.
#![allow(clippy::pedantic)]

mod demo;
mod edits;
mod faults;
mod hand;
mod oracle;
mod people;
mod rules;
mod walk;

use crate::fixtures::page;
use edits::{EDITS, Says};
use facewright::face::Face;
use facewright::job::{Arcs, Job};
use facewright::proof::{Circumstances, Finding, Rank, Report, Verdict, prove_in};
use facewright::units::Length;
use faults::{Dice, KINDS};
use oracle::{Oracle, Seen, Sound};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::thread;

/// A sound program with what it is proved against.
struct Case {
    name: String,
    text: String,
    /// The parts that run before it, where it is a later part of a split program.
    before: Vec<String>,
    /// What those took, as the writer says.
    already: Length,
    /// Whether another part follows.
    goes_on: bool,
    job: Job,
    face: Face,
}

/// What came of the faults of one kind.
#[derive(Debug, Default, Clone, Copy)]
struct Tally {
    tried: usize,
    harmful: usize,
    caught: usize,
    /// Harmless and stopped, by a rule that asks for it.
    by_rule: usize,
    /// Harmless and stopped, and nothing asks for it.
    false_alarms: usize,
    /// Harmless, not stopped, and warned of.
    warned: usize,
}

impl std::ops::AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.tried += other.tried;
        self.harmful += other.harmful;
        self.caught += other.caught;
        self.by_rule += other.by_rule;
        self.false_alarms += other.false_alarms;
        self.warned += other.warned;
    }
}

/// What came of a whole trial.
#[derive(Default)]
struct Trial {
    tallies: BTreeMap<&'static str, Tally>,
    missed: Vec<String>,
    /// What came to harm, and in how many programs.
    judges: BTreeMap<&'static str, usize>,
    /// Which rules asked for stops on harmless programs, by finding, and how often: a program counts once for each.
    asked: BTreeMap<(&'static str, &'static str), usize>,
    /// Programs that were stopped and should not have been, each with its findings.
    false_alarms: Vec<String>,
}

/// The demo's programs for every control, each part of a split one for itself, and one written by hand.
fn cases() -> Vec<Case> {
    let mut cases = demo::cases();
    cases.push(hand::case());
    cases
}

impl Case {
    /// The job, and the radii at which the readings end.
    fn measured(&self) -> (&Job, [f64; 2]) {
        (&self.job, [self.face.highest.start(), self.face.highest.end()])
    }

    /// Whether a report stops nothing and warns of nothing but what is known of the case untouched.
    fn quiet_about(&self, report: &Report) -> bool {
        let by_hand = |f: &Finding| self.name == "by hand" && KNOWN_BY_HAND.contains(&f.rule.id());
        // Blanks and line ends count where the control's memory is full.
        let full = |f: &Finding| self.name.starts_with("in parts") && f.rule.id() == "large-program";
        let known = |f: &&Finding| by_hand(f) || full(f);
        !report.findings().iter().filter(|f| f.rank >= Rank::Warning).any(|f| !known(&f))
    }
}

/// What is said of the program by hand: it stops with the tool over the wheel.
const KNOWN_BY_HAND: [&str; 1] = ["stop-away-from-park"];

/// Whether a harm is one that the program by hand does untouched.
fn known_by_hand(name: &str, harm: &str) -> bool {
    name == "by hand" && harm == "stop over the wheel"
}

/// What tells of metal that a program of several leaves.
const LEFT_STANDING: &[&str] = &["takes-nothing", "metal-left", "gouge", "air-pass-uneven", "no-air-pass"];

/// Proves a text in place of a case's own.
fn proved(case: &Case, text: &str) -> Report {
    prove_in(
        text.as_bytes(),
        &case.job,
        &case.face,
        &Circumstances { already: case.already, goes_on: case.goes_on, ..Circumstances::default() },
    )
}

/// What a trial draws from its seeds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Draws {
    /// One of the first list.
    Fault,
    /// One of the second.
    Edit,
    /// Two of either, one after the other.
    Pair,
}

/// A case with something wrong in it.
struct Drawn {
    seed: usize,
    which: usize,
    text: String,
    /// What it is called, in the table and in what is printed.
    kind: &'static str,
    name: String,
    says: Option<Says>,
}

/// The draws `from..count` in steps of `by`, each from its own seed: the same whatever runs beside it.
fn some(
    cases: &[Case],
    judges: &[(Oracle, Sound)],
    draws: Draws,
    (from, count, by): (usize, usize, usize),
) -> Trial {
    let mut trial = Trial::default();
    let first = self::count("FROM", 0);
    for i in (from..count).step_by(by).map(|i| first + i) {
        let Some(drawn) = draw(draws, i, cases) else { continue };
        let (case, (oracle, sound)) = (&cases[drawn.which], &judges[drawn.which]);
        let mut seen = oracle.judge(&drawn.text, sound);
        let people = people::harms(&drawn.text, &case.text, &case.job, !case.before.is_empty());
        if case.goes_on && seen.harm.is_empty() && seen.broken.contains(&"left standing") {
            // The program behind it takes that beside its own.
            seen.harm.push("left standing");
        }
        let report = proved(case, &drawn.text);
        trial.note(&drawn, case, (&seen, &people), &report);
    }
    trial
}

/// What a seed draws.
fn draw(draws: Draws, i: usize, cases: &[Case]) -> Option<Drawn> {
    let dice = &mut Dice::new(i as u64);
    match draws {
        Draws::Fault => {
            let kind = KINDS[i % KINDS.len()];
            let (which, text) =
                placed(cases, dice, |case, dice| faults::make(kind, &case.text, &case.job.control, dice))?;
            Some(Drawn { seed: i, which, text, kind, name: kind.to_owned(), says: None })
        }
        Draws::Edit => {
            let (kind, says) = EDITS[i % EDITS.len()];
            let (which, text) =
                placed(cases, dice, |case, dice| edits::make(kind, &case.text, case.measured(), dice))?;
            Some(Drawn { seed: i, which, text, kind, name: kind.to_owned(), says: Some(says) })
        }
        Draws::Pair => {
            let either = |case: &Case, text: &str, kind: usize, dice: &mut Dice| match KINDS.get(kind) {
                Some(fault) => faults::make(fault, text, &case.job.control, dice),
                None => edits::make(EDITS[kind - KINDS.len()].0, text, case.measured(), dice),
            };
            let all = KINDS.len() + EDITS.len();
            let (a, b) = (dice.below(all), dice.below(all));
            let (which, text) = placed(cases, dice, |case, dice| {
                let once = either(case, &case.text, a, dice)?;
                either(case, &once, b, dice).filter(|twice| *twice != case.text)
            })?;
            let called =
                |kind: usize| KINDS.get(kind).copied().unwrap_or_else(|| EDITS[kind - KINDS.len()].0);
            Some(Drawn {
                seed: i,
                which,
                text,
                kind: "pairs",
                name: format!("{}, {}", called(a), called(b)),
                says: None,
            })
        }
    }
}

/// A fault in one of the programs where it finds a place, each as likely as the others.
fn placed(
    cases: &[Case],
    dice: &mut Dice,
    make: impl Fn(&Case, &mut Dice) -> Option<String>,
) -> Option<(usize, String)> {
    (0..20).find_map(|_| {
        let which = dice.below(cases.len());
        Some((which, make(&cases[which], dice)?))
    })
}

fn trial(cases: &[Case], draws: Draws, count: usize) -> Trial {
    let judges: Vec<_> = cases
        .iter()
        .map(|case| {
            let Case { name, text, before, job, face, .. } = case;
            let mut oracle = Oracle::new(job, face);
            before.iter().for_each(|part| oracle.goes_on_after(part));
            let mut sound = oracle.sound(text);
            if let Some(closer) = demo::closer(case) {
                sound = sound.said_by(&oracle.sound(&closer));
            }
            assert!(sound.harm().is_empty(), "{name}: untouched, it does harm: {:?}", sound.harm());
            let people = people::harms(text, text, job, !before.is_empty());
            assert!(
                people.iter().all(|h| known_by_hand(name, h)),
                "{name}: untouched, it harms people: {people:?}"
            );
            (oracle, sound)
        })
        .collect();
    let workers = thread::available_parallelism().map_or(1, usize::from);
    thread::scope(|scope| {
        let judges = &judges;
        let parts: Vec<_> = (0..workers)
            .map(|w| scope.spawn(move || some(cases, judges, draws, (w, count, workers))))
            .collect();
        parts.into_iter().fold(Trial::default(), |all, part| all.and(part.join().expect("a worker ends")))
    })
}

fn difference(a: &str, b: &str) -> String {
    let at = a.lines().zip(b.lines()).position(|(x, y)| x != y).unwrap_or(0);
    let line = |t: &str| t.lines().nth(at).unwrap_or("(end)").to_owned();
    format!("  line {}: {}  became  {}", at + 1, line(a), line(b))
}

impl Trial {
    /// Notes what the oracles and the proof say of one draw.
    fn note(
        &mut self,
        drawn: &Drawn,
        case: &Case,
        (seen, people): (&Seen, &[&'static str]),
        report: &Report,
    ) {
        let stopped = report.verdict == Verdict::Stop;
        let told: BTreeSet<&str> =
            report.findings().iter().filter(|f| f.rank >= Rank::Warning).map(|f| f.rule.id()).collect();
        let said = |rules: &[&str]| rules.iter().any(|r| told.contains(r));
        let people: Vec<&'static str> =
            people.iter().copied().filter(|h| !known_by_hand(&case.name, h)).collect();
        // Metal that stays is told; what is gone stops.
        let wheel = seen.harm.iter().any(|h| *h != "left standing");
        let standing = seen.harm.contains(&"left standing");
        let mut unsaid: Vec<String> = Vec::new();
        if wheel && !stopped {
            unsaid.push(format!("wheel: {:?}", seen.harm));
        }
        if standing && !wheel && !stopped && !said(LEFT_STANDING) {
            unsaid.push("left standing".into());
        }
        let bears = |harm: &&&'static str| !said(people::bearing(harm));
        let pair = drawn.kind == "pairs";
        if !(pair && stopped) {
            unsaid.extend(people.iter().filter(bears).map(|h| format!("people: {h}")));
        }
        let quiet = case.quiet_about(report);
        match drawn.says {
            Some(Says::Any(rules)) if !said(rules) => unsaid.push(format!("asked: {rules:?}")),
            Some(Says::Nothing) if !quiet => {
                self.false_alarms.push(format!("{}: {}: {told:?}", case.name, drawn.name));
            }
            _ => {}
        }
        let harmful = wheel || standing || !people.is_empty() || matches!(drawn.says, Some(Says::Any(_)));
        let tally = self.tallies.entry(drawn.kind).or_default();
        tally.tried += 1;
        tally.harmful += usize::from(harmful);
        tally.caught += usize::from(harmful && unsaid.is_empty());
        if wheel || standing {
            *self.judges.entry("the wheel").or_default() += 1;
        }
        for harm in &people {
            *self.judges.entry(harm).or_default() += 1;
        }
        if !harmful && seen.broken.contains(&oracle::FILLET_LOWER) {
            *self.judges.entry(oracle::FILLET_LOWER).or_default() += 1;
        }
        if !unsaid.is_empty() {
            let what = difference(&case.text, &drawn.text);
            let Drawn { seed, name, .. } = drawn;
            self.missed
                .push(format!("seed {seed}: {}: {name}: {unsaid:?}, told {told:?}\n{what}", case.name));
        }
        if harmful {
            return;
        }
        if !stopped {
            tally.warned += usize::from(!quiet);
            return;
        }
        let stops = report.findings().iter().filter(|f| f.rank == Rank::Stop);
        let rules: BTreeSet<_> = stops
            .clone()
            .filter_map(|f| Some((rules::of(f.rule.id(), &seen.broken)?, f.rule.id())))
            .collect();
        if rules.is_empty() {
            tally.false_alarms += 1;
            let stops: String = stops.map(|f| format!("    {}: {}\n", f.rule, f.what)).collect();
            let what = difference(&case.text, &drawn.text);
            self.false_alarms
                .push(format!("{}: {}: {:?}\n{what}\n{stops}", case.name, drawn.name, seen.broken));
        } else {
            tally.by_rule += 1;
        }
        for rule in rules {
            *self.asked.entry(rule).or_default() += 1;
        }
    }

    fn and(mut self, other: Self) -> Self {
        for (kind, t) in other.tallies {
            *self.tallies.entry(kind).or_default() += t;
        }
        for (rule, count) in other.asked {
            *self.asked.entry(rule).or_default() += count;
        }
        for (judge, count) in other.judges {
            *self.judges.entry(judge).or_default() += count;
        }
        self.missed.extend(other.missed);
        self.false_alarms.extend(other.false_alarms);
        self
    }

    /// What came of it, as tables.
    fn report(&self) -> String {
        let mut out = String::from(
            "| fault | tried | harmful | told | harmless, stopped by a rule | harmless, stopped for nothing | harmless, warned of |\n|---|---|---|---|---|---|---|\n",
        );
        let mut all = Tally::default();
        let mut line = |kind: &str, t: &Tally| {
            let Tally { tried, harmful, caught, by_rule, false_alarms, warned } = t;
            let _ = writeln!(
                out,
                "| {kind} | {tried} | {harmful} | {caught} | {by_rule} | {false_alarms} | {warned} |"
            );
        };
        for (kind, t) in &self.tallies {
            line(kind, t);
            all += *t;
        }
        line("all", &all);
        let _ = writeln!(out, "\n| what came to harm | programs |\n|---|---|");
        for (judge, count) in &self.judges {
            let _ = writeln!(out, "| {judge} | {count} |");
        }
        let _ = writeln!(out, "\n| rule | finding | harmless programs stopped |\n|---|---|---|");
        for ((rule, kind), count) in &self.asked {
            let _ = writeln!(out, "| {rule} | `{kind}` | {count} |");
        }
        out
    }
}

#[test]
fn the_untouched_programs_are_not_stopped_nor_warned_of_metal() {
    for case in cases() {
        let report = proved(&case, &case.text);
        assert!(case.quiet_about(&report), "{}\n{report}", case.name);
    }
}

/// Every height of both air passes with the other sign, one after the other: where the nose jumps over a stretch, its flanks may stay near the metal.
/// The long run found two of them that proof had let through.
#[test]
fn a_jump_in_the_air_pass_is_stopped_wherever_it_is() {
    let cases = demo::cases();
    let case = cases.iter().find(|c| c.job.control.arcs == Arcs::Radius).expect("a control with radius arcs");
    let oracle = Oracle::new(&case.job, &case.face);
    let sound = oracle.sound(&case.text);
    let lines: Vec<&str> = case.text.lines().collect();
    let mut dry = false;
    let mut harmful = 0;
    for (i, line) in lines.iter().enumerate() {
        dry = !line.contains("M00") && (dry || line.contains("(AIR PASS"));
        let Some((before, height)) = line.split_once(" Z-").filter(|_| dry) else { continue };
        let turned = format!("{before} Z{height}");
        let text: String = (lines.iter().enumerate())
            .map(|(k, l)| format!("{}\n", if k == i { turned.as_str() } else { l }))
            .collect();
        if oracle.judge(&text, &sound).harm.contains(&"no-look") {
            harmful += 1;
            assert_eq!(proved(case, &text).verdict, Verdict::Stop, "line {}: {line}", i + 1);
        }
    }
    assert!(harmful > 2, "{harmful} jumps that hide the path");
}

/// How many are drawn, and from which seed on (`FROM`), from the environment: the long run by hand is
/// `FAULTS=50000 cargo test --release --test all proof::trial -- --nocapture`.
fn count(key: &str, usual: usize) -> usize {
    std::env::var(key).ok().and_then(|v| v.parse().ok()).unwrap_or(usual)
}

/// Runs a trial and prints it.
fn tried(draws: Draws, count: usize) -> Trial {
    let trial = trial(&cases(), draws, count);
    println!("{}", trial.report());
    trial
}

/// What the trial of every test gives stands in docs/proof.md; one by hand is told apart by its count or its seeds.
fn stands_in_docs(trial: &Trial, key: &str, usual: usize) {
    if count(key, usual) == usual && count("FROM", 0) == 0 {
        let mark = format!("trial of {}", key.to_lowercase());
        page::holds("docs/proof.md", [&mark, "end of trial"], &trial.report());
    }
}

/// Runs a trial, and fails where something harmful is not said.
fn judge(draws: Draws, key: &str, usual: usize, harmful: usize) {
    let count = count(key, usual);
    let trial = tried(draws, count);
    println!("false alarms: {}", trial.false_alarms.len());
    trial.false_alarms.iter().for_each(|alarm| println!("{alarm}"));
    assert!(
        trial.missed.is_empty(),
        "{} missed:\n{}",
        trial.missed.len(),
        trial.missed.iter().take(60).cloned().collect::<Vec<_>>().join("\n")
    );
    let all = |of: fn(&Tally) -> usize| trial.tallies.values().map(of).sum::<usize>();
    assert!(all(|t| t.tried) * 16 > count * 15, "kinds of fault find no place");
    assert!(all(|t| t.harmful) * harmful > count, "a trial with too little harm in it");
    stands_in_docs(&trial, key, usual);
}

#[test]
fn every_harmful_fault_is_stopped() {
    judge(Draws::Fault, "FAULTS", 800, 4);
}

/// The second list: what people, editors and transfers do, each with the rule that bears on it. Of what is harmless nothing is said.
#[test]
fn every_edit_is_told_by_its_own_rule() {
    let trial = tried(Draws::Edit, count("EDITS", 500));
    let missed: String = trial.missed.iter().chain(&trial.false_alarms).map(|m| format!("{m}\n")).collect();
    assert!(missed.is_empty(), "{missed}");
    stands_in_docs(&trial, "EDITS", 500);
}

/// Two at once: one may hide the other.
#[test]
fn no_pair_of_faults_is_harmful_and_unsaid() {
    judge(Draws::Pair, "PAIRS", 200, 3);
}
