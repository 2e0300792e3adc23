//! The envelope: where a tool may go (dilation), and what it leaves (erosion).
//!
//! With the face f and the tool's lower outline T (T(0) = 0, w = u − x), the lowest position of the
//! tool that cuts nothing is the dilation p(x) = max over u of f(u) − T(u−x), and the surface that a
//! path p leaves is the erosion q(u) = min over x of p(x) + T(u−x). These are the morphological
//! filters of ISO 16610-40 and -41 with the tool as structuring element. Both are exact, as lines and
//! arcs, up to rounding and to slivers of 1e-10 mm; on a wall of a nanometre the rounding of x shows in z.
//!
//! Nose, edges and holder flats are each convex, so the u of the maximum grows with x and one pass with a
//! stack gives the dilation by one of them in linear time (`upper_envelope`). Endless edges are applied first,
//! which removes most points of a noisy face (`edge_closing`); then the nose rolls over the rest (`disk`). With a
//! holder the edges end and the outline is no longer convex as a whole: the dilations by its parts
//! are computed one by one (`disk`, `edge`), and the highest is taken (`compare`).
//!
//! Paths are those of the front point: x of the nose centre, z of the nose's lowest point. A
//! face ends where its data end: beyond, there is no metal. Likewise a path removes nothing
//! beyond the tool's reach from its two ends.
//!
//! Limit: an edge shorter than r·tan(α/2), with no holder behind it, ends inside the nose's own width;
//! the nose is then taken as a full half disk, which errs by less than the nose radius in width.

mod compare;
mod disk;
mod edge;
mod edge_closing;
mod shape;
mod stitch;
mod upper_envelope;

pub use compare::{Excess, agreement, greatest_excess, higher, lower, stretches_above};

use super::{Curve, Flank, Outline, Piece, Point, Profile};
use edge::Edge;
use upper_envelope::Candidate;

/// A height over x, given as pieces that each start where the one before ends.
pub trait Graph {
    /// Its pieces in order of rising x.
    fn pieces_outward(&self) -> impl Iterator<Item = Piece> + '_;
    /// The smallest and the largest x.
    fn range(&self) -> [f64; 2];
}

impl Graph for Profile {
    fn pieces_outward(&self) -> impl Iterator<Item = Piece> + '_ {
        self.points().windows(2).map(|w| Piece::line(w[0], w[1]))
    }

    fn range(&self) -> [f64; 2] {
        [self.start(), self.end()]
    }
}

impl Graph for Curve {
    fn pieces_outward(&self) -> impl Iterator<Item = Piece> + '_ {
        self.pieces().iter().copied()
    }

    fn range(&self) -> [f64; 2] {
        [self.start(), self.end()]
    }
}

/// The lowest path of the front point, over `over`, on which the tool cuts nothing of the face: p(x) = max over u of f(u) − T(u−x).
///
/// Endless edges meet the face from any position, so without a holder the path spans all of `over`,
/// also beyond the face; with a holder, it spans the positions from which the tool reaches the face.
///
/// None if `over` is not an interval, or the tool meets the face nowhere in it: never where `over` holds any x of the face.
///
/// ```
/// use facewright::geometry::{Outline, Point, Profile, envelope::dilate};
/// // A ridge: the nose rolls over it on an arc of its own radius.
/// let face = Profile::new(vec![Point::new(80.0, -1.0), Point::new(90.0, 0.0), Point::new(100.0, -1.0)])?;
/// let tool = Outline { nose_radius: 0.8, inner_edge: 0.5, outer_edge: 0.5, edge_length: 8.0, holder: None };
/// let path = dilate(&face, &tool, [80.0, 100.0]).ok_or("the tool meets the face")?;
/// assert!(path.at(90.0).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn dilate(face: &impl Graph, tool: &Outline, over: [f64; 2]) -> Option<Curve> {
    let r = tool.nose_radius;
    if tool.holder.is_none() {
        let slopes = [tool.inner().slope, tool.outer().slope];
        rolled(
            edge_closing::filled(face.pieces_outward(), slopes, [over[0] - r, over[1] + r]).into_iter(),
            r,
            over,
        )
    } else {
        let edges = straight_stretches(tool).into_iter();
        let lifted = edges.filter_map(|e| upper(face.pieces_outward().flat_map(|p| e.candidates(p)), over));
        rolled(face.pieces_outward(), r, over).into_iter().chain(lifted).reduce(|a, b| higher(&a, &b))
    }
}

/// The lowest path on which the holder's underside cuts nothing of the face, whatever nose and edges do; none where the tool has no holder beside
/// its edges, or meets the face nowhere.
#[must_use]
pub fn clear_of_holder(face: &impl Graph, tool: &Outline, over: [f64; 2]) -> Option<Curve> {
    tool.holder?;
    let edges = undersides(tool).into_iter();
    let lifted = edges.filter_map(|e| upper(face.pieces_outward().flat_map(|p| e.candidates(p)), over));
    lifted.reduce(|a, b| higher(&a, &b))
}

/// The surface that a path of the front point leaves over `over`, if the metal was high before: q(u) = min over x of p(x) + T(u−x).
///
/// None if `over` is not an interval, or the tool reaches nothing of it from the path.
#[must_use]
pub fn erode(path: &impl Graph, tool: &Outline, over: [f64; 2]) -> Option<Curve> {
    Some(dilate(&Flipped(path), &tool.mirrored(), over)?.flipped())
}

/// The lowest surface above the face that the tool can cut: the erosion of the dilation. Never below the face, and idempotent.
///
/// None as of [`erode`].
#[must_use]
pub fn close(face: &impl Graph, tool: &Outline, over: [f64; 2]) -> Option<Curve> {
    let [start, end] = face.range();
    // From positions beyond these ends the tool cuts nothing of the face. Without a holder, one nose radius beyond
    // the face and the range asked for is enough: farther out only the endless edges touch, along the same lines.
    let [before, behind] = match tool.holder {
        None => [start.min(over[0]) - tool.nose_radius, end.max(over[1]) + tool.nose_radius],
        Some(_) => [start - tool.outer().width(), end + tool.inner().width()],
    };
    erode(&dilate(face, tool, [before, behind])?, tool, over)
}

/// The upper parallel curve: the path of the CENTRE of a disk that rolls over the curve from above, one radius beyond each end.
///
/// Lower it by the radius for the disk's lowest point. The radius must be above zero.
#[must_use]
pub fn dilate_disk(curve: &impl Graph, radius: f64) -> Curve {
    let [start, end] = curve.range();
    let over = [start - radius, end + radius];
    match upper(curve.pieces_outward().map(|p| disk::candidate(&p, radius)), over) {
        Some(path) => path,
        // A curve has at least one piece, and a piece has a width: there is always a candidate.
        None => Curve::from_pieces(curve.pieces_outward().collect()),
    }
}

/// The lower parallel curve: the path of the CENTRE of a disk that rolls along the curve from below, one radius beyond each end.
///
/// If the curve is the path of a ball's centre, this is the surface that the ball touched.
#[must_use]
pub fn erode_disk(curve: &impl Graph, radius: f64) -> Curve {
    dilate_disk(&Flipped(curve), radius).flipped()
}

/// The greatest of the candidates as a curve.
fn upper(candidates: impl Iterator<Item = Candidate>, over: [f64; 2]) -> Option<Curve> {
    let (runs, end) = upper_envelope::greatest(candidates, over);
    stitch::stitch(&runs, end)
}

/// The path of the front point of a nose that rolls over the pieces.
fn rolled(pieces: impl Iterator<Item = Piece>, r: f64, over: [f64; 2]) -> Option<Curve> {
    upper(pieces.map(|p| disk::candidate(&p.shifted(0.0, -r), r)), over)
}

/// A graph with z replaced by −z.
struct Flipped<'a, G>(&'a G);

impl<G: Graph> Graph for Flipped<'_, G> {
    fn pieces_outward(&self) -> impl Iterator<Item = Piece> + '_ {
        self.0.pieces_outward().map(|p| p.flipped())
    }

    fn range(&self) -> [f64; 2] {
        self.0.range()
    }
}

/// The outline's edges and undersides, of a tool with a holder.
fn straight_stretches(tool: &Outline) -> Vec<Edge> {
    both_sides(tool, |flank| vec![(flank.nose_end, flank.edge_end), underside(flank)])
}

/// The undersides of the holder, as far as they reach beyond the edges.
fn undersides(tool: &Outline) -> Vec<Edge> {
    both_sides(tool, |flank| vec![underside(flank)])
}

fn underside(flank: Flank) -> (Point, Point) {
    (flank.edge_end, Point::new(flank.width(), flank.edge_end.z))
}

fn both_sides(tool: &Outline, of: impl Fn(Flank) -> Vec<(Point, Point)>) -> Vec<Edge> {
    let stretches = |flank: Flank| of(flank).into_iter().filter(|(near, far)| far.x > near.x);
    let across = |p: Point| Point::new(-p.x, p.z);
    let outer = stretches(tool.outer()).map(|(near, far)| Edge { near, far });
    let inner = stretches(tool.inner()).map(|(near, far)| Edge { near: across(far), far: across(near) });
    outer.chain(inner).collect()
}
