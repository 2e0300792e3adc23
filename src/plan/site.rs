//! One tool at one wheel: the strokes it makes over the zones, the motions between them, and what a pass costs.

use super::approach::{ClearHeights, Grown, Room, keep_out_heights};
use super::passes::{Cutting, ROOM};
use super::spindle::{SpindleLaw, moment, spiral_length};
use super::surface::{self, Span};
use super::{Figures, Motion, Pass, PassKind, PlanError, Role, texture};
use crate::fit::{self, ArcForm, ArcLimits, ArcRule, FitError, Fitted, Tube};
use crate::geometry::{Arc, Curve, Grid, Outline, Piece, Point, Turn, envelope};
use crate::job::{Arcs, Direction, Job, KeepOut, PassDepth, Step, Zone};
use crate::units::{FeedPerMinute, Length, SpindleSpeed, Time};
use std::f64::consts::TAU;

/// The least radius of a written arc, millimetres: under it the arc is shorter than the rounding of its own words matters.
const SHARPEST_ARC: f64 = 0.1;

/// The greatest radius of a written arc, millimetres: old controls reckon arcs in few digits, and beyond some metres
/// an arc over a wheel's face is no flatter than the resolution of a line. Common practice, no source.
const FLATTEST_ARC: f64 = 5000.0;

/// What stays the same through the passes of one tool.
#[derive(Debug)]
pub(super) struct Site<'a> {
    job: &'a Job,
    /// How its passes are cut.
    pub cutting: Cutting<'a>,
    /// The tool's outline.
    pub outline: Outline,
    /// The places the control can name, as front points of this tool.
    pub grid: Grid,
    clear: ClearHeights,
    keep_outs: Vec<(String, Curve)>,
    park: Point,
    limit: SpindleSpeed,
}

/// One run of the tool over one zone, in the direction of the schedule.
#[derive(Debug, Clone)]
pub(super) struct Stroke {
    lead_in: Piece,
    cut: Vec<Piece>,
    lead_out: Piece,
    /// The exact path and the cut, both as graphs over x.
    pub fitted: Fitted,
    /// The outline of the tool that runs it.
    pub outline: Outline,
    /// Between which radii the nose touches the floor of the zone.
    pub touches: Span,
}

impl<'a> Site<'a> {
    /// Looks at what surrounds a tool, at a face.
    pub fn new(
        job: &'a Job,
        grown: &Grown,
        cutting: Cutting<'a>,
        limit: SpindleSpeed,
    ) -> Result<Self, PlanError> {
        let tool = cutting.tool;
        let outline = tool.outline();
        let grid = job.control.grid(tool);
        let (dx, dz) = tool.point_offset();
        let park = grid.nearest(Point::new(job.machine.park_x.as_mm() - dx, job.machine.park_z.as_mm() - dz));
        let places = job.keep_out.iter().flat_map(KeepOut::radii).chain([park.x]);
        let around = Span { from: grown.face.from - ROOM, to: grown.face.to + ROOM };
        let over = places.fold(around, |s, x| Span { from: s.from.min(x), to: s.to.max(x) });
        let clear = ClearHeights::new(grown, &job.keep_out, job.machine.clearance.as_mm(), &outline, over);
        let needed = clear.between(around.from.min(park.x), around.to.max(park.x));
        if park.z < needed {
            return Err(PlanError::ParkTooLow {
                park: Length::mm(park.z + dz),
                needed: Length::mm(needed + dz),
            });
        }
        let keep_outs = keep_out_heights(&job.keep_out, &outline, over)
            .map(|(k, curve)| (k.name().to_owned(), curve))
            .collect();
        Ok(Self { job, cutting, outline, grid, clear, keep_outs, park, limit })
    }

    const fn law(&self) -> SpindleLaw {
        SpindleLaw { surface_speed: self.cutting.surface_speed, limit: self.limit }
    }

    /// The strokes of one pass along its exact path, one for each zone in the order of the job. `like` are those of another
    /// pass with this tool, and how much deeper this one goes.
    pub fn strokes(&self, path: &Curve, like: Option<(&[Stroke], Length)>) -> Result<Vec<Stroke>, PlanError> {
        let stroke = |(i, zone): (usize, &Zone)| {
            let known = like.and_then(|(strokes, deeper)| {
                Some(strokes.get(i)?.fitted.moved(-deeper.as_mm(), &self.grid))
            });
            self.stroke(path, *zone, known)
        };
        self.job.zones.iter().enumerate().map(stroke).collect()
    }

    fn stroke(&self, path: &Curve, zone: Zone, known: Option<Fitted>) -> Result<Stroke, PlanError> {
        let tool = &self.outline;
        let wanted = Span { from: zone.from.as_mm(), to: zone.to.as_mm() };
        let unreachable =
            || PlanError::Unreachable { tool: self.cutting.tool.name.clone(), from: zone.from, to: zone.to };
        let window = surface::window(path, tool, wanted)
            .map(|w| Span { from: self.grid.nearest_x(w.from), to: self.grid.nearest_x(w.to) })
            .filter(|w| w.to - w.from > 2.0 * self.grid.dx)
            .ok_or_else(unreachable)?;
        let exact = path.slice(window.from, window.to).ok_or_else(unreachable)?;
        let fitted = self.fit(exact, known)?;
        let cut: Vec<Piece> = match self.job.schedule.direction {
            Direction::Outward => fitted.fit.pieces().to_vec(),
            Direction::Inward => fitted.fit.pieces().iter().rev().map(Piece::reversed).collect(),
        };
        let room = Room { path, grid: self.grid, control: &self.job.control };
        let (first, last) = (cut[0], cut[cut.len() - 1]);
        let stroke = Stroke {
            lead_in: room.lead_in(first.from(), tangent(&first, first.from())),
            lead_out: room.lead_out(last.to(), tangent(&last, last.to())),
            fitted,
            cut,
            outline: self.outline,
            touches: surface::floor(path, tool, window, self.grid.dx, wanted),
        };
        self.clear_of_keep_outs(&stroke)?;
        Ok(stroke)
    }

    /// The few lines and arcs that are written for an exact path. The control reckons an arc from where it
    /// begins, so a path that is run inward is fitted as seen from behind.
    fn fit(&self, exact: Curve, known: Option<Fitted>) -> Result<Fitted, FitError> {
        let (control, schedule) = (&self.job.control, &self.job.schedule);
        let step = control.resolution.as_mm();
        let form = match control.arcs {
            Arcs::Centre => Some(ArcForm::Centre { step }),
            Arcs::Radius => Some(ArcForm::Radius { step }),
            Arcs::None => None,
        };
        let arcs = form.map_or(ArcRule::None, |form| {
            ArcRule::Allowed(ArcLimits {
                min_radius: SHARPEST_ARC,
                max_radius: FLATTEST_ARC,
                end_tolerance: control.arc_tolerance.as_mm(),
                form,
            })
        });
        let tube = Tube {
            tolerance: schedule.tolerance.as_mm(),
            grid: self.grid,
            arcs,
            tangent_jump: schedule.tangent_jump.as_rad(),
        };
        let fit = |path: &Curve, tube: &Tube, known: Option<&Fitted>| match known {
            Some(known) => fit::fit_again(path, tube, known),
            None => fit::fit(path, tube),
        };
        let fit = match schedule.direction {
            Direction::Outward => fit(&exact, &tube, known.as_ref())?,
            Direction::Inward => {
                let grid = Grid { x0: -self.grid.x0, ..self.grid };
                let known = known.map(|k| k.mirrored());
                fit(&exact.mirrored(), &Tube { grid, ..tube }, known.as_ref())?.mirrored()
            }
        };
        Ok(Fitted { path: exact, fit })
    }

    fn clear_of_keep_outs(&self, stroke: &Stroke) -> Result<(), PlanError> {
        for (name, heights) in &self.keep_outs {
            for piece in stroke.pieces() {
                let (a, b) = (piece.from(), piece.to());
                let (by, at) = if a.x == b.x {
                    (heights.at(a.x) - a.z.min(b.z), a.x)
                } else {
                    let rightward = if a.x < b.x { *piece } else { piece.reversed() };
                    match envelope::greatest_excess(heights, &Curve::from_pieces(vec![rightward])) {
                        Some(excess) => (excess.height, excess.x),
                        None => continue,
                    }
                };
                if by > 0.0 {
                    return Err(PlanError::KeepOut {
                        tool: self.cutting.tool.name.clone(),
                        name: name.clone(),
                        by: Length::mm(by),
                        at: Length::mm(at),
                    });
                }
            }
        }
        Ok(())
    }

    /// A pass over its strokes, from park to park.
    pub fn pass(&self, strokes: &[Stroke], depth: PassDepth, total: Length) -> Result<Pass, PlanError> {
        let motions = self.motions(strokes, 0.0)?;
        let mut figures = self.figures(strokes, &motions)?;
        figures.chip_volume = self.chip_volume(strokes, depth.depth.as_mm());
        Ok(Pass {
            kind: depth.kind,
            number: 0,
            of: 0,
            depth: depth.depth,
            total,
            surface_speed: self.cutting.surface_speed,
            spindle_limit: self.limit,
            feed: self.cutting.feed,
            motions,
            figures,
        })
    }

    /// The dry run of a pass: its strokes lifted, at the feed of the schedule's air pass.
    pub fn air_pass(&self, strokes: &[Stroke], pass: &Pass) -> Result<Pass, PlanError> {
        let air = self.job.schedule.air;
        let dry = Site {
            cutting: Cutting { feed: air.feed.unwrap_or(self.cutting.feed), ..self.cutting },
            clear: self.clear.clone(),
            keep_outs: Vec::new(),
            ..*self
        };
        let lift = dry.grid.z_not_below(air.height.as_mm() + dry.grid.z0) - dry.grid.z0;
        let motions = dry.motions(strokes, lift)?;
        let figures = dry.figures(strokes, &motions)?;
        let zero = Length::mm(0.0);
        Ok(Pass {
            kind: PassKind::Air,
            depth: zero,
            total: Length::mm(pass.total.as_mm() - pass.depth.as_mm()),
            feed: dry.cutting.feed,
            motions,
            figures,
            ..pass.clone()
        })
    }

    /// The motions of a pass from park to park: along one axis at a time wherever the tool moves at rapid, so
    /// that no control can take another way.
    fn motions(&self, strokes: &[Stroke], lift: f64) -> Result<Vec<Motion>, PlanError> {
        let clear = |a: f64, b: f64| self.grid.z_not_below(self.clear.between(a, b));
        let mut walk = Walk { at: self.park, motions: Vec::new() };
        for stroke in self.as_run(strokes) {
            let (start, end) =
                (stroke.lead_in.from().shifted(0.0, lift), stroke.lead_out.to().shifted(0.0, lift));
            let hop = clear(walk.at.x, start.x).max(walk.at.z).max(start.z);
            if hop > self.park.z {
                let dz = self.cutting.tool.point_offset().1;
                let (park, needed) = (Length::mm(self.park.z + dz), Length::mm(hop + dz));
                return Err(PlanError::ParkTooLow { park, needed });
            }
            walk.to(Role::Rapid, Point::new(walk.at.x, hop));
            walk.to(Role::Rapid, Point::new(start.x, hop));
            walk.to(Role::Rapid, Point::new(start.x, clear(start.x, start.x).max(start.z)));
            walk.to(Role::LeadIn, start);
            walk.along(Role::LeadIn, &stroke.lead_in, lift);
            for piece in &stroke.cut {
                walk.along(Role::Cut, piece, lift);
            }
            walk.along(Role::LeadOut, &stroke.lead_out, lift);
            walk.to(Role::LeadOut, Point::new(end.x, clear(end.x, end.x).max(end.z)));
        }
        walk.to(Role::Rapid, Point::new(walk.at.x, self.park.z.max(walk.at.z)));
        walk.to(Role::Rapid, Point::new(self.park.x, walk.at.z));
        walk.to(Role::Rapid, self.park);
        self.within_travel(&walk.motions)?;
        Ok(walk.motions)
    }

    /// Strokes in the order they are run.
    fn as_run<'s>(&self, strokes: &'s [Stroke]) -> impl Iterator<Item = &'s Stroke> {
        let inward = self.job.schedule.direction == Direction::Inward;
        let nth = move |i: usize| if inward { strokes.len() - 1 - i } else { i };
        (0..strokes.len()).filter_map(move |i| strokes.get(nth(i)))
    }

    fn within_travel(&self, motions: &[Motion]) -> Result<(), PlanError> {
        let (dx, dz) = self.cutting.tool.point_offset();
        let machine = &self.job.machine;
        let inside = |v: f64, [low, high]: [Length; 2]| (low.as_mm()..=high.as_mm()).contains(&v);
        for motion in motions {
            let to = motion.piece.to().shifted(dx, dz);
            if !(inside(to.x, machine.travel_x) && inside(to.z, machine.travel_z)) {
                return Err(PlanError::Travel {
                    tool: self.cutting.tool.name.clone(),
                    x: Length::mm(to.x),
                    z: Length::mm(to.z),
                });
            }
        }
        Ok(())
    }

    /// What a pass costs and leaves, but for chips.
    fn figures(&self, strokes: &[Stroke], motions: &[Motion]) -> Result<Figures, PlanError> {
        let (feed, law) = (self.cutting.feed, self.law());
        let nose = self.cutting.tool.nose_radius;
        let of = |rapid: bool| {
            motions
                .iter()
                .filter(move |m| (m.role == Role::Rapid) == rapid)
                .map(|m| m.piece)
                .collect::<Vec<_>>()
        };
        let (fed, rapid) = (of(false), of(true));
        let length = |pieces: &[Piece]| pieces.iter().map(Piece::length).sum::<f64>();
        let cut: Vec<Piece> = self.as_run(strokes).flat_map(|s| s.cut.clone()).collect();
        let (inner, outer) = reach(&fed);
        let (slowest, fastest) = (law.at(Length::mm(outer)), law.at(Length::mm(inner)));
        let fastest_feed = FeedPerMinute::mm_per_min(feed.as_mm_per_rev() * fastest.as_rpm());
        if fastest_feed > self.job.machine.feed_limit {
            return Err(PlanError::FeedLimit { feed: fastest_feed, limit: self.job.machine.feed_limit });
        }
        let rapid_seconds = 60.0 * length(&rapid) / self.job.machine.rapid.as_mm_per_min();
        Ok(Figures {
            time: Time::s(law.time(&fed, feed).as_s() + rapid_seconds),
            path_length: Length::mm(length(&fed)),
            cut_length: spiral_length(&cut, feed),
            chip_volume: 0.0,
            slowest,
            fastest,
            limit_below: law.limit_below(),
            rz: texture::scallop(feed, nose),
            ra: texture::mean_roughness(feed, nose),
        })
    }

    /// The metal that a full pass takes: a ring of its depth over each stroke, along the axis or the normal.
    fn chip_volume(&self, strokes: &[Stroke], depth: f64) -> f64 {
        let area = |stroke: &Stroke| match self.job.schedule.step {
            Step::Axial => (stroke.touches.to.powi(2) - stroke.touches.from.powi(2)) * TAU / 2.0,
            Step::Normal => TAU * stroke.cut.iter().map(moment).sum::<f64>(),
        };
        depth * strokes.iter().map(area).sum::<f64>()
    }
}

impl Stroke {
    /// Every piece of the stroke, in order.
    fn pieces(&self) -> impl Iterator<Item = &Piece> {
        std::iter::once(&self.lead_in).chain(&self.cut).chain(std::iter::once(&self.lead_out))
    }
}

/// Motions one after the other.
struct Walk {
    at: Point,
    motions: Vec<Motion>,
}

impl Walk {
    fn to(&mut self, role: Role, to: Point) {
        if to != self.at {
            self.motions.push(Motion { role, piece: Piece::line(self.at, to) });
            self.at = to;
        }
    }

    fn along(&mut self, role: Role, piece: &Piece, lift: f64) {
        let piece = piece.shifted(0.0, lift);
        self.at = piece.to();
        self.motions.push(Motion { role, piece });
    }
}

/// The innermost and outermost radius of pieces.
fn reach(pieces: &[Piece]) -> (f64, f64) {
    pieces
        .iter()
        .flat_map(|p| [p.from().x, p.to().x])
        .fold((f64::INFINITY, 0.0), |(low, high), x| (x.min(low), x.max(high)))
}

/// The direction in which a piece runs at one of its points.
fn tangent(piece: &Piece, at: Point) -> Point {
    match *piece {
        Piece::Line(l) => Point::new(l.to.x - l.from.x, l.to.z - l.from.z),
        Piece::Arc(Arc { centre, turn: Turn::Clockwise, .. }) => Point::new(at.z - centre.z, centre.x - at.x),
        Piece::Arc(Arc { centre, .. }) => Point::new(centre.z - at.z, at.x - centre.x),
    }
}
