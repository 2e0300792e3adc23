//! A scan becomes a clean line: the reader, the cleaning in the order of time, the ball.

mod ball;
mod ball_path;
mod cleaning;
mod drop_outs;
mod guess;
mod hand;
mod layouts;
mod long;
mod reader;
mod several;
mod stated_angle;

use crate::fixtures::job;
use facewright::job::Measured;
use facewright::units::Length;

/// A plain scan: a spot sensor, radii and heights in millimetres, x before z, a cut-off of 0.8 mm.
pub fn plain() -> Measured {
    Measured { filter: Some(Length::mm(0.8)), ..job::measured() }
}
