//! One number for one thing: times, speeds, feeds and spirals of the account, of the program's header and of the proof, pass by pass.

use crate::fixtures::{controls, demo};
use facewright::gcode;
use facewright::job::WayHome;
use facewright::plan::{Options, Pass, PassKind, plan};
use facewright::proof::sweep::{PassKind as Swept, SweptPass};
use facewright::proof::{Circumstances, prove_in};
use facewright::report::account;

/// The proof reads the centres of arcs as rounded words, the plan holds them as numbers: share by which lengths may differ.
const ROUNDED: f64 = 1e-5;

fn near(name: &str, what: &str, planned: f64, proved: f64) {
    let off = (planned / proved - 1.0).abs();
    assert!(off < ROUNDED, "{name}: {what} is planned as {planned} and proved as {proved}");
}

fn same_pass(name: &str, pass: &Pass, swept: &SweptPass) {
    let Some((rpm, feed)) = swept.rates.spindle.zip(swept.rates.feed) else {
        panic!("{name}: a pass without speed or feed")
    };
    near(name, "the time", pass.figures.feed_time.as_s(), swept.seconds.unwrap_or(f64::NAN));
    near(name, "the spiral", pass.figures.spiral_length.as_mm(), swept.spiral_mm);
    near(name, "the slowest speed", pass.figures.slowest.as_rpm(), rpm.least);
    near(name, "the fastest speed", pass.figures.fastest.as_rpm(), rpm.most);
    near(name, "the feed", pass.feed.as_mm_per_rev(), feed.most);
}

/// Seconds that the header of a program tells.
fn told(text: &str) -> f64 {
    let after = text.split("TIME ABOUT ").nth(1).expect("the header tells the time");
    let numbers: Vec<f64> = after.split(' ').take(3).filter_map(|w| w.parse().ok()).collect();
    numbers[0] * 60.0 + numbers[1]
}

#[test]
fn account_header_and_proof_tell_the_same_of_every_pass() {
    for &(name, change) in controls::VARIANTS {
        let (job, face) = demo::job_and_face();
        let mut job = job.clone();
        change(&mut job);
        // The way from the park to the reference point is no part of any pass.
        job.control.traits.way_home = WayHome::Park;
        let plan = plan(&job, face, Options::default()).unwrap_or_else(|refusal| panic!("{refusal}"));
        let parts = gcode::write(&job, &plan).unwrap_or_else(|error| panic!("{error}"));
        let mut swept: Vec<SweptPass> = Vec::new();
        let mut seconds = 0.0;
        for part in &parts {
            let earlier = Circumstances {
                already: part.before,
                goes_on: part.part < part.of,
                ..Circumstances::default()
            };
            let report = prove_in(part.text.as_bytes(), &job, face, &earlier);
            let proved = report.seconds.expect("every motion has its speed and feed");
            // The header leaves out the parts of a second.
            let over = proved - told(&part.text);
            assert!((-0.01..1.01).contains(&over), "{name}: the header is {over} s short of the proof");
            seconds += proved;
            swept.extend(report.sweep.passes);
        }
        let mut passes: Vec<&Pass> = plan.operations.iter().flat_map(|o| &o.passes).collect();
        if parts.len() > 1 {
            // Every part has air passes of its own.
            passes.retain(|p| p.kind != PassKind::Air);
            swept.retain(|p| p.kind != Swept::Air);
        } else {
            near(name, "all the time", passes.iter().map(|p| p.figures.time().as_s()).sum(), seconds);
        }
        assert_eq!(passes.len(), swept.len(), "{name}");
        let account = account::of(&job, &plan);
        for (pass, swept) in passes.iter().zip(&swept) {
            same_pass(name, pass, swept);
            let Some(rpm) = swept.rates.spindle else { panic!("{name}: no speed") };
            let (least, most) = (rpm.least, rpm.most);
            let row = format!("{least:.0}-{most:.0} rpm");
            assert!(account.contains(&row), "{name}: {row} is not in the account\n{account}");
        }
    }
}
