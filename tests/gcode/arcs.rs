//! Arcs of the demo's programs at every control, as the plain control of [`super::replay`] runs their words: radii after NISTIR 6556, 3.5.3 (0.002 mm, in
//! inches 0.0002 in), and no further round than the control allows.

use super::replay::{Move, run};
use crate::fixtures::demo::{AtControl, at_controls};
use facewright::job::{Quadrants, XWords};

/// What start and end may differ by (NISTIR 6556, 3.5.3).
const RADII_MM: f64 = 0.002;
const RADII_INCH: f64 = 0.0002 * 25.4;

/// Rounding of sums of words, millimetres.
const ROUNDING: f64 = 1e-9;

fn angle(centre: (f64, f64), p: (f64, f64)) -> f64 {
    (p.1 - centre.1).atan2(p.0 - centre.0)
}

/// How far an arc of less than half a turn turns, degrees.
fn turned(m: &Move) -> Option<f64> {
    let chord = (m.to.0 - m.from.0).hypot(m.to.1 - m.from.1);
    if let Some(centre) = m.centre {
        let by = angle(centre, m.to) - angle(centre, m.from);
        return Some(by.sin().atan2(by.cos()).abs().to_degrees());
    }
    m.radius.map(|r| 2.0 * (chord / (2.0 * r)).min(1.0).asin().to_degrees())
}

#[test]
fn arcs_end_on_their_circle_and_turn_no_further_than_the_control_allows() {
    let (mut arcs, mut limited, mut split) = (0, 0, 0);
    for AtControl { name, job, parts, .. } in at_controls() {
        let control = &job.control;
        let factor = if control.x_words == XWords::Diameter { 2.0 } else { 1.0 };
        let most = if control.unit_word.is_inch() { RADII_INCH } else { RADII_MM };
        for done in parts.iter().flat_map(|part| run(part, factor)) {
            let Some(turn) = turned(&done) else { continue };
            arcs += 1;
            if let Some(c) = done.centre {
                let [start, end] = [done.from, done.to].map(|p| (p.0 - c.0).hypot(p.1 - c.1));
                assert!((start - end).abs() <= most + ROUNDING, "{name}: {start} and {end}");
                if control.traits.quadrants == Quadrants::Split {
                    split += 1;
                    let sides = [done.from.0 - c.0, done.to.0 - c.0];
                    // No further over the border than one step of the control.
                    let step = control.resolution.as_mm() + ROUNDING;
                    assert!(
                        sides.iter().all(|s| *s >= -step) || sides.iter().all(|s| *s <= step),
                        "{name}: {done:?}"
                    );
                }
            }
            if let Some(longest) = control.traits.longest_arc {
                limited += 1;
                // The word of a radius is a step short at most: at these radii less than a tenth of a degree.
                assert!(turn <= longest.as_deg() + 0.1, "{name}: {turn} degrees");
            }
        }
    }
    assert!(arcs > 500 && limited > 50 && split > 50, "{arcs}, {limited}, {split}");
}
