//! The kept demo is what its generator makes, and it loads.

#[path = "common/wheel.rs"]
mod wheel;

use facewright::job;
use std::path::Path;

fn demo() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data"))
}

#[test]
fn the_kept_scans_are_what_the_generator_makes() {
    for (name, text) in wheel::demo_scans().into_iter().chain(wheel::bent_scans()) {
        let kept = std::fs::read_to_string(demo().join(&name)).unwrap();
        assert!(kept == text, "{name} differs: `cargo run --example make_demo` writes it anew");
        let points = text.lines().filter(|l| !l.starts_with(['#', 'x'])).count();
        assert!((700..=2000).contains(&points), "{name}: {points} points");
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

/// The damage that the job file states covers the damage that the wheel has.
#[test]
fn the_job_states_the_damage_that_the_wheel_has() {
    let job = job::load(&demo().join("job.yaml")).unwrap_or_else(|e| panic!("{e}"));
    let wheel = wheel::demo_wheel();
    for scrape in &wheel.damage {
        let stated = job.damage.iter().find(|d| d.from.as_mm() <= scrape.from && d.to.as_mm() >= scrape.to);
        assert!(
            stated.is_some_and(|d| d.depth.as_mm() >= scrape.depth),
            "{scrape:?} against {:?}",
            job.damage
        );
    }
}
