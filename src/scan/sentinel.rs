//! Drop-outs that look like numbers: a sensor that saw nothing may write 0, or the end of its range, again and again.
//!
//! In measured order, a run of heights that are equal to the bit, with a jump on every side where something follows,
//! is such a drop-out if the trace is otherwise lively (noise makes neighbours differ). A trace without noise may
//! hold flat grooves of exactly one height, so there nothing is taken for a drop-out.

use super::reader::RawPoint;

/// A jump to a drop-out is at least this high, millimetres: lower than any sentinel stands off a face, higher than
/// neighbouring points of a hand-driven scan differ by noise.
const JUMP: f64 = 0.2;

/// A height other than zero must repeat this often to be taken for a drop-out; fewer are left to the spike search.
const REPEATS: usize = 3;

/// Neighbours farther apart than this, in millimetres of radius, are no scan but a drawing, whose flats are meant.
const SPARSE: f64 = 0.6;

/// Indices (from, to) of the runs that are drop-outs, in measured order.
pub(super) fn runs(points: &[RawPoint]) -> Vec<(usize, usize)> {
    let equal = points.windows(2).filter(|w| w[0].z == w[1].z).count();
    let mut found = Vec::new();
    let mut lively = points.len() - equal;
    let mut from = 0;
    for run in points.chunk_by(|a, b| a.z == b.z) {
        let (start, to) = (from, from + run.len());
        from = to;
        let z = run.first().map_or(0.0, |p| p.z);
        let jumps = |other: Option<&RawPoint>| other.is_none_or(|p| (p.z - z).abs() > JUMP);
        if (z == 0.0 || run.len() >= REPEATS)
            && run.len() < points.len()
            && jumps(start.checked_sub(1).and_then(|i| points.get(i)))
            && jumps(points.get(to))
            && driven(points, start.saturating_sub(1), to + 1)
        {
            found.push((start, to));
            lively -= 1;
        }
    }
    // What is left must differ from neighbour to neighbour more often than not.
    let left = points.len() - found.iter().map(|(a, b)| b - a).sum::<usize>();
    if 2 * lively > left { found } else { Vec::new() }
}

/// Whether the points from one index to before the other lie as close as a sensor's that is driven along.
fn driven(points: &[RawPoint], from: usize, to: usize) -> bool {
    let part = points.get(from..to.min(points.len())).unwrap_or_default();
    part.windows(2).all(|w| (w[1].x - w[0].x).abs() <= SPARSE)
}
