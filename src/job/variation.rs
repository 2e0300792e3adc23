//! What a person varies for one program, without editing the files: another schedule, the next passes alone, their depth, feed, speed.
//!
//! After a pass the operator looks and says: one more like that; a bit deeper; now the finish. The values are put into the trees of the
//! files before these are read, so that every check between values holds for them too; an error names the option in place of a file.

use super::Schedule;
use super::node::quoted;
use super::passes::Counted;
use super::schedule::PassCount;
use super::source::{Key, Node, Place, Shape, Source};
use crate::diagnostics::InputError;
use std::rc::Rc;

/// The passes that come next, whatever was cut before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NextPasses {
    /// Rough passes.
    Rough,
    /// The finish passes of the schedule, and its spring passes.
    Finish,
}

/// What is varied for one program. Values are given as in the files, with their units.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Variation {
    /// A schedule of the shop file in place of the job's.
    pub schedule: Option<String>,
    /// Only these passes, counted from the face as it stands.
    pub next: Option<NextPasses>,
    /// How many; if not given, one rough pass, or as many finish passes as the schedule has.
    pub passes: Option<String>,
    /// Depth of each of the next passes.
    pub depth: Option<String>,
    /// Feed of the next passes.
    pub feed: Option<String>,
    /// Surface speed of the next passes.
    pub surface_speed: Option<String>,
    /// Texture that the next passes leave, in place of a feed.
    pub texture: Option<String>,
}

/// The options whose values are put into the files' trees.
const OPTIONS: [&str; 6] = ["--schedule", "--passes", "--depth", "--feed", "--surface-speed", "--texture"];

impl Variation {
    /// Puts another schedule's name into the job.
    pub(super) fn name_schedule(&self, job: &mut Node) {
        if let Some(name) = &self.schedule {
            job.put("schedule", "--schedule", name);
        }
    }

    /// Puts the values of the next passes into their schedule, in whichever of the two files it stands.
    pub(super) fn vary_passes(&self, job: &mut Node, shop: &mut Node) -> Result<(), InputError> {
        let Some(next) = self.next else { return Ok(()) };
        let kind = match next {
            NextPasses::Rough => "rough",
            NextPasses::Finish => "finish",
        };
        let one = (next == NextPasses::Rough).then(|| "1".to_owned());
        let named = job.under("schedule").and_then(|n| n.text().ok()).map(str::to_owned);
        let schedule = match &named {
            Some(name) => shop.under_mut("schedules").and_then(|all| all.under_mut(name)),
            None => job.under_mut("schedule"),
        };
        // A schedule that is missing is told by whoever reads it.
        let Some(schedule) = schedule else { return Ok(()) };
        if !schedule.has(kind) {
            return Err(no_such_passes(schedule, kind));
        }
        let Some(passes) = schedule.under_mut(kind) else { return Ok(()) };
        for (key, option, value) in [
            ("passes", "--passes", &self.passes.clone().or(one)),
            ("depth", "--depth", &self.depth),
            ("feed", "--feed", &self.feed),
            ("surface_speed", "--surface-speed", &self.surface_speed),
            ("texture", "--texture", &self.texture),
        ] {
            if let Some(value) = value {
                passes.put(key, option, value);
            }
        }
        // Feed and texture are two ways to say one thing: the one that was given counts.
        match (&self.feed, &self.texture) {
            (Some(_), None) => passes.remove("texture"),
            (None, Some(_)) => passes.remove("feed"),
            _ => {}
        }
        Ok(())
    }

    /// Counts the passes from the face as it stands.
    pub(super) fn count_from_here(&self, schedule: &mut Schedule) {
        let Some(next) = self.next else { return };
        schedule.counted = Counted::FromHere(next);
        // The rough tool stays known: it left the metal that the finish meets.
        if let (NextPasses::Finish, Some(rough)) = (next, &mut schedule.rough) {
            rough.passes = PassCount::Count(0);
        }
    }
}

fn no_such_passes(schedule: &Node, kind: &str) -> InputError {
    let other = if kind == "rough" { "finish" } else { "rough" };
    schedule.error_with_found(
        format!("a schedule without {}", quoted([kind])),
        format!("a schedule with {} passes, since the next passes are to be of that kind", quoted([kind])),
        format!(
            "ask for {} passes next, name another schedule with --schedule, or add the passes",
            quoted([other])
        ),
    )
}

impl Node {
    pub(super) fn under_mut(&mut self, key: &str) -> Option<&mut Self> {
        let Shape::Group(entries) = &mut self.shape else { return None };
        entries.iter_mut().find(|n| n.is_under(key))
    }

    /// Sets a key of this group to a text from the command line; errors about it name the option.
    fn put(&mut self, key: &str, option: &str, written: &str) {
        let Shape::Group(entries) = &mut self.shape else { return };
        // Without a line: an option has none.
        let place = Place { line: 0, column: 0 };
        // No other node has this number: the nodes of a file are counted from 1.
        let number = usize::MAX - OPTIONS.iter().position(|o| *o == option).unwrap_or(OPTIONS.len());
        let node = Self {
            file: Rc::new(Source { path: option.into(), text: String::new(), twice: Vec::new() }),
            number,
            key: Some(Key { text: key.to_owned(), place }),
            place,
            written: written.to_owned(),
            shape: Shape::Text,
        };
        match entries.iter_mut().find(|n| n.is_under(key)) {
            Some(old) => *old = Self { number: old.number, ..node },
            None => entries.push(node),
        }
    }

    pub(super) fn remove(&mut self, key: &str) {
        if let Shape::Group(entries) = &mut self.shape {
            entries.retain(|n| !n.is_under(key));
        }
    }
}
