//! A wheel that is known exactly, and a hand-driven measurement of it: the source of every scan that tests and demo use.
//!
//! The wheel is a face z(r), turned about the spindle, set up with a tilt, bent in its second
//! harmonic, and scraped where the damage says. The measurement draws one line across it at an
//! angle: uneven steps as a hand gives them, Gaussian noise, a ball instead of a spot where asked.
//! All lengths are millimetres, angles radians; x is a radius. The figures are invented.
//!
//! Same seed, same bytes, on every machine: the generator of random numbers stands here (`SplitMix64`:
//! Steele, Lea, Flood: Fast splittable pseudorandom number generators, OOPSLA 2014), and noise is a
//! sum of twelve uniform numbers (its variance is 1), which needs no function that a platform might
//! round in its own way.

// Each test binary uses its own part of this module.
#![allow(dead_code)]

use std::f64::consts::{PI, TAU};
use std::fmt::Write as _;

/// A wheel as it is set up on the lathe.
#[derive(Debug, Clone)]
pub struct Wheel {
    /// The face before anything happened to it.
    pub face: fn(f64) -> f64,
    /// How it is set up out of true: a tilt of the whole wheel.
    pub tilt: Wave,
    /// How it is bent: run-out that no tilt explains.
    pub bend: Wave,
    /// Where it is scraped.
    pub damage: Vec<Scrape>,
}

/// A wave around the turn whose height grows with the radius in proportion.
#[derive(Debug, Clone, Copy)]
pub struct Wave {
    /// Height of the wave (half of peak to valley) at `at_radius`.
    pub height: f64,
    /// Where it has that height.
    pub at_radius: f64,
    /// Angle at which it is highest.
    pub highest_at: f64,
}

impl Wave {
    /// No wave.
    pub const NONE: Self = Self { height: 0.0, at_radius: 1.0, highest_at: 0.0 };

    fn at(self, r: f64, angle: f64, waves: f64) -> f64 {
        self.height * r / self.at_radius * (waves * (angle - self.highest_at)).cos()
    }
}

/// A scraped stretch: metal gone between two radii, over part of the turn.
#[derive(Debug, Clone, Copy)]
pub struct Scrape {
    /// Innermost radius.
    pub from: f64,
    /// Outermost radius.
    pub to: f64,
    /// Its middle on the turn.
    pub middle: f64,
    /// Its whole angle on the turn.
    pub angle: f64,
    /// Greatest depth.
    pub depth: f64,
}

impl Scrape {
    /// Metal gone at a place: deepest in the middle, running out at the ends, ploughed into furrows.
    pub fn depth_at(&self, r: f64, angle: f64) -> f64 {
        let across = 2.0 * (r - self.from) / (self.to - self.from) - 1.0;
        let around = 2.0 * turned(angle - self.middle) / self.angle;
        if across.abs() >= 1.0 || around.abs() >= 1.0 {
            return 0.0;
        }
        let furrows = 0.75 + 0.25 * (5.0 * r + 3.0 * angle).sin();
        self.depth * (1.0 - across.powi(4)) * (1.0 - around * around) * furrows
    }
}

/// An angle brought to within half a turn of zero.
fn turned(angle: f64) -> f64 {
    (angle + PI).rem_euclid(TAU) - PI
}

impl Wheel {
    /// A true, undamaged wheel of a face.
    pub fn new(face: fn(f64) -> f64) -> Self {
        Self { face, tilt: Wave::NONE, bend: Wave::NONE, damage: Vec::new() }
    }

    /// Height of the undamaged face at a radius and an angle of the wheel.
    pub fn sound(&self, r: f64, angle: f64) -> f64 {
        (self.face)(r) + self.tilt.at(r, angle, 1.0) + self.bend.at(r, angle, 2.0)
    }

    /// Height of the face as it is, damage and all.
    pub fn height(&self, r: f64, angle: f64) -> f64 {
        self.sound(r, angle) - self.damage.iter().map(|d| d.depth_at(r, angle)).fold(0.0, f64::max)
    }
}

/// How a line is measured.
#[derive(Debug, Clone)]
pub struct Measurement {
    /// First radius.
    pub from: f64,
    /// Last radius; less than the first for a line drawn inward.
    pub to: f64,
    /// Least and greatest step from point to point.
    pub step: [f64; 2],
    /// Standard deviation of the noise on z.
    pub noise: f64,
    /// Radius of the probe's ball; zero for a spot.
    pub ball: f64,
    /// Seed of the hand and the noise.
    pub seed: u64,
}

/// The pace a hand comes back to, between its slowest (0) and its fastest (1).
const USUAL_PACE: f64 = 0.5;

/// Points tried along the wheel when a ball is laid on it, on each side of its lowest point.
const BALL_PLACES: i32 = 200;

impl Measurement {
    /// The points of one line at an angle, (x, z) in the order in which they were taken.
    ///
    /// A hand that drives a slide gathers way and slows down: the step wanders between its bounds,
    /// each step close to the one before it.
    pub fn of(&self, wheel: &Wheel, angle: f64) -> Vec<[f64; 2]> {
        let mut random = Random::new(self.seed);
        let [least, greatest] = self.step;
        let toward = (self.to - self.from).signum();
        let mut pace = random.uniform();
        let mut points = Vec::new();
        let mut r = self.from;
        while (self.to - r) * toward >= 0.0 {
            points.push([r, self.touch(wheel, r, angle) + self.noise * random.normal()]);
            pace += 0.3 * (random.uniform() - 0.5) + 0.1 * (USUAL_PACE - pace);
            pace = pace.clamp(0.0, 1.0);
            // Squared: a careful hand goes slowly most of the way.
            r += toward * (least + (greatest - least) * pace * pace);
        }
        points
    }

    /// What the sensor says at a radius: the height of a spot, or of a ball's lowest point when it rests on the face.
    fn touch(&self, wheel: &Wheel, r: f64, angle: f64) -> f64 {
        let spot = wheel.height(r, angle);
        if self.ball == 0.0 {
            return spot;
        }
        (-BALL_PLACES..=BALL_PLACES)
            .map(|i| self.ball * f64::from(i) / f64::from(BALL_PLACES))
            .map(|w| wheel.height(r + w, angle) - self.ball + (self.ball * self.ball - w * w).sqrt())
            .fold(spot, f64::max)
    }
}

/// `SplitMix64`.
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// The series of a seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number from 0 to below 1.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A number of mean 0 and variance 1.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// A scan file: comment lines, a header, and the points with four decimals.
pub fn csv(comments: &[&str], points: &[[f64; 2]]) -> String {
    let mut text = String::new();
    for comment in comments {
        let _ = writeln!(text, "# {comment}");
    }
    text.push_str("x,z\n");
    for [x, z] in points {
        let _ = writeln!(text, "{x:.4},{z:.4}");
    }
    text
}

/// The demo's wheel: a hub land, a gentle dish, a groove, a step up to the lip, and the lip's rounded corner.
pub fn demo_face(r: f64) -> f64 {
    /// Rises from 0 to 1 between two radii with a level start and end.
    fn ease(r: f64, from: f64, to: f64) -> f64 {
        let t = ((r - from) / (to - from)).clamp(0.0, 1.0);
        0.5 - 0.5 * (PI * t).cos()
    }
    let dish = -6.0 * ease(r, 82.0, 150.0) + 3.2 * ease(r, 150.0, 196.0);
    let groove = -0.8 * (ease(r, 168.0, 172.0) - ease(r, 174.0, 178.0));
    let step = 0.9 * ease(r, 196.0, 200.0);
    let beyond = (r - LIP_CORNER).max(0.0);
    let corner = (LIP_ROUNDING * LIP_ROUNDING - beyond * beyond).max(0.0).sqrt() - LIP_ROUNDING;
    dish + groove + step + corner
}

/// Where the demo's lip begins to fall off, and the radius of its rounding.
const LIP_CORNER: f64 = 214.0;
const LIP_ROUNDING: f64 = 6.0;

/// The demo's wheel as it is set up and scraped.
pub fn demo_wheel() -> Wheel {
    Wheel {
        face: demo_face,
        tilt: Wave { height: 0.06, at_radius: 220.0, highest_at: 40_f64.to_radians() },
        bend: Wave { height: 0.006, at_radius: 220.0, highest_at: 75_f64.to_radians() },
        damage: vec![Scrape {
            from: 204.0,
            to: 213.0,
            middle: 128_f64.to_radians(),
            angle: 64_f64.to_radians(),
            depth: 0.34,
        }],
    }
}

/// The demo's scan files: name and text.
pub fn demo_scans() -> Vec<(String, String)> {
    let wheel = demo_wheel();
    [0_u32, 120, 240]
        .into_iter()
        .map(|degrees| {
            let how = Measurement {
                from: 62.0,
                to: 218.5,
                step: [0.05, 0.30],
                noise: 0.01,
                ball: 0.0,
                seed: 0x0FAC_E000 + u64::from(degrees),
            };
            let points = how.of(&wheel, f64::from(degrees).to_radians());
            let line = format!("line at {degrees} degrees, drawn outward by hand");
            let comments = ["demo wheel, invented", &line, "x: radius, mm; z: height, mm"];
            (format!("scan-{degrees:03}.csv"), csv(&comments, &points))
        })
        .collect()
}

/// A wheel that must not be cut: the demo's, bent in two lobes.
pub fn bent_wheel() -> Wheel {
    Wheel { bend: Wave { height: 0.34, at_radius: 220.0, highest_at: 20_f64.to_radians() }, ..demo_wheel() }
}

/// The bent wheel's scan files: five lines, enough to tell two lobes from a tilt.
pub fn bent_scans() -> Vec<(String, String)> {
    let wheel = bent_wheel();
    [0_u32, 72, 144, 216, 288]
        .into_iter()
        .map(|degrees| {
            let how = Measurement {
                from: 62.0,
                to: 218.5,
                step: [0.10, 0.40],
                noise: 0.01,
                ball: 0.0,
                seed: 0x0BE4_7000 + u64::from(degrees),
            };
            let points = how.of(&wheel, f64::from(degrees).to_radians());
            let line = format!("line at {degrees} degrees, drawn outward by hand");
            let comments = ["bent demo wheel, invented", &line, "x: radius, mm; z: height, mm"];
            (format!("bent/scan-{degrees:03}.csv"), csv(&comments, &points))
        })
        .collect()
}
