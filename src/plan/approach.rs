//! How a tool comes to a cut and leaves it: leads that leave no mark, hops that stay clear of everything.

use super::surface::Span;
use crate::fit::{ArcForm, ArcTurn, WordRoom};
use crate::geometry::{Arc, Curve, Grid, Holder, Outline, Piece, Point, Turn, envelope};
use crate::job::{Arcs, Control, KeepOut};
use geo::Coord;
use geo::orient::{Direction, Orient};

/// Radii of the arcs tried for a lead, the largest first: long enough that the nose leaves the face
/// within a turn or two of the wheel without a mark, short enough to fit beside a rim. Common practice, no source.
const LEAD_RADII: [f64; 3] = [2.0, 1.0, 0.5];

/// How far round such an arc runs: with 45° the nose stands 0.29 radii above the face at its end.
const LEAD_SWEEP: f64 = std::f64::consts::FRAC_PI_4;

/// How far a lead reaches sideways at most, millimetres: a widest arc that begins level.
pub(super) const LONGEST_LEAD: f64 = 2.0 * std::f64::consts::FRAC_1_SQRT_2;

/// Length of a straight lead along the normal.
const LEAD_LENGTH: f64 = 0.5;

/// Rounding that a lead may dip under the path by: that of one f64 step of a coordinate, not of a lathe.
const ROUNDING: f64 = 1e-9;

/// Where a tool may go at feed: above the path of the pass.
#[derive(Debug)]
pub struct LeadSpace<'a> {
    /// The lowest path of the pass, reaching beyond the face.
    pub path: &'a Curve,
    /// The places of the control.
    pub grid: Grid,
    /// The control, for the arcs it can run.
    pub control: &'a Control,
    /// Room in a line for an arc's words.
    pub room: WordRoom,
    /// How far round one arc may run; none where any is read, or is parted afterwards.
    pub turn: Option<ArcTurn>,
    /// By how much an arc's radius may differ between its ends, millimetres: what the control lets pass, less what parting it takes of that.
    pub end_tolerance: f64,
}

impl LeadSpace<'_> {
    /// The way off a cut that ends at `end` after running along `along`; ends on the grid.
    ///
    /// An arc that carries on tangent to the cut and lifts off, where the metal beside the zone leaves room
    /// for it; else straight along the normal; else straight up.
    #[must_use]
    pub fn lead_out(&self, end: Point, along: Point) -> Piece {
        self.lead(end, along, |far, turn, radius| self.arc(end, far, turn, radius, end))
    }

    /// The way down to a cut that begins at `start` and runs along `along`: a way off, run backward.
    #[must_use]
    pub fn lead_in(&self, start: Point, along: Point) -> Piece {
        let back = Point::new(-along.x, -along.z);
        self.lead(start, back, |far, turn, radius| self.arc(start, far, turn, radius, far)).reversed()
    }

    fn lead(&self, at: Point, along: Point, arc: impl Fn(Point, Turn, f64) -> Option<Piece>) -> Piece {
        let length = along.x.hypot(along.z);
        let (tx, tz) = (along.x / length, along.z / length);
        let outward = if tx >= 0.0 { 1.0 } else { -1.0 };
        // The normal on the side of the tool.
        let (nx, nz) = (-tz * outward, tx * outward);
        let turn = if tx >= 0.0 { Turn::CounterClockwise } else { Turn::Clockwise };
        let (sin, cos) = LEAD_SWEEP.sin_cos();
        // Beside a wall an arc would turn back over itself, and bulge into the wall: there the lead is straight.
        let turns_back = (tx * cos + nx * sin) * outward <= 0.0;
        let arcs = LEAD_RADII.iter().filter(|_| !turns_back).filter_map(|&r| {
            // A radius that an R word can name.
            let step = self.control.resolution.as_mm();
            let r = (r / step).round() * step;
            let far = at.shifted(r * (tx * sin + nx * (1.0 - cos)), r * (tz * sin + nz * (1.0 - cos)));
            arc(self.grid.nearest(far), turn, r)
        });
        let normal = Piece::line(at, self.grid.nearest(at.shifted(LEAD_LENGTH * nx, LEAD_LENGTH * nz)));
        let up = Piece::line(at, Point::new(at.x, self.grid.z_not_below(at.z + LEAD_LENGTH)));
        arcs.chain([normal]).find(|p| self.is_free(p)).unwrap_or(up)
    }

    /// An arc as the control will reckon it: the centre lies on the grid of the I and K words counted from where
    /// the motion begins, and both radii agree within the control's limit.
    fn arc(&self, near: Point, far: Point, turn: Turn, radius: f64, begins: Point) -> Option<Piece> {
        let (chord, half) = (near.distance(far), near.distance(far) / 2.0);
        if self.control.arcs == Arcs::None || half <= 0.0 || half >= radius {
            return None;
        }
        let side = if turn == Turn::CounterClockwise { 1.0 } else { -1.0 };
        let depth = (radius * radius - half * half).sqrt() * side;
        let exact = Point::new(
            f64::midpoint(near.x, far.x) - (far.z - near.z) / chord * depth,
            f64::midpoint(near.z, far.z) + (far.x - near.x) / chord * depth,
        );
        let step = self.control.resolution.as_mm();
        let (centre, form) = match self.control.arcs {
            Arcs::Centre => {
                let on_step = |from: f64, to: f64| ((to - from) / step).round() * step + from;
                let centre = Point::new(on_step(begins.x, exact.x), on_step(begins.z, exact.z));
                (centre, ArcForm::Centre { step })
            }
            Arcs::Radius | Arcs::None => (exact, ArcForm::Radius { step }),
        };
        let arc = Arc { from: near, to: far, centre, turn };
        let miss = (near.distance(centre) - far.distance(centre)).abs();
        let is_read = miss <= self.end_tolerance
            && self.room.holds(&arc, form)
            && self.turn.is_none_or(|turn| turn.holds(&arc));
        is_read.then_some(Piece::Arc(arc))
    }

    /// Whether a lead stays above the path everywhere and climbs away from it, on whichever circle it is run: with its centre on the grid, an
    /// arc has not quite the same radius at both ends.
    fn is_free(&self, lead: &Piece) -> bool {
        let rightward = if lead.to().x > lead.from().x { *lead } else { lead.reversed() };
        let (from, to) = (rightward.from(), rightward.to());
        if to.x <= from.x || from.x < self.path.start() || to.x > self.path.end() {
            return false;
        }
        let Some(below) = self.path.slice(from.x, to.x) else { return false };
        let lead = Curve::from_pieces(vec![rightward]);
        let keeps_above = |below: &Curve, lead: &Curve| {
            envelope::greatest_excess(below, lead).is_some_and(|e| e.height <= ROUNDING)
        };
        // A curve has the radius of where its arc begins: seen from behind, that is the other end.
        keeps_above(&below, &lead) && keeps_above(&below.mirrored(), &lead.mirrored())
    }
}

/// A face inflated by a disk of the clearance: the same for every tool.
#[derive(Debug, Clone)]
pub struct InflatedFace {
    /// What the face spans.
    pub face: Span,
    /// Height of the face where the measurement begins and where it ends.
    pub end_heights: [f64; 2],
    /// The face itself.
    pub measured: Curve,
    /// The inflated face.
    pub surface: Curve,
}

impl InflatedFace {
    /// The face inflated by a clearance, millimetres.
    #[must_use]
    pub fn new(face: &Curve, clearance: f64) -> Self {
        let ends = [face.start(), face.end()];
        Self {
            face: Span { from: ends[0], to: ends[1] },
            end_heights: ends.map(|x| face.at(x)),
            measured: face.clone(),
            surface: inflated(face, clearance),
        }
    }
}

/// Where a tool may go at rapid: the heights of its front point that keep the clearance from the face and from each keep-out.
#[derive(Debug, Clone)]
pub struct ClearHeights {
    curves: Vec<Curve>,
}

impl ClearHeights {
    /// The clear heights of a tool over a span that holds the face and every keep-out.
    ///
    /// The face inflated by a disk of the clearance and dilated by the tool. A tool reaches up without end, so it cannot pass under
    /// a keep-out, and of its outline only the edges count whose inside lies below them. None where the tool meets one of them nowhere.
    #[must_use]
    pub fn new(
        face: &InflatedFace,
        keep_outs: &[KeepOut],
        clearance: f64,
        tool: &Outline,
        over: Span,
    ) -> Option<Self> {
        let mut clear = Self { curves: vec![above(&face.surface, tool, over)?] };
        clear.curves.extend(under_holder(&face.measured, clearance, tool, over));
        for top in keep_outs.iter().flat_map(tops) {
            clear.stay_above(&top, clearance, tool, over)?;
        }
        Some(clear)
    }

    /// Clear of what may stand beyond the ends of the measured face too, as high as it ends; none as of [`Self::new`].
    #[must_use]
    pub fn above_ends(
        mut self,
        face: &InflatedFace,
        clearance: f64,
        tool: &Outline,
        over: Span,
    ) -> Option<Self> {
        let [first, last] = face.end_heights;
        let ends = [Point::new(face.face.from, first), Point::new(face.face.to, last)];
        for top in beside(ends, over) {
            self.stay_above(&top, clearance, tool, over)?;
        }
        Some(self)
    }

    /// Clear of one more surface; none where the tool meets it nowhere.
    fn stay_above(&mut self, top: &Curve, clearance: f64, tool: &Outline, over: Span) -> Option<()> {
        self.curves.push(above(&inflated(top, clearance), tool, over)?);
        self.curves.extend(under_holder(top, clearance, tool, over));
        Some(())
    }

    /// The lowest height that is clear of everything between two places.
    #[must_use]
    pub fn between(&self, a: f64, b: f64) -> f64 {
        let span = Span { from: a.min(b), to: a.max(b) };
        self.curves.iter().map(|c| highest(c, span)).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// The greatest height of a curve over a span; minus infinity where it has none.
fn highest(curve: &Curve, span: Span) -> f64 {
    let pieces = curve.pieces();
    let first = pieces.partition_point(|p| p.to().x < span.from);
    let inside = pieces.get(first..).unwrap_or_default().iter().take_while(|p| p.from().x <= span.to);
    let inner = [span.from, span.to].into_iter().filter(|x| (curve.start()..=curve.end()).contains(x));
    let at_ends = inner.map(|x| curve.at(x)).fold(f64::NEG_INFINITY, f64::max);
    inside.fold(at_ends, |top, p| {
        let ends = [p.from(), p.to()].into_iter().filter(|e| (span.from..=span.to).contains(&e.x));
        let crown = match p {
            Piece::Arc(a) if a.turn == Turn::Clockwise && (p.from().x..p.to().x).contains(&a.centre.x) => {
                (span.from..=span.to).contains(&a.centre.x).then_some(p.at(a.centre.x))
            }
            _ => None,
        };
        ends.map(|e| e.z).chain(crown).fold(top, f64::max)
    })
}

fn inflated(surface: &Curve, clearance: f64) -> Curve {
    if clearance > 0.0 { envelope::dilate_disk(surface, clearance) } else { surface.clone() }
}

/// The lowest heights that keep a holder the clearance above everything within the clearance beside it: the proof takes the holder's
/// corner for square, so that the room round it is a little more than a disk's. None for a tool without a holder, or whose holder meets the
/// surface nowhere.
fn under_holder(surface: &Curve, clearance: f64, tool: &Outline, over: Span) -> Option<Curve> {
    tool.holder?;
    let [inner, outer] = [tool.inner(), tool.outer()].map(|flank| flank.width() + clearance);
    let wide = Outline { holder: Some(Holder { inner, outer }), ..*tool };
    above(&surface.raised(clearance), &wide, over)
}

/// A tool that comes this near to the side of a keep-out is in it, millimetres: one that stands beside it to the bit is not clear of it.
const AS_INSIDE: f64 = 1e-6;

/// The lowest path of a tool over a surface; none where it meets the surface nowhere.
fn above(surface: &Curve, tool: &Outline, over: Span) -> Option<Curve> {
    envelope::dilate(surface, tool, [over.from, over.to])
}

/// The lowest heights of the front point at which the tool enters no keep-out, by keep-out and upper edge; none where it meets an edge nowhere.
pub fn keep_out_heights<'a>(
    keep_outs: &'a [KeepOut],
    tool: &Outline,
    over: Span,
) -> impl Iterator<Item = Option<(&'a KeepOut, Curve)>> {
    keep_outs.iter().flat_map(move |k| tops(k).map(move |top| Some((k, above(&top, tool, over)?))))
}

/// The lowest heights of the front point at which the tool enters nothing beside the measured face, which ends at `ends`, with
/// what is taken for the top there; none where it meets either nowhere.
#[must_use]
pub fn unmeasured_heights(ends: [Point; 2], tool: &Outline, over: Span) -> Option<[Curve; 2]> {
    let [inner, outer] = beside(ends, over).map(|top| above(&top, tool, over));
    Some([inner?, outer?])
}

/// Level lines beside a face that ends at two places, over a span and a little more.
fn beside([start, end]: [Point; 2], over: Span) -> [Curve; 2] {
    let lines = [
        [Point::new(over.from.min(start.x - 1.0), start.z), start],
        [end, Point::new(over.to.max(end.x + 1.0), end.z)],
    ];
    lines.map(|[a, b]| Curve::from_pieces(vec![Piece::line(a, b)]))
}

/// The upper edges of a keep-out, each from its inner to its outer end.
///
/// Run against the clock, an outline has its inside on the left, so its upper edges run inward. Upright edges end where others begin.
fn tops(keep_out: &KeepOut) -> impl Iterator<Item = Curve> + use<> {
    let outline = keep_out.outline().orient(Direction::Default);
    let edges: Vec<_> = outline.exterior().lines().filter(|edge| edge.end.x < edge.start.x).collect();
    let point = |c: Coord, wider: f64| Point::new(c.x + wider, c.y);
    edges.into_iter().map(move |edge| {
        Curve::from_pieces(vec![Piece::line(point(edge.end, -AS_INSIDE), point(edge.start, AS_INSIDE))])
    })
}
