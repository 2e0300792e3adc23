//! What a pass costs and leaves, from its motions as the control will run them.
//!
//! The same numbers stand in the account, in the program's header, in the proof and on the sheet. So they are those of
//! the written words: speeds and feed as the words name them, the stepped spindle speeds where there are
//! any, and surface speed held at the programmed X, which for a corner of the tool is not that of the nose centre.

use super::spindle::{SpindleLaw, spiral_length};
use super::{Figures, Motion, Operation, Role, texture};
use crate::geometry::Piece;
use crate::job::{Job, Tool, WayHome};
use crate::units::{FeedPerRev, Length, Speed, Time};

/// How long the motions of a program with these operations take: its passes, and where the control goes home by G28 the way there after each
/// tool and the way back to the park before the next. Account, head, proof and page all mean this time: every motion, no stop, no wait, and not
/// the way of the first tool to the park, which depends on where it stood.
#[must_use]
pub fn time_of(job: &Job, operations: &[Operation]) -> Time {
    let passes = operations.iter().flat_map(|o| &o.passes).map(|p| p.figures.time().as_s()).sum::<f64>();
    let home = job.machine.reference.filter(|_| job.control.traits.way_home == WayHome::G28);
    let Some([x, z]) = home.map(|home| home.map(Length::as_mm)) else { return Time::s(passes) };
    let (across, along) = ((x - job.machine.park_x.as_mm()).abs(), (z - job.machine.park_z.as_mm()).abs());
    let count = operations.len() as f64;
    // There both axes at once; back one after the other, as every way to the park.
    let way = across.max(along) * count + (across + along) * (count - 1.0).max(0.0);
    Time::s(passes + 60.0 * way / job.machine.rapid.as_mm_per_min())
}

/// Under what conditions a pass is run.
#[derive(Debug, Clone, Copy)]
pub(super) struct Conditions<'a> {
    /// The tool.
    pub tool: &'a Tool,
    /// Spindle speed by the programmed radius, where motions have none of their own.
    pub law: SpindleLaw,
    /// Feed of all but rapids.
    pub feed: FeedPerRev,
    /// Rapid traverse.
    pub rapid: Speed,
}

impl Conditions<'_> {
    /// The figures of motions, but for chips.
    pub fn figures(&self, motions: &[Motion]) -> Figures {
        let pieces = |rapid: bool| {
            motions
                .iter()
                .filter(move |m| (m.role == Role::Rapid) == rapid)
                .map(|m| m.piece)
                .collect::<Vec<_>>()
        };
        let (fed, rapid) = (pieces(false), pieces(true));
        let length = |pieces: &[Piece]| pieces.iter().map(Piece::length).sum::<f64>();
        let nose = self.tool.nose_radius;
        let [slowest, fastest] = self.speeds(motions);
        Figures {
            feed_time: Time::s(motions.iter().map(|m| self.seconds(m)).sum()),
            rapid_time: Time::s(60.0 * length(&rapid) / self.rapid.as_mm_per_min()),
            path_length: Length::mm(length(&fed)),
            spiral_length: spiral_length(&fed, self.feed),
            chip_volume: 0.0,
            slowest,
            fastest,
            rz: texture::scallop(self.feed, nose),
            ra: texture::mean_roughness(self.feed, nose),
        }
    }

    /// The time of a motion at feed; nothing for a rapid.
    fn seconds(&self, motion: &Motion) -> f64 {
        match (motion.role, motion.speed) {
            (Role::Rapid, _) => 0.0,
            (_, Some(speed)) => 60.0 * motion.piece.length() / (self.feed.as_mm_per_rev() * speed.as_rpm()),
            (_, None) => self.law.time(&[self.programmed(&motion.piece)], self.feed).as_s(),
        }
    }

    /// A piece as the path of the programmed point.
    fn programmed(&self, piece: &Piece) -> Piece {
        let (dx, dz) = self.tool.point_offset();
        piece.shifted(dx, dz)
    }

    /// The slowest and the fastest spindle speed at feed.
    fn speeds(&self, motions: &[Motion]) -> [crate::units::SpindleSpeed; 2] {
        let at_feed = motions.iter().filter(|m| m.role != Role::Rapid);
        let speeds = at_feed.flat_map(|m| {
            let piece = self.programmed(&m.piece);
            [piece.from().x, piece.to().x].map(|x| m.speed.unwrap_or_else(|| self.law.at(Length::mm(x))))
        });
        speeds.fold([self.law.limit, crate::units::SpindleSpeed::rpm(0.0)], |[low, high], n| {
            [if n < low { n } else { low }, if n > high { n } else { high }]
        })
    }
}
