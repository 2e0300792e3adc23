//! Which stops the tool's charter asks for whether or not metal comes to harm, and which must be borne out by the oracle.
//!
//! A stop of the first sort is right by what stands in the text: the block breaks a rule of the control or
//! of the standard, and what a control then does is not known. A stop of the second sort says something of
//! metal; on a program that does no harm it is right only where the oracle, by its own reckoning, finds the
//! rule broken without harm: a groove shallower than what counts as a gouge, a bite that a later pass hides, a rapid
//! that comes near.

/// The rule by which a stop is asked for, whatever the metal; none where the oracle must bear it out.
fn by_text(stop: &str) -> Option<&'static str> {
    let rule = match stop {
        "unreadable"
        | "unknown-word"
        | "other-meaning"
        | "not-at-this-control"
        | "machine-frame"
        | "frame-shift"
        | "unclear-number"
        | "open-comment"
        | "nested-comment" => "what proof does not know is never skipped",
        "same-group" | "repeated-word" | "many-m-words" => "one word of each modal group a block",
        "unused-word" | "missing-word" | "negative" => "an error that NISTIR 6556 lists",
        "long-line" | "large-program" => "what the control holds",
        "no-end" => "missing end",
        "after-end" | "second-program" => "what follows the end is not proved",
        "unit-unset" | "wrong-unit" | "distance-unset" | "wrong-plane" | "feed-mode-unset"
        | "spindle-mode-unset" | "offset-unset" | "other-offset" | "no-motion-word" | "position-unknown"
        | "compensation" => "a mode relied on but never set, or another than the control's",
        "no-spindle-limit" | "limit-too-high" | "over-speed" | "surface-speed" => {
            "surface speed without a limit, or speeds above the job's"
        }
        "spindle-off" | "spindle-wrong-way" | "no-speed" => "spindle not turning, or the wrong way",
        "no-feed" | "zero-feed" | "feed-too-fast" | "feed-coarse" | "feed-fine" | "feed" => {
            "feed missing, zero, beyond the machine, wrong mode"
        }
        "arc-radii" | "zero-arc" | "long-arc" | "short-radius" | "arc-form" => {
            "arc whose radii differ, of no length, the wrong way"
        }
        "no-tool" | "other-tool" | "tool-form" | "tool-offset-off" | "tool" => "tool number differs",
        "travel" => "travel exceeded",
        "no-stop-after-air" => "no stop after the air pass",
        _ => return None,
    };
    Some(rule)
}

/// What the oracle must have found for a stop that says something of metal.
fn by_metal(stop: &str) -> &'static [(&'static str, &'static str)] {
    match stop {
        "gouge" => &[("groove", "gouge beyond the tolerance")],
        "pass-too-deep" => &[
            ("groove", "a pass deeper than the schedule, that a later pass hides"),
            ("deep bite", "a pass deeper than the schedule, that a later pass hides"),
        ],
        // A rapid that only just enters a keep-out comes nearer to it than the clearance all the more.
        "keep-out" => &[("near", "rapid within the clearance")],
        "rapid-near" => &[("near", "rapid within the clearance")],
        _ => &[],
    }
}

/// The rule that asks for a stop on a program that does no harm, where there is one.
pub fn of(stop: &str, broken: &[&str]) -> Option<&'static str> {
    by_text(stop)
        .or_else(|| by_metal(stop).iter().find(|(sign, _)| broken.contains(sign)).map(|(_, rule)| *rule))
}
