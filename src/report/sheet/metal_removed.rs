//! The picture of the metal removed over the radius: one band per pass, stacked downward, with the clean-up depth and what the wheel may lose.
//!
//! The depth has its own scale: a tenth of a millimetre beside two hundred could not be seen otherwise.

use super::Sheet;
use super::charts::{self, Breadth, cuts, depth_at, frame, label, radii};
use super::passes::Pass;
use super::text::{Shown, Units};
use crate::report::drawing::{Colour, Drawing, Stroke};
use crate::survey::Survey;

/// Number of radii at which the bands are drawn: two per unit of the drawing.
const SAMPLES: usize = 1100;

/// Height of a band, in units of the drawing, from which its number is written inside.
const ROOM_FOR_NUMBER: f64 = 12.0;

const HEIGHT: f64 = 300.0;

/// The bands as a picture.
pub(super) fn bands(sheet: &Sheet<'_>, survey: &Survey, passes: &[Pass<'_>], breadth: Breadth) -> String {
    let span = radii(survey);
    let need = &survey.depth.curve;
    let may = survey.allowance.limit_mm - survey.allowance.taken_mm;
    let cutting: Vec<(usize, &Pass<'_>)> = passes.iter().enumerate().filter(|(_, p)| cuts(p)).collect();
    let radii: Vec<f64> =
        (0..SAMPLES).map(|i| span[0] + (span[1] - span[0]) * i as f64 / (SAMPLES - 1) as f64).collect();
    let already = sheet.already.as_mm();
    let in_zone = |r: f64| sheet.job.zones.iter().any(|z| z.from.as_mm() <= r && r <= z.to.as_mm());
    let mut tops: Vec<f64> = radii.iter().map(|&r| if in_zone(r) { already } else { 0.0 }).collect();
    let before: Vec<(f64, f64, f64)> = radii.iter().zip(&tops).map(|(&r, &top)| (r, 0.0, top)).collect();
    let mut bands = Vec::new();
    for (number, pass) in &cutting {
        let band: Vec<(f64, f64, f64)> = radii
            .iter()
            .zip(&mut tops)
            .map(|(&r, top)| {
                let from = *top;
                *top += depth_at(&pass.swept.taken, r);
                (r, from, *top)
            })
            .collect();
        bands.push((*number, band));
    }
    let deepest = tops.iter().copied().chain(need.iter().map(|p| p.clean_up_mm)).fold(may, f64::max);
    let f = frame(breadth, span, 24.0, HEIGHT, [(deepest * 1.06).max(0.01), 0.0]);
    let mut d = Drawing::in_page(
        breadth.width(),
        HEIGHT + 70.0,
        "Metal removed against the radius, one band for each pass",
    );
    let mut names = Vec::new();
    if already > 0.0 {
        d.band(&f, Colour::Grey, 0.4, &before);
        let sample = Stroke { colour: Colour::Grey, width: 8.0, dash: 0 };
        names.push((f.at(0.0, already / 2.0).1, sample, "taken before".into()));
    }
    for (k, (number, band)) in bands.iter().enumerate() {
        // By the name that program and account give it: passes in the air have numbers of their own.
        let name = passes.get(*number).map_or("", |p| p.name.as_str());
        let colour = Colour::CURVES[k % Colour::CURVES.len()];
        d.band(&f, colour, 0.5, band);
        let edge = Stroke { colour: Colour::Black, width: 0.8, dash: k };
        d.curve(&f, edge, band.iter().map(|&(r, _, low)| (r, low)));
        // Alternately to the left and right, so that numbers do not cover each other.
        let place = if k % 2 == 0 { SAMPLES * 2 / 7 } else { SAMPLES * 5 / 8 };
        let at = band.get(place).copied().unwrap_or_default();
        let tall = (f.at(0.0, at.2).1 - f.at(0.0, at.1).1).abs();
        if tall >= ROOM_FOR_NUMBER {
            label(&mut d, &f, (at.0, f64::midpoint(at.1, at.2)), name);
        }
        let sample = Stroke { colour, width: 8.0, dash: 0 };
        names.push((f.at(0.0, f64::midpoint(at.1, at.2)).1, sample, name.to_owned()));
    }
    for zone in &sheet.job.zones {
        let inside = || need.iter().filter(|p| p.r_mm >= zone.from.as_mm() && p.r_mm <= zone.to.as_mm());
        let run_out = Stroke { colour: Colour::Black, width: 1.4, dash: 2 };
        d.curve(&f, run_out, inside().map(|p| (p.r_mm, p.run_out_mm)));
        let damage: Vec<_> = inside().map(|p| (p.r_mm, p.run_out_mm, p.clean_up_mm)).collect();
        d.band(&f, Colour::Vermilion, 0.35, &damage);
        let stroke = Stroke { colour: Colour::Vermilion, width: 2.4, dash: 1 };
        d.curve(&f, stroke, inside().map(|p| (p.r_mm, p.clean_up_mm)));
    }
    let Shown { unit, times, .. } = Units::of(sheet.job).length;
    let depth = match breadth {
        Breadth::Wide => "depth below the highest place as measured",
        Breadth::Narrow => "depth below the highest place",
    };
    d.frame_in(&f, [times; 2], &format!("radius, {unit}"), &format!("{depth}, {unit}"));
    let clean_up = Stroke { colour: Colour::Vermilion, width: 2.4, dash: 1 };
    let run_out = Stroke { colour: Colour::Black, width: 1.4, dash: 2 };
    names.push((f.at(0.0, survey.depth.clean_up_mm).1, clean_up, "clean-up depth".into()));
    names.push((f.at(0.0, 0.0).1, run_out, "run-out in it".into()));
    let limit = Stroke { colour: Colour::Purple, width: 2.4, dash: 5 };
    d.curve(&f, limit, span.map(|x| (x, may)).into_iter());
    names.push((f.at(0.0, may).1, limit, "may be lost".into()));
    breadth.names(&mut d, &f, names);
    d.marker(&f);
    d.svg()
}

/// How many passes take metal.
pub(super) fn count(passes: &[Pass<'_>]) -> usize {
    passes.iter().filter(|p| charts::cuts(p)).count()
}
