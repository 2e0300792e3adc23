//! The pictures that need no script: the face before and after, and spindle speed, surface speed and feed over the radius.

use super::Sheet;
use super::listing::Listing;
use super::passes::Pass;
use super::text::{Shown, Units, short};
use crate::geometry::Point;
use crate::proof::sweep::{DepthAt, PassKind, spindle_at};
use crate::proof::{Feed, Movement, MovementKind};
use crate::report::drawing::{Anchor, Colour, Drawing, Frame, Stroke};
use crate::survey::Survey;
use maud::{Markup, PreEscaped, html};
use std::f64::consts::TAU;

/// How wide a picture is drawn, in units of the drawing: its letters have sizes 11 and 12.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Breadth {
    /// For a page and for print, where it scales with the page.
    Wide,
    /// For a phone of 360 pixels less the page's margins and a scroll bar, where a unit is a pixel or more: letters that shrank with a wide
    /// picture could not be read.
    Narrow,
}

impl Breadth {
    /// Of the whole picture.
    pub const fn width(self) -> f64 {
        match self {
            Self::Wide => 760.0,
            Self::Narrow => 300.0,
        }
    }

    /// Left of a frame, for the numbers of its scale.
    const fn left(self) -> f64 {
        match self {
            Self::Wide => 54.0,
            Self::Narrow => 44.0,
        }
    }

    /// Right of a frame, for names; where they stand below it, half of a number at the end of its scale.
    const fn right(self) -> f64 {
        match self {
            Self::Wide => 150.0,
            Self::Narrow => 12.0,
        }
    }

    /// Writes the names of a frame's curves where there is room for them.
    pub fn names(self, d: &mut Drawing, frame: &Frame, names: Vec<(f64, Stroke, String)>) {
        match self {
            Self::Wide => d.names(frame, names),
            Self::Narrow => d.names_below(frame, names),
        }
    }
}

/// A picture as a phone and as everything else shows it.
pub(super) fn both(title: &str, picture: impl Fn(Breadth) -> String) -> Markup {
    html! {
        div.wide tabindex="0" role="group" aria-label=(title) { (PreEscaped(picture(Breadth::Wide))) }
        div.narrow role="group" aria-label=(title) { (PreEscaped(picture(Breadth::Narrow))) }
    }
}

/// Number of radii at which speeds are drawn: finer than a print shows.
const SAMPLES: usize = 240;

/// Passes are drawn as one where their speeds and feeds differ by no more than this fraction: rounding, and the effect of a tenth of a millimetre of depth.
const ALIKE: f64 = 0.01;

/// A frame of a given height over the radii that the page shows.
pub(super) fn frame(breadth: Breadth, span: [f64; 2], top: f64, height: f64, y: [f64; 2]) -> Frame {
    let left = breadth.left();
    Frame { place: [left, top, breadth.width() - left - breadth.right(), height], x: span, y }
}

/// The radii that every picture covers: those that were measured.
pub(super) fn radii(survey: &Survey) -> [f64; 2] {
    [survey.face().highest.start(), survey.face().highest.end()]
}

/// The depth of a curve at a radius; zero outside it.
pub(super) fn depth_at(curve: &[DepthAt], r: f64) -> f64 {
    let i = curve.partition_point(|d| d.radius <= r);
    match (i.checked_sub(1).and_then(|i| curve.get(i)), curve.get(i)) {
        (Some(a), Some(b)) => a.depth + (b.depth - a.depth) * (r - a.radius) / (b.radius - a.radius),
        (Some(a), None) if a.radius == r => a.depth,
        _ => 0.0,
    }
}

/// The face as measured, mended, and as it will be.
pub(super) fn face(sheet: &Sheet<'_>, survey: &Survey, breadth: Breadth) -> String {
    let span = radii(survey);
    let lines = survey.readings();
    let highest = survey.face().highest.points();
    let heights = lines.iter().flatten().chain(highest).map(|p| p.z).filter(|z| z.is_finite());
    let [low, high] = heights.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], z| [a.min(z), b.max(z)]);
    let air = ((high - low) * 0.08).max(0.5);
    let mut d = Drawing::in_page(breadth.width(), 330.0, "The face as measured, mended, and as it will be");
    let f = frame(breadth, span, 24.0, 260.0, [low - air, high + air]);
    for dent in &survey.damage {
        let (from, to) = (dent.from_mm.max(span[0]), dent.to_mm.min(span[1]));
        d.band(&f, Colour::Vermilion, 0.25, &[(from, f.y[0], f.y[1]), (to, f.y[0], f.y[1])]);
    }
    let Shown { unit, times, .. } = Units::of(sheet.job).length;
    d.frame_in(&f, [times; 2], &format!("radius, {unit}"), &format!("height, {unit}; damage shaded"));
    let mut names = Vec::new();
    for (k, (line, angle)) in lines.iter().zip(&survey.model().angles).enumerate() {
        let colour = Colour::CURVES[k % Colour::CURVES.len()];
        let stroke = Stroke { colour, width: 1.2, dash: k + 1 };
        d.curve(&f, stroke, line.iter().map(|p| (p.x, p.z)));
        let last = line.iter().rev().map(|p| p.z).find(|z| z.is_finite()).unwrap_or(low);
        names.push((f.at(0.0, last).1, stroke, format!("measured {:.0}°", angle.to_degrees())));
    }
    let end = highest.last().map_or(high, |p| p.z);
    let mended = Stroke { colour: Colour::Black, width: 1.4, dash: 0 };
    d.curve(&f, mended, highest.iter().map(|p| (p.x, p.z)));
    names.push((f.at(0.0, end).1, mended, "mended, highest".into()));
    if let Some(program) = sheet.programs.last() {
        let total = &program.report.sweep.total;
        let left = Stroke { colour: Colour::Vermilion, width: 2.4, dash: 0 };
        // What the passes follow may stand above the face, where they do not reach it.
        let face = survey.face();
        let stands = |p: &Point| p.z.min(face.follows().at(p.x) - depth_at(total, p.x));
        d.curve(&f, left, highest.iter().map(|p| (p.x, stands(p))));
        names.push((f.at(0.0, end).1, left, "as it will be".into()));
    }
    breadth.names(&mut d, &f, names);
    d.marker(&f);
    d.svg()
}

/// Spindle speed, surface speed and feed at one radius.
type Speeds = [f64; 3];

/// Speeds over the radii for passes that are drawn as one.
struct SpeedCurve {
    name: String,
    curve: Vec<Option<Speeds>>,
}

/// Spindle speed, surface speed and feed against the radius, with the limit.
pub(super) fn speeds(
    sheet: &Sheet<'_>,
    survey: &Survey,
    passes: &[Pass<'_>],
    listing: &Listing<'_>,
    breadth: Breadth,
) -> String {
    let units = Units::of(sheet.job);
    let span = radii(survey);
    let curves = curves(span, passes, listing);
    let limit = sheet.job.speed_limit().as_rpm();
    let mut d =
        Drawing::in_page(breadth.width(), 480.0, "Spindle speed, surface speed and feed against the radius");
    let rpm = Shown { unit: "rpm", times: 1.0, more: 0 };
    let rows = [
        (24.0, 150.0, "spindle", rpm),
        (216.0, 90.0, "surface", units.surface),
        (346.0, 90.0, "feed", units.feed),
    ];
    // Below the pictures the names stand once: curves of one pass are alike in all three.
    let mut once = Vec::new();
    for (k, (top, height, what, shown)) in rows.into_iter().enumerate() {
        let values = curves.iter().flat_map(|c| c.curve.iter().flatten()).filter_map(|s| s.get(k).copied());
        let most = values.fold(if k == 0 { limit } else { 0.0 }, f64::max);
        let f = frame(breadth, span, top, height, [0.0, (most * 1.15).max(0.01)]);
        let radius = if k == 2 { format!("radius, {}", units.length.unit) } else { String::new() };
        d.frame_in(&f, [units.length.times, shown.times], &radius, &format!("{what}, {}", shown.unit));
        let mut names = Vec::new();
        for (i, each) in curves.iter().enumerate() {
            let stroke = Stroke { colour: Colour::CURVES[i % Colour::CURVES.len()], width: 2.0, dash: i };
            let at = |s: &Option<Speeds>| s.and_then(|s| s.get(k).copied()).unwrap_or(f64::NAN);
            d.curve(&f, stroke, each.curve.iter().enumerate().map(|(j, s)| (radius_of(span, j), at(s))));
            if let Some(last) = each.curve.iter().rev().flatten().next() {
                let end = last.get(k).copied().unwrap_or(0.0);
                names.push((f.at(0.0, end).1, stroke, each.name.clone()));
            }
        }
        if k == 0 {
            let stroke = Stroke { colour: Colour::Black, width: 1.6, dash: 2 };
            d.curve(&f, stroke, span.map(|x| (x, limit)).into_iter());
            names.push((f.at(0.0, limit).1, stroke, format!("limit {} rpm", short(limit, 0))));
        }
        match breadth {
            Breadth::Wide => d.names(&f, names),
            Breadth::Narrow if k == 0 => once = names,
            Breadth::Narrow if k == 2 => d.names_below(&f, std::mem::take(&mut once)),
            Breadth::Narrow => {}
        }
        d.marker(&f);
    }
    d.svg()
}

fn radius_of([from, to]: [f64; 2], sample: usize) -> f64 {
    from + (to - from) * sample as f64 / (SAMPLES - 1) as f64
}

fn curves(span: [f64; 2], passes: &[Pass<'_>], listing: &Listing<'_>) -> Vec<SpeedCurve> {
    let mut out: Vec<(Vec<usize>, Vec<Option<Speeds>>)> = Vec::new();
    for (i, pass) in passes.iter().enumerate() {
        let mut curve = vec![None; SAMPLES];
        for step in listing.steps.get(pass.steps.clone()).unwrap_or_default() {
            if step.movement.kind == MovementKind::Feed {
                sample(&mut curve, span, step.movement);
            }
        }
        match out.iter_mut().find(|(_, other)| alike(other, &curve)) {
            Some((numbers, _)) => numbers.push(i + 1),
            None => out.push((vec![i + 1], curve)),
        }
    }
    out.into_iter().map(|(numbers, curve)| SpeedCurve { name: numbered(&numbers), curve }).collect()
}

/// Sets the speeds of a motion at the sampled radii that it crosses.
fn sample(curve: &mut [Option<Speeds>], span: [f64; 2], m: &Movement) {
    let (a, b) = (m.piece.from().x, m.piece.to().x);
    let (low, high) = (a.min(b), a.max(b));
    for (j, slot) in curve.iter_mut().enumerate() {
        let r = radius_of(span, j);
        if r >= low && r <= high {
            *slot = at(m, r);
        }
    }
}

fn at(m: &Movement, r: f64) -> Option<Speeds> {
    let rpm = spindle_at(&m.spindle, r)?;
    let feed = match m.feed {
        Feed::PerRev(f) => f.as_mm_per_rev(),
        Feed::PerMinute(f) => f.as_mm_per_min() / rpm,
        Feed::Missing => return None,
    };
    Some([rpm, TAU * r * rpm / 1000.0, feed])
}

fn alike(a: &[Option<Speeds>], b: &[Option<Speeds>]) -> bool {
    let near = |x: f64, y: f64| (x - y).abs() <= ALIKE * x.abs().max(y.abs());
    let both = a.iter().zip(b).filter_map(|(a, b)| a.zip(*b));
    let one = a.iter().zip(b).filter(|(a, b)| a.is_some() != b.is_some()).count();
    // On a slope the ends of passes shift slightly with their depth.
    one <= SAMPLES / 50 && both.into_iter().all(|(a, b)| a.iter().zip(b).all(|(x, y)| near(*x, y)))
}

/// "passes 2 – 6" for numbers that follow one another.
fn numbered(numbers: &[usize]) -> String {
    let mut parts: Vec<(usize, usize)> = Vec::new();
    for &n in numbers {
        match parts.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => parts.push((n, n)),
        }
    }
    let part = |&(a, b): &(usize, usize)| if a == b { a.to_string() } else { format!("{a} – {b}") };
    let text: Vec<String> = parts.iter().map(part).collect();
    format!("pass{} {}", if numbers.len() == 1 { "" } else { "es" }, text.join(", "))
}

/// Whether a pass takes metal.
pub(super) fn cuts(pass: &Pass<'_>) -> bool {
    matches!(pass.swept.kind, PassKind::Cut | PassKind::Rest)
}

/// A number at a place in a frame.
pub(super) fn label(d: &mut Drawing, f: &Frame, (x, y): (f64, f64), text: &str) {
    let (px, py) = f.at(x, y);
    d.text((px, py + 4.0), Anchor::Middle, 11.0, text);
}
