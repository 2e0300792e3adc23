//! Trial rings: rings beside each other on a scrap wheel, each with its own feed, depth and speed, to choose a texture by eye.
//!
//! A job lists them under `trial`. What a ring leaves out is as in the schedule's finish, whose tool cuts all of them. A trial is
//! a separate job ([`Job::for_trial`]): its zones are the rings, and there are no rough passes. The chosen ring's feed goes into the shop
//! file under `textures`.

use super::file::TrialRingFile;
use super::schedule_file::{Known, feed};
use super::source::Node;
use super::{Feed, FinishPass, Job, RunsOff, Schedule, Zone};
use crate::diagnostics::InputError;
use crate::units::{FeedPerRev, Length};

/// One ring of a trial.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialRing {
    /// Its name.
    pub name: String,
    /// Where it is cut.
    pub zone: Zone,
    /// How it is cut: one pass.
    pub finish: FinishPass,
}

impl Job {
    /// The job that cuts the listed trial rings and nothing else; none where it lists none.
    #[must_use]
    pub fn for_trial(&self) -> Option<Self> {
        let deepest = self
            .trial
            .iter()
            .map(|r| &r.finish)
            .max_by(|a, b| a.depth.as_mm().total_cmp(&b.depth.as_mm()))?;
        let speeds = self.trial.iter().map(|r| r.finish.surface_speed);
        let fastest = speeds.fold(deepest.surface_speed, |a, b| if b > a { b } else { a });
        let feed = coarsest(&self.trial).unwrap_or(deepest.feed);
        let finish = FinishPass { surface_speed: fastest, feed, ..deepest.clone() };
        Some(Self {
            tools: self.tools.iter().filter(|t| t.name == finish.tool).cloned().collect(),
            schedule: Schedule { rough: None, finish: Some(finish), ..self.schedule.clone() },
            zones: self.trial.iter().map(|r| r.zone).collect(),
            runs_off: RunsOff::default(),
            touch_off: Some(self.touch_off_radius()),
            rings: self.trial.clone(),
            trial: Vec::new(),
            // A scrap wheel has lost nothing.
            measured_again: None,
            ..self.clone()
        })
    }

    /// The job that cuts one ring of the trial alone.
    #[must_use]
    pub fn for_ring(&self, ring: &TrialRing) -> Self {
        Self {
            schedule: Schedule { rough: None, finish: Some(ring.finish.clone()), ..self.schedule.clone() },
            zones: vec![ring.zone],
            runs_off: RunsOff::default(),
            rings: Vec::new(),
            ..self.clone()
        }
    }

    /// The trial ring at a radius, millimetres, in a job that cuts them.
    #[must_use]
    pub fn ring_at(&self, radius: f64) -> Option<&TrialRing> {
        self.rings.iter().find(|r| r.zone.from.as_mm() <= radius && radius <= r.zone.to.as_mm())
    }
}

/// The coarsest feed, where all are given as feeds or grooves; else one of those that are given by the height of ridges.
fn coarsest(rings: &[TrialRing]) -> Option<Feed> {
    let mut most: Option<f64> = None;
    for ring in rings {
        let feed = match ring.finish.feed {
            Feed::PerRev(feed) => feed.as_mm_per_rev(),
            Feed::Grooves(pitch) => pitch.as_mm(),
            ridges => return Some(ridges),
        };
        most = Some(most.map_or(feed, |m| m.max(feed)));
    }
    most.map(|feed| Feed::PerRev(FeedPerRev::mm_per_rev(feed)))
}

/// The rings that a job lists, each completed from the schedule's finish.
pub(super) fn rings(
    listed: &[TrialRingFile],
    schedule: &Schedule,
    known: &Known<'_>,
    node: &Node,
    errors: &mut Vec<InputError>,
) -> Vec<TrialRing> {
    let Some(finish) = &schedule.finish else {
        if !listed.is_empty() {
            errors.push(node.error_with_found(
                "trial rings for a schedule without `finish`",
                "a schedule whose finish tool cuts the rings",
                "name a schedule that has a finish",
            ));
        }
        return Vec::new();
    };
    let mut rings: Vec<TrialRing> = Vec::new();
    for (ring, item) in listed.iter().zip(node.items()) {
        if rings.iter().any(|r| r.name == ring.name) {
            let name = item.at("name");
            errors.push(name.error("a name of its own", "give every ring another name"));
        }
        let own = ring.feed.is_some() || ring.texture.is_some();
        let feed = if own {
            feed(&finish.tool, (ring.feed, ring.texture.as_ref()), known, item, errors)
        } else {
            Some(finish.feed)
        };
        let Some(feed) = feed else { continue };
        rings.push(TrialRing {
            name: ring.name.clone(),
            zone: Zone { from: ring.from, to: ring.to },
            finish: FinishPass {
                depth: ring.depth.unwrap_or(finish.depth),
                passes: 1,
                spring_passes: 0,
                surface_speed: ring.surface_speed.unwrap_or(finish.surface_speed),
                feed,
                ..finish.clone()
            },
        });
    }
    let depth = |r: &TrialRing| r.finish.depth.as_mm() > 0.0;
    if !rings.iter().all(depth) {
        errors.push(node.error_with_found(
            "a ring of no depth",
            "a depth above zero: a ring that takes nothing shows nothing",
            "give the ring a `depth`",
        ));
    }
    rings.sort_by(|a, b| a.zone.from.as_mm().total_cmp(&b.zone.from.as_mm()));
    rings
}

/// The deepest of rings, millimetres.
#[must_use]
pub fn deepest(rings: &[TrialRing]) -> Length {
    Length::mm(rings.iter().map(|r| r.finish.depth.as_mm()).fold(0.0, f64::max))
}
