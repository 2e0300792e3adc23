//! Drawings as SVG text: a frame with two scales, curves, bands, labels.
//!
//! Colours are those of Okabe and Ito (Color universal design, 2008), told apart under every common
//! colour blindness. A line style or a label repeats the meaning of each, so that nothing depends on colour
//! alone. All text is escaped. Numbers have a fixed number of decimals, so that the same drawing
//! gives the same bytes.

use crate::diagnostics::text::for_markup;
use geo::{Coord, LineString, Simplify};
use std::fmt::Write as _;

/// Points of a curve are left out if the simplified curve stays within this distance, in units of the drawing: less than a screen or a print shows.
const INVISIBLE: f64 = 0.1;

/// A colour of the palette.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// Black.
    Black,
    /// Orange.
    Orange,
    /// Sky blue.
    Sky,
    /// Bluish green.
    Green,
    /// Yellow.
    Yellow,
    /// Blue.
    Blue,
    /// Vermilion.
    Vermilion,
    /// Reddish purple.
    Purple,
    /// Grey, for frames and ticks: not of the palette, without meaning.
    Grey,
}

impl Colour {
    /// The colours of curves of one kind, in turn.
    pub const CURVES: [Self; 6] =
        [Self::Blue, Self::Orange, Self::Green, Self::Purple, Self::Sky, Self::Vermilion];

    /// The name of the colour in the page's style, which has a light and a dark variant.
    const fn themed(self) -> &'static str {
        match self {
            Self::Black => "var(--black)",
            Self::Orange => "var(--orange)",
            Self::Sky => "var(--sky)",
            Self::Green => "var(--green)",
            Self::Yellow => "var(--yellow)",
            Self::Blue => "var(--blue)",
            Self::Vermilion => "var(--vermilion)",
            Self::Purple => "var(--purple)",
            Self::Grey => "var(--grey)",
        }
    }

    const fn hex(self) -> &'static str {
        match self {
            Self::Black => "#000000",
            Self::Orange => "#e69f00",
            Self::Sky => "#56b4e9",
            Self::Green => "#009e73",
            Self::Yellow => "#f0e442",
            Self::Blue => "#0072b2",
            Self::Vermilion => "#d55e00",
            Self::Purple => "#cc79a7",
            Self::Grey => "#767676",
        }
    }
}

/// How a curve is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Colour.
    pub colour: Colour,
    /// Width in units of the drawing.
    pub width: f64,
    /// Index of the dash pattern; 0 is a solid line.
    pub dash: usize,
}

/// Dash patterns of curves of one kind, in turn; a solid line first.
const DASHES: [&str; 6] = ["", "7 3", "2 2", "9 3 2 3", "4 4", "12 3"];

/// How a label is aligned to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// The text starts there.
    Start,
    /// Its middle is there.
    Middle,
    /// It ends there.
    End,
}

/// A frame with its own scale in each direction; curves in it are given in the numbers of the scales.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Left edge, top edge, width and height in units of the drawing.
    pub place: [f64; 4],
    /// Numbers at the left and the right edge.
    pub x: [f64; 2],
    /// Numbers at the lower and the upper edge.
    pub y: [f64; 2],
}

impl Frame {
    /// The position of a point in the drawing.
    #[must_use]
    pub fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let [left, top, width, height] = self.place;
        let share = |v: f64, [from, to]: [f64; 2]| (v - from) / (to - from);
        (left + width * share(x, self.x), top + height * (1.0 - share(y, self.y)))
    }
}

/// Where the colours of a drawing come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Paint {
    /// Fixed colours, on white.
    Own,
    /// The style of the page that contains it.
    Page,
}

/// From one name of a curve to the next, in units of the drawing.
const APART: f64 = 14.0;

/// A drawing under construction.
#[derive(Debug, Clone)]
pub struct Drawing {
    size: [f64; 2],
    paint: Paint,
    body: String,
}

impl Drawing {
    /// An empty drawing with a title for screen readers.
    #[must_use]
    pub fn new(width: f64, height: f64, title: &str) -> Self {
        let mut body = format!("<title>{}</title>\n", for_markup(title));
        let _ = writeln!(body, "<rect width=\"{width:.0}\" height=\"{height:.0}\" fill=\"#ffffff\"/>");
        Self { size: [width, height], paint: Paint::Own, body }
    }

    /// An empty drawing inside a page, with the page's colours and width.
    #[must_use]
    pub fn in_page(width: f64, height: f64, title: &str) -> Self {
        let body = format!("<title>{}</title>\n", for_markup(title));
        Self { size: [width, height], paint: Paint::Page, body }
    }

    const fn colour(&self, colour: Colour) -> &'static str {
        match self.paint {
            Paint::Own => colour.hex(),
            Paint::Page => colour.themed(),
        }
    }

    /// The drawing as SVG text: a separate file, or a part of its page.
    #[must_use]
    pub fn svg(&self) -> String {
        let [w, h] = self.size;
        if self.paint == Paint::Page {
            return format!(
                "<svg role=\"img\" viewBox=\"0 0 {w:.0} {h:.0}\" font-size=\"12\" fill=\"currentColor\">\n{}</svg>\n",
                self.body
            );
        }
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" width=\"{w:.0}\" height=\"{h:.0}\" viewBox=\"0 0 {w:.0} {h:.0}\" \
             font-family=\"sans-serif\" font-size=\"12\">\n{}</svg>\n",
            self.body
        )
    }

    /// A label; `size` in units of the drawing.
    pub fn text(&mut self, (x, y): (f64, f64), anchor: Anchor, size: f64, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = writeln!(
            self.body,
            "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size:.0}\" text-anchor=\"{anchor}\">{}</text>",
            for_markup(text)
        );
    }

    /// A frame with ticks at round numbers and labels for its scales.
    pub fn frame(&mut self, frame: &Frame, x_label: &str, y_label: &str) {
        self.frame_in(frame, [1.0, 1.0], x_label, y_label);
    }

    /// The same, with the numbers of its scales shown in other units: so many of these are one of the frame's.
    pub fn frame_in(&mut self, frame: &Frame, [across, up]: [f64; 2], x_label: &str, y_label: &str) {
        let [left, top, width, height] = frame.place;
        let _ = writeln!(
            self.body,
            "<rect x=\"{left:.1}\" y=\"{top:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" fill=\"none\" stroke=\"{}\"/>",
            self.colour(Colour::Grey)
        );
        for (v, places) in ticks(frame.x.map(|x| x * across)) {
            let (x, _) = frame.at(v / across, 0.0);
            self.tick((x, top + height), (x, top + height + 4.0));
            if !x_label.is_empty() {
                self.text((x, top + height + 17.0), Anchor::Middle, 11.0, &format!("{v:.places$}"));
            }
        }
        for (v, places) in ticks(frame.y.map(|y| y * up)) {
            let (_, y) = frame.at(0.0, v / up);
            self.tick((left - 4.0, y), (left, y));
            self.text((left - 7.0, y + 4.0), Anchor::End, 11.0, &format!("{v:.places$}"));
        }
        self.text((left + width, top + height + 32.0), Anchor::End, 12.0, x_label);
        self.text((left, top - 7.0), Anchor::Start, 12.0, y_label);
    }

    fn tick(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) {
        let _ = writeln!(
            self.body,
            "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" stroke=\"{}\"/>",
            self.colour(Colour::Grey)
        );
    }

    /// A curve through points in the frame's numbers; where a point is not a number the curve is broken.
    pub fn curve(&mut self, frame: &Frame, stroke: Stroke, points: impl Iterator<Item = (f64, f64)>) {
        let mut d = String::new();
        for run in shown(frame, points).split(|p| !p.1.is_finite()) {
            line(&mut d, 'M', run.iter().map(|&(x, y)| frame.at(x, y)));
        }
        if !d.is_empty() {
            self.path(&d, stroke);
        }
    }

    /// A short horizontal sample of a curve's stroke, for the legend.
    pub fn sample(&mut self, (x, y): (f64, f64), length: f64, stroke: Stroke) {
        self.path(&format!("M{x:.1} {y:.1}L{:.1} {y:.1}", x + length), stroke);
    }

    fn path(&mut self, d: &str, stroke: Stroke) {
        let dash = DASHES[stroke.dash % DASHES.len()];
        let dashes = if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dash}\"") };
        let _ = writeln!(
            self.body,
            "<path d=\"{d}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:.1}\" stroke-linejoin=\"round\"{dashes}/>",
            self.colour(stroke.colour),
            stroke.width
        );
    }

    /// A filled band between two heights at each x, in the frame's numbers.
    pub fn band(&mut self, frame: &Frame, colour: Colour, opacity: f64, points: &[(f64, f64, f64)]) {
        if points.len() < 2 {
            return;
        }
        let mut d = String::new();
        let there = points.iter().map(|&(x, low, _)| (x, low));
        let back = points.iter().rev().map(|&(x, _, high)| (x, high));
        line(&mut d, 'M', there.map(|(x, y)| frame.at(x, y)));
        line(&mut d, 'L', back.map(|(x, y)| frame.at(x, y)));
        let colour = self.colour(colour);
        let _ = writeln!(self.body, "<path d=\"{d}Z\" fill=\"{colour}\" fill-opacity=\"{opacity:.2}\"/>");
    }

    /// Names of curves at the right edge of a frame, each with a sample of its stroke, moved apart so that none covers another.
    pub fn names(&mut self, frame: &Frame, mut wanted: Vec<(f64, Stroke, String)>) {
        let [left, top, width, height] = frame.place;
        let x = left + width + 6.0;
        wanted.sort_by(|a, b| a.0.total_cmp(&b.0));
        // Moved up until the last is inside the frame.
        let mut free = top;
        let mut below = APART * wanted.len() as f64;
        for (y, stroke, text) in wanted {
            let y = y.min(top + height + APART - below).max(free);
            self.name((x, y), stroke, &text);
            free = y + APART;
            below -= APART;
        }
    }

    /// Names of curves below a frame and its labels, in two columns, where beside it there is no room; the drawing grows by them.
    pub fn names_below(&mut self, frame: &Frame, mut wanted: Vec<(f64, Stroke, String)>) {
        const LABELS: f64 = 48.0;
        let [_, top, _, height] = frame.place;
        let [width, tall] = self.size;
        wanted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut y = top + height + LABELS;
        for pair in wanted.chunks(2) {
            for ((_, stroke, text), x) in pair.iter().zip([0.0, width / 2.0]) {
                self.name((x, y), *stroke, text);
            }
            y += APART;
        }
        self.size = [width, tall.max(y)];
    }

    fn name(&mut self, (x, y): (f64, f64), stroke: Stroke, text: &str) {
        const SAMPLE: f64 = 26.0;
        self.sample((x, y), SAMPLE, stroke);
        let (text_x, text_y) = (x + SAMPLE + 5.0, y + 4.0);
        // A class of its own, as a name is text from a file where it is that of a ring.
        let _ = writeln!(
            self.body,
            "<text class=\"name\" x=\"{text_x:.1}\" y=\"{text_y:.1}\" font-size=\"11\" text-anchor=\"start\">{}</text>",
            for_markup(text)
        );
    }

    /// A vertical line that the page's script moves over the frame's radii; hidden at first.
    pub fn marker(&mut self, frame: &Frame) {
        let [left, top, width, height] = frame.place;
        let ([from, to], [lower, upper]) = (frame.x, frame.y);
        let _ = writeln!(
            self.body,
            "<line class=\"marker\" x1=\"{left:.1}\" x2=\"{left:.1}\" y1=\"{top:.1}\" y2=\"{:.1}\" visibility=\"hidden\" \
             data-frame=\"{left:.1} {width:.1} {from} {to} {top:.1} {height:.1} {lower} {upper}\"/>",
            top + height
        );
    }
}

/// Adds a line through points of the drawing to a path, without the points that make no visible difference.
fn line(d: &mut String, first: char, points: impl Iterator<Item = (f64, f64)>) {
    let line: LineString = points.map(|(x, y)| Coord { x, y }).collect();
    for (i, c) in line.simplify(INVISIBLE).0.iter().enumerate() {
        let _ = write!(d, "{}{:.1} {:.1}", if i == 0 { first } else { 'L' }, c.x, c.y);
    }
}

/// Reduces a dense curve to the highest and the lowest point in each half unit of the drawing.
fn shown(frame: &Frame, points: impl Iterator<Item = (f64, f64)>) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    let mut column = f64::NAN;
    let mut extremes: Option<[(f64, f64); 2]> = None;
    let close = |extremes: &mut Option<[(f64, f64); 2]>, out: &mut Vec<(f64, f64)>| {
        if let Some([mut a, mut b]) = extremes.take() {
            if b.0 < a.0 {
                std::mem::swap(&mut a, &mut b);
            }
            out.push(a);
            if b != a {
                out.push(b);
            }
        }
    };
    for p in points {
        if !p.1.is_finite() {
            close(&mut extremes, &mut out);
            out.push(p);
            continue;
        }
        let here = (frame.at(p.0, 0.0).0 * 2.0).floor();
        if here != column {
            close(&mut extremes, &mut out);
            column = here;
        }
        extremes = Some(match extremes {
            None => [p, p],
            Some([low, high]) => [if p.1 < low.1 { p } else { low }, if p.1 > high.1 { p } else { high }],
        });
    }
    close(&mut extremes, &mut out);
    out
}

/// About five round numbers within a scale, with the decimals that they need.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a handful of ticks, and places of 0 to 9"
)]
fn ticks([from, to]: [f64; 2]) -> Vec<(f64, usize)> {
    let (low, high) = if from < to { (from, to) } else { (to, from) };
    let span = high - low;
    if !(span > 0.0 && span.is_finite()) {
        return Vec::new();
    }
    let decade = 10_f64.powf((span / 5.0).log10().floor());
    let step =
        [1.0, 2.0, 5.0, 10.0].map(|m| m * decade).into_iter().find(|s| span / s <= 6.0).unwrap_or(span);
    let places = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
    let first = (low / step - 1e-9).ceil();
    let count = ((high / step + 1e-9).floor() - first).clamp(0.0, 20.0) as i32;
    // Adding zero turns −0 into 0.
    (0..=count).map(|i| ((first + f64::from(i)) * step + 0.0, places)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_leave_its_place() {
        let mut d = Drawing::new(10.0, 10.0, "</title><script>");
        d.text((1.0, 1.0), Anchor::Start, 12.0, "\"</text>&'\u{1}");
        let svg = d.svg();
        assert!(svg.contains("&lt;/title&gt;&lt;script&gt;"));
        assert!(svg.contains("&quot;&lt;/text&gt;&amp;&#39;\u{FFFD}</text>"));
    }

    #[test]
    fn ticks_are_round_and_few() {
        assert_eq!(ticks([0.0, 1.0]).len(), 6);
        let radii: Vec<f64> = ticks([62.0, 218.0]).iter().map(|t| t.0).collect();
        assert_eq!(radii, [100.0, 150.0, 200.0]);
        assert!(ticks([1.0, 1.0]).is_empty());
    }

    #[test]
    fn a_dense_curve_keeps_its_extremes() {
        let frame = Frame { place: [0.0, 0.0, 100.0, 100.0], x: [0.0, 1.0], y: [-1.0, 1.0] };
        let dense = (0..100_000).map(|i| (f64::from(i) / 100_000.0, if i == 50_500 { 1.0 } else { 0.0 }));
        let kept = shown(&frame, dense);
        assert!(kept.len() <= 402, "{}", kept.len());
        assert!(kept.iter().any(|p| p.1 == 1.0));
    }
}
