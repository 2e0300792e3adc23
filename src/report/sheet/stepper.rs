//! The stepper: the picture of tool, face and paths, the listing beside it, and the motions as data for the script that steps through them.
//!
//! The picture is drawn in the page's text: face, metal and paths in millimetres under one transform, so that the script only
//! changes the transform to zoom and pan. Motions are written once, as one flat list of numbers.

use super::charts::{cuts, depth_at};
use super::listing::{Listing, Step};
use super::passes::Pass;
use super::text::{Units, plain, short};
use super::{Sheet, motions};
use crate::diagnostics::text::for_markup;
use crate::geometry::{Piece, Point, Turn};
use crate::proof::MovementKind;
use crate::survey::Survey;
use geo::{Coord, LineString, Simplify};
use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;

/// Size of the picture without a script that fits it to the page.
const SIZE: [f64; 2] = [1000.0, 420.0];

/// Margin around the face in the picture, millimetres: beside it, below it, and above it for the air pass and the tool.
const MARGIN: [f64; 3] = [4.0, 2.0, 6.0];

/// Heights are stretched at most by this factor, so that a shallow face fills the picture.
const MOST_STRETCH: f64 = 5.0;

/// Greatest deviation of the drawn outlines of the face, millimetres: a hundredth of a pass.
const DRAWN_WITHIN: f64 = 0.001;

/// Number of listing rows that a browser lays out together when they come into view: few enough to be quick, enough that a program
/// of many thousand blocks has few such groups.
const ROWS_TOGETHER: usize = 100;

/// The initial view of the picture: its middle, units per millimetre of radius, and the factor by which heights are stretched.
struct View {
    middle: Point,
    scale: f64,
    stretch: f64,
}

impl View {
    fn of(face: &[Point]) -> Self {
        let [a, b, low, high] = face.iter().fold(
            [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY],
            |[a, b, low, high], p| [a.min(p.x), b.max(p.x), low.min(p.z), high.max(p.z)],
        );
        let [beside, below, above] = MARGIN;
        let (width, height) = (b - a + 2.0 * beside, high - low + below + above);
        let scale = SIZE[0] / width;
        let stretch = (SIZE[1] / (height * scale)).clamp(1.0, MOST_STRETCH).floor();
        let middle = Point::new(f64::midpoint(a, b), f64::midpoint(low - below, high + above));
        Self { middle, scale, stretch }
    }

    fn transform(&self) -> String {
        let (sx, sz) = (self.scale, self.scale * self.stretch);
        let (tx, tz) = (SIZE[0] / 2.0 - self.middle.x * sx, SIZE[1] / 2.0 + self.middle.z * sz);
        format!("matrix({sx:.4} 0 0 {:.4} {tx:.3} {tz:.3})", -sz)
    }
}

/// The section: picture, buttons, readout, listing, numbers.
pub(super) fn section(
    sheet: &Sheet<'_>,
    survey: &Survey,
    passes: &[Pass<'_>],
    listing: &Listing<'_>,
) -> Markup {
    let face = survey.face().highest.points();
    let view = View::of(face);
    html! {
        section.walk #walk aria-labelledby="walk-title" {
            h2 #walk-title { "Block by block" }
            p.needs-script.keys {
                "Choose a block, or a place on the picture. Keys: " kbd { "N" } " next, " kbd { "B" } " back, " kbd { "P" } " play or pause, "
                kbd { "+" } " " kbd { "−" } " zoom, " kbd { "0" } " whole face; arrows move the picture, or step in the listing."
            }
            div.stage {
                div.view {
                    div.scene #scene tabindex="0" role="group" aria-label="Picture of the tool on the face; arrows move it, plus and minus zoom" {
                        (PreEscaped(scene(sheet, survey, passes, listing, &view)))
                    }
                    p.scale #scale { "Heights are drawn " (short(view.stretch, 0)) " times as large as radii." }
                    (legend())
                    (buttons())
                    (readout(sheet))
                }
                div.listing-box {
                    label.choice { input #print-listing type="checkbox" autocomplete="off"; span { "Print the listing too" } }
                    (rows(sheet, listing))
                }
            }
            script #motions type="application/json" { (PreEscaped(numbers(sheet, passes, listing, &view))) }
        }
    }
}

fn buttons() -> Markup {
    let button = |id: &str, name: &str, sign: &str| {
        html! { button type="button" id=(id) { span aria-hidden="true" { (sign) } " " (name) } }
    };
    html! {
        div.buttons.needs-script role="group" aria-label="Step and play" {
            (button("pass-back", "pass", "«")) (button("back", "back", "‹")) (button("play", "play", "▶"))
            (button("next", "next", "›")) (button("pass-next", "pass", "»"))
            label.speed { span { "Speed" } select #speed autocomplete="off" {
                option value="1" { "as the machine" }
                option value="10" { "10 times" }
                option value="30" selected { "30 times" }
                option value="120" { "120 times" }
            } }
        }
        div.buttons.needs-script role="group" aria-label="Picture" {
            (button("in", "closer", "+")) (button("out", "farther", "−")) (button("whole", "whole face", "◻"))
            (button("tool-view", "to the tool", "◎")) (button("heights", "taller heights", "↕"))
        }
        label.time.needs-script { span { "Place in time" } input #time type="range" min="0" max="1000" value="0" step="any" autocomplete="off"; }
    }
}

fn readout(sheet: &Sheet<'_>) -> Markup {
    let Units { length, surface, .. } = Units::of(sheet.job);
    let item = |id: &str, name: &str| html! { div { dt { (name) } dd id=(id) { "–" } } };
    html! {
        dl.readout.needs-script #readout data-unit=(length.unit) {
            (item("r-radius", &format!("Radius, {}", length.unit))) (item("r-height", &format!("Height, {}", length.unit))) (item("r-rpm", "Spindle, rpm")) (item("r-surface", &format!("Surface, {}", surface.unit)))
            (item("r-feed", "Feed")) (item("r-time", "Time")) (item("r-tool", "Tool")) (item("r-pass", "Pass"))
        }
        p.says.needs-script #says aria-live="polite" { "" }
        p.also.needs-script #also { "" }
    }
}

fn rows(sheet: &Sheet<'_>, listing: &Listing<'_>) -> Markup {
    html! {
        div.listing #listing tabindex="0" role="region" aria-label="Program listing" {
            @for (program, rows) in sheet.programs.iter().zip(&listing.rows) {
                @if sheet.programs.len() > 1 { h3 { (plain(&program.name)) } }
                @for stretch in rows.chunks(ROWS_TOGETHER) { ol { @for row in stretch {
                    li id=(row.anchor) { i { (row.anchor.rsplit('l').next().unwrap_or_default()) } code { (block(row.block)) } span { (sentence(&row.says)) } }
                } } }
            }
        }
    }
}

/// A block as written, without line breaks inside words: a browser would break after a minus sign and so split a number.
fn block(text: &str) -> Markup {
    let text = plain(text);
    html! {
        @for (i, word) in text.split(' ').enumerate() {
            @if i > 0 { " " }
            @if word.contains('-') { span { (word) } } @else { (word) }
        }
    }
}

/// The explanation of a row, without a remark that the block itself shows.
fn sentence(says: &str) -> String {
    if says.starts_with("Remark: ") { "A remark: the control reads over it.".to_owned() } else { plain(says) }
}

/// The legend of the picture.
fn legend() -> Markup {
    let line = |class: &str, words: &str| {
        html! { li { svg.sample viewBox="0 0 44 14" aria-hidden="true" { path class=(class) d="M1 7L43 7"; } (words) } }
    };
    let area = |class: &str, words: &str| {
        html! { li { svg.sample viewBox="0 0 44 14" aria-hidden="true" { path class=(class) d="M1 1L43 1L43 13L1 13Z"; } (words) } }
    };
    html! {
        ul.legend {
            (line("face", "as measured, mended")) (line("left", "as it will be")) (area("gone", "comes off")) (area("metal", "stays"))
            (line("cut", "cuts")) (line("air", "runs in air")) (line("rapid", "rapids"))
        }
    }
}

/// The picture as SVG.
fn scene(
    sheet: &Sheet<'_>,
    survey: &Survey,
    passes: &[Pass<'_>],
    listing: &Listing<'_>,
    view: &View,
) -> String {
    let face = survey.face().highest.points();
    let total = sheet.programs.last().map(|p| p.report.sweep.total.as_slice()).unwrap_or_default();
    let left: Vec<Point> = face.iter().map(|p| Point::new(p.x, p.z - depth_at(total, p.x))).collect();
    let (face, left) = (thinned(face), thinned(&left));
    let low = left.iter().chain(&face).map(|p| p.z).fold(f64::INFINITY, f64::min) - 40.0;
    let [w, h] = SIZE;
    let mut out = format!(
        "<svg id=\"drawing\" viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"Face before and after, with the paths of the tool\">\n<g id=\"world\" transform=\"{}\">\n",
        view.transform()
    );
    let d = &mut out;
    let (a, b) = (left.first().map_or(0.0, |p| p.x), left.last().map_or(0.0, |p| p.x));
    let _ = writeln!(d, "<path class=\"metal\" d=\"{}L{b:.3} {low:.1}L{a:.3} {low:.1}Z\"/>", polyline(&left));
    let back: Vec<Point> = left.iter().rev().copied().collect();
    let _ = writeln!(
        d,
        "<path class=\"gone\" d=\"{}{}Z\"/>",
        polyline(&face),
        polyline(&back).replacen('M', "L", 1)
    );
    for k in &sheet.job.keep_out {
        let corners: Vec<Point> = k.outline().exterior().coords().map(|c| Point::new(c.x, c.y)).collect();
        let _ = writeln!(d, "<path class=\"keep-out\" d=\"{}Z\"/>", polyline(&corners));
    }
    let _ = writeln!(d, "<path class=\"face\" d=\"{}\"/>", polyline(&face));
    let _ = writeln!(d, "<path class=\"left\" d=\"{}\"/>", polyline(&left));
    let rapids = listing.steps.iter().filter(|s| s.movement.kind == MovementKind::Rapid);
    let _ = writeln!(d, "<path class=\"rapid\" d=\"{}\"/>", path(rapids));
    for pass in passes {
        let steps = listing.steps.get(pass.steps.clone()).unwrap_or_default();
        let at_feed = steps.iter().filter(|s| s.movement.kind == MovementKind::Feed);
        let class = if cuts(pass) { "cut" } else { "air" };
        let _ = writeln!(d, "<path class=\"{class}\" d=\"{}\"/>", path(at_feed));
    }
    d.push_str("</g>\n<g id=\"over\">");
    for k in &sheet.job.keep_out {
        // Its name is placed above its edge, where it is nearest the face.
        let (x, z) = (k.radii()[0], k.top());
        let name = for_markup(k.name());
        let (px, py) = (
            w / 2.0 + (x - view.middle.x) * view.scale,
            h / 2.0 - (z - view.middle.z) * view.scale * view.stretch,
        );
        let _ = write!(
            d,
            "<text class=\"pin\" data-at=\"{x} {z}\" x=\"{px:.1}\" y=\"{:.1}\">keep out: {name}</text>",
            py - 6.0
        );
    }
    d.push_str("</g>\n</svg>");
    out
}

/// The outline with fewer points.
fn thinned(points: &[Point]) -> Vec<Point> {
    let line: LineString = points.iter().map(|p| Coord { x: p.x, y: p.z }).collect();
    line.simplify(DRAWN_WITHIN).0.into_iter().map(|c| Point::new(c.x, c.y)).collect()
}

fn polyline(points: &[Point]) -> String {
    let mut d = String::with_capacity(points.len() * 16);
    for (i, p) in points.iter().enumerate() {
        let _ = write!(d, "{}{} {}", if i == 0 { 'M' } else { 'L' }, short(p.x, 3), short(p.z, 4));
    }
    d
}

/// Motions as one path in millimetres, z upward.
fn path<'a>(steps: impl Iterator<Item = &'a Step<'a>>) -> String {
    let mut d = String::new();
    let mut pen: Option<Point> = None;
    for piece in steps.map(|s| &s.movement.piece) {
        let (from, to) = (piece.from(), piece.to());
        if pen != Some(from) {
            let _ = write!(d, "M{} {}", short(from.x, 4), short(from.z, 4));
        }
        let (x, z) = (short(to.x, 4), short(to.z, 4));
        let _ = match piece {
            Piece::Line(_) => write!(d, "L{x} {z}"),
            Piece::Arc(a) => {
                let r = short(a.radius(), 4);
                let (large, sweep) = (u8::from(is_large(piece)), u8::from(a.turn == Turn::CounterClockwise));
                write!(d, "A{r} {r} 0 {large} {sweep} {x} {z}")
            }
        };
        pen = Some(to);
    }
    d
}

/// Whether an arc is more than half a circle.
fn is_large(piece: &Piece) -> bool {
    let Piece::Arc(a) = piece else { return false };
    let (from, to) =
        ((a.from.x - a.centre.x, a.from.z - a.centre.z), (a.to.x - a.centre.x, a.to.z - a.centre.z));
    let cross = from.0 * to.1 - from.1 * to.0;
    (cross < 0.0) == (a.turn == Turn::CounterClockwise)
}

/// The motions and the view for the script.
fn numbers(sheet: &Sheet<'_>, passes: &[Pass<'_>], listing: &Listing<'_>, view: &View) -> String {
    let view = [view.middle.x, view.middle.z, SIZE[0] / view.scale, view.stretch];
    motions::json_text(sheet, passes, listing, view)
}
