//! Readings judged against the model: what comes back, what is damage, what is set aside.
//!
//! A suspect on the face comes back. A run below the face with two feet is damage; one deeper than a scrape can be for its
//! width is a hole or a false reading, and so is one whose readings scatter ([`super::scatter`]). A short run above the face
//! is a false reading: metal does not grow.

use super::damage::{self, Residual};
use super::estimate::{Fit, Settled, Standing, overlap};
use super::model::{Reason, SetAside, Unexplained};
use super::scatter;
use crate::scan::line::Stretch;

/// A line follows a slope within this along the radius, millimetres.
const ALLOWED_ALONG: f64 = 0.05;
/// A suspect within so many standard deviations of the face comes back.
const BACK: f64 = 5.0;
/// A scrape is no deeper than this share of its width at half depth: a right-angled edge pressed in leaves flanks of 45
/// degrees, as deep as it is wide there. Beyond, it is a hole or a false reading.
const STEEPEST_SCRAPE: f64 = 1.0;
/// So few readings below the face are no scrape that could be measured.
const FEWEST: usize = 5;
/// Deeper than this many times what is off the face at all, a scrape has readings on its flanks.
const HAS_FLANKS: f64 = 4.0;
/// So few readings above the face stand for no metal.
const SHORT_RUN: usize = 15;
/// A burr, dirt or a scrape upside down is no shorter than this, millimetres; false readings that agree are.
const SHORTEST_RAISED: f64 = 1.0;
/// And only where they stand this far above it, millimetres: less may be the face's own error.
const FALSE_ABOVE: f64 = 0.05;

impl Fit<'_> {
    /// What a line's readings leave of the model, in rising radius.
    pub(super) fn residuals(&self, line: usize, shift: f64) -> Vec<Residual> {
        let of = &self.lines[line];
        self.order[line]
            .iter()
            .map(|&index| {
                let r = &of.readings[index];
                let x = r.x - shift;
                let slope = self.grid.interpolate(&self.curve.slope, x).abs();
                let error = self.grid.interpolate(&self.curve.error, x);
                let left = r.z
                    - self.added(line, r.x, r.time, r.sweep)
                    - self.grid.interpolate(&self.curve.value, x);
                Residual {
                    index,
                    x: r.x,
                    left,
                    weight: r.weight,
                    allowed: ALLOWED_ALONG * slope + 2.0 * error,
                }
            })
            .collect()
    }

    /// Suspects that lie on the face come back; runs below it are damage; what cannot be is set aside.
    pub(super) fn judge_readings(&mut self) {
        let shifts = self.shifts();
        self.set_aside.clear();
        self.unexplained.clear();
        for (k, shift) in shifts.into_iter().enumerate() {
            let all = self.residuals(k, shift);
            let noise = self.lines[k].noise.max(1e-4);
            // Suspects first.
            let on_face = |r: &Residual| r.left.abs() < BACK * noise + r.allowed;
            for r in &all {
                let reading = &self.lines[k].readings[r.index];
                if reading.suspect {
                    self.standing[k][r.index] = if on_face(r) { Standing::Sound } else { Standing::Aside };
                } else if self.standing[k][r.index] == Standing::Aside {
                    self.standing[k][r.index] = Standing::Sound;
                }
            }
            self.judge_line(k, &all, noise);
        }
    }

    /// Sets aside what jumps off the start and back on one line, before the lines are held against each other: beside it
    /// all other lines would look damaged.
    pub(super) fn set_jumps_aside(&mut self) {
        for (k, shift) in self.shifts().into_iter().enumerate() {
            let noise = self.lines[k].noise.max(1e-4);
            let mut kept = self.residuals(k, shift);
            kept.retain(|r| self.standing[k][r.index] == Standing::Sound);
            for side in [-1.0, 1.0] {
                for run in damage::runs(&kept, noise, side) {
                    let inside = kept.get(run.first..=run.last).unwrap_or(&[]);
                    if is_sudden(inside, run.depth, noise, side) {
                        let off = |r: &&Residual| r.left.abs() >= BACK * noise + r.allowed;
                        inside.iter().filter(off).for_each(|r| self.standing[k][r.index] = Standing::Aside);
                    }
                }
            }
        }
    }

    pub(super) fn judge_line(&mut self, k: usize, all: &[Residual], noise: f64) {
        let kept: Vec<Residual> =
            all.iter().copied().filter(|r| self.standing[k][r.index] != Standing::Aside).collect();
        let mut runs = Vec::new();
        for run in damage::runs(&kept, noise, -1.0) {
            if self.is_left(run.stretch) {
                continue;
            }
            let inside = kept.get(run.first..=run.last).unwrap_or(&[]);
            if scatter::is_false(inside, run.depth, noise, -1.0) || is_sudden(inside, run.depth, noise, -1.0)
            {
                self.set_false_aside(k, inside, noise);
            } else if run.depth > STEEPEST_SCRAPE * run.half_width + 4.0 * noise {
                self.set_aside(k, inside, -run.depth, Reason::DeepForItsWidth);
            } else if inside.len() <= FEWEST {
                self.set_aside(k, inside, -run.depth, Reason::FalseReading);
            } else if run.two_feet {
                runs.push(run);
            } else {
                self.unexplained.push(Unexplained { line: k, stretch: run.stretch, size: -run.depth });
            }
        }
        for run in damage::runs(&kept, noise, 1.0) {
            if self.is_left(run.stretch) {
                continue;
            }
            let inside = kept.get(run.first..=run.last).unwrap_or(&[]);
            let meets = |c: &&Settled| overlap(c.account.stretch, run.stretch);
            let contested = self.contested.iter().any(|c| meets(&c));
            let raised = self.contested.iter().filter(meets).any(|c| c.raised.contains(&k));
            let short = run.stretch.length() < SHORTEST_RAISED;
            if scatter::is_false(inside, run.depth, noise, 1.0) || is_sudden(inside, run.depth, noise, 1.0) {
                self.set_false_aside(k, inside, noise);
            } else if run.depth > STEEPEST_SCRAPE * run.half_width + 4.0 * noise
                || (inside.len() <= SHORT_RUN && run.depth > FALSE_ABOVE && (!contested || short))
            {
                self.set_aside(k, inside, run.depth, Reason::FalseReading);
            } else if raised {
                // Told, and left out of the face already.
                self.tell_aside(k, inside, run.depth, Reason::StandsOver);
            } else {
                self.unexplained.push(Unexplained { line: k, stretch: run.stretch, size: run.depth });
            }
        }
        let suspects: Vec<Residual> = all
            .iter()
            .copied()
            .filter(|r| {
                self.lines[k].readings[r.index].suspect && self.standing[k][r.index] == Standing::Aside
            })
            .collect();
        for group in suspects.chunk_by(|a, b| b.x - a.x < 0.5) {
            let (Some(first), Some(last)) = (group.first(), group.last()) else { continue };
            let off = group.iter().map(|r| r.left).max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(0.0);
            self.set_aside.push(SetAside {
                line: k,
                stretch: Stretch { from: first.x, to: last.x },
                readings: group.len(),
                off,
                reason: Reason::FalseReading,
            });
        }
        for run in &runs {
            for r in kept.get(run.first..=run.last).unwrap_or(&[]) {
                self.standing[k][r.index] = Standing::Damaged;
            }
        }
        self.runs[k] = runs;
    }

    /// Sets aside the readings of a run that are off the face; sound ones among them stay.
    fn set_false_aside(&mut self, k: usize, inside: &[Residual], noise: f64) {
        let off: Vec<Residual> =
            inside.iter().copied().filter(|r| r.left.abs() >= BACK * noise + r.allowed).collect();
        let furthest = off.iter().map(|r| r.left).max_by(|a, b| a.abs().total_cmp(&b.abs()));
        self.set_aside(k, &off, furthest.unwrap_or(0.0), Reason::FalseReading);
    }

    fn set_aside(&mut self, k: usize, readings: &[Residual], off: f64, reason: Reason) {
        for r in readings {
            self.standing[k][r.index] = Standing::Aside;
        }
        self.tell_aside(k, readings, off, reason);
    }

    fn tell_aside(&mut self, k: usize, readings: &[Residual], off: f64, reason: Reason) {
        if let (Some(first), Some(last)) = (readings.first(), readings.last()) {
            let stretch = Stretch { from: first.x, to: last.x };
            self.set_aside.push(SetAside { line: k, stretch, readings: readings.len(), off, reason });
        }
    }
}

/// Whether a few readings lie far off the face, above it or below (`side` 1 or −1), with nothing between them and it: a
/// sensor that jumped and came back. A nick so narrow would look alike, and could not be measured.
fn is_sudden(inside: &[Residual], depth: f64, noise: f64, side: f64) -> bool {
    let off = |r: &Residual| BACK * noise + r.allowed;
    let (mut deep, mut flanks) = (0, 0);
    for r in inside {
        deep += usize::from(side * r.left > depth / 2.0);
        flanks += usize::from(side * r.left <= depth / 2.0 && r.left.abs() > off(r));
    }
    let far = inside.iter().all(|r| depth > HAS_FLANKS * off(r));
    far && flanks == 0 && deep <= FEWEST
}
