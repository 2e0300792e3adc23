//! The survey as a picture of three frames over the same radii: the face and its traces, the deviation of each line
//! from the face, and the clean-up depth.

use crate::geometry::Point;
use crate::job::Job;
use crate::report::drawing::{Anchor, Colour, Drawing, Frame, Stroke};
use crate::survey::Survey;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 150.0;
/// Dents from this depth on are named in the picture.
const NAMED_DEPTH: f64 = 0.08;
/// How far beyond the zones the picture reaches, millimetres: the lip's corner is shown, the tyre is not.
const BEYOND: f64 = 3.0;
/// Three frames under a title.
const HEIGHT: f64 = 800.0;

/// The picture as an SVG file.
#[must_use]
pub fn picture(survey: &Survey, job: &Job) -> String {
    let wheel = if survey.wheel == survey.job { String::new() } else { format!(", {}", survey.wheel) };
    let title = format!("{}: {}{wheel}", survey.verdict.words(), survey.job);
    let mut d = Drawing::new(WIDTH, HEIGHT, &title);
    d.text((LEFT, 26.0), Anchor::Start, 16.0, &title);
    let span = span(survey, job);
    let frame = |top: f64, height: f64, y: [f64; 2]| Frame {
        place: [LEFT, top, WIDTH - LEFT - RIGHT, height],
        x: span,
        y,
    };
    face(&mut d, survey, &frame(66.0, 200.0, bounds(in_zones(job, survey.readings()), 0.15)));
    departures(&mut d, survey, job, |y| frame(330.0, 170.0, y));
    clean_up(&mut d, survey, job, |y| frame(564.0, 180.0, y));
    d.svg()
}

/// The radii shown: the zones and a margin. Farther out the hand-held sensor may have left the face, at very different heights.
fn span(survey: &Survey, job: &Job) -> [f64; 2] {
    let (first, last) = (survey.face().highest.start(), survey.face().highest.end());
    let [from, to] = job.zones.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[from, to], z| {
        [from.min(z.from.as_mm()), to.max(z.to.as_mm())]
    });
    [first.max(from - BEYOND), last.min(to + BEYOND)]
}

/// The heights of rows at radii inside the zones.
fn in_zones<'a>(job: &'a Job, rows: &'a [Vec<Point>]) -> impl Iterator<Item = f64> + 'a {
    let inside = |r: f64| job.zones.iter().any(|z| z.from.as_mm() <= r && r <= z.to.as_mm());
    rows.iter().flatten().filter(move |p| inside(p.x)).map(|p| p.z)
}

/// Draws a row over the radii, interrupted where it leaves the frame; returns the height at which it ends.
fn row(
    d: &mut Drawing,
    frame: &Frame,
    stroke: Stroke,
    points: impl Iterator<Item = (f64, f64)>,
) -> Option<f64> {
    let [low, high] = frame.y;
    let points: Vec<(f64, f64)> = points
        .filter(|&(x, _)| frame.x[0] <= x && x <= frame.x[1])
        .map(|(x, z)| (x, if (low..=high).contains(&z) { z } else { f64::NAN }))
        .collect();
    d.curve(frame, stroke, points.iter().copied());
    points.iter().rev().map(|&(_, z)| z).find(|z| z.is_finite())
}

/// Least and greatest of the numbers, with a margin on both sides as a fraction of their range.
fn bounds(values: impl Iterator<Item = f64>, air: f64) -> [f64; 2] {
    let [low, high] = values
        .filter(|v| v.is_finite())
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| [low.min(v), high.max(v)]);
    if low > high {
        return [0.0, 1.0];
    }
    let air = ((high - low) * air).max(1e-3);
    [low - air, high + air]
}

fn line_stroke(k: usize) -> Stroke {
    // The first pattern, a solid line, is reserved for the face.
    Stroke { colour: Colour::CURVES[k % Colour::CURVES.len()], width: 1.0, dash: k + 1 }
}

fn face(d: &mut Drawing, survey: &Survey, frame: &Frame) {
    d.frame(frame, "radius, mm", "face and traces: height, mm");
    let mut names = Vec::new();
    for (k, (line, angle)) in survey.readings().iter().zip(&survey.model().angles).enumerate() {
        if let Some(z) = row(d, frame, line_stroke(k), line.iter().map(|p| (p.x, p.z))) {
            names.push((frame.at(0.0, z).1, line_stroke(k), format!("line {:.0} deg", angle.to_degrees())));
        }
    }
    let highest = survey.face().highest.points();
    let stroke = Stroke { colour: Colour::Black, width: 1.6, dash: 0 };
    if let Some(z) = row(d, frame, stroke, highest.iter().map(|p| (p.x, p.z))) {
        names.push((frame.at(0.0, z).1, stroke, "face, highest".into()));
    }
    d.names(frame, names);
}

fn departures(d: &mut Drawing, survey: &Survey, job: &Job, frame: impl Fn([f64; 2]) -> Frame) {
    let model = survey.model();
    let over = |(k, line): (usize, &Vec<Point>)| {
        line.iter().map(|p| Point::new(p.x, p.z - model.line_at(k, p.x))).collect()
    };
    let rows: Vec<Vec<Point>> = survey.readings().iter().enumerate().map(over).collect();
    let frame = frame(bounds(in_zones(job, &rows).chain([-0.05, 0.05]), 0.08));
    for dent in survey.damage.iter().filter(|dent| dent.line_deg.is_some()) {
        let (low, high) = (frame.y[0], frame.y[1]);
        d.band(&frame, Colour::Yellow, 0.45, &[(dent.from_mm, low, high), (dent.to_mm, low, high)]);
        // Shallow dents are only in the page's list; here their names would cover each other.
        if dent.depth_mm < NAMED_DEPTH {
            continue;
        }
        let middle = f64::midpoint(dent.from_mm, dent.to_mm);
        let (x, _) = frame.at(middle, 0.0);
        d.text(
            (x, frame.place[1] + frame.place[3] - 5.0),
            Anchor::Middle,
            11.0,
            &format!("mended {:.2}", dent.depth_mm),
        );
    }
    d.frame(
        &frame,
        "radius, mm",
        "each line against the mended face, tilt and bend taken off: mm; dents shaded",
    );
    let mut names = Vec::new();
    for (k, (line, angle)) in rows.iter().zip(&model.angles).enumerate() {
        if let Some(z) = row(d, &frame, line_stroke(k), line.iter().map(|p| (p.x, p.z))) {
            names.push((frame.at(0.0, z).1, line_stroke(k), format!("line {:.0} deg", angle.to_degrees())));
        }
    }
    d.names(&frame, names);
}

fn clean_up(d: &mut Drawing, survey: &Survey, job: &Job, frame: impl Fn([f64; 2]) -> Frame) {
    let curve = &survey.depth.curve;
    let a = &survey.allowance;
    let may = a.limit_mm - a.taken_mm;
    let deepest = curve.iter().map(|p| p.clean_up_mm).fold(a.this_job_mm.max(may), f64::max) * 1.08;
    // Depth is drawn downward, like the motion of the tool.
    let frame = frame([deepest.max(0.01), 0.0]);
    for zone in &job.zones {
        let inside = || curve.iter().filter(|p| p.r_mm >= zone.from.as_mm() && p.r_mm <= zone.to.as_mm());
        let run_out: Vec<_> = inside().map(|p| (p.r_mm, 0.0, p.run_out_mm)).collect();
        let damage: Vec<_> = inside().map(|p| (p.r_mm, p.run_out_mm, p.clean_up_mm)).collect();
        d.band(&frame, Colour::Sky, 0.6, &run_out);
        d.band(&frame, Colour::Vermilion, 0.6, &damage);
        d.curve(
            &frame,
            Stroke { colour: Colour::Black, width: 1.2, dash: 0 },
            inside().map(|p| (p.r_mm, p.clean_up_mm)),
        );
    }
    d.frame(
        &frame,
        "radius, mm",
        "clean-up depth below the highest place, mm: run-out above, damage below it",
    );
    let mut names = Vec::new();
    for (depth, dash, colour, name) in
        [(a.this_job_mm, 1, Colour::Blue, "all passes"), (may, 2, Colour::Purple, "allowance left")]
    {
        let stroke = Stroke { colour, width: 1.4, dash };
        d.curve(&frame, stroke, frame.x.map(|x| (x, depth)).into_iter());
        names.push((frame.at(0.0, depth).1, stroke, format!("{name} {depth:.2}")));
    }
    d.names(&frame, names);
}
