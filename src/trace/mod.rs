//! A scan file read and made clean: one measured line across the face.

use crate::geometry::Profile;
use crate::quantity::Angle;

/// One measured line, clean: heights over radius in the tool's coordinates.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Angle of the wheel at which it was measured.
    pub at: Angle,
    /// The measured face, ordered, cleaned and filtered.
    pub profile: Profile,
}
