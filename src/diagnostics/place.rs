//! Where a finding is.

use serde::Serialize;

/// Where a finding is: in a program, on the face, on a measured line, or in the whole.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "at", rename_all = "lowercase")]
pub enum Place {
    /// The wheel, the job or the program as a whole.
    Whole,
    /// A line of a program.
    Program {
        /// Line of the text, from 1.
        line: usize,
        /// Sequence number of its block (N word), where it has one.
        block: Option<u64>,
    },
    /// Radii of the face.
    Radius {
        /// Innermost radius, millimetres.
        from_mm: f64,
        /// Outermost radius, millimetres; the innermost again for a single place.
        to_mm: f64,
    },
    /// A line as measured.
    Trace {
        /// Its angle on the wheel, degrees.
        angle_deg: f64,
        /// Innermost radius, millimetres; none for the line as a whole.
        from_mm: Option<f64>,
        /// Outermost radius, millimetres; none for the line as a whole.
        to_mm: Option<f64>,
    },
}

impl Place {
    /// A line of a program, without a sequence number.
    #[must_use]
    pub const fn line(line: usize) -> Self {
        Self::Program { line, block: None }
    }

    /// A single radius of the face, millimetres.
    #[must_use]
    pub const fn radius(radius_mm: f64) -> Self {
        Self::Radius { from_mm: radius_mm, to_mm: radius_mm }
    }

    /// Line of the program; none for any other place.
    #[must_use]
    pub const fn program_line(&self) -> Option<usize> {
        match self {
            Self::Program { line, .. } => Some(*line),
            _ => None,
        }
    }

    /// Sequence number of the program's block, where the place has one.
    #[must_use]
    pub const fn block(&self) -> Option<u64> {
        match self {
            Self::Program { block, .. } => *block,
            _ => None,
        }
    }
}
