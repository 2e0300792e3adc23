//! What the last tool could have reached, found without any path: the face lowered by the depth of the pass, closed by the tool.
//!
//! The tool stands lowest at v where `p(v) = max over u of f(u) − T(u − v)` touches f, and leaves
//! `q(u) = min over v of p(v) + T(u − v)`. The first is the second turned upside down with the tool mirrored,
//! so both come from the same search ([`super::tree`]). Between the radii looked at p is taken as
//! straight: too low by [`super::metal::HIDDEN`] at most, so that a little too much is told as left, never too little.

use super::metal::Metal;
use super::shape::Shape;
use super::stroke::Stroke;
use super::tree::Tree;
use crate::face::Face;
use crate::geometry::{Holder, Outline, Point};
use crate::job::{Job, Tool};

/// Heights that the tool leaves at every radius looked at when its path lies `depth` below the face everywhere in the zones.
#[must_use]
pub fn reachable(face: &Face, job: &Job, tool: &Tool, depth: f64) -> Vec<f64> {
    let wanted = Metal::new(face, job, depth);
    let outline = tool.outline();
    let upside_down: Vec<f64> = wanted.now.iter().map(|z| -z).collect();
    let path: Vec<f64> = along(&wanted.radii, &upside_down, &Shape::new(&mirrored(&outline)))
        .into_iter()
        .map(|z| -z)
        .collect();
    along(&wanted.radii, &path, &Shape::new(&outline))
}

/// The lowest of a tool over each radius whose front point runs along a curve of straight lines.
fn along(radii: &[f64], heights: &[f64], shape: &Shape) -> Vec<f64> {
    let points: Vec<Point> = radii.iter().zip(heights).map(|(&u, &z)| Point::new(u, z)).collect();
    let pairs = points.windows(2).enumerate();
    let strokes = pairs.filter_map(|(i, p)| Some(Stroke::line(*p.first()?, *p.last()?, i)));
    let tree = Tree::new(strokes.collect());
    let mut near = 0;
    radii.iter().map(|&u| tree.lowest(shape, u, &mut near).z).collect()
}

fn mirrored(outline: &Outline) -> Outline {
    Outline {
        inner_edge: outline.outer_edge,
        outer_edge: outline.inner_edge,
        holder: outline.holder.map(|h| Holder { inner: h.outer, outer: h.inner }),
        ..*outline
    }
}
