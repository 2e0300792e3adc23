//! The true wheel: a surface over radius and angle, made of pieces, moved off its axis, tilted, bent, damaged, with gaps.
//!
//! Everything is in closed form, so that the truth at any place is exact. The eccentricity is a true shift of the axis and not
//! its first order. Lengths are millimetres, angles radians.

use std::f64::consts::{PI, TAU};

/// A piece of the face; the pieces add up.
#[derive(Debug, Clone, Copy)]
pub enum Piece {
    /// A cone of this slope.
    Cone { slope: f64 },
    /// A broad hollow.
    Bowl { middle: f64, width: f64, depth: f64 },
    /// An S over the whole face.
    Cubic { height: f64 },
    /// A groove with a nearly flat floor: `−depth / (1 + (u/half)⁶)`.
    Trough { middle: f64, half: f64, depth: f64 },
    /// A smooth step.
    Step { at: f64, width: f64, height: f64 },
    /// A raised ring.
    Bead { middle: f64, half: f64, height: f64 },
    /// The outer edge falls away as a circle of this radius.
    RollOff { from: f64, radius: f64 },
    /// The outer edge falls away as a cone, with a rounded beginning.
    Chamfer { from: f64, round: f64, slope: f64 },
}

impl Piece {
    fn at(self, r: f64) -> f64 {
        match self {
            Self::Cone { slope } => slope * (r - 145.0),
            Self::Bowl { middle, width, depth } => -depth * (-((r - middle) / width).powi(2)).exp(),
            Self::Cubic { height } => height * ((r - 145.0) / 75.0).powi(3),
            Self::Trough { middle, half, depth } => -depth / (1.0 + ((r - middle) / half).powi(6)),
            Self::Step { at, width, height } => 0.5 * height * (1.0 + ((r - at) / width).tanh()),
            Self::Bead { middle, half, height } => {
                height * (1.0 - ((r - middle) / half).powi(2)).max(0.0).powi(2)
            }
            Self::RollOff { from, radius } => {
                let u = (r - from).max(0.0);
                (radius * radius - u * u).max(0.0).sqrt() - radius
            }
            Self::Chamfer { from, round, slope } => {
                let u = (r - from) / round;
                -slope * round * if u > 30.0 { u } else { u.exp().ln_1p() }
            }
        }
    }
}

/// How a wheel departs from its face over the turn, growing from a radius to the rim.
#[derive(Debug, Clone, Copy)]
pub enum Bend {
    /// A wave of so many lobes.
    Lobes { order: f64, from: f64, power: f64, height: f64, high: f64 },
    /// Pushed in over a part of the turn only.
    Push { from: f64, power: f64, depth: f64, middle: f64, half_angle: f64 },
}

impl Bend {
    fn at(self, r: f64, angle: f64, rim: f64) -> f64 {
        let grown = |from: f64, power: f64| ((r - from) / (rim - from)).max(0.0).powf(power);
        match self {
            Self::Lobes { order, from, power, height, high } => {
                height * grown(from, power) * (order * (angle - high)).cos()
            }
            Self::Push { from, power, depth, middle, half_angle } => {
                let u = (turned(angle - middle) / half_angle).abs().min(1.0);
                -depth * grown(from, power) * 0.5 * (1.0 + (PI * u).cos())
            }
        }
    }
}

/// Metal that is gone.
#[derive(Debug, Clone, Copy)]
pub enum Damage {
    /// Over a part of the turn; `lean` moves its deepest place off the middle of its width.
    Scrape { from: f64, to: f64, middle: f64, half_angle: f64, depth: f64, lean: f64 },
    /// All round, of uneven depth between `least` and `most`.
    Rash { from: f64, to: f64, least: f64, most: f64, phases: [f64; 3] },
}

impl Damage {
    /// The stretch of radius.
    pub const fn stretch(self) -> [f64; 2] {
        match self {
            Self::Scrape { from, to, .. } | Self::Rash { from, to, .. } => [from, to],
        }
    }

    /// Its depth at a place.
    pub fn at(self, r: f64, angle: f64) -> f64 {
        let [from, to] = self.stretch();
        let u = (r - from) / (to - from);
        if u <= 0.0 || u >= 1.0 {
            return 0.0;
        }
        match self {
            Self::Scrape { middle, half_angle, depth, lean, .. } => {
                let round = (turned(angle - middle) / half_angle).abs();
                // Full over the inner half of its angle, then running out.
                let over = if round >= 1.0 {
                    0.0
                } else if round <= 0.5 {
                    1.0
                } else {
                    0.5 + 0.5 * (PI * (2.0 * round - 1.0)).cos()
                };
                depth * over * (PI * u.powf(lean)).sin().powi(2)
            }
            Self::Rash { least, most, phases, .. } => {
                let [a, b, c] = phases;
                let uneven = 0.5
                    + ((3.0 * angle + a).sin() + (7.0 * angle + b).sin() + (12.0 * angle + c).sin()) / 6.0;
                // The deepest place wanders with the angle, as a kerb does not hit twice alike.
                let lean = 1.0 + 0.35 * (5.0 * angle + b).sin();
                (least + (most - least) * uneven.clamp(0.0, 1.0)) * (PI * u.powf(lean)).sin().powi(2)
            }
        }
    }
}

/// Where there is no metal.
#[derive(Debug, Clone, Copy)]
pub enum Gap {
    /// Between two spokes.
    Window { from: f64, to: f64, middle: f64, half_angle: f64 },
    /// A bolt hole.
    Hole { at: f64, angle: f64, radius: f64 },
}

impl Gap {
    fn covers(self, r: f64, angle: f64) -> bool {
        match self {
            Self::Window { from, to, middle, half_angle } => {
                r > from && r < to && turned(angle - middle).abs() < half_angle
            }
            Self::Hole { at, angle: toward, radius } => {
                let d2 = r * r + at * at - 2.0 * r * at * (angle - toward).cos();
                d2 < radius * radius
            }
        }
    }
}

/// An angle brought between −π and π.
pub fn turned(angle: f64) -> f64 {
    (angle + PI).rem_euclid(TAU) - PI
}

/// A wheel known exactly.
#[derive(Debug, Clone, Default)]
pub struct Wheel {
    /// Pieces of its face.
    pub face: Vec<Piece>,
    /// Slope and high side of the tilt.
    pub tilt: [f64; 2],
    /// How far its axis stands off the spindle's, and toward which angle.
    pub off_centre: [f64; 2],
    /// Bends.
    pub bends: Vec<Bend>,
    /// Damage.
    pub damage: Vec<Damage>,
    /// Gaps.
    pub gaps: Vec<Gap>,
    /// The outermost radius of the zone, at which the bends have their height.
    pub rim: f64,
}

/// The turn of the wheel at one radius.
#[derive(Debug, Clone, Copy)]
pub struct Turn {
    /// Highest sound place.
    pub highest: f64,
    /// Lowest sound place.
    pub lowest: f64,
}

impl Wheel {
    /// The face before anything happened to it, over the distance from its own axis.
    pub fn profile(&self, r: f64) -> f64 {
        self.face.iter().map(|p| p.at(r)).sum()
    }

    /// Height of the undamaged face at a place.
    pub fn sound(&self, r: f64, angle: f64) -> f64 {
        let [off, toward] = self.off_centre;
        let own = (r * r + off * off - 2.0 * r * off * (angle - toward).cos()).sqrt();
        self.profile(own)
            + self.tilt[0] * r * (angle - self.tilt[1]).cos()
            + self.bends.iter().map(|b| b.at(r, angle, self.rim)).sum::<f64>()
    }

    /// Depth of the damage at a place.
    pub fn depth(&self, r: f64, angle: f64) -> f64 {
        self.damage.iter().map(|d| d.at(r, angle)).fold(0.0, f64::max)
    }

    /// Height of the face as it is, where there is metal.
    pub fn height(&self, r: f64, angle: f64) -> Option<f64> {
        (!self.gaps.iter().any(|g| g.covers(r, angle))).then(|| self.sound(r, angle) - self.depth(r, angle))
    }

    /// The turn at a radius, looked at every degree: a wave of three lobes and 0.2 mm hides 0.00007 mm between.
    pub fn turn(&self, r: f64) -> Turn {
        let start = Turn { highest: f64::NEG_INFINITY, lowest: f64::INFINITY };
        (0..360).fold(start, |t, i| {
            let z = self.sound(r, f64::from(i).to_radians());
            Turn { highest: t.highest.max(z), lowest: t.lowest.min(z) }
        })
    }

    /// Slope and curvature of the face at a radius, by central differences of a step that its smoothest features outlast.
    pub fn slope_and_curvature(&self, r: f64) -> [f64; 2] {
        let h = 0.05;
        let [a, b, c] = [r - h, r, r + h].map(|r| self.profile(r));
        [(c - a) / (2.0 * h), (a - 2.0 * b + c) / (h * h)]
    }

    /// The greatest curvature of face and damage on a line within a distance of a radius.
    pub fn sharpest_near(&self, r: f64, angle: f64, within: f64) -> f64 {
        let h = 0.05;
        let z = |r: f64| self.sound(r, angle) - self.depth(r, angle);
        (-4..=4)
            .map(|k| r + within * f64::from(k) / 4.0)
            .map(|r| ((z(r - h) - 2.0 * z(r) + z(r + h)) / (h * h)).abs())
            .fold(0.0, f64::max)
    }
}
