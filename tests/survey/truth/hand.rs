//! How a wheel is measured: a hand that drives unevenly and a sensor that errs, and the text that comes of it.
//!
//! The sensor reads at an even rate while the hand moves as it likes, so slow stretches are dense. Texture belongs to the place:
//! who passes twice reads it twice. Lengths are millimetres; an angle is in radians.

use super::dice::Dice;
use super::wheel::Wheel;
use std::fmt::Write as _;

/// The way of the hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// From inside out.
    Out,
    /// From outside in.
    In,
    /// Out and back again.
    OutAndBack,
}

/// How the hand drives.
#[derive(Debug, Clone, Copy)]
pub struct Hand {
    /// Way.
    pub way: Way,
    /// Usual distance from reading to reading.
    pub pitch: f64,
    /// Uneven speed: share by which it wanders.
    pub uneven: f64,
    /// Stops, per millimetre.
    pub stops: f64,
    /// Strides back, per millimetre.
    pub strides_back: f64,
}

/// What the sensor does.
#[derive(Debug, Clone, Copy)]
pub struct Sensor {
    /// Noise of a reading, from one to the next independent.
    pub noise: f64,
    /// Share of readings with heavy tails of this noise.
    pub tails: f64,
    /// Texture of the surface, and the length over which it is alike.
    pub texture: [f64; 2],
    /// Spikes alone, per reading.
    pub spikes: f64,
    /// Clusters of 3 to 12 wild readings, per reading.
    pub clusters: f64,
    /// Drop-outs, per reading.
    pub drop_outs: f64,
    /// Steps of the reading; zero where it has none to speak of.
    pub quantum: f64,
    /// Rise of the zero from first to last reading.
    pub drift: f64,
    /// Height of an inward way over an outward one; the truth lies midway, as lost motion has it.
    pub hysteresis: f64,
    /// Heights that it can read.
    pub range: [f64; 2],
    /// A stretch over which it repeats its last reading.
    pub stuck: Option<[f64; 2]>,
}

/// One reading as it is written: a radius, and a height unless the sensor saw nothing.
pub type Row = (f64, Option<f64>);

/// The radii at which readings are taken, in the order of time, and whether the hand moves outward.
fn radii(hand: &Hand, ends: [f64; 2], dice: &mut Dice) -> Vec<(f64, bool)> {
    let legs: &[bool] = match hand.way {
        Way::Out => &[true],
        Way::In => &[false],
        Way::OutAndBack => &[true, false],
    };
    let mut out = Vec::new();
    for &outward in legs {
        let (mut x, goal) = if outward { (ends[0], ends[1]) } else { (ends[1], ends[0]) };
        let toward = f64::signum(goal - x);
        let mut wander: f64 = 0.0;
        while (goal - x) * toward >= 0.0 {
            out.push((x, outward));
            // Speed wanders with a memory of some 25 readings.
            wander = 0.96 * wander + 0.28 * dice.normal();
            let step = hand.pitch * (1.0 + hand.uneven * wander.clamp(-1.6, 1.6)).max(0.1);
            x += toward * step;
            if dice.chance(hand.stops * step) {
                let rest = dice.count(10, 150);
                out.extend((0..rest).map(|_| (x, outward)));
            }
            if dice.chance(hand.strides_back * step) {
                let back = dice.between(0.4, 3.0);
                let pace = hand.pitch * dice.between(0.5, 3.0);
                let mut gone = 0.0;
                while gone < back && (x - toward * gone - ends[0]) * (ends[1] - x + toward * gone) > 0.0 {
                    gone += pace;
                    out.push((x - toward * gone, !outward));
                }
                x -= toward * gone;
            }
        }
    }
    out
}

/// Texture over the radius: values at even steps with a memory of the given length.
struct Texture {
    from: f64,
    values: Vec<f64>,
}

const TEXTURE_STEP: f64 = 0.05;

impl Texture {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some thousands")]
    fn new([height, length]: [f64; 2], ends: [f64; 2], dice: &mut Dice) -> Self {
        let memory = (-TEXTURE_STEP / length).exp();
        let mut value = dice.normal();
        let values = (0..=((ends[1] - ends[0] + 2.0) / TEXTURE_STEP) as usize)
            .map(|_| {
                value = memory * value + (1.0 - memory * memory).sqrt() * dice.normal();
                height * value
            })
            .collect();
        Self { from: ends[0] - 1.0, values }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within the line")]
    fn at(&self, r: f64) -> f64 {
        let u = ((r - self.from) / TEXTURE_STEP).max(0.0);
        let i = (u as usize).min(self.values.len() - 2);
        let t = u - i as f64;
        self.values[i] * (1.0 - t) + self.values[i + 1] * t
    }
}

/// The readings of one line between two radii, in the order of time.
pub fn measure(
    wheel: &Wheel,
    angle: f64,
    ends: [f64; 2],
    hand: &Hand,
    sensor: &Sensor,
    seed: u64,
) -> Vec<Row> {
    let mut dice = Dice::new(seed);
    let texture = Texture::new(sensor.texture, ends, &mut dice);
    let places = radii(hand, ends, &mut dice);
    let last = places.len().max(2) - 1;
    let (mut wild, mut wild_by, mut wild_runs) = (0_usize, 0.0, 0.0);
    let mut held: Option<f64> = None;
    let mut rows = Vec::with_capacity(places.len());
    for (i, &(x, outward)) in places.iter().enumerate() {
        let tail = if dice.chance(sensor.tails) { dice.heavy() } else { dice.normal() };
        if wild == 0 {
            if dice.chance(sensor.spikes) {
                wild = 1;
            } else if dice.chance(sensor.clusters) {
                wild = dice.count(3, 12);
            }
            wild_by = dice.between(0.3, 4.0) * dice.pick(&[-1.0, 1.0]);
            // Wild readings scatter far beyond the noise: an even patch would be a nick for all that anyone can tell.
            wild_runs = if wild > 1 { dice.between(0.3, 0.6) } else { 0.0 };
        }
        let off = if wild > 0 {
            wild -= 1;
            wild_by * (1.0 + wild_runs * dice.normal())
        } else {
            0.0
        };
        let lost = dice.chance(sensor.drop_outs);
        let below = dice.between(25.0, 60.0);
        let sees_floor = dice.chance(0.5);
        let z = match wheel.height(x, angle) {
            Some(z) => Some(z + texture.at(x)),
            // Through a gap some sensors see the drum or caliper, others nothing.
            None => sees_floor.then(|| wheel.profile(x) - below),
        };
        let z = z.filter(|_| !lost).map(|z| {
            let lag = 0.5 * if outward { -sensor.hysteresis } else { sensor.hysteresis };
            let zero = sensor.drift * i as f64 / last as f64 + lag;
            let z = (z + zero + sensor.noise * tail + off).clamp(sensor.range[0], sensor.range[1]);
            if sensor.quantum > 0.0 { (z / sensor.quantum).round() * sensor.quantum } else { z }
        });
        let z = match sensor.stuck {
            Some([from, to]) if x > from && x < to => {
                held = held.or(z);
                held
            }
            _ => z,
        };
        rows.push((x, z));
    }
    rows
}

/// How a scan is written.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    /// Between the columns.
    pub separator: char,
    /// Whether a header stands above them.
    pub header: bool,
    /// What is written where the sensor saw nothing.
    pub nothing: &'static str,
}

/// The text of a scan.
pub fn text(rows: &[Row], style: Style) -> String {
    let s = style.separator;
    let mut out = if style.header { format!("x{s}z\n") } else { String::new() };
    for (x, z) in rows {
        let _ = match z {
            Some(z) => writeln!(out, "{x:.4}{s}{z:.5}"),
            None => writeln!(out, "{x:.4}{s}{}", style.nothing),
        };
    }
    out
}
