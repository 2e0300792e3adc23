//! The passes of each tool with their strokes fitted, while the paths of the next tool are found.
//!
//! The paths of a tool hang on those of the tool before it, the fit on nothing but its own path: so the fit of one tool and the paths of
//! the next are worked on side by side. Where passes are the same path moved down, only the last is fitted from nothing: what it leaves hangs on
//! the depth that it comes to alone, and so it is the same whether the passes before it ran in this program or in another.

use super::pass_paths::{PassPath, PassPaths, ToolPasses};
use super::passes::ToolContexts;
use super::tool_context::Stroke;
use super::{Pass, PassKind, PlanError};
use crate::geometry::Curve;
use crate::job::{ScheduleError, Tool};
use crate::units::Length;
use rayon::prelude::*;

/// The passes with one tool in a row, as they will run.
pub(super) struct FittedTool<'j> {
    paths: ToolPasses<'j>,
    kind: PassKind,
    air: Pass,
    /// The strokes of each pass, and the pass.
    passes: Vec<(Vec<Stroke>, Pass)>,
}

impl<'j> FittedTool<'j> {
    fn new(paths: ToolPasses<'j>, contexts: &ToolContexts) -> Result<Self, PlanError> {
        let nothing = || PlanError::Schedule(ScheduleError::NothingToDo);
        let mut over_all_zones = paths.passes.iter().filter(|p| p.only_at.is_none());
        let first = over_all_zones.next().ok_or_else(nothing)?;
        let last = over_all_zones.next_back().unwrap_or(first);
        let known = contexts.of(last.depth.kind)?.strokes(&last.path, None)?;
        let deeper = |total: Length| Length::mm(total.as_mm() - last.total.as_mm());
        // The other passes go on from the fit of the last, since their paths are that path moved up, but for the ends.
        let pass = |pass: &PassPath| {
            let PassPath { depth, total, path, only_at, chips } = pass;
            let context = contexts.of(depth.kind)?;
            let strokes = match only_at {
                Some(places) => context.strokes_at(path, places)?,
                None if std::ptr::eq(last, pass) => known.clone(),
                None => context.strokes(path, Some((&known, deeper(*total))))?,
            };
            let mut pass = context.pass(&strokes, *depth, *total)?;
            pass.figures.chip_volume = chips.unwrap_or(pass.figures.chip_volume);
            Ok((strokes, pass))
        };
        let passes: Result<Vec<(Vec<Stroke>, Pass)>, PlanError> = paths.passes.par_iter().map(pass).collect();
        let passes = passes?;
        let (strokes, next) = passes.first().ok_or_else(nothing)?;
        let shown = paths.shown.as_ref();
        let context = contexts.of(first.depth.kind)?;
        let shown =
            shown.map(|path| context.strokes(path, Some((&known, deeper(first.total))))).transpose()?;
        let kind = first.depth.kind;
        let dry = shown.as_ref().unwrap_or(strokes);
        context.air_stays_clear(dry, &paths.met)?;
        let air = context.air_pass(dry, next, paths.begins)?;
        Ok(Self { paths, kind, air, passes })
    }

    /// The tool.
    pub const fn tool(&self) -> &Tool {
        self.paths.tool
    }

    /// The surface that it meets.
    pub const fn met(&self) -> &Curve {
        &self.paths.met
    }

    /// What its first pass over all zones is for.
    pub const fn kind(&self) -> PassKind {
        self.kind
    }

    /// How deep the face lies after it.
    pub fn total(&self) -> Length {
        self.passes.last().map_or(self.paths.begins, |(_, pass)| pass.total)
    }

    /// Its passes in the order in which they run, the air pass first.
    pub fn passes(&self) -> impl Iterator<Item = &Pass> {
        std::iter::once(&self.air).chain(self.passes.iter().map(|(_, pass)| pass))
    }

    /// The strokes of each pass that goes over all zones.
    pub fn over_all_zones(&self) -> impl Iterator<Item = &[Stroke]> {
        let all = self.paths.passes.iter().zip(&self.passes).filter(|(path, _)| path.only_at.is_none());
        all.map(|(_, (strokes, _))| strokes.as_slice())
    }

    /// The strokes of its last pass.
    pub fn last_strokes(&self) -> &[Stroke] {
        self.passes.last().map_or(&[], |(strokes, _)| strokes)
    }
}

/// All tools of a plan, of which the paths of the first are known, and the surface that the last of them leaves.
///
/// # Errors
/// If a path cannot be fitted or run as asked.
pub(super) fn fitted_tools<'j>(
    first: Option<ToolPasses<'j>>,
    mut paths: PassPaths<'j>,
    contexts: &ToolContexts,
) -> Result<(Vec<FittedTool<'j>>, Curve), PlanError> {
    let Some(first) = first else { return Ok((Vec::new(), paths.left())) };
    let (fitted, later) = rayon::join(
        || FittedTool::new(first, contexts),
        || {
            let next = paths.next_tool()?;
            fitted_tools(next, paths, contexts)
        },
    );
    let fitted = fitted?;
    let (mut tools, left) = later?;
    tools.insert(0, fitted);
    Ok((tools, left))
}
