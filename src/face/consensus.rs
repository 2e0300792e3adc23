//! One face from lines that agree, and what in each line departs from it: damage set aside, dents mended.
//!
//! The lines come in levelled (tilt and slow departure taken off), so that sound readings agree
//! within the noise at every radius. Damage only takes metal away, so where lines disagree the
//! upper ones are believed as soon as two agree; the others are dented there. A dip that all lines
//! show at one radius is the wheel's own shape and stays. Where fewer than two agree, the face on
//! both sides decides: a parabola through its margins is laid across, lines that agree with it are
//! believed, and if none does the parabola itself mends the stretch. What no line and no parabola
//! can vouch for is given the highest line (the tool then stays too high, never too low) and
//! reported as unsure.
//!
//! A dent is followed from where it is plain down both its flanks into the noise (two thresholds,
//! as in hysteresis thresholding: J. Canny, 1986), so that no shallow flank is averaged into the face.

use super::lines::{MAD_TO_SIGMA, median};

/// A stretch of radius, millimetres.
pub type Stretch = (f64, f64);

/// What a person asked for beside what the lines say.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wishes {
    /// Stretches that are damaged all round: mended across from their margins.
    pub mend: Vec<Stretch>,
    /// Stretches that are meant to be as they are, even where lines disagree.
    pub leave: Vec<Stretch>,
}

/// How one reading stands to the face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// It agrees.
    Sound,
    /// It lies below.
    Low,
    /// It lies above.
    High,
    /// There is none.
    Absent,
}

/// Who vouches for the face at one radius.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Voucher {
    /// Two lines or more that agree, or the only line that was measured.
    Lines,
    /// The face on both sides: a parabola through the margins, and the lines that agree with it.
    Margins,
    /// One line, with nothing to hold it against.
    OneLine,
}

/// The face that the lines agree on.
#[derive(Debug, Clone, PartialEq)]
pub struct Consensus {
    /// Height at each radius.
    pub face: Vec<f64>,
    /// Who vouches for it at each radius.
    pub voucher: Vec<Voucher>,
    /// How each reading stands to it, one row a line.
    pub reading: Vec<Vec<Reading>>,
    /// Standard deviation of a single reading, millimetres.
    pub sigma: f64,
}

/// Readings this many standard deviations apart disagree: one in some ten thousand of normal noise.
const DISAGREE: f64 = 4.0;
/// Readings nearer than this always agree: repeatability of a good sensor on a hand-turned wheel.
const ALWAYS_AGREE: f64 = 0.02;
/// So many lines that agree, and more than half of all, outvote one that stands above them.
const LEAST_MOST: usize = 3;
/// A dent's flank is followed down to this share of the disagreement.
const FLANK: f64 = 0.25;
/// Lines measured one after another repeat their radius within this; on a slope it shows as height.
const RADIUS_REPEATS: f64 = 0.02;
/// The longest stretch that a parabola may mend: beyond it the wheel's shape is a guess.
pub const LONGEST_MEND: f64 = 30.0;
/// Least margin on each side of a stretch that carries the parabola.
const LEAST_MARGIN: f64 = 3.0;
/// A margin whose own readings leave the parabola by more than this many times the disagreement carries
/// nothing: there is a corner or a step in it.
const MARGIN_FIT: f64 = 1.0;
/// Rounds of face and dents in turn; the dents stand still after two.
const ROUNDS: usize = 3;

/// Finds the face of levelled lines `w` (one row a line, not a number where there is none) over the radii `x`.
#[must_use]
pub fn consensus(x: &[f64], w: &[Vec<f64>], wishes: &Wishes) -> Consensus {
    let middle = middles(w);
    let sigma = noise(w, &middle);
    let apart = tolerances(x, &middle, sigma);
    let mut reading = first_reading(w, &apart);
    apply_wishes(x, w, wishes, &mut reading);
    let (mut face, mut voucher) = believed(x, w, &reading, &apart);
    for _ in 0..ROUNDS {
        let before = reading;
        reading = w.iter().map(|line| judge(line, &face, &apart)).collect();
        apply_wishes(x, w, wishes, &mut reading);
        if reading == before {
            // The same readings are believed again, so face and vouchers stand still.
            break;
        }
        let (next, again) = believed(x, w, &reading, &apart);
        face = next;
        // A stretch that lines did not vouch for at first stays so, though the doubters are set aside by now.
        voucher.iter_mut().zip(again).filter(|(v, _)| **v == Voucher::Lines).for_each(|(v, a)| *v = a);
    }
    // The last word on each reading is against the face as it now stands.
    reading = w.iter().map(|line| judge(line, &face, &apart)).collect();
    for (i, _) in x.iter().enumerate().filter(|&(_, &r)| inside(&wishes.leave, r)) {
        for line in reading.iter_mut().filter(|line| line[i] != Reading::Absent) {
            line[i] = Reading::Sound;
        }
    }
    Consensus { face, voucher, reading, sigma }
}

/// The median of the lines at each radius, not a number where there is none.
pub(super) fn middles(w: &[Vec<f64>]) -> Vec<f64> {
    let mut here = Vec::with_capacity(w.len());
    (0..w.first().map_or(0, Vec::len))
        .map(|i| {
            here.clear();
            here.extend(w.iter().map(|line| line[i]).filter(|z| z.is_finite()));
            median(&mut here).unwrap_or(f64::NAN)
        })
        .collect()
}

fn column(w: &[Vec<f64>], i: usize) -> Vec<f64> {
    w.iter().map(|line| line[i]).filter(|v| v.is_finite()).collect()
}

/// Noise of one reading, from the differences between lines; from neighbouring readings where there is one line.
fn noise(w: &[Vec<f64>], middle: &[f64]) -> f64 {
    let mut left = Vec::new();
    if w.len() >= 2 {
        for (i, m) in middle.iter().enumerate() {
            let values = || w.iter().map(|line| line[i]).filter(|v| v.is_finite());
            let count = values().count();
            if count >= 2 {
                // Of n readings about their own median, n − 1 are free.
                let free = (count as f64 / (count as f64 - 1.0)).sqrt();
                left.extend(values().map(|v| (v - m).abs() * free));
            }
        }
    } else if let Some(line) = w.first() {
        // Second differences of white noise have the variance 6·σ²; the face's own curve hardly enters them.
        left.extend(
            line.windows(3)
                .map(|v| (v[0] - 2.0 * v[1] + v[2]).abs() / 6.0_f64.sqrt())
                .filter(|d| d.is_finite()),
        );
    }
    median(&mut left).unwrap_or(0.0) * MAD_TO_SIGMA
}

/// How far two readings may lie apart at each radius.
fn tolerances(x: &[f64], middle: &[f64], sigma: f64) -> Vec<f64> {
    let slope: Vec<f64> = x
        .windows(2)
        .zip(middle.windows(2))
        .map(|(x, z)| ((z[1] - z[0]) / (x[1] - x[0])).abs())
        .map(|s| if s.is_finite() { s } else { 0.0 })
        .collect();
    let base = (DISAGREE * sigma).max(ALWAYS_AGREE);
    (0..x.len())
        .map(|i| {
            // The steepest of the segments that meet here and their neighbours: a wall's foot counts as wall.
            let near = slope.get(i.saturating_sub(2)..(i + 2).min(slope.len())).unwrap_or(&[]);
            base + RADIUS_REPEATS * near.iter().copied().fold(0.0, f64::max)
        })
        .collect()
}

/// The readings that agree with the highest one, if two or more do; otherwise most of three or more that agree among
/// themselves, since a burr on one line is likelier than the same dent on all others; otherwise nothing is believed yet.
fn first_reading(w: &[Vec<f64>], apart: &[f64]) -> Vec<Vec<Reading>> {
    let mut reading = vec![vec![Reading::Absent; apart.len()]; w.len()];
    let mut values = Vec::with_capacity(w.len());
    for (i, &apart) in apart.iter().enumerate() {
        values.clear();
        values.extend(w.iter().map(|line| line[i]).filter(|v| v.is_finite()));
        values.sort_unstable_by(|a, b| b.total_cmp(a));
        let believed = believed_band(&values, apart);
        for (line, row) in w.iter().zip(&mut reading) {
            row[i] = match (line[i], believed) {
                (z, _) if z.is_nan() => Reading::Absent,
                (z, Some((_, top))) if z > top => Reading::High,
                (z, Some((low, _))) if z >= low => Reading::Sound,
                _ => Reading::Low,
            };
        }
    }
    reading
}

/// Between which heights readings are believed, given all of them from the highest to the lowest.
fn believed_band(falling: &[f64], apart: f64) -> Option<(f64, f64)> {
    let &top = falling.first()?;
    let below = |top: f64| falling.iter().filter(|&&v| top - apart <= v && v <= top).count();
    if below(top) >= 2 || falling.len() == 1 {
        return Some((top - apart, top));
    }
    let &next = falling.get(1)?;
    let most = below(next);
    (most >= LEAST_MOST && 2 * most > falling.len()).then_some((next - apart, next))
}

fn inside(stretches: &[Stretch], r: f64) -> bool {
    stretches.iter().any(|&(from, to)| from <= r && r <= to)
}

/// In stretches to mend no reading is believed, in stretches to leave every one is.
fn apply_wishes(x: &[f64], w: &[Vec<f64>], wishes: &Wishes, reading: &mut [Vec<Reading>]) {
    for (i, &r) in x.iter().enumerate() {
        let as_wished = match (inside(&wishes.leave, r), inside(&wishes.mend, r)) {
            (true, _) => Reading::Sound,
            (false, true) => Reading::Low,
            (false, false) => continue,
        };
        for (_, row) in w.iter().zip(reading.iter_mut()).filter(|(line, _)| line[i].is_finite()) {
            row[i] = as_wished;
        }
    }
}

/// The mean of the sound readings; where there is none, what the margins say.
fn believed(x: &[f64], w: &[Vec<f64>], reading: &[Vec<Reading>], apart: &[f64]) -> (Vec<f64>, Vec<Voucher>) {
    let mut voucher = vec![Voucher::Lines; x.len()];
    let mut face: Vec<f64> = (0..x.len())
        .map(|i| {
            let (sum, n) = w
                .iter()
                .zip(reading)
                .filter(|(_, row)| row[i] == Reading::Sound)
                .fold((0.0, 0u32), |(sum, n), (line, _)| (sum + line[i], n + 1));
            sum / f64::from(n)
        })
        .collect();
    let mut i = 0;
    while i < x.len() {
        if face[i].is_finite() {
            i += 1;
            continue;
        }
        let end = (i..x.len()).find(|&j| face[j].is_finite()).unwrap_or(x.len());
        let across = across(x, &face, apart, i, end);
        for j in i..end {
            (face[j], voucher[j]) = vouched(&column(w, j), across.map(|p| p.at(x[j])), apart[j]);
        }
        i = end;
    }
    (face, voucher)
}

/// A height for a radius where no line is believed by the others.
fn vouched(values: &[f64], across: Option<f64>, apart: f64) -> (f64, Voucher) {
    let Some(across) = across else {
        return (values.iter().copied().fold(f64::NEG_INFINITY, f64::max), Voucher::OneLine);
    };
    let near: Vec<f64> = values.iter().copied().filter(|v| (v - across).abs() <= apart).collect();
    if near.is_empty() {
        return (across, Voucher::Margins);
    }
    (near.iter().sum::<f64>() / near.len() as f64, Voucher::Margins)
}

/// A parabola `z = a + b·(x − x0) + c·(x − x0)²`.
#[derive(Debug, Clone, Copy)]
struct Parabola {
    x0: f64,
    terms: [f64; 3],
}

impl Parabola {
    fn at(&self, x: f64) -> f64 {
        let d = x - self.x0;
        self.terms[0] + d * (self.terms[1] + d * self.terms[2])
    }
}

/// The parabola through the margins of the stretch `from..to` of indices, where both sides carry it.
fn across(x: &[f64], face: &[f64], apart: &[f64], from: usize, to: usize) -> Option<Parabola> {
    let (&last, &first) = (x.get(from.checked_sub(1)?)?, x.get(to)?);
    let length = first - last;
    if length > LONGEST_MEND {
        return None;
    }
    let reach = length.max(LEAST_MARGIN);
    let a = x.partition_point(|&r| r < last - reach);
    let b = x.partition_point(|&r| r <= first + reach);
    let margin: Vec<usize> = (a..from).chain(to..b).filter(|&i| face[i].is_finite()).collect();
    let inner = margin.iter().filter(|&&i| i < from).count();
    if inner < 2 || margin.len() - inner < 2 {
        return None;
    }
    let x0 = f64::midpoint(last, first);
    let fit = fit_parabola(x0, reach, margin.iter().map(|&i| (x[i], face[i])))?;
    let mut left: Vec<f64> = margin.iter().map(|&i| (face[i] - fit.at(x[i])).abs() / apart[i]).collect();
    // Nine of ten margin points must agree: a parabola that does not fit what is sound cannot mend what is not.
    let ninth = (left.len() * 9 / 10).min(left.len() - 1);
    let (_, &mut worst, _) = left.select_nth_unstable_by(ninth, f64::total_cmp);
    (worst <= MARGIN_FIT).then_some(fit)
}

fn fit_parabola(x0: f64, unit: f64, points: impl Iterator<Item = (f64, f64)>) -> Option<Parabola> {
    // Normal equations in d/unit, which keeps them well conditioned.
    let (mut s, mut t) = ([0.0; 5], [0.0; 3]);
    for (x, z) in points {
        let d = (x - x0) / unit;
        let powers = [1.0, d, d * d, d * d * d, d * d * d * d];
        s.iter_mut().zip(powers).for_each(|(s, p)| *s += p);
        t.iter_mut().zip(powers).for_each(|(t, p)| *t += p * z);
    }
    let det3 = |m: [[f64; 3]; 3]| {
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    };
    let m = [[s[0], s[1], s[2]], [s[1], s[2], s[3]], [s[2], s[3], s[4]]];
    let det = det3(m);
    if det.abs() < 1e-9 * s[0].powi(3) {
        return None;
    }
    let mut terms = [0.0; 3];
    for (j, term) in terms.iter_mut().enumerate() {
        let mut with = m;
        with.iter_mut().zip(t).for_each(|(row, t)| row[j] = t);
        *term = det3(with) / det / unit.powi(i32::try_from(j).unwrap_or(0));
    }
    Some(Parabola { x0, terms })
}

/// How a line's readings stand to the face: plain departures, followed down their flanks.
fn judge(line: &[f64], face: &[f64], apart: &[f64]) -> Vec<Reading> {
    let mut reading: Vec<Reading> = line
        .iter()
        .zip(face)
        .zip(apart)
        .map(|((&z, &f), &apart)| match z - f {
            d if !d.is_finite() => Reading::Absent,
            d if d < -apart => Reading::Low,
            d if d > apart => Reading::High,
            _ => Reading::Sound,
        })
        .collect();
    for side in [Reading::Low, Reading::High] {
        if !reading.contains(&side) {
            continue;
        }
        let sign = if side == Reading::Low { -1.0 } else { 1.0 };
        let on_flank = |i: usize| sign * (line[i] - face[i]) > FLANK * apart[i];
        let follow = |reading: &mut Vec<Reading>, i: usize, before: usize| {
            if reading[i] == Reading::Sound && reading[before] == side && on_flank(i) {
                reading[i] = side;
            }
        };
        (1..line.len()).for_each(|i| follow(&mut reading, i, i - 1));
        (1..line.len()).rev().for_each(|i| follow(&mut reading, i - 1, i));
    }
    reading
}
