//! What the heights of a scan are at its two ends, for a person who must say which way they grow.
//!
//! No number tells a height from a distance: a face told the wrong way round is a face still, with hills for valleys. So both ends
//! are shown, and a person sees at the wheel which of them stands farther from the chuck. Two things can be said against a word all
//! the same: no distance from a sensor is below zero, and heights stand near their zero, which a person sets on the face.
//!
//! Limit: a sensor whose display was zeroed on the face shows distances below zero too; so both are told as doubts, never believed.

use crate::job::HeightSense;
use crate::numeric::order::quantile;

/// An end is so small a part of all readings: one odd reading is not the end.
const OF_READINGS: usize = 50;

/// Heights that stand farther from zero than so many times their own way look like distances from a sensor.
const FAR: f64 = 1.0;

/// The two ends of a scan as they stand in it, in its own units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ends {
    /// x and z at the least x.
    pub inner: [f64; 2],
    /// x and z at the greatest x.
    pub outer: [f64; 2],
    /// The least and the greatest z.
    pub z: [f64; 2],
}

impl Ends {
    /// Of pairs of x and z; none where there are no two.
    #[must_use]
    pub fn of(mut pairs: Vec<[f64; 2]>) -> Option<Self> {
        pairs.sort_by(|[a, _], [b, _]| a.total_cmp(b));
        let ([least, _], [most, _]) = (*pairs.first()?, *pairs.last()?);
        let few = (pairs.len() / OF_READINGS).max(1);
        let inner = middle(pairs.get(..few)?)?;
        let outer = middle(pairs.get(pairs.len().checked_sub(few)?..)?)?;
        let heights = pairs.iter().map(|[_, z]| *z);
        let z = heights.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], z| [a.min(z), b.max(z)]);
        (pairs.len() > 1).then_some(Self { inner: [least, inner], outer: [most, outer], z })
    }

    /// What a person must look at to say which way z grows.
    #[must_use]
    pub fn which_way(&self) -> String {
        let Self { inner: [x, z], outer: [other, at_other], .. } = self;
        let both = format!("z is {z} at x {x} and {at_other} at x {other}");
        let farther = |height: f64, distance: f64| {
            format!(
                "{both}: height if the wheel stands out farther from the chuck at x {height}, distance if at x {distance}"
            )
        };
        if z > at_other {
            farther(*x, *other)
        } else if z < at_other {
            farther(*other, *x)
        } else {
            format!("{both}: height if z grows away from the chuck, distance if toward it")
        }
    }

    /// What the numbers say against a word, if anything.
    #[must_use]
    pub fn against(&self, said: HeightSense) -> Option<String> {
        let [least, most] = self.z;
        match said {
            HeightSense::Distance if least < 0.0 => Some(format!(
                "z goes below zero, to {least}, and no distance from a sensor does unless it was set to zero on the face"
            )),
            HeightSense::Height if least > FAR * (most - least) => Some(format!(
                "all z stand far above zero, from {least} to {most}, as distances from a sensor do"
            )),
            _ => None,
        }
    }
}

/// The median height, as it stands in the scan.
fn middle(pairs: &[[f64; 2]]) -> Option<f64> {
    quantile(&mut pairs.iter().map(|[_, z]| *z).collect::<Vec<_>>(), 0.5)
}
