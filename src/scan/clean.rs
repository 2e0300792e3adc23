//! A scan cleaned in the order of time, step by step; the face decides the rest.
//!
//! 1. Points and drop-outs are put in the order of the file, heights that stand for "nothing seen" among the drop-outs (`sequence`, `sentinel`);
//! 2. the noise of one reading is found from neighbours (`noise`);
//! 3. what follows from its neighbours is told from what does not (`calm`), and a sensor that held one value, or is dead, is found (`held`);
//! 4. stretches without metal are found (`no_metal`);
//! 5. sweeps are told apart, and pauses counted as what they are worth (`sweep`).
//!
//! Linear in the number of readings, but for the sorting of radii that finds the pauses.

use super::calm::{self, Known};
use super::held::{self, Held};
use super::line::{MeasuredLine, Reading};
use super::reader::Scan;
use super::sequence::{self, Item};
use super::{no_metal, noise, sweep};
use crate::geometry::Point;
use crate::numeric::order::median;

/// What cleaning found and did on one line.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cleaning {
    /// Readings with a height.
    pub measured: usize,
    /// Lines of the scan on which the sensor saw nothing.
    pub missing: usize,
    /// Lines of a summary below the readings, left aside.
    pub summary: usize,
    /// Readings that stand off their neighbours.
    pub suspects: usize,
    /// Usual distance between neighbouring readings (median), millimetres.
    pub spacing: f64,
    /// Readings of one height, one after the other, over a stretch: a sensor that did not move.
    pub held: Vec<Held>,
}

/// One line, clean, and what was done to it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cleaned {
    /// The line.
    pub line: MeasuredLine,
    /// What was found.
    pub cleaning: Cleaning,
}

/// Cleans one scan, measured at an angle of the wheel (radians).
#[must_use]
pub fn clean(scan: &Scan, at: f64) -> Cleaned {
    let items = sequence::in_order_of_time(scan);
    let known = known(&items);
    let sigma = noise::sigma(known.iter().map(|k| k.1.point));
    let readings: Vec<Known> = known.iter().map(|k| k.1).collect();
    let calm = calm::calm(&readings, sigma);
    let held = held::runs(&readings.iter().map(|r| r.point).collect::<Vec<_>>(), sigma);

    let mut wild = vec![true; items.len()];
    for ((item, _), suspect) in known.iter().zip(&calm.suspect) {
        if let Some(wild) = wild.get_mut(*item) {
            *wild = *suspect;
        }
    }
    // A run of readings as a run of items: from its first item to behind its last.
    let item_of = |i: usize| known.get(i).map_or(items.len(), |k| k.0);
    let long: Vec<(usize, usize)> =
        calm.long.iter().map(|&(from, to)| (item_of(from), item_of(to.saturating_sub(1)) + 1)).collect();
    let no_metal = no_metal::stretches(&items, &wild, &long);

    let starts = sweep::starts(&items);
    let mut line = MeasuredLine {
        at,
        readings: readings_of(&items, &known, &calm.suspect, &starts),
        noise: sigma,
        sweeps: starts.len(),
        no_metal,
    };
    weigh(&mut line);
    // Of a dead line nothing is left to fit: the finding alone says what it is.
    let held_readings = held.iter().filter(|h| !h.dead).flat_map(|h| h.first..h.first + h.count);
    for i in held_readings {
        if let Some(r) = line.readings.get_mut(i) {
            r.suspect = true;
        }
    }
    let calm_points = line.readings.iter().filter(|r| !r.suspect).map(|r| Point::new(r.x, r.z));
    if line.readings.iter().any(|r| !r.suspect) {
        line.noise = noise::sigma(calm_points);
    }
    let cleaning = Cleaning {
        measured: line.readings.len(),
        missing: items.len() - known.len(),
        summary: scan.summary,
        suspects: line.readings.iter().filter(|r| r.suspect).count(),
        spacing: spacing(&line.readings),
        held,
    };
    Cleaned { line, cleaning }
}

/// The readings with a height, each with the item it is.
fn known(items: &[Item]) -> Vec<(usize, Known)> {
    let mut missing = 0;
    let mut out = Vec::with_capacity(items.len());
    for (i, item) in items.iter().enumerate() {
        let Some(z) = item.z else {
            missing += 1;
            continue;
        };
        out.push((i, Known { point: Point::new(item.x, z), missing_before: missing }));
        missing = 0;
    }
    out
}

fn readings_of(items: &[Item], known: &[(usize, Known)], suspect: &[bool], starts: &[usize]) -> Vec<Reading> {
    let last = items.len().saturating_sub(1).max(1) as f64;
    let mut next = starts.iter().skip(1).peekable();
    let mut sweep = 0;
    known
        .iter()
        .zip(suspect)
        .map(|(&(item, k), &suspect)| {
            while next.next_if(|&&start| start <= item).is_some() {
                sweep += 1;
            }
            let time = item as f64 / last;
            Reading { x: k.point.x, z: k.point.z, sweep, time, suspect, weight: 1.0 }
        })
        .collect()
}

/// Gives the readings of each sweep their weights.
fn weigh(line: &mut MeasuredLine) {
    for part in line.readings.chunk_by_mut(|a, b| a.sweep == b.sweep) {
        let radii: Vec<f64> = part.iter().map(|r| r.x).collect();
        for (r, weight) in part.iter_mut().zip(sweep::weights(&radii)) {
            r.weight = weight;
        }
    }
}

/// The usual distance of neighbouring readings; readings at one and the same radius are a pause and have none.
fn spacing(readings: &[Reading]) -> f64 {
    let mut steps: Vec<f64> = readings
        .windows(2)
        .filter_map(|w| {
            let [a, b] = w else { return None };
            Some((b.x - a.x).abs()).filter(|&step| step > 0.0)
        })
        .collect();
    median(&mut steps).unwrap_or(0.0)
}
