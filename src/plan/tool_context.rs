//! One tool at one wheel: the strokes it makes over the zones, the motions between them, and what a pass costs.

use super::approach::{ClearHeights, InflatedFace, LeadSpace, keep_out_heights, unmeasured_heights};
use super::arc_limits::{self, split_arcs};
use super::corners::{self, Evidence};
use super::figures::Conditions;
use super::motion_builder::MotionBuilder;
use super::passes::{Cutting, ROOM};
use super::rest::RestPlace;
use super::run_off;
use super::spindle::{SpindleLaw, moment};
use super::stepped::{speed_changes, step_speeds};
use super::surface::{self, Span};
use super::{Figures, Motion, Pass, PassKind, PlanError, Role};
use crate::diagnostics::{Finding, Place, PlanRule};
use crate::face::StandardErrors;
use crate::fit::{self, ArcForm, ArcLimits, ArcRule, ArcTurn, Corner, FitError, Fitted, Tube, WordRoom};
use crate::geometry::{Arc, Curve, Grid, Outline, Piece, Point, Turn, envelope};
use crate::job::{Arcs, Direction, Job, KeepOut, LEAST_AIR_GAP, PassDepth, Sequence, Step, XWords, Zone};
use crate::units::{FeedPerMinute, Length, MM_PER_INCH, SpindleSpeed};
use std::f64::consts::TAU;

/// The least radius of a written arc, millimetres: under it the arc is shorter than the rounding of its own words matters.
const SHARPEST_ARC: f64 = 0.1;

/// The greatest radius of a written arc, millimetres: old controls reckon arcs in few digits, and beyond some metres
/// an arc over a wheel's face is no flatter than the resolution of a line. Common practice, no source.
const FLATTEST_ARC: f64 = 5000.0;

/// Characters of `G02` ahead of an arc's coordinates.
const MOTION_WIDTH: usize = 3;
/// Contacts beside a corner are looked at so many steps of the grid from it: a corner is no wider.
const BESIDE_CORNER: f64 = 3.0;

/// A tool may go this far below where the measured face ends, millimetres: a lead's rounding, and less than any sensor tells.
const BESIDE: f64 = 0.005;

/// So many pieces are more than a face of straight stretches has.
const MANY_PIECES: usize = 20;

/// The faces of wheels lean from the radius by this and more, as a sine.
const LEAN_OF_A_FACE: f64 = 0.2;

/// Arcs of a face have greater radii than this, millimetres, but for its corners.
const SHARP_FOR_A_FACE: f64 = 50.0;

/// What heights are rounded by as they are reckoned, millimetres: far below any step of a control.
const ROUNDING: f64 = 1e-6;

/// What stays the same through the passes of one tool.
#[derive(Debug)]
pub(super) struct ToolContext<'a> {
    job: &'a Job,
    /// How its passes are cut.
    pub cutting: Cutting<'a>,
    /// The tool's outline.
    pub outline: Outline,
    /// The places the control can name, as front points of this tool.
    pub grid: Grid,
    clear: ClearHeights,
    keep_outs: Vec<(String, Curve)>,
    /// Heights that keep the tool out of what was not measured.
    unmeasured: Vec<Curve>,
    /// Heights of the front point at which the tool meets the metal inside and outside each window.
    beside_windows: Vec<[Curve; 2]>,
    /// What the face spans.
    face: Span,
    park: Point,
    limit: SpindleSpeed,
    /// The deepest that its passes go.
    deepest: Length,
    /// How well the face is known, where it was measured.
    errors: Option<&'a StandardErrors>,
    /// Radii of the grid, in rising order, at which a fixed spindle speed changes; none where the control holds a surface speed.
    speed_changes: Vec<f64>,
}

/// One run of the tool over one zone, in the direction of the schedule.
#[derive(Debug, Clone)]
pub(super) struct Stroke {
    lead_in: Piece,
    cut: Vec<Piece>,
    lead_out: Piece,
    /// The exact path and the cut, both as graphs over x.
    pub fitted: Fitted,
    /// The corners of the exact path, and what shows each: there two pieces may meet at an angle.
    pub corners: Vec<(Corner, Evidence)>,
    /// The outline of the tool that runs it.
    pub outline: Outline,
    /// Between which radii the nose touches the floor of the zone.
    pub touches: Span,
}

impl<'a> ToolContext<'a> {
    /// Looks at what surrounds a tool, at a face.
    pub fn new(
        job: &'a Job,
        (inflated, errors): (&InflatedFace, Option<&'a StandardErrors>),
        cutting: Cutting<'a>,
        limit: SpindleSpeed,
        deepest: Length,
    ) -> Result<Self, PlanError> {
        let tool = cutting.tool;
        let outline = tool.outline();
        let grid = job.control.grid(tool);
        let (dx, dz) = tool.point_offset();
        let park = grid.nearest(Point::new(job.machine.park_x.as_mm() - dx, job.machine.park_z.as_mm() - dz));
        let places = job.keep_out.iter().flat_map(KeepOut::radii).chain([park.x]);
        let around = Span { from: inflated.face.from - ROOM, to: inflated.face.to + ROOM };
        let over = places.fold(around, |s, x| Span { from: s.from.min(x), to: s.to.max(x) });
        let ends_there = [job.runs_off.inner.is_some(), job.runs_off.outer.is_some()];
        let clearance = job.machine.clearance.as_mm();
        let unreachable = || PlanError::unreachable(tool, &job.zones);
        let clear = ClearHeights::new(inflated, &job.keep_out, clearance, &outline, over)
            .and_then(|clear| clear.above_ends(inflated, clearance, &outline, over))
            .ok_or_else(unreachable)?;
        let needed = clear.between(around.from.min(park.x), around.to.max(park.x));
        if park.z < needed {
            return Err(PlanError::ParkTooLow {
                park: Length::mm(park.z + dz),
                needed: Length::mm(needed + dz),
            });
        }
        let keep_outs = keep_out_heights(&job.keep_out, &outline, over)
            .map(|met| met.map(|(k, curve)| (k.name().to_owned(), curve)))
            .collect::<Option<_>>()
            .ok_or_else(unreachable)?;
        // Where a zone runs to the end of the measurement, its passes run off there as deep as they go.
        // Where a person says that the metal ends there, the nose rolls over its edge too.
        let end = |x: f64, z: f64, runs_off: bool| {
            let zone_ends_there = job.has_zone_in(x, x);
            let below = if zone_ends_there { deepest.as_mm() } else { 0.0 };
            Point::new(x, z - BESIDE - below - if runs_off { outline.nose_radius } else { 0.0 })
        };
        let [first, last] = inflated.end_heights;
        let ends =
            [end(inflated.face.from, first, ends_there[0]), end(inflated.face.to, last, ends_there[1])];
        let unmeasured = unmeasured_heights(ends, &outline, over).ok_or_else(unreachable)?.into();
        let beside_window =
            |window| run_off::across(&inflated.measured, window, &outline, [over.from, over.to]);
        let beside_windows = job.runs_off.windows_mm().map(beside_window);
        let beside_windows = beside_windows.collect::<Option<_>>().ok_or_else(unreachable)?;
        let speed_changes = speed_changes(job, &cutting, limit, &grid);
        Ok(Self {
            job,
            cutting,
            outline,
            grid,
            clear,
            keep_outs,
            unmeasured,
            beside_windows,
            face: inflated.face,
            park,
            limit,
            deepest,
            errors,
            speed_changes,
        })
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
            self.stroke(path, (i, *zone, self.job.zone_runs_off(i)), None, known, self.errors)
        };
        self.job.zones.iter().enumerate().map(stroke).collect()
    }

    /// The strokes of a pass that cuts only at some places, one for each. Another pass goes over them, so it keeps every corner of its path.
    pub fn strokes_at(&self, path: &Curve, places: &[RestPlace]) -> Result<Vec<Stroke>, PlanError> {
        let stroke = |place: &RestPlace| {
            let RestPlace { metal: Span { from, to }, along } = *place;
            let zone = Zone { from: Length::mm(from), to: Length::mm(to) };
            let (i, runs_off) = run_off::of_place(self.job, place.metal, self.face);
            self.stroke(path, (i, zone, runs_off), along, None, None)
        };
        places.iter().map(stroke).collect()
    }

    fn stroke(
        &self,
        path: &Curve,
        (index, zone, runs_off): (usize, Zone, [bool; 2]),
        along: Option<Span>,
        known: Option<Fitted>,
        errors: Option<&StandardErrors>,
    ) -> Result<Stroke, PlanError> {
        let tool = &self.outline;
        let wanted = surface::span_of(&zone);
        let unreachable =
            || PlanError::Unreachable { tool: self.cutting.tool.name.clone(), from: zone.from, to: zone.to };
        // Inward: a step further the path may climb as steeply as an edge, and what it left there the next pass would take with its own depth.
        let touched = run_off::window(path, tool, wanted, runs_off);
        let window = along
            .map_or(touched, |along| touched.map_or(Some(along), |own| Some(own.and(along))))
            .map(|w| Span { from: self.grid.x_not_below(w.from), to: self.grid.x_not_above(w.to) })
            .filter(|w| w.to - w.from > 2.0 * self.grid.dx)
            .ok_or_else(unreachable)?;
        let clear = run_off::clear(runs_off, index, self.face, tool, self.job);
        let clear = clear.map(|end| end.map(|x| self.grid.nearest_x(x)));
        let exact = run_off::extended(path, window, clear).ok_or_else(unreachable)?;
        // Beyond the readings an edge lies where a person says: the slide has to get there before a path is fitted that far.
        let ends = [exact.start(), exact.end()].map(|x| Point::new(x, exact.at(x)));
        self.within_travel(ends.into_iter().zip(runs_off).filter_map(|(end, off)| off.then_some(end)))?;
        let beside = BESIDE_CORNER * self.grid.dx;
        let (mut corners, mut doubted) = (Vec::new(), Vec::new());
        for corner in fit::corners(&exact, &self.tube(&[])) {
            match corners::evidence(&corner, (path, tool), zone, errors, beside) {
                Some(evidence) => corners.push((corner, evidence)),
                None => doubted.push(corner.x),
            }
        }
        let fitted = self.fit(exact, known, &doubted)?;
        let cut: Vec<Piece> = match self.job.schedule.direction {
            Direction::Outward => fitted.fit.pieces().to_vec(),
            Direction::Inward => fitted.fit.pieces().iter().rev().map(Piece::reversed).collect(),
        };
        let space = LeadSpace {
            path,
            grid: self.grid,
            control: &self.job.control,
            room: self.word_room(),
            turn: self.whole_arcs(),
            end_tolerance: self.job.control.arc_tolerance.as_mm() - arc_limits::parting(self.job, &self.grid),
        };
        let (first, last) = (cut[0], cut[cut.len() - 1]);
        let stroke = Stroke {
            lead_in: space.lead_in(first.from(), tangent(&first, first.from())),
            lead_out: space.lead_out(last.to(), tangent(&last, last.to())),
            corners,
            fitted,
            cut,
            outline: self.outline,
            touches: run_off::floor(path, tool, window, (self.grid.dx, wanted), runs_off),
        };
        self.clear_of_keep_outs(&stroke)?;
        self.over_the_measured(&stroke, zone)?;
        self.windows_are_wide(&stroke, zone)?;
        Ok(stroke)
    }

    /// Refuses a stroke that brings the tool near to the metal on the other side of a window beside its zone, or over it.
    fn windows_are_wide(&self, stroke: &Stroke, zone: Zone) -> Result<(), PlanError> {
        for ([from, to], [behind, before]) in self.job.runs_off.windows.iter().zip(&self.beside_windows) {
            let is_before = zone.to <= *from;
            let heights = if is_before { behind } else { before };
            let over = |x: &f64| if is_before { *x >= to.as_mm() } else { *x <= from.as_mm() };
            let mut ends = stroke.pieces().flat_map(|piece| [piece.from().x, piece.to().x]);
            let near = stroke.furthest_below(heights).map(|(_, at)| at).or_else(|| ends.find(over));
            if let Some(at) = near {
                return Err(PlanError::NarrowWindow {
                    tool: self.cutting.tool.name.clone(),
                    zone: [zone.from, zone.to],
                    window: [*from, *to],
                    at: Length::mm(at),
                    room: Length::mm(run_off::CLEAR),
                });
            }
        }
        Ok(())
    }

    /// The few lines and arcs that are written for an exact path. The control reckons an arc from where it
    /// begins, so a path that is run inward is fitted as seen from behind.
    fn fit(&self, exact: Curve, known: Option<Fitted>, doubted: &[f64]) -> Result<Fitted, FitError> {
        let tube = self.tube(doubted);
        let fitted = |path: &Curve, tube: &Tube, known: Option<&Fitted>| match known {
            Some(known) => fit::refit(path, tube, known),
            None => fit::fit(path, tube),
        };
        let fit = match self.job.schedule.direction {
            Direction::Outward => fitted(&exact, &tube, known.as_ref())?,
            Direction::Inward => {
                let grid = Grid { x0: -self.grid.x0, ..self.grid };
                let known = known.map(|k| k.mirrored());
                let [breaks, doubted] = [tube.breaks, tube.doubted].map(fit::from_behind);
                let behind = Tube { grid, breaks: &breaks, doubted: &doubted, ..tube };
                let seen_from_behind = fitted(&exact.mirrored(), &behind, known.as_ref());
                let radius = |e| if let FitError::Narrow { x } = e { FitError::Narrow { x: -x } } else { e };
                seen_from_behind.map_err(radius)?.mirrored()
            }
        };
        Ok(Fitted { path: exact, fit })
    }

    /// What the written path must keep to, round corners that are in doubt.
    fn tube<'t>(&'t self, doubted: &'t [f64]) -> Tube<'t> {
        let (control, schedule) = (&self.job.control, &self.job.schedule);
        let step = control.resolution.as_mm();
        let parting = arc_limits::parting(self.job, &self.grid);
        let form = match control.arcs {
            Arcs::Centre => Some(ArcForm::Centre { step }),
            Arcs::Radius => Some(ArcForm::Radius { step }),
            Arcs::None => None,
        };
        let arcs = form.map_or(ArcRule::None, |form| {
            ArcRule::Allowed(ArcLimits {
                min_radius: SHARPEST_ARC,
                max_radius: FLATTEST_ARC,
                end_tolerance: control.arc_tolerance.as_mm() - parting,
                form,
                room: Some(self.word_room()),
                turn: self.whole_arcs(),
            })
        });
        Tube {
            tolerance: schedule.tolerance.as_mm() - parting,
            grid: self.grid,
            arcs,
            tangent_jump: schedule.tangent_jump.as_rad(),
            breaks: &self.speed_changes,
            doubted,
        }
    }

    /// How far round an arc of the path may run where it must need no parting; none where it may be parted, or where no control asks.
    fn whole_arcs(&self) -> Option<ArcTurn> {
        arc_limits::turn(&self.job.control).filter(|_| !arc_limits::parts_arcs(self.job))
    }

    /// The room in a line for the words of this tool's arcs.
    fn word_room(&self) -> WordRoom {
        let control = &self.job.control;
        // The greatest sequence number between its letter and a blank.
        let digits = control.traits.largest_sequence.checked_ilog10().map_or(1, |tens| tens as usize + 1);
        let number = if control.sequence == Sequence::None { 0 } else { digits + 2 };
        let (dx, dz) = self.cutting.tool.point_offset();
        WordRoom {
            characters: control.longest_line.saturating_sub(number + MOTION_WIDTH),
            places: control.decimals,
            unit: if control.unit_word.is_inch() { MM_PER_INCH } else { 1.0 },
            x_factor: if control.x_words == XWords::Diameter { 2.0 } else { 1.0 },
            offset: Point::new(dx, dz),
            moves: [self.deepest.as_mm(), self.job.schedule.air.height.as_mm() + self.grid.dz],
        }
    }

    /// The finding where the lines of the control have no room for the arcs of a wheel's face, and a path of many pieces came out without one.
    pub fn arcs_as_lines(&self, strokes: &[Stroke]) -> Option<Finding> {
        let step = self.job.control.resolution.as_mm();
        let form = match self.job.control.arcs {
            Arcs::Centre => ArcForm::Centre { step },
            Arcs::Radius => ArcForm::Radius { step },
            Arcs::None => return None,
        };
        let cut = strokes.iter().flat_map(|s| &s.cut);
        let is_arc = |p: &Piece| matches!(p, Piece::Arc(_));
        if cut.clone().any(is_arc) || cut.clone().count() < MANY_PIECES {
            return None;
        }
        let room = self.word_room();
        let flattest = |p: &Piece| room.flattest([p.from(), p.to()], LEAN_OF_A_FACE, form);
        if cut.clone().map(flattest).fold(0.0, f64::max) > SHARP_FOR_A_FACE {
            return None;
        }
        let what = format!(
            "a line of {} characters has no room for the arcs of this face: each pass is {} lines in their place",
            self.job.control.longest_line,
            cut.count()
        );
        Some(Finding::new(PlanRule::ArcsAsLines, Place::Whole, what))
    }

    fn clear_of_keep_outs(&self, stroke: &Stroke) -> Result<(), PlanError> {
        for (name, heights) in &self.keep_outs {
            if let Some((by, at)) = stroke.furthest_below(heights) {
                return Err(PlanError::KeepOut {
                    tool: self.cutting.tool.name.clone(),
                    name: name.clone(),
                    by: Length::mm(by),
                    at: Length::mm(at),
                });
            }
        }
        Ok(())
    }

    /// Refuses a stroke that leads the tool below the end of the measured face, beside it.
    fn over_the_measured(&self, stroke: &Stroke, zone: Zone) -> Result<(), PlanError> {
        match self.unmeasured.iter().find_map(|heights| stroke.furthest_below(heights)) {
            Some((by, _)) => Err(PlanError::BesideMeasured {
                tool: self.cutting.tool.name.clone(),
                from: zone.from,
                to: zone.to,
                by: Length::mm(by),
            }),
            None => Ok(()),
        }
    }

    /// A pass over its strokes, from park to park.
    pub fn pass(&self, strokes: &[Stroke], depth: PassDepth, total: Length) -> Result<Pass, PlanError> {
        let motions = self.motions(strokes, 0.0)?;
        let mut pass = Pass {
            kind: depth.kind,
            number: 0,
            of: 0,
            ring: None,
            depth: depth.depth,
            total,
            surface_speed: self.cutting.surface_speed,
            spindle_limit: self.limit,
            feed: self.cutting.feed,
            figures: self.conditions().figures(&motions),
            contact: None,
            motions,
        };
        self.finish(&mut pass)?;
        pass.figures.chip_volume = self.chip_volume(strokes, depth.depth.as_mm());
        Ok(pass)
    }

    /// The air pass ahead of a pass, over a face that lies `total` deep: strokes lifted, at the feed of the schedule's air pass.
    pub fn air_pass(&self, strokes: &[Stroke], pass: &Pass, total: Length) -> Result<Pass, PlanError> {
        let air = self.job.schedule.air;
        let feed = air.feed.map_or(self.cutting.feed, |feed| self.job.control.nameable_feed(feed));
        let dry = ToolContext {
            cutting: Cutting { feed, ..self.cutting },
            clear: self.clear.clone(),
            keep_outs: Vec::new(),
            unmeasured: Vec::new(),
            beside_windows: Vec::new(),
            speed_changes: self.speed_changes.clone(),
            ..*self
        };
        let lift = dry.lift();
        let motions = dry.motions(strokes, lift)?;
        let mut air = Pass {
            kind: PassKind::Air,
            depth: Length::mm(0.0),
            total,
            feed: dry.cutting.feed,
            motions,
            ..pass.clone()
        };
        dry.finish(&mut air)?;
        Ok(air)
    }

    /// How far an air pass is lifted above the pass that it shows.
    fn lift(&self) -> f64 {
        self.grid.z_not_below(self.job.schedule.air.height.as_mm() + self.grid.z0) - self.grid.z0
    }

    /// Refuses an air pass that would come too near to the metal that its tool meets: where a pass goes down along the normal, it goes
    /// deeper along the axis on a slope, and the air pass is lifted along the axis.
    pub fn air_stays_clear(&self, strokes: &[Stroke], met: &Curve) -> Result<(), PlanError> {
        let tool = self.cutting.tool;
        let touching = envelope::dilate(met, &self.outline, [met.start() - ROOM, met.end() + ROOM])
            .ok_or_else(|| PlanError::unreachable(tool, &self.job.zones))?;
        let depths = strokes.iter().filter_map(|s| envelope::greatest_excess(&touching, &s.fitted.fit));
        let Some(deepest) = depths.max_by(|a, b| a.height.total_cmp(&b.height)) else { return Ok(()) };
        let lift = self.lift();
        let gap = lift - deepest.height;
        if gap >= LEAST_AIR_GAP.as_mm() - ROUNDING {
            return Ok(());
        }
        Err(PlanError::AirTooLow {
            tool: tool.name.clone(),
            height: Length::mm(lift),
            depth: Length::mm(deepest.height),
            gap: Length::mm(gap),
            needed: Length::mm(deepest.height) + LEAST_AIR_GAP,
            at: Length::mm(surface::contact_at(&touching, &self.outline, deepest.x)),
        })
    }

    /// The motions of a pass from park to park: along one axis at a time wherever the tool moves at rapid, so
    /// that no control can take another way.
    fn motions(&self, strokes: &[Stroke], lift: f64) -> Result<Vec<Motion>, PlanError> {
        let clear = |a: f64, b: f64| self.grid.z_not_below(self.clear.between(a, b));
        let mut builder = MotionBuilder { at: self.park, motions: Vec::new() };
        for stroke in self.as_run(strokes) {
            let (start, end) =
                (stroke.lead_in.from().shifted(0.0, lift), stroke.lead_out.to().shifted(0.0, lift));
            let mut hop = clear(builder.at.x, start.x).max(builder.at.z).max(start.z);
            if (builder.at.x, builder.at.z) == (start.x, hop) {
                // One stroke begins where the other ended: without a rapid between the tool would be fed from the one into the other.
                hop = self.grid.z_not_below(hop + self.job.machine.clearance.as_mm());
            }
            if hop > self.park.z {
                let dz = self.cutting.tool.point_offset().1;
                let (park, needed) = (Length::mm(self.park.z + dz), Length::mm(hop + dz));
                return Err(PlanError::ParkTooLow { park, needed });
            }
            builder.to(Role::Rapid, Point::new(builder.at.x, hop));
            builder.to(Role::Rapid, Point::new(start.x, hop));
            builder.to(Role::Rapid, Point::new(start.x, clear(start.x, start.x).max(start.z)));
            builder.to(Role::LeadIn, start);
            builder.along(Role::LeadIn, &stroke.lead_in, lift);
            for piece in &stroke.cut {
                builder.along(Role::Cut, piece, lift);
            }
            builder.along(Role::LeadOut, &stroke.lead_out, lift);
            builder.to(Role::LeadOut, Point::new(end.x, clear(end.x, end.x).max(end.z)));
        }
        builder.to(Role::Rapid, Point::new(builder.at.x, self.park.z.max(builder.at.z)));
        builder.to(Role::Rapid, Point::new(self.park.x, builder.at.z));
        builder.to(Role::Rapid, self.park);
        self.within_travel(builder.motions.iter().map(|m| m.piece.to()))?;
        Ok(builder.motions)
    }

    /// Strokes in the order they are run.
    fn as_run<'s>(&self, strokes: &'s [Stroke]) -> impl Iterator<Item = &'s Stroke> {
        let inward = self.job.schedule.direction == Direction::Inward;
        let nth = move |i: usize| if inward { strokes.len() - 1 - i } else { i };
        (0..strokes.len()).filter_map(move |i| strokes.get(nth(i)))
    }

    fn within_travel(&self, front_points: impl Iterator<Item = Point>) -> Result<(), PlanError> {
        let (dx, dz) = self.cutting.tool.point_offset();
        let machine = &self.job.machine;
        let inside = |v: f64, [low, high]: [Length; 2]| (low.as_mm()..=high.as_mm()).contains(&v);
        for point in front_points {
            let to = point.shifted(dx, dz);
            if !(inside(to.x, machine.travel_x) && inside(to.z, machine.travel_z)) {
                return Err(PlanError::Travel {
                    tool: self.cutting.tool.name.clone(),
                    x: Length::mm(to.x),
                    z: Length::mm(to.z),
                    travel_x: machine.travel_x,
                    travel_z: machine.travel_z,
                });
            }
        }
        Ok(())
    }

    const fn conditions(&self) -> Conditions<'_> {
        Conditions {
            tool: self.cutting.tool,
            law: self.law(),
            feed: self.cutting.feed,
            rapid: self.job.machine.rapid,
        }
    }

    /// Steps the spindle where the control needs that, and reckons what the pass costs and leaves, but for chips.
    fn finish(&self, pass: &mut Pass) -> Result<(), PlanError> {
        step_speeds(pass, self.cutting.tool, &self.job.control, &self.speed_changes)?;
        split_arcs(pass, self.cutting.tool, self.job);
        let figures = self.conditions().figures(&pass.motions);
        let Figures { fastest, .. } = figures;
        let fastest_feed = FeedPerMinute::mm_per_min(pass.feed.as_mm_per_rev() * fastest.as_rpm());
        if fastest_feed > self.job.machine.feed_limit {
            return Err(PlanError::FeedLimit { feed: fastest_feed, limit: self.job.machine.feed_limit });
        }
        pass.figures = figures;
        Ok(())
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
    /// How far the stroke first goes below heights of the front point, and where.
    fn furthest_below(&self, heights: &Curve) -> Option<(f64, f64)> {
        let below = |piece: &Piece| {
            let (a, b) = (piece.from(), piece.to());
            if a.x == b.x {
                return Some((heights.at(a.x) - a.z.min(b.z), a.x));
            }
            let rightward = if a.x < b.x { *piece } else { piece.reversed() };
            let excess = envelope::greatest_excess(heights, &Curve::from_pieces(vec![rightward]))?;
            Some((excess.height, excess.x))
        };
        self.pieces().filter_map(below).find(|(by, _)| *by > 0.0)
    }

    /// Every piece of the stroke, in order.
    fn pieces(&self) -> impl Iterator<Item = &Piece> {
        std::iter::once(&self.lead_in).chain(&self.cut).chain(std::iter::once(&self.lead_out))
    }
}

/// The direction in which a piece runs at one of its points.
fn tangent(piece: &Piece, at: Point) -> Point {
    match *piece {
        Piece::Line(l) => Point::new(l.to.x - l.from.x, l.to.z - l.from.z),
        Piece::Arc(Arc { centre, turn: Turn::Clockwise, .. }) => Point::new(at.z - centre.z, centre.x - at.x),
        Piece::Arc(Arc { centre, .. }) => Point::new(centre.z - at.z, at.x - centre.x),
    }
}
