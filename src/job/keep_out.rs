//! Keep-outs: polygons in the plane of radius and height that no part of the tool may enter.

use super::fields;
use super::keys::Needed;
use super::source::Node;
use crate::diagnostics::{InputError, Mismatch};
use crate::units::Length;
use geo::{BoundingRect, Coord, LineString, Polygon, Rect, Validation};
use serde::{Deserialize, Deserializer};

/// A polygon that no part of the tool may enter, such as the tyre, a jaw or a balance weight.
#[derive(Debug, Clone, PartialEq)]
pub struct KeepOut {
    name: String,
    outline: Polygon<f64>,
}

impl KeepOut {
    /// A box over a range of radius and a range of height, the lesser value first.
    #[must_use]
    pub fn rectangle(name: impl Into<String>, x: [Length; 2], z: [Length; 2]) -> Self {
        let [[x0, x1], [z0, z1]] = [x, z].map(|range| range.map(Length::as_mm));
        let outline = Rect::new(Coord { x: x0, y: z0 }, Coord { x: x1, y: z1 }).to_polygon();
        Self { name: name.into(), outline }
    }

    /// A polygon through corners, each a radius and a height, in the order round it; none where it has no area or crosses itself.
    #[must_use]
    pub fn polygon(name: impl Into<String>, corners: &[[Length; 2]]) -> Option<Self> {
        let corner = |&[x, z]: &[Length; 2]| Coord { x: x.as_mm(), y: z.as_mm() };
        let outline = Polygon::new(LineString::new(corners.iter().map(corner).collect()), Vec::new());
        let distinct = outline.exterior().0.len() > 3;
        (distinct && outline.is_valid()).then(|| Self { name: name.into(), outline })
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The outline: x is the radius and y the height, millimetres.
    #[must_use]
    pub const fn outline(&self) -> &Polygon<f64> {
        &self.outline
    }

    /// Least and greatest radius, millimetres.
    #[must_use]
    pub fn radii(&self) -> [f64; 2] {
        // A polygon has corners, so it has bounds.
        self.outline.bounding_rect().map_or([0.0; 2], |bounds| [bounds.min().x, bounds.max().x])
    }

    /// Least and greatest height, millimetres.
    #[must_use]
    pub fn heights(&self) -> [f64; 2] {
        self.outline.bounding_rect().map_or([0.0; 2], |bounds| [bounds.min().y, bounds.max().y])
    }

    /// Greatest height, millimetres.
    #[must_use]
    pub fn top(&self) -> f64 {
        self.heights()[1]
    }

    /// Whether its range of radii includes a radius.
    #[must_use]
    pub fn holds_radius(&self, at: Length) -> bool {
        let [least, greatest] = self.radii();
        (least..=greatest).contains(&at.as_mm())
    }
}

/// A keep-out as written in the file: a box by its ranges, or a polygon by its corners.
#[derive(Debug, Deserialize)]
pub(super) struct KeepOutFile {
    name: String,
    #[serde(default, deserialize_with = "some_range")]
    x: Option<[Length; 2]>,
    #[serde(default, deserialize_with = "some_range")]
    z: Option<[Length; 2]>,
    corners: Option<Vec<Corner>>,
}

fn some_range<'de, D: Deserializer<'de>>(from: D) -> Result<Option<[Length; 2]>, D::Error> {
    fields::range(from).map(Some)
}

/// A corner: radius and height.
#[derive(Debug, Clone, Copy)]
struct Corner([Length; 2]);

impl<'de> Deserialize<'de> for Corner {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let refused = Mismatch::expected(
            "a corner: radius and height, such as `[224 mm, -90 mm]`",
            "write the two lengths in brackets",
        );
        fields::lengths(from, refused).map(Corner)
    }
}

impl KeepOutFile {
    /// The keep-out, or the error in it.
    pub(super) fn checked(&self, node: &Node) -> Result<KeepOut, InputError> {
        let name = self.name.as_str();
        let needed = |key, example| node.missing(&Needed { key, example, why: None });
        match (&self.corners, self.x, self.z) {
            (None, Some(x), Some(z)) => Ok(KeepOut::rectangle(name, x, z)),
            (None, None, _) => Err(needed("x", "[224 mm, 330 mm]")),
            (None, Some(_), None) => Err(needed("z", "[-90 mm, 12 mm]")),
            (Some(corners), None, None) => {
                let corners: Vec<_> = corners.iter().map(|corner| corner.0).collect();
                KeepOut::polygon(name, &corners).ok_or_else(|| {
                    node.at("corners").error_with_found(
                        format!("{} corners that enclose no area, or a line through them that crosses itself", corners.len()),
                        "three corners or more, in their order round the place",
                        "follow the outline once, such as `[[224 mm, -90 mm], [330 mm, -90 mm], [330 mm, 12 mm]]`",
                    )
                })
            }
            (Some(_), _, _) => Err(node.at("corners").error_with_found(
                "`corners` beside `x` or `z`",
                "a box by `x` and `z`, or a polygon by its `corners`",
                "delete the one that is not meant",
            )),
        }
    }
}
