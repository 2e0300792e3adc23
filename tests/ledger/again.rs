//! Laws of measuring again: it accounts for what was taken and is no further cut, however often it is done; and a correction, which
//! names the old entry, leaves the ledger as if the entry had been right at once.

use super::made_up::{again, hash, mm, on, place, program, run, survey, taken};
use super::shop::{BY, Shop};
use facewright::ledger::{Correction, Ledger, Lines, Taken};
use proptest::prelude::*;

/// Taken before the first lines, millimetres.
const BEFORE: f64 = 0.2;

/// A program of two passes, and what was said of each when it had run and afterwards; micrometres.
#[derive(Debug, Clone)]
struct Visit {
    depths: [u32; 2],
    /// What each pass took, where it was measured.
    measured: [Option<u32>; 2],
    /// What each is said to have taken when all is over, where that differs.
    later: [Option<u32>; 2],
    /// How often the wheel is measured again before it, and how much the lines show beyond what was planned until then.
    times: usize,
    beyond: i32,
}

fn visit() -> impl Strategy<Value = Visit> {
    let two = |most: u32| prop::array::uniform2(prop::option::of(0..most));
    (prop::array::uniform2(20u32..150), two(200), two(200), 0usize..4, -60i32..60)
        .prop_map(|(depths, measured, later, times, beyond)| Visit { depths, measured, later, times, beyond })
}

/// What the lines measured again before a visit show to be gone.
#[derive(Clone, Copy)]
enum Shown {
    /// They were not looked at.
    Nothing,
    /// What was entered.
    Entered,
    /// What was planned, and the visit's own share beyond it.
    Beyond,
}

/// When somebody says what passes took in the end.
#[derive(Clone, Copy, PartialEq)]
enum Said {
    Never,
    Later,
    AtOnce,
}

fn um(depth: u32) -> f64 {
    f64::from(depth) / 1000.0
}

/// Plays the visits one after the other; what was taken then, millimetres.
fn play(visits: &[Visit], shown: Shown, said: Said) -> f64 {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    ledger.record(&on("03-02"), &survey("7", "first", Some(BEFORE)), &[]).expect("in");
    let (mut planned, mut corrections) = (0.0, Vec::new());
    // Neither a confirmation nor lines measured again take back what a wheel has lost.
    let mut lost = BEFORE;
    let mut not_less = |ledger: &Ledger| {
        let now = taken(ledger, "7");
        assert!(now >= lost - 1e-9, "{now} after {lost}");
        lost = now;
    };
    let mut lines = survey("7", "first", None);
    let mut begins = 0.0;
    for (number, visit) in visits.iter().enumerate() {
        let name = format!("program {number}");
        for time in 0..visit.times {
            let most = match shown {
                Shown::Nothing => continue,
                Shown::Entered => taken(&ledger, "7") - BEFORE,
                Shown::Beyond => planned + f64::from(visit.beyond) / 1000.0,
            };
            lines = again("7", &format!("again {number} {time}"), "first", planned, most);
            begins = planned;
            // The job is written twice; the second time nothing is new.
            for _ in 0..2 {
                ledger.record(&on("03-02"), &lines, &[]).expect("in");
                not_less(&ledger);
            }
        }
        let depths = visit.depths.map(um);
        ledger.record(&on("03-02"), &lines, &[program(&name, planned - begins, &depths)]).expect("in");
        for (measured, later) in visit.measured.into_iter().zip(visit.later) {
            let mut confirmed = run(&name, Some(1));
            let at_once = later.filter(|_| said == Said::AtOnce);
            confirmed.taken = at_once.or(measured).map(|depth| Taken::Off(mm(um(depth))));
            let (_, cut) = ledger.confirm(&on("03-02"), &confirmed).expect("cut");
            not_less(&ledger);
            corrections.extend(later.map(|later| (cut.entry, later)));
        }
        planned += depths.iter().sum::<f64>();
    }
    for (entry, later) in corrections.into_iter().filter(|_| said == Said::Later) {
        // The entry may have been reckoned anew since: its newest is the one to correct.
        let cuts = ledger.wheel("7").expect("readable").expect("known").cuts;
        let newest = std::iter::successors(Some(entry), |e| {
            cuts.iter().find(|c| c.entry == *e).and_then(|c| c.corrected_by)
        })
        .last()
        .expect("the entry itself");
        let right = Correction {
            entry: newest,
            taken: Taken::Off(mm(um(later))),
            passes: None,
            note: "misread".into(),
        };
        let right = ledger.correct(&on("03-03"), &right).expect("corrected");
        assert_eq!((right.cut.corrects, right.cut.measured), (Some(newest), true));
        assert!(right.reckoned.iter().all(|c| c.corrects.is_some() && !c.measured), "{right:?}");
    }
    assert_eq!(ledger.check().expect("readable"), Vec::<String>::new());
    taken(&ledger, "7")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Lines that show what was entered change nothing, however often they are measured; nor do lines that show less, or as much more
    /// as is uncertain.
    #[test]
    fn a_wheel_has_lost_the_same_however_often_it_was_measured_again(visits in prop::collection::vec(visit(), 1..6)) {
        let never = play(&visits, Shown::Nothing, Said::Never);
        let often = play(&visits, Shown::Entered, Said::Never);
        prop_assert!((never - often).abs() < 1e-9, "{never} without, {often} with measuring again");
        let right = (play(&visits, Shown::Nothing, Said::Later), play(&visits, Shown::Nothing, Said::AtOnce));
        prop_assert!((right.0 - right.1).abs() < 1e-9, "{right:?}");
    }

    /// Whatever the lines show between.
    #[test]
    fn a_correction_is_as_if_it_had_been_said_at_once(visits in prop::collection::vec(visit(), 1..6)) {
        let later = play(&visits, Shown::Beyond, Said::Later);
        let at_once = play(&visits, Shown::Beyond, Said::AtOnce);
        prop_assert!((later - at_once).abs() < 1e-9, "{later} said later, {at_once} at once");
    }
}

/// What goes down to a depth ends there, whatever was entered above it: planned too much, put right early or late, measured or not.
#[test]
fn passes_planned_on_lines_measured_again_end_at_their_depth() {
    for late in [None, Some(false), Some(true)] {
        let (_folder, path) = place();
        let mut ledger = Ledger::open_or_create(&path).expect("made");
        let first = [program("p", 0.0, &[0.1, 0.1, 0.1])];
        ledger.record(&on("03-02"), &survey("7", "first", Some(BEFORE)), &first).expect("in");
        let (_, cut) = ledger.confirm(&on("03-02"), &run("p", None)).expect("cut");
        let right = Correction {
            entry: cut.entry,
            taken: Taken::Off(mm(0.265)),
            passes: None,
            note: "as measured".into(),
        };
        if late == Some(false) {
            ledger.correct(&on("03-02"), &right).expect("corrected");
        }
        let rest = [program("rest", 0.0, &[0.1, 0.1])];
        ledger.record(&on("03-02"), &again("7", "again", "first", 0.257, 0.265), &rest).expect("in");
        ledger.confirm(&on("03-02"), &run("rest", Some(1))).expect("cut");
        // The next program goes on from what its own lines show and its own passes took, not from what was entered before.
        let (all, first) = (hash("again"), hash("first"));
        let lines = Lines { all: &all, first: &first };
        let standing = ledger.standing("7", lines).expect("readable").expect("known");
        assert_eq!((standing.taken.as_mm(), standing.already), (BEFORE, mm(0.1)));
        assert_eq!(standing.told, if late == Some(false) { mm(0.265) } else { mm(0.3) });
        ledger.confirm(&on("03-02"), &run("rest", None)).expect("cut");
        if late == Some(true) {
            ledger.correct(&on("03-02"), &right).expect("corrected");
        }
        assert!((taken(&ledger, "7") - BEFORE - 0.457).abs() < 1e-9, "{} with {late:?}", taken(&ledger, "7"));
    }
}

/// Lines that show more to be gone than was entered are believed, once.
#[test]
fn more_than_was_entered_is_believed_once() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    ledger
        .record(&on("03-02"), &survey("7", "first", Some(BEFORE)), &[program("p", 0.0, &[0.1, 0.1])])
        .expect("in");
    ledger.confirm(&on("03-02"), &run("p", None)).expect("cut");
    for lines in ["one", "two"] {
        ledger.record(&on("03-02"), &again("7", lines, "first", 0.22, 0.23), &[]).expect("in");
        assert!((taken(&ledger, "7") - 0.43).abs() < 1e-9, "{}", taken(&ledger, "7"));
    }
}

/// At the command line: measured again, one more pass, and measured again. What earlier jobs took stays what it was, and the program's
/// account and the ledger agree on what is left.
#[test]
fn measured_again_twice_counts_once() {
    let shop = Shop::new();
    shop.says(0, "write job.yaml -o first.nc");
    shop.says(0, &format!("ledger confirm first.nc {BY} --passes 3"));
    shop.says(0, "write again.yaml -o rest.nc");
    let said = shop.says(0, &format!("ledger confirm rest.nc {BY} --passes 1"));
    // The face stands at 0.332 mm below the first lines, and 0.2 mm went before them.
    assert!(said.contains("0.532 mm off wheel R-7"), "{said}");
    // The same lines to the last digit but one: what they show does not change.
    let scan = std::fs::read_to_string(shop.path("again-000.csv")).expect("there");
    let last = scan.trim_end().lines().last().expect("a line").to_owned();
    shop.change("again-000.csv", &last, &format!("{last}0"));
    shop.change("again.yaml", "  cut: 0.30 mm ", "  # ");
    let json = shop.says(0, "survey again.yaml --format json");
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(json["allowance"]["taken_mm"].as_f64(), Some(0.2), "{json}");
    assert_eq!(json["again"]["told_mm"].as_f64(), Some(0.332), "{json}");
    let account = shop.says(0, "write again.yaml -o last.nc");
    shop.says(0, &format!("ledger confirm last.nc {BY}"));
    let shown = shop.says(0, "ledger show R-7 --ledger wheels.db");
    let figure = |text: &str, after: &str, before: &str| -> String {
        let from = text.split(after).nth(1).unwrap_or_else(|| panic!("no `{after}` in {text}"));
        from.split(before).next().expect("a part").rsplit(' ').next().expect("a word").to_owned()
    };
    assert_eq!(
        figure(&account, "metal    ", " mm of the allowance left"),
        figure(&shown, "left     ", " mm of the"),
        "{account}\n{shown}"
    );
}
