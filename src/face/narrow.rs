//! Single readings weighed against narrow curves through all of them, so that a wild one has no say in a curve.
//!
//! Local parabolas of two narrow widths are laid through the readings. A reading further off than noise, and than the two
//! differ by (there a narrow curve itself is off), loses its weight by Tukey's biweight.
//! Source: W. S. Cleveland, Robust Locally Weighted Regression (1979).

use crate::numeric::adaptive;
use crate::numeric::grid::Grid;
use crate::numeric::local::Moments;
use crate::numeric::robust::tukey_weight;

/// The two narrow widths, millimetres.
const WIDTHS: [f64; 2] = [0.3, 0.5];
/// Share of the difference between the two curves that a reading may be off.
const OF_DIFFERENCE: f64 = 0.6;
/// On a slope a reading may lie off by so much along the radius, millimetres.
const ALONG: f64 = 0.005;

/// The moments of readings (radius, height, weight) of standard deviation `noise` at weight one, weighed anew in so many
/// rounds; `beside` adds what is not to be weighed.
pub(super) fn weighed(
    readings: &[(f64, f64, f64)],
    grid: Grid,
    noise: f64,
    rounds: usize,
    beside: &dyn Fn(&mut Moments),
) -> Moments {
    let gathered = |weight: &dyn Fn(f64, f64, f64) -> f64| {
        let mut moments = Moments::new(grid);
        for &(x, z, w) in readings {
            moments.add(x, z, weight(x, z, w));
        }
        beside(&mut moments);
        moments
    };
    let mut moments = gathered(&|_, _, w| w);
    for _ in 0..rounds {
        let [narrowest, narrower] = WIDTHS;
        let ((narrowest, slope), (narrower, _)) = rayon::join(
            || adaptive::at_one_width(&moments, narrowest),
            || adaptive::at_one_width(&moments, narrower),
        );
        moments = gathered(&|x, z, w| {
            let at = |of: &[f64]| grid.interpolate(of, x);
            let (value, other) = (at(&narrowest), at(&narrower));
            let allowed = noise + OF_DIFFERENCE * (value - other).abs() + ALONG * at(&slope).abs();
            let t = (z - value) / allowed;
            w * if t.is_finite() { tukey_weight(t) } else { 1.0 }
        });
    }
    moments
}
