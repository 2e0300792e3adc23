//! A sensor that held one value while it was driven on: dead, stuck, or at the end of its range.
//!
//! Where readings follow from each other, each differs from the next by noise. A long run of heights that are equal, or that flicker by
//! far less than the noise between two or three values, is then no face but a sensor that did not move. A scan whose neighbours are
//! often equal (no noise, or a coarse last digit) cannot tell, so no run is found in it. A line that stands at one value over nearly all of its
//! readings is a dead sensor whatever its noise: a face turned true still shows the sensor's.

use super::line::Stretch;
use crate::geometry::Point;
use crate::numeric::order::median;

/// So many equal heights in a row are no chance.
const LEAST_COUNT: usize = 20;

/// So many heights in a row of two or three values are no chance.
const LEAST_FLICKERING: usize = 30;

/// Most values between which a stuck sensor flickers.
const MOST_VALUES: usize = 3;

/// They lie within this share of the noise of one reading: of normal values a fifth do, and thirty in a row never.
const STILL: f64 = 0.5;

/// Over less than this, millimetres, a sensor may have stood on a flat.
const LEAST_LENGTH: f64 = 1.5;

/// If more than this share of all other neighbours are equal, equal neighbours tell nothing.
const OFTEN: f64 = 0.25;

/// Fewer other neighbours than this do not tell whether the scan is lively.
const ENOUGH: usize = 50;

/// A line of which more than this share stands within [`DEAD_WITHIN`] is a dead sensor's.
const DEAD_SHARE: f64 = 0.95;

/// Half the width of one value, millimetres: no face and no sensor is that even over a whole line.
const DEAD_WITHIN: f64 = 0.000_25;

/// A shorter line than this, millimetres, is none across a face.
const DEAD_LENGTH: f64 = 10.0;

/// Readings of one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Over which radii.
    pub over: Stretch,
    /// The least height, millimetres.
    pub height: f64,
    /// By how much it flickered, millimetres.
    pub flickers: f64,
    /// How many readings.
    pub count: usize,
    /// The first reading of it, in the order of time.
    pub first: usize,
    /// Whether that is nearly all of the line.
    pub dead: bool,
}

/// What a sensor that moves does not write, of readings in the order of time whose noise is known.
pub(super) fn runs(readings: &[Point], noise: f64) -> Vec<Held> {
    if let Some(dead) = dead(readings) {
        return vec![dead];
    }
    let mut found = Vec::new();
    let (mut inside, mut equal) = (0, 0);
    let mut first = 0;
    for run in still(readings, STILL * noise) {
        let held = held(run, first);
        let least = if held.flickers > 0.0 { LEAST_FLICKERING } else { LEAST_COUNT };
        if run.len() >= least && held.over.length() >= LEAST_LENGTH {
            inside += run.len() - 1;
            found.push(held);
        } else {
            equal += run.windows(2).filter(|w| w[0].z == w[1].z).count();
        }
        first += run.len();
    }
    let others = readings.len().saturating_sub(1 + inside);
    let lively = others >= ENOUGH && equal as f64 <= OFTEN * others as f64;
    if lively { found } else { Vec::new() }
}

/// A line that stands at one value.
fn dead(readings: &[Point]) -> Option<Held> {
    let mut heights: Vec<f64> = readings.iter().map(|p| p.z).collect();
    let middle = median(&mut heights)?;
    let count = readings.iter().filter(|p| (p.z - middle).abs() <= DEAD_WITHIN).count();
    let all = held(readings, 0);
    let still = count >= ENOUGH && count as f64 >= DEAD_SHARE * readings.len() as f64;
    (still && all.over.length() >= DEAD_LENGTH).then_some(Held {
        height: middle,
        flickers: 0.0,
        count,
        dead: true,
        ..all
    })
}

/// Readings of a run as one.
fn held(run: &[Point], first: usize) -> Held {
    let ends = |of: fn(&Point) -> f64| {
        run.iter().map(of).fold((f64::INFINITY, f64::NEG_INFINITY), |e, v| (e.0.min(v), e.1.max(v)))
    };
    let ((from, to), (low, high)) = (ends(|p| p.x), ends(|p| p.z));
    Held {
        over: Stretch { from, to },
        height: low,
        flickers: high - low,
        count: run.len(),
        first,
        dead: false,
    }
}

/// The readings parted into runs of one value, or of a few values within a width: each as long as it goes from where the one before it
/// ended.
fn still(readings: &[Point], width: f64) -> Vec<&[Point]> {
    let mut out = Vec::new();
    let mut rest = readings;
    while !rest.is_empty() {
        let (run, behind) = rest.split_at(run_length(rest, width));
        out.push(run);
        rest = behind;
    }
    out
}

/// How many readings from the first on stand still: one at least.
fn run_length(readings: &[Point], width: f64) -> usize {
    let mut values: Vec<f64> = Vec::with_capacity(MOST_VALUES);
    let mut stands = |p: &&Point| {
        if values.contains(&p.z) {
            return true;
        }
        let near = values.iter().all(|v| (v - p.z).abs() <= width);
        let fits = near && values.len() < MOST_VALUES;
        if fits {
            values.push(p.z);
        }
        fits
    };
    readings.iter().take_while(|p| stands(p)).count().max(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scan::noise::tests::normal;

    #[test]
    fn a_sensor_that_stops_moving_is_found_and_a_pause_is_not() {
        let mut seed = 1;
        let mut readings: Vec<Point> = (0..2000)
            .map(|i| {
                let x = 60.0 + 0.07 * f64::from(i);
                Point::new(x, 0.2 * x + 0.005 * normal(&mut seed))
            })
            .collect();
        assert_eq!(runs(&readings, 0.005), []);
        for p in &mut readings[300..320] {
            *p = Point::new(80.0, 1.0);
        }
        assert_eq!(runs(&readings, 0.005), []);
        for p in &mut readings[1000..1030] {
            p.z = 26.0;
        }
        let found = runs(&readings, 0.005);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].count, found[0].first), (30, 1000));
    }

    #[test]
    fn flats_of_a_scan_without_noise_are_meant() {
        let drawn: Vec<Point> =
            (0..400).map(|i| Point::new(60.0 + 0.1 * f64::from(i), f64::from(i / 50))).collect();
        assert_eq!(runs(&drawn, 0.001), []);
    }

    fn lively(flat: bool) -> Vec<Point> {
        let mut seed = 5;
        let point = |i: u32| {
            let x = 60.0 + 0.07 * f64::from(i);
            let z = if flat { 0.0 } else { 0.02 * x } + 0.004 * normal(&mut seed);
            Point::new(x, (z * 10_000.0).round() / 10_000.0)
        };
        (0..2000).map(point).collect()
    }

    #[test]
    fn a_stuck_sensor_whose_last_digit_flickers_is_found() {
        let mut readings = lively(false);
        let stuck = readings[800].z;
        for (i, p) in readings.iter_mut().enumerate().skip(800).take(60) {
            p.z = stuck + [0.0, 0.0001, -0.0001][i % 3];
        }
        let found = runs(&readings, 0.004);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].count >= 58 && !found[0].dead && found[0].flickers < 0.0003, "{found:?}");
    }

    #[test]
    fn a_line_at_one_value_is_dead_and_a_face_turned_true_is_not() {
        for height in [0.0, -2.5] {
            let mut readings: Vec<Point> = lively(true).iter().map(|p| Point::new(p.x, height)).collect();
            readings[7].z = 1.0;
            readings[900].z += 0.0001;
            let found = runs(&readings, 0.001);
            assert!(matches!(found[..], [Held { dead: true, count: 1999, .. }]), "{found:?}");
        }
        assert_eq!(runs(&lively(true), 0.004), []);
        // A sensor with a digit of a hundredth over a face turned true.
        let coarse: Vec<Point> =
            lively(true).iter().map(|p| Point::new(p.x, (p.z * 100.0).round() / 100.0)).collect();
        assert_eq!(runs(&coarse, 0.004), []);
    }
}
