//! The tube: an exact path becomes few lines and arcs, never below it and never far above.
//!
//! Over the exact path p lies its roof, the upper edge of everything within the tolerance of p: p
//! dilated by a disk of that radius, so that the tolerance is measured along the normal, on a wall
//! as on a plain. Between the two the fewest lines and arcs are laid, every end on the control's
//! grid, every arc as the control will reckon it from its rounded words.
//!
//! One step asks: from this start, how far does one piece reach? All lines and circles through a
//! start P are the points (m, k) of a plane, m the tangent's slope at P, k a signed curvature, and
//! passing above or below a given point is one **linear** inequality in (m, k) (see `feasible`): the
//! pieces that keep the tube are a convex polygon, clipped point by point until it is empty. The
//! same holds for an end Q on the grid: the circles through P and Q are a line of that plane, and
//! what the polygon leaves of it is the interval of the one free number. No piece is taken on that
//! reckoning alone: it is rounded as the control would round it and then compared with path and
//! roof in closed form (`graph`, `corridor`); only what passes is kept.
//!
//! With arcs the pieces are fair: their tangents agree wherever the path has no corner (`fair`, `corner`). Lines, arcs without a limit
//! on joints, and stretches where no smooth way is found are laid one after the other from several starts at once; of the ends in reach those
//! go on from which the next piece reaches furthest (`search`). Passes that go down along the axis follow one path, each deeper: the
//! fit of the first is kept for the others wherever their paths agree (`refit`).
//!
//! Furthest reach, and fewest pieces as a shortest path: H. Imai, M. Iri, Polygonal
//! approximations of a curve, in: Computational Morphology (1988). Arcs in a tolerance band, also
//! an asymmetric one: R. L. S. Drysdale, G. Rote, A. Sturm, Approximation of an open polygonal
//! curve with a minimum number of circular arcs and biarcs, Computational Geometry 41 (2008);
//! M. Heimlich, M. Held, Biarc approximation, simplification and smoothing of polygonal curves by
//! means of Voronoi-based tolerance bands, Int. J. Comput. Geom. Appl. 18 (2008), after M. Held,
//! J. Eibl, Biarc approximation of polygons within asymmetric tolerance bands, Computer-Aided
//! Design 37 (2005). Smooth arc splines with free breakpoints: G. Maier, Optimal arc spline
//! approximation, Computer Aided Geometric Design 31 (2014).
//!
//! Limits: the ends in x are moved inward to the grid, by less than a step. The search keeps a few
//! states a round, so the number of pieces is near the least, not proved least. A piece below the
//! path by less than [`NOISE`] counts as on it; the roof may stand up to 10⁻⁶ mm high where the
//! envelope has welded two of its pieces. The limit on joints gives way where the grid leaves no piece
//! that keeps it.

mod arc_turn;
mod control;
mod corner;
mod corridor;
mod fair;
mod feasible;
mod graph;
mod index;
mod refit;
mod search;
mod smooth;
#[cfg(test)]
mod tests;
mod word_room;

pub use arc_turn::ArcTurn;
pub use corner::{Corner, corners};
pub use refit::{Fitted, from_behind, refit};
pub use word_room::WordRoom;

use crate::geometry::{Curve, Grid};
use search::{EndPoint, Search};
use std::f64::consts::PI;

/// What rounding of f64 may amount to, millimetres: coordinates under 1000 mm and radii under 10⁵ mm keep their sums within 10⁻¹⁰.
pub const NOISE: f64 = 1e-9;

/// The one-sided tolerance and what the control can say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube<'a> {
    /// How far above the path the fit may lie, along the normal, millimetres.
    pub tolerance: f64,
    /// The places at which pieces may end.
    pub grid: Grid,
    /// Whether arcs are written, and which.
    pub arcs: ArcRule,
    /// How much the direction may change where two pieces meet and the path itself is smooth, radians; π for no limit.
    pub tangent_jump: f64,
    /// Radii of the grid in rising order at which a piece must end, such as where a fixed spindle speed changes. Where no height of the
    /// grid lies in the tube there, the nearest radius that has one takes its place.
    pub breaks: &'a [f64],
    /// Radii of corners of the path that the face does not have beyond doubt: there the pieces go round with tangents that agree.
    pub doubted: &'a [f64],
}

/// Whether arcs are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ArcRule {
    /// Lines only.
    None,
    /// Lines and arcs.
    Allowed(ArcLimits),
}

/// Which arcs a control reads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArcLimits {
    /// Least radius, millimetres.
    pub min_radius: f64,
    /// Greatest radius, millimetres.
    pub max_radius: f64,
    /// How much the end's distance from the centre may differ from the start's, millimetres.
    pub end_tolerance: f64,
    /// The words that give the circle.
    pub form: ArcForm,
    /// Room for an arc's words in a line; none where lines are as long as they need to be.
    pub room: Option<WordRoom>,
    /// How far round one arc may run; none where any arc of less than half a turn is read.
    pub turn: Option<ArcTurn>,
}

/// The words that give an arc's circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ArcForm {
    /// I and K: from the start to the centre, each rounded to this step, millimetres of radius.
    Centre {
        /// The step.
        step: f64,
    },
    /// R: the radius, rounded to this step, millimetres.
    Radius {
        /// The step.
        step: f64,
    },
}

/// Why a path cannot be fitted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum FitError {
    /// A number of the tube that makes no sense.
    #[error("the tube's {0} is not a usable number")]
    Number(&'static str),
    /// The path holds fewer than two columns of the grid.
    #[error("the path is shorter than a step of the control's grid")]
    TooShort,
    /// No place of the grid can be reached inside the tube.
    #[error(
        "at radius {x:.4} mm no place of the control's grid lies within the tolerance; a larger tolerance or a finer resolution is needed"
    )]
    Narrow {
        /// The radius at which the fit ended.
        x: f64,
    },
}

/// The fewest lines and arcs in the one-sided tube over the path: nowhere below it, nowhere more than the tolerance above along the normal.
///
/// Every end lies on the grid; every arc's centre is
/// the one the control finds from its rounded words, and both the circle through the arc's start
/// and the one through its end stay in the tube.
///
/// The first and last radius are those of the path where they lie on the grid, else moved inward by less than a step.
///
/// ```
/// use facewright::fit::{ArcForm, ArcLimits, ArcRule, Tube, fit};
/// use facewright::geometry::{Curve, Grid, Piece, Point};
/// // A rise that a thousandth of a millimetre cannot tell from a line.
/// let path = Curve::from_pieces(vec![
///     Piece::line(Point::new(80.0, 0.0), Point::new(90.0, 0.9996)),
///     Piece::line(Point::new(90.0, 0.9996), Point::new(100.0, 2.0)),
/// ]);
/// let form = ArcForm::Centre { step: 0.001 };
/// let limits = ArcLimits { min_radius: 0.1, max_radius: 5000.0, end_tolerance: 0.002, form, room: None, turn: None };
/// let tube = Tube {
///     tolerance: 0.005,
///     grid: Grid::square(0.001),
///     arcs: ArcRule::Allowed(limits),
///     tangent_jump: 1f64.to_radians(),
///     breaks: &[],
///     doubted: &[],
/// };
/// let fitted = fit(&path, &tube)?;
/// assert_eq!(fitted.pieces().len(), 1);
/// assert!(fitted.at(90.0) >= path.at(90.0));
/// # Ok::<(), facewright::fit::FitError>(())
/// ```
///
/// # Errors
/// If a number of the tube makes no sense, the path is shorter than a grid step, or the grid is too
/// coarse for the tolerance somewhere.
pub fn fit(path: &Curve, tube: &Tube) -> Result<Curve, FitError> {
    tube.check()?;
    let (start, end) = tube.columns(path);
    if end - start < tube.grid.dx / 2.0 {
        return Err(FitError::TooShort);
    }
    if let Some(limits) = tube.fair_arcs()
        && let Ok(pieces) =
            fair::fair(path, tube, limits, fair::Origin::Column(start), control::Anchor::Start)
    {
        return Ok(Curve::from_pieces(pieces));
    }
    Search::new(path, tube, EndPoint::Column(start), EndPoint::Column(end)).run().map(Curve::from_pieces)
}

impl Tube<'_> {
    /// The arcs whose tangents are to agree; none where arcs are not written, or joints have no limit and only pieces are counted.
    fn fair_arcs(&self) -> Option<&ArcLimits> {
        match &self.arcs {
            ArcRule::Allowed(limits) if self.tangent_jump < PI => Some(limits),
            _ => None,
        }
    }

    fn check(&self) -> Result<(), FitError> {
        let positive = |value: f64, name| {
            if value.is_finite() && value > 0.0 { Ok(()) } else { Err(FitError::Number(name)) }
        };
        positive(self.tolerance, "tolerance")?;
        positive(self.grid.dx, "grid step in x")?;
        positive(self.grid.dz, "grid step in z")?;
        positive(self.tangent_jump, "tangent jump")?;
        if !(self.grid.x0.is_finite() && self.grid.z0.is_finite()) {
            return Err(FitError::Number("grid offset"));
        }
        if let ArcRule::Allowed(limits) = self.arcs {
            positive(limits.min_radius, "least arc radius")?;
            positive(limits.max_radius, "greatest arc radius")?;
            positive(limits.end_tolerance, "end tolerance of arcs")?;
            let (ArcForm::Centre { step } | ArcForm::Radius { step }) = limits.form;
            positive(step, "step of the arc words")?;
        }
        Ok(())
    }
}
