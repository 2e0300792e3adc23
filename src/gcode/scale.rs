//! From millimetres to the whole steps that a control's words count, and never a rounding unseen.
//!
//! A coordinate of a plan lies on the control's grid already. Here it becomes a whole number of
//! resolution steps; one that misses its place by more than [`ON_GRID`] of a step is refused.

use super::GcodeError;
use super::word::{Word, Zeros, decimal};
use crate::geometry::Point;
use crate::job::{Control, DwellWord, Tool, UnitWord, XWords};
use crate::units::{self, FeedPerRev, Length, MM_PER_INCH, SpindleSpeed, SurfaceSpeed};

/// Share of a step by which a coordinate may miss its place: room for the rounding of sums of a few binary numbers, far below anything a machine can do.
const ON_GRID: f64 = 1e-4;

/// Room for the rounding of binary numbers where a value is rounded to one side, as a share of the last place.
const SLACK: f64 = 1e-6;

/// Decimal places of a feed word: a tenth of a micrometre a revolution, and the like in inches.
const FEED_PLACES_MM: usize = 4;
const FEED_PLACES_INCH: usize = 5;

/// Millimetres in one foot: surface speeds of inch programs are feet per minute.
const MM_PER_FOOT: f64 = 12.0 * MM_PER_INCH;

/// Millimetres in one metre.
const MM_PER_M: f64 = 1000.0;

/// Longer than this nobody waits, seconds.
const LONGEST_DWELL: f64 = 3600.0;

/// Decimal places of a dwell's seconds.
const DWELL_PLACES: usize = 1;

/// Greatest count that a word may hold: nine digits, far inside what an f64 holds exactly.
const LARGEST_COUNT: f64 = 999_999_999.0;

/// How a control counts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale {
    inch: bool,
    /// Millimetres in one step of a word.
    step: f64,
    /// What one step is in units of the word's last decimal place.
    step_count: i64,
    places: usize,
    /// 2 where X words are diameters.
    x_factor: f64,
    zeros: Zeros,
}

/// A place as the control's words count it: X as it stands in the word, Z, both in steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    /// Steps of the X word.
    pub(super) x: i64,
    /// Steps of the Z word.
    pub(super) z: i64,
}

impl Scale {
    /// How a control counts.
    pub(super) fn new(control: &Control) -> Result<Self, GcodeError> {
        let inch = matches!(control.unit_word, UnitWord::G20 | UnitWord::G70);
        let unit = if inch { MM_PER_INCH } else { 1.0 };
        let refused = || GcodeError::Resolution {
            resolution_mm: control.resolution.as_mm(),
            decimals: control.decimals,
        };
        let places = i32::try_from(control.decimals).map_err(|_| refused())?;
        let in_last_place = control.resolution.as_mm() / unit * 10f64.powi(places);
        let step_count = count(in_last_place.round()).filter(|&n| n > 0).ok_or_else(refused)?;
        if (in_last_place - step_count as f64).abs() > SLACK {
            return Err(refused());
        }
        let step = step_count as f64 * unit / 10f64.powi(places);
        let x_factor = match control.x_words {
            XWords::Diameter => 2.0,
            XWords::Radius => 1.0,
        };
        let zeros = Zeros { trailing: control.traits.trailing_zeros, leading: control.traits.leading_zero };
        Ok(Self { inch, step, step_count, places: control.decimals, x_factor, zeros })
    }

    /// Millimetres in one step of a word.
    pub(super) const fn step(&self) -> f64 {
        self.step
    }

    /// Radius in millimetres of an X count.
    pub(super) fn radius(&self, x: i64) -> f64 {
        x as f64 * self.step / self.x_factor
    }

    /// Height in millimetres of a Z count.
    pub(super) fn height(&self, z: i64) -> f64 {
        z as f64 * self.step
    }

    /// Steps nearest to a length that is a radius value in every mode (I, K and R).
    pub(super) fn nearest(&self, mm: f64) -> Option<i64> {
        count((mm / self.step).round())
    }

    /// Greatest number of steps not above a length.
    pub(super) fn not_above(&self, mm: f64) -> Option<i64> {
        count((mm / self.step + SLACK).floor())
    }

    /// Least number of steps not below a length.
    pub(super) fn not_below(&self, mm: f64) -> Option<i64> {
        count((mm / self.step - SLACK).ceil())
    }

    /// The word of an address for a number of steps.
    pub(super) const fn word(&self, address: char, steps: i64) -> Word {
        Word::decimal(address, steps.saturating_mul(self.step_count), self.places).with_zeros(self.zeros)
    }

    /// A feed word for each revolution, rounded down: a finer feed never leaves a rougher face.
    pub(super) fn feed(&self, feed: FeedPerRev) -> Result<Word, GcodeError> {
        let (unit, places) = if self.inch { (MM_PER_INCH, FEED_PLACES_INCH) } else { (1.0, FEED_PLACES_MM) };
        let scale = if self.inch { 1e5 } else { 1e4 };
        let value = feed.as_mm_per_rev();
        let refused = || GcodeError::Number {
            what: "a feed".into(),
            value: format!("{value} mm/rev"),
            keys: "`feed`, or the `texture` that decides it",
        };
        let n = count((value / unit * scale + SLACK).floor()).filter(|&n| n > 0).ok_or_else(refused)?;
        Ok(Word::decimal('F', n, places).with_zeros(self.zeros))
    }

    /// The time of a dwell, rounded up to a tenth of a second.
    pub(super) fn dwell(&self, word: DwellWord, seconds: f64) -> Word {
        #[allow(clippy::cast_possible_truncation)] // Held to an hour.
        let tenths = (seconds.clamp(0.0, LONGEST_DWELL) * 10.0 - SLACK).ceil() as i64;
        match word {
            DwellWord::X | DwellWord::P => {
                Word::decimal(word.letter(), tenths, DWELL_PLACES).with_zeros(self.zeros)
            }
            DwellWord::PMilliseconds => Word::whole(word.letter(), tenths * 100, 1),
        }
    }

    /// Surface speed as an S word counts it, rounded down: metres or feet per minute.
    pub(super) fn surface_speed(&self, speed: SurfaceSpeed) -> Result<i64, GcodeError> {
        let unit = if self.inch { MM_PER_FOOT } else { MM_PER_M };
        let value = speed.as_mm_per_min();
        let refused = || GcodeError::Number {
            what: "a surface speed".into(),
            value: format!("{} m/min", value / MM_PER_M),
            keys: "`surface_speed`",
        };
        count((value / unit + SLACK).floor()).filter(|&n| n > 0).ok_or_else(refused)
    }

    /// A length as a comment tells it, to the word's decimal places.
    pub(super) fn length_text(&self, length: Length) -> String {
        let unit = if self.inch { MM_PER_INCH } else { 1.0 };
        let (scale, places) = if self.inch { (1e4, 4) } else { (1e3, 3) };
        match count((length.as_mm() / unit * scale).round()) {
            Some(n) => format!("{} {}", decimal(n, places), if self.inch { "IN" } else { "MM" }),
            None => "UNKNOWN".to_owned(),
        }
    }

    /// A length as a comment tells it that is the file's own: with every place that it has there.
    pub(super) fn as_it_is(&self, length: Length) -> String {
        units::as_it_is(length, self.inch).to_uppercase()
    }

    /// A radius as a comment tells it, without its unit: whole millimetres, or hundredths of an inch.
    pub(super) fn radius_text(&self, radius: Length) -> String {
        let (unit, places) = if self.inch { (MM_PER_INCH, 2) } else { (1.0, 0) };
        format!("{:.places$}", radius.as_mm() / unit)
    }

    /// The unit of an S word under constant surface speed.
    pub(super) const fn surface_speed_unit(&self) -> &'static str {
        if self.inch { "FT/MIN" } else { "M/MIN" }
    }

    /// The unit of an F word.
    pub(super) const fn feed_unit(&self) -> &'static str {
        if self.inch { "IN/REV" } else { "MM/REV" }
    }

    /// The unit of lengths.
    pub(super) const fn unit(&self) -> &'static str {
        if self.inch { "INCH" } else { "MM" }
    }
}

/// Whole revolutions per minute, rounded down.
pub(super) fn whole_rpm(speed: SpindleSpeed) -> Result<i64, GcodeError> {
    let value = speed.as_rpm();
    let refused = || GcodeError::Number {
        what: "a spindle speed".into(),
        value: format!("{value} rpm"),
        keys: "`speed_limit` of the wheel, `spindle_limit` or `spin_first` of the machine, or `surface_speed`",
    };
    count((value + SLACK).floor()).filter(|&n| n > 0).ok_or_else(refused)
}

/// A whole f64 as a count; none where it is not a number or beyond nine digits.
#[allow(clippy::cast_possible_truncation)] // Whole and within nine digits, as checked.
fn count(value: f64) -> Option<i64> {
    (value.abs() <= LARGEST_COUNT).then_some(value as i64)
}

/// A scale with the tool whose programmed point its words name.
#[derive(Debug, Clone, Copy)]
pub(super) struct WordScale {
    /// The scale.
    pub(super) scale: Scale,
    offset: (f64, f64),
}

impl WordScale {
    /// The scale of a tool.
    pub(super) fn new(scale: Scale, tool: &Tool) -> Self {
        Self { scale, offset: tool.point_offset() }
    }

    /// The place of a front point.
    pub(super) fn place(&self, front: Point, at: &str) -> Result<Place, GcodeError> {
        Ok(Place { x: self.x(front.x, at)?, z: self.z(front.z, at)? })
    }

    /// The X count of a front point's radius.
    pub(super) fn x(&self, radius: f64, at: &str) -> Result<i64, GcodeError> {
        on_grid(self.x_steps(radius), 'X', radius, at)
    }

    /// The Z count of a front point's height.
    pub(super) fn z(&self, height: f64, at: &str) -> Result<i64, GcodeError> {
        on_grid(self.z_steps(height), 'Z', height, at)
    }

    /// The greatest Z count not above a front point's height.
    pub(super) fn z_not_above(&self, height: f64) -> Option<i64> {
        count((self.z_steps(height) + SLACK).floor())
    }

    /// The X count nearest to a front point's radius.
    pub(super) fn x_nearest(&self, radius: f64) -> Option<i64> {
        count(self.x_steps(radius).round())
    }

    /// The Z count nearest to a front point's height.
    pub(super) fn z_nearest(&self, height: f64) -> Option<i64> {
        count(self.z_steps(height).round())
    }

    /// Radius and height in millimetres of the front point that the numbers of an X and a Z word name.
    pub(super) fn front(&self, [x, z]: [f64; 2]) -> [f64; 2] {
        let unit = if self.scale.inch { MM_PER_INCH } else { 1.0 };
        [x * unit / self.scale.x_factor - self.offset.0, z * unit - self.offset.1]
    }

    fn x_steps(&self, radius: f64) -> f64 {
        (radius + self.offset.0) * self.scale.x_factor / self.scale.step
    }

    fn z_steps(&self, height: f64) -> f64 {
        (height + self.offset.1) / self.scale.step
    }
}

fn on_grid(steps: f64, axis: char, value_mm: f64, at: &str) -> Result<i64, GcodeError> {
    let nearest = steps.round();
    let Some(n) = count(nearest) else {
        return Err(GcodeError::Number {
            what: format!("{at}: {axis}"),
            value: format!("{value_mm} mm"),
            keys: "the place, or the control's `resolution`",
        });
    };
    let off = (steps - nearest).abs();
    if off > ON_GRID {
        return Err(GcodeError::OffGrid { at: at.to_owned(), axis, value_mm, off });
    }
    Ok(n)
}
