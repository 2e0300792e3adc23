//! Numbers drawn at random: the series of a seed, with the draws that wheels and measurements need.

use crate::fixtures::wheel::Random;

/// Draws of one seed. Same seed, same draws.
pub struct Dice(Random);

impl Dice {
    /// The draws of a seed.
    pub const fn new(seed: u64) -> Self {
        Self(Random::new(seed))
    }

    /// A number between two bounds.
    pub fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.0.uniform()
    }

    /// Whether something happens that happens so often.
    pub fn chance(&mut self, share: f64) -> bool {
        self.0.uniform() < share
    }

    /// A whole number from `least` to `most`, both included.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and never below zero")]
    pub fn count(&mut self, least: usize, most: usize) -> usize {
        (least + (self.0.uniform() * (most - least + 1) as f64) as usize).min(most)
    }

    /// One of several.
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.count(0, of.len() - 1)]
    }

    /// An angle, radians.
    pub fn angle(&mut self) -> f64 {
        self.between(0.0, std::f64::consts::TAU)
    }

    /// A number of mean 0 and variance 1.
    pub fn normal(&mut self) -> f64 {
        self.0.normal()
    }

    /// A number of mean 0 and scale 1 with heavy tails: Student's distribution of three degrees of freedom.
    pub fn heavy(&mut self) -> f64 {
        let n = self.normal();
        let q: f64 = (0..3).map(|_| self.normal().powi(2)).sum();
        n / (q / 3.0).max(1e-3).sqrt()
    }

    /// The seed of an independent series.
    pub const fn seed(&mut self) -> u64 {
        self.0.bits()
    }
}
