//! What must be seen of a dry program, block by block: the list that stays readable where the control shows no comments.

use crate::gcode::Seen;
use crate::proof::{DryReport, Rank};
use std::fmt::Write;

/// The account of a dry program.
#[must_use]
pub fn account(seen: &[Seen], report: &DryReport) -> String {
    let mut text = String::from(
        "try-out  empty chuck, no wheel, door shut; single block on, overrides low, a hand at the stop\n         note the first tool's offset; the tool at the park, its offset set so that the display shows the park there\n         after the try-out put the offset back in X and Z: a touch-off sets Z anew, X it does not\n         wherever anything else is seen than stands here: stop, and mend the shop file (docs/controls.md)\n",
    );
    for Seen { what, blocks } in seen {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "\nafter    {}", blocks.join("\n         "));
        let _ = writeln!(text, "see      {what}");
    }
    let motions = report.simulation.skip_off.movements.len();
    let _ = writeln!(text, "\nproof    read back: {motions} motions beside the park, no stop");
    for finding in report.findings.iter().filter(|f| f.rank == Rank::Warning) {
        let _ = writeln!(text, "warning  {}; {}", finding.what, finding.remedy);
    }
    text
}
