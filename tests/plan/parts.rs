//! A plan in parts: each tool is touched off once in all of them.

// Counts of steps and bytes: small, and not negative.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

use crate::fixtures::demo;
use facewright::gcode;
use facewright::plan::{Options, plan};

/// Words with which a later part says that its first tool stays as it was set.
const STAYS: &str = "DO NOT TOUCH IT OFF AGAIN";

#[test]
fn every_tool_is_touched_off_once_in_all_parts() {
    let (demo, face) = demo::job_and_face();
    let whole = plan(demo, face, Options::default()).expect("a plan");
    let bytes = gcode::write(demo, &whole).expect("a program")[0].text.len();
    let mut most = 0;
    for share in [0.8, 0.6, 0.45, 0.35] {
        let mut job = demo.clone();
        job.control.largest_program = (bytes as f64 * share) as u64;
        let Ok(parts) = gcode::write(&job, &whole) else { continue };
        most = most.max(parts.len());
        for tool in &job.tools {
            let words: Vec<String> = parts.iter().flat_map(|p| touch_offs(&p.text)).collect();
            let of_tool = words.iter().filter(|w| w.contains(&format!("TOOL {} ", tool.number)));
            let anew: Vec<_> = of_tool.filter(|w| !w.contains(STAYS)).collect();
            assert_eq!(anew.len(), 1, "share {share}, tool {}: {words:#?}", tool.number);
        }
    }
    assert!(most > 2, "{most} parts at most");
}

/// The touch-offs of a program's head, each on one line.
fn touch_offs(text: &str) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for line in text.lines().filter_map(|l| l.strip_prefix('(')?.strip_suffix(')')) {
        if let Some(words) = line.strip_prefix("TOUCH-OFF ") {
            all.push(words.to_owned());
        } else if let (Some(more), Some(last)) = (line.strip_prefix("- "), all.last_mut()) {
            // Comments of other kinds are added to the last one too; they name no tool.
            *last += " ";
            *last += more;
        }
    }
    all
}
