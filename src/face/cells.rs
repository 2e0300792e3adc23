//! Readings gathered into cells: what a line leaves of the face over half a millimetre of one sweep.
//!
//! A cell's value is a trimmed mean, so that a few wild readings do not move it. Only differences between cells at the
//! same radius speak about the turn, so whatever the face itself is off by falls out later. Heights are in millimetres.

use crate::numeric::adaptive::Curve;
use crate::numeric::grid::Grid;
use crate::scan::line::{MeasuredLine, Reading};
use rayon::prelude::*;

/// One cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    /// Index of the stretch of radius.
    pub bin: usize,
    /// The line.
    pub line: usize,
    /// Mean radius of its readings.
    pub x: f64,
    /// Trimmed mean of what the readings leave of the face.
    pub value: f64,
    /// Standard deviation of the value, by the noise of its readings and what the slope adds.
    pub sigma: f64,
    /// Mean slope of the face under its readings.
    pub slope: f64,
    /// Mean time of its readings.
    pub time: f64,
    /// Half where the sensor moved inward, minus half where it moved outward.
    pub inward: f64,
}

/// Width of a cell, millimetres: some seven readings of a usual scan, and narrow against any bend.
pub(super) const CELL: f64 = 0.5;
/// Share of the readings cut off at either end before the mean.
const TRIM: f64 = 0.2;
/// Variance of a trimmed mean over that of the mean, at normal noise (20 % at either end; from memory: 1.14).
const TRIMMED_VARIANCE: f64 = 1.14;
/// The radius repeats from line to line within this, millimetres; on a slope it shows as height.
const RADIUS_REPEATS: f64 = 0.003;
/// No cell is known better than this, millimetres: what rounding and texture leave.
const LEAST_SIGMA: f64 = 0.0005;

/// Up to so many readings are sorted to trim them; of more the inner ones are selected, whose work does not grow faster than they do.
const SORTED: usize = 64;

/// One reading on its way into a cell.
struct Part<'a> {
    key: usize,
    left: f64,
    slope: f64,
    reading: &'a Reading,
}

/// Gathers the readings for which `counts(line, reading)` holds, in the order of bins, then lines. `shift` moves a line
/// along the radius.
pub(super) fn gather(
    lines: &[MeasuredLine],
    grid: &Grid,
    curve: &Curve,
    shift: &[f64],
    counts: &(dyn Fn(usize, usize) -> bool + Sync),
) -> Vec<Cell> {
    let of_line = |(k, line): (usize, &MeasuredLine)| {
        let inward = directions(line);
        let shift = shift.get(k).copied().unwrap_or(0.0);
        let sweeps = line.sweeps.max(1);
        let mut parts = Vec::with_capacity(line.readings.len());
        for (i, r) in line.readings.iter().enumerate() {
            let left = r.z - grid.interpolate(&curve.value, r.x - shift);
            if !counts(k, i) || !left.is_finite() {
                continue;
            }
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "radii of the grid lie at or above its start"
            )]
            let bin = ((r.x - grid.start) / CELL).max(0.0) as usize;
            let key = bin * sweeps + r.sweep.min(sweeps - 1);
            let slope = grid.interpolate(&curve.slope, r.x - shift);
            parts.push(Part { key, left, slope, reading: r });
        }
        // A stable sort goes through the sweeps as they are, and there are few keys: its work grows with the readings alone.
        parts.sort_by_key(|p| p.key);
        let mut cells = Vec::new();
        for group in parts.chunk_by_mut(|a, b| a.key == b.key) {
            let Some(key) = group.first().map(|p| p.key) else { continue };
            let inward = inward.get(key % sweeps).copied().unwrap_or(0.0);
            cells.extend(cell(group, k, key / sweeps, line.noise, inward));
        }
        cells
    };
    let of_lines: Vec<Vec<Cell>> = lines.par_iter().enumerate().map(of_line).collect();
    let mut cells = of_lines.concat();
    cells.sort_by(|a, b| a.bin.cmp(&b.bin).then(a.line.cmp(&b.line)));
    cells
}

/// Cells of `many` bins in one, each with its own weight: what is slow over the radius shows as well in fewer of them.
/// Sweeps in different directions stay apart.
pub(super) fn coarser(cells: &[Cell], weights: &[f64], many: usize) -> Vec<Cell> {
    let mut parts: Vec<(Cell, f64)> = cells.iter().copied().zip(weights.iter().copied()).collect();
    let key = |c: &Cell| (c.bin / many, c.line, c.inward > 0.0);
    parts.sort_by_key(|(c, _)| key(c));
    let merged = parts.chunk_by(|a, b| key(&a.0) == key(&b.0)).filter_map(|group| {
        let weight: f64 = group.iter().map(|(_, w)| w).sum();
        let first = group.first().filter(|_| weight > 0.0)?.0;
        let mean = |of: fn(&Cell) -> f64| group.iter().map(|(c, w)| w * of(c)).sum::<f64>() / weight;
        Some(Cell {
            bin: first.bin / many,
            x: mean(|c| c.x),
            value: mean(|c| c.value),
            sigma: weight.sqrt().recip(),
            slope: mean(|c| c.slope),
            time: mean(|c| c.time),
            ..first
        })
    });
    merged.collect()
}

/// Puts a share of the lowest of a group first and as many of the highest last, and tells where the others lie.
fn trim(group: &mut [Part<'_>]) -> std::ops::Range<usize> {
    let n = group.len();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a count")]
    let cut = (n as f64 * TRIM) as usize;
    let by_height = |a: &Part<'_>, b: &Part<'_>| a.left.total_cmp(&b.left);
    if n <= SORTED {
        group.sort_unstable_by(by_height);
    } else {
        group.select_nth_unstable_by(cut, by_height);
        // What stands behind the lowest, without as many of the highest.
        let (_, behind) = group.split_at_mut(cut);
        behind.select_nth_unstable_by(n - 1 - 2 * cut, by_height);
    }
    cut..n - cut
}

/// The mean of a group of readings, trimmed.
fn cell(group: &mut [Part<'_>], line: usize, bin: usize, noise: f64, inward: f64) -> Option<Cell> {
    let inner = trim(group);
    let all: f64 = group.iter().map(|p| p.reading.weight).sum();
    let inner = group.get(inner)?;
    let weight: f64 = inner.iter().map(|p| p.reading.weight).sum();
    let mean =
        |of: fn(&Part<'_>) -> f64| inner.iter().map(|p| p.reading.weight * of(p)).sum::<f64>() / weight;
    let slope = mean(|p| p.slope);
    let from_slope = RADIUS_REPEATS * slope;
    let variance =
        TRIMMED_VARIANCE * noise * noise / all + from_slope * from_slope + LEAST_SIGMA * LEAST_SIGMA;
    (weight > 0.0).then(|| Cell {
        bin,
        line,
        x: mean(|p| p.reading.x),
        value: mean(|p| p.left),
        sigma: variance.sqrt(),
        slope,
        time: mean(|p| p.reading.time),
        inward,
    })
}

/// Of each sweep of a line: half where it ran inward, minus half where it ran outward.
pub(super) fn directions(line: &MeasuredLine) -> Vec<f64> {
    let mut ends: Vec<Option<(f64, f64)>> = vec![None; line.sweeps.max(1)];
    for r in &line.readings {
        if let Some(end) = ends.get_mut(r.sweep) {
            *end = Some((end.map_or(r.x, |e| e.0), r.x));
        }
    }
    ends.into_iter().map(|e| e.map_or(0.0, |(first, last)| if last < first { 0.5 } else { -0.5 })).collect()
}
