//! Why lines measured again tell nothing that may be cut by, with the figures and what to do.

use crate::geometry::profile::ProfileError;

/// Why the lines measured again tell nothing that may be cut by.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AgainError {
    /// Nothing tells the zero.
    #[error(
        "measured again: the sensor was set anew, and the lines cross only {bins:.1} mm of metal outside the zones that was not cut, \
         where {needed:.1} mm are needed to tell its zero\n  to mend it: measure farther inward or outward than the zones; or, if the sensor was \
         not moved since the first lines, write `zero: same`"
    )]
    ZeroUnknown {
        /// Length of line over metal that was not cut, millimetres.
        bins: f64,
        /// The least.
        needed: f64,
    },
    /// The zero is not what it was said to be.
    #[error(
        "measured again: metal outside the zones that was not cut reads {by:.3} mm off the first lines, known within {within:.3} mm: the \
         sensor's zero has moved\n  to mend it: write `zero: face`, or see that the wheel still sits as it did and measure again"
    )]
    ZeroMoved {
        /// How far, millimetres.
        by: f64,
        /// Two standard errors.
        within: f64,
    },
    /// The wheel does not sit as it did.
    #[error(
        "measured again: the line at {at:.0} deg reads {by:.3} mm off {on}, known within {within:.3} mm: the wheel does not \
         sit as it did, or runs out otherwise\n  to mend it: a wheel that was taken off is a new measurement: measure all lines anew, under `measured`"
    )]
    Moved {
        /// Angle of the line, degrees.
        at: f64,
        /// How far, millimetres.
        by: f64,
        /// Two standard errors.
        within: f64,
        /// Off what, on what metal.
        on: &'static str,
    },
    /// The lines are of another wheel.
    #[error(
        "measured again: the new lines do not follow the first face: they scatter about it by {by:.3} mm, where those of one wheel stay within \
         {limit:.3} mm\n  to mend it: see that these scans are of this wheel, and that `x`, `unit` and `x_offset` hold for them"
    )]
    OtherWheel {
        /// Standard deviation of the bins, millimetres.
        by: f64,
        /// The most of one wheel.
        limit: f64,
    },
    /// Too little of the cut surface.
    #[error(
        "measured again: only {share:.0} % of what the new lines cross in the zones was cut, too little to tell how deep\n  to mend it: measure again after \
         the next pass, or on the high side of the wheel"
    )]
    LittleCut {
        /// Percent of the bins in the zones.
        share: f64,
    },
    /// A zone that no line crosses.
    #[error(
        "measured again: no new line covers the zone from {from:.1} mm to {to:.1} mm\n  to mend it: measure a line across every zone"
    )]
    NotCovered {
        /// Where the gap begins, millimetres.
        from: f64,
        /// Where it ends.
        to: f64,
    },
    /// Metal that has grown.
    #[error(
        "measured again: the face stands {by:.3} mm higher than before it was cut: the zero is wrong, or these are not lines of this wheel\n  to mend it: \
         write `zero: face` if the sensor was set anew, and measure outside the zones too"
    )]
    Grown {
        /// By how much, millimetres.
        by: f64,
    },
    /// Metal where the first lines saw none.
    #[error(
        "measured again: at radius {at:.1} mm the metal stands {by:.3} mm higher than the first lines read, known within {within:.3} mm: \
         something lies on the face there, or these are not lines of this wheel\n  to mend it: clean the face, look there, and measure again"
    )]
    Higher {
        /// By how much, millimetres.
        by: f64,
        /// Two standard errors.
        within: f64,
        /// Radius, millimetres.
        at: f64,
    },
    /// A zone without a place that tells the depth.
    #[error(
        "measured again: the zone from {from:.1} mm to {to:.1} mm is so narrow that the nose's own fillets at its ends fill it, and no line tells how \
         deep it was cut\n  to mend it: leave `measured_again` out, and say what came off with `--already`"
    )]
    Narrow {
        /// Where the zone begins, millimetres.
        from: f64,
        /// Where it ends.
        to: f64,
    },
    /// The face makes no profile.
    #[error("the lines measured again make no face: {0}")]
    Profile(#[from] ProfileError),
}
