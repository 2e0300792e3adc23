//! The limits of a job on drawn wheels: what breaks one by more than the noise is not cut, what keeps it is not refused for it.

use super::judge::{self, Truth};
use super::seeds;
use super::trial::{Ask, Trial};
use facewright::diagnostics::Rank;
use facewright::survey::Verdict;

/// Beside a limit by this much a wheel is beyond doubt: run-out and clean-up depth are known better.
const BEYOND_DOUBT: f64 = 0.03;
/// A rough pass of the demo's schedule that a clean-up depth may be rounded up by, and a finish pass.
const PASSES: f64 = 0.15;

#[test]
fn run_out_is_held_against_its_limit() {
    let mut wrong = Vec::new();
    for seed in seeds(40, 4) {
        let mut trial = Trial::of(seed, Ask { lines: 7, ..Ask::default() });
        let run_out = Truth::of(&trial).run_out();
        if run_out > 2.0 * BEYOND_DOUBT {
            trial.run_out_limit = run_out - BEYOND_DOUBT;
            if let Ok(survey) = trial.survey()
                && survey.verdict == Verdict::Cut
            {
                wrong.push(format!(
                    "seed {seed}: runs out {run_out:.3}, limit {:.3}: cut",
                    trial.run_out_limit
                ));
            }
        }
        trial.run_out_limit = run_out + BEYOND_DOUBT;
        match trial.survey() {
            Err(error) => wrong.push(format!("seed {seed}: {error}")),
            Ok(survey) if survey.verdict != Verdict::Cut => {
                wrong.push(format!(
                    "seed {seed}: runs out {run_out:.3}, limit {:.3}: {}",
                    trial.run_out_limit,
                    judge::words(&survey)
                ));
            }
            Ok(_) => {}
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_wheel_without_metal_enough_is_not_cut() {
    let mut wrong = Vec::new();
    for seed in seeds(41, 4) {
        let mut trial = Trial::of(seed, Ask { lines: 5, ..Ask::default() });
        let truth = Truth::of(&trial);
        if truth.clean_up() > 2.0 * BEYOND_DOUBT {
            trial.allowance = truth.clean_up() - BEYOND_DOUBT;
            if let Ok(survey) = trial.survey()
                && survey.verdict == Verdict::Cut
            {
                wrong.push(format!(
                    "seed {seed}: needs {:.3}, may lose {:.3}: cut",
                    truth.clean_up(),
                    trial.allowance
                ));
            }
        }
        trial.allowance = truth.clean_up_at_most() + PASSES + BEYOND_DOUBT;
        match trial.survey() {
            Err(error) => wrong.push(format!("seed {seed}: {error}")),
            Ok(survey) => {
                let refused = survey.findings.iter().any(|f| f.rank >= Rank::Remount);
                if refused {
                    wrong.push(format!("seed {seed}: {}", judge::words(&survey)));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
