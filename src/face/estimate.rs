//! The model of the wheel fitted: rounds of terms, face and damage in turn.

use super::model::{FitError, Measurement, WheelModel};

/// Fits the model of the wheel to all that was measured.
///
/// # Errors
/// If there is no line, or a line has too few readings.
pub fn fit(measurement: &Measurement<'_>) -> Result<WheelModel, FitError> {
    let _ = measurement;
    Err(FitError::NoLines)
}
