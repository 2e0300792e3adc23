//! The workshop's control and tools.

use super::traits::Traits;
use crate::geometry::{Grid, Holder, Outline};
use crate::units::{Angle, Length};
use serde::Deserialize;

/// What X words mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum XWords {
    /// Twice the radius.
    Diameter,
    /// The radius.
    Radius,
}

/// The word that sets the unit; two families are in use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum UnitWord {
    /// Inch, first family.
    G20,
    /// Millimetre, first family.
    G21,
    /// Inch, second family.
    G70,
    /// Millimetre, second family.
    G71,
}

impl UnitWord {
    /// Whether the word sets the control to inches.
    #[must_use]
    pub const fn is_inch(self) -> bool {
        matches!(self, Self::G20 | Self::G70)
    }
}

/// How arcs are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Arcs {
    /// I and K from the start point to the centre, as radius values.
    Centre,
    /// R, the radius.
    Radius,
    /// None: lines only.
    None,
}

/// How the spindle's limit under constant surface speed is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum SpindleLimitWord {
    /// G92 S.
    G92,
    /// G50 S.
    G50,
    /// D on the G96 block.
    D,
    /// The control has none.
    #[serde(rename = "none")]
    None,
}

/// The pair of words for feed per minute and feed per revolution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FeedWords {
    /// G94 and G95.
    G94G95,
    /// G98 and G99.
    G98G99,
}

/// The meaning of a coordinate word without a decimal point, in programs that are read; written programs always have the point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum BareNumbers {
    /// Whole units: `X100` is 100 mm.
    Units,
    /// Steps of the resolution: `X100` is 0.100 mm at a resolution of 0.001 mm.
    Steps,
}

/// Sequence numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sequence {
    /// N words in steps of this, at least 1, at every block.
    StepsOf(u32),
    /// N words in steps of this at the first block of every pass, and nowhere else.
    AtPasses(u32),
    /// No N words.
    None,
}

/// The line end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LineEnd {
    /// Carriage return, line feed.
    CrLf,
    /// Line feed.
    Lf,
}

/// The word or words that call a tool; the shop file gives the form for tool number 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum ToolWord {
    /// T0101: number and offset, two digits each.
    #[serde(rename = "T0101")]
    NumberAndOffset,
    /// T101: the same without the zero before the number.
    #[serde(rename = "T101")]
    ShortNumberAndOffset,
    /// T1 D1: the number, and its offset in a word of its own.
    #[serde(rename = "T1 D1")]
    NumberAndD,
    /// T1.
    #[serde(rename = "T1")]
    Number,
    /// T1 M06.
    #[serde(rename = "T1 M06")]
    NumberAndM06,
    /// None: the lathe holds one tool.
    #[serde(rename = "none")]
    None,
}

impl ToolWord {
    /// Whether the word or words name the offset beside the tool.
    #[must_use]
    pub const fn carries_offset(self) -> bool {
        matches!(self, Self::NumberAndOffset | Self::ShortNumberAndOffset | Self::NumberAndD)
    }
}

/// Which way the spindle turns while cutting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum SpindleTurns {
    /// M03.
    M03,
    /// M04.
    M04,
}

/// Coolant while cutting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum Coolant {
    /// None.
    #[serde(rename = "none")]
    None,
    /// M07.
    M07,
    /// M08.
    M08,
}

/// The stop between passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Stops {
    /// M01: the control stops where its switch for optional stops is on.
    #[default]
    Optional,
    /// M00: it always stops.
    Program,
}

/// What a machine control reads: its words, formats and limits, never its maker.
#[derive(Debug, Clone, PartialEq)]
pub struct Control {
    /// What X words mean.
    pub x_words: XWords,
    /// The word that sets the unit; it also says whether the program is in millimetres or inches.
    pub unit_word: UnitWord,
    /// Smallest step of a coordinate word, as written in the word (for a diameter word, a step of the diameter).
    pub resolution: Length,
    /// Decimal places that the resolution needs in the control's unit.
    pub decimals: usize,
    /// How arcs are written.
    pub arcs: Arcs,
    /// The most that an arc's start and end radius may differ.
    pub arc_tolerance: Length,
    /// Whether the control holds a constant surface speed (G96).
    pub surface_speed: bool,
    /// How the spindle limit is written.
    pub spindle_limit_word: SpindleLimitWord,
    /// Feed words.
    pub feed_words: FeedWords,
    /// What a coordinate word without a point counts.
    pub bare_numbers: BareNumbers,
    /// Sequence numbers.
    pub sequence: Sequence,
    /// The O number, where the control wants one.
    pub program_number: Option<u32>,
    /// Whether the first and the last line are `%`.
    pub tape_marks: bool,
    /// Line end.
    pub line_end: LineEnd,
    /// Longest line in characters, without the line end.
    pub longest_line: usize,
    /// Largest program in bytes; a longer one is split at passes.
    pub largest_program: u64,
    /// Blocks the control can execute per second.
    pub blocks_per_second: f64,
    /// How a tool is called.
    pub tool_word: ToolWord,
    /// Work offset G54 to G59, where one is used, by its number.
    pub work_offset: Option<u32>,
    /// Which way the spindle turns.
    pub spindle_turns: SpindleTurns,
    /// Coolant.
    pub coolant: Coolant,
    /// The stop between passes.
    pub stops: Stops,
    /// What few controls want.
    pub traits: Traits,
}

impl Control {
    /// The positions that a tool's front point can be sent to: those for which the programmed point is a whole number of steps.
    ///
    /// The step of a diameter word is half as large in radius. The programmed point is offset from the front point
    /// by the tool's point offset, so the grid of the front point is shifted back by it.
    #[must_use]
    pub fn grid(&self, tool: &Tool) -> Grid {
        let dz = self.resolution.as_mm();
        let dx = match self.x_words {
            XWords::Diameter => dz / 2.0,
            XWords::Radius => dz,
        };
        let (offset_x, offset_z) = tool.point_offset();
        Grid { dx, dz, x0: shift(-offset_x, dx), z0: shift(-offset_z, dz) }
    }
}

/// The remainder of a value by a step, in `[0, step)`; zero where it differs from zero only by rounding.
fn shift(value: f64, step: f64) -> f64 {
    let shift = value.rem_euclid(step);
    if shift.min(step - shift) < step * ROUNDING { 0.0 } else { shift }
}

/// Fraction of a step below which a remainder is only rounding.
const ROUNDING: f64 = 1e-9;

/// Which point of the tool the program names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ProgrammedPoint {
    /// X of the nose centre, Z of the nose's lowest point: what touching off on a face gives.
    Front,
    /// The nose centre.
    Centre,
    /// The imaginary sharp corner on the side toward the axis: front moved inward by the nose radius.
    Inner,
    /// The imaginary sharp corner on the side toward the rim: front moved outward by the nose radius.
    Outer,
}

/// One tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Tool {
    /// Its name in the shop file.
    pub name: String,
    /// Its number, 1 to 99.
    pub number: u32,
    /// Nose radius.
    pub nose_radius: Length,
    /// Angle of the inner edge from the spindle axis.
    pub inner_edge: Angle,
    /// Angle of the outer edge from the spindle axis.
    pub outer_edge: Angle,
    /// Length of the straight edges.
    pub edge_length: Length,
    /// Radius of the rounding of the cutting edge itself: the smaller, the sharper the edge and the finer the face that it can leave.
    pub cutting_edge_radius: Length,
    /// Reach of the holder inward and outward of the nose centre, where known.
    pub holder: Option<[Length; 2]>,
    /// The point the program names.
    pub point: ProgrammedPoint,
}

impl Tool {
    /// The tool's lower outline.
    #[must_use]
    pub fn outline(&self) -> Outline {
        Outline {
            nose_radius: self.nose_radius.as_mm(),
            inner_edge: self.inner_edge.as_rad(),
            outer_edge: self.outer_edge.as_rad(),
            edge_length: self.edge_length.as_mm(),
            holder: self.holder.map(|[inner, outer]| Holder { inner: inner.as_mm(), outer: outer.as_mm() }),
        }
    }

    /// Offset of the programmed point from the front point (nose centre x, nose lowest z): outward and upward, millimetres.
    #[must_use]
    pub fn point_offset(&self) -> (f64, f64) {
        let r = self.nose_radius.as_mm();
        match self.point {
            ProgrammedPoint::Front => (0.0, 0.0),
            ProgrammedPoint::Centre => (0.0, r),
            ProgrammedPoint::Inner => (-r, 0.0),
            ProgrammedPoint::Outer => (r, 0.0),
        }
    }
}

/// A plain control and a plain tool for the tests of other rooms.
#[cfg(test)]
pub(crate) use tests::{test_control, test_tool};

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn control(x_words: XWords, unit_word: UnitWord, resolution: Length, decimals: usize) -> Control {
        Control {
            x_words,
            unit_word,
            resolution,
            decimals,
            arcs: Arcs::Centre,
            arc_tolerance: Length::mm(0.002),
            surface_speed: true,
            spindle_limit_word: SpindleLimitWord::G92,
            feed_words: FeedWords::G94G95,
            bare_numbers: BareNumbers::Units,
            sequence: Sequence::None,
            program_number: None,
            tape_marks: false,
            line_end: LineEnd::Lf,
            longest_line: 80,
            largest_program: 64_000,
            blocks_per_second: 100.0,
            tool_word: ToolWord::Number,
            work_offset: None,
            spindle_turns: SpindleTurns::M03,
            coolant: Coolant::None,
            stops: Stops::Optional,
            traits: Traits::default(),
        }
    }

    fn tool(nose: f64, point: ProgrammedPoint) -> Tool {
        Tool {
            name: "any".to_owned(),
            number: 1,
            nose_radius: Length::mm(nose),
            inner_edge: Angle::deg(30.0),
            outer_edge: Angle::deg(30.0),
            edge_length: Length::mm(8.0),
            cutting_edge_radius: Length::mm(0.010),
            holder: None,
            point,
        }
    }

    pub(crate) fn test_control() -> Control {
        control(XWords::Diameter, UnitWord::G71, Length::mm(0.001), 3)
    }

    pub(crate) fn test_tool() -> Tool {
        tool(1.2, ProgrammedPoint::Front)
    }

    /// A radius or height written as the control's word and read back: the same position.
    fn survives_printing(control: &Control, place: f64, is_x: bool) -> bool {
        let unit = if control.unit_word.is_inch() { crate::units::MM_PER_INCH } else { 1.0 };
        let times = if is_x && control.x_words == XWords::Diameter { 2.0 } else { 1.0 };
        let word = place * times / unit;
        let printed = format!("{word:.*}", control.decimals);
        printed.parse::<f64>().is_ok_and(|read| (read - word).abs() < 1e-9)
    }

    #[test]
    fn a_diameter_word_names_half_steps_of_radius() {
        let control = control(XWords::Diameter, UnitWord::G71, Length::mm(0.001), 3);
        let grid = control.grid(&tool(1.2, ProgrammedPoint::Front));
        assert_eq!(grid, Grid { dx: 0.0005, dz: 0.001, x0: 0.0, z0: 0.0 });
        // An offset of whole steps does not shift the grid, however the division rounds.
        assert_eq!(control.grid(&tool(1.2, ProgrammedPoint::Centre)), grid);
        assert_eq!(control.grid(&tool(1.2, ProgrammedPoint::Inner)), grid);
    }

    #[test]
    fn an_offset_between_steps_shifts_the_lattice_back() {
        let control = control(XWords::Radius, UnitWord::G21, Length::mm(0.001), 3);
        let grid = control.grid(&tool(0.7937, ProgrammedPoint::Outer));
        assert!((grid.x0 - 0.0003).abs() < 1e-12, "{grid:?}");
        assert_eq!(grid.z0, 0.0);
    }

    proptest! {
        /// A front point rounded to the grid is written exactly by the words for the programmed point.
        #[test]
        fn the_programmed_point_of_every_place_can_be_printed(
            x in 0.0..500.0_f64,
            z in -300.0..300.0_f64,
            nose in 0.1..5.0_f64,
            point in prop::sample::select(vec![
                ProgrammedPoint::Front, ProgrammedPoint::Centre, ProgrammedPoint::Inner, ProgrammedPoint::Outer,
            ]),
            diameter in prop::bool::ANY,
            (unit_word, step, decimals) in prop::sample::select(vec![
                (UnitWord::G71, 0.001, 3), (UnitWord::G21, 0.0005, 4), (UnitWord::G20, 0.00254, 4), (UnitWord::G70, 0.00127, 5),
            ]),
        ) {
            let x_words = if diameter { XWords::Diameter } else { XWords::Radius };
            let control = control(x_words, unit_word, Length::mm(step), decimals);
            let tool = tool(nose, point);
            let grid = control.grid(&tool);
            prop_assert!((0.0..grid.dx).contains(&grid.x0) && (0.0..grid.dz).contains(&grid.z0), "{:?}", grid);
            let (dx, dz) = tool.point_offset();
            prop_assert!(survives_printing(&control, grid.nearest_x(x) + dx, true), "x {}", x);
            prop_assert!(survives_printing(&control, grid.nearest_z(z) + dz, false), "z {}", z);
            prop_assert!((grid.nearest_x(x) - x).abs() <= grid.dx * 0.5001);
        }
    }
}
