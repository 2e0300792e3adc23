//! What a person should know of a plan that is not refused.

super::rules! {
    /// What a plan leaves that a person should know.
    PlanRule {
        Plan {
            DamageStays = Warning "damage-stays" "passes that end above the clean-up depth",
                "The damage that is left will still be seen.",
                "Ask for `passes: auto`, or for more passes, if the damage is to go and the allowance holds.";
            OutOfReach = Warning "out-of-reach" "metal that the tool cannot reach",
                "A ridge or an unworked corner stays in the face.",
                "Choose a smaller nose or steeper edges, or leave that place out of the zones.";
            TextureTooFine = Warning "texture-too-fine" "texture finer than the edge can leave",
                "The edge's own rounding draws ridges as high as these: a finer feed costs time and changes nothing to be seen.",
                "Ask for a rougher texture, or give the tool's `cutting_edge_radius` if its edge is sharper.";
            ArcsAsLines = Warning "arcs-as-lines" "arcs for which the control's lines have no room",
                "Many short lines take their place: the program is longer, and the control may stutter in them.",
                "Raise `longest_line`, if the control reads longer lines; else write `sequence: none`, which leaves more room in each.";
            RingNotAllRound = Warning "ring-not-all-round" "trial ring shallower than its clean-up depth",
                "Part of the turn keeps its old face: what is looked at there is not the ring.",
                "Give the ring that depth, or place it where the wheel runs truer.";
            AnotherZero = Warning "another-zero" "lines of another sensor than the shop's",
                "Where a sensor was zeroed is the zero of all heights. Park, travel and keep-outs in the shop file were written for the shop's own sensor: \
                 from another's zero they may stand inches off, in the wheel or beyond the slide's stop.",
                "Touch one place with both sensors and compare what they read; zero this one there alike, or correct the shop's heights for it.";
            Waviness = Warning "waviness" "waviness beyond the schedule's limit",
                "In a bright face waves of some micrometres show as rings.",
                "Lessen what causes it, or raise the limit.";
        }
    }
}
