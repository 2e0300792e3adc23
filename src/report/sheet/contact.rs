//! What each pass touches over the turn: a sentence for each and a picture of the share against the radius.

use super::charts::{Breadth, both, frame, radii};
use super::text::{Shown, Units};
use super::{Origin, Sheet};
use crate::plan::contact::Contact;
use crate::report::account::contact_lines;
use crate::report::drawing::{Colour, Drawing, Stroke};
use crate::survey::Survey;
use maud::{Markup, html};

const HEIGHT: f64 = 150.0;

/// The section's part on contact; nothing where the turn is not known or the program is not the plan's.
pub(super) fn contact(sheet: &Sheet<'_>) -> Markup {
    let (Ok(plan), Ok(survey)) = (sheet.plan.as_ref(), sheet.survey.as_ref()) else { return html! {} };
    let contacts: Vec<&Contact> = plan
        .operations
        .iter()
        .flat_map(|o| &o.passes)
        .filter_map(|p| p.contact.as_ref().filter(|_| p.ring.is_none()))
        .collect();
    if contacts.is_empty() || sheet.origin == Origin::Given {
        return html! {};
    }
    let title = "Share of the turn in contact against the radius";
    html! {
        h3 { "What the passes look and sound like" }
        ul { @for line in contact_lines(plan) { li { (line) } } }
        figure {
            figcaption { strong { (title) } ". A broken cut is on the high side of the wheel. More contact than this means touched too low, less too high." }
            (both(title, |breadth| picture(sheet, survey, &contacts, title, breadth)))
        }
    }
}

/// One curve for each pass up to the first that is unbroken.
fn picture(
    sheet: &Sheet<'_>,
    survey: &Survey,
    contacts: &[&Contact],
    title: &str,
    breadth: Breadth,
) -> String {
    let Shown { unit, times, .. } = Units::of(sheet.job).length;
    let last = contacts.iter().position(|c| c.is_unbroken()).unwrap_or(contacts.len());
    let mut d = Drawing::in_page(breadth.width(), HEIGHT + 70.0, title);
    let f = frame(breadth, radii(survey), 24.0, HEIGHT, [0.0, 105.0]);
    d.frame_in(&f, [times, 1.0], &format!("radius, {unit}"), "share of the turn in contact, %");
    let mut names = Vec::new();
    for (k, contact) in contacts.iter().take(last + 1).enumerate() {
        let stroke = Stroke { colour: Colour::CURVES[k % Colour::CURVES.len()], width: 2.0, dash: k };
        // Between two zones the curve is broken.
        let apart = |a: f64, b: f64| b - a > 2.0;
        let mut before = f64::NAN;
        let mut points = Vec::new();
        for (r, share) in &contact.at {
            let r = r.as_mm();
            if apart(before, r) {
                points.push((f64::midpoint(before, r), f64::NAN));
            }
            points.push((r, 100.0 * share));
            before = r;
        }
        let end = contact.at.last().map_or(0.0, |(_, share)| 100.0 * share);
        d.curve(&f, stroke, points.into_iter());
        names.push((f.at(0.0, end).1, stroke, format!("pass {}", contact.number)));
    }
    breadth.names(&mut d, &f, names);
    d.marker(&f);
    d.svg()
}
