//! What was done to a scan on its way to a trace: removed, bridged, moved, left in doubt.

use crate::quantity::Length;

/// A stretch of radius.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stretch {
    /// Innermost radius.
    pub from: Length,
    /// Outermost radius.
    pub to: Length,
}

/// What conditioning found and did.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Report {
    /// Points measured, without drop-outs.
    pub measured: usize,
    /// Lines on which the sensor saw nothing.
    pub missing: usize,
    /// The usual distance between neighbouring points (median).
    pub spacing: Length,
}
