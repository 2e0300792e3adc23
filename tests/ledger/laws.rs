//! Laws: what is taken is the sum of what counts; a correction takes its forerunner's place; nothing counts that nobody confirmed.

use super::made_up::{hash, mm, on, place, program, run, survey, taken};
use facewright::ledger::{
    Correction, GaugeReading, KeptTouch, Ledger, LedgerError, Lines, Standing, TableName, Taken, Touch, Value,
};
use proptest::prelude::*;

fn correction(entry: i64, taken: f64, passes: Option<u32>) -> Correction {
    Correction { entry, taken: Taken::Off(mm(taken)), passes, note: "misread".into() }
}

/// What has gone off wheel 7, seen from lines that nobody measured again.
fn standing(ledger: &Ledger, lines: &str) -> Result<Option<Standing>, LedgerError> {
    let lines = hash(lines);
    ledger.standing("7", Lines { all: &lines, first: &lines })
}

#[test]
fn what_was_written_is_not_cut_until_it_is_confirmed() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    ledger
        .record(&on("03-02"), &survey("7", "a", Some(0.2)), &[program("p", 0.0, &[0.1, 0.1, 0.05])])
        .expect("in");
    assert_eq!(taken(&ledger, "7"), 0.2);
    let (number, cut) = ledger.confirm(&on("03-02"), &run("p", Some(2))).expect("two of three");
    assert_eq!((number.as_str(), cut.taken, cut.measured), ("7", mm(0.2), false));
    assert_eq!(taken(&ledger, "7"), 0.4);
    let (_, cut) = ledger.confirm(&on("03-03"), &run("p", None)).expect("the third");
    assert_eq!(cut.run.map(|r| (r.first, r.passes)), Some((3, 1)));
    assert_eq!(taken(&ledger, "7"), 0.45);
    let again = ledger.confirm(&on("03-04"), &run("p", None));
    assert!(matches!(again, Err(LedgerError::Asked(_))), "{again:?}");
    assert_eq!(ledger.check().expect("readable"), Vec::<String>::new());
}

/// Seen from the measurement that it was cut on, a cut is depth below the face; seen from a later one, it went before.
#[test]
fn a_cut_is_depth_on_its_own_measurement_and_taken_on_a_later_one() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    assert_eq!(standing(&ledger, "a").expect("readable"), None);
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.2)), &[program("p", 0.0, &[0.1])]).expect("in");
    ledger.confirm(&on("03-02"), &run("p", None)).expect("cut");
    let now = standing(&ledger, "a").expect("readable").expect("known");
    assert_eq!((now.taken, now.already), (mm(0.2), mm(0.1)));
    let later = standing(&ledger, "b").expect("readable").expect("known");
    assert_eq!((later.taken.as_mm(), later.already), (0.3, mm(0.0)));
    ledger.record(&on("09-02"), &survey("7", "b", None), &[program("q", 0.0, &[0.1])]).expect("in");
    standing(&ledger, "a").expect("nothing was cut since");
    ledger.confirm(&on("09-02"), &run("q", None)).expect("cut");
    let old = standing(&ledger, "a");
    assert!(matches!(old, Err(LedgerError::Outdated { .. })), "{old:?}");
}

#[test]
fn a_job_that_claims_less_is_refused_and_one_that_claims_more_is_believed() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    let unknown = ledger.record(&on("03-02"), &survey("7", "a", None), &[]);
    assert!(matches!(unknown, Err(LedgerError::TakenNotKnown { .. })), "{unknown:?}");
    assert!(ledger.wheels().expect("readable").is_empty(), "a refusal stores nothing");
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.2)), &[]).expect("in");
    let less = ledger.record(&on("03-03"), &survey("7", "b", Some(0.1)), &[]);
    assert!(matches!(less, Err(LedgerError::ClaimsLess { .. })), "{less:?}");
    ledger.record(&on("03-04"), &survey("7", "c", Some(0.5)), &[]).expect("cut elsewhere");
    assert_eq!(taken(&ledger, "7"), 0.5);
}

/// A figure that is mistyped by powers of ten is told, and stored nowhere: sums stay whole numbers.
#[test]
fn a_depth_that_no_face_has_is_refused() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.2)), &[program("p", 0.0, &[0.1; 3])]).expect("in");
    let (_, cut) = ledger.confirm(&on("03-02"), &run("p", Some(1))).expect("cut");
    let before = ledger.export().expect("readable");
    for depth in [100.001, 1e13, f64::MAX, -0.1] {
        let reading = GaugeReading { depth: mm(depth), within: Some(mm(depth)) };
        for taken in [Taken::Off(mm(depth)), Taken::Stands(reading)] {
            let mut confirmed = run("p", Some(1));
            confirmed.taken = Some(taken);
            let refused = ledger.confirm(&on("03-02"), &confirmed);
            assert!(matches!(refused, Err(LedgerError::Asked(_))), "{refused:?}");
            let right = Correction { taken, ..correction(cut.entry, 0.0, None) };
            let refused = ledger.correct(&on("03-02"), &right);
            assert!(matches!(refused, Err(LedgerError::Asked(_))), "{refused:?}");
        }
    }
    assert_eq!(ledger.export().expect("readable"), before);
}

/// Scans saved anew, with another line end perhaps, may lead to the same program: it can be confirmed, and is of the last measurement.
#[test]
fn the_same_program_for_two_measurements_of_a_wheel_is_of_the_last() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    for lines in ["a", "b"] {
        ledger
            .record(&on("03-02"), &survey("7", lines, Some(0.2)), &[program("p", 0.0, &[0.1; 2])])
            .expect("in");
    }
    ledger.confirm(&on("03-02"), &run("p", None)).expect("cut");
    let now = standing(&ledger, "b").expect("readable").expect("known");
    assert_eq!((now.taken, now.already), (mm(0.2), mm(0.2)));
    // The same program for another wheel still asks which.
    ledger.record(&on("03-02"), &survey("8", "a", Some(0.0)), &[program("p", 0.0, &[0.1; 2])]).expect("in");
    let which = ledger.confirm(&on("03-02"), &run("p", None));
    assert!(matches!(&which, Err(LedgerError::Asked(why)) if why.contains("wheels 7, 8")), "{which:?}");
}

/// What passes were planned to take counts from the face as it stood, also where their number is put right.
#[test]
fn passes_put_right_are_planned_from_the_face_as_it_stood() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    let programs = [program("p", 0.0, &[0.1; 2]), program("q", 0.0, &[0.15, 0.1])];
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.2)), &programs).expect("in");
    ledger.confirm(&on("03-02"), &run("p", None)).expect("cut");
    let (_, cut) = ledger.confirm(&on("03-02"), &run("q", Some(1))).expect("cut");
    assert_eq!(cut.run.map(|run| run.planned), Some(mm(0.0)));
    let right = ledger.correct(&on("03-02"), &correction(cut.entry, 0.05, Some(2))).expect("corrected");
    assert_eq!(right.cut.run.map(|run| run.planned), Some(mm(0.05)));
    let none = ledger.correct(&on("03-02"), &correction(right.cut.entry, 0.0, Some(0))).expect("corrected");
    assert_eq!(none.cut.run.map(|run| run.planned), Some(mm(0.0)));
}

/// The same program entered twice is one program, and the same measurement one survey.
#[test]
fn what_is_there_is_not_entered_again() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    let (survey, program) = (survey("7", "a", Some(0.2)), program("p", 0.0, &[0.1]));
    ledger.record(&on("03-02"), &survey, std::slice::from_ref(&program)).expect("in");
    let before = ledger.export().expect("readable");
    ledger.record(&on("03-03"), &survey, &[program]).expect("in");
    assert_eq!(ledger.export().expect("readable"), before);
}

#[test]
fn the_same_program_for_two_wheels_asks_which() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    for number in ["7", "8"] {
        ledger
            .record(&on("03-02"), &survey(number, "a", Some(0.0)), &[program("p", 0.0, &[0.1])])
            .expect("in");
    }
    let which = ledger.confirm(&on("03-02"), &run("p", None));
    assert!(matches!(&which, Err(LedgerError::Asked(why)) if why.contains("7, 8")), "{which:?}");
    let mut named = run("p", None);
    named.wheel = Some("8".into());
    ledger.confirm(&on("03-02"), &named).expect("named");
    assert_eq!((taken(&ledger, "7"), taken(&ledger, "8")), (0.0, 0.1));
}

/// What has gone cannot go again: another program over the same depth takes only what is below.
#[test]
fn another_program_counts_from_what_has_gone() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    let programs = [program("p", 0.0, &[0.1, 0.1]), program("q", 0.0, &[0.1, 0.15])];
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.0)), &programs).expect("in");
    ledger.confirm(&on("03-02"), &run("p", None)).expect("cut");
    let (_, cut) = ledger.confirm(&on("03-02"), &run("q", Some(1))).expect("in the air");
    assert_eq!(cut.taken, mm(0.0));
    ledger.confirm(&on("03-02"), &run("q", None)).expect("the rest");
    assert_eq!(taken(&ledger, "7"), 0.25);
}

#[test]
fn a_correction_takes_the_place_of_what_it_corrects() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.2)), &[program("p", 0.0, &[0.1, 0.1])]).expect("in");
    let (_, cut) = ledger.confirm(&on("03-02"), &run("p", None)).expect("cut");
    let right = ledger.correct(&on("03-03"), &correction(cut.entry, 0.12, Some(1))).expect("corrected").cut;
    assert_eq!((right.corrects, right.measured), (Some(cut.entry), true));
    assert_eq!(right.run.map(|r| (r.passes, r.planned)), Some((1, mm(0.1))));
    assert_eq!(taken(&ledger, "7"), 0.32);
    let twice = ledger.correct(&on("03-03"), &correction(cut.entry, 0.1, None));
    assert!(matches!(twice, Err(LedgerError::Asked(_))), "{twice:?}");
    // The pass that did not run may be confirmed when it has.
    ledger.confirm(&on("03-04"), &run("p", None)).expect("the second pass");
    assert!(taken(&ledger, "7") > 0.419_999 && taken(&ledger, "7") < 0.420_001);
    let early = ledger.correct(&on("03-04"), &correction(right.entry, 0.0, Some(0)));
    assert!(matches!(early, Err(LedgerError::Asked(_))), "later passes are confirmed: {early:?}");
    // The first entry stands as it was made.
    let cuts = ledger.wheel("7").expect("readable").expect("known").cuts;
    let first = cuts.iter().find(|c| c.entry == cut.entry).expect("kept");
    assert_eq!((first.taken, first.corrected_by), (mm(0.2), Some(right.entry)));
    assert_eq!(ledger.check().expect("readable"), Vec::<String>::new());
}

/// An edge has cut the passes confirmed while it was in; a correction stays with the edge that cut.
#[test]
fn an_edge_has_cut_what_was_confirmed_while_it_was_in() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    assert_eq!(ledger.edges("sweeper").expect("readable"), None);
    for number in ["7", "8"] {
        let programs = [program(number, 0.0, &[0.1, 0.1, 0.1])];
        ledger.record(&on("03-02"), &survey(number, "a", Some(0.0)), &programs).expect("in");
    }
    let (_, cut) = ledger.confirm(&on("03-02"), &run("7", Some(2))).expect("cut");
    ledger.new_edge(&on("03-03"), "sweeper", "").expect("a new edge");
    ledger.confirm(&on("03-03"), &run("8", None)).expect("cut");
    ledger.correct(&on("03-04"), &correction(cut.entry, 0.1, Some(1))).expect("corrected");
    let edges = ledger.edges("sweeper").expect("readable").expect("known");
    let seen: Vec<_> = edges.iter().map(|e| (e.passes, e.wheels, e.spiral, e.chips)).collect();
    assert_eq!(seen, [(1, 1, mm(1000.0), 50.0), (3, 1, mm(3000.0), 150.0)]);
}

#[test]
fn a_touch_check_stays_with_its_survey() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    let touch = Touch {
        tool: "sweeper".into(),
        error_x: Some([mm(0.3), mm(0.05)]),
        error_z: [mm(-0.04), mm(0.01)],
        note: "through a shim".into(),
    };
    let early = ledger.record_touch(&on("03-02"), "7", &hash("a"), &touch);
    assert!(matches!(early, Err(LedgerError::Asked(_))), "{early:?}");
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.0)), &[]).expect("in");
    ledger.record_touch(&on("03-02"), "7", &hash("a"), &touch).expect("in");
    let wheel = ledger.wheel("7").expect("readable").expect("known");
    assert_eq!(wheel.surveys[0].touches, [KeptTouch { stamp: on("03-02"), touch }]);
}

/// RFC 4180; text that a spreadsheet would run stays text.
#[test]
fn what_is_given_out_is_escaped_for_where_it_goes() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    let mut wheel = survey("=1+1", "a", Some(0.0));
    wheel.name = "17 x 7, \"ten\"\nspokes".into();
    ledger.record(&on("03-02"), &wheel, &[]).expect("in");
    let export = ledger.export().expect("readable");
    let wheels = &export[&TableName::Wheels];
    let expected =
        "at,by,id,number,name\r\n2026-03-02T00:00:00Z,A. Turner,1,'=1+1,\"17 x 7, \"\"ten\"\"\nspokes\"\r\n";
    assert_eq!(wheels.csv(), expected);
    assert!(wheels.rows[0].contains(&Value::Text("=1+1".into())), "as it is in JSON");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever is confirmed and corrected in whatever order, what is taken is the stated depth and, of each confirmation, what
    /// was last said of it, to the nanometre.
    #[test]
    fn the_sum_of_the_cuts_is_what_is_taken(
        stated in 0u32..500,
        steps in prop::collection::vec((0u8..3, 0u32..400, 0usize..8), 1..24),
    ) {
        let (_folder, path) = place();
        let mut ledger = Ledger::open_or_create(&path).expect("made");
        let um = |n: u32| f64::from(n) / 1000.0;
        let depths = [0.1; 30];
        ledger.record(&on("03-02"), &survey("7", "a", Some(um(stated))), &[program("p", 0.0, &depths)]).expect("in");
        // The newest entry of each confirmation, and the micrometres last said of it.
        let mut said: Vec<(i64, u32)> = Vec::new();
        for (kind, depth, which) in steps {
            if kind < 2 {
                let mut confirmed = run("p", Some(1));
                confirmed.taken = (kind == 1).then(|| Taken::Off(mm(um(depth))));
                let (_, cut) = ledger.confirm(&on("03-02"), &confirmed).expect("cut");
                said.push((cut.entry, if kind == 1 { depth } else { 100 }));
            } else if let Some(chosen) = which.checked_rem(said.len()).and_then(|i| said.get_mut(i)) {
                let right = ledger.correct(&on("03-03"), &correction(chosen.0, um(depth), None)).expect("corrected").cut;
                *chosen = (right.entry, depth);
            }
        }
        let sum = stated + said.iter().map(|s| s.1).sum::<u32>();
        prop_assert!((taken(&ledger, "7") - um(sum)).abs() < 1e-9, "{} of {sum}", taken(&ledger, "7"));
        prop_assert_eq!(ledger.check().expect("readable"), Vec::<String>::new());
    }
}
