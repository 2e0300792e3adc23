//! The demo's wheel: its program at every control.

use super::Case;
use crate::fixtures::demo::{at_controls, job_and_face};
use facewright::gcode;
use facewright::plan::{self, Options};

/// The programs that the tool writes for the demo, every part of one that is split for itself.
pub fn cases() -> Vec<Case> {
    let face = &job_and_face().1;
    let written = at_controls().iter().flat_map(|control| {
        let mut before = Vec::new();
        control.parts.iter().map(move |part| {
            let name = format!("{}{}", control.name, part.name_suffix());
            let goes_on = part.part < part.of;
            let (text, already) = (part.text.clone(), part.before);
            let earlier = before.clone();
            before.push(text.clone());
            Case {
                name,
                text,
                before: earlier,
                already,
                goes_on,
                job: control.job.clone(),
                face: face.clone(),
            }
        })
    });
    written.collect()
}

/// The same passes written by lines so short that they stand above what is said by hardly more than a step of the control; none where the
/// control's memory would take them in parts, and for programs by hand.
pub fn closer(case: &Case) -> Option<String> {
    let control = at_controls().iter().find(|c| c.name == case.name)?;
    let mut job = control.job.clone();
    job.schedule.tolerance = job.control.resolution * CLOSER;
    let plan = plan::plan(&job, &job_and_face().1, Options::default()).ok()?;
    let mut parts = gcode::write(&job, &plan).ok()?;
    (parts.len() == 1).then(|| parts.remove(0).text)
}

/// Steps of the control: the fewest at which every line of the demo finds its places.
const CLOSER: f64 = 1.5;
