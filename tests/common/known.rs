//! Wheels that are known exactly, drawn at random, and bad measurements of them: the truth that a survey must recover.
//!
//! A wheel is a hub land, a dish, a groove, a step and a rounded lip, each of random size; it is set
//! up with a tilt, bent in two lobes toward the rim, and scraped in places. Lines are taken at
//! uneven angles, in either direction, by a hand that rests, with noise, spikes and drop-outs.
//! Lengths are millimetres, angles radians. Same seed, same wheel.

#![allow(dead_code)]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small counts drawn at random, never below zero"
)]

use super::wheel::{Random, Scrape};
use std::f64::consts::{PI, TAU};

/// A number between two bounds.
fn between(random: &mut Random, least: f64, most: f64) -> f64 {
    least + (most - least) * random.uniform()
}

/// Rises from 0 to 1 between two radii with a level start and end.
fn ease(r: f64, from: f64, to: f64) -> f64 {
    let t = ((r - from) / (to - from)).clamp(0.0, 1.0);
    0.5 - 0.5 * (PI * t).cos()
}

/// A wheel known exactly.
#[derive(Debug, Clone)]
pub struct Known {
    /// Depth of the dish at its lowest.
    pub dish: f64,
    /// How far the dish comes up again.
    pub rise: f64,
    /// Middle, half width at the floor and depth of a groove.
    pub groove: [f64; 3],
    /// Radius and height of a step.
    pub step: [f64; 2],
    /// Slope and high side of the tilt.
    pub tilt: [f64; 2],
    /// Height of the bend at the rim and its high side.
    pub bend: [f64; 2],
    /// Scrapes.
    pub scrapes: Vec<Scrape>,
    /// Angles of the lines.
    pub angles: Vec<f64>,
    /// Noise of one reading.
    pub noise: f64,
    /// How many of a thousand points begin a spike.
    pub spikes: f64,
    /// Seed of the measurement.
    pub seed: u64,
}

/// The zone that is cut.
pub const ZONE: [f64; 2] = [70.0, 216.0];
/// The ends of the lines.
const LINE: [f64; 2] = [62.0, 218.0];
/// Where the bend begins and where it has its height.
const BEND: [f64; 2] = [110.0, 216.0];
/// Where the lip begins to fall off, and its rounding.
const LIP: [f64; 2] = [214.0, 6.0];

impl Known {
    /// The wheel and the measurement of a seed.
    pub fn of(seed: u64) -> Self {
        let mut random = Random::new(seed);
        let r = &mut random;
        let lines = 3 + (r.uniform() * 6.0) as usize;
        let start = between(r, 0.0, TAU);
        let pitch = TAU / lines as f64;
        let angles =
            (0..lines).map(|i| start + pitch * (i as f64 + between(r, -0.08, 0.08))).collect::<Vec<_>>();
        // Three lines cannot tell two lobes from a tilt: such wheels are drawn true.
        let bend = if lines >= 5 { between(r, 0.0, 0.12) } else { 0.0 };
        let scrapes = (0..(r.uniform() * 4.0) as usize)
            .map(|_| {
                let from = between(r, 75.0, 200.0);
                // On one line, or on two neighbours, but never on all.
                let on = angles[(r.uniform() * lines as f64) as usize % lines];
                Scrape {
                    from,
                    to: from + between(r, 3.0, 13.0),
                    middle: on + between(r, -0.1, 0.1),
                    angle: between(r, 0.4, 1.3 * pitch),
                    depth: between(r, 0.1, 0.6),
                }
            })
            .collect();
        Self {
            dish: between(r, 2.0, 8.0),
            rise: between(r, 1.0, 4.0),
            groove: [between(r, 162.0, 180.0), between(r, 1.0, 3.0), between(r, 0.3, 1.2)],
            step: [between(r, 186.0, 198.0), between(r, 0.3, 1.2)],
            tilt: [between(r, 0.0, 0.12) / 216.0, between(r, 0.0, TAU)],
            bend: [bend, between(r, 0.0, TAU)],
            scrapes,
            angles,
            noise: 0.01,
            spikes: 0.8,
            seed: r.bits(),
        }
    }

    /// The face before anything happened to it.
    pub fn face(&self, r: f64) -> f64 {
        let dish = -self.dish * ease(r, 82.0, 150.0) + self.rise * ease(r, 150.0, 184.0);
        let [middle, half, depth] = self.groove;
        let groove = -depth
            * (ease(r, middle - half - 3.0, middle - half) - ease(r, middle + half, middle + half + 3.0));
        let step = self.step[1] * ease(r, self.step[0], self.step[0] + 4.0);
        let beyond = (r - LIP[0]).max(0.0);
        dish + groove + step + (LIP[1] * LIP[1] - beyond * beyond).max(0.0).sqrt() - LIP[1]
    }

    /// Height of the undamaged face.
    pub fn sound(&self, r: f64, angle: f64) -> f64 {
        let out = ((r - BEND[0]) / (BEND[1] - BEND[0])).max(0.0);
        self.face(r)
            + self.tilt[0] * r * (angle - self.tilt[1]).cos()
            + self.bend[0] * out * out * (2.0 * (angle - self.bend[1])).cos()
    }

    /// Depth of the damage at a place.
    pub fn damage(&self, r: f64, angle: f64) -> f64 {
        self.scrapes.iter().map(|s| s.depth_at(r, angle)).fold(0.0, f64::max)
    }

    /// Highest and lowest undamaged place of the turn at a radius.
    pub fn over_the_turn(&self, r: f64) -> [f64; 2] {
        // Looked at every three degrees the two-lobed bend of at most 0.12 mm hides at most 0.0002 mm.
        (0..120)
            .map(|i| self.sound(r, f64::from(i) / 120.0 * TAU))
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], z| [low.min(z), high.max(z)])
    }

    /// The deepest damage that any line crosses inside the zone.
    pub fn deepest_on_lines(&self) -> f64 {
        let steps = 5_000;
        (0..=steps)
            .map(|i| ZONE[0] + (ZONE[1] - ZONE[0]) * f64::from(i) / f64::from(steps))
            .flat_map(|r| self.angles.iter().map(move |&a| self.damage(r, a)))
            .fold(0.0, f64::max)
    }

    /// The points of one line in the order in which they were taken, with all that goes wrong by hand.
    pub fn measure(&self, line: usize) -> Vec<[f64; 2]> {
        let angle = self.angles[line];
        let mut random = Random::new(self.seed ^ (line as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let r = &mut random;
        let step = [between(r, 0.02, 0.06), between(r, 0.1, 0.25)];
        let inward = r.uniform() < 0.5;
        let [from, to] = if inward { [LINE[1], LINE[0]] } else { LINE };
        let toward = f64::signum(to - from);
        let mut at = from;
        let mut points = Vec::new();
        let mut spike = 0_u32;
        let mut spike_by = 0.0;
        while (to - at) * toward >= 0.0 {
            let rests = if r.uniform() < 0.001 { 80 } else { 1 };
            for _ in 0..rests {
                if spike == 0 && r.uniform() * 1000.0 < self.spikes {
                    spike = 1 + (r.uniform() * 4.0) as u32;
                    spike_by = between(r, 0.5, 3.0) * if r.uniform() < 0.5 { -1.0 } else { 1.0 };
                }
                let off = if spike > 0 {
                    spike -= 1;
                    spike_by
                } else {
                    0.0
                };
                points.push([
                    at,
                    self.sound(at, angle) - self.damage(at, angle) + self.noise * r.normal() + off,
                ]);
            }
            at += toward * between(r, step[0], step[1]);
        }
        points
    }
}
