//! Every fact that reading and running a program can bring up: its fixed word, its rank, why it matters at the lathe and what to do.
//!
//! One table, so that the same fact never gets two ranks. What was found, with its numbers, is said
//! where it is found. Where a rank rests on how controls behave and no standard says so, it is
//! common practice, no source; rules marked NISTIR stand in NISTIR 6556 (2000), from memory.

use crate::diagnostics::finding::Rank;

/// What is the same each time a fact is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Fact {
    /// Fixed word.
    pub kind: &'static str,
    /// Rank.
    pub rank: Rank,
    /// Why it matters at the lathe.
    pub why: &'static str,
    /// What to do.
    pub fix: &'static str,
}

macro_rules! facts {
    ($($name:ident = $rank:ident $kind:literal, $why:literal, $fix:literal;)*) => {
        $(pub(crate) const $name: Fact =
            Fact { kind: $kind, rank: Rank::$rank, why: $why, fix: $fix };)*
        /// Every fact there is.
        #[cfg(test)]
        pub(crate) const ALL: &[Fact] = &[$($name),*];
    };
}

facts! {
    // Text.
    UNREADABLE = Stop "unreadable",
        "What cannot be read cannot be proved; a control may halt there with the tool in the cut, or read it otherwise.",
        "Write the block with plain words: a letter and a number each.";
    OPEN_COMMENT = Stop "open-comment",
        "Some controls skip the rest of the line, some of the program, some read on: what is carried out is unknown.",
        "Close the bracket on the same line.";
    NESTED_COMMENT = Stop "nested-comment",
        "A control ends the comment at the first closing bracket and reads what follows as words (NISTIR 6556, 3.3.4).",
        "Take the inner bracket out of the comment.";
    BLANK_IN_NUMBER = Warning "blank-in-number",
        "NISTIR 6556, 3.3, reads over blanks inside a number; another control may end the number there.",
        "Write the number without blanks.";
    BYTE_ORDER_MARK = Warning "byte-order-mark",
        "A control may take the mark for a character it does not know.",
        "Save the program as plain ASCII.";
    NOT_ASCII = Note "not-ascii",
        "A control may refuse or garble a comment with letters outside ASCII.",
        "Write comments in plain ASCII.";
    LONG_LINE = Stop "long-line",
        "A control that cuts a line at its limit carries out a word that was cut with it.",
        "Split the line, or shorten its comment.";
    LARGE = Stop "large-program",
        "A program that does not fit is loaded cut short.",
        "Split it at a pass.";
    BIG_SEQUENCE = Warning "big-sequence",
        "NISTIR 6556, 3.3.1, holds sequence numbers up to 99999; a control may halt at a larger one.",
        "Number the blocks anew.";
    REPEATED_SEQUENCE = Note "repeated-sequence",
        "A restart at this number may begin at the other block.",
        "Number the blocks anew.";
    FALLING_SEQUENCE = Note "falling-sequence",
        "Numbers that fall show that blocks were moved or joined by hand.",
        "Look whether the order is meant; number the blocks anew.";
    TAPE_MARK = Warning "tape-mark",
        "The control's description asks for `%` first and last; without them the load may fail or end early.",
        "Put a `%` alone on the first and on the last line.";
    OTHER_NUMBER = Note "program-number",
        "The program may be stored under another number than the operator looks for.",
        "Give it the number in the control's description.";
    SECOND_NUMBER = Stop "second-program",
        "A second program number means that two programs stand in one file.",
        "Take them apart and prove each.";
    AFTER_END = Stop "after-end",
        "What stands after the end was not proved, and the next press of cycle start may run it.",
        "Take it out, or prove it as a program of its own.";
    NO_END = Stop "no-end",
        "Without M30 or M02 the program may have been cut short; the spindle goes on turning over the wheel.",
        "Look whether the file is whole; end it with M30.";

    // Words.
    UNKNOWN_WORD = Stop "unknown-word",
        "What this word does at the control is not known here, so its effect on the wheel cannot be proved.",
        "Take the word out, or write the block without it.";
    OTHER_MEANING = Stop "other-meaning",
        "By the control's description this word belongs to another family of words; there it may start a cycle.",
        "Use the word that the control's description names.";
    REPEATED_WORD = Stop "repeated-word",
        "Which of the two counts differs from control to control (NISTIR 6556, 3.3.5: an error).",
        "Leave one.";
    SAME_GROUP = Stop "same-group",
        "One block may hold one word of each modal group; which counts is not laid down (NISTIR 6556, 3.4: an error).",
        "Leave one, or write two blocks.";
    MANY_M = Stop "many-m-words",
        "NISTIR 6556, 3.3.5, allows four M words a block; many controls carry out only one.",
        "Spread them over blocks.";
    UNUSED_WORD = Stop "unused-word",
        "Nothing in the block uses this word; a control may halt, and the word meant something to who wrote it (NISTIR 6556, 3.5: an error).",
        "Take it out, or add the word it belongs to.";
    MISSING_WORD = Stop "missing-word",
        "Without it the control halts, or takes a value from earlier.",
        "Add the word.";
    NEGATIVE = Stop "negative",
        "This number cannot be below zero (NISTIR 6556, 3.7: an error).",
        "Write it without the sign.";
    NO_AXES = Warning "motion-without-axes",
        "A motion was asked for and no axis named (NISTIR 6556, 3.5.1: an error): a word may be missing.",
        "Name the axes, or take the motion word out.";
    TOO_FINE = Warning "too-fine",
        "The control cannot hold so many decimals: it rounds, cuts off, or halts.",
        "Round to the control's resolution, upward in Z.";
    NO_POINT = Warning "no-point",
        "Read as whole units; a control with implied decimals moves a thousandth of that.",
        "Write the decimal point.";
    UNCLEAR_FEED = Stop "unclear-number",
        "With implied decimals a feed without a point has no certain meaning.",
        "Write the decimal point.";

    // State that is relied on.
    UNIT_UNSET = Stop "unit-unset",
        "The control moves in the unit that the program before it left: 25.4 times too far, or too short.",
        "Set the unit in the first block.";
    WRONG_UNIT = Stop "wrong-unit",
        "The control's description says the other unit: every length would be 25.4 times too long or too short.",
        "Write the program in the control's unit.";
    UNIT_MIXED = Warning "unit-order",
        "By NISTIR 6556, 3.8, F and S are read before the unit word of the same block; other controls read the unit first.",
        "Set the unit in a block of its own, before.";
    DISTANCE_UNSET = Stop "distance-unset",
        "The control may still read increments, as the program before it left.",
        "Write G90 in the first block.";
    PLANE_UNSET = Warning "plane-unset",
        "An arc runs in the plane that is in force; in another plane the control halts in the cut.",
        "Write G18 in the first block.";
    WRONG_PLANE = Stop "wrong-plane",
        "The axes of a lathe span G18; an arc in another plane halts or leaves the path.",
        "Write G18.";
    COMPENSATION_UNSET = Warning "compensation-unset",
        "If the program before left compensation on, the path is shifted by the nose radius.",
        "Write G40 in the first block.";
    COMPENSATION = Stop "compensation",
        "The path already carries the nose: with compensation the nose radius is taken twice, into the wheel.",
        "Take the word out; leave G40 in force.";
    FEED_MODE_UNSET = Stop "feed-mode-unset",
        "Whether 0.2 is for each revolution or for each minute hangs on the program before.",
        "Write the feed mode before the first F word.";
    SPINDLE_MODE_UNSET = Stop "spindle-mode-unset",
        "Whether 300 is revolutions or metres for each minute hangs on the program before.",
        "Write G96 or G97 before the first S word.";
    OFFSET_UNSET = Stop "offset-unset",
        "The shop uses a work offset; without it Z zero is not where the tool was touched off.",
        "Write the work offset of the control's description before the first motion.";
    OTHER_OFFSET = Stop "other-offset",
        "This work offset is not the one that the tool is touched off in: the whole path is shifted.",
        "Use the work offset of the control's description.";
    NO_MOTION_WORD = Stop "no-motion-word",
        "Axes are named but no motion word is in force: the control halts, or moves as the program before left it.",
        "Write G00 or G01 in the block.";
    POSITION_UNKNOWN = Stop "position-unknown",
        "Where this motion starts depends on where the tool happens to stand.",
        "Bring both axes to a stated place by a rapid first.";
    FIRST_POSITION = Note "first-position",
        "The motion starts wherever the tool stands; it is taken to stand at the park.",
        "Bring the tool to the park before the start.";
    MACHINE_FRAME = Stop "machine-frame",
        "Where the machine's own zero lies against the wheel is not known here, so the motion cannot be proved.",
        "Write the motion in the program's own frame.";
    FRAME_SHIFT = Stop "frame-shift",
        "The word moves Z zero: every later height is shifted by an unknown amount.",
        "Take it out; set the zero by touching off.";
    ROUNDED_CORNERS = Warning "rounded-corners",
        "In this mode the control rounds corners: the path leaves the written one.",
        "Leave it out where the control allows.";
    FEATURE_MISSING = Stop "not-at-this-control",
        "The control's description says that it does not read this.",
        "Write the program for this control, or mend the description.";

    // Spindle.
    NO_LIMIT = Stop "no-spindle-limit",
        "Toward the axis a constant surface speed drives the spindle without bound: the wheel can leave the chuck.",
        "Set the spindle limit in a block before.";
    LIMIT_TOO_HIGH = Stop "limit-too-high",
        "The limit lets the spindle turn faster than wheel or machine may.",
        "Lower the limit.";
    OVER_SPEED = Stop "over-speed",
        "The spindle would turn faster than wheel or machine may.",
        "Lower the S word.";
    SPINDLE_OFF = Stop "spindle-off",
        "A tool fed into a wheel that stands still tears metal or breaks.",
        "Start the spindle before.";
    SPINDLE_WRONG_WAY = Stop "spindle-wrong-way",
        "The back of the edge rubs, and a chuck can loosen.",
        "Turn the spindle the way the control's description says.";
    NO_SPEED = Stop "no-speed",
        "The spindle turns as fast as whatever was set before.",
        "Write the S word after the mode, before the cut.";
    REVERSED_RUNNING = Warning "reversed-running",
        "Reversing a turning spindle jolts the wheel in its clamping.",
        "Stop the spindle with M05 between.";
    OTHER_SURFACE_SPEED = Warning "other-surface-speed",
        "Faster than any pass of the schedule: the edge may burn, and the figures given for the job no longer hold.",
        "Bring S down to the schedule, or mend the schedule.";

    // Feed.
    NO_FEED = Stop "no-feed",
        "The control halts, or feeds as fast as whatever was set before.",
        "Write the F word after the feed mode, before the cut.";
    ZERO_FEED = Stop "zero-feed",
        "The tool stands and rubs on the turning wheel.",
        "Write a feed above zero.";
    FEED_TOO_FAST = Stop "feed-too-fast",
        "The machine cannot feed so fast; it halts, or cuts at another feed than written.",
        "Lower the feed or the speed.";
    FEED_COARSE = Stop "feed-coarse",
        "A feed for each revolution larger than the nose cuts a thread, and loads the edge until it breaks. It looks like a feed for each minute.",
        "Look at the feed mode and at the decimal point.";
    FEED_FINE = Stop "feed-fine",
        "So small a feed only rubs. It looks like a feed for each revolution read as one for each minute.",
        "Look at the feed mode and at the decimal point.";
    OTHER_FEED = Warning "other-feed",
        "Coarser than any pass of the schedule: the texture and the load are not those of the job.",
        "Bring F down to the schedule, or mend the schedule.";
    SHORT_BLOCK = Warning "short-block",
        "The control cannot read blocks as fast as it runs them: it stutters, and the face shows it.",
        "Join blocks, or feed more slowly.";

    // Arcs.
    ARC_RADII = Stop "arc-radii",
        "Start and end do not lie on one circle: the control halts, or bends the path (NISTIR 6556, 3.5.3.2: an error).",
        "Correct the end point or I and K.";
    ZERO_ARC = Stop "zero-arc",
        "An arc that ends where it starts is nothing on one control and a full circle on another.",
        "Take it out.";
    LONG_ARC = Stop "long-arc",
        "No facing cut turns beyond half a circle: the sense of the arc or its centre is wrong.",
        "Look at G02 and G03, and at I and K or the sign of R.";
    HALF_ARC = Warning "half-arc",
        "Close to half a turn a small error of R moves the centre far (NISTIR 6556, 3.5.3.1).",
        "Split the arc.";
    SHORT_RADIUS = Stop "short-radius",
        "The end is further away than a circle of this radius reaches (NISTIR 6556, 3.5.3.1: an error).",
        "Correct R or the end point.";
    ARC_FORM = Stop "arc-form",
        "The control's description does not have arcs in this form.",
        "Write the arc as the control reads it.";

    // Tool.
    NO_TOOL = Stop "no-tool",
        "Which tool cuts, and with which offset, hangs on what ran before.",
        "Call the tool before the first cut.";
    OTHER_TOOL = Stop "other-tool",
        "The job knows no tool of this number: its nose and edges are unknown.",
        "Call a tool of the job.";
    TOOL_FORM = Stop "tool-form",
        "The control's description calls tools otherwise: this word may call another tool, or another tool's offset.",
        "Call the tool as the control's description says.";
    TOOL_OFFSET_OFF = Stop "tool-offset-off",
        "Without its offset the tool's point is not where the program says.",
        "Call the tool with its offset before the cut.";
    CHANGE_TURNING = Warning "change-while-turning",
        "The tool changes over a turning wheel.",
        "Stop the spindle before the change.";

    // Places and the end.
    TRAVEL = Stop "travel",
        "The machine cannot go there: it halts in the middle of the program, or strikes its stop.",
        "Keep the path inside the machine's travel.";
    SPINDLE_LEFT_ON = Warning "spindle-left-on",
        "Not every control stops the spindle at the end: a hand may reach in while it turns.",
        "Write M05 before the end.";
    COOLANT_LEFT_ON = Warning "coolant-left-on",
        "Not every control stops the coolant at the end.",
        "Write M09 before the end.";
    SURFACE_LEFT_ON = Warning "surface-speed-left-on",
        "A spindle started by hand takes its S as a surface speed, and runs up toward the axis.",
        "Write G97 before the end.";
    INCREMENTS_LEFT_ON = Warning "increments-left-on",
        "The next program may read its places as steps.",
        "Write G90 before the end.";
    OFFSET_LEFT_ON = Note "offset-left-on",
        "A tool moved by hand, or the next program, still has this tool's offset.",
        "Call the tool with offset 00 at the end.";
    SKIP_SWITCHES = Warning "skip-switches",
        "Only all switches on and all off were proved, not every mixture.",
        "Use one block-skip switch.";
}

#[cfg(test)]
mod tests {
    use super::{ALL, Rank};
    use std::collections::{BTreeMap, BTreeSet};
    use std::fs;

    #[test]
    fn every_fact_has_its_own_word_and_says_all_it_should() {
        let kinds: BTreeSet<_> = ALL.iter().map(|f| f.kind).collect();
        assert_eq!(kinds.len(), ALL.len(), "two facts share a word");
        for fact in ALL {
            assert!(fact.kind.chars().all(|c| c.is_ascii_lowercase() || c == '-'), "{}", fact.kind);
            assert!(fact.why.ends_with('.') && fact.fix.ends_with('.'), "{}", fact.kind);
        }
    }

    /// Words in the sweep's source that stand alone as texts and are no findings.
    const NO_FINDINGS: [&str; 5] = ["lowercase", "outward", "inward", "pass", "passes"];

    /// The page's table says of each finding what the program says, and has no other.
    #[test]
    fn the_page_has_every_finding_and_no_other() {
        let page = fs::read_to_string("docs/proof.md").unwrap_or_default();
        let table = page.split("## Findings").nth(1).unwrap_or_default();
        let rows: BTreeMap<&str, &str> =
            table.lines().filter_map(|l| Some((l.strip_prefix("| `")?.split('`').next()?, l))).collect();
        for fact in ALL {
            let rank = match fact.rank {
                Rank::Note => "note",
                Rank::Warning => "warning",
                Rank::Stop => "stop",
            };
            let wanted = format!("| `{}` | {rank} | {} |", fact.kind, fact.why);
            // A word of the sweep's too may have more than one rank.
            let row = rows.get(fact.kind).copied();
            assert!(
                row == Some(&wanted) || row.is_some_and(|r| r.contains(" or ")),
                "the page lacks {wanted}"
            );
        }
        let folder = fs::read_dir("src/proof/sweep").into_iter().flatten().flatten();
        let source: String = folder.filter_map(|f| fs::read_to_string(f.path()).ok()).collect();
        let word = |t: &&str| t.len() > 3 && t.chars().all(|c| c.is_ascii_lowercase() || c == '-');
        let swept: BTreeSet<&str> =
            source.split('"').skip(1).step_by(2).filter(word).filter(|t| !NO_FINDINGS.contains(t)).collect();
        assert!(swept.contains("gouge") && swept.contains("no-air-pass"), "the sweep's source was not read");
        let missing: Vec<_> = swept.iter().filter(|t| !rows.contains_key(*t)).collect();
        assert!(missing.is_empty(), "the page lacks {missing:?}");
        let known = |kind: &&str| swept.contains(*kind) || ALL.iter().any(|f| f.kind == *kind);
        let gone: Vec<_> = rows.keys().filter(|k| !known(k)).collect();
        assert!(gone.is_empty(), "the page has {gone:?}, which nothing says");
    }
}
