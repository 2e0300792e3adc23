//! The words of touch-off and touch check: in each way of touching, and at every control.

use super::sample::{Sample, control};
use crate::fixtures::demo;
use facewright::face::touch_check::Ground;
use facewright::gcode;
use facewright::job::{Control, OffsetKind, Setter, Touching, UnitWord, XWords};
use facewright::units::Length;

fn mm(value: f64) -> Length {
    Length::mm(value)
}

/// The first touch-off of the sample's head, with a way of touching.
fn touch_off(control: Control, touching: Touching) -> String {
    let sample = Sample::new(control);
    let mut job = sample.job();
    job.touching = touching;
    let mut plan = sample.plan();
    for operation in &mut plan.operations {
        operation.touch_off.lacquer = touching.lacquer;
    }
    let program = &gcode::write(&job, &plan).expect("a program")[0];
    let head = program.text.replace("\r\n", "\n").replace(")\n(- ", " ");
    head.lines().find(|l| l.starts_with("(TOUCH-OFF")).expect("a touch-off").to_owned()
}

#[test]
fn each_way_of_touching_has_its_words() {
    let plain = Touching::default();
    let begin = "(TOUCH-OFF BEFORE START. SPINDLE STANDING. STAND TOOL 1 AT X130.0, TURN THE WHEEL BY HAND TO ITS HIGHEST PLACE THERE, ";
    let end = "ENTER Z0.0 AS THE Z OF THIS PLACE IN OFFSET 01. BACK TO THE PARK)";
    let shim = Touching { shim: mm(0.05), ..plain };
    for (touching, how) in [
        (plain, "TOUCH THE FACE, "),
        (shim, "TOUCH A SHIM OF 0.05 MM LAID ON THE FACE, "),
        (Touching { lacquer: mm(0.06), ..plain }, "TOUCH THE LACQUER, 0.06 MM THICK THERE, "),
        (
            Touching { lacquer: mm(0.06), ..shim },
            "TOUCH A SHIM OF 0.05 MM LAID ON THE LACQUER, 0.06 MM THICK THERE, ",
        ),
    ] {
        assert_eq!(touch_off(control(), touching), format!("{begin}{how}{end}"));
    }
    let work = Touching { into: OffsetKind::Work, ..plain };
    let text = touch_off(Control { work_offset: Some(54), ..control() }, work);
    assert!(text.ends_with("AS THE Z OF THIS PLACE IN WORK OFFSET G54. BACK TO THE PARK)"), "{text}");
    let setter = Touching { setter: Some(Setter { x: mm(290.0), z: mm(40.0) }), ..shim };
    assert_eq!(
        touch_off(control(), setter),
        "(TOUCH-OFF BEFORE START. SPINDLE STANDING. STAND TOOL 1 OVER THE TOOL SETTER AT X130.0, \
         TOUCH A SHIM OF 0.05 MM LAID ON THE TOOL SETTER, ENTER Z0.0 AS THE Z OF THIS PLACE IN OFFSET 01. BACK TO THE PARK)"
    );
}

/// At every control the words of the check name places at which the tool touches so, to the nearest step.
#[test]
fn the_check_names_places_that_touch() {
    let (_, survey) = demo::surveyed();
    for at in demo::at_controls() {
        let mut plan = at.plan.clone();
        plan.look_ahead(&at.job, survey.model(), survey.face());
        for (i, operation) in plan.operations.iter().enumerate() {
            let words = gcode::touch_off_words(operation, &at.job).expect("words");
            // The second tool is checked on the zone that the first has cut, which may have no slopes.
            assert!(words.check.len() >= 3 && (words.tells_x || i > 0), "{}: {words:?}", at.name);
            let control = &at.job.control;
            let inch = matches!(control.unit_word, UnitWord::G20 | UnitWord::G70);
            let unit = if inch { 25.4 } else { 1.0 };
            let factor = if control.x_words == XWords::Diameter { 2.0 } else { 1.0 };
            let (dx, dz) = operation.tool.point_offset();
            let ground = operation.ground.as_ref().expect("a ground");
            for place in &words.check {
                let number = |word: &str| word[1..].parse::<f64>().expect("a number") * unit;
                let (x, z) = (number(&place.x) / factor - dx, number(&place.z) - dz);
                let step = control.resolution.as_mm();
                let off = z - ground.touch(x).z;
                assert!(off.abs() <= 0.5 * step + 1e-9, "{} at {place:?}: {off}", at.name);
            }
        }
    }
}
