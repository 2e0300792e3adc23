//! Families of drawn wheels: what the survey tells of each, against its truth.

use super::judge::{self, Complaint, Truth};
use super::seeds;
use super::trial::{Ask, Trial};
use facewright::survey::Verdict;

/// What came of one family.
#[derive(Default)]
struct Tally {
    name: &'static str,
    wheels: usize,
    refused: Vec<String>,
    wrong: Vec<String>,
    /// The 99th of a hundred radii's error of the highest place, of each wheel.
    off: Vec<f64>,
}

impl Tally {
    fn new(name: &'static str) -> Self {
        Self { name, ..Self::default() }
    }

    fn wrong(&mut self, trial: &Trial, complaints: &[Complaint], words: &str) {
        let all: Vec<String> = complaints.iter().map(ToString::to_string).collect();
        let wheel = format!(
            "{} lines, {} bends, off centre {:.3}, {} damaged, {} gaps",
            trial.lines.len(),
            trial.wheel.bends.len(),
            trial.wheel.off_centre[0],
            trial.wheel.damage.len(),
            trial.wheel.gaps.len()
        );
        self.wrong.push(format!("seed {} ({wheel}): {} [{words}]", trial.seed, all.join("; ")));
    }

    fn refused(&mut self, trial: &Trial, words: &str) {
        self.refused.push(format!("seed {} refused: {words}", trial.seed));
    }

    /// Prints the family and fails where a wheel is told wrong, or more than 2 % are refused for nothing.
    fn close(mut self) {
        self.off.sort_by(f64::total_cmp);
        let at = |share: f64| {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index")]
            let i = (share * self.off.len() as f64) as usize;
            self.off.get(i.min(self.off.len().saturating_sub(1))).copied().unwrap_or(f64::NAN)
        };
        println!(
            "{}: {} wheels, {} wrong, {} refused for nothing; highest place at 99 % of the radii: {:.4} mm in the median, {:.4} mm at worst",
            self.name,
            self.wheels,
            self.wrong.len(),
            self.refused.len(),
            at(0.5),
            at(1.0)
        );
        for line in self.wrong.iter().chain(&self.refused) {
            println!("  {line}");
        }
        assert!(self.wrong.is_empty(), "{}: {}", self.name, self.wrong.join("\n"));
        assert!(self.refused.len() * 50 <= self.wheels, "{}: {}", self.name, self.refused.join("\n"));
    }
}

/// The error that 99 % of the radii stay within.
fn off_at_most_radii(errors: &[(f64, f64, f64)]) -> f64 {
    let mut sizes: Vec<f64> = errors.iter().map(|e| e.0.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index")]
    let i = (0.99 * sizes.len() as f64) as usize;
    sizes.get(i).copied().unwrap_or(f64::NAN)
}

/// Wheels whose lines show all there is: every figure must be true, and none is refused.
fn shown(name: &'static str, family: u64, few: u64, ask: Ask) {
    let mut tally = Tally::new(name);
    for seed in seeds(family, few) {
        let trial = Trial::of(seed, ask);
        tally.wheels += 1;
        match trial.survey() {
            Err(error) => tally.refused(&trial, &error.to_string()),
            Ok(survey) => {
                let truth = Truth::of(&trial);
                tally.off.push(off_at_most_radii(&judge::off_highest(&survey, &truth)));
                if survey.verdict == Verdict::Cut {
                    let complaints = judge::judge(&trial, &truth, &survey);
                    if !complaints.is_empty() {
                        tally.wrong(&trial, &complaints, &judge::words(&survey));
                    }
                } else {
                    tally.refused(&trial, &judge::words(&survey));
                }
            }
        }
    }
    tally.close();
}

/// Wheels whose lines cannot show all there is: what is told may be wrong, but never without a word.
fn not_all_shown(name: &'static str, family: u64, few: u64, ask: Ask, accepts: bool) {
    let mut tally = Tally::new(name);
    for seed in seeds(family, few) {
        let mut trial = Trial::of(seed, ask);
        trial.accepts = accepts;
        tally.wheels += 1;
        let Ok(survey) = trial.survey() else { continue };
        let truth = Truth::of(&trial);
        tally.off.push(off_at_most_radii(&judge::off_highest(&survey, &truth)));
        if judge::stands(&survey) || survey.warnings().next().is_some() {
            continue;
        }
        let complaints = judge::judge(&trial, &truth, &survey);
        if !complaints.is_empty() {
            tally.wrong(&trial, &complaints, &judge::words(&survey));
        }
    }
    tally.close();
}

#[test]
fn wheels_with_everything_wrong_at_once_are_told_true() {
    shown("everything at once", 1, 10, Ask::default());
}

#[test]
fn wheels_whose_damage_is_listed_are_told_true() {
    shown("listed damage", 2, 5, Ask { listed: true, ..Ask::default() });
}

#[test]
fn well_measured_wheels_are_told_true() {
    shown("well measured", 3, 5, Ask { well_measured: true, ..Ask::default() });
}

#[test]
fn rash_all_round_that_the_job_lists_is_no_face() {
    shown("listed rash", 4, 4, Ask { rash: true, listed: true, ..Ask::default() });
}

#[test]
fn rash_all_round_that_nobody_lists_is_never_wrong_in_silence() {
    not_all_shown("rash", 5, 4, Ask { rash: true, ..Ask::default() }, true);
}

#[test]
fn a_bend_that_the_lines_cannot_show_is_never_wrong_in_silence() {
    not_all_shown("hidden bend", 6, 5, Ask { hidden_bend: true, ..Ask::default() }, false);
}

/// What is not there does not appear: no bend, no axis, no damage from hand and sensor alone.
#[test]
fn a_plain_wheel_badly_measured_stays_plain() {
    let ask = Ask { plain: true, ..Ask::default() };
    let mut tally = Tally::new("plain");
    for seed in seeds(7, 6) {
        let trial = Trial::of(seed, ask);
        tally.wheels += 1;
        let survey = match trial.survey() {
            Err(error) => {
                tally.refused(&trial, &error.to_string());
                continue;
            }
            Ok(survey) => survey,
        };
        if survey.verdict != Verdict::Cut {
            tally.refused(&trial, &judge::words(&survey));
            continue;
        }
        let truth = Truth::of(&trial);
        tally.off.push(off_at_most_radii(&judge::off_highest(&survey, &truth)));
        let mut complaints = judge::judge(&trial, &truth, &survey);
        let widest = truth.bound.iter().copied().fold(0.0, f64::max);
        if let Some(run_out) = &survey.run_out {
            let mut no_more = |what: &'static str, is: f64, bound: f64, at: f64| {
                if is > bound {
                    complaints.push(Complaint { what, is, bound, at });
                }
            };
            no_more("run-out of a true wheel", run_out.as_mounted_mm, 2.0 * widest, run_out.as_mounted_at_mm);
            no_more("bend of a true wheel", run_out.bend_mm, 2.0 * widest, run_out.bend_at_mm);
            // Off its axis a wheel moves by slope times distance: what moves no place by more than the bound is nobody's harm.
            let steepest =
                truth.radii.iter().map(|&r| trial.wheel.slope_and_curvature(r)[0].abs()).fold(0.0, f64::max);
            let moved = run_out.eccentricity_mm.unwrap_or(0.0) * steepest;
            no_more("a true wheel off its axis, at its steepest", moved, 2.0 * widest, 0.0);
        }
        if !complaints.is_empty() {
            tally.wrong(&trial, &complaints, &judge::words(&survey));
        }
    }
    tally.close();
}
