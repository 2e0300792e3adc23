//! Lines that are one line: a file named twice, a copy of it, or the same readings in another dress.
//!
//! Lines at different angles of a wheel never agree to the last digit. Where they do, one angle was measured and the
//! others were not, and a wheel that runs out would be believed to run true. Files are compared by where they really
//! are, then by their bytes (SHA-256), then by their readings in the order of radius, whatever their zero: shifted along the radius,
//! rounded to fewer digits, or in a part of the line only. Each in linear time but for sorting.

use super::line::Stretch;
use super::noise;
use super::reader::Scan;
use crate::geometry::Point;
use crate::numeric::order::median;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Lines that share this part of their radii, to the last bit, and of their heights but for the zero, are one line. Readings of a coarse last digit may
/// agree by chance, but not nearly all.
const SHARE: f64 = 0.9;

/// Readings whose heights differ by the same, within this (millimetres), are the same readings zeroed anew: half of a
/// last digit of a micrometre, and rounding. Lines measured twice differ by their noise, which scatters by more.
const LAST_DIGIT: f64 = 0.000_6;

/// Of readings that one line holds with fewer digits this part must agree: half a coarse digit leaves more to chance.
const SHARE_ROUNDED: f64 = 0.98;

/// Noise of a line in coarse digits, below which rounding makes lines alike that are none: at this, independent readings agree
/// within half a digit by three quarters.
const LIVELY: f64 = 0.25;

/// So many readings in a row that agree to the last digit, over so many millimetres, are copied: where the noise is more than that digit, one in
/// three agrees by chance.
const RUN: usize = 60;
const RUN_LENGTH: f64 = 5.0;

/// Steps of radius by which readings are told apart: a millionth of a millimetre, so that a shift leaves whole numbers.
const X_STEPS: f64 = 1e6;

/// Finest last digit of heights that is looked for, as a power of ten.
const FINEST_DIGIT: i32 = 4;

/// Fewer readings than this may agree by chance; such lines are drawn, not measured.
const ENOUGH: usize = 20;

/// How two lines were found to be one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Likeness {
    /// Both names lead to one file.
    SameFile,
    /// Two files of the same bytes.
    SameBytes,
    /// Different text, the same readings.
    SameReadings,
    /// The same readings, farther out or in by as much everywhere.
    Shifted {
        /// By how much, millimetres.
        by: f64,
    },
    /// The same readings with fewer digits.
    Rounded {
        /// The coarser digit, millimetres.
        to: f64,
    },
    /// The same readings over a part of the lines.
    InPart(Stretch),
    /// The same readings, with a slope added.
    Tilted {
        /// How much higher for each millimetre of radius.
        by: f64,
    },
}

/// Two lines of a job that are one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Copy {
    /// The line that stands first in the job, from zero.
    pub of: usize,
    /// The line that repeats it.
    pub line: usize,
    /// By what.
    pub how: Likeness,
}

/// What tells a file from others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Identity {
    place: PathBuf,
    digest: [u8; 32],
}

impl Identity {
    /// Of a file that was read, or of one trace of it. A place that cannot be resolved stands for itself.
    pub fn of(file: &Path, trace: Option<&str>, bytes: &[u8]) -> Self {
        let place = std::fs::canonicalize(file).unwrap_or_else(|_| file.to_owned());
        // The traces of one file are told apart as if each had a file of its own.
        let place = trace.map_or(place.clone(), |t| place.join(t.trim()));
        let digest = Sha256::new().chain_update(bytes).chain_update(trace.unwrap_or_default());
        Self { place, digest: digest.finalize().into() }
    }
}

/// Every line that repeats an earlier one, in the order of the lines.
pub(super) fn find(lines: &[(&Identity, &Scan)]) -> Vec<Copy> {
    let mut places: BTreeMap<&Path, usize> = BTreeMap::new();
    let mut digests: BTreeMap<[u8; 32], usize> = BTreeMap::new();
    let mut kept: Vec<(usize, Vec<(f64, f64)>)> = Vec::new();
    let mut found = Vec::new();
    for (line, (identity, scan)) in lines.iter().enumerate() {
        let copy = |of, how| Copy { of, line, how };
        if let Some(&of) = places.get(identity.place.as_path()) {
            found.push(copy(of, Likeness::SameFile));
            continue;
        }
        if let Some(&of) = digests.get(&identity.digest) {
            found.push(copy(of, Likeness::SameBytes));
            continue;
        }
        places.insert(&identity.place, line);
        digests.insert(identity.digest, line);
        let readings = readings(scan);
        match kept.iter().find_map(|(of, other)| Some((*of, likeness(other, &readings)?))) {
            Some((of, how)) => found.push(copy(of, how)),
            None => kept.push((line, readings)),
        }
    }
    found
}

/// The readings of a scan in an order that does not depend on that of the file: radius in steps of a millionth, and height.
fn readings(scan: &Scan) -> Vec<(f64, f64)> {
    let mut all: Vec<(f64, f64)> = scan.points.iter().map(|p| ((p.x * X_STEPS).round(), p.z)).collect();
    all.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    all
}

/// By what the readings of two lines are one line's, if they are.
fn likeness(a: &[(f64, f64)], b: &[(f64, f64)]) -> Option<Likeness> {
    if a.len().min(b.len()) < ENOUGH {
        return None;
    }
    if alike(a, b, LAST_DIGIT, SHARE) {
        return Some(Likeness::SameReadings);
    }
    if let Some(to) = rounded(a, b) {
        return Some(Likeness::Rounded { to });
    }
    if let Some(over) = in_part(a, b) {
        return Some(Likeness::InPart(over));
    }
    if let Some(by) = tilted(a, b) {
        return Some(Likeness::Tilted { by });
    }
    let by = shift(a, b)?;
    let back: Vec<(f64, f64)> = b.iter().map(|(x, z)| (x - by, *z)).collect();
    let same = alike(a, &back, LAST_DIGIT, SHARE) || rounded(a, &back).is_some();
    same.then_some(Likeness::Shifted { by: by / X_STEPS })
}

/// By how much one line stands farther out than another, reading for reading, in steps of radius.
fn shift(a: &[(f64, f64)], b: &[(f64, f64)]) -> Option<f64> {
    let apart = || a.iter().zip(b).map(|(p, q)| q.0 - p.0);
    let by = median(&mut apart().collect::<Vec<f64>>()).filter(|by| *by != 0.0)?.round();
    let as_far = apart().filter(|d| *d == by).count();
    (as_far as f64 >= SHARE * a.len().min(b.len()) as f64).then_some(by)
}

/// By what slope one line stands over another, where that is all that parts them: two lines of a wheel that was tilted between them differ by their
/// noise too. Lines drawn without noise tell nothing.
fn tilted(a: &[(f64, f64)], b: &[(f64, f64)]) -> Option<f64> {
    let apart: Vec<(f64, f64)> = common(a, b).iter().map(|c| (c.0 / X_STEPS, c.2)).collect();
    if (apart.len() as f64) < SHARE * a.len().min(b.len()) as f64 {
        return None;
    }
    // Each reading with the one half the line further out: the median of their slopes is held by more than half of them.
    let further = apart.iter().skip(apart.len() / 2);
    let slope =
        median(&mut apart.iter().zip(further).map(|(p, q)| (q.1 - p.1) / (q.0 - p.0)).collect::<Vec<_>>())?;
    let zero = median(&mut apart.iter().map(|(x, d)| d - slope * x).collect::<Vec<_>>())?;
    let same = apart.iter().filter(|(x, d)| (d - slope * x - zero).abs() < LAST_DIGIT).count();
    let noise = noise_of(a);
    let lively = noise > noise::LEAST.max(LAST_DIGIT) && noise >= digit(a).unwrap_or(0.0) / 2.0;
    (lively && same as f64 >= SHARE * apart.len() as f64).then_some(slope)
}

/// The coarser digit, where one line holds the other's readings with fewer digits.
fn rounded(a: &[(f64, f64)], b: &[(f64, f64)]) -> Option<f64> {
    let (of_a, of_b) = (digit(a), digit(b));
    let (finer, coarse) = match (of_a, of_b) {
        (a_digit, Some(q)) if a_digit.is_none_or(|p| p < q) => (a, q),
        (Some(q), b_digit) if b_digit.is_none_or(|p| p < q) => (b, q),
        _ => return None,
    };
    let tells = coarse / 2.0 > LAST_DIGIT && noise_of(finer) >= LIVELY * coarse;
    (tells && alike(a, b, coarse / 2.0 + LAST_DIGIT, SHARE_ROUNDED)).then_some(coarse)
}

/// The power of ten of which all heights of a line are multiples; none where they have more digits.
fn digit(line: &[(f64, f64)]) -> Option<f64> {
    let whole = |scale: f64| line.iter().all(|(_, z)| ((z * scale).round() - z * scale).abs() < 1e-6);
    (0..=FINEST_DIGIT).map(|d| 10.0_f64.powi(d)).find(|scale| whole(*scale)).map(f64::recip)
}

/// The noise of readings in the order of radius, millimetres.
fn noise_of(line: &[(f64, f64)]) -> f64 {
    noise::sigma(line.iter().map(|(x, z)| Point::new(x / X_STEPS, *z)))
}

/// The radii that two lines share, in steps, each with the height of the first and how much higher the second stands.
fn common(a: &[(f64, f64)], b: &[(f64, f64)]) -> Vec<(f64, f64, f64)> {
    let mut common: Vec<(f64, f64, f64)> = Vec::new();
    let (mut i, mut j) = (0, 0);
    while let (Some(p), Some(q)) = (a.get(i), b.get(j)) {
        i += usize::from(p.0 <= q.0);
        j += usize::from(q.0 <= p.0);
        if p.0 == q.0 {
            common.push((p.0, p.1, q.1 - p.1));
        }
    }
    common
}

/// The longest stretch over which two lines agree reading for reading, where that is no chance: neither a face drawn without noise, nor
/// digits as coarse as the noise.
fn in_part(a: &[(f64, f64)], b: &[(f64, f64)]) -> Option<Stretch> {
    let common = common(a, b);
    let mut longest: &[(f64, f64, f64)] = &[];
    let mut rest = common.as_slice();
    while let Some(first) = rest.first() {
        let same = rest.iter().take_while(|c| (c.2 - first.2).abs() < LAST_DIGIT).count();
        let (run, behind) = rest.split_at(same.max(1));
        if run.len() > longest.len() {
            longest = run;
        }
        rest = behind;
    }
    let (from, to) = (longest.first()?.0 / X_STEPS, longest.last()?.0 / X_STEPS);
    let over = Stretch { from, to };
    let run: Vec<(f64, f64)> = longest.iter().map(|c| (c.0, c.1)).collect();
    let noise = noise_of(&run);
    let coarse = digit(&run).unwrap_or(0.0);
    (run.len() >= RUN && over.length() >= RUN_LENGTH && noise > noise::LEAST && noise >= coarse / 2.0)
        .then_some(over)
}

/// Whether of the shorter of two lines this share of the readings stands in the other, within a digit and but for one zero.
fn alike(a: &[(f64, f64)], b: &[(f64, f64)], digit: f64, share: f64) -> bool {
    let least = a.len().min(b.len());
    let mut apart = Vec::new();
    let (mut i, mut j) = (0, 0);
    while let (Some(p), Some(q)) = (a.get(i), b.get(j)) {
        match p.0.total_cmp(&q.0) {
            std::cmp::Ordering::Less => i += 1,
            std::cmp::Ordering::Greater => j += 1,
            std::cmp::Ordering::Equal => {
                apart.push(q.1 - p.1);
                i += 1;
                j += 1;
            }
        }
    }
    let Some(zero) = median(&mut apart) else { return false };
    let (mut i, mut j, mut same) = (0, 0, 0_usize);
    while let (Some(p), Some(q)) = (a.get(i), b.get(j)) {
        let off = q.1 - p.1 - zero;
        let order = p.0.total_cmp(&q.0).then(if off.abs() < digit {
            std::cmp::Ordering::Equal
        } else {
            0.0_f64.total_cmp(&off)
        });
        match order {
            std::cmp::Ordering::Less => i += 1,
            std::cmp::Ordering::Greater => j += 1,
            std::cmp::Ordering::Equal => {
                same += 1;
                i += 1;
                j += 1;
            }
        }
    }
    same as f64 >= share * least as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scan::noise::tests::normal;
    use crate::scan::reader::RawPoint;

    fn scan(seed: u64) -> Scan {
        let mut seed = seed;
        let point = |i: u32| RawPoint {
            x: 60.0 + 0.1 * f64::from(i),
            z: ((0.1 * f64::from(i) + 0.01 * normal(&mut seed)) * 1000.0).round() / 1000.0,
            line: i + 1,
        };
        Scan { points: (0..1000).map(point).collect(), ..Scan::default() }
    }

    fn identity(name: &str, bytes: &[u8]) -> Identity {
        Identity::of(Path::new(name), None, bytes)
    }

    #[test]
    fn one_file_under_two_names_its_copy_and_its_readings_turned_round_are_one_line() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.csv");
        std::fs::write(&file, "1,2").unwrap();
        let other_way = folder.path().join(".").join("a.csv");
        let (one, another) = (scan(1), scan(2));
        let mut turned = one.clone();
        turned.points.reverse();
        turned.points.truncate(950);
        let lines = [
            (Identity::of(&file, None, b"1,2"), &one),
            (Identity::of(&other_way, None, b"1,2"), &one),
            (identity("b.csv", b"1,2"), &one),
            (identity("c.csv", b"1;2"), &turned),
            (identity("d.csv", b"1,3"), &another),
        ];
        let lines: Vec<(&Identity, &Scan)> = lines.iter().map(|(i, s)| (i, *s)).collect();
        let found: Vec<(usize, usize, Likeness)> =
            find(&lines).into_iter().map(|c| (c.of, c.line, c.how)).collect();
        assert_eq!(
            found,
            [(0, 1, Likeness::SameFile), (0, 2, Likeness::SameBytes), (0, 3, Likeness::SameReadings)]
        );
    }

    #[test]
    fn readings_zeroed_anew_are_one_line() {
        let one = scan(1);
        for by in [0.0125, -3.7, 0.000_04] {
            let mut shifted = one.clone();
            for p in &mut shifted.points {
                p.z = ((p.z + by) * 1000.0).round() / 1000.0;
            }
            let found = find(&[(&identity("a", b"a"), &one), (&identity("b", b"b"), &shifted)]);
            assert_eq!(found, [Copy { of: 0, line: 1, how: Likeness::SameReadings }], "by {by}");
        }
        // The same radii measured again with a good sensor (noise of 2 µm) are another line.
        let mut seed = 9;
        let mut again = one.clone();
        for p in &mut again.points {
            p.z += 0.0125 + 0.002 * normal(&mut seed);
        }
        assert_eq!(find(&[(&identity("a", b"a"), &one), (&identity("b", b"b"), &again)]), []);
    }

    #[test]
    fn lines_of_one_grid_and_a_coarse_digit_are_different_lines() {
        let coarse = |seed| {
            let mut s = scan(seed);
            for p in &mut s.points {
                p.z = (p.z * 100.0).round() / 100.0;
            }
            s
        };
        let (a, b) = (coarse(3), coarse(4));
        let same = a.points.iter().zip(&b.points).filter(|(p, q)| p.z == q.z).count();
        assert!(same > 100, "the check needs readings that agree by chance");
        assert_eq!(find(&[(&identity("a", b"a"), &a), (&identity("b", b"b"), &b)]), []);
    }

    #[test]
    fn readings_moved_outward_rounded_or_copied_in_part_are_one_line() {
        let (one, another) = (scan(1), scan(2));
        let moved = |by: f64| {
            let mut s = one.clone();
            s.points.iter_mut().for_each(|p| p.x = ((p.x + by) * 1e4).round() / 1e4);
            s
        };
        let mut coarse = one.clone();
        coarse.points.iter_mut().for_each(|p| p.z = (p.z * 100.0).round() / 100.0);
        let mut part = another.clone();
        part.points.splice(..500, one.points.iter().copied().take(500));
        let how = |other: &Scan| {
            find(&[(&identity("a", b"a"), &one), (&identity("b", b"b"), other)]).first().map(|c| c.how)
        };
        assert_eq!(how(&moved(0.03)), Some(Likeness::Shifted { by: 0.03 }));
        assert_eq!(how(&moved(0.1)), Some(Likeness::Shifted { by: 0.1 }));
        assert_eq!(how(&coarse), Some(Likeness::Rounded { to: 0.01 }));
        let tilted = |by: f64| {
            let mut s = one.clone();
            s.points.iter_mut().for_each(|p| p.z = ((p.z + by * p.x) * 1000.0).round() / 1000.0);
            s
        };
        for by in [0.0005, -0.003] {
            let Some(Likeness::Tilted { by: found }) = how(&tilted(by)) else {
                panic!("{:?}", how(&tilted(by)))
            };
            assert!((found - by).abs() < 1e-5, "{found}");
        }
        let Some(Likeness::InPart(over)) = how(&part) else { panic!("{:?}", how(&part)) };
        assert!(over.from == 60.0 && (over.to - 109.9).abs() < 0.2, "{over:?}");
        assert_eq!(how(&another), None);
        // Another line by a sensor with coarse digits.
        let mut other = another;
        other.points.iter_mut().for_each(|p| p.z = (p.z * 100.0).round() / 100.0);
        assert_eq!(how(&other), None);
    }

    #[test]
    fn drawn_lines_that_agree_over_a_half_are_different_lines() {
        let drawn = |dent: f64| {
            let mut s = scan(1);
            for p in &mut s.points {
                let low = if p.x > 100.0 { dent } else { 0.0 };
                p.z = ((0.002 * (p.x - 95.0).powi(2) - low) * 100.0).round() / 100.0;
            }
            s
        };
        let (a, b) = (drawn(0.0), drawn(0.5));
        assert_eq!(find(&[(&identity("a", b"a"), &a), (&identity("b", b"b"), &b)]), []);
    }
}
