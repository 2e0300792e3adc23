//! Quantities with their units: the only form in which the public interface takes or gives a physical value.
//!
//! Inside, lengths are millimetres, angles radians, times seconds, spindle speeds revolutions per
//! minute, and every speed of a tool or a surface millimetres per minute (so that `v = 2·π·r·n`
//! and `feed per minute = feed per revolution · n` need no factor of 60).
//!
//! Every kind is read from text with its unit and printed with it. A number without a
//! unit, or with a unit of another kind, is refused, and the error says what to write instead:
//!
//! ```
//! use facewright::units::Length;
//!
//! let depth: Length = "0.004 in".parse()?;
//! assert_eq!(depth.to_string(), "0.1016 mm");
//! let error = "0.1".parse::<Length>().unwrap_err();
//! assert_eq!(
//!     error.to_string(),
//!     "found `0.1`, a number without a unit; expected a length such as `0.1 mm` or `0.1 in`"
//! );
//! # Ok::<(), facewright::units::QuantityError>(())
//! ```

// Text from files is read here: no index may panic.
#![warn(clippy::indexing_slicing)]

/// The decimal places, at least `least`, at which two numbers that differ are printed differently.
#[must_use]
pub fn decimals_apart(a: f64, b: f64, least: usize) -> usize {
    /// Beyond this many decimals, differences in millimetres are only rounding.
    const MOST: usize = 9;
    (least..MOST).find(|&d| format!("{a:.d$}") != format!("{b:.d$}")).unwrap_or(MOST.max(least))
}

mod shop_units;
#[cfg(test)]
mod tests;
mod text;

pub use shop_units::{as_it_is, for_shop, in_inches, name_as_written, positions_in_inches};
pub use text::{Quantity, QuantityError, Unit, in_full, told_apart};

use std::f64::consts::PI;
use std::ops::{Add, Mul, Neg, Sub};

/// Millimetres in one inch, exact (NIST SP 811, appendix B).
pub const MM_PER_INCH: f64 = 25.4;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $new:ident, $get:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("From a number of ", $unit, ".")]
            #[must_use]
            pub const fn $new(value: f64) -> Self { Self(value) }
            #[doc = concat!("The number of ", $unit, ".")]
            #[must_use]
            pub const fn $get(self) -> f64 { self.0 }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self { Self(self.0 + other.0) }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self { Self(self.0 - other.0) }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self { Self(-self.0) }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, times: f64) -> Self { Self(self.0 * times) }
        }

        text::written!($name);
    };
}

quantity!(/// A length.
    Length, mm, as_mm, "millimetres");
quantity!(/// An angle.
    Angle, rad, as_rad, "radians");
quantity!(/// A span of time.
    Time, s, as_s, "seconds");
quantity!(/// How fast a tool is moved in a straight line, as in a rapid.
    Speed, mm_per_min, as_mm_per_min, "millimetres per minute");
quantity!(/// How fast the wheel's surface passes the tool.
    SurfaceSpeed, mm_per_min, as_mm_per_min, "millimetres per minute");
quantity!(/// Feed for each revolution of the spindle.
    FeedPerRev, mm_per_rev, as_mm_per_rev, "millimetres per revolution");
quantity!(/// Feed for each minute.
    FeedPerMinute, mm_per_min, as_mm_per_min, "millimetres per minute");
quantity!(/// How fast the spindle turns.
    SpindleSpeed, rpm, as_rpm, "revolutions per minute");
quantity!(/// How much a file holds.
    Size, bytes, as_bytes, "bytes");

impl Angle {
    /// From a number of degrees.
    #[must_use]
    pub const fn deg(value: f64) -> Self {
        Self(value.to_radians())
    }
    /// The number of degrees.
    #[must_use]
    pub const fn as_deg(self) -> f64 {
        self.0.to_degrees()
    }
}

impl SurfaceSpeed {
    /// The spindle speed that gives this surface speed at a radius: `n = v / (2·π·r)`.
    #[must_use]
    pub fn at_radius(self, radius: Length) -> SpindleSpeed {
        SpindleSpeed(self.0 / (2.0 * PI * radius.as_mm()))
    }
}

impl SpindleSpeed {
    /// The surface speed that this spindle speed gives at a radius: `v = 2·π·r·n`.
    #[must_use]
    pub fn at_radius(self, radius: Length) -> SurfaceSpeed {
        SurfaceSpeed(2.0 * PI * radius.as_mm() * self.0)
    }
}

impl FeedPerRev {
    /// The feed per minute that this feed gives at a spindle speed: `f·n`.
    #[must_use]
    pub fn at_speed(self, speed: SpindleSpeed) -> FeedPerMinute {
        FeedPerMinute(self.0 * speed.0)
    }
}
