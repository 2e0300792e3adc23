//! How the shop touches a tool off: on the face or on a setter, bare or through a shim, into which offset.
//!
//! All of it may be left out. Then the bare nose touches the face, the height goes into the tool's own offset, a touch repeats within 0.010 mm
//! (one standard deviation of a touch with a slowly turned handwheel; common practice, no source), and a tool that
//! would cut no more than 0.05 mm off its plan may go on, about one finish cut.

use super::fields;
use super::machine::Machine;
use super::shop::Control;
use super::source::Node;
use crate::diagnostics::InputError;
use crate::units::Length;
use serde::Deserialize;

/// Thickest shim or film of lacquer: more is a wrong unit.
const THICKEST: Length = Length::mm(2.0);

/// How tools are touched off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Touching {
    /// The setter, where tools are touched on one.
    pub setter: Option<Setter>,
    /// Thickness of the shim that the nose touches; zero for none.
    pub shim: Length,
    /// Thickness of paint or lacquer on the metal that was measured, where the face is touched; zero for none.
    pub lacquer: Length,
    /// Where the height goes.
    pub into: OffsetKind,
    /// Standard deviation of one touch.
    pub repeats: Length,
    /// The most that a tool may cut off its plan and go on.
    pub limit: Length,
}

/// A flat on the machine for touching tools off.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Setter {
    /// Radius of its middle.
    #[serde(deserialize_with = "fields::not_negative")]
    pub x: Length,
    /// Height of its top.
    pub z: Length,
}

/// The offset that a touch-off sets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum OffsetKind {
    /// The tool's own.
    #[default]
    Tool,
    /// The work offset, which moves every tool.
    Work,
}

impl Default for Touching {
    fn default() -> Self {
        Self {
            setter: None,
            shim: Length::mm(0.0),
            lacquer: Length::mm(0.0),
            into: OffsetKind::Tool,
            repeats: repeats(),
            limit: limit(),
        }
    }
}

const fn repeats() -> Length {
    Length::mm(0.010)
}

const fn limit() -> Length {
    Length::mm(0.05)
}

/// The group `touch` of the shop file as written.
#[derive(Debug, Clone, Copy, Deserialize)]
pub(super) struct TouchFile {
    setter: Option<Setter>,
    #[serde(default, deserialize_with = "fields::not_negative")]
    shim: Length,
    #[serde(default)]
    into: OffsetKind,
    #[serde(default = "repeats", deserialize_with = "fields::above_zero")]
    repeats: Length,
    #[serde(default = "limit", deserialize_with = "fields::above_zero")]
    limit: Length,
}

/// The group `touch_off` of the job file as written.
#[derive(Debug, Clone, Copy, Deserialize)]
pub(super) struct TouchOff {
    #[serde(deserialize_with = "fields::above_zero")]
    pub(super) at: Length,
    /// For this wheel instead of the shop's.
    #[serde(default, deserialize_with = "fields::some_not_negative")]
    shim: Option<Length>,
    #[serde(default, deserialize_with = "fields::not_negative")]
    lacquer: Length,
}

/// Checks the shop's group.
pub(super) fn check(
    file: Option<&TouchFile>,
    (machine, control): (&Machine, Option<&Control>),
    node: &Node,
    errors: &mut Vec<InputError>,
) -> Touching {
    let Some(&TouchFile { setter, shim, into, repeats, limit }) = file else { return Touching::default() };
    errors.extend(too_thick(shim, node.at("shim")));
    if let Some(Setter { x, z }) = setter {
        for (key, at, [least, greatest]) in [("x", x, machine.travel_x), ("z", z, machine.travel_z)] {
            if at < least || greatest < at {
                errors.push(node.at("setter").at(key).error(
                    format!("a place within the machine's travel, {least} to {greatest}"),
                    "measure where the setter stands, or correct `travel`",
                ));
            }
        }
    }
    if into == OffsetKind::Work && control.is_some_and(|c| c.work_offset.is_none()) {
        errors.push(node.at("into").error_with_found(
            "`into: work` on a control without a `work_offset`",
            "a control that says which work offset is in force, or `into: tool`",
            "write for example `work_offset: G54` under `control`",
        ));
    }
    Touching { setter, shim, lacquer: Length::mm(0.0), into, repeats, limit }
}

/// What the job says of its own wheel.
pub(super) fn for_job(
    shop: Touching,
    file: Option<&TouchOff>,
    node: &Node,
    errors: &mut Vec<InputError>,
) -> Touching {
    let Some(file) = file else { return shop };
    errors.extend(file.shim.and_then(|shim| too_thick(shim, node.at("shim"))));
    errors.extend(too_thick(file.lacquer, node.at("lacquer")));
    if shop.setter.is_some() && file.lacquer.as_mm() > 0.0 {
        errors.push(node.at("lacquer").error_with_found(
            "lacquer on the face, and a tool that is touched on the setter",
            "`lacquer` only where tools are touched on the face",
            "delete `lacquer`",
        ));
    }
    Touching { shim: file.shim.unwrap_or(shop.shim), lacquer: file.lacquer, ..shop }
}

/// A work offset set for one tool would move the other.
pub(super) fn check_tools(touching: Touching, tools: usize, shop: &Node) -> Option<InputError> {
    (touching.into == OffsetKind::Work && tools > 1).then(|| {
        shop.at("touch").at("into").error_with_found(
            "`into: work` and a schedule with two tools",
            "`into: tool` where two tools cut: the work offset moves both",
            "write `into: tool`, or a schedule with one tool",
        )
    })
}

fn too_thick(thickness: Length, node: &Node) -> Option<InputError> {
    (thickness > THICKEST)
        .then(|| node.error(format!("a thickness of {THICKEST} at most"), "measure it with a micrometer"))
}
