//! Stretches that a person leaves as they are: what differs from line to line there is meant to be so.
//!
//! Nothing is mended there. The face is the mean of all lines, and what the highest of them stands over it by is handed on, so
//! that the tool stays above it.
//!
//! Limits: what stands up between two lines is not seen.

use super::contested;
use super::estimate::{Fit, Settled};
use super::model::{Contested, Decision};
use super::settle::AGREE;
use crate::scan::line::Stretch;

/// Fine bins over whose mean a line is held against the face.
const LEFT_OVER: usize = 3;

impl Fit<'_> {
    /// Whether a person says that a stretch is sound as it is.
    pub(super) fn is_left(&self, stretch: Stretch) -> bool {
        let middle = f64::midpoint(stretch.from, stretch.to);
        self.given.leave.iter().any(|s| s.holds(middle))
    }

    /// A stretch that is left as it is: the face is the mean of the lines, in which each counts alike. What differs speaks of no
    /// turn, so that the lines' own readings are left out.
    pub(super) fn as_told(&self, stretch: Stretch) -> Settled {
        let fine = self.fine(stretch, 0.0);
        let replaced = (0..fine.grid.len).filter(|&j| stretch.holds(fine.grid.at(j))).filter_map(|j| {
            let here: Vec<f64> = fine.all.iter().map(|row| row[j]).filter(|z| z.is_finite()).collect();
            let lines = here.len() as f64;
            let height = fine.face[j] + here.iter().sum::<f64>() / lines;
            height.is_finite().then(|| (fine.grid.at(j), height, (lines * contested::FINE_READINGS).recip()))
        });
        let decided = Decision::AsTold;
        Settled {
            account: Contested { stretch, decided, least_depth: None, uncertainty: 0.0 },
            replaced: replaced.collect(),
            damaged: (0..self.lines.len()).collect(),
            raised: Vec::new(),
            contradicted: false,
        }
    }

    /// Where stretches are left as they are, how far the highest line stands over the face: radius and height, in rising
    /// radius, nothing at both ends of each stretch.
    pub(super) fn left_over(&self) -> Vec<(f64, f64)> {
        let noise = self.noise / (contested::FINE_READINGS * LEFT_OVER as f64).sqrt();
        let mut over = Vec::new();
        for c in self.contested.iter().filter(|c| c.account.decided == Decision::AsTold) {
            let fine = self.fine(c.account.stretch, 0.0);
            let mean = |row: &[f64], j: usize| {
                let near = row.iter().skip(j.saturating_sub(LEFT_OVER / 2)).take(LEFT_OVER);
                let near: Vec<f64> = near.copied().filter(|z| z.is_finite()).collect();
                near.iter().sum::<f64>() / near.len() as f64
            };
            let inside: Vec<usize> =
                (0..fine.grid.len).filter(|&j| c.account.stretch.holds(fine.grid.at(j))).collect();
            let ends = [inside.first(), inside.last()].map(|j| j.map_or(f64::NAN, |&j| fine.grid.at(j)));
            over.push((ends[0] - fine.grid.step, 0.0));
            for j in inside {
                let highest = fine.all.iter().map(|row| mean(row, j)).fold(0.0, f64::max);
                over.push((fine.grid.at(j), if highest > AGREE + 3.0 * noise { highest } else { 0.0 }));
            }
            over.push((ends[1] + fine.grid.step, 0.0));
        }
        over.retain(|p| p.0.is_finite());
        over.sort_by(|a, b| a.0.total_cmp(&b.0));
        over
    }
}
