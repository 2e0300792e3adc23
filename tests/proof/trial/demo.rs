//! The demo's wheel: its program at every control.

use super::Case;
use crate::fixtures::demo::{at_controls, job_and_face};

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
