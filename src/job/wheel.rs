//! The wheel, its measurement, and where it may be cut.

use super::fields;
use crate::diagnostics::Mismatch;
use crate::diagnostics::text::visible;
use crate::units::{Angle, Length, MM_PER_INCH, QuantityError, SpindleSpeed};
use serde::{Deserialize, Deserializer, Serialize};
use std::fmt;
use std::path::PathBuf;

/// Whether the tyre is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Tyre {
    /// On the wheel.
    Mounted,
    /// Off the wheel.
    Removed,
}

/// The metal the wheel may lose over its life, and what earlier jobs took.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Allowance {
    /// All that may ever be taken.
    #[serde(deserialize_with = "fields::length_between::<_, 1, 50_000>")]
    pub limit: Length,
    /// What earlier jobs took. A job may leave it to the ledger (see [`Passport`](super::Passport)), and it is zero until that was asked.
    #[serde(default, deserialize_with = "fields::not_negative")]
    pub taken: Length,
}

impl Allowance {
    /// What the wheel may still lose.
    #[must_use]
    pub const fn remaining(&self) -> Length {
        Length::mm(self.limit.as_mm() - self.taken.as_mm())
    }
}

/// The wheel.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Wheel {
    /// The shop's own number of this one wheel, under which the ledger knows it.
    #[serde(default, deserialize_with = "fields::some_wheel_number")]
    pub number: Option<String>,
    /// Its name; that of the job where left out.
    #[serde(default)]
    pub name: String,
    /// Its material, as written; empty where it is not said.
    #[serde(default)]
    pub material: String,
    /// Tyre; a mounted one where left out, which is the careful assumption.
    #[serde(default = "mounted")]
    pub tyre: Tyre,
    /// Fastest it may turn.
    #[serde(deserialize_with = "fields::above_zero")]
    pub speed_limit: SpindleSpeed,
    /// Metal it may lose.
    pub allowance: Allowance,
    /// The most axial run-out that is cut.
    #[serde(deserialize_with = "fields::length_between::<_, 1, 50_000>")]
    pub run_out_limit: Length,
    /// The most bend (run-out that no tilt of the mounting explains) that is cut; the run-out limit where left out.
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    pub bend_limit: Option<Length>,
}

impl Wheel {
    /// What is said of the wheel beside the title of its job: its name where that is another, and its material.
    pub fn said_beside<'a>(&'a self, title: &'a str) -> impl Iterator<Item = &'a str> {
        let name = Some(self.name.as_str()).filter(|name| *name != title);
        name.into_iter().chain([self.material.as_str()]).filter(|said| !said.trim().is_empty())
    }
}

/// What measured the face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sensor {
    /// A point, whose width is negligible.
    Spot,
    /// A ball of this diameter.
    Ball {
        /// Diameter of the ball.
        diameter: Length,
    },
}

/// What the measured x means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum XMeaning {
    /// Radius.
    Radius,
    /// Diameter.
    Diameter,
}

impl XMeaning {
    /// How the files write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Radius => "radius",
            Self::Diameter => "diameter",
        }
    }
}

/// The unit of length in a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LengthUnit {
    /// Millimetre.
    #[serde(rename = "mm")]
    Millimetre,
    /// Inch.
    #[serde(alias = "in")]
    Inch,
    /// Thousandth of an inch.
    #[serde(rename = "mil", alias = "thou")]
    Mil,
    /// Micrometre.
    #[serde(rename = "um")]
    Micrometre,
    /// Centimetre.
    #[serde(rename = "cm")]
    Centimetre,
    /// Metre.
    #[serde(rename = "m")]
    Metre,
}

impl LengthUnit {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::Millimetre, Self::Inch, Self::Mil, Self::Micrometre, Self::Centimetre, Self::Metre];

    /// The unit of a word that the files may write for it.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        match word {
            "in" => Some(Self::Inch),
            "thou" => Some(Self::Mil),
            word => Self::ALL.into_iter().find(|unit| unit.key() == word),
        }
    }

    /// Whether it is one of the inch's.
    #[must_use]
    pub const fn is_of_inch(self) -> bool {
        matches!(self, Self::Inch | Self::Mil)
    }

    /// Millimetres in one of it (NIST SP 811, appendix B).
    #[must_use]
    pub const fn as_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => MM_PER_INCH,
            Self::Mil => MM_PER_INCH / 1000.0,
            Self::Micrometre => 0.001,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
        }
    }

    /// How the job writes it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "inch",
            Self::Mil => "mil",
            Self::Micrometre => "um",
            Self::Centimetre => "cm",
            Self::Metre => "m",
        }
    }

    /// Its name for a person, many of it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Millimetre => "millimetres",
            Self::Inch => "inches",
            Self::Mil => "thousandths of an inch",
            Self::Micrometre => "micrometres",
            Self::Centimetre => "centimetres",
            Self::Metre => "metres",
        }
    }
}

/// Which way the measured z grows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum HeightSense {
    /// Away from the chuck.
    Height,
    /// Away from the sensor, that is toward the chuck.
    Distance,
}

impl HeightSense {
    /// How the files write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Height => "height",
            Self::Distance => "distance",
        }
    }
}

/// What a column of a scan holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Column {
    /// x.
    X,
    /// z.
    Z,
    /// Which of several traces in one file a reading belongs to: a number, a name or an angle.
    Trace,
    /// Ignored.
    Other,
}

impl Column {
    /// How the files write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::X => "x",
            Self::Z => "z",
            Self::Trace => "trace",
            Self::Other => "other",
        }
    }
}

/// One measured line.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct ScanLine {
    /// The scan file, already relative to the working directory.
    pub file: PathBuf,
    /// Angle of the wheel at which it was measured.
    #[serde(deserialize_with = "fields::within_turn")]
    pub at: Angle,
    /// Which of the file's traces it is: its number from 1 where empty lines part them, or what the column `trace` holds.
    pub trace: Option<TraceName>,
    /// Where the job names it.
    #[serde(skip)]
    pub named: Option<NamedIn>,
}

/// Which of several traces in one file is meant: a number, a name or an angle, as it stands in the file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct TraceName(pub String);

/// The place in a job file that names another file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedIn {
    /// The job file.
    pub file: PathBuf,
    /// Its line, from 1.
    pub line: usize,
}

impl fmt::Display for NamedIn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", visible(&self.file.display().to_string()), self.line)
    }
}

/// What was measured and how.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Measured {
    /// Sensor.
    pub sensor: Sensor,
    /// What x means.
    pub x: XMeaning,
    /// Unit of both columns, or of x where z has its own.
    pub unit: LengthUnit,
    /// Unit of z where it is another.
    pub z_unit: Option<LengthUnit>,
    /// What each column holds: one x, one z.
    pub columns: Vec<Column>,
    /// Which way z grows.
    pub z: HeightSense,
    /// Added to every x (as radius) after reading: the offset between sensor and tool.
    pub x_offset: Length,
    /// Cut-off of the Gaussian filter, or none.
    #[serde(default = "usual_filter", deserialize_with = "filter")]
    pub filter: Option<Length>,
    /// The longest gap between neighbouring points that is bridged inside a zone.
    #[serde(deserialize_with = "fields::length_between::<_, 1, 100_000>")]
    pub longest_gap: Length,
    /// Run-out that an indicator at the rim read over one turn: what one line alone cannot show.
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    pub run_out: Option<Length>,
    /// The lines, at least one.
    pub lines: Vec<ScanLine>,
    /// Readings round the wheel, beside the lines.
    #[serde(skip)]
    pub turn: Vec<TurnReadings>,
    /// The shop's only sensor, where another one measured the lines: the shop's places count from the zero of that one.
    #[serde(skip)]
    pub not_the_shops: Option<String>,
    /// The keys that say how the scans are read, with the place of each in the job or in the shop.
    #[serde(skip)]
    pub said_in: Vec<(&'static str, NamedIn)>,
}

/// Where the zero of lines measured again comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Zero {
    /// The sensor was left as it was: its zero is that of the first lines.
    Same,
    /// The sensor was set anew: the zero is told by the face that was not cut.
    Face,
}

/// Lines measured again after passes were cut, with the wheel still seated as it was. Sensor, units and columns are those of the first lines.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct MeasuredAgain {
    /// What the passes until then were to take off the highest place; where the wheel has a passport the ledger may say it.
    #[serde(default, deserialize_with = "fields::some_not_negative")]
    pub cut: Option<Length>,
    /// Where the zero comes from.
    pub zero: Zero,
    /// The lines, at least one.
    pub lines: Vec<ScanLine>,
}

/// Readings round the wheel at one radius.
#[derive(Debug, Clone, PartialEq)]
pub struct TurnReadings {
    /// The radius.
    pub at: Length,
    /// The readings.
    pub source: RingSource,
}

/// The source of readings round the wheel.
#[derive(Debug, Clone, PartialEq)]
pub enum RingSource {
    /// A dial indicator, read from angle zero of the wheel on.
    Dial {
        /// Angle between readings.
        every: Angle,
        /// The readings; larger is farther from the chuck.
        reads: Vec<Length>,
    },
    /// A file of angle (degrees) and height, in the unit and direction of the lines.
    Scan {
        /// The file, already relative to the working directory.
        file: PathBuf,
        /// Where the job names it.
        named: Option<NamedIn>,
    },
}

/// What kind of damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum DamageKind {
    /// Curb rash and the like: a scraped stretch.
    Scrape,
    /// A single nick.
    Nick,
    /// Refused.
    Crack,
    /// Refused.
    Bend,
    /// Refused.
    Weld,
}

/// Damage seen by a person: a range of radius and its depth below the undamaged face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Damage {
    /// Innermost radius.
    pub from: Length,
    /// Outermost radius.
    pub to: Length,
    /// Depth below the face.
    pub depth: Length,
    /// Kind.
    pub kind: DamageKind,
    /// Its part of the turn, if given.
    pub sector: Option<DamageSector>,
}

/// The part of the turn that damage covers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DamageSector {
    /// Its middle.
    pub at: Angle,
    /// Its whole width.
    pub over: Angle,
}

/// A doubt of the measurement that a person accepts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum Acceptance {
    /// Too few lines show whether the wheel is bent in two lobes.
    #[serde(rename = "two-lobe bend unseen")]
    TwoLobeBendUnseen,
    /// There is metal above the face on one line.
    #[serde(rename = "raised spot")]
    RaisedSpot,
}

/// What a person decides about dips in the face, instead of what the lines suggest.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Mending {
    /// Damage that all lines show: to be mended.
    pub mend: Vec<Zone>,
    /// Intended shape, even where lines disagree.
    pub leave: Vec<Zone>,
    /// Known to have no metal on any line: what was read there is not of the face.
    pub no_metal: Vec<Zone>,
}

/// A ring to cut.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Zone {
    /// Innermost radius, above zero.
    #[serde(deserialize_with = "fields::not_negative")]
    pub from: Length,
    /// Outermost radius, beyond `from`.
    #[serde(deserialize_with = "fields::above_zero")]
    pub to: Length,
}

/// `spot`, or `ball` and its diameter.
impl<'de> Deserialize<'de> for Sensor {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let refused = Mismatch::expected(
            "`spot`, or as `ball` and its diameter",
            "write `spot` for a sensor of light, or for example `ball 3 mm`",
        );
        fields::text(from, refused.clone(), |text| {
            if text == "spot" {
                return Ok(Self::Spot);
            }
            let diameter = fields::length_after("ball", text, &refused).unwrap_or(Err(refused))?;
            Ok(Self::Ball { diameter })
        })
    }
}

const fn mounted() -> Tyre {
    Tyre::Mounted
}

/// The cut-off of 0.8 mm of ISO 21920-3 and ISO 4288 for most turned surfaces.
#[expect(clippy::unnecessary_wraps, reason = "serde takes the default in the type of the field")]
const fn usual_filter() -> Option<Length> {
    Some(Length::mm(0.8))
}

/// A cut-off above zero, or `none`.
fn filter<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Length>, D::Error> {
    let refused =
        Mismatch::expected("a length above zero, or `none`", "write a length above zero, or `none`");
    fields::text(from, refused.clone(), |text| {
        if text == "none" {
            return Ok(None);
        }
        let cut_off: Length = text.parse().map_err(|e: QuantityError| Mismatch::from(e))?;
        if cut_off.as_mm() > 0.0 { Ok(Some(cut_off)) } else { Err(refused) }
    })
}

/// A place of the turn that a cut face runs parallel to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TurnPlace {
    /// The highest at every radius.
    #[default]
    Highest,
    /// Half-way between the highest and the lowest.
    Middle,
    /// The lowest at every radius.
    Lowest,
}

impl TurnPlace {
    /// The share of the run-out that it lies below the highest.
    #[must_use]
    pub const fn share(self) -> f64 {
        match self {
            Self::Highest => 0.0,
            Self::Middle => 0.5,
            Self::Lowest => 1.0,
        }
    }

    /// In words, as the job file names it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Highest => "highest",
            Self::Middle => "middle",
            Self::Lowest => "lowest",
        }
    }
}
