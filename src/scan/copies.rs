//! Lines that are one line: a file named twice, a copy of it, or the same readings in another dress.
//!
//! Lines at different angles of a wheel never agree to the last digit. Where they do, one angle was measured and the
//! others were not, and a wheel that runs out would be believed to run true. Files are compared by where they really
//! are, then by their bytes (SHA-256), then by their readings in the order of radius, whatever their zero; each in linear time
//! but for sorting.

use super::reader::Scan;
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

/// Fewer readings than this may agree by chance; such lines are drawn, not measured.
const ENOUGH: usize = 20;

/// How two lines were found to be one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Likeness {
    /// Both names lead to one file.
    SameFile,
    /// Two files of the same bytes.
    SameBytes,
    /// Different text, the same readings.
    SameReadings,
}

/// Two lines of a job that are one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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
        match kept.iter().find(|(_, other)| alike(other, &readings)) {
            Some(&(of, _)) => found.push(copy(of, Likeness::SameReadings)),
            None => kept.push((line, readings)),
        }
    }
    found
}

/// The readings of a scan in an order that does not depend on that of the file.
fn readings(scan: &Scan) -> Vec<(f64, f64)> {
    let mut all: Vec<(f64, f64)> = scan.points.iter().map(|p| (p.x, p.z)).collect();
    all.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    all
}

/// Whether nearly all readings of the shorter of two lines stand in the other, but for one zero.
fn alike(a: &[(f64, f64)], b: &[(f64, f64)]) -> bool {
    let least = a.len().min(b.len());
    if least < ENOUGH {
        return false;
    }
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
        let order = p.0.total_cmp(&q.0).then(if off.abs() < LAST_DIGIT {
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
    same as f64 >= SHARE * least as f64
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
}
