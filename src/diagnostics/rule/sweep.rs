//! What the tool would do to the wheel: rules of the sweep over the measured face.
//!
//! Ranks are common practice, no source.

/// Why every program needs a complete air pass that is watched.
const LAST_LOOK: &str =
    "the air pass is the last look before metal is cut: wrong zero points and wrong tools show there";
/// How a tool must begin.
const BEGIN_DRY: &str = "begin each tool with its first pass's path lifted above the face, then M00";
/// How an air pass must run.
const SAME_PATH: &str = "make the air pass the first pass's path, lifted";
/// How to correct a block that cuts too deep.
const MEND_BLOCK: &str = "mend the block's coordinates, or write the program anew";

super::rules! {
    /// What the tool would do to the wheel.
    SweepRule {
        Motion {
            WheelRefused = Stop "wheel-refused" "wheel that the survey refuses",
                "no program makes a cracked, bent or badly measured wheel safe to cut",
                "do what the survey says; the wheel maker's rules, local rules and licensed practice come first";
            NotANumber = Stop "not-a-number" "coordinate that is no finite number",
                "where the tool goes cannot be told",
                "mend the block's words";
            TooLong = Stop "too-long" "program longer than proof follows",
                "what the blocks behind do to the wheel is not known",
                "no wheel needs so many passes: look for blocks that stand there many times, or divide the program";
            Tool = Stop "tool" "tool that the job does not name",
                "a tool of another shape cuts another face",
                "call the job's tool, or name this tool in the job";
            RapidInMetal = Stop "rapid-in-metal" "rapid into the metal",
                "the tool hits the wheel at full speed",
                "lift the tool before it crosses, or cut at feed";
            RapidNear = Stop "rapid-near" "rapid within the clearance",
                "at rapid nobody can stop the machine in time",
                "keep rapids at the clearance, and go the last way at feed";
            // A rapid straight up only moves away: not dangerous, but a correct program leaves the face at feed.
            RapidOffFace = Warning "rapid-off-face" "rapid straight up from within the clearance",
                "the tool jumps off where it should leave at feed: a block may be missing, and the face shows the mark",
                "look for a missing block before it; leave the face at feed, to the clearance";
            KeepOut = Stop "keep-out" "tool in a keep-out",
                "the tool hits what stands there",
                "lead the tool another way";
            FedAstray = Stop "fed-astray" "tool fed low beyond the zones",
                "the job has nothing to cut there: a wrong coordinate leads the tool over tyre or hub, and they stand where nobody measured them",
                "mend the block's coordinates; away from the zones keep the clearance";
            Unmeasured = Stop "unmeasured" "tool low over what was not measured",
                "what stands there is not known, and the tool goes below where the measured face ends",
                "lead the tool another way";
            OverUnmeasured = Warning "over-unmeasured" "rapid low over what was not measured",
                "how high hub or rim stands there nobody has measured, and at rapid nobody can stop the machine in time",
                "lead the tool up to the height of the park, or 15 mm over the face, before it goes there; or measure as far";
            TouchOffElsewhere = Stop "touch-off-elsewhere" "touch-off that the job does not give",
                "the operator enters that height, and every cut of the tool is too deep or too high by as much",
                "write the program anew from this job file: shim, lacquer, setter or scans have changed since, or somebody edited the comment";
        }
        Cut {
            GougeOutside = Stop "gouge" "cut deeper than its place allows",
                "the face there is to stay as it is",
                "keep the path within the zones, or name the ring as a zone";
            GougeGroove = Stop "gouge" "cut deeper than its place allows",
                "it leaves a groove that later passes must chase, or that stays",
                MEND_BLOCK;
            PassTooLow = Stop "pass-too-deep" "pass deeper than the schedule",
                "metal that is gone cannot be put back, and a cut too deep can throw the wheel",
                MEND_BLOCK;
            PassBite = Stop "pass-too-deep" "pass deeper than the schedule",
                "a cut too deep can break the edge or throw the wheel",
                "look for a missing pass before this one, or a wrong coordinate in this block";
            HolderTouches = Stop "holder-touches" "tool's holder in the metal",
                "the holder does not cut: it rubs, pushes and breaks",
                "choose a tool that reaches, or leave the place out of the zones";
            EdgeCuts = Warning "edge-cuts" "straight edge cuts in place of the nose",
                "a long straight contact chatters and leaves a poor face",
                "choose a tool with a steeper edge or a larger nose, or end the zone before so steep a place";
            CutStanding = Stop "cut-standing" "cut while the spindle stands",
                "the tool drags over standing metal and breaks",
                "start the spindle before the cut";
            NoCoolant = Warning "no-coolant" "cut without coolant",
                "the control's description says coolant while cutting: chips weld to the edge and mark the face",
                "switch it on before the cut";
        }
        AirPass {
            NoAirPass = Stop "no-air-pass" "tool that cuts without an air pass", LAST_LOOK, BEGIN_DRY;
            NoStopAfterAir = Stop "no-stop-after-air" "no stop between air pass and first cut", LAST_LOOK, BEGIN_DRY;
            AirPassShort = Stop "air-pass-short" "air pass that leaves out a place of the first cut", LAST_LOOK, BEGIN_DRY;
            AirPassJumps = Stop "air-pass-short" "air pass that leaves out a place of the first cut",
                "the air pass is the last look before metal is cut: what it jumps over, nobody has seen",
                SAME_PATH;
            AirPassTouches = Stop "air-pass-touches" "air pass that touches",
                "an air pass that touches is a cut nobody looked at",
                "lift the air pass";
            AirPassHeight = Warning "air-pass-height" "air pass at another height than asked",
                "too low it may touch, too high it shows nothing",
                SAME_PATH;
            AirFeed = Warning "air-feed" "air pass faster than asked",
                "so fast nobody sees where it runs, nor stops it in time",
                "set the feed of the schedule's air pass";
            AirPassWet = Warning "air-pass-wet" "air pass under coolant",
                "the coolant hides what the air pass is to show",
                "switch the coolant on after the stop behind the air pass";
            AirPassUneven = Warning "air-pass-uneven" "air pass along another path than the first cut",
                "the air pass shows another path than the one that is cut",
                SAME_PATH;
        }
        Rates {
            OverSpeed = Stop "over-speed" "spindle faster than wheel or machine may turn",
                "a wheel turned too fast leaves the chuck",
                "set the spindle limit before the surface speed, or a lower speed";
            SurfaceSpeedSlip = Stop "surface-speed" "surface speed above the schedule's",
                "the edge wears faster, and a slip in an S word turns a wheel too fast",
                "set the scheduled surface speed";
            SurfaceSpeed = Warning "surface-speed" "surface speed above the schedule's",
                "the edge wears faster, and a slip in an S word turns a wheel too fast",
                "set the scheduled surface speed";
            FeedThread = Stop "feed" "feed above the schedule's",
                "the tool cuts a thread, not a face",
                "set the scheduled feed";
            FeedSlip = Stop "feed" "feed above the schedule's",
                "ridges grow with the square of the feed, and so does the load on the edge",
                "set the scheduled feed";
            Feed = Warning "feed" "feed above the schedule's",
                "ridges grow with the square of the feed, and so does the load on the edge",
                "set the scheduled feed";
            FeedLow = Warning "feed-low" "feed below half of the schedule's",
                "the edge rubs instead of cutting, and the pass takes twice as long and more",
                "look at the decimal point; set the scheduled feed";
            Grooves = Warning "grooves" "grooves closer than the schedule says",
                "the face was to match grooves that are further apart",
                "set the scheduled feed";
        }
        Job {
            Allowance = Stop "allowance" "more metal than the wheel may lose",
                "a wheel thinner than its maker allows can break on the road",
                "take fewer passes, or do not cut this wheel";
            MoreThanNeeded = Warning "more-than-needed" "more metal than the job needs",
                "metal that goes now is missing at the next repair",
                "look whether a pass is there twice";
            MetalLeft = Warning "metal-left" "metal left that the tool could take",
                "a block may be missing or wrong there, and the face shows it",
                "look at the blocks near this radius, or write the program anew";
            PartTakesLess = Stop "part-takes-less" "part that takes less than its head says",
                "the next part relies on it, and would take in one pass what this one leaves",
                "write the parts anew; run no other part behind this one";
            PartTakesNothing = Warning "part-takes-less" "part that takes less than its head says",
                "the next part relies on it, and would take in one pass what this one leaves",
                "look whether its passes were lost or raised";
            NoStopBetween = Warning "no-stop-between" "no stop between two passes",
                "the shop stops between its passes: somebody looks whether the next one is still needed, and whether the tool cut true",
                "write the stop after each pass that the control's description says (`stops`)";
            TakesNothing = Warning "takes-nothing" "pass that takes nothing",
                "what it was to take still stands, and the next program takes it in one pass with its own",
                "look whether the pass was raised, or is there twice";
            FinishTakesMore = Warning "finish-takes-more" "finish that takes more than the schedule gives it",
                "a thick last cut leaves another texture, and a rough pass before it may have been lost",
                "look for a rough pass that is missing, or write the program anew";
            Direction = Warning "direction" "pass against the direction of the schedule",
                "the face looks otherwise, and a tool may be made for one way",
                "turn the pass round, or the schedule";
            ZoneNotCut = Warning or Note "zone-not-cut" "part of a zone that is not cut",
                "a step stays in the face",
                "look for a pass cut short";
            PassesMissing = Warning or Note "passes-missing" "fewer passes than the schedule",
                "damage may stay, or the texture be another",
                "write the program anew, or change the schedule";
            DamageRemains = Warning or Note "damage-remains" "damage that stays",
                "the damage will still be seen",
                "take another pass, if the allowance holds";
            Rest = Warning or Note "rest" "metal that the tool does not reach",
                "a ridge or an unworked corner stays",
                "a smaller nose or a steeper edge reaches further";
            Waviness = Warning "waviness" "waviness beyond the schedule's limit",
                "in a bright face waves of some micrometres show as rings",
                "look at the blocks of the finish, lessen the schedule's tolerance, or raise its limit";
        }
    }
}
