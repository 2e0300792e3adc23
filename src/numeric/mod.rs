//! Numbers and nothing else: order statistics, robust weights, least squares, local regression, harmonics,
//! interpolation, waviness. Nothing here knows of wheels.

pub mod adaptive;
pub mod bayes;
pub mod cholesky;
pub mod grid;
pub mod harmonic;
mod kink;
pub mod local;
pub mod order;
pub mod robust;
pub mod waviness;
