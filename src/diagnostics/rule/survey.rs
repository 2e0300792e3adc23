//! What the measured lines show about the wheel, each value with its limit.
//!
//! A title is the label of its row on the survey's page. Ranks are common practice, no source. The figures from service manuals
//! that bend and run-out are compared with are given where they are judged.

/// What must not be cut, and who decides about it.
macro_rules! refer {
    ($first:literal) => {
        concat!(
            $first,
            " Ask the wheel maker, and keep to local rules and to what a licensed practice may do."
        )
    };
}

/// Why the lines must be spread round the wheel.
const ALL_ROUND: &str = "The highest place of the turn and the tilt come from lines all round: where none lies, the wheel is a guess, and the first contact with it.";
/// Why noise matters.
const NOISE: &str = "Noise of the measurement goes into the path and shows in the bright face.";
/// Why the run-out as mounted matters.
const RUNS_OUT: &str = "What the wheel runs out is taken off one side of it as metal, and how it runs on the road stays as it is.";
/// Why an indicator's reading is compared.
const INDICATOR: &str =
    "An indicator sees the whole turn; a few lines can lie beside its highest and lowest place.";
/// Why bend matters.
const BENT: &str =
    "Bent metal has been stretched and may be cracked; cutting it true makes it thin on one side.";
/// Why two lobes matter.
const TWO_LOBES: &str = "A bend in two lobes reads as tilt, or as nothing, on few lines.";
/// Why dents are listed.
const DENTS: &str = "A dent is left out of the face, so that it is not cut into the whole turn; its depth sets how deep the wheel is cut.";
/// Why what was taken is measured.
const TAKEN: &str = "A tool touched off wrongly, or worn, takes more or less than the program says: passes planned on what was told go too deep, or leave damage.";
/// Why the number of passes matters.
const PASSES: &str =
    "Passes too few leave damage standing, passes too many cost metal that the next repair lacks.";
/// Why the allowance matters.
const METAL: &str = "A wheel thinner than its maker allows can break on the road.";

super::rules! {
    /// What the measured lines say of the wheel.
    SurveyRule {
        Quality {
            CopiedLine = Stop "copied-line" "copied line",
                "Two angles of a wheel never read alike: a line that repeats another hides how the wheel runs.",
                "Measure each angle by itself, and name each scan once.";
            StuckSensor = Stop "stuck-sensor" "stuck sensor",
                "Where the sensor held one value nobody saw the face, and the path there is a guess.",
                "Look at the sensor and its range, and measure that line again.";
            ImpossibleBall = Stop "impossible-ball" "impossible ball",
                "The surface is found by taking the ball off its path (ISO 16610-41): a ball too large takes away metal that is there, and the tool meets it.",
                "Measure the ball and correct `sensor`; `sensor: spot` where none was on the sensor.";
            Unmeasured = Stop "unmeasured-stretch" "unmeasured",
                "Where no line met metal the face is a guess, and so is the first contact there.",
                "Measure a line that crosses it, or leave it out of the zones.";
            UnmeasuredOnLine = Note "gap" "gap",
                "Over a window between spokes or a hole a line has no face to read; the other lines speak there.",
                "If no window and no hole is there, measure that line again.";
            Unexplained = Stop "unexplained" "unexplained spread",
                "Lines that differ by what is neither tilt nor bend nor damage do not show one wheel: it may have moved, or the sensor.",
                "Look at the wheel and the seat there, and measure again.";
            NoRunOut = Stop "lines" "lines", ALL_ROUND,
                "Measure at least three lines spread over the turn; or turn the wheel under an indicator at the rim and write what it reads over one turn as `run_out` under `measured` (`facewright explain run_out` shows how).";
            OneLine = Warning "lines" "lines",
                "One line cannot tell damage from the wheel's own shape.",
                "List the damage in the job, look at the whole turn, or measure three lines spread over it.";
            WideGap = Stop "lines" "lines", ALL_ROUND,
                "Spread the lines over the whole turn.";
            TwoLinesUndecided = Decision "lines" "lines", ALL_ROUND,
                "Measure a third line, write eight dial readings round the rim under `turn`, or accept it: `accept: [two-lobe bend unseen]`.";
            BendBetweenLines = Decision "lines" "lines", TWO_LOBES,
                "Measure five lines, write eight dial readings round the rim under `turn`, or accept it: `accept: [two-lobe bend unseen]`.";
            FewLines = Warning "lines" "lines", TWO_LOBES,
                "Turn the wheel under a dial indicator at the rim, and write what it reads every 45 degrees, eight readings, under `turn` (`facewright explain turn` shows how).";
            DialAndLines = Warning "dial-and-lines" "dial and lines",
                "Where the readings round the wheel and the lines show different wheels, the face stands between the two and fits neither.",
                "See that both count their angles from the same 0 deg and the same way round, that a rim which comes nearer to the dial reads as higher, and that neither stood on damage; then read or measure again, or take out of the job what is wrong. `accept: [two-lobe bend unseen]` cuts it all the same.";
            MirroredAngles = Warning "mirrored-angles" "mirrored angles",
                "Angles counted one way round on the lines and the other way round under `turn` put the high side and the bend where they are not; counted the other way round in all, a shim goes under the wrong side.",
                "Turn the wheel by hand as it was turned for the lines, and see at which angle of the job the dial reads highest. Write `reads` in the order in which the lines count, the first reading at 0 deg; or correct `at` of the lines, if those were counted the other way. `accept: [two-lobe bend unseen]` cuts it all the same.";
            PushBetweenLines = Warning "lines" "lines",
                "A rim that was pushed in between the lines keeps its old face there, and is bent.",
                "Turn the wheel under a dial indicator at the rim, or measure eight lines.";
            Lines = Fine "lines" "lines", ALL_ROUND, "";
            TooNoisy = Stop "noise" "noise", NOISE,
                "Steady the sensor, clean or mat the surface, measure more slowly or more lines.";
            Noisy = Warning "noise" "noise", NOISE,
                "Measure more slowly, clean the face, or measure another line.";
            Noise = Fine "noise" "noise", NOISE, "";
            OneLinesWord = Warning "one-lines-word" "one line's word",
                "With one line alone a dent cannot be told from the face, and the wheel may be cut too high or too deep there.",
                "Look at the wheel there; measure another line if the difference is no damage.";
            UpsideDown = Stop "upside-down" "upside down",
                "Metal does not grow where it was scraped: heights are read as distances, or distances as heights, and the path would be the face's mirror image.",
                "Write the other of `height` and `distance` for `z` in the job, or strike that damage from the job if a burr stands there.";
            RaisedOnly = Decision "raised-spot" "raised spot",
                "A line that stands over all others with nothing below them is a burr, or a scrape on a face that is upside down.",
                "If it is a scrape, `z` is the other of `height` and `distance`; if a burr, dirt or a weight stood there, take it off and accept it: `accept: [raised spot]`.";
            RaisedSpot = Warning "raised-spot" "raised spot",
                "What stands above the face meets the tool before the face does.",
                "Look for a burr, dirt or a weight there and take it off before the cut; if it is a scrape, the face is upside down: `z` is the other of `height` and `distance`.";
            SetAside = Warning "set-aside" "set aside",
                "Readings that no scrape explains are a hole or a false reading, and do not set how deep the wheel is cut.",
                "Look there: a hole, or a false reading.";
            FalseReadings = Note "false-readings" "false readings",
                "Single readings that jump off the face and back are the sensor's, not the wheel's.",
                "Clean the sensor and the surface if there are many.";
            SensorDrift = Note "sensor" "sensor",
                "What a sensor drifts, or reads differently on the way back, is taken off only where the line was driven twice.",
                "Let the sensor warm up, and look for play in its slide.";
            ZeroMoved = Warning "zero-moved" "zero moved",
                "A line that stands off the others by as much at every radius shows neither tilt nor bend: the sensor's zero moved, or was set anew, before it was measured. If the spindle itself floats along its axis as it turns, the wheel does stand off there, and one side is cut less deep.",
                "Turn the wheel under a dial indicator: where it shows no such step, the sensor moved. Set its zero once, before the first line, and let it warm up.";
            Withheld = Warning "withheld" "correction withheld",
                "A correction that is known too badly would put its own error into the face.",
                "Measure more slowly, or more lines.";
        }
        RunOut {
            MountedTilted = Remount "as-mounted" "as mounted", RUNS_OUT,
                "Seat the wheel anew and measure three lines or more.";
            RunsOut = Stop "as-mounted" "as mounted", RUNS_OUT, refer!("Do not cut it.");
            RunOutUncertain = Warning "as-mounted" "as mounted", RUNS_OUT,
                "Measure more lines, or check the wheel under an indicator.";
            RunOut = Fine "as-mounted" "as mounted", RUNS_OUT, "";
            IndicatorBeyond = Remount "by-indicator" "by indicator", RUNS_OUT,
                "Clean the seat, mount the wheel truer, and measure again.";
            IndicatorHidesBend = Stop "by-indicator" "by indicator", TWO_LOBES,
                "Measure five lines spread over the turn.";
            IndicatorAboveLines = Warning "by-indicator" "by indicator", INDICATOR,
                "Measure more lines: the highest or the lowest place may lie between them.";
            Indicator = Fine "by-indicator" "by indicator", INDICATOR, "";
            BentBeyondService = Stop "tilt-taken-off" "tilt taken off", BENT, refer!("Do not cut it.");
            Bent = Stop "tilt-taken-off" "tilt taken off", BENT, refer!("A bent wheel is not cut.");
            Bend = Fine "tilt-taken-off" "tilt taken off", BENT, "";
            Tilt = Fine "tilt" "tilt",
                "Tilt of the mounting is cured by seating the wheel truer, and costs no metal then.", "";
            Eccentric = Note "eccentric" "off centre",
                "A face off the spindle's axis stands higher on one side of every slope; on walls it is not cleaned all round.",
                "Centre the wheel on its bore if the walls are to be cleaned all round.";
            BendReadsAsTilt = Remount "bend-limit" "bend limit", TWO_LOBES,
                "Measure five lines, or mount the wheel truer and measure again.";
            BendUnseen = Stop "bend-limit" "bend limit", TWO_LOBES,
                "Measure five lines spread over the turn.";
            WideLimit = Note "limit" "limit",
                "A limit above what makers allow a new wheel passes wheels that a service manual calls out of true.", "";
        }
        Damage {
            DamageKind = Stop "kind" "kind",
                "Some damage goes deeper than a cut can reach: the face would look sound and the wheel not be.",
                refer!("Do not cut it.");
            DentsUnlisted = Note "in-the-lines" "in the lines", DENTS,
                "Look at the wheel there, and name design features under `leave`.";
            DentUncertain = Note "in-the-lines" "in the lines", DENTS,
                "Its readings lie far apart or are noisy: look at it again after the last rough cut.";
            AllRound = Warning "all-round" "damage all round",
                "Where every line is damaged no line shows the sound face: it is carried on from both sides.",
                "Look at the wheel there. `mend` and `leave` in the job settle it.";
            Undecided = Decision "undecided" "undecided",
                "Where lines differ and nothing tells which is sound, the highest is taken: less metal is cut than may be needed.",
                "Look at the wheel there: name the stretch under `mend` if it is damaged, under `leave` if it is meant to be so, or list the damage.";
            UndecidedTold = Warning "undecided" "undecided",
                "Where lines differ and nothing tells for certain which is sound, the upper ones are taken: the face may be cut off it by as much as is told.",
                "Look at the wheel there, and settle it by `mend` or `leave` in the job.";
            DamageOutside = Warning "outside-zones" "outside the zones",
                "Where no zone lies nothing is cut: damage that is listed there stays as it is.",
                "Move or add a zone if it is to go, or take it out of the job.";
            DamageNotShown = Warning "not-shown" "listed and not shown",
                "A line that runs through damage shows it: where it does not, radius, angle or depth in the job, or the unit of the scan, is another than was meant.",
                "Look at the wheel there, and at `from`, `to`, `at` and `depth` in the job; compare one height of the scan with a rule.";
            LeftAsItIs = Note "left" "left as it is",
                "Where the job leaves a stretch, nothing is mended and no depth is asked for; where its lines differ the tool stays above the highest.",
                "Strike the stretch from `leave` if it is damage.";
            Dents = Fine "in-the-lines" "in the lines", DENTS, "";
            DamageListed = Fine "in-the-job" "in the job",
                "Damage that the job lists is cut away as deep as it is listed.", "";
        }
        Depth {
            CleanUpDepth = Fine "clean-up-depth" "clean-up depth",
                "So much must come off the highest place for the last damage to go at the lowest.", "";
            BetweenLines = Warning "between-lines" "between lines",
                "Rash all round changes its depth round the wheel, and the lines show it at their own angles only.",
                "Look all round after the last rough pass and measure again if any stays; or say with `at` and `over` beside it under `damage` where it is deepest.";
            WhichFace = Fine "which-face" "which face",
                "Along the highest place of the turn least comes off where most comes off; where another costs no more there, and less on the mean, that is cut.", "";
            NoPasses = Stop "passes" "passes", PASSES,
                "Change the schedule as the planner says.";
            PassesTooFew = Warning "passes" "passes", PASSES,
                "Ask for `passes: auto`, or more passes, if the damage is to go.";
            Passes = Fine "passes" "passes", PASSES, "";
            TakenOtherwise = Warning "taken" "really taken", TAKEN,
                "Touch the tool off anew, and hold it against the table of places before it cuts; enter what was really taken in the ledger.";
            TakenAsTold = Fine "taken" "really taken", TAKEN, "";
            SeatOrTool = Warning "seat-or-tool" "tool or seat",
                "A worn edge and a wheel that was seated anew look alike along one line, or along two that do not lie opposite. Passes planned on the one \
                 where it was the other cut one side of the wheel too deep.",
                "If the wheel was off its seat, measure all lines anew under `measured`. If it was not, or nobody knows, measure again along three lines a third of a turn \
                 apart.";
            NotTouched = Note "not-touched" "not touched yet",
                "Where no metal is gone the next pass may be the first that touches.",
                "See that the face looks so: bright where it was touched, as before elsewhere.";
            ZeroOnlySaid = Warning "zero-only-said" "zero that nothing shows",
                "A zero that moved unseen makes all that was taken wrong by as much, and the next pass too deep.",
                "Measure at least 5 mm beyond the zones too, or touch the tool off and hold it against the table of places.";
            DamageStill = Note "damage-left" "damage left",
                "What a line measured after the passes still shows below what the tool left, further passes must take.",
                "Look at the wheel there: it goes with the passes that are planned.";
            StillNeeded = Fine "still-needed" "still needed",
                "Passes to come are counted from the least that is gone, so that none takes more than its depth anywhere.", "";
            OnePassEarly = Fine "one-pass-early" "one pass early",
                "What one pass less would leave shows whether the last one is worth its metal.", "";
        }
        Allowance {
            TakenBeyond = Stop "taken-beyond" "really taken", METAL,
                refer!("Do not cut it further.");
            ScheduleTooDeep = Stop "metal" "metal", METAL,
                "Ask for `passes: auto`, for fewer passes, or for thinner ones.";
            MetalIfMountedTrue = Remount "metal" "metal", METAL,
                "Mount it truer and measure again.";
            MetalShort = Stop "metal" "metal", METAL,
                "Do not cut it so deep: leave the deepest damage, or the wheel as it is.";
            Metal = Fine "metal" "metal", METAL, "";
        }
    }
}
