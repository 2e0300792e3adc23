//! Windows all round between two zones: there the face falls straight down from either edge.
//!
//! How deep nobody knows; it is taken to be deeper than any nose that rolls over an edge goes, so that a tool that dives there is told.

use super::Face;
use crate::geometry::profile::ProfileError;
use crate::geometry::{Point, Profile};

/// The wall of a window is this wide, millimetres: narrow beside any control's step, wide beside rounding.
pub const WALL: f64 = 1e-6;

/// A window is taken to be this deep below the lower of its edges, millimetres: more than any nose and any depth of metal taken together.
const DEEP: f64 = 20.0;

impl Face {
    /// The face with nothing between the edges of these windows, millimetres.
    ///
    /// # Errors
    /// None that is known: between two edges the radii rise.
    pub fn with_windows(self, windows: &[[f64; 2]]) -> Result<Self, ProfileError> {
        windows.iter().try_fold(self, |face, window| {
            let edges = window.map(|x| face.lowest.at(x));
            let floor = edges[0].min(edges[1]) - DEEP;
            let cut = |profile: &Profile, floor: f64| cut(profile, *window, floor);
            Ok(Self {
                highest: cut(&face.highest, floor)?,
                followed: face.followed.as_ref().map(|f| cut(f, floor)).transpose()?,
                lowest: cut(&face.lowest, floor)?,
                damage: cut(&face.damage, 0.0)?,
                ..face.clone()
            })
        })
    }
}

/// A profile at another height between two radii.
fn cut(profile: &Profile, [from, to]: [f64; 2], floor: f64) -> Result<Profile, ProfileError> {
    let points = profile.points();
    let before = points.iter().take_while(|p| p.x < from).copied();
    let behind = points.iter().skip_while(|p| p.x <= to).copied();
    let at = |x: f64| Point::new(x, profile.at(x));
    let window = [at(from), Point::new(from + WALL, floor), Point::new(to - WALL, floor), at(to)];
    Profile::new(before.chain(window).chain(behind).collect())
}
