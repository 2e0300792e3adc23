//! A trial: a wheel drawn at random, measured badly, written as scans, job and shop files, and surveyed through the pipeline.
//!
//! Everything varies at once: what is wrong with the wheel, with the hand, with the sensor. What the lines cannot show (a bend
//! of more lobes than they can tell, damage that none crosses) is drawn only where a trial asks for it.

use super::dice::Dice;
use super::hand::{self, Hand, Row, Sensor, Style, Way};
use super::wheel::{Bend, Damage, Gap, Piece, Wheel};
use facewright::job::{Acceptance, Job};
use facewright::pipeline::{self, PipelineError};
use facewright::survey::Survey;
use std::f64::consts::{PI, TAU};
use std::fmt::Write as _;
use std::path::Path;

/// Cut-off of the job's filter.
pub const FILTER: f64 = 0.8;
/// A drive that leads nowhere when scans are measured.
const ENDLESS: [f64; 2] = [-1e4, 1e4];

/// One measured line.
#[derive(Debug, Clone)]
pub struct Line {
    /// Its angle, radians.
    pub angle: f64,
    /// How it was driven.
    pub hand: Hand,
    /// What read it.
    pub sensor: Sensor,
    /// What was read.
    pub rows: Vec<Row>,
    /// How it is written.
    pub style: Style,
}

/// Damage that the person saw and listed.
#[derive(Debug, Clone, Copy)]
pub struct Listed {
    /// Stretch of radius.
    pub stretch: [f64; 2],
    /// Depth.
    pub depth: f64,
}

/// A wheel, its measurement, and what its job says.
#[derive(Debug, Clone)]
pub struct Trial {
    /// What it is known by.
    pub seed: u64,
    /// The truth.
    pub wheel: Wheel,
    /// The zone.
    pub zone: [f64; 2],
    /// The lines.
    pub lines: Vec<Line>,
    /// Listed damage.
    pub listed: Vec<Listed>,
    /// Stretches that a person says are damaged all round.
    pub mend: Vec<[f64; 2]>,
    /// The metal it may lose.
    pub allowance: f64,
    /// The run-out that is cut.
    pub run_out_limit: f64,
    /// What `z` means: `height` or `distance`.
    pub sense: &'static str,
    /// Whether the person accepts that two lobes stay unseen where fewer than five lines are.
    pub accepts: bool,
}

/// What is drawn in a trial beside what is drawn in all of them.
#[derive(Debug, Clone, Copy, Default)]
#[allow(clippy::struct_excessive_bools, reason = "any of them may be asked for with any other")]
pub struct Ask {
    /// So many lines; zero for three to nine.
    pub lines: usize,
    /// A wheel without tilt, bend, eccentricity, damage and gaps.
    pub plain: bool,
    /// Rash all round the outer edge.
    pub rash: bool,
    /// Whether the job lists what is damaged.
    pub listed: bool,
    /// A bend that the lines cannot show wholly.
    pub hidden_bend: bool,
    /// An ordinary sensor and an even hand.
    pub well_measured: bool,
}

fn face(d: &mut Dice, zone: [f64; 2]) -> Vec<Piece> {
    let middle = f64::midpoint(zone[0], zone[1]);
    let mut pieces = vec![Piece::Cone { slope: d.between(-0.08, 0.08) }];
    if d.chance(0.7) {
        pieces.push(Piece::Bowl {
            middle: middle + d.between(-20.0, 20.0),
            width: d.between(18.0, 45.0),
            depth: d.between(-2.0, 6.0),
        });
    }
    if d.chance(0.5) {
        pieces.push(Piece::Cubic { height: d.between(-3.0, 3.0) });
    }
    // Sharp features stand apart, so that each has ground on both sides.
    for slot in 0..4 {
        let at = zone[0] + (zone[1] - zone[0]) * (0.15 + 0.2 * f64::from(slot)) + d.between(-4.0, 4.0);
        match d.count(0, 5) {
            0 => pieces.push(Piece::Trough {
                middle: at,
                half: d.between(2.5, 6.0),
                depth: d.between(0.2, 0.8),
            }),
            1 => pieces.push(Piece::Step {
                at,
                width: d.between(1.2, 3.0),
                height: d.between(0.2, 1.2) * d.pick(&[-1.0, 1.0]),
            }),
            2 => pieces.push(Piece::Bead {
                middle: at,
                half: d.between(4.0, 9.0),
                height: d.between(0.2, 1.0),
            }),
            _ => {}
        }
    }
    match d.count(0, 2) {
        0 => {
            pieces.push(Piece::RollOff { from: zone[1] - d.between(1.0, 4.0), radius: d.between(9.0, 25.0) });
        }
        1 => pieces.push(Piece::Chamfer {
            from: zone[1] - d.between(1.0, 5.0),
            round: d.between(0.8, 1.6),
            slope: d.between(0.1, 0.4),
        }),
        _ => {}
    }
    pieces
}

/// A wave of so many lobes over the whole face, from somewhere on, or only near the rim.
fn wave(d: &mut Dice, zone: [f64; 2], order: f64) -> Bend {
    let (from, power) = match d.count(0, 2) {
        0 => (0.0, 1.0),
        1 => (zone[0] + (zone[1] - zone[0]) * d.between(0.1, 0.6), d.between(1.5, 2.5)),
        _ => (zone[1] - d.between(15.0, 30.0), d.between(1.2, 2.2)),
    };
    Bend::Lobes { order, from, power, height: d.between(0.03, 0.12), high: d.angle() }
}

/// Bends that the lines show: n lines tell harmonics up to (n − 1)/2.
fn bends(d: &mut Dice, zone: [f64; 2], lines: usize) -> Vec<Bend> {
    let mut out = Vec::new();
    if lines >= 5 && d.chance(0.5) {
        out.push(wave(d, zone, 2.0));
    }
    if lines >= 7 && d.chance(0.35) {
        out.push(wave(d, zone, 3.0));
    }
    out
}

/// A bend that the lines see but cannot tell the shape of: more lobes than they can tell apart, or a place pushed in that
/// two or three of them cross.
fn hidden_bend(d: &mut Dice, zone: [f64; 2], lines: usize) -> Bend {
    match lines {
        ..=4 => wave(d, zone, 2.0),
        5 if d.chance(0.5) => wave(d, zone, 3.0),
        _ => Bend::Push {
            from: zone[1] - d.between(20.0, 60.0),
            power: d.between(1.2, 2.2),
            depth: d.between(0.15, 0.6),
            middle: d.angle(),
            half_angle: d.between(1.0, 2.0) * TAU / lines as f64,
        },
    }
}

/// Scrapes and nicks that some lines cross but never more than one in three of them, so that others bear witness.
fn scrapes(d: &mut Dice, zone: [f64; 2], angles: &[f64]) -> Vec<Damage> {
    let pitch = TAU / angles.len() as f64;
    let mut out: Vec<Damage> = Vec::new();
    for _ in 0..d.count(0, 3) {
        let width = if d.chance(0.3) { d.between(1.5, 3.0) } else { d.between(3.0, 14.0) };
        let from = d.between(zone[0] + 4.0, zone[1] - width - 4.0);
        let far = out.iter().all(|o| from > o.stretch()[1] + 6.0 || from + width < o.stretch()[0] - 6.0);
        if far {
            out.push(Damage::Scrape {
                from,
                to: from + width,
                middle: d.pick(angles) + d.between(-0.1, 0.1),
                half_angle: d.between(0.25, 0.8 * pitch),
                depth: d.between(0.06, 0.5).min(0.12 * width),
                lean: d.between(0.7, 1.4),
            });
        }
    }
    out
}

/// Rash all round, beside the lip. The face under it is plain: what is bridged from both sides can hold no feature of its own,
/// and a bowl no narrower than 40 mm and no deeper than 6 mm leaves a cubic through both margins of 16 mm by less than
/// `(8 mm)⁴/24 · 12·6 mm/(40 mm)⁴` = 0.005 mm.
fn add_rash(d: &mut Dice, wheel: &mut Wheel, zone: [f64; 2]) {
    let to = zone[1] - d.between(8.0, 14.0);
    let from = to - d.between(6.0, 16.0);
    wheel.face.retain(|piece| match *piece {
        Piece::Trough { middle, half, .. } => middle + 3.0 * half < from - 8.0,
        Piece::Bead { middle, half, .. } => middle + half < from - 8.0,
        Piece::Step { at, width, .. } => at + 4.0 * width < from - 8.0,
        _ => true,
    });
    for piece in &mut wheel.face {
        if let Piece::Bowl { width, .. } = piece {
            *width = width.max(40.0);
        }
    }
    wheel.damage.retain(|o| o.stretch()[1] < from - 8.0);
    wheel.damage.push(Damage::Rash {
        from,
        to,
        least: d.between(0.05, 0.15),
        most: d.between(0.25, 0.5),
        phases: [d.angle(), d.angle(), d.angle()],
    });
}

/// Windows on some lines, with at least three lines whole, and a ring of bolt holes near the inner end.
fn gaps(d: &mut Dice, zone: [f64; 2], angles: &[f64]) -> Vec<Gap> {
    let mut out = Vec::new();
    if d.chance(0.5) {
        for _ in 0..d.count(1, (angles.len() - 3).clamp(1, 2)) {
            let from = d.between(zone[0] + 15.0, zone[0] + 50.0);
            out.push(Gap::Window {
                from,
                to: from + d.between(6.0, 40.0),
                middle: d.pick(angles) + d.between(-0.05, 0.05),
                half_angle: d.between(0.12, 0.2),
            });
        }
    } else {
        let at = zone[0] + d.between(5.0, 9.0);
        let start = d.angle();
        out.extend((0..5).map(|k| Gap::Hole {
            at,
            angle: start + TAU * f64::from(k) / 5.0,
            radius: d.between(3.0, 6.0),
        }));
    }
    out
}

fn hand_and_sensor(d: &mut Dice, well: bool) -> (Hand, Sensor) {
    let way = d.pick(&[Way::Out, Way::Out, Way::In, Way::OutAndBack]);
    let often = |d: &mut Dice, share: f64, least: f64, most: f64| {
        if !well && d.chance(share) { d.between(least, most) } else { 0.0 }
    };
    let back = way == Way::OutAndBack;
    let hand = Hand {
        way,
        pitch: d.between(0.06, 0.16),
        uneven: often(d, 0.8, 0.1, 0.5),
        stops: often(d, 0.6, 0.002, 0.02),
        strides_back: often(d, 0.5, 0.002, 0.02),
    };
    let noise = d.between(0.002, 0.008);
    let sensor = Sensor {
        noise,
        tails: often(d, 0.5, 0.01, 0.1),
        texture: [often(d, 0.6, 0.001, 0.003), d.between(0.1, 0.4)],
        spikes: often(d, 0.6, 0.000_5, 0.004),
        clusters: often(d, 0.4, 0.000_2, 0.001_5),
        drop_outs: often(d, 0.5, 0.000_5, 0.02),
        quantum: if !well && d.chance(0.3) { d.pick(&[0.001, 0.002, 0.005]) } else { 0.0 },
        // Only who passes twice can see the zero move: on one way it would be a part of the face.
        drift: if back { often(d, 0.6, 0.005, 0.03) * d.pick(&[-1.0, 1.0]) } else { 0.0 },
        hysteresis: if back { often(d, 0.6, 0.004, 0.02) * d.pick(&[-1.0, 1.0]) } else { 0.0 },
        range: ENDLESS,
        stuck: None,
    };
    (hand, sensor)
}

impl Trial {
    /// The trial of a seed.
    pub fn of(seed: u64, ask: Ask) -> Self {
        let mut dice = Dice::new(seed);
        let d = &mut dice;
        let lines = if ask.lines == 0 { d.count(3, 9) } else { ask.lines };
        let zone = [d.between(66.0, 80.0), d.between(200.0, 225.0)].map(|r| (r * 10.0).round() / 10.0);
        let (start, pitch) = (d.angle(), TAU / lines as f64);
        let angles: Vec<f64> =
            (0..lines).map(|i| start + pitch * (i as f64 + d.between(-0.08, 0.08))).collect();
        let mut wheel = Wheel { face: face(d, zone), rim: zone[1], ..Wheel::default() };
        let mut listed = Vec::new();
        if !ask.plain {
            if d.chance(0.8) {
                wheel.tilt = [d.between(0.0, 0.15) / zone[1], d.angle()];
            }
            if d.chance(0.45) {
                wheel.off_centre = [d.between(0.03, 0.25), d.angle()];
            }
            wheel.bends =
                if ask.hidden_bend { vec![hidden_bend(d, zone, lines)] } else { bends(d, zone, lines) };
            if d.chance(0.7) {
                wheel.damage = scrapes(d, zone, &angles);
            }
            if lines >= 4 && d.chance(0.25) {
                wheel.gaps = gaps(d, zone, &angles);
            }
            if ask.rash {
                add_rash(d, &mut wheel, zone);
            }
        }
        if ask.listed {
            listed = wheel
                .damage
                .iter()
                .map(|o| {
                    let [from, to] = o.stretch();
                    let depth = match *o {
                        Damage::Scrape { depth, .. } => depth,
                        Damage::Rash { most, .. } => most,
                    };
                    Listed { stretch: [(from - 0.5).floor(), (to + 0.5).ceil()], depth }
                })
                .collect();
        }
        let style = |d: &mut Dice| {
            let separator = d.pick(&[',', ';', '\t']);
            // After a blank, nothing is no field.
            let nothing = d.pick(&["NaN", "-999", if separator == '\t' { "NaN" } else { "" }]);
            Style { separator, header: d.chance(0.5), nothing }
        };
        let lines = angles
            .iter()
            .map(|&angle| {
                let (hand, sensor) = hand_and_sensor(d, ask.well_measured);
                let style = style(d);
                let ends = [zone[0] - d.between(2.5, 6.0), zone[1] + d.between(2.5, 5.0)];
                let rows = hand::measure(&wheel, angle, ends, &hand, &sensor, d.seed());
                Line { angle, hand, sensor, rows, style }
            })
            .collect();
        Self {
            seed,
            wheel,
            zone,
            lines,
            listed,
            mend: Vec::new(),
            allowance: 4.0,
            run_out_limit: 1.5,
            sense: "height",
            accepts: true,
        }
    }

    /// Reads every line again, after wheel, hand or sensor have been changed.
    pub fn remeasure(&mut self) {
        let ends = [self.zone[0] - 4.0, self.zone[1] + 4.0];
        for (i, line) in self.lines.iter_mut().enumerate() {
            let seed = self.seed ^ (i as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            line.rows = hand::measure(&self.wheel, line.angle, ends, &line.hand, &line.sensor, seed);
        }
    }

    /// The job file.
    fn job(&self) -> String {
        let [from, to] = self.zone;
        let mut out = format!(
            "job: Trial {}\nshop: shop.yaml\nschedule: scuffed-lip\n\
             wheel:\n  name: trial\n  material: cast aluminium\n  tyre: removed\n  speed_limit: 650 rpm\n  \
             allowance: {{ limit: {} mm, taken: 0 mm }}\n  run_out_limit: {} mm\n\
             measured:\n  sensor: spot\n  x: radius\n  unit: mm\n  columns: [x, z]\n  z: {}\n  x_offset: 0 mm\n  \
             filter: {FILTER} mm\n  longest_gap: 2 mm\n  lines:\n",
            self.seed, self.allowance, self.run_out_limit, self.sense
        );
        for (i, line) in self.lines.iter().enumerate() {
            let at = line.angle.to_degrees().rem_euclid(360.0);
            let _ = writeln!(out, "    - {{ file: scan-{i}.csv, at: {at:.6} deg }}");
        }
        if !self.listed.is_empty() {
            out.push_str("damage:\n");
            for l in &self.listed {
                let [a, b] = l.stretch;
                let _ = writeln!(
                    out,
                    "  - {{ from: {a:.3} mm, to: {b:.3} mm, depth: {:.4} mm, kind: scrape }}",
                    l.depth
                );
            }
        }
        if !self.mend.is_empty() {
            out.push_str("mend:\n");
            for [a, b] in &self.mend {
                let _ = writeln!(out, "  - {{ from: {a:.3} mm, to: {b:.3} mm }}");
            }
        }
        let _ = writeln!(out, "zones:\n  - {{ from: {from} mm, to: {to} mm }}");
        out
    }

    /// Writes scans, job and shop file into a folder.
    pub fn write(&self, folder: &Path) {
        let put = |name: &str, text: &str| {
            std::fs::write(folder.join(name), text).unwrap_or_else(|e| panic!("{name}: {e}"));
        };
        let shop = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/shop.yaml");
        put("shop.yaml", &std::fs::read_to_string(shop).unwrap_or_else(|e| panic!("{shop}: {e}")));
        put("job.yaml", &self.job());
        for (i, line) in self.lines.iter().enumerate() {
            put(&format!("scan-{i}.csv"), &hand::text(&line.rows, line.style));
        }
    }

    /// Surveys it.
    pub fn survey(&self) -> Result<Survey, PipelineError> {
        let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
        self.write(folder.path());
        let mut job: Job = pipeline::load(&folder.path().join("job.yaml"))?.job().clone();
        if self.accepts && self.lines.len() < 5 {
            job.accept.push(Acceptance::TwoLobeBendUnseen);
        }
        let loaded = pipeline::Loaded::from(job);
        let measured = loaded.measure()?;
        Ok(measured.survey()?.survey().clone())
    }

    /// Radii of the zone, a quarter of a millimetre apart.
    pub fn radii(&self) -> Vec<f64> {
        let [from, to] = self.zone;
        let mut out = Vec::new();
        let mut r = from;
        while r <= to {
            out.push(r);
            r += 0.25;
        }
        out
    }

    /// Turns the wheel and its lines by an angle.
    pub fn turned(&self, by: f64) -> Self {
        let mut out = self.clone();
        for line in &mut out.lines {
            line.angle = (line.angle + by).rem_euclid(2.0 * PI);
        }
        out
    }
}
