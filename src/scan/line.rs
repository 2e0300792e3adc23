//! One measured line as the face is fitted to it: readings in the order of time, each with what it is worth.
//!
//! Nothing is averaged, filtered or dropped here. A reading that stands off its neighbours stays, marked as a
//! suspect: a single line cannot tell a wild reading from a sharp edge, but all lines together can. Radii are
//! millimetres from the spindle's axis, heights millimetres away from the chuck, angles radians.

/// One measured line after cleaning in the order of time: the readings that the face is fitted to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeasuredLine {
    /// Angle of the wheel at which it was measured, radians.
    pub at: f64,
    /// The readings in the order of time.
    pub readings: Vec<Reading>,
    /// Standard deviation of one reading, millimetres; never below [`super::noise::LEAST`].
    pub noise: f64,
    /// How many times the sensor was driven across: one more than there were turns.
    pub sweeps: usize,
    /// Radii at which the sensor met no metal: a window between spokes, a bolt hole, the end of the face. In rising
    /// order, apart from each other.
    pub no_metal: Vec<Stretch>,
}

impl MeasuredLine {
    /// A line whose heights are known without noise, as radius and height in the order of time.
    #[must_use]
    pub fn exact(at: f64, points: &[(f64, f64)]) -> Self {
        let last = points.len().saturating_sub(1).max(1) as f64;
        let reading = |(i, &(x, z)): (usize, &(f64, f64))| Reading {
            x,
            z,
            sweep: 0,
            time: i as f64 / last,
            suspect: false,
            weight: 1.0,
        };
        Self {
            at,
            readings: points.iter().enumerate().map(reading).collect(),
            noise: super::noise::LEAST,
            sweeps: 1,
            no_metal: Vec::new(),
        }
    }
}

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Radius, millimetres.
    pub x: f64,
    /// Height, millimetres.
    pub z: f64,
    /// Which of the line's sweeps it belongs to, from zero.
    pub sweep: usize,
    /// When it was taken: 0 the first, 1 the last of the line.
    pub time: f64,
    /// Whether it stands off its neighbours; it may come back once the face is known.
    pub suspect: bool,
    /// What it is worth against a reading on its own: a pause of n readings counts as three.
    pub weight: f64,
}

/// A stretch of radius, millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stretch {
    /// Innermost radius.
    pub from: f64,
    /// Outermost radius.
    pub to: f64,
}

impl Stretch {
    /// How long it is.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.to - self.from
    }

    /// Whether a radius lies in it.
    #[must_use]
    pub fn holds(&self, x: f64) -> bool {
        self.from <= x && x <= self.to
    }

    /// Whether it shares a length with another.
    #[must_use]
    pub fn meets(&self, other: &Self) -> bool {
        self.from < other.to && other.from < self.to
    }
}

/// Stretches in rising order, those that touch or overlap made one.
#[must_use]
pub fn joined(mut stretches: Vec<Stretch>) -> Vec<Stretch> {
    stretches.sort_by(|a, b| a.from.total_cmp(&b.from));
    let mut out: Vec<Stretch> = Vec::with_capacity(stretches.len());
    for s in stretches {
        match out.last_mut() {
            Some(last) if s.from <= last.to => last.to = last.to.max(s.to),
            _ => out.push(s),
        }
    }
    out
}
