//! The motions as data for the page's script: one JSON value.

use super::Sheet;
use super::listing::Listing;
use super::passes::Pass;
use super::text::{plain, short};
use crate::diagnostics::text::escaped_json;
use crate::geometry::{Curve, Outline, Piece, Point, Turn};
use crate::job::Tool;
use crate::proof::{Feed, MovementKind, Spindle};
use crate::units::{SpindleSpeed, SurfaceSpeed};
use serde::Serialize;
use serde_json::{Value, json};

/// Greatest distance of the drawn chords from the nose, millimetres.
const NOSE_WITHIN: f64 = 0.002;

/// Height that a tool is drawn above its edges, millimetres.
const SHANK: f64 = 3.0;

/// The tool, spindle and feed in force during a motion. Many motions share one.
#[derive(PartialEq)]
struct InForce {
    tool: Option<u32>,
    spindle: Spindle,
    feed: Feed,
}

/// The data that the script reads.
#[derive(Serialize)]
struct Data {
    /// Middle of the picture (x, z), its width in millimetres, how much taller heights are drawn.
    view: [Value; 4],
    /// Number, name, outline relative to the programmed point.
    tools: Vec<Value>,
    /// Tool; spindle: 0 off, 1 fixed speed, 2 surface speed; that speed (rpm or mm/min); limit (rpm, 0 for none); feed;
    /// unit of the feed: 0 none, 1 per revolution, 2 per minute.
    force: Vec<Value>,
    /// First and last motion, name, depth.
    passes: Vec<Value>,
    /// Flat: row, kind (0 rapid, 1 line, 2 clockwise arc, 3 counter-clockwise arc; plus 10 where it does not start at the end of the one
    /// before: then its start follows after the stops), index into `force`, seconds (−1 for none), stops before, end x, end z, centre x and z of arcs.
    moves: Vec<Value>,
}

/// The data as JSON in which no tag can begin; `view` is middle x, middle z, width, and the factor by which heights are stretched.
pub(super) fn json_text(
    sheet: &Sheet<'_>,
    passes: &[Pass<'_>],
    listing: &Listing<'_>,
    view: [f64; 4],
) -> String {
    let mut states: Vec<InForce> = Vec::new();
    let mut moves: Vec<Value> = Vec::new();
    let mut pen: Option<Point> = None;
    for step in &listing.steps {
        let m = &step.movement;
        let state = InForce { tool: m.tool, spindle: m.spindle, feed: m.feed };
        let at = states.iter().rposition(|f| *f == state).unwrap_or_else(|| {
            states.push(state);
            states.len() - 1
        });
        let kind = match (m.kind, &m.piece) {
            (MovementKind::Rapid, _) => 0,
            (MovementKind::Feed, Piece::Line(_)) => 1,
            (MovementKind::Feed, Piece::Arc(a)) if a.turn == Turn::Clockwise => 2,
            (MovementKind::Feed, Piece::Arc(_)) => 3,
        };
        let (from, to) = (m.piece.from(), m.piece.to());
        let jump = if pen == Some(from) { 0 } else { 10 };
        let seconds = step.seconds.map_or_else(|| (-1).into(), |s| rounded(s, 3));
        let stops = u64::from(m.stops_before.0) + u64::from(m.stops_before.1);
        moves.extend([step.row.into(), (kind + jump).into(), at.into(), seconds, stops.into()]);
        if jump > 0 {
            moves.extend(place(from, 4));
        }
        moves.extend(place(to, 4));
        if let (Piece::Arc(a), 2 | 3) = (&m.piece, kind) {
            moves.extend(place(a.centre, 4));
        }
        pen = Some(to);
    }
    let [x, z, width, stretch] = view;
    let data = Data {
        view: [rounded(x, 3), rounded(z, 3), rounded(width, 4), rounded(stretch, 0)],
        tools: sheet.job.tools.iter().map(tool).collect(),
        force: states.iter().map(in_force).collect(),
        passes: passes
            .iter()
            .filter(|p| !p.steps.is_empty())
            .map(|p| json!([p.steps.start, p.steps.end - 1, p.name, p.swept.lies.map(|d| rounded(d, 4))]))
            .collect(),
        moves,
    };
    // Serializing numbers and text cannot fail. No text may contain the end tag of a script element.
    let text = serde_json::to_string(&data).unwrap_or_default();
    escaped_json(&text).replace('<', "\\u003c").replace('>', "\\u003e")
}

/// A number with at most `decimals` decimals, without zeros at the end.
fn rounded(value: f64, decimals: usize) -> Value {
    let text = short(value, decimals);
    let whole = text.parse::<i64>().map(Value::from);
    whole.unwrap_or_else(|_| text.parse::<f64>().map_or(Value::Null, Value::from))
}

fn place(point: Point, decimals: usize) -> [Value; 2] {
    [point.x, point.z].map(|v| rounded(v, decimals))
}

fn in_force(f: &InForce) -> Value {
    let tool = f.tool.map_or(-1, i64::from);
    let (mode, speed, limit) = match f.spindle {
        Spindle::Off => (0, 0.0, 0.0),
        Spindle::Fixed { speed, .. } => (1, speed.map_or(0.0, SpindleSpeed::as_rpm), 0.0),
        Spindle::Surface { speed, limit, .. } => {
            (2, speed.map_or(0.0, SurfaceSpeed::as_mm_per_min), limit.map_or(0.0, SpindleSpeed::as_rpm))
        }
    };
    let (unit, feed) = match f.feed {
        Feed::Missing => (0, 0.0),
        Feed::PerRev(f) => (1, f.as_mm_per_rev()),
        Feed::PerMinute(f) => (2, f.as_mm_per_min()),
    };
    json!([tool, mode, rounded(speed, 3), rounded(limit, 3), rounded(feed, 4), unit])
}

/// A tool's number, name, and outline relative to the programmed point.
fn tool(tool: &Tool) -> Value {
    let (dx, dz) = tool.point_offset();
    let points = shape(&tool.outline()).into_iter().flat_map(|p| place(p.shifted(-dx, -dz), 3));
    json!([tool.number, plain(&tool.name), points.collect::<Vec<_>>()])
}

/// The outline as a closed polygon relative to the front point.
fn shape(outline: &Outline) -> Vec<Point> {
    let (inner, outer) = (outline.inner(), outline.outer());
    let centre = Point::new(0.0, outline.nose_radius);
    let mirrored = |p: Point| Point::new(-p.x, p.z);
    let nose = crate::geometry::Arc {
        from: mirrored(inner.nose_end),
        to: outer.nose_end,
        centre,
        turn: Turn::CounterClockwise,
    };
    let top = inner.edge_end.z.max(outer.edge_end.z) + SHANK;
    let mut points = Vec::new();
    let width =
        |flank: &crate::geometry::Flank| flank.reach.map_or(flank.edge_end.x, |r| r.max(flank.edge_end.x));
    points.push(Point::new(-width(&inner), top));
    points.push(Point::new(-width(&inner), inner.edge_end.z));
    points.push(mirrored(inner.edge_end));
    points.extend(Curve::from_pieces(vec![Piece::Arc(nose)]).chords(NOSE_WITHIN));
    points.push(outer.edge_end);
    points.push(Point::new(width(&outer), outer.edge_end.z));
    points.push(Point::new(width(&outer), top));
    points
}
