//! Where the lines looked: how they lie round the wheel, and over which radii each met metal.

use crate::face::model::{WheelModel, WhyUnwitnessed};
use crate::job::{Job, Zone};
use crate::scan::{MeasuredLine, MeasuredLines, Stretch};
use std::f64::consts::TAU;

/// Lines nearer than this, radians, are one line: a tenth of a degree, as well as a hand turns a wheel.
const ONE_ANGLE: f64 = 0.1 * std::f64::consts::PI / 180.0;

/// How the lines lie round the wheel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spread {
    /// Lines at different angles.
    pub distinct: usize,
    /// The widest angle without a line, radians.
    pub widest: f64,
}

/// How the angles of the lines lie round the wheel.
pub(super) fn spread(angles: &[f64]) -> Spread {
    let mut sorted: Vec<f64> = angles.iter().map(|a| a.rem_euclid(TAU)).collect();
    sorted.sort_by(f64::total_cmp);
    let next = sorted.iter().skip(1).copied().chain(sorted.first().map(|a| a + TAU));
    let gaps: Vec<f64> = sorted.iter().zip(next).map(|(a, b)| b - a).collect();
    Spread {
        distinct: gaps.iter().filter(|&&g| g > ONE_ANGLE).count(),
        widest: gaps.iter().copied().fold(0.0, f64::max),
    }
}

/// Whether a stretch shares a place with a zone.
pub(super) fn in_zones(job: &Job, s: &Stretch) -> bool {
    job.zones.iter().any(|z| s.from <= z.to.as_mm() && z.from.as_mm() <= s.to)
}

/// Stretches of the zones over which no line has metal, longer than the job lets be bridged.
pub(super) fn unmeasured(job: &Job, lines: &MeasuredLines, model: &WheelModel) -> Vec<Stretch> {
    let longest = job.measured.longest_gap.as_mm();
    let none = model.unwitnessed.iter().filter(|u| u.why == WhyUnwitnessed::NoLine).map(|u| u.stretch);
    let gaps = common(lines.lines.iter().map(|l| gaps(&l.line, longest)));
    let outside = none.chain(gaps).flat_map(|s| outside_windows(job, s));
    let mut all: Vec<Stretch> = outside.filter(|s| s.length() > longest).collect();
    all.retain(|s| in_zones(job, s));
    crate::scan::line::joined(all)
}

/// The parts of a stretch that lie in no window which zones run off.
pub(super) fn outside_windows(job: &Job, stretch: Stretch) -> Vec<Stretch> {
    job.runs_off.windows_mm().fold(vec![stretch], |parts, [from, to]| {
        let cut = |s: Stretch| {
            [Stretch { from: s.from, to: s.to.min(from) }, Stretch { from: s.from.max(to), to: s.to }]
        };
        let outside = |s: Stretch| if s.to <= from || s.from >= to { vec![s] } else { cut(s).to_vec() };
        parts.into_iter().flat_map(outside).filter(|s| s.from < s.to).collect()
    })
}

/// Stretches of one line without a reading that stands, longer than a length.
pub(super) fn gaps(line: &MeasuredLine, longest: f64) -> Vec<Stretch> {
    let mut radii: Vec<f64> = line.readings.iter().filter(|r| !r.suspect).map(|r| r.x).collect();
    radii.sort_by(f64::total_cmp);
    let long = radii.windows(2).filter_map(|w| {
        let [from, to] = *w else { return None };
        (to - from > longest).then_some(Stretch { from, to })
    });
    long.collect()
}

/// The parts of zones beyond either end of a line, longer than a length.
pub(super) fn beyond_ends(line: &MeasuredLine, zones: &[Zone], longest: f64) -> Vec<Stretch> {
    let radii = || line.readings.iter().filter(|r| !r.suspect).map(|r| r.x);
    let [first, last] = [radii().fold(f64::INFINITY, f64::min), radii().fold(f64::NEG_INFINITY, f64::max)];
    let of_zone = |z: &Zone| {
        let [from, to] = [z.from.as_mm(), z.to.as_mm()];
        [Stretch { from, to: first.min(to) }, Stretch { from: last.max(from), to }]
    };
    zones.iter().flat_map(of_zone).filter(|s| s.length() > longest).collect()
}

/// What is in every list of stretches.
fn common(lists: impl Iterator<Item = Vec<Stretch>>) -> Vec<Stretch> {
    let overlap = |a: Vec<Stretch>, b: Vec<Stretch>| {
        let pairs = a
            .iter()
            .flat_map(|s| b.iter().map(move |t| Stretch { from: s.from.max(t.from), to: s.to.min(t.to) }));
        pairs.filter(|s| s.from < s.to).collect()
    };
    lists.reduce(overlap).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Length;

    #[test]
    fn the_widest_angle_reaches_over_zero() {
        let at = |degrees: &[f64]| spread(&degrees.iter().map(|d: &f64| d.to_radians()).collect::<Vec<_>>());
        let three = at(&[350.0, 110.0, 230.0]);
        assert_eq!(three.distinct, 3);
        assert!((three.widest.to_degrees() - 120.0).abs() < 1e-9);
        assert_eq!(at(&[10.0, 10.05, 370.0]).distinct, 1);
        assert_eq!(at(&[20.0]).distinct, 1);
        assert!((at(&[20.0, 40.0]).widest.to_degrees() - 340.0).abs() < 1e-9);
    }

    #[test]
    fn a_line_that_ends_inside_a_zone_says_nothing_of_the_rest() {
        let line = MeasuredLine::exact(0.0, &[(75.0, 0.0), (76.0, 0.0), (200.0, 0.0)]);
        let zone = |from, to| Zone { from: Length::mm(from), to: Length::mm(to) };
        let beyond = |from, to| beyond_ends(&line, &[zone(from, to)], 2.0);
        assert_eq!(
            beyond(70.0, 214.0),
            [Stretch { from: 70.0, to: 75.0 }, Stretch { from: 200.0, to: 214.0 }]
        );
        assert_eq!(beyond(74.0, 201.0), []);
        assert_eq!(beyond(205.0, 210.0), [Stretch { from: 205.0, to: 210.0 }]);
    }

    #[test]
    fn a_gap_of_all_lines_is_what_none_of_them_measured() {
        let line = |gap: [f64; 2]| {
            let points: Vec<(f64, f64)> = (0..100)
                .map(|i| (60.0 + f64::from(i), 0.0))
                .filter(|p| p.0 <= gap[0] || p.0 >= gap[1])
                .collect();
            MeasuredLine::exact(0.0, &points)
        };
        let (a, b) = (gaps(&line([80.0, 90.0]), 2.0), gaps(&line([85.0, 100.0]), 2.0));
        assert_eq!(a, [Stretch { from: 80.0, to: 90.0 }]);
        assert_eq!(common([a, b].into_iter()), [Stretch { from: 85.0, to: 90.0 }]);
    }
}
