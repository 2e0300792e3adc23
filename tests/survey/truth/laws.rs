//! Laws of the survey: what must not change, and how what must change does, whatever the wheel.

use super::judge::Truth;
use super::seeds;
use super::trial::{Ask, Trial};
use super::wheel::{Damage, turned};
use facewright::survey::Survey;
use facewright::units::Length;

/// Heights that are equal but for the rounding of sums in another order.
const EQUAL: f64 = 1e-6;
/// Equal but for the directions in which a turn is looked at (4.5° of a wave of 0.3 mm in three lobes).
const EQUAL_TURN: f64 = 0.001;

/// The survey of a trial that must have one.
fn surveyed(trial: &Trial) -> Survey {
    trial.survey().unwrap_or_else(|e| panic!("seed {}: {e}", trial.seed))
}

/// Highest places over the zone.
fn highest(trial: &Trial, survey: &Survey) -> Vec<f64> {
    survey.face().highest.at_each(&trial.radii()).collect()
}

/// The largest difference of two faces, and its radius.
fn differs(trial: &Trial, a: &Survey, b: &Survey) -> (f64, f64) {
    highest(trial, a)
        .iter()
        .zip(&highest(trial, b))
        .zip(trial.radii())
        .map(|((a, b), r)| ((a - b).abs(), r))
        .fold((0.0, 0.0), |w, d| if d.0 > w.0 { d } else { w })
}

/// The share of radii at which two faces differ by more than the noise of both, and the worst of them.
fn differs_beyond_noise(trial: &Trial, a: &Survey, b: &Survey) -> (f64, f64, f64) {
    let truth = Truth::of(trial);
    let (a, b) = (highest(trial, a), highest(trial, b));
    let mut beyond = 0;
    let mut worst = (0.0, 0.0);
    for i in 0..a.len() {
        let off = (a[i] - b[i]).abs();
        if off > truth.bound[i] {
            beyond += 1;
            if off > worst.0 {
                worst = (off, truth.radii[i]);
            }
        }
    }
    (f64::from(beyond) / a.len() as f64, worst.0, worst.1)
}

/// Runs a law over seeds and tells every one that breaks it.
fn holds(family: u64, few: u64, ask: Ask, law: impl Fn(&Trial) -> Result<(), String>) {
    let broken: Vec<String> = seeds(family, few)
        .filter_map(|seed| law(&Trial::of(seed, ask)).err().map(|e| format!("seed {seed}: {e}")))
        .collect();
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

fn within(what: &str, off: f64, bound: f64, at: f64) -> Result<(), String> {
    if off <= bound { Ok(()) } else { Err(format!("{what} {off:.6} (bound {bound:.6}) at {at:.1}")) }
}

#[test]
fn the_parts_add_up() {
    holds(20, 4, Ask::default(), |trial| {
        let survey = surveyed(trial);
        let depth = &survey.depth;
        let sum = depth.run_out_there_mm + depth.damage_there_mm;
        within("run-out and damage against the clean-up depth", (sum - depth.clean_up_mm).abs(), EQUAL, 0.0)?;
        for p in &depth.curve {
            let off = (p.run_out_mm + p.damage_mm - p.clean_up_mm).abs();
            within("run-out and damage against the clean-up depth", off, EQUAL, p.r_mm)?;
            within(
                "clean-up depth at a radius over the whole",
                p.clean_up_mm - depth.clean_up_mm,
                EQUAL,
                p.r_mm,
            )?;
        }
        let face = survey.face();
        let radii = trial.radii();
        let asked = face.clean_up_at_each(&radii).map(Length::as_mm).fold(0.0, f64::max);
        within("the face asks for more than the clean-up depth", asked - depth.clean_up_mm, EQUAL, 0.0)?;
        if let Some(run_out) = &survey.run_out {
            // One thing said twice, as a figure and as two profiles, must be one: both look every quarter of a millimetre.
            let most = radii.iter().map(|&r| face.highest.at(r) - face.lowest.at(r)).fold(0.0, f64::max);
            let off = (most - run_out.as_mounted_mm).abs();
            within("run-out against highest less lowest", off, 2.0 * EQUAL_TURN, run_out.as_mounted_at_mm)?;
            // Taking the tilt off is taking the most off: what is left cannot run out more than twice as far.
            let left = run_out.bend_mm - 2.0 * run_out.as_mounted_mm;
            within("bend over twice the run-out", left, EQUAL_TURN, run_out.bend_at_mm)?;
        }
        Ok(())
    });
}

/// Face, turn and damage of the model leave of the readings of each line nothing but noise: the median over any 8 mm is small.
#[test]
fn face_turn_and_damage_add_up_to_the_readings() {
    const STRETCH: f64 = 8.0;
    let ask = Ask { well_measured: true, ..Ask::default() };
    holds(21, 3, ask, |trial| {
        let survey = surveyed(trial);
        let model = survey.model();
        for (i, line) in trial.lines.iter().enumerate() {
            let mut left: Vec<(f64, f64)> = line
                .rows
                .iter()
                .filter_map(|&(r, z)| z.map(|z| (r, z)))
                .filter(|&(r, _)| r > trial.zone[0] && r < trial.zone[1])
                .filter(|&(r, _)| trial.wheel.height(r, line.angle).is_some())
                .map(|(r, z)| {
                    let dent: f64 =
                        model.damage.iter().filter(|d| d.line == Some(i)).map(|d| d.depth_at(r)).sum();
                    (r, z - (model.line_at(i, r) - dent))
                })
                .collect();
            left.sort_by(|a, b| a.0.total_cmp(&b.0));
            for stretch in left.chunk_by(|a, b| (a.0 / STRETCH).floor() == (b.0 / STRETCH).floor()) {
                let mut sizes: Vec<f64> = stretch.iter().map(|s| s.1).collect();
                sizes.sort_by(f64::total_cmp);
                let middle = sizes[sizes.len() / 2];
                // The median of k readings has 1.25 times the error of their mean; the model's own error stands beside it.
                let s = line.sensor;
                let own = 1.25 * s.noise / (sizes.len() as f64).sqrt();
                let texture = s.texture[0] * (2.0 * s.texture[1] / STRETCH).sqrt();
                let bound = 0.001 + 5.0 * (own * own + texture * texture + 1e-6).sqrt();
                let at = stretch[0].0;
                within("readings less all parts", middle.abs(), bound, at)?;
            }
        }
        Ok(())
    });
}

#[test]
fn a_wheel_turned_on_the_spindle_is_the_same_wheel() {
    holds(22, 3, Ask::default(), |trial| {
        let by = 1.234;
        let (a, b) = (surveyed(trial), surveyed(&trial.turned(by)));
        let (off, at) = differs(trial, &a, &b);
        within("turned wheel's face", off, EQUAL_TURN, at)?;
        if a.verdict != b.verdict {
            return Err(format!("{} becomes {}", a.verdict.words(), b.verdict.words()));
        }
        if let (Some(a), Some(b)) = (&a.run_out, &b.run_out) {
            within("run-out", (a.as_mounted_mm - b.as_mounted_mm).abs(), EQUAL_TURN, a.as_mounted_at_mm)?;
            if let (Some(a), Some(b)) = (&a.tilt, &b.tilt) {
                within("tilt", (a.at_rim_mm - b.at_rim_mm).abs(), EQUAL_TURN, a.rim_mm)?;
                // The high side is printed by the degree at least; a tilt of nothing has none.
                let off = turned((b.high_side_deg - a.high_side_deg).to_radians() - by).abs() * a.at_rim_mm;
                within("high side of the tilt", off, EQUAL_TURN, a.rim_mm)?;
            }
        }
        Ok(())
    });
}

#[test]
fn the_order_of_the_lines_is_of_no_account() {
    holds(23, 3, Ask::default(), |trial| {
        let mut other = trial.clone();
        other.lines.reverse();
        other.lines.rotate_left(1);
        let (a, b) = (surveyed(trial), surveyed(&other));
        let (off, at) = differs(trial, &a, &b);
        within("face", off, EQUAL, at)?;
        within("clean-up depth", (a.depth.clean_up_mm - b.depth.clean_up_mm).abs(), EQUAL, 0.0)?;
        if a.verdict == b.verdict { Ok(()) } else { Err("another verdict".to_owned()) }
    });
}

#[test]
fn all_heights_shifted_shift_the_face_and_nothing_else() {
    holds(24, 3, Ask::default(), |trial| {
        // In whole steps of the text, so that every reading shifts by exactly as much.
        let by = 7.125;
        let mut other = trial.clone();
        for line in &mut other.lines {
            line.rows.iter_mut().for_each(|row| row.1 = row.1.map(|z| (z * 1e5).round() / 1e5 + by));
        }
        let (a, b) = (surveyed(trial), surveyed(&other));
        for ((a, b), r) in highest(trial, &a).iter().zip(&highest(trial, &b)).zip(trial.radii()) {
            within("face", (b - a - by).abs(), EQUAL, r)?;
        }
        within("clean-up depth", (a.depth.clean_up_mm - b.depth.clean_up_mm).abs(), EQUAL, 0.0)?;
        if a.verdict == b.verdict { Ok(()) } else { Err("another verdict".to_owned()) }
    });
}

#[test]
fn distances_are_heights_the_other_way_round() {
    holds(25, 2, Ask::default(), |trial| {
        let mut other = trial.clone();
        other.sense = "distance";
        for line in &mut other.lines {
            line.rows.iter_mut().for_each(|row| row.1 = row.1.map(|z| -z));
        }
        let (a, b) = (surveyed(trial), surveyed(&other));
        let (off, at) = differs(trial, &a, &b);
        within("face", off, EQUAL, at)?;
        if a.verdict == b.verdict { Ok(()) } else { Err("another verdict".to_owned()) }
    });
}

/// A dent on one line is no part of the face: with it and without, the same noise gives the same face within the noise.
#[test]
fn a_scrape_leaves_the_face_as_it_is() {
    let ask = Ask { lines: 6, well_measured: true, ..Ask::default() };
    holds(26, 3, ask, |drawn| {
        let mut sound = drawn.clone();
        sound.wheel.damage.clear();
        sound.wheel.gaps.clear();
        sound.remeasure();
        let mut scraped = sound.clone();
        let middle = f64::midpoint(sound.zone[0], sound.zone[1]);
        scraped.wheel.damage.push(Damage::Scrape {
            from: middle - 5.0,
            to: middle + 5.0,
            middle: sound.lines[2].angle,
            half_angle: 0.4,
            depth: 0.3,
            lean: 1.0,
        });
        scraped.remeasure();
        let (a, b) = (surveyed(&sound), surveyed(&scraped));
        let (share, off, at) = differs_beyond_noise(&sound, &a, &b);
        within("share of radii moved by the scrape beyond the noise", share, 0.01, at)?;
        within(
            "moved by the scrape",
            off,
            0.010 + Truth::of(&sound).bound.iter().copied().fold(0.0, f64::max),
            at,
        )?;
        let deeper = b.depth.clean_up_mm - a.depth.clean_up_mm;
        if deeper >= -0.002 {
            Ok(())
        } else {
            Err(format!("a scrape makes the clean-up shallower by {deeper:.4}"))
        }
    });
}

#[test]
fn deeper_damage_never_asks_for_less() {
    let ask = Ask { lines: 5, well_measured: true, ..Ask::default() };
    holds(27, 2, ask, |drawn| {
        let mut last = 0.0;
        for depth in [0.1, 0.2, 0.35, 0.5] {
            let mut trial = drawn.clone();
            trial.wheel.gaps.clear();
            let middle = f64::midpoint(trial.zone[0], trial.zone[1]);
            trial.wheel.damage = vec![Damage::Scrape {
                from: middle - 6.0,
                to: middle + 6.0,
                middle: trial.lines[1].angle,
                half_angle: 0.4,
                depth,
                lean: 1.2,
            }];
            trial.remeasure();
            let told = surveyed(&trial).depth.clean_up_mm;
            if told < last - 0.002 {
                return Err(format!("{depth} mm deep asks for {told:.4}, less deep for {last:.4}"));
            }
            last = told;
        }
        Ok(())
    });
}

/// More lines never make the face worse by more than the noise of the fewer.
#[test]
fn more_lines_never_make_it_worse() {
    holds(28, 2, Ask { lines: 5, ..Ask::default() }, |drawn| {
        let mut trial = drawn.clone();
        trial.wheel.gaps.clear();
        trial.remeasure();
        let mut last: Option<(usize, f64)> = None;
        for count in [5, 7, 10] {
            let mut more = trial.clone();
            let template = trial.lines.clone();
            more.lines = (0..count)
                .map(|i| {
                    let mut line = template[i % template.len()].clone();
                    line.angle = drawn.lines[0].angle + std::f64::consts::TAU * i as f64 / count as f64;
                    line
                })
                .collect();
            more.remeasure();
            let survey = surveyed(&more);
            let truth = Truth::of(&more);
            let mean = super::judge::off_highest(&survey, &truth)
                .iter()
                .map(|(off, _, _)| off * off)
                .sum::<f64>()
                .sqrt()
                / (truth.radii.len() as f64).sqrt();
            let bound = truth.bound.iter().sum::<f64>() / truth.bound.len() as f64;
            if let Some((fewer, before)) = last {
                within(
                    &format!("{count} lines, with {fewer} it was {before:.5}: now"),
                    mean,
                    before + bound,
                    0.0,
                )?;
            }
            last = Some((count, mean));
        }
        Ok(())
    });
}

/// What was read beyond the zone does not reach far into it.
#[test]
fn readings_beyond_the_zone_do_not_matter() {
    holds(29, 2, Ask::default(), |trial| {
        let mut less = trial.clone();
        let [from, to] = trial.zone;
        for line in &mut less.lines {
            line.rows.retain(|&(r, _)| r > from - 1.2 && r < to + 1.2);
        }
        let (a, b) = (surveyed(trial), surveyed(&less));
        let (share, off, at) = differs_beyond_noise(trial, &a, &b);
        within(&format!("share of radii moved beyond the noise (worst {off:.4})"), share, 0.02, at)
    });
}

/// The zero of time is no part of a line: read from its other end, it is the same line.
#[test]
fn a_line_read_backward_is_the_same_line() {
    holds(30, 2, Ask { well_measured: true, ..Ask::default() }, |trial| {
        let mut other = trial.clone();
        for line in &mut other.lines {
            line.rows.reverse();
        }
        let (a, b) = (surveyed(trial), surveyed(&other));
        let (share, off, at) = differs_beyond_noise(trial, &a, &b);
        within(&format!("share of radii moved beyond the noise (worst {off:.4})"), share, 0.01, at)
    });
}
