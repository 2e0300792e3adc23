//! What a depth gauge shows counts as really taken: the face then stands as deep as it showed, whatever was entered before.

use super::made_up::{mm, on, place, program, run, survey, taken};
use super::shop::{BY, Shop};
use facewright::ledger::{Correction, GaugeReading, Ledger, LedgerError, Taken};

fn stands(depth: f64) -> Taken {
    Taken::Stands(GaugeReading { depth: mm(depth), within: Some(mm(0.01)) })
}

#[test]
fn the_face_stands_as_deep_as_the_gauge_showed() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.2)), &[program("p", 0.0, &[0.1; 4])]).expect("in");
    let (_, first) = ledger.confirm(&on("03-02"), &run("p", Some(1))).expect("cut");
    let mut read = run("p", Some(2));
    read.taken = Some(stands(0.276));
    let (_, cut) = ledger.confirm(&on("03-02"), &read).expect("cut");
    assert!(cut.measured && cut.gauge == Some(GaugeReading { depth: mm(0.276), within: Some(mm(0.01)) }));
    assert_eq!((cut.taken, cut.run.map(|r| r.planned)), (mm(0.176), Some(mm(0.2))));
    assert!((taken(&ledger, "7") - 0.476).abs() < 1e-9);

    // What the first pass took is put right: the gauge still shows what it showed.
    let right =
        Correction { entry: first.entry, taken: Taken::Off(mm(0.08)), passes: None, note: "misread".into() };
    let right = ledger.correct(&on("03-03"), &right).expect("corrected");
    assert_eq!(
        right.reckoned.iter().map(|c| (c.corrects, c.taken)).collect::<Vec<_>>(),
        [(Some(cut.entry), mm(0.196))]
    );
    assert!((taken(&ledger, "7") - 0.476).abs() < 1e-9);

    // A pass that was confirmed as planned, and measured afterwards.
    let (_, last) = ledger.confirm(&on("03-04"), &run("p", None)).expect("cut");
    let read = Correction { entry: last.entry, taken: stands(0.41), passes: None, note: "measured".into() };
    ledger.correct(&on("03-04"), &read).expect("corrected");
    assert!((taken(&ledger, "7") - 0.61).abs() < 1e-9);
    assert_eq!(ledger.check().expect("readable"), Vec::<String>::new());
}

/// A reading above what the entries before it add up to says that one of them is wrong; by less than it is known within it says nothing.
#[test]
fn a_gauge_that_shows_less_than_was_entered_before_is_refused() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.2)), &[program("p", 0.0, &[0.1; 3])]).expect("in");
    ledger.confirm(&on("03-02"), &run("p", Some(1))).expect("cut");
    let mut read = run("p", Some(1));
    read.taken = Some(stands(0.085));
    let refused = ledger.confirm(&on("03-02"), &read);
    assert!(matches!(&refused, Err(LedgerError::Asked(why)) if why.contains("0.015 mm more")), "{refused:?}");
    read.taken = Some(stands(0.095));
    let (_, cut) = ledger.confirm(&on("03-02"), &read).expect("within what is uncertain");
    assert_eq!(cut.taken, mm(0.0));
}

/// Also where an earlier entry is put right afterwards: one of the two is wrong, and nothing is stored before it is known which.
#[test]
fn a_correction_that_a_later_gauge_contradicts_is_refused() {
    let (_folder, path) = place();
    let mut ledger = Ledger::open_or_create(&path).expect("made");
    ledger.record(&on("03-02"), &survey("7", "a", Some(0.2)), &[program("p", 0.0, &[0.1; 3])]).expect("in");
    let (_, first) = ledger.confirm(&on("03-02"), &run("p", Some(1))).expect("cut");
    let mut read = run("p", Some(1));
    read.taken = Some(stands(0.2));
    let (_, second) = ledger.confirm(&on("03-02"), &read).expect("cut");
    let before = ledger.export().expect("readable");
    let right = |entry: i64, taken: Taken| Correction { entry, taken, passes: None, note: "misread".into() };
    let refused = ledger.correct(&on("03-03"), &right(first.entry, Taken::Off(mm(0.25))));
    let named = format!("in entry {}", second.entry);
    assert!(matches!(&refused, Err(LedgerError::Asked(why)) if why.contains(&named)), "{refused:?}");
    assert_eq!(ledger.export().expect("readable"), before);
    ledger.correct(&on("03-03"), &right(second.entry, stands(0.3))).expect("the gauge was misread");
    ledger.correct(&on("03-03"), &right(first.entry, Taken::Off(mm(0.25)))).expect("agrees now");
    assert!((taken(&ledger, "7") - 0.5).abs() < 1e-9);
}

/// Said in a shop's inches, told in them, kept in nanometres.
#[test]
fn a_reading_in_inches_is_told_in_inches_and_given_out_exactly() {
    let shop = Shop::new();
    shop.change("shop.yaml", "  units: mm\n  unit_word: G71\n", "  units: inch\n  unit_word: G70\n");
    shop.change("shop.yaml", "resolution: 0.001 mm", "resolution: 0.0001 in");
    shop.says(0, "write job.yaml -o first.nc");
    let said =
        shop.says(0, &format!("ledger confirm first.nc {BY} --passes 3 --gauge 0.0110in --within 0.0005in"));
    assert!(said.contains("as a gauge shows, 0.0110 in deep within 0.0005 in"), "{said}");
    assert!(said.contains("less than planned") && !said.contains("mm"), "{said}");
    let shown = shop.says(0, "ledger show R-7 --ledger wheels.db");
    assert!(shown.contains("0.0110 in deep") && !shown.contains(" mm"), "{shown}");
    let csv = shop.says(0, "ledger export --ledger wheels.db --format csv --table cuts");
    assert!(csv.contains("gauge_nm") && csv.contains("279400") && csv.contains("12700"), "{csv}");
    let json: serde_json::Value =
        serde_json::from_str(&shop.says(0, "ledger export --ledger wheels.db")).expect("JSON");
    assert!(
        json["cuts"].as_array().is_some_and(|cuts| cuts.iter().any(|c| c["gauge_nm"] == 279_400)),
        "{json}"
    );
    shop.says(2, &format!("ledger confirm first.nc {BY} --passes 1 --gauge 0.3mm --taken 0.1mm"));
}
