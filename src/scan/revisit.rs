//! What going over the same radii again tells: hysteresis between the ways out and back, and slow drift.
//!
//! Only a scan that turns round can tell. The residuals from the face, whose shape has fallen out, are gathered by
//! millimetre of radius and by leg (one way between two turns), and each leg's median is compared with
//! those of the later legs in the same millimetre: `difference = h·s + drift·Δt`, s = 1 from a way out to
//! a way back. Least squares with the biweight (Beaton and Tukey 1974) gives h and drift.

use super::reader::RawPoint;
use super::robust::{SIGMA_PER_MAD, median};
use crate::geometry::Profile;
use std::collections::BTreeMap;

/// Going back by less than this, in millimetres, is a shaking hand and no turn.
const TURN: f64 = 0.3;

/// Width of the stretches in which legs are compared, millimetres.
const BLOCK: f64 = 1.0;

/// A leg tells about a stretch if it has at least this many points there.
const ENOUGH: usize = 3;

/// Fewer differences than this settle nothing.
const LEAST_PAIRS: usize = 6;

/// A difference lasts if the median of this many neighbouring ones shows it.
const LASTING: usize = 5;

/// A determinant below this share of its diagonal: all legs meet after the same time, so drift and hysteresis cannot
/// be told apart. It is called hysteresis.
const APART: f64 = 1e-3;

/// Hysteresis or drift of fewer standard errors than this is noise.
const SURE: f64 = 3.0;

/// Cut-off of the filter that takes the shape out, millimetres. The same smooth face is taken from both legs, so what
/// it rounds falls out of their difference.
pub(super) const SHAPE: f64 = 2.0;

/// Residuals beyond this many robust standard deviations count nothing (Beaton and Tukey 1974: 95 % efficiency).
const BIWEIGHT: f64 = 4.685;

/// What the legs say about each other.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Revisit {
    /// How much higher a way back reads than the way out, millimetres.
    pub hysteresis: f64,
    /// How much the reading rose from the first point to the last, millimetres.
    pub drift: f64,
    /// The greatest difference between two legs at one place, millimetres, and the radius there.
    pub most: (f64, f64),
}

impl Revisit {
    /// How much too high point `i` of `n` reads, on a way `out` or back: the middle of both ways and times is right.
    pub fn error(&self, i: usize, n: usize, out: bool) -> f64 {
        let way = if out { -0.5 } else { 0.5 };
        way * self.hysteresis + self.drift * (i as f64 / n as f64 - 0.5)
    }
}

/// One way between two turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Leg {
    /// The first point, in measured order; the leg ends where the next begins.
    pub start: usize,
    /// Whether it goes outward.
    pub out: bool,
}

/// The legs of a scan in measured order; one for a scan that never turns.
pub(super) fn legs(points: &[RawPoint]) -> Vec<Leg> {
    let mut legs: Vec<Leg> = Vec::new();
    let Some(first) = points.first() else { return legs };
    // The farthest places inward and outward since the last turn, with the points they were reached at.
    let (mut low, mut high) = ((first.x, 0), (first.x, 0));
    for (i, p) in points.iter().enumerate() {
        if p.x < low.0 {
            low = (p.x, i);
        }
        if p.x > high.0 {
            high = (p.x, i);
        }
        let going = legs.last().map(|l| l.out);
        if going != Some(true) && p.x > low.0 + TURN {
            legs.push(Leg { start: if going.is_none() { 0 } else { low.1 }, out: true });
            high = (p.x, i);
        } else if going != Some(false) && p.x < high.0 - TURN {
            legs.push(Leg { start: if going.is_none() { 0 } else { high.1 }, out: false });
            low = (p.x, i);
        }
        match legs.last() {
            Some(l) if l.out => low = (high.0, high.1),
            Some(_) => high = (low.0, low.1),
            None => {}
        }
    }
    if legs.is_empty() {
        legs.push(Leg { start: 0, out: true });
    }
    legs
}

/// A leg's residual in one stretch of radius.
struct Visit {
    leg: usize,
    time: f64,
    off: f64,
}

/// Two legs in one stretch: how much higher the later one reads.
struct Pair {
    sign: f64,
    time: f64,
    off: f64,
    x: f64,
}

/// Compares the legs; none if they do not meet often enough.
pub(super) fn compare(points: &[RawPoint], legs: &[Leg], face: &Profile) -> Option<Revisit> {
    if legs.len() < 2 {
        return None;
    }
    let pairs = pairs(&visits(points, legs, face), legs);
    if pairs.len() < LEAST_PAIRS {
        return None;
    }
    let (hysteresis, drift) = settle(&pairs);
    Some(Revisit { hysteresis, drift, most: greatest(&pairs) })
}

/// The greatest difference that lasts: of the medians of neighbouring pairs, since at a steep wall a single stretch
/// differs by where its points happen to lie.
fn greatest(pairs: &[Pair]) -> (f64, f64) {
    let lasting = pairs.windows(LASTING).filter_map(|w| {
        let mut off: Vec<f64> = w.iter().map(|p| p.off * if p.sign < 0.0 { -1.0 } else { 1.0 }).collect();
        Some((median(&mut off)?.abs(), w.get(LASTING / 2)?.x))
    });
    lasting.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or_default()
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "radii are checked to lie in 0 to 1000 mm"
)]
fn block_of(x: f64) -> u32 {
    (x / BLOCK).floor() as u32
}

/// What each leg says in each stretch it visits.
fn visits(points: &[RawPoint], legs: &[Leg], face: &Profile) -> BTreeMap<u32, Vec<Visit>> {
    let mut all: BTreeMap<u32, Vec<Visit>> = BTreeMap::new();
    let n = points.len() as f64;
    for (l, leg) in legs.iter().enumerate() {
        let end = legs.get(l + 1).map_or(points.len(), |next| next.start);
        let mut of_leg: BTreeMap<u32, (f64, Vec<f64>)> = BTreeMap::new();
        for (i, p) in points.iter().enumerate().take(end).skip(leg.start) {
            let (time, off) = of_leg.entry(block_of(p.x)).or_default();
            *time += i as f64 / n;
            off.push(p.z - face.at(p.x));
        }
        for (block, (time, mut off)) in of_leg {
            let count = off.len();
            if count < ENOUGH {
                continue;
            }
            if let Some(middle) = median(&mut off) {
                all.entry(block).or_default().push(Visit { leg: l, time: time / count as f64, off: middle });
            }
        }
    }
    all
}

/// Each leg with the one before it in every stretch.
fn pairs(visits: &BTreeMap<u32, Vec<Visit>>, legs: &[Leg]) -> Vec<Pair> {
    let out = |v: &Visit| legs.get(v.leg).is_some_and(|l| l.out);
    let mut pairs = Vec::new();
    for (&block, here) in visits {
        for w in here.windows(2) {
            let [a, b] = w else { continue };
            let sign = match (out(a), out(b)) {
                (true, false) => 1.0,
                (false, true) => -1.0,
                _ => 0.0,
            };
            let x = (f64::from(block) + 0.5) * BLOCK;
            pairs.push(Pair { sign, time: b.time - a.time, off: b.off - a.off, x });
        }
    }
    pairs
}

/// Hysteresis and drift by least squares with outliers held down.
fn settle(pairs: &[Pair]) -> (f64, f64) {
    let mut weights = vec![1.0; pairs.len()];
    let mut answer = (0.0, 0.0);
    let mut errors = (0.0, 0.0);
    for _ in 0..10 {
        let (mut ss, mut st, mut tt, mut so, mut to) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (p, w) in pairs.iter().zip(&weights) {
            ss += w * p.sign * p.sign;
            st += w * p.sign * p.time;
            tt += w * p.time * p.time;
            so += w * p.sign * p.off;
            to += w * p.time * p.off;
        }
        let det = ss * tt - st * st;
        let apart = det > APART * ss * tt;
        answer = if apart {
            ((so * tt - to * st) / det, (to * ss - so * st) / det)
        } else if ss > 0.0 {
            (so / ss, 0.0)
        } else {
            (0.0, if tt > 0.0 { to / tt } else { 0.0 })
        };
        let off = |p: &Pair| p.off - answer.0 * p.sign - answer.1 * p.time;
        let mut sizes: Vec<f64> = pairs.iter().map(|p| off(p).abs()).collect();
        let spread = SIGMA_PER_MAD * median(&mut sizes).unwrap_or(0.0);
        errors = if apart {
            (spread * (tt / det).sqrt(), spread * (ss / det).sqrt())
        } else {
            (spread / ss.sqrt(), spread / tt.sqrt())
        };
        let cut = BIWEIGHT * spread;
        if cut <= 0.0 {
            break;
        }
        weights = pairs.iter().map(|p| (1.0 - (off(p) / cut).powi(2)).max(0.0).powi(2)).collect();
    }
    let sure = |value: f64, error: f64| if value.abs() > SURE * error { value } else { 0.0 };
    (sure(answer.0, errors.0), sure(answer.1, errors.1))
}
