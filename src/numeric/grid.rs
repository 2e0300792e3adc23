//! Evenly spaced places, and values between them.

/// Evenly spaced places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// The first place.
    pub start: f64,
    /// From one place to the next; above zero.
    pub step: f64,
    /// How many there are.
    pub len: usize,
}

impl Grid {
    /// Places a step apart from a start, the last at or just beyond an end.
    #[must_use]
    pub fn covering(start: f64, end: f64, step: f64) -> Self {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at least zero, and a cast saturates"
        )]
        let steps = ((end - start) / step).ceil().max(0.0) as usize;
        Self { start, step, len: steps.saturating_add(1) }
    }

    /// The place of an index.
    #[must_use]
    pub fn at(&self, i: usize) -> f64 {
        self.start + self.step * i as f64
    }

    /// The last place.
    #[must_use]
    pub fn end(&self) -> f64 {
        self.at(self.len.saturating_sub(1))
    }

    /// The index of the place nearest to `x`, held between the ends.
    #[must_use]
    pub fn nearest(&self, x: f64) -> usize {
        // Half a step on, and cut off: rounding, where a call of the library would cost more than the rest.
        let at = ((x - self.start) / self.step + 0.5).max(0.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at least zero, and a cast saturates"
        )]
        let i = at as usize;
        i.min(self.len.saturating_sub(1))
    }

    /// The value at `x` between values at the places, linear; the end values outside. Not a number if there are none.
    #[must_use]
    pub fn interpolate(&self, values: &[f64], x: f64) -> f64 {
        let t = ((x - self.start) / self.step).clamp(0.0, self.len.saturating_sub(1) as f64);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped between the ends"
        )]
        let i = t as usize;
        let share = t - i as f64;
        match (values.get(i), values.get(i + 1)) {
            (Some(a), Some(b)) if share > 0.0 => a + (b - a) * share,
            (Some(a), _) => *a,
            (None, _) => f64::NAN,
        }
    }
}

/// The value at `x` between points in rising order, linear; zero outside.
#[must_use]
pub fn interpolate(points: &[(f64, f64)], x: f64) -> f64 {
    let after = points.partition_point(|p| p.0 < x);
    match (after.checked_sub(1).and_then(|i| points.get(i)), points.get(after)) {
        (Some(&(x0, y0)), Some(&(x1, y1))) => y0 + (y1 - y0) * (x - x0) / (x1 - x0),
        (None, Some(&(x1, y1))) if x1 == x => y1,
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GRID: Grid = Grid { start: 10.0, step: 0.5, len: 4 };

    #[test]
    fn a_straight_line_is_exact_between_places_and_held_outside() {
        let values = [1.0, 2.0, 3.0, 4.0];
        assert_eq!(GRID.interpolate(&values, 10.75), 2.5);
        assert_eq!(GRID.interpolate(&values, 9.0), 1.0);
        assert_eq!(GRID.interpolate(&values, 99.0), 4.0);
        assert_eq!(GRID.nearest(11.3), 3);
        assert_eq!(GRID.nearest(-4.0), 0);
    }

    #[test]
    fn points_carry_nothing_beyond_their_ends() {
        let points = [(1.0, 0.0), (2.0, 4.0), (4.0, 0.0)];
        assert_eq!(interpolate(&points, 3.0), 2.0);
        assert_eq!(interpolate(&points, 1.0), 0.0);
        assert_eq!(interpolate(&points, 4.5), 0.0);
    }
}
