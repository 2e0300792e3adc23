//! Why a plan is refused: the wheel, the schedule or the machine does not allow what was asked.

use crate::fit::FitError;
use crate::job::{ScheduleError, Tool, Zone};
use crate::units::{FeedPerMinute, FeedPerRev, Length, decimals_apart};

/// Why a plan is refused, with the numbers and what to change.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// The schedule has no passes for this wheel, or they take more than it may lose.
    #[error(transparent)]
    Schedule(#[from] ScheduleError),
    /// A zone reaches beyond what was measured.
    #[error(
        "the zone from {from:.d$} to {to:.d$} reaches beyond the face as measured, {start:.d$} to {end:.d$}\n  to mend it: measure the whole zone, or make the zone smaller",
        d = decimals(*from, *to, *start, *end)
    )]
    NotMeasured {
        /// Start of the zone.
        from: Length,
        /// End of the zone.
        to: Length,
        /// Start of the measured face.
        start: Length,
        /// End of the measured face.
        end: Length,
    },
    /// A zone so near to the end of the measurement that the tool has to go beside it.
    #[error(
        "in the zone from {from:.1} to {to:.1} the tool {tool} would go {by:.3} below where the measured face ends, beside it, where nobody knows what stands\n  to mend it: measure further than the zone, or make the zone smaller by the width of the tool and its lead"
    )]
    BesideMeasured {
        /// The tool.
        tool: String,
        /// Start of the zone.
        from: Length,
        /// End of the zone.
        to: Length,
        /// How far it would go.
        by: Length,
    },
    /// The tool cannot touch the face anywhere in a zone.
    #[error(
        "the tool {tool} cannot reach the face in the zone from {from:.1} to {to:.1}: what stands beside it is in the way\n  to mend it: a smaller nose, steeper edges, or a wider zone"
    )]
    Unreachable {
        /// The tool.
        tool: String,
        /// Start of the zone.
        from: Length,
        /// End of the zone.
        to: Length,
    },
    /// The holder meets the face before the nose does, over most of a zone.
    #[error(
        "over {held:.1} of the zone from {from:.1} to {to:.1} the holder of the tool {tool} meets the face before its nose does\n  to mend it: a tool with longer edges or a narrower holder, or correct `edge_length` and `holder` of this one; or a zone that is less hollow"
    )]
    HeldOff {
        /// The tool.
        tool: String,
        /// Start of the zone.
        from: Length,
        /// End of the zone.
        to: Length,
        /// Over how much of it.
        held: Length,
    },
    /// A touch-off where no metal is.
    #[error(
        "the tools are touched off at radius {at:.1}, in the window from {from:.1} to {to:.1}, where no metal is\n  to mend it: name a radius on the face under `touch_off`"
    )]
    TouchOffInWindow {
        /// Where.
        at: Length,
        /// Inner edge of the window.
        from: Length,
        /// Outer edge.
        to: Length,
    },
    /// A window that a tool cannot run off into.
    #[error(
        "the tool {tool} has no room to run off the zone from {zone_from:.1} to {zone_to:.1} into the window from {from:.1} to {to:.1}: on its way past the edge, at radius {at:.1}, it comes within {room:.1} of the metal of the other side\n  to mend it: run off into wider windows only and write a radius without `edge` at both sides of this one, where the tool then lifts off; or a tool with a smaller nose, steeper edges or a narrower holder",
        zone_from = .zone[0], zone_to = .zone[1], from = .window[0], to = .window[1]
    )]
    NarrowWindow {
        /// The tool.
        tool: String,
        /// The ends of the zone.
        zone: [Length; 2],
        /// The edges of the window.
        window: [Length; 2],
        /// Where its front point stands then.
        at: Length,
        /// What must be between the tool and the other side.
        room: Length,
    },
    /// The tool would enter a keep-out.
    #[error(
        "the tool {tool} would enter the keep-out {name} by {by:.3} at radius {at:.1}\n  to mend it: end the zone earlier, or correct the keep-out if it is drawn too large"
    )]
    KeepOut {
        /// The tool.
        tool: String,
        /// The keep-out.
        name: String,
        /// How far.
        by: Length,
        /// Where the tool stands then.
        at: Length,
    },
    /// A motion leaves the machine's travel.
    #[error(
        "the tool {tool} would have to go to x {x:.3} (radius), z {z:.3}, beyond the machine's travel of x {} to {}, z {} to {}\n  to mend it: check travel and park in the shop file, which count from the scans' zero (the axis, and the height that the scans call 0), not from the machine's; and the zones",
        travel_x[0], travel_x[1], travel_z[0], travel_z[1]
    )]
    Travel {
        /// The tool.
        tool: String,
        /// Programmed radius.
        x: Length,
        /// Programmed height.
        z: Length,
        /// The machine's least and greatest radius.
        travel_x: [Length; 2],
        /// The machine's least and greatest height.
        travel_z: [Length; 2],
    },
    /// The park is not above everything.
    #[error(
        "the park stands at z {park:.3}, but crossing to the face needs z {needed:.3}\n  to mend it: set a higher park z in the shop file (it counts from the height that the scans call 0, not from the machine's zero), or a lower air pass in the schedule"
    )]
    ParkTooLow {
        /// Height of the park.
        park: Length,
        /// What is needed.
        needed: Length,
    },
    /// The air pass would come too near to the metal as it stands before the first pass.
    #[error(
        "the air pass with the tool {tool} would run {height:.3} above a first pass that goes {depth:.3} deep along the axis at radius {at:.1}: it would stand {gap:.3} above the metal there, and {least} at least must stay between them\n  to mend it: raise `height` under `air` of the schedule to {needed:.3} at least, or lessen the `depth` of the pass",
        least = crate::job::LEAST_AIR_GAP
    )]
    AirTooLow {
        /// The tool.
        tool: String,
        /// How far the air pass runs above the first pass.
        height: Length,
        /// How far that goes below the metal there, along the axis.
        depth: Length,
        /// How far the air pass would stand above the metal; below zero where it would cut.
        gap: Length,
        /// The height that is needed.
        needed: Length,
        /// Where.
        at: Length,
    },
    /// The feed is faster than the machine's.
    #[error(
        "the feed reaches {feed:.0} at the fastest spindle speed, beyond the machine's limit of {limit:.0}\n  to mend it: a smaller feed, or a lower speed limit"
    )]
    FeedLimit {
        /// What it reaches.
        feed: FeedPerMinute,
        /// The limit.
        limit: FeedPerMinute,
    },
    /// A feed at which the edge rubs, or leaves metal between the turns.
    #[error(
        "a feed of {feed} with a nose radius of {nose} only rubs, or leaves metal between the turns\n  to mend it: a feed from 0.005 mm/rev up to the nose radius, or a texture that asks for one"
    )]
    FeedRange {
        /// The feed.
        feed: FeedPerRev,
        /// The nose radius.
        nose: Length,
    },
    /// The tool would be touched off inside a keep-out.
    #[error(
        "the touch-off at radius {at:.1} lies in the keep-out {name}, {from:.1} to {to:.1}\n  to mend it: name another radius under `touch_off`, or correct the `keep_out` if it is drawn too large"
    )]
    TouchOffKeptOut {
        /// Where it would be touched off.
        at: Length,
        /// Name of the keep-out.
        name: String,
        /// The least radius of the keep-out.
        from: Length,
        /// The greatest radius of the keep-out.
        to: Length,
    },
    /// The tool would be touched off where nothing was measured.
    #[error(
        "the touch-off at radius {at:.1} lies off the face as measured, {start:.1} to {end:.1}\n  to mend it: name a radius on the face under `touch_off`"
    )]
    TouchOff {
        /// Where it would be touched off.
        at: Length,
        /// Start of the measured face.
        start: Length,
        /// End of the measured face.
        end: Length,
    },
    /// A texture that no feed worth a word gives.
    #[error(
        "the texture asked for needs a feed under the smallest the control can name\n  to mend it: ask for a rougher texture or a larger nose"
    )]
    TextureTooFine,
    /// A surface speed that asks for less than one revolution a minute, where the control wants whole spindle speeds.
    #[error(
        "at radius {at:.1} the surface speed comes to less than one revolution a minute, and no whole spindle speed is that low\n  to mend it: raise the surface speed, or use a control that holds it"
    )]
    SpindleSteps {
        /// Where.
        at: Length,
    },
    /// The path cannot be written inside its tolerance.
    #[error("the path cannot be written for this control: {0}")]
    Tube(#[from] FitError),
}

impl PlanError {
    /// A tool that meets the face nowhere in the zones.
    pub(super) fn unreachable(tool: &Tool, zones: &[Zone]) -> Self {
        let [from, to] = [zones.first().map(|z| z.from), zones.last().map(|z| z.to)];
        Self::Unreachable {
            tool: tool.name.clone(),
            from: from.unwrap_or_default(),
            to: to.unwrap_or_default(),
        }
    }
}

/// Decimal places that show by how little a zone reaches beyond a measurement.
fn decimals(from: Length, to: Length, start: Length, end: Length) -> usize {
    let (beyond, edge) = if from < start { (from, start) } else { (to, end) };
    decimals_apart(beyond.as_mm(), edge.as_mm(), 1)
}
