//! The kept demo is what its generator makes, and it loads.

use crate::fixtures::{hard, wheel};
use facewright::job;
use std::path::Path;

fn demo() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data"))
}

#[test]
fn the_kept_scans_are_what_the_generator_makes() {
    let all = [wheel::demo_scans(), wheel::demo_scans_again(), wheel::bent_scans(), hard::hard_scans()];
    for (name, text) in all.into_iter().flatten() {
        let kept = std::fs::read_to_string(demo().join(&name)).unwrap();
        assert!(kept == text, "{name} differs: `cargo run --example make_demo` writes it anew");
        let points = text.lines().filter(|l| !l.starts_with(['#', 'x'])).count();
        assert!((700..=6000).contains(&points), "{name}: {points} points");
    }
}

#[test]
fn the_demo_loads() {
    let job = job::load(&demo().join("job.yaml")).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(job.measured.lines.len(), 3);
    assert_eq!(job.tools.len(), 2);
    for line in &job.measured.lines {
        assert!(line.file.is_file(), "{}", line.file.display());
    }
}

/// Each fault that the hard demo is there for stands in its scans.
#[test]
fn the_hard_scans_have_every_fault() {
    let scans: Vec<(String, Vec<(f64, String)>)> =
        hard::hard_scans().into_iter().map(|(name, text)| (name, rows(&text))).collect();
    for (name, rows) in &scans {
        for word in hard::DROP_OUTS {
            assert!(rows.iter().any(|(_, z)| z == word), "{name}: no drop-out written {word:?}");
        }
        let at_rest = rows.chunk_by(|a, b| a.0 == b.0).map(<[_]>::len).max();
        assert!(at_rest.is_some_and(|n| n >= 200), "{name}: rests for {at_rest:?}");
        let turns = rows.windows(3).filter(|w| (w[1].0 - w[0].0) * (w[2].0 - w[1].0) < 0.0).count();
        assert!(turns >= 4, "{name}: turns round {turns} times");
        let steps: Vec<f64> = rows.windows(2).map(|w| (w[1].0 - w[0].0).abs()).filter(|s| *s > 0.0).collect();
        let longest = steps.iter().copied().fold(0.0, f64::max);
        assert!(steps.iter().any(|s| *s < 0.05) && longest > 0.17, "{name}: even steps");
        // Off the face at both ends: farther down than any of it.
        let lowest = |of: fn(f64) -> bool| {
            let heights = rows.iter().filter(|(x, _)| of(*x)).filter_map(|(_, z)| z.parse::<f64>().ok());
            heights.filter(|z| *z > -100.0).fold(f64::INFINITY, f64::min)
        };
        assert!(lowest(|x| x < hard::FACE[0]) < -20.0, "{name}: stays on the face inward");
        assert!(lowest(|x| x > hard::FACE[1]) < -8.5, "{name}: stays on the face outward");
        let wild = rows.iter().filter(|(x, z)| {
            let face = wheel::demo_face(*x);
            (66.0..214.0).contains(x) && z.parse::<f64>().is_ok_and(|z| (z - face).abs() > 0.38 && z > -100.0)
        });
        assert!(wild.count() >= 25, "{name}: too few spikes");
    }
    let first_and_last = |(_, rows): &(String, Vec<(f64, String)>)| Some((rows.first()?.0, rows.last()?.0));
    let ends: Vec<(f64, f64)> = scans.iter().filter_map(first_and_last).collect();
    assert!(ends.iter().any(|(a, b)| a - b > 100.0), "none drawn inward: {ends:?}");
    assert!(ends.iter().any(|(a, b)| (a - b).abs() < 1.0), "none drawn out and back: {ends:?}");
    let skips = |rows: &[(f64, String)]| rows.windows(2).any(|w| (1.5..2.0).contains(&(w[1].0 - w[0].0)));
    assert!(scans.iter().any(|(_, rows)| skips(rows)), "no gap");
}

fn rows(text: &str) -> Vec<(f64, String)> {
    let fields = text.lines().filter(|l| !l.starts_with(['#', 'x'])).filter_map(|l| l.split_once(','));
    fields.filter_map(|(x, z)| Some((x.parse().ok()?, z.to_owned()))).collect()
}

/// The damage that the job file states covers the damage that the wheel has.
#[test]
fn the_job_states_the_damage_that_the_wheel_has() {
    for (name, wheel) in [("job.yaml", wheel::demo_wheel()), ("hard/job.yaml", hard::hard_wheel())] {
        let job = job::load(&demo().join(name)).unwrap_or_else(|e| panic!("{e}"));
        for scrape in &wheel.damage {
            let covers = |d: &&job::Damage| d.from.as_mm() <= scrape.from && d.to.as_mm() >= scrape.to;
            let stated = job.damage.iter().find(covers);
            assert!(
                stated.is_some_and(|d| d.depth.as_mm() >= scrape.depth),
                "{name}: {scrape:?} against {:?}",
                job.damage
            );
        }
    }
}
