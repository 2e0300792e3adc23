//! What each part of a divided program holds, and how long it takes.
//!
//! Every part has air passes of its own, and those of the plan are none of them: so the parts together take longer than the plan.

use super::account::whole_seconds;
use crate::gcode::{PassName, ProgramText};
use crate::units::Time;

/// How long all parts take together, and why that is more than the plan says.
#[must_use]
pub fn in_all<'p>(parts: impl Iterator<Item = &'p ProgramText> + Clone) -> String {
    let seconds: f64 = parts.clone().map(|p| p.time.as_s()).sum();
    let time = whole_seconds(Time::s(seconds));
    format!("{} parts, {time} together: each begins with air passes of its own", parts.count())
}

/// The passes of a part and its time, as a list.
#[must_use]
pub fn holds(part: &ProgramText) -> String {
    let runs = part.names.chunk_by(|a, b| a.kind == b.kind && a.ring == b.ring && a.number + 1 == b.number);
    let names: Vec<String> = runs.filter_map(run).collect();
    format!("{}, {}", names.join(", "), whole_seconds(part.time))
}

/// Passes of one kind that follow each other.
fn run(passes: &[PassName]) -> Option<String> {
    let (first, last) = (passes.first()?, passes.last()?);
    Some(if first.number == last.number {
        first.kind.numbered(first.number, first.of)
    } else {
        format!("{} {} to {} of {}", first.kind.name(), first.number, last.number, first.of)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::PassKind;
    use crate::units::Length;

    #[test]
    fn a_part_tells_its_passes_in_order_and_its_time() {
        let name = |kind, number, of| PassName { kind, number, of, ring: None };
        let mut part = ProgramText {
            part: 1,
            of: 2,
            before: Length::mm(0.0),
            passes: 4,
            names: vec![
                name(PassKind::Air, 1, 2),
                name(PassKind::Rough, 3, 5),
                name(PassKind::Rough, 4, 5),
                name(PassKind::Rough, 5, 5),
                name(PassKind::Air, 2, 2),
                name(PassKind::Finish, 1, 1),
            ],
            time: Time::s(362.9),
            blocks: Vec::new(),
            touch_offs: Vec::new(),
            text: String::new(),
        };
        assert_eq!(holds(&part), "air 1 of 2, rough 3 to 5 of 5, air 2 of 2, finish, 6 min 02 s");
        let whole = in_all([&part, &part].into_iter());
        assert_eq!(whole, "2 parts, 12 min 05 s together: each begins with air passes of its own");
        part.names.truncate(2);
        assert_eq!(holds(&part), "air 1 of 2, rough 3 of 5, 6 min 02 s");
    }
}
