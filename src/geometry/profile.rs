//! A profile: a piecewise linear height over the radius.

use super::Point;

/// Height over radius as straight segments between points; at least two, x strictly increasing, all finite.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    points: Vec<Point>,
}

/// Why a list of points is not a profile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ProfileError {
    /// Fewer than two points.
    #[error("a profile needs at least two points, found {0}")]
    TooFew(usize),
    /// A coordinate that is infinite or not a number.
    #[error("point {0} is not finite")]
    NotFinite(usize),
    /// A point whose x is not greater than that of the point before it.
    #[error("point {0} does not lie beyond the point before it")]
    NotIncreasing(usize),
}

impl Profile {
    /// A profile through the points.
    ///
    /// # Errors
    /// If there are fewer than two points, a coordinate is not finite, or x does not strictly increase.
    pub fn new(points: Vec<Point>) -> Result<Self, ProfileError> {
        if points.len() < 2 {
            return Err(ProfileError::TooFew(points.len()));
        }
        if let Some(i) = points.iter().position(|p| !(p.x.is_finite() && p.z.is_finite())) {
            return Err(ProfileError::NotFinite(i));
        }
        if let Some(i) = points.windows(2).position(|w| w[1].x <= w[0].x) {
            return Err(ProfileError::NotIncreasing(i + 1));
        }
        Ok(Self { points })
    }

    /// The points, x strictly increasing.
    #[must_use]
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// The innermost radius.
    #[must_use]
    pub fn start(&self) -> f64 {
        self.points[0].x
    }

    /// The outermost radius.
    #[must_use]
    pub fn end(&self) -> f64 {
        self.points[self.points.len() - 1].x
    }

    /// The height at a radius; outside the profile, the height of its nearer end.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.before(self.points.partition_point(|p| p.x <= x), x)
    }

    /// The height at each of many radii that never fall, as [`Self::at`] gives it. One pass over the points instead of one search for each radius.
    pub fn at_each<'a>(&'a self, radii: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
        let mut next = 0;
        radii.iter().map(move |&x| {
            while self.points.get(next).is_some_and(|p| p.x <= x) {
                next += 1;
            }
            self.before(next, x)
        })
    }

    /// The height at a radius that lies just before the point with index `next`.
    fn before(&self, next: usize, x: f64) -> f64 {
        if next == 0 {
            return self.points[0].z;
        }
        let a = self.points[next - 1];
        let Some(b) = self.points.get(next) else { return a.z };
        a.z + (b.z - a.z) * ((x - a.x) / (b.x - a.x))
    }

    /// The profile with every height changed by a function of the point. The heights returned must be finite.
    #[must_use]
    pub fn map(&self, f: impl Fn(Point) -> f64) -> Self {
        Self { points: self.points.iter().map(|&p| Point::new(p.x, f(p))).collect() }
    }

    /// The profile moved along the spindle by `dz`.
    #[must_use]
    pub fn raised(&self, dz: f64) -> Self {
        self.map(|p| p.z + dz)
    }
}
