//! The oracle's own reading of a line, its walks along lines and arcs in small steps, and how steep the face is.

use facewright::job::{Job, Step};
use std::f64::consts::{PI, TAU};

/// Step of walks, millimetres: between two the nose leaves a ridge of 0.0004 mm, on a slope of 60° of 0.0016 mm.
const STEP: f64 = 0.05;

/// Letters and numbers of a line, comments left out.
pub fn words(line: &str) -> Vec<(char, f64)> {
    let mut out = Vec::new();
    let mut chars = line.chars().peekable();
    let mut skip = false;
    while let Some(c) = chars.next() {
        match c {
            '(' => skip = true,
            ')' => skip = false,
            ';' => break,
            _ if skip => {}
            c if c.is_ascii_alphabetic() => {
                let mut number = String::new();
                while let Some(&d) = chars.peek().filter(|d| d.is_ascii_digit() || "+-. ".contains(**d)) {
                    chars.next();
                    if d != ' ' {
                        number.push(d);
                    }
                }
                if let Ok(v) = number.parse() {
                    out.push((c.to_ascii_uppercase(), v));
                }
            }
            _ => {}
        }
    }
    out
}

pub fn straight(a: (f64, f64), b: (f64, f64)) -> Vec<(f64, f64)> {
    let length = (b.0 - a.0).hypot(b.1 - a.1);
    // A walk from far away need not be walked where there is nothing: steps grow to a hundredth of a long way.
    let n = (length / STEP).ceil().clamp(1.0, 20_000.0);
    (0..=n as usize).map(|k| k as f64 / n).map(|t| (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1))).collect()
}

pub fn round(a: (f64, f64), b: (f64, f64), c: (f64, f64), clockwise: bool) -> Vec<(f64, f64)> {
    let angle = |p: (f64, f64)| (p.1 - c.1).atan2(p.0 - c.0);
    let (r, q) = ((a.0 - c.0).hypot(a.1 - c.1), (b.0 - c.0).hypot(b.1 - c.1));
    let sign = if clockwise { -1.0 } else { 1.0 };
    let mut sweep = (sign * (angle(b) - angle(a))).rem_euclid(TAU);
    if sweep < 1e-9 {
        sweep = 2.0 * PI;
    }
    let n = (sweep * r.max(q) / STEP).ceil().clamp(1.0, 20_000.0);
    (0..=n as usize)
        .map(|k| k as f64 / n)
        .map(|t| {
            let (at, radius) = (angle(a) + sign * sweep * t, r + t * (q - r));
            (c.0 + radius * at.cos(), c.1 + radius * at.sin())
        })
        .collect()
}

pub fn centre_of(a: (f64, f64), b: (f64, f64), r: f64, clockwise: bool) -> (f64, f64) {
    let (dx, dz) = (b.0 - a.0, b.1 - a.1);
    let chord = dx.hypot(dz).max(1e-9);
    let off = (r * r - chord * chord / 4.0).max(0.0).sqrt() * if clockwise == (r > 0.0) { 1.0 } else { -1.0 };
    (f64::midpoint(a.0, b.0) + off * dz / chord, f64::midpoint(a.1, b.1) - off * dx / chord)
}

/// The steepest within two millimetres of each radius, as the axial length of a depth of one along the normal.
pub fn steep(job: &Job, heights: &[f64], grid: f64) -> Vec<f64> {
    let reach = (2.0 / grid) as usize;
    let slope = |k: usize| (heights[(k + 1).min(heights.len() - 1)] - heights[k]) / grid;
    (0..heights.len())
        .map(|k| {
            let ring = k.saturating_sub(reach)..(k + reach).min(heights.len());
            match job.schedule.step {
                Step::Axial => 1.0,
                Step::Normal => ring.map(|i| slope(i).hypot(1.0)).fold(1.0, f64::max),
            }
        })
        .collect()
}

/// How far from a zone's end the nose leaves a fillet.
const FILLET: f64 = 5.0;

/// Whether a radius lies in a zone, clear of the fillets at its ends.
pub fn in_zone(job: &Job, u: f64) -> bool {
    job.zones.iter().any(|z| z.from.as_mm() + FILLET < u && u < z.to.as_mm() - FILLET)
}

/// Whether a radius lies in a zone, in the fillet at one of its ends.
pub fn in_fillet(job: &Job, u: f64) -> bool {
    !in_zone(job, u) && job.zones.iter().any(|z| z.from.as_mm() <= u && u <= z.to.as_mm())
}
