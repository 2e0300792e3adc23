//! Known wheels, measured badly in two hundred ways, must be recovered: face, tilt, bend and damage.
//!
//! The truth is the generator's own; nothing of the survey's mathematics enters it. The table in
//! docs/survey.md is what `cargo test --test all known_wheels -- --nocapture` prints.

use crate::fixtures::known::{Known, ZONE};
use crate::fixtures::{job, wheel};
use facewright::face::lines::Lines;
use facewright::face::restore::{Dent, Restored, restore};
use facewright::face::{Voucher, Wishes};
use facewright::geometry::{Point, Profile};
use facewright::job::{Measured, ScanLine};
use facewright::scan::{Trace, reader};
use facewright::units::{Angle, Length};
use std::path::Path;

const WHEELS: u64 = 200;
/// Damage of this depth on every line at one radius hides the sound face there, millimetres.
const LOST: f64 = 0.015;
/// Cut-off of the filter, as in the demo.
const CUTOFF: f64 = 0.8;

fn measured() -> Measured {
    Measured { filter: Some(Length::mm(CUTOFF)), lines: Vec::new(), ..job::measured() }
}

fn trace(wheel: &Known, line: usize) -> Trace {
    let text = wheel::csv(&["a known wheel"], &wheel.measure(line));
    let scan_line = ScanLine { file: "known.csv".into(), at: Angle::rad(wheel.angles[line]) };
    let scan =
        reader::read(text.as_bytes(), Path::new("known.csv"), &measured()).unwrap_or_else(|e| panic!("{e}"));
    Trace::from_scan(&scan, &scan_line, &measured()).unwrap_or_else(|e| panic!("{e}"))
}

fn restored(traces: &[Trace], wishes: &Wishes) -> Restored {
    let lines = Lines::new(traces, std::iter::empty());
    restore(lines, wishes, Some(CUTOFF))
}

/// What the survey got wrong about one wheel, millimetres.
#[derive(Debug, Clone)]
struct Errors {
    seed: u64,
    /// Highest and lowest place of the turn, signed, at radii inside the zone for which the survey vouches.
    face: Vec<f64>,
    /// Radii inside the zone at which the survey warns that it has but one line's word: every line is damaged there.
    unsure: usize,
    /// How far the face lies too low where every line crosses damage, signed.
    copied: f64,
    tilt: f64,
    bend: f64,
    /// None where nothing deep enough to tell lies under the lines.
    damage: Option<Damage>,
}

/// How far the deepest damage was told wrong, and how far the survey says that it may be.
#[derive(Debug, Clone, Copy)]
struct Damage {
    off: f64,
    uncertainty: f64,
}

fn errors(seed: u64) -> Errors {
    let wheel = Known::of(seed);
    let traces: Vec<Trace> = (0..wheel.angles.len()).map(|line| trace(&wheel, line)).collect();
    let found = restored(&traces, &Wishes::default());
    let turn = found.turn.as_ref().unwrap_or_else(|| panic!("{seed}: no turn"));
    let tilt = found.tilt.unwrap_or_else(|| panic!("{seed}: no tilt")).tilt;

    // Where every line crosses damage the sound face was not measured: no survey can know it, but it must say so.
    let lost = |x: f64| wheel.angles.iter().all(|&a| wheel.damage(x, a) > LOST);
    let rows = found.lines.x.iter().zip(&found.consensus.face).zip(&found.consensus.voucher);
    let inside = || rows.clone().filter(|((x, _), _)| (ZONE[0]..=ZONE[1]).contains(*x));
    let unsure = inside().filter(|&(_, &v)| v == Voucher::OneLine).count();
    let known = inside().filter(|&((&x, _), &v)| v != Voucher::OneLine && !lost(x)).map(|(row, _)| row);
    let lost = inside()
        .filter(|&((&x, _), _)| lost(x))
        .map(|((&x, face), _)| face + turn.at(x, |r| r.up) - wheel.over_the_turn(x)[1]);
    let copied = lost.fold(0.0, f64::min);
    let face = known.step_by(3).flat_map(|(&x, face)| {
        let [low, high] = wheel.over_the_turn(x);
        [face + turn.at(x, |r| r.up) - high, face + turn.at(x, |r| r.down) - low]
    });
    let [slope, high_side] = wheel.tilt;
    let deepest = wheel.deepest_on_lines();
    // As the survey does, dents beyond the zone are left out: nothing is cut there.
    let in_zone = |d: &&Dent| d.from <= ZONE[1] && ZONE[0] <= d.to;
    let told = found.dents.iter().filter(in_zone).max_by(|a, b| a.depth.total_cmp(&b.depth));
    let (told, uncertainty) = told.map_or((0.0, 0.0), |d| (d.depth, d.uncertainty));
    Errors {
        seed,
        face: face.collect(),
        unsure,
        copied,
        tilt: ZONE[1] * (tilt.cos - slope * high_side.cos()).hypot(tilt.sin - slope * high_side.sin()),
        bend: (turn.at(ZONE[1], |r| r.bend) - 2.0 * wheel.bend[0]).abs(),
        // Depth is counted from the face: where that is lost, and told so, there is no depth to hold it to.
        damage: (copied > -LOST && (deepest > 0.05 || told > 0.05))
            .then_some(Damage { off: (told - deepest).abs(), uncertainty }),
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index within the values")]
fn share(mut values: Vec<f64>, share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let last = values.len() - 1;
    values[(last as f64 * share).round() as usize]
}

fn table_row(name: &str, values: &[f64]) -> String {
    let [median, most, worst] = [0.5, 0.99, 1.0].map(|s| share(values.to_vec(), s));
    format!("| {name} | {median:.4} | {most:.4} | {worst:.4} |")
}

/// A number from the environment: other wheels come by `WHEELS_FROM=1000 cargo test --test all known_wheels -- --nocapture`, more of them
/// by `WHEELS=1000` beside it.
fn asked(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(usual)
}

#[test]
fn two_hundred_known_wheels_are_recovered() {
    let first = asked("WHEELS_FROM", 0);
    let seeds: Vec<u64> = (first..first + asked("WHEELS", WHEELS)).collect();
    let (left, right) = seeds.split_at(seeds.len() / 2);
    let all: Vec<Errors> = std::thread::scope(|scope| {
        let there = scope.spawn(|| left.iter().map(|&s| errors(s)).collect::<Vec<_>>());
        let here: Vec<Errors> = right.iter().map(|&s| errors(s)).collect();
        there.join().unwrap_or_else(|_| panic!("a wheel panicked")).into_iter().chain(here).collect()
    });

    let face: Vec<f64> = all.iter().flat_map(|e| &e.face).map(|e| e.abs()).collect();
    let of = |f: fn(&Errors) -> f64| all.iter().map(f).collect::<Vec<f64>>();
    let damage: Vec<Damage> = all.iter().filter_map(|e| e.damage).collect();
    let off: Vec<f64> = damage.iter().map(|d| d.off).collect();
    println!("{} wheels from {first}:", all.len());
    println!("| error, mm | median | 99 % | worst |\n|---|---|---|---|");
    println!("{}", table_row("highest and lowest place, every radius", &face));
    println!(
        "{}",
        table_row(
            "the same, 99 % of each wheel",
            &of(|e| share(e.face.iter().map(|e| e.abs()).collect(), 0.99))
        )
    );
    println!("{}", table_row("tilt at the rim", &of(|e| e.tilt)));
    println!("{}", table_row("bend at the rim", &of(|e| e.bend)));
    println!("{}", table_row("deepest damage", &off));
    let of_damage = |is: fn(&Damage) -> bool| damage.iter().filter(|d| is(d)).count();
    let beyond = of_damage(|d| d.off > d.uncertainty);
    println!(
        "told as unsure, one line's word: {} radii on {} wheels",
        all.iter().map(|e| e.unsure).sum::<usize>(),
        all.iter().filter(|e| e.unsure > 0).count()
    );
    println!(
        "every line damaged at one radius: {} wheels, the face there over 0.015 mm too low on {}",
        all.iter().filter(|e| e.copied < 0.0).count(),
        all.iter().filter(|e| e.copied < -0.015).count()
    );
    println!(
        "damage on {} wheels; over 0.02 mm off: {}; told as known no better than 0.02 mm: {}; off by more than told: {beyond}",
        damage.len(),
        of_damage(|d| d.off > 0.02),
        of_damage(|d| d.uncertainty > 0.02),
    );

    for e in &all {
        let seed = e.seed;
        let most = share(e.face.iter().map(|e| e.abs()).collect(), 0.99);
        assert!(most <= 0.015, "wheel {seed}: face {most:.4} mm at 99 % of the radii");
        let low = e.face.iter().copied().fold(f64::INFINITY, f64::min);
        assert!(low > -0.1, "wheel {seed}: a dent of {low:.3} mm is left in the face");
        // A dent on all lines that differs from line to line is told; only its like on all of them is taken for shape.
        assert!(
            e.copied > -0.1 || e.unsure > 0,
            "wheel {seed}: a dent of {:.3} mm is copied unsaid",
            e.copied
        );
        let high = e.face.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert!(high < 0.1, "wheel {seed}: {high:.3} mm of a feature are mended away");
        assert!(e.tilt <= 0.01, "wheel {seed}: tilt {:.4} mm", e.tilt);
        assert!(e.bend <= 0.02, "wheel {seed}: bend {:.4} mm", e.bend);
        // A furrow's tip that falls between two readings of 0.01 mm noise is not known better than this.
        assert!(e.damage.is_none_or(|d| d.off <= 0.025), "wheel {seed}: damage {:?}", e.damage);
    }
    let most = share(off, 0.99);
    assert!(most <= 0.02, "damage {most:.4} mm at 99 % of the wheels");
    // Told as three standard deviations: of normal errors one in 370 lies beyond.
    assert!(beyond * 50 <= damage.len(), "{beyond} of {} are off by more than told", damage.len());
}

/// A flat face with a dip, as traces without noise.
fn dips(lines: usize, dipped: &[usize], depth: f64) -> Vec<Trace> {
    (0..lines)
        .map(|line| {
            let z = |x: f64| if dipped.contains(&line) && (118.0..124.0).contains(&x) { -depth } else { 0.0 };
            let points = (0..=1000).map(|i| f64::from(i) * 0.1 + 70.0).map(|x| Point::new(x, z(x))).collect();
            let profile = Profile::new(points).unwrap_or_else(|e| panic!("{e}"));
            Trace::exact(Angle::deg(360.0 / lines as f64 * line as f64), profile)
        })
        .collect()
}

fn lowest(r: &Restored) -> f64 {
    r.consensus.face.iter().copied().fold(f64::INFINITY, f64::min)
}

#[test]
fn a_dip_on_all_lines_is_the_wheels_own() {
    let r = restored(&dips(3, &[0, 1, 2], 0.4), &Wishes::default());
    assert!((lowest(&r) + 0.4).abs() < 1e-9);
    assert!(r.dents.is_empty());
}

#[test]
fn a_dip_on_some_lines_is_mended() {
    for dipped in [&[1][..], &[0, 2]] {
        let r = restored(&dips(3, dipped, 0.4), &Wishes::default());
        assert!(lowest(&r) > -1e-6, "{dipped:?}: {}", lowest(&r));
        assert_eq!(r.dents.len(), dipped.len());
        assert!(r.dents.iter().all(|d| d.depth >= 0.4 && d.voucher != Voucher::OneLine));
    }
}

/// A burr on one line of four is likelier than the same dent on the three others; of two lines nobody can say.
#[test]
fn a_burr_on_one_line_of_many_does_not_lift_the_face() {
    for (lines, burred) in [(4, 1), (5, 0), (6, 5)] {
        let r = restored(&dips(lines, &[burred], -0.1), &Wishes::default());
        let highest = r.consensus.face.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert!(highest < 1e-6, "{lines} lines: {highest}");
        assert!(r.dents.is_empty(), "{lines} lines: {:?}", r.dents);
        assert!(r.raised.iter().any(|d| d.line == burred && d.depth >= 0.1), "{lines} lines: {:?}", r.raised);
    }
}

#[test]
fn a_person_has_the_last_word_on_a_dip() {
    let here = vec![(117.0, 125.0)];
    let mended = restored(&dips(3, &[0, 1, 2], 0.4), &Wishes { mend: here.clone(), leave: vec![] });
    assert!(lowest(&mended) > -1e-6);
    let left = restored(&dips(3, &[0, 1], 0.4), &Wishes { mend: vec![], leave: here });
    assert!(left.dents.is_empty());
    assert!(lowest(&left) < -0.1);
}
