//! Where a tool is touched off, and where it may be touched again to see whether it was set right.
//!
//! The ground is the path of the tool over what it stands on: the face as measured, or what the tools before it left. A shim or a
//! film of lacquer lifts the tool: the nose then rolls on a surface parallel to the metal, as a nose larger by the film does on the
//! metal itself, and stands one film higher (ISO 16610-41: dilations by disks add up). Over a flat that is the film's thickness
//! exactly, over a slope s it is √(1 + s²) times that.
//!
//! Lacquer stands only on metal that nobody has cut. So a tool that is touched off later in the program, or in a program that goes on, where
//! metal was taken, meets bare metal there.
//!
//! A place is offered for the check only where the survey vouches for the metal: no damage near, metal on every line, a witness. And
//! only where the tool can stand: clear of every keep-out.

use super::surface;
use crate::face::Touch;
use crate::face::model::WheelModel;
use crate::face::touch_check::{self, Choice, Ground, Known, TouchPoint};
use crate::geometry::{Curve, Grid, Outline, envelope};
use crate::job::{Job, Tool, UnitWord};
use crate::units::MM_PER_INCH;

/// Places are looked at this far apart, millimetres, so that an operator dials round numbers: radii and diameters with one decimal at most
/// in the shop's own unit.
const fn step(unit: UnitWord) -> f64 {
    if unit.is_inch() { MM_PER_INCH / 10.0 } else { 2.0 }
}

/// So far from damage, holes and ends of the face a place must lie, millimetres: the error in X that is looked for, and a nose's width.
const CLEAR: f64 = 3.0;

/// How many places the table has: one more than there are unknowns, so that one touch that went wrong shows.
pub const PLACES: usize = 4;

/// Heights known are kept this far apart, millimetres: the face's own error changes little within it.
const KNOWN_STEP: f64 = 1.0;

/// What a tool is touched on.
#[derive(Debug, Clone, PartialEq)]
pub struct TouchGround {
    /// What the tool is touched on.
    surface: Curve,
    /// Where the front point stands when the tool, grown by the film, touches; the film not yet added.
    path: Curve,
    outline: Outline,
    /// Thickness of shim and lacquer, millimetres.
    film: f64,
    /// How well the surface is known at each radius.
    known: Vec<Known>,
    known_from: f64,
    /// Whether it was cut since it was surveyed.
    cut: bool,
    /// Where lacquer still stands, if there was any.
    lacquer: Option<Lacquer>,
}

/// Which places of a ground lacquer stands on: the metal that was taken took it along.
#[derive(Debug, Clone, PartialEq)]
struct Lacquer {
    /// The path of the tool, grown by the film, over the face as it stands.
    now: Curve,
    /// The same over the face as measured.
    measured: Curve,
    /// Whether it is reckoned into the film.
    stands: bool,
}

/// Metal this much lower than it was measured has been cut, millimetres: more than curves are off by, less than any pass takes.
const CUT: f64 = 1e-4;

impl TouchGround {
    /// The ground of a tool on a surface; with a film between the two of a thickness in millimetres; none where the tool meets it nowhere.
    #[must_use]
    pub fn new(surface: &Curve, tool: &Outline, film: f64) -> Option<Self> {
        let outline = Outline { nose_radius: tool.nose_radius + film, ..*tool };
        let path = envelope::dilate(surface, &outline, [surface.start(), surface.end()])?;
        Some(Self {
            surface: surface.clone(),
            path,
            outline,
            film,
            known: Vec::new(),
            known_from: 0.0,
            cut: false,
            lacquer: None,
        })
    }

    /// The same on a face measured under lacquer, some of which may have gone with the metal under it; what is told is whether the tool touches off
    /// on lacquer. Only where the answer is the same is it touched again. None where the tool meets the face nowhere.
    #[must_use]
    pub fn under_lacquer(self, [stands_now, measured]: [&Curve; 2], stands: bool) -> Option<Self> {
        let over = |face: &Curve| envelope::dilate(face, &self.outline, [face.start(), face.end()]);
        let lacquer = Lacquer { now: over(stands_now)?, measured: over(measured)?, stands };
        Some(Self { lacquer: Some(lacquer), ..self })
    }

    /// The surface that it is.
    #[must_use]
    pub const fn surface(&self) -> &Curve {
        &self.surface
    }

    /// Whether this ground has been cut below another at a place.
    #[must_use]
    pub fn is_below(&self, other: &Self, at: f64) -> bool {
        self.path.at(at) < other.path.at(at) - CUT
    }

    /// Whether the film at a place is the one that is reckoned with.
    fn has_the_film(&self, at: f64) -> bool {
        let Some(Lacquer { now, measured, stands }) = &self.lacquer else { return true };
        (now.at(at) < measured.at(at) - CUT) != *stands
    }

    /// The same on a surface that has been cut, known within a tolerance in millimetres.
    #[must_use]
    pub fn cut_within(self, tolerance: f64) -> Self {
        // As likely anywhere within the tolerance.
        self.cut_known(tolerance / 12_f64.sqrt())
    }

    /// The same on a surface that has been cut and is known with a standard error in millimetres.
    #[must_use]
    pub fn cut_known(self, own: f64) -> Self {
        Self { known: vec![Known { own, ..Known::default() }], cut: true, ..self }
    }

    /// The same with what the survey's model knows of the face, unless it has been cut since.
    #[must_use]
    pub fn surveyed(mut self, model: &WheelModel) -> Self {
        if self.cut {
            return self;
        }
        let round = model.round();
        let across = model.eccentricity.map_or(0.0, |e| e.error);
        self.known_from = self.path.start();
        let mut r = self.known_from;
        while r <= self.path.end() {
            let own = model.face_error_at(r);
            // The survey tells two standard errors of the highest place, the face's own among them.
            let all = round.at(r).uncertainty / 2.0;
            let shared = (all * all - own * own).max(0.0).sqrt();
            self.known.push(Known { own, shared, across });
            r += KNOWN_STEP;
        }
        self
    }
}

impl Ground for TouchGround {
    fn touch(&self, at: f64) -> Touch {
        if at < self.path.start() || at > self.path.end() {
            return Touch { z: f64::NEG_INFINITY, contact: at };
        }
        let contact = surface::contact_at(&self.path, &self.outline, at);
        Touch { z: self.path.at(at) + self.film, contact }
    }

    fn known(&self, contact: f64) -> Known {
        let steps = ((contact - self.known_from) / KNOWN_STEP).round();
        let last = self.known.len().saturating_sub(1);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Clamped to the table.
        let i = steps.clamp(0.0, last as f64) as usize;
        self.known.get(i).copied().unwrap_or_default()
    }
}

/// The places where a tool of a job tells most; none where the surveyed metal has not enough of them.
#[must_use]
pub fn choose(job: &Job, tool: &Tool, ground: &TouchGround, model: &WheelModel) -> Option<Choice> {
    let points = candidates(job, &job.control.grid(tool), ground, model);
    touch_check::choose(&points, PLACES)
}

/// Every place that the survey vouches for.
fn candidates(job: &Job, grid: &Grid, ground: &TouchGround, model: &WheelModel) -> Vec<TouchPoint> {
    let [start, end] = [ground.path.start(), ground.path.end()];
    let mut points = Vec::new();
    let step = step(job.control.unit_word);
    // Whole steps, not a sum of them: it would drift off round places.
    let mut steps = ((start + CLEAR) / step).ceil();
    let mut wanted = steps * step;
    while wanted <= end - CLEAR {
        let at = grid.nearest_x(wanted);
        let point = touch_check::point(ground, at, job.touching.repeats.as_mm());
        points.extend(
            point.filter(|p| sound(job, model, p.contact) && stands_free(job, at) && ground.has_the_film(at)),
        );
        steps += 1.0;
        wanted = steps * step;
    }
    points
}

/// Whether the metal round a radius is as the survey says, all round the wheel.
fn sound(job: &Job, model: &WheelModel, r: f64) -> bool {
    let near = |from: f64, to: f64| from - CLEAR <= r && r <= to + CLEAR;
    let dents = model.damage.iter().map(|d| d.stretch);
    let holes = model.no_metal.iter().flatten().copied();
    let unseen = model.unwitnessed.iter().map(|u| u.stretch);
    let contested = model.contested.iter().map(|c| c.stretch);
    let listed = job.damage.iter().any(|d| near(d.from.as_mm(), d.to.as_mm()));
    !listed && !dents.chain(holes).chain(unseen).chain(contested).any(|s| near(s.from, s.to))
}

/// Whether no keep-out lies over a radius.
fn stands_free(job: &Job, at: f64) -> bool {
    let at = crate::units::Length::mm(at);
    !job.keep_out.iter().any(|k| k.holds_radius(at))
}
