//! The pass schedule: air pass, rough passes, finish pass, and what they must keep to.

use super::fields;
use super::passes::Counted;
use crate::diagnostics::Mismatch;
use crate::units::{Angle, FeedPerRev, Length, SurfaceSpeed};
use serde::{Deserialize, Deserializer};

/// A feed, or the texture from which it follows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Feed {
    /// This feed.
    PerRev(FeedPerRev),
    /// The feed whose ideal scallop has this Rz.
    Rz(Length),
    /// The feed whose ideal scallop has this Ra.
    Ra(Length),
    /// The feed that gives grooves at this distance along the face.
    Grooves(Length),
}

/// An air pass stays at least this far above the metal as it stands, along the axis, millimetres: touching off by hand and a measured run-out
/// are no better than 0.05 mm (common practice, no source), and coordinates are rounded.
pub const LEAST_AIR_GAP: Length = Length::mm(0.06);

/// The air pass above the face.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct AirPass {
    /// How far above the first real pass.
    #[serde(deserialize_with = "fields::length_between::<_, 100, 100_000>")]
    pub height: Length,
    /// Its feed; that of the first pass if left out.
    #[serde(default, deserialize_with = "fields::some_above_zero")]
    pub feed: Option<FeedPerRev>,
}

/// Most passes of one kind; no wheel has metal for more.
pub(super) const MOST_PASSES: u32 = 100;
/// Most spring passes: each takes what the ones before it bent away from, and after some there is nothing left of that.
pub(super) const MOST_SPRING: u32 = 10;

/// How many passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PassCount {
    /// As many as the deepest damage needs.
    Auto,
    /// This many.
    Count(u32),
}

/// A count, or `auto`.
impl<'de> Deserialize<'de> for PassCount {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let refused = Mismatch::expected(
            format!("`auto` or a whole number from 1 to {MOST_PASSES}"),
            "write `auto` for as many as the deepest damage needs",
        );
        fields::word_or(from, "auto", Self::Auto, refused, |text| {
            text.parse().ok().filter(|count| (1..=MOST_PASSES).contains(count)).map(Self::Count)
        })
    }
}

/// Rough passes.
#[derive(Debug, Clone, PartialEq)]
pub struct RoughPass {
    /// Name of the tool.
    pub tool: String,
    /// Depth of one pass, above zero.
    pub depth: Length,
    /// How many.
    pub passes: PassCount,
    /// Surface speed.
    pub surface_speed: SurfaceSpeed,
    /// Feed.
    pub feed: Feed,
}

/// Finish passes, and spring passes after them.
#[derive(Debug, Clone, PartialEq)]
pub struct FinishPass {
    /// Name of the tool.
    pub tool: String,
    /// Depth of one pass, zero or above; zero makes every one a spring pass.
    pub depth: Length,
    /// How many, at least one.
    pub passes: u32,
    /// Passes over the finished path again without going deeper.
    pub spring_passes: u32,
    /// Radii at which the spindle speed changes on a control that holds no surface speed; if empty, wherever it must.
    pub speed_changes: Vec<Length>,
    /// Surface speed.
    pub surface_speed: SurfaceSpeed,
    /// Feed.
    pub feed: Feed,
}

/// In which direction the depth of a pass is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Step {
    /// Along the axis: the face moved down.
    Axial,
    /// Along the normal: the face's lower parallel curve.
    Normal,
}

/// Which way the tool runs over the face.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// From the axis to the rim.
    Outward,
    /// From the rim to the axis.
    Inward,
}

/// Whether the finish tool takes what the rough tool was too round to reach, before it finishes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RestPasses {
    /// Wherever more than the rest limit stands, in steps of the finish's depth.
    #[default]
    Auto,
    /// Never: such metal stays, and there is a warning.
    Off,
}

/// A pass schedule: at least rough or finish passes.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Its name, where it has one.
    pub name: Option<String>,
    /// From where its passes are counted.
    pub counted: Counted,
    /// The air pass.
    pub air: AirPass,
    /// Rough passes.
    pub rough: Option<RoughPass>,
    /// Finish passes.
    pub finish: Option<FinishPass>,
    /// In which direction depths are measured.
    pub step: Step,
    /// Which way the tool runs.
    pub direction: Direction,
    /// How far the written path may lie above the exact path.
    pub tolerance: Length,
    /// Where the face itself is smooth, two written pieces may meet at no more than this angle.
    pub tangent_jump: Angle,
    /// More metal than this that the tool cannot reach is a warning.
    pub rest_limit: Length,
    /// Whether what the finish tool can reach of it is taken.
    pub rest_passes: RestPasses,
    /// Waviness of the finished face, from peak to valley in the band from 0.8 mm to 8 mm, beyond which there is a warning.
    pub waviness: Option<Length>,
}
