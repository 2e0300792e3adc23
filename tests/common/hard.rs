//! A measurement with every fault that hand and sensor make, of a wheel that is known exactly: the demo that is hard to read.
//!
//! The hand drives unevenly, rests, goes back and forth, draws one line inward, one out and back,
//! and runs off the face at both ends. The sensor is noisy, drops out in every way a sensor can say
//! so, spikes alone and in clusters, drifts, hangs between the ways out and back, skips a stretch,
//! and reads a strip of tape as if it were metal. All lengths are millimetres. Same seed, same bytes.

// Each test binary uses its own part of this module.
#![allow(dead_code)]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small counts drawn at random, never below zero"
)]

use super::wheel::{Random, Scrape, Wave, Wheel, demo_wheel};
use std::fmt::Write as _;

/// Where the face ends toward the centre bore and toward the tyre.
pub const FACE: [f64; 2] = [64.0, 219.6];
/// Where the hand starts and stops, off the face at both ends.
const DRIVEN: [f64; 2] = [61.0, 222.0];
/// The stretch that one line skips: shorter than the job's longest gap.
pub const SKIPPED: [f64; 2] = [92.0, 93.6];
/// The strip of tape on one line, and its thickness.
pub const TAPE: ([f64; 2], f64) = ([118.0, 125.0], 0.12);
/// Noise of one reading.
const NOISE: f64 = 0.01;
/// How a sensor says that it saw nothing. The 0 is told from a height by the jump to it.
pub const DROP_OUTS: [&str; 4] = ["-999", "NaN", "0", ""];

/// One line and what is wrong with it beside what is wrong with all.
struct Line {
    degrees: u32,
    way: Way,
    skips: bool,
    tape: bool,
}

#[derive(Clone, Copy, PartialEq)]
enum Way {
    Out,
    In,
    /// Out and back: how much higher the way back reads, and how much the reading rises from first to last.
    OutAndBack {
        hysteresis: f64,
        drift: f64,
    },
}

const LINES: [Line; 5] = [
    Line { degrees: 3, way: Way::Out, skips: true, tape: false },
    Line { degrees: 70, way: Way::In, skips: false, tape: false },
    Line { degrees: 147, way: Way::Out, skips: false, tape: false },
    Line { degrees: 221, way: Way::OutAndBack { hysteresis: 0.015, drift: 0.02 }, skips: false, tape: false },
    Line { degrees: 290, way: Way::Out, skips: false, tape: true },
];

/// The wheel: the demo's, mounted with another tilt, with a second scrape in the dish.
pub fn hard_wheel() -> Wheel {
    let mut wheel = demo_wheel();
    wheel.tilt = Wave { height: 0.05, at_radius: 220.0, highest_at: 250_f64.to_radians() };
    wheel.damage.push(Scrape {
        from: 101.0,
        to: 109.0,
        middle: 75_f64.to_radians(),
        angle: 40_f64.to_radians(),
        depth: 0.22,
    });
    wheel
}

/// The scan files: name and text.
pub fn hard_scans() -> Vec<(String, String)> {
    let wheel = hard_wheel();
    LINES.iter().map(|line| (format!("hard/scan-{:03}.csv", line.degrees), text(line, &wheel))).collect()
}

/// One row of a scan: the radius, and the height as it is written.
struct Row {
    x: f64,
    z: String,
}

fn text(line: &Line, wheel: &Wheel) -> String {
    let random = &mut Random::new(0x4A4D_0000 + u64::from(line.degrees));
    let mut radii = driven(random);
    let turn = radii.len();
    if let Way::OutAndBack { .. } = line.way {
        radii.extend(driven(random).into_iter().rev());
    }
    let angle = f64::from(line.degrees).to_radians();
    let all = radii.len() as f64;
    let mut rows: Vec<Row> = Vec::with_capacity(radii.len());
    for (i, &x) in radii.iter().enumerate() {
        let wrong = match line.way {
            Way::OutAndBack { hysteresis, drift } => {
                let way = if i < turn { -0.5 } else { 0.5 };
                way * hysteresis + drift * (i as f64 / all - 0.5)
            }
            Way::Out | Way::In => 0.0,
        };
        let tape = if line.tape && (TAPE.0[0]..TAPE.0[1]).contains(&x) { TAPE.1 } else { 0.0 };
        let z = seen(wheel, x, angle, random) + wrong + tape;
        rows.push(Row { x, z: format!("{z:.3}") });
    }
    for _ in 0..8 {
        spoil(&mut rows, random, 1, |z, random| format!("{:.3}", z + wild(random)));
    }
    for length in [3, 9, 20] {
        spoil(&mut rows, random, length, |z, random| format!("{:.3}", z + wild(random)));
    }
    for what in DROP_OUTS {
        for _ in 0..3 {
            let length = 1 + (random.uniform() * 4.0) as usize;
            spoil(&mut rows, random, length, |_, _| what.to_owned());
        }
    }
    if line.skips {
        rows.retain(|row| !(SKIPPED[0]..SKIPPED[1]).contains(&row.x));
    }
    let drawn = match line.way {
        Way::Out => "drawn outward by hand",
        Way::In => "drawn inward by hand",
        Way::OutAndBack { .. } => "drawn outward and back by hand",
    };
    if line.way == Way::In {
        rows.reverse();
    }
    let mut text = format!(
        "# hard demo wheel, invented\n# line at {} degrees, {drawn}\n# x: radius, mm; z: height, mm\nx,z\n",
        line.degrees
    );
    for row in rows {
        let _ = writeln!(text, "{:.3},{}", row.x, row.z);
    }
    text
}

/// What the sensor reads: the face, or what lies beyond its ends.
fn seen(wheel: &Wheel, x: f64, angle: f64, random: &mut Random) -> f64 {
    if x < FACE[0] {
        // The bore's edge and what is behind it.
        return -28.0 + 12.0 * (random.uniform() - 0.5);
    }
    if x > FACE[1] {
        // Rubber, lettered.
        return -9.0 + 0.6 * (9.0 * x).sin() + 0.2 * random.normal();
    }
    wheel.height(x, angle) + NOISE * random.normal()
}

/// The radii in the order in which a hand comes by them: uneven steps, rests, and going back and forth.
fn driven(random: &mut Random) -> Vec<f64> {
    let mut radii = Vec::new();
    let mut x = DRIVEN[0];
    while x <= DRIVEN[1] {
        radii.push(x);
        x += 0.03 + 0.15 * random.uniform().powi(2);
    }
    for _ in 0..3 {
        let at = 40 + (random.uniform() * (radii.len() - 80) as f64) as usize;
        let length = 8 + (random.uniform() * 20.0) as usize;
        let back: Vec<f64> =
            radii[at - length..at].iter().rev().map(|x| x + 0.01 * random.uniform()).collect();
        let forth: Vec<f64> = back.iter().rev().map(|x| x + 0.01 * random.uniform()).collect();
        radii.splice(at..at, back.into_iter().chain(forth));
    }
    for _ in 0..2 {
        let at = 40 + (random.uniform() * (radii.len() - 80) as f64) as usize;
        let here = radii[at];
        let rest = 200 + (random.uniform() * 60.0) as usize;
        radii.splice(at..at, std::iter::repeat_n(here, rest));
    }
    radii
}

/// Far off the face, up or down.
fn wild(random: &mut Random) -> f64 {
    let size = 0.4 + 3.0 * random.uniform();
    if random.uniform() < 0.5 { size } else { -size }
}

/// Writes something else into a run of rows.
fn spoil(rows: &mut [Row], random: &mut Random, length: usize, with: impl Fn(f64, &mut Random) -> String) {
    let at = (random.uniform() * (rows.len() - length) as f64) as usize;
    for row in rows.iter_mut().skip(at).take(length) {
        if let Ok(z) = row.z.parse() {
            row.z = with(z, random);
        }
    }
}
