//! The touch-offs that a program's comments tell people to make, held against the job: the height that the operator enters moves every cut of that tool.
//!
//! Where a tool touches is found from the metal as the sweep has it when the tool comes in: the nose, grown by a shim or by lacquer, comes to
//! rest on the highest place of the turn. Lacquer stands only where nothing was cut. On a setter the place is the shop's word.

use super::metal::Metal;
use super::tool_shape::ToolShape;
use crate::diagnostics::{Finding, Place, SweepRule, Unit};
use crate::face::Face;
use crate::geometry::Outline;
use crate::job::{Job, Tool};
use std::collections::BTreeMap;

/// Metal this much lower than it was measured has been cut, millimetres.
const CUT: f64 = 1e-4;

/// A touch-off this far from where the job asks for it is at another place, millimetres: more than its rounding to a step of the words.
const ELSEWHERE: f64 = 0.1;

/// A place that a tool is to touch, as the comments of a program say.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::proof) struct TouchSaid {
    /// Where it is said.
    pub(in crate::proof) place: Place,
    /// The tool's number.
    pub(in crate::proof) tool: u32,
    /// Radius and height to be entered of the programmed point, millimetres.
    pub(in crate::proof) at: [f64; 2],
}

/// The heights over all radii that each tool meets as it comes in.
#[derive(Debug, Clone, Default)]
pub(super) struct Grounds(BTreeMap<Option<u32>, Vec<f64>>);

impl Grounds {
    /// A tool comes in, for the first time or again.
    pub(super) fn met_by(&mut self, tool: Option<u32>, metal: &Metal) {
        self.0.entry(tool).or_insert_with(|| metal.now.clone());
    }

    /// Judges what the comments say; the same of one tool once.
    pub(super) fn judge(
        &self,
        said: &[TouchSaid],
        (job, face, already): (&Job, &Face, f64),
        metal: &Metal,
        findings: &mut Vec<Finding>,
    ) {
        let mut told: Vec<(u32, [f64; 2])> = Vec::new();
        for said in said {
            let tool = job.tools.iter().find(|tool| tool.number == said.tool);
            let Some((tool, now)) = tool.zip(self.0.get(&Some(said.tool))) else { continue };
            if told.contains(&(said.tool, said.at)) {
                continue;
            }
            if let Some(found) = at_another_place(said, tool, job) {
                told.push((said.tool, said.at));
                findings.push(found);
                continue;
            }
            let met = (now.as_slice(), metal);
            let Some([low, high]) = touches(said.at[0], tool, (job, face, already), met) else { continue };
            // Rounded down to a step, on a ground that is known within the tolerance of the paths.
            let slack = 2.0 * job.schedule.tolerance.as_mm() + job.control.resolution.as_mm();
            let off = (said.at[1] - high).max(low - said.at[1]);
            if off > slack {
                told.push((said.tool, said.at));
                let should = if said.at[1] > high { high } else { low };
                let what = format!(
                    "the comments say that tool {} touches at radius {:.2} mm at height {:.3} mm; by the job it does at {should:.3} mm",
                    said.tool, said.at[0], said.at[1]
                );
                findings.push(Finding::new(SweepRule::TouchOffElsewhere, said.place, what).measured(
                    off,
                    Some(slack),
                    Unit::Mm,
                ));
            }
        }
    }
}

/// A touch-off at another radius than the job asks for: there may be lacquer or damage.
fn at_another_place(said: &TouchSaid, tool: &Tool, job: &Job) -> Option<Finding> {
    let asked = job.touch_off.filter(|_| job.touching.setter.is_none())?.as_mm();
    let nose = said.at[0] - tool.point_offset().0;
    let what = format!(
        "the comments say that tool {} touches with its nose at radius {nose:.2} mm; the job says at radius {asked:.2} mm",
        said.tool
    );
    let found = Finding::new(SweepRule::TouchOffElsewhere, said.place, what);
    ((nose - asked).abs() > ELSEWHERE).then(|| found.measured(nose, Some(asked), Unit::Mm))
}

/// Between which heights the programmed point may stand when a tool touches at a radius; none off the face.
fn touches(
    x: f64,
    tool: &Tool,
    (job, face, already): (&Job, &Face, f64),
    (now, metal): (&[f64], &Metal),
) -> Option<[f64; 2]> {
    let (dx, dz) = tool.point_offset();
    let touching = &job.touching;
    let shim = touching.shim.as_mm();
    if let Some(setter) = touching.setter {
        let height = setter.z.as_mm() + shim + dz;
        return Some([height; 2]);
    }
    let highest: Vec<f64> = face.highest.at_each(&metal.radii).collect();
    // What passes follow may stand over the highest place, which they have not reached then.
    let met = |i: usize| now[i].min(highest[i]);
    let rests = |film: f64, heights: &dyn Fn(usize) -> f64| {
        let outline = tool.outline();
        let shape = ToolShape::new(&Outline { nose_radius: outline.nose_radius + film, ..outline });
        let standing = |u: f64, height: f64| height - shape.height(u - (x - dx));
        let at_radii = metal.radii.iter().enumerate().map(|(i, &u)| standing(u, heights(i)));
        // A corner of the tool meets a slope between two radii.
        let at_corners = shape.corners().iter().filter_map(|corner| {
            let u = x - dx + corner.w;
            Some(between(&metal.radii, heights, u)? - corner.height)
        });
        at_radii.chain(at_corners).reduce(f64::max).map(|z| z + film + dz)
    };
    let uncut = rests(shim, &|i| highest[i])?;
    let low = rests(shim, &met)?;
    // What programs before have really left where a holder or an edge kept their tools off only the plan knows: it may be all.
    let high = if already > 0.0 { uncut } else { low };
    let lacquer = touching.lacquer.as_mm();
    let with_lacquer = rests(shim + lacquer, &|i| highest[i])?;
    Some(match (lacquer > 0.0, low < uncut - CUT, high < uncut - CUT) {
        (false, ..) | (true, _, true) => [low, high],
        (true, false, false) => [with_lacquer; 2],
        // Nobody knows whether the lacquer is gone there.
        (true, true, false) => [low, with_lacquer],
    })
}

/// The height at a radius between two of those at which it is known; none beyond them.
fn between(radii: &[f64], heights: &dyn Fn(usize) -> f64, at: f64) -> Option<f64> {
    let next = radii.partition_point(|&u| u < at);
    let [low, high] = [*radii.get(next.checked_sub(1)?)?, *radii.get(next)?];
    let share = (at - low) / (high - low);
    Some(heights(next - 1) + share * (heights(next) - heights(next - 1)))
}
