//! One simulation of a program: page, proof, plain words and JSON name the same positions, whatever the control reads.

use crate::fixtures::{controls, demo};
use facewright::gcode;
use facewright::job::{BareNumbers, FeedWords, Job, SpindleLimitWord};
use facewright::plan::{Options, plan};
use facewright::proof::{Circumstances, ReadBack, Report, explain, read_back, simulate};
use facewright::report::sheet::{Origin, Program, Sheet, page};
use facewright::units::{Length, MM_PER_INCH};
use std::collections::BTreeMap;
use std::fs;
use std::process::Command;

/// Coordinates are shown with four decimals in the page's data.
const SHOWN: f64 = 0.000_051;

/// Words in inches have five decimals or more.
const SHOWN_IN_INCHES: f64 = SHOWN + 0.000_005 * MM_PER_INCH;

/// Words of millimetres that are turned into inches have four decimals: half of the last, and rounding.
const TURNED_TO_INCHES: f64 = 0.000_05 * MM_PER_INCH + 0.000_1;

/// How far the cut may lie from the programmed point, millimetres: the nose of the demo's largest tool, and its flank over the deepest dent.
const BESIDE: f64 = 3.0;

/// A place of the tool: radius and height, millimetres.
type Position = (f64, f64);

/// The positions that a sentence names, in millimetres: each `radius R mm, height Z mm` in it, or the same in inches.
fn positions(text: &str) -> Vec<Position> {
    let mut rest = text;
    let mut out = Vec::new();
    while let Some((_, from)) = rest.split_once("radius ") {
        rest = from;
        let Some((radius, after)) = from.split_once(", height ") else { continue };
        let unit = if radius.ends_with(" in") { " in" } else { " mm" };
        let Some((height, after)) = after.split_once(unit) else { continue };
        let number = |text: &str| text.trim_end_matches(unit).parse::<f64>();
        if let (Ok(radius), Ok(height)) = (number(radius), number(height)) {
            let one = if unit == " in" { MM_PER_INCH } else { 1.0 };
            out.push((radius * one, height * one));
            rest = after;
        }
    }
    out
}

/// What a page says: the plain words of each line of its one program, and the motions of each line.
struct Shown {
    says: BTreeMap<usize, String>,
    /// Start and end of each motion, by line.
    motions: BTreeMap<usize, Vec<[Position; 2]>>,
}

/// A whole number of a page or a report.
fn whole(number: &serde_json::Value) -> usize {
    number.as_u64().and_then(|n| usize::try_from(n).ok()).expect("a whole number")
}

fn shown(page: &str) -> Shown {
    let mut says = BTreeMap::new();
    let mut lines = Vec::new();
    for row in page.split("<li id=\"p1-l").skip(1) {
        let (line, rest) = row.split_once('"').expect("a line number");
        let line: usize = line.parse().expect("a line number");
        let words = rest.split_once("</code><span>").expect("plain words").1;
        says.insert(line, words.split_once("</span>").expect("plain words").0.to_owned());
        lines.push(line);
    }
    let data = page.split_once("<script id=\"motions\" type=\"application/json\">").expect("the motions").1;
    let data: serde_json::Value =
        serde_json::from_str(data.split_once("</script>").expect("the motions").0).expect("JSON");
    let mut numbers = data["moves"].as_array().expect("the motions").iter();
    let mut at = (f64::NAN, f64::NAN);
    let mut motions: BTreeMap<usize, Vec<[Position; 2]>> = BTreeMap::new();
    while let Some(row) = numbers.next() {
        let mut next = || numbers.next().and_then(serde_json::Value::as_f64).expect("a whole motion");
        let (kind, _force, _seconds, _stops) = (next(), next(), next(), next());
        if kind >= 10.0 {
            at = (next(), next());
        }
        let to = (next(), next());
        if kind % 10.0 >= 2.0 {
            let _centre = (next(), next());
        }
        let line = lines[whole(row)];
        motions.entry(line).or_default().push([at, to]);
        at = to;
    }
    Shown { says, motions }
}

/// The page of one program of a job.
fn page_of(job: &Job, text: &[u8]) -> (String, Report) {
    let survey = &demo::surveyed().1;
    let ReadBack { simulation, report } = read_back(text, job, survey.face(), &Circumstances::default());
    let program =
        Program { name: "the program".into(), passes: Vec::new(), simulation, report: report.clone() };
    let sheet = Sheet {
        job,
        survey: Ok(survey),
        plan: Err("given".into()),
        already: Length::mm(0.0),
        touch_offs: Vec::new(),
        origin: Origin::Given,
        programs: vec![program],
    };
    (page(&sheet), report)
}

fn near(a: Position, b: Position, shown: f64) -> bool {
    (a.0 - b.0).abs() < shown && (a.1 - b.1).abs() < shown
}

/// Holds the page of a program against its plain words and its proof; gives how many positions were compared.
fn compare(name: &str, job: &Job, text: &str) -> usize {
    let (page, report) = page_of(job, text.as_bytes());
    let shown = shown(&page);
    let mut compared = 0;
    for block in explained(job, text) {
        let (line, said) = (block.0, block.1);
        let on_page = &shown.says[&line];
        let [page, plain] = [positions(on_page), positions(&said)];
        // A program in millimetres the page of an inch shop tells in inches.
        let alike = |(a, b): (&Position, &Position)| {
            let shown = if on_page == &said { 0.0 } else { TURNED_TO_INCHES };
            near(*a, *b, shown + f64::EPSILON)
        };
        assert!(
            page.len() == plain.len() && page.iter().zip(&plain).all(alike),
            "{name}, line {line}: {on_page} and {said}"
        );
        let ends = shown.motions.get(&line).and_then(|moves| moves.last()).map(|m| m[1]);
        if let (Some(end), [position]) = (ends, positions(&said).as_slice()) {
            let exact = if said.contains(" in, height") { SHOWN_IN_INCHES } else { SHOWN };
            assert!(
                near(end, *position, exact),
                "{name}, line {line}: {end:?} in the data of the page; {said}"
            );
            compared += 1;
        }
    }
    let motions: usize = shown.motions.values().map(Vec::len).sum();
    assert_eq!(report.movements, motions, "{name}: motions of proof and page");
    let json = serde_json::to_value(&report).expect("a report is JSON");
    for found in ["deepest", "first_contact"] {
        let Some(radius) = json[found]["radius"].as_f64() else { continue };
        let line = whole(&json[found]["line"]);
        let Some(moves) = shown.motions.get(&line) else { continue };
        let radii = moves.iter().flatten().map(|p| p.0);
        let (low, high) = radii.fold((f64::INFINITY, 0.0_f64), |(a, b), x| (a.min(x), b.max(x)));
        assert!(
            low - BESIDE < radius && radius < high + BESIDE,
            "{name}: {found} at radius {radius}, and line {line} of the page runs from {low} to {high}"
        );
    }
    compared
}

/// Plain words of every block with something in it, by line.
fn explained(job: &Job, text: &str) -> Vec<(usize, String)> {
    explain(&simulate(text.as_bytes(), job)).into_iter().map(|e| (e.line, e.text)).collect()
}

/// A program as a hand would write it for a control of either family: numbers without a point, and small increments.
fn by_hand(second_family: bool) -> String {
    let (start, feed) =
        if second_family { ("G18 G71 G40 G97", "G99") } else { ("G18 G71 G40 G90 G97", "G95") };
    let increments = if second_family { "W0.001\nU-0.25 W-0.076\n" } else { "Z4.9\n" };
    format!(
        "%\n{start}\nT0101\nG00 X360000 Z50000\nX142062 Z6.\nG92 S900\nG96 S200 M03\n{feed} F0.2\nG01 X142. Z5.\n{increments}G01 X160. Z5.\nG00 Z50.\nG97 M05\nM30\n%\n"
    )
}

#[test]
fn every_demo_control_names_one_position_for_one_block() {
    let (demo, survey) = demo::surveyed();
    let face = survey.cleared().expect("the demo's wheel may be cut");
    for &(name, change) in controls::VARIANTS {
        let mut job = demo.clone();
        change(&mut job);
        let plan = plan(&job, face, Options::default()).unwrap_or_else(|refusal| panic!("{refusal}"));
        for part in gcode::write(&job, &plan).unwrap_or_else(|error| panic!("{error}")) {
            let compared = compare(name, &job, &part.text);
            assert!(compared > 30, "{name}: {compared} positions show nothing");
        }
        for bare in [BareNumbers::Units, BareNumbers::Steps] {
            job.control.bare_numbers = bare;
            let hand = by_hand(job.control.feed_words == FeedWords::G98G99);
            let compared = compare(&format!("{name}, by hand, {bare:?}"), &job, &hand);
            assert!(compared >= 4, "{name}: {compared} positions show nothing");
        }
    }
}

/// The reported fault: a number without a point, at a control that counts steps, was 71.031 mm to the proof and 71031 mm on the page.
#[test]
fn steps_are_steps_everywhere() {
    let mut job = demo::job();
    job.control.bare_numbers = BareNumbers::Steps;
    let shown = shown(&page_of(&job, by_hand(false).as_bytes()).0);
    assert!(positions(&shown.says[&5]).contains(&(71.031, 6.0)), "{}", shown.says[&5]);
}

/// The reported fault: W was an increment to the proof and nothing to the page.
#[test]
fn increments_are_increments_everywhere() {
    let mut job = demo::job();
    job.control.feed_words = FeedWords::G98G99;
    job.control.spindle_limit_word = SpindleLimitWord::G50;
    let text = by_hand(true).replace("G92", "G50").replace("142062", "142.062");
    let shown = shown(&page_of(&job, text.as_bytes()).0);
    assert_eq!(positions(&shown.says[&10]), [(71.0, 5.001)], "{}", shown.says[&10]);
    assert_eq!(positions(&shown.says[&11]), [(70.875, 4.925)], "{}", shown.says[&11]);
}

/// At the command line: the report, its JSON and the page of one file and one shop.
#[test]
fn the_commands_name_one_position_for_one_block() {
    let folder = tempfile::tempdir().expect("a folder");
    for entry in fs::read_dir("demo-data").expect("the demo").flatten().filter(|e| e.path().is_file()) {
        fs::copy(entry.path(), folder.path().join(entry.file_name())).expect("a copy");
    }
    let shop = folder.path().join("shop.yaml");
    let text = fs::read_to_string(&shop).expect("the shop file");
    fs::write(&shop, text.replacen("control:\n", "control:\n  bare_numbers: steps\n", 1))
        .expect("the shop file");
    fs::write(folder.path().join("hand.nc"), by_hand(false)).expect("a program");
    let run = |arguments: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_facewright"))
            .args(arguments)
            .current_dir(folder.path())
            .output()
            .expect("facewright runs");
        String::from_utf8_lossy(&out.stdout).into_owned()
    };
    let page = shown(&run(&["sheet", "job.yaml", "--program", "hand.nc"]));
    let report = run(&["proof", "hand.nc", "--job", "job.yaml", "--explain"]);
    let json = run(&["proof", "hand.nc", "--job", "job.yaml", "--explain", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let mut named = 0;
    for block in json["explained"].as_array().expect("every block") {
        let line = whole(&block["line"]);
        let said = block["text"].as_str().expect("words");
        let in_report = report.lines().find(|l| l.starts_with(&format!("  line {line:>5}  ")));
        let in_report = in_report.expect("every block is in the report");
        assert!(in_report.ends_with(said), "{in_report} and {said}");
        let on_page = page.says.get(&line).expect("every block is on the page");
        assert_eq!(positions(on_page), positions(said), "line {line}");
        named += positions(said).len();
    }
    assert!(named >= 5, "{named} positions show nothing");
}
