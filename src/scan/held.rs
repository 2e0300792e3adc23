//! A sensor that held one value while it was driven on: stuck, or at the end of its range.
//!
//! Where readings follow from each other, each differs from the next by noise. A long run of heights equal to the
//! bit, entered without a jump, is then no face but a sensor that did not move. A scan whose neighbours are often equal
//! (no noise, or a coarse last digit) cannot tell, so nothing is found in it.

use super::line::Stretch;
use crate::geometry::Point;

/// So many equal heights in a row are no chance.
const LEAST_COUNT: usize = 20;

/// Over less than this, millimetres, a sensor may have stood on a flat.
const LEAST_LENGTH: f64 = 1.5;

/// If more than this share of all other neighbours are equal, equal neighbours tell nothing.
const OFTEN: f64 = 0.25;

/// Fewer other neighbours than this do not tell whether the scan is lively.
const ENOUGH: usize = 50;

/// A run of readings of one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Over which radii.
    pub over: Stretch,
    /// The height, millimetres.
    pub height: f64,
    /// How many readings.
    pub count: usize,
    /// The first reading of it, in the order of time.
    pub first: usize,
}

/// The runs that a sensor which moves does not write, of readings in the order of time.
pub(super) fn runs(readings: &[Point]) -> Vec<Held> {
    let mut found = Vec::new();
    let (mut inside, mut equal) = (0, 0);
    let mut first = 0;
    for run in readings.chunk_by(|a, b| a.z == b.z) {
        let ends = run.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |e, p| (e.0.min(p.x), e.1.max(p.x)));
        let over = Stretch { from: ends.0, to: ends.1 };
        if run.len() >= LEAST_COUNT && over.length() >= LEAST_LENGTH {
            let height = run.first().map_or(0.0, |p| p.z);
            found.push(Held { over, height, count: run.len(), first });
            inside += run.len() - 1;
        } else {
            equal += run.len() - 1;
        }
        first += run.len();
    }
    let others = readings.len().saturating_sub(1 + inside);
    let lively = others >= ENOUGH && equal as f64 <= OFTEN * others as f64;
    if lively { found } else { Vec::new() }
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
        assert_eq!(runs(&readings), []);
        for p in &mut readings[300..320] {
            *p = Point::new(80.0, 1.0);
        }
        assert_eq!(runs(&readings), []);
        for p in &mut readings[1000..1030] {
            p.z = 26.0;
        }
        let found = runs(&readings);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].count, found[0].first), (30, 1000));
    }

    #[test]
    fn flats_of_a_scan_without_noise_are_meant() {
        let drawn: Vec<Point> =
            (0..400).map(|i| Point::new(60.0 + 0.1 * f64::from(i), f64::from(i / 50))).collect();
        assert_eq!(runs(&drawn), []);
    }
}
