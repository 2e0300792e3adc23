//! Rules about the text of a program and its execution at the control, whoever wrote it.
//!
//! Where a rank rests on how controls behave and no standard says so, it is
//! common practice, no source; rules marked NISTIR are from NISTIR 6556 (2000), from memory.

super::rules! {
    /// What the text of a program and its run at the control show.
    ProgramRule {
        Text {
            OtherWheel = Stop "other-wheel" "program of another job",
                "The face, the depths and the touch-off in it are another wheel's.",
                "Load this job's program, or prove it against its own job.";
            TextChanged = Warning "text-changed" "comments changed since they were written",
                "The operator touches off and decides by them, and nothing can prove that a changed one is true.",
                "Write the program anew, or compare every comment with the sheet.";
            WordsChanged = Note "words-changed" "words changed since they were written",
                "The program was edited, and this proof is of the edited words: depths, times and stops in its comments are those from before.",
                "Look with `--against` at what differs.";
            Unreadable = Stop "unreadable" "text that cannot be read",
                "What cannot be read cannot be proved; a control may halt there with the tool in the cut, or read it otherwise.",
                "Write the block with plain words: a letter and a number each.";
            OpenComment = Stop "open-comment" "comment that is not closed",
                "Some controls skip the rest of the line, some of the program, some read on: what is carried out is unknown.",
                "Close the bracket on the same line.";
            NestedComment = Stop "nested-comment" "comment within a comment",
                "A control ends the comment at the first closing bracket and reads what follows as words (NISTIR 6556, 3.3.4).",
                "Take the inner bracket out of the comment.";
            CommentCharacter = Stop "comment-character" "character in a comment that steers the reading",
                "Some controls end the block at a carriage return and the program at `%`, also inside a comment, and read on behind it.",
                "Write comments in plain letters and digits.";
            Semicolon = Warning "semicolon" "text behind a semicolon",
                "To some controls a semicolon ends the block: what stands behind it is then read as words.",
                "Write comments in brackets.";
            CommentForm = Stop "comment-form" "comment in a form that the control does not read",
                "By the control's description it reads no such comment: it halts there, or reads the text as words.",
                "Write the comment as the description says, or take it out.";
            NoHead = Warning "no-head" "program that says nothing of its wheel",
                "No comment says which wheel it is for, where its tools are touched or what was checked: nobody can tell it from another job's program.",
                "Write the program anew, or hold it against the sheet of the job.";
            OtherHead = Note "other-head" "comments from elsewhere",
                "Which wheel it is for and where its tools are touched is held against the job in heads that were written here only.",
                "Hold its comments against the sheet of the job, the touch-offs first; if it was written here, write it anew.";
            GoneBefore = Stop "gone-before" "head for another depth gone",
                "Its touch-offs count from the face as it stood then: touched as they say, every cut is off by the difference.",
                "Write the program anew for what is left; or, to prove it as it was written, say with `--already` what was gone then.";
            NoComments = Note "no-comments" "program for a control without comments",
                "Whose wheel it is for, how its tools are touched off and whether its text was changed cannot be read from it: the sheet says that, and the file's name must.",
                "Keep program and sheet together; look with `--against` at a copy that was kept.";
            BlankInNumber = Warning "blank-in-number" "blank inside a number",
                "NISTIR 6556, 3.3, reads over blanks inside a number; another control may end the number there.",
                "Write the number without blanks.";
            ByteOrderMark = Warning "byte-order-mark" "byte order mark before the text",
                "A control may take the mark for a character it does not know.",
                "Save the program as plain ASCII.";
            NotAscii = Note "not-ascii" "characters outside ASCII",
                "A control may refuse or garble a comment with letters outside ASCII.",
                "Write comments in plain ASCII.";
            LongLine = Stop "long-line" "line longer than the control takes",
                "A control that cuts a line at its limit carries out a word that was cut with it.",
                "Split the line, or shorten its comment.";
            LargeProgram = Stop "large-program" "program larger than the control takes",
                "A program that does not fit is loaded cut short.",
                "Split it at a pass.";
            BigSequence = Warning "big-sequence" "sequence number above the largest",
                "NISTIR 6556, 3.3.1, holds sequence numbers up to 99999, the control as many as its description says; it may halt at a larger one.",
                "Number the blocks anew.";
            RepeatedSequence = Note "repeated-sequence" "sequence number used twice",
                "A restart at this number may begin at the other block.",
                "Number the blocks anew.";
            FallingSequence = Note "falling-sequence" "sequence numbers that fall",
                "Numbers that fall show that blocks were moved or joined by hand.",
                "Look whether the order is meant; number the blocks anew.";
            MixedLineEnds = Warning "mixed-line-ends" "lines that do not all end alike",
                "A control that waits for CR LF reads two lines as one block where the CR is missing; lines that end otherwise were put in by another hand.",
                "Send the program as it was written, or end every line alike.";
            TapeMark = Warning "tape-mark" "mark `%` missing at an end",
                "The control's description asks for `%` first and last; without them the load may fail or end early.",
                "Put a `%` alone on the first and on the last line.";
            ProgramNumber = Note "program-number" "program number other than the control's",
                "The program may be stored under another number than the operator looks for.",
                "Give it the number in the control's description.";
            SecondProgram = Stop "second-program" "second program number in one file",
                "A second program number means that two programs stand in one file.",
                "Take them apart and prove each.";
            OutsideMarks = Warning "outside-marks" "text before the opening `%`",
                "This control reads from the `%` on; another, or the same one by hand, may take what stands before it for words.",
                "Take it out.";
            BeforeMark = Stop "before-mark" "text before a `%` at a control without such marks",
                "The control's description has no `%`: it reads this text as the program, or ends the program at the mark.",
                "Take text and mark out.";
            AfterEnd = Stop "after-end" "text after the end of the program",
                "What stands after the end was not proved, and the next press of cycle start may run it.",
                "Take it out, or prove it as a program of its own.";
            NoEnd = Stop "no-end" "program without an end",
                "Without M30 or M02 the program may have been cut short; the spindle goes on turning over the wheel.",
                "Look whether the file is whole; end it with M30.";
        }
        Words {
            UnknownWord = Stop "unknown-word" "word whose meaning is not known",
                "What this word does at the control is not known here, so its effect on the wheel cannot be proved.",
                "Take the word out, or write the block without it.";
            OtherMeaning = Stop "other-meaning" "word that means something else at this control",
                "By the control's description this word belongs to another family of words; there it may start a cycle.",
                "Use the word that the control's description names.";
            RepeatedWord = Stop "repeated-word" "word given twice in a block",
                "Which of the two counts differs from control to control (NISTIR 6556, 3.3.5: an error).",
                "Leave one.";
            SameGroup = Stop "same-group" "two words of one modal group in a block",
                "One block may hold one word of each modal group; which counts is not laid down (NISTIR 6556, 3.4: an error).",
                "Leave one, or write two blocks.";
            ManyMWords = Stop "many-m-words" "more than four M words in a block",
                "NISTIR 6556, 3.3.5, allows four M words a block; many controls carry out only one.",
                "Spread them over blocks.";
            TwoMWords = Warning "two-m-words" "more than one M word in a block",
                "Many controls carry out one M word of a block, the first or the last: the spindle may turn on where the other was to stop it.",
                "Write each in a block of its own.";
            UnusedWord = Stop "unused-word" "word that nothing uses",
                "Nothing in the block uses this word; a control may halt, and the word meant something to who wrote it (NISTIR 6556, 3.5: an error).",
                "Take it out, or add the word it belongs to.";
            MissingWord = Stop "missing-word" "word that is missing",
                "Without it the control halts, or takes a value from earlier.",
                "Add the word.";
            Negative = Stop "negative" "number below zero where none may be",
                "This number cannot be below zero (NISTIR 6556, 3.7: an error).",
                "Write it without the sign.";
            MotionWithoutAxes = Warning "motion-without-axes" "motion word without an axis",
                "A motion was asked for and no axis named (NISTIR 6556, 3.5.1: an error): a word may be missing.",
                "Name the axes, or take the motion word out.";
            TooFine = Warning "too-fine" "more decimals than the control holds",
                "The control cannot hold so many decimals: it rounds, cuts off, or halts.",
                "Round to the control's resolution, upward in Z.";
            NoPoint = Warning "no-point" "number without a decimal point",
                "Read as whole units; a control with implied decimals moves a thousandth of that.",
                "Write the decimal point.";
            ExtraLineMisplaced = Stop "extra-line-misplaced" "line of the shop's own where nobody expects it",
                "What such a line does only the shop knows, and it declared it for a standing spindle and a tool at the park: it may open a clamp.",
                "Put it where the program was written with it: at the park, behind M05.";
            ExtraLineMissing = Warning "extra-line-missing" "line of the shop's own that is missing",
                "The shop file says that this machine needs the line here.",
                "Put it back, or write the program anew.";
            ExtraLineAgain = Warning "extra-line-again" "line of the shop's own that comes twice",
                "Some machines take the same code again for the contrary: what the first opened the second shuts, or the other way round.",
                "Leave one.";
            OtherDwell = Warning "other-dwell" "dwell by another letter than the shop's",
                "One letter counts seconds, another thousandths or revolutions: the wait is none, or without end.",
                "Write the letter that the shop file gives (`dwell_word`).";
            LongWait = Warning "long-wait" "wait far longer than the shop asks for",
                "A number in thousandths that the control reads as seconds holds the machine for the better part of an hour.",
                "Write the seconds that the shop file gives (`spin_up`).";
            UnclearNumber = Stop "unclear-number" "feed without a decimal point",
                "With implied decimals a feed without a point has no certain meaning.",
                "Write the decimal point.";
        }
        State {
            UnitUnset = Stop "unit-unset" "unit never set",
                "The control moves in the unit that the program before it left: 25.4 times too far, or too short.",
                "Set the unit in the first block.";
            WrongUnit = Stop "wrong-unit" "unit other than the control's",
                "The control's description says the other unit: every length would be 25.4 times too long or too short.",
                "Write the program in the control's unit.";
            UnitOrder = Warning "unit-order" "unit set in a block with F or S",
                "By NISTIR 6556, 3.8, F and S are read before the unit word of the same block; other controls read the unit first.",
                "Set the unit in a block of its own, before.";
            DistanceUnset = Stop "distance-unset" "absolute or incremental never set",
                "The control may still read increments, as the program before it left.",
                "Write G90 in the first block.";
            PlaneUnset = Warning "plane-unset" "plane never chosen",
                "An arc runs in the plane that is in force; in another plane the control halts in the cut.",
                "Write G18 in the first block.";
            WrongPlane = Stop "wrong-plane" "plane other than G18",
                "The axes of a lathe span G18; an arc in another plane halts or leaves the path.",
                "Write G18.";
            CompensationUnset = Warning "compensation-unset" "compensation never cancelled",
                "If the program before left compensation on, the path is shifted by the nose radius.",
                "Write G40 in the first block.";
            Compensation = Stop "compensation" "cutter compensation switched on",
                "The path already carries the nose: with compensation the nose radius is taken twice, into the wheel.",
                "Take the word out; leave G40 in force.";
            FeedModeUnset = Stop "feed-mode-unset" "feed mode never set",
                "Whether 0.2 is for each revolution or for each minute hangs on the program before.",
                "Write the feed mode before the first F word.";
            SpindleModeUnset = Stop "spindle-mode-unset" "spindle mode never set",
                "Whether 300 is revolutions or metres for each minute hangs on the program before.",
                "Write G96 or G97 before the first S word.";
            OffsetUnset = Stop "offset-unset" "work offset never set",
                "The shop uses a work offset; without it Z zero is not where the tool was touched off.",
                "Write the work offset of the control's description before the first motion.";
            OtherOffset = Stop "other-offset" "work offset other than the shop's",
                "This work offset is not the one that the tool is touched off in: the whole path is shifted.",
                "Use the work offset of the control's description.";
            NoMotionWord = Stop "no-motion-word" "axes without a motion word in force",
                "Axes are named but no motion word is in force: the control halts, or moves as the program before left it.",
                "Write G00 or G01 in the block.";
            PositionUnknown = Stop "position-unknown" "motion from a place never stated",
                "Where this motion starts depends on where the tool happens to stand.",
                "Bring both axes to a stated place by a rapid first.";
            FirstPosition = Note "first-position" "first rapid from wherever the tool stands",
                "The motion starts wherever the tool stands; it is taken to stand at the park.",
                "Bring the tool to the park before the start.";
            MachineFrame = Stop "machine-frame" "motion in the machine's own frame",
                "Where the machine's own zero lies against the wheel is not known here, so the motion cannot be proved.",
                "Write the motion in the program's own frame.";
            HomeUnknown = Stop "home-unknown" "way to a reference point that nobody described",
                "Where the reference point lies against the wheel is not known here, so the way there cannot be proved.",
                "Say `reference` under `machine` in the shop file, or go to the park.";
            SpindleUnset = Warning "spindle-unset" "spindle never said to stand",
                "Whether it turns hangs on the program before, and somebody may reach in, or a clamp open.",
                "Write M05 in the first blocks.";
            HomeByOneAxis = Warning "home-by-one-axis" "way to the reference point with one axis",
                "On most lathes the named axis goes alone; by NISTIR 6556, 3.5.8, every axis goes.",
                "Name both axes, at the park.";
            FrameShift = Stop "frame-shift" "zero of the program moved",
                "The word moves Z zero: every later height is shifted by an unknown amount.",
                "Take it out; set the zero by touching off.";
            RoundedCorners = Warning "rounded-corners" "corners rounded by the control",
                "In this mode the control rounds corners: the path leaves the written one.",
                "Leave it out where the control allows.";
            ExactStop = Warning "exact-stop" "stop at the end of every block",
                "In this mode the tool halts between two motions, and leaves a ring in the face at each joint.",
                "Leave it out.";
            OtherCoolant = Warning "other-coolant" "coolant word other than the control's",
                "By the control's description this word is not the one that runs the coolant: the cut may be dry, or something else may start.",
                "Write the word that the control's description gives (`coolant`).";
            CoolantUnset = Warning "coolant-unset" "coolant never said to be off",
                "Whether it runs hangs on the program before: it hides the air pass, and runs over whoever looks.",
                "Write M09 in the first blocks.";
            NotAtThisControl = Stop "not-at-this-control" "word that the control does not read",
                "The control's description says that it does not read this.",
                "Write the program for this control, or mend the description.";
        }
        Spindle {
            NoSpindleLimit = Stop "no-spindle-limit" "surface speed without a spindle limit",
                "Toward the axis a constant surface speed drives the spindle without bound: the wheel can leave the chuck.",
                "Set the spindle limit in a block before.";
            LimitTooHigh = Stop "limit-too-high" "spindle limit above what wheel or machine may turn",
                "The limit lets the spindle turn faster than wheel or machine may.",
                "Lower the limit.";
            OverSpeed = Stop "over-speed" "spindle faster than wheel or machine may turn",
                "The spindle would turn faster than wheel or machine may.",
                "Lower the S word.";
            SpindleOff = Stop "spindle-off" "motion at feed while the spindle stands",
                "A tool fed into a wheel that stands still tears metal or breaks.",
                "Start the spindle before.";
            SpindleWrongWay = Stop "spindle-wrong-way" "spindle turns the wrong way",
                "The back of the edge rubs, and a chuck can loosen.",
                "Turn the spindle the way the control's description says.";
            NoSpeed = Stop "no-speed" "spindle without a speed",
                "The spindle turns as fast as whatever was set before.",
                "Write the S word after the mode, before the cut.";
            FirstTurn = Stop "first-turn" "slow first turn other than asked",
                "Somebody watches from near by how the wheel runs, and then looks at the jaws: it must turn slowly, the right way, and stop.",
                "Write it as the shop file asks (`spin_first`): slowly at the park, once round, M05, M00.";
            NoFirstTurn = Warning "no-first-turn" "no slow first turn",
                "The shop asks for one before the first pass: a wheel that sits badly is else first seen at speed.",
                "Write it (`spin_first` in the shop file): slowly at the park, once round, M05, M00.";
            StartsAgain = Warning "starts-again" "spindle that starts again without a stop",
                "It stands, and nobody was told that it will start by itself: who saw it stand may have a hand in there.",
                "Write M00 or M01 between M05 and the next start, or leave M05 out.";
            BeginsOtherwise = Warning "begins-otherwise" "pass that cannot be begun by itself",
                "The head says where a program may be begun again. After a reset the control holds nothing of what was said before that place.",
                "Say there again what is missing: modes, offset, spindle limit, spindle, feed, both coordinates; or write the program anew.";
            NoWait = Warning "no-wait" "no wait after a start of the spindle",
                "The shop asks for one, at the park: else the tool is on its way before the spindle has its speed.",
                "Write the dwell after the start (`spin_up` in the shop file), with the letter that the shop file gives.";
            GearUnset = Stop "gear-unset" "spindle started without a gear range",
                "The gear is the one from before: the spindle stalls in a fast one, or cannot reach its speed in a slow one.",
                "Write the gear's word before the spindle starts.";
            GearTooSlow = Stop "gear-too-slow" "speed beyond the gear range",
                "The spindle cannot turn so fast in this gear: it halts, or turns as fast as it can and the texture is another.",
                "Choose the faster gear before the spindle starts.";
            GearWhileTurning = Stop "gear-while-turning" "gear changed while the spindle turns",
                "A gear that is shifted under way breaks teeth.",
                "Stop the spindle with M05 before.";
            NearlyStands = Stop "nearly-stands" "surface speed far below the schedule's",
                "The wheel nearly stands while the tool is fed into it: a digit or the unit is wrong, and the edge breaks or the pass takes hours.",
                "Write the S word of the schedule.";
            SlowSurface = Warning "slow-surface" "surface speed below half of the schedule's",
                "The edge builds up metal and tears instead of cutting, and each pass takes twice as long and more.",
                "Bring S up to the schedule, or mend the schedule.";
            StopWhileTurning = Stop "stop-while-turning" "stop while the spindle turns",
                "At a stop somebody looks, wipes, or touches off: the wheel must stand. Not every control stops the spindle by itself.",
                "Write M05 before the stop, and start the spindle after it.";
            StopWithCoolant = Warning "stop-with-coolant" "stop while the coolant runs",
                "At a stop somebody looks, wipes, or touches off: it runs over hands and face, and hides what is to be seen.",
                "Write M09 before the stop.";
            ReversedRunning = Warning "reversed-running" "spindle reversed while it turns",
                "Reversing a turning spindle jolts the wheel in its clamping.",
                "Stop the spindle with M05 between.";
            OtherSurfaceSpeed = Warning "other-surface-speed" "surface speed above the schedule's",
                "Faster than any pass of the schedule: the edge may burn, and the figures given for the job no longer hold.",
                "Bring S down to the schedule, or mend the schedule.";
        }
        Feed {
            NoFeed = Stop "no-feed" "motion at feed without a feed",
                "The control halts, or feeds as fast as whatever was set before.",
                "Write the F word after the feed mode, before the cut.";
            ZeroFeed = Stop "zero-feed" "feed of zero",
                "The tool stands and rubs on the turning wheel.",
                "Write a feed above zero.";
            FeedTooFast = Stop "feed-too-fast" "feed beyond the machine",
                "The machine cannot feed so fast; it halts, or cuts at another feed than written.",
                "Lower the feed or the speed.";
            FeedCoarse = Stop "feed-coarse" "feed larger than the nose",
                "A feed for each revolution larger than the nose cuts a thread, and loads the edge until it breaks. It looks like a feed for each minute.",
                "Look at the feed mode and at the decimal point.";
            FeedFine = Stop "feed-fine" "feed so small that it rubs",
                "So small a feed only rubs. It looks like a feed for each revolution read as one for each minute.",
                "Look at the feed mode and at the decimal point.";
            OtherFeed = Warning "other-feed" "feed above the schedule's",
                "Coarser than any pass of the schedule: the texture and the load are not those of the job.",
                "Bring F down to the schedule, or mend the schedule.";
            ShortBlock = Warning "short-block" "blocks shorter than the control can read in time",
                "The control cannot read blocks as fast as it runs them: it stutters, and the face shows it.",
                "Join blocks, or feed more slowly.";
        }
        Arcs {
            ArcRadii = Stop "arc-radii" "arc whose radii differ",
                "Start and end do not lie on one circle: the control halts, or bends the path (NISTIR 6556, 3.5.3.2: an error).",
                "Correct the end point or I and K.";
            ZeroArc = Stop "zero-arc" "arc that ends where it starts",
                "An arc that ends where it starts is nothing on one control and a full circle on another.",
                "Take it out.";
            LongArc = Stop "long-arc" "arc beyond half a circle",
                "No facing cut turns beyond half a circle: the sense of the arc or its centre is wrong.",
                "Look at G02 and G03, and at I and K or the sign of R.";
            HalfArc = Warning "half-arc" "arc by radius close to half a circle",
                "Close to half a turn a small error of R moves the centre far (NISTIR 6556, 3.5.3.1).",
                "Split the arc.";
            ShortRadius = Stop "short-radius" "radius too short for the arc",
                "The end is further away than a circle of this radius reaches (NISTIR 6556, 3.5.3.1: an error).",
                "Correct R or the end point.";
            ArcTooLong = Stop "arc-too-long" "arc longer than the control allows",
                "The control's description allows one arc to turn less: it halts there.",
                "Split the arc.";
            ArcOverQuadrant = Stop "arc-over-quadrant" "arc over the border of a quadrant",
                "The control reads an arc within one quadrant: it halts, or runs to another end.",
                "Split the arc where its circle is level or upright.";
            ArcForm = Stop "arc-form" "arc in a form that the control does not read",
                "The control's description does not have arcs in this form.",
                "Write the arc as the control reads it.";
        }
        Tool {
            NoTool = Stop "no-tool" "cut without a tool",
                "Which tool cuts, and with which offset, hangs on what ran before.",
                "Call the tool before the first cut.";
            OtherTool = Stop "other-tool" "tool that the job does not name",
                "The job knows no tool of this number: its nose and edges are unknown.",
                "Call a tool of the job.";
            ToolForm = Stop "tool-form" "tool called another way than the control's",
                "The control's description calls tools otherwise: this word may call another tool, or another tool's offset.",
                "Call the tool as the control's description says.";
            ToolOffsetOff = Stop "tool-offset-off" "tool without its offset",
                "Without its offset the tool's point is not where the program says.",
                "Call the tool with its offset before the cut.";
            ToolNotTouched = Stop "tool-not-touched-off" "tool that nobody was stopped to touch off",
                "A tool without its touch-off stands lower or higher by the difference of two tools: millimetres into the wheel.",
                "Write M00 after its call, with the touch-off in a comment before it.";
            OffsetNotTakenUp = Stop "offset-not-taken-up" "tool not called again after its touch-off",
                "Many controls take up a changed offset only when the tool is called: it moves with the offset from before the touch-off.",
                "Write the T word again after the stop, before the first motion.";
            ChangeAwayFromPark = Stop "change-away-from-park" "tool called away from the park",
                "The whole turret turns, and the longest tool in it sweeps over wheel and tyre.",
                "Go to the park first, up and then across.";
            ChangeAwayFromHome = Stop "change-away-from-home" "tool changed away from the reference point",
                "The shop changes tools at the machine's reference point: only there the whole turret is known to be clear.",
                "Write the way home (G28) before the change.";
            EndAwayFromPark = Warning "end-away-from-park" "end with the tool over the wheel",
                "The wheel is taken out under the tool, and the next program is started where this one ends.",
                "Bring the tool to the park before the end, up and then across.";
            EndAwayFromHome = Warning "end-away-from-home" "end away from the reference point",
                "The shop ends its programs at the machine's reference point: the wheel is taken out there, and the next program begins there.",
                "Write the way home (G28) before the end.";
            StopAwayFromPark = Warning "stop-away-from-park" "stop with the tool over the wheel",
                "At a stop somebody wipes, looks and measures under the tool, and touches it off: it must stand at the park.",
                "Bring the tool to the park before the stop.";
            NotUpFirst = Warning "not-up-first" "first motion not straight up",
                "After a start or a touch-off nobody knows where the tool stands: any way but straight up may lead through the wheel.",
                "Write a rapid in Z alone to the height of the park, then one in X.";
            StandsInCut = Stop "stands-in-cut" "tool stands still in the cut",
                "The tool rubs a ring into the face; at a stop the wheel stands with the edge in the metal.",
                "Take it out, or lead the tool off the face before.";
            WaitOverWheel = Warning "wait-over-wheel" "wait with the tool over the wheel",
                "It looks like the stop of a pass that is over: somebody reaches in, and the program goes on by itself; at the face the tool rubs a ring.",
                "Wait at the park, or write M05 and M00 there.";
            ChangeWhileTurning = Warning "change-while-turning" "tool change over a turning wheel",
                "The tool changes over a turning wheel.",
                "Stop the spindle before the change.";
        }
        End {
            LeavesPark = Stop "leaves-park" "dry program that leaves the park",
                "A dry program shows what a control makes of its words: beside the park a wrong reading meets nothing, elsewhere it does.",
                "Move the park further from everything, or the keep-out.";
            Travel = Stop "travel" "place beyond the machine's travel",
                "The machine cannot go there: it halts in the middle of the program, or strikes its stop.",
                "Keep the path inside the machine's travel.";
            SpindleLeftOn = Warning "spindle-left-on" "spindle still on at the end",
                "Not every control stops the spindle at the end: a hand may reach in while it turns.",
                "Write M05 before the end.";
            CoolantLeftOn = Warning "coolant-left-on" "coolant still on at the end",
                "Not every control stops the coolant at the end.",
                "Write M09 before the end.";
            SurfaceSpeedLeftOn = Warning "surface-speed-left-on" "surface speed still in force at the end",
                "A spindle started by hand takes its S as a surface speed, and runs up toward the axis.",
                "Write G97 before the end.";
            IncrementsLeftOn = Warning "increments-left-on" "increments still in force at the end",
                "The next program may read its places as steps.",
                "Write G90 before the end.";
            OffsetLeftOn = Note "offset-left-on" "tool offset still in force at the end",
                "A tool moved by hand, or the next program, still has this tool's offset.",
                "Call the tool with offset 00 at the end.";
            SkipSwitches = Warning "skip-switches" "more than one block-skip switch",
                "Only all switches on and all off were proved, not every mixture.",
                "Use one block-skip switch.";
        }
    }
}
