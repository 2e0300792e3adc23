//! A wheel's story at the command line: written, cut in steps, corrected, and the same wheel a year later.

use super::shop::{BY, Shop};
use std::fs;
use std::process::Command;

#[test]
fn a_wheel_is_written_cut_corrected_and_comes_back() {
    let shop = Shop::new();
    shop.says(0, "write job.yaml -o first.nc");
    let shown = shop.says(0, "ledger show R-7 --ledger wheels.db");
    assert!(shown.contains("0.200 mm as stated in jobs, 0.000 mm confirmed"), "{shown}");

    // Two passes, a look, and a note of what the dial said.
    let said = shop.says(0, &format!("ledger confirm first.nc {BY} --passes 2"));
    assert!(said.contains("passes 1 to 2") && said.contains("0.400 mm off wheel R-7"), "{said}");
    let entry = said.split("entry ").nth(1).and_then(|t| t.split(',').next()).expect("an entry").to_owned();
    shop.says(0, &format!("ledger correct {entry} {BY} --taken 0.23mm --note dial"));
    // On the same measurement the job's own word stands, and the next program begins where the last ended.
    assert_eq!(shop.taken(), 0.2);
    let rest = shop.says(0, "write job.yaml -o rest.nc");
    assert!(rest.contains("0.230 mm") || rest.contains("0.33"), "{rest}");
    let less = shop.says(1, "write job.yaml --already 0.1mm -o less.nc");
    assert!(less.contains("0.23 mm"), "{less}");
    shop.says(0, &format!("ledger confirm rest.nc {BY}"));
    shop.says(2, &format!("ledger confirm rest.nc {BY}"));
    shop.says(2, &format!("ledger confirm job.yaml {BY}"));

    // A year later: new lines, and a job that still says what it said. The marks of the old lines are gone.
    let shown = shop.says(0, "ledger show R-7 --ledger wheels.db");
    let before: f64 = shown
        .split("taken    ")
        .nth(1)
        .and_then(|t| t.split(' ').next())
        .and_then(|t| t.parse().ok())
        .expect("a sum");
    assert!(before > 0.5, "{shown}");
    let scan = fs::read_to_string(shop.path("scan-000.csv")).expect("there");
    let last = scan.trim_end().lines().last().expect("a line").to_owned();
    shop.change("scan-000.csv", &last, &format!("{last}0"));
    let refused = shop.says(1, "write job.yaml -o second.nc");
    assert!(refused.contains("R-7") && refused.contains("the ledger holds"), "{refused}");
    shop.change("job.yaml", ", taken: 0.20 mm", "");
    assert!((shop.taken() - before).abs() < 1e-6, "{} of {before}", shop.taken());
    let same = shop.says(0, "ledger compare job.yaml");
    assert!(same.contains("the same model") && same.contains("nothing beyond"), "{same}");
    let json = shop.says(0, "ledger compare job.yaml --format json");
    assert!(json.contains("\"same_model\": true"), "{json}");

    // The edges know what they have cut.
    shop.says(0, &format!("ledger new-edge sweeper {BY}"));
    let edge = shop.says(0, "ledger edge sweeper --ledger wheels.db");
    assert!(edge.contains("before any was entered") && edge.contains("0 passes on 0 wheels"), "{edge}");
    shop.says(2, "ledger edge spoon --ledger wheels.db");

    let csv = shop.says(0, "ledger export --ledger wheels.db --format csv");
    assert!(csv.lines().count() == 5 && csv.contains("230000"), "{csv}");
    let json: serde_json::Value =
        serde_json::from_str(&shop.says(0, "ledger export --ledger wheels.db")).expect("JSON");
    assert_eq!(json["cuts"].as_array().map(Vec::len), Some(4), "{json}");
    assert!(shop.says(0, "ledger check --ledger wheels.db").contains("hold"));
}

/// A job may leave `taken` to the ledger only where the ledger knows.
#[test]
fn taken_is_left_out_only_where_the_ledger_knows_it() {
    let shop = Shop::new();
    shop.change("job.yaml", ", taken: 0.20 mm", "");
    let unknown = shop.says(2, "write job.yaml -o first.nc");
    assert!(unknown.contains("R-7") && unknown.contains("`taken: 0 mm`"), "{unknown}");
    assert!(!shop.path("first.nc").exists() && !shop.path("wheels.db").exists());
    shop.change("shop.yaml", "ledger: wheels.db\n", "");
    let without = shop.says(2, "write job.yaml -o first.nc");
    assert!(without.contains("job.yaml:") && without.contains("`taken`"), "{without}");
}

/// Without the key, or without a number on the wheel, there is no ledger, and the program is the same to the byte.
#[test]
fn without_a_ledger_nothing_changes() {
    let shop = Shop::new();
    shop.says(0, "write job.yaml -o with.nc");
    let with = fs::read(shop.path("with.nc")).expect("written");
    let plain = Shop::new();
    plain.change("job.yaml", "  number: R-7\n", "");
    plain.says(0, "write job.yaml -o without.nc");
    assert!(!plain.path("wheels.db").exists());
    assert!(fs::read(plain.path("without.nc")).expect("written") == with);
}

/// Where the ledger cannot be written, no program comes into being that nobody could confirm; the exit code says a file was at fault.
#[cfg(target_os = "linux")]
#[test]
fn a_ledger_that_cannot_be_written_leaves_no_program() {
    for ledger in ["no/such/folder/wheels.db", "/proc/wheels.db"] {
        let shop = Shop::with_ledger(ledger);
        let said = shop.says(3, "write job.yaml -o out.nc");
        assert!(said.contains("wheels.db"), "{said}");
        assert!(!shop.path("out.nc").exists());
    }
    // A folder that may not be written to; who may write everywhere is stopped by nothing.
    let shop = Shop::with_ledger("locked/wheels.db");
    let locked = shop.path("locked");
    fs::create_dir(&locked).expect("a folder");
    let mut rights = fs::metadata(&locked).expect("there").permissions();
    rights.set_readonly(true);
    fs::set_permissions(&locked, rights).expect("locked");
    if fs::write(locked.join("probe"), "").is_err() {
        shop.says(3, "write job.yaml -o out.nc");
        assert!(!shop.path("out.nc").exists());
    }
}

/// A disk that takes no more: the limit of the shell on the size of a file stands for it. Nothing of the confirmation is stored.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_and_stores_nothing() {
    let shop = Shop::new();
    shop.says(0, "write job.yaml -o first.nc");
    let before = shop.says(0, "ledger export --ledger wheels.db");
    let full = format!(
        "trap '' XFSZ; ulimit -f 0; exec '{}' ledger confirm first.nc {BY}",
        env!("CARGO_BIN_EXE_facewright")
    );
    let output =
        Command::new("bash").args(["-c", &full]).current_dir(shop.folder.path()).output().expect("bash runs");
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(3), "{said}");
    assert!(said.contains("wheels.db"), "{said}");
    assert_eq!(shop.says(0, "ledger export --ledger wheels.db"), before);
}

/// The ledger is never written over by a program or a page.
#[test]
fn the_ledger_is_never_written_over() {
    let shop = Shop::new();
    shop.says(0, "write job.yaml -o first.nc");
    shop.says(2, "write job.yaml -o wheels.db");
    assert!(shop.says(0, "ledger check --ledger wheels.db").contains("hold"));
}
