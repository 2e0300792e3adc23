//! The demo's wheel: its program at every control.

use super::Case;
use crate::fixtures::{controls, demo};
use facewright::gcode;
use facewright::plan::{Options, plan};

/// The programs that the tool writes for the demo, every part of one that is split for itself.
pub fn cases() -> Vec<Case> {
    let (sound, face) = demo::job_and_face();
    let written = controls::VARIANTS.iter().flat_map(|&(name, change)| {
        let mut job = sound.clone();
        change(&mut job);
        let plan = plan(&job, face, Options::default()).expect("the demo can be planned");
        let parts = gcode::write(&job, &plan).expect("the demo can be written");
        let mut before = Vec::new();
        parts.into_iter().map(move |part| {
            let name = format!("{name}{}", part.name_suffix());
            let goes_on = part.part < part.of;
            let (text, already) = (part.text, part.before);
            let earlier = before.clone();
            before.push(text.clone());
            Case { name, text, before: earlier, already, goes_on, job: job.clone(), face: face.clone() }
        })
    });
    written.collect()
}
