//! Text and bytes spoilt at random: whatever comes from outside, there is no panic, no number that is none, and no program that our
//! own proof stops.
//!
//! 200,000 inputs at every run, from seeds: the same whatever runs beside them. `SPOILT=10000000 cargo test --release --test all spoilt::` tries as many by hand.

use super::fixtures::demo::{self, AtControl};
use facewright::face::touch_check;
use facewright::job::{self, Job, PassCount};
use facewright::ledger::Ledger;
use facewright::pipeline::{self, PipelineError};
use facewright::plan::{Options, Plan};
use facewright::proof::{self, prove, simulate};
use facewright::report::survey_picture;
use facewright::scan::{guess, reader};
use facewright::units::{
    Angle, FeedPerMinute, FeedPerRev, Length, Quantity, Size, Speed, SpindleSpeed, SurfaceSpeed, Time,
};
use std::fmt::Display;
use std::fs;
use std::path::Path;

/// Inputs of all tests together.
const ALL: usize = 200_000;

/// How many of a kind are tried: its share of all, or of as many as the environment says.
fn count(usual: usize) -> usize {
    let all = std::env::var("SPOILT").ok().and_then(|v| v.parse::<usize>().ok()).unwrap_or(ALL);
    (usual * (all / 1000) / (ALL / 1000)).max(1)
}

/// A generator of numbers (xorshift; Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn new(seed: usize) -> Self {
        // Neighbouring seeds must not begin alike (the finaliser of SplitMix64; Steele and others 2014).
        let mut x = (seed as u64).wrapping_add(0x9e37_79b9_7f4a_7c15);
        x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        Self((x ^ (x >> 31)) | 1)
    }

    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from((self.0 >> 11) % n.max(1) as u64).expect("small")
    }

    fn byte(&mut self) -> u8 {
        u8::try_from(self.below(256)).expect("a byte")
    }

    fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())]
    }
}

/// Numbers that are near the edges of what is read.
const NUMBERS: &[&str] = &[
    "0",
    "-0",
    "-1",
    "1e-9",
    "1e-300",
    "0.0001",
    "0.36",
    "2",
    "360",
    "9999",
    "99999",
    "1e6",
    "1e9",
    "1e300",
    "1e999",
    "-1e300",
    "nan",
    ".inf",
    "999999999999999999999999",
    "0x10",
    "1_000",
    "1,5",
    ".",
    "-",
    "",
];

/// Pieces that stand for something in one of the languages.
const PIECES: &[&str] = &[
    "\0",
    "\r",
    "\n",
    "\r\n",
    "\u{feff}",
    "%",
    "(",
    ")",
    ";",
    "/",
    "[",
    "]",
    "{",
    "}",
    ": ",
    "- ",
    "&a ",
    "*a",
    "!t ",
    "\t",
    "\u{202e}",
    "\u{1b}[2J",
    "\u{9b}",
    "\u{1a}",
    "mm",
    " in",
    " rpm",
    " deg",
    "mm/rev",
    "____",
    "G96 S0.1",
    "M00",
    "G04 X600",
    "G28 U0 W0",
    "T0000",
    "O1",
    "G02 X1 Z1 R0",
    "#",
    "\"",
    "'",
    ",",
    "~",
    "none",
    "auto",
    "\u{fffd}",
];

/// A text with one to four things wrong with it.
fn spoil(text: &[u8], dice: &mut Dice) -> Vec<u8> {
    let mut out = text.to_vec();
    for _ in 0..=dice.below(4) {
        let at = dice.below(out.len() + 1);
        let span = |n: usize| at..(at + n).min(out.len());
        match dice.below(10) {
            0 if at < out.len() => out[at] ^= 1 << dice.below(8),
            1 if at < out.len() => out[at] = dice.byte(),
            2 => {
                let n = dice.below(20);
                out.drain(span(n));
            }
            3 => {
                let piece = out[span(dice.below(60))].to_vec();
                let to = dice.below(out.len() + 1);
                out.splice(to..to, piece);
            }
            4 | 5 => {
                let piece = dice.of(PIECES);
                out.splice(at..at, piece.bytes());
            }
            6 if dice.below(8) == 0 => out.truncate(at),
            7 => {
                // A line goes.
                let from = out[..at].iter().rposition(|&b| b == b'\n').map_or(0, |i| i + 1);
                let to = out[at..].iter().position(|&b| b == b'\n').map_or(out.len(), |i| at + i + 1);
                out.drain(from..to);
            }
            _ => {
                // Another number.
                let is_of_number = |b: &u8| b.is_ascii_digit() || *b == b'.';
                let Some(from) = out[at..].iter().position(is_of_number).map(|i| at + i) else { continue };
                let to = out[from..].iter().position(|b| !is_of_number(b)).map_or(out.len(), |i| from + i);
                out.splice(from..to, dice.of(NUMBERS).bytes());
            }
        }
    }
    out
}

fn quantity<Q: Quantity + Display>(text: &str) -> bool {
    let Ok(read) = Q::read(text) else { return false };
    assert!(read.inside().abs() <= Q::MOST, "{text:?}");
    let printed = read.to_string();
    let again = Q::read(&printed).unwrap_or_else(|e| panic!("{text:?} printed as {printed}: {e}"));
    assert_eq!(again.to_string(), printed, "{text:?}");
    true
}

#[test]
fn quantities() {
    type Read = fn(&str) -> bool;
    let kinds: [(&str, Read); 9] = [
        ("0.10 mm", quantity::<Length>),
        ("15.5 deg", quantity::<Angle>),
        ("30 s", quantity::<Time>),
        ("6.25 m/min", quantity::<Speed>),
        ("280 m/min", quantity::<SurfaceSpeed>),
        ("0.008 in/rev", quantity::<FeedPerRev>),
        ("1500 mm/min", quantity::<FeedPerMinute>),
        ("-700e-1 rpm", quantity::<SpindleSpeed>),
        ("64 KiB", quantity::<Size>),
    ];
    let mut read = 0;
    let all = count(90_900);
    for i in 0..all {
        let (text, check) = kinds[i % kinds.len()];
        let bytes = spoil(text.as_bytes(), &mut Dice::new(i));
        read += usize::from(check(&String::from_utf8_lossy(&bytes)));
    }
    assert!(read * 50 > all && read < all, "{read} of {all} are read: these show nothing");
}

/// The demo's program with a pass of each kind, and few blocks of each pass: so more of them are spoilt in the same time.
fn program() -> String {
    let one_rough = |job: &mut Job| {
        if let Some(rough) = &mut job.schedule.rough {
            rough.passes = PassCount::Count(1);
        }
    };
    let demo = AtControl::make("a pass of each kind", one_rough);
    let mut since = 0;
    let kept = demo.parts[0].text.lines().filter(|line| {
        let cut = line.contains("G02") || line.contains("G03") || line.contains("G01");
        since = if cut { since + 1 } else { 0 };
        since <= 3
    });
    kept.fold(String::new(), |all, line| all + line + "\r\n")
}

#[test]
fn programs_are_read_and_run() {
    let job = demo::job();
    let text = program();
    for i in 0..count(40_000) {
        let dice = &mut Dice::new(i);
        // Half of them a few lines, which leave more of each other whole.
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        let from = dice.below(lines.len());
        let some = if i % 2 == 0 { lines[from..(from + 12).min(lines.len())].concat() } else { text.clone() };
        let spoilt = spoil(some.as_bytes(), dice);
        let simulation = simulate(&spoilt, &job);
        let time = simulation.skip_off.time.map_or(0.0, Time::as_s);
        assert!(time.is_finite() && time >= 0.0, "seed {i}: {time}");
        if i % 16 == 0 {
            let said = proof::explain(&simulation);
            assert!(!said.iter().any(|b| b.text.contains("NaN")), "seed {i}");
        }
    }
}

#[test]
fn bytes_are_read_as_a_program_and_stopped() {
    let job = demo::job();
    for i in 0..count(20_000) {
        let dice = &mut Dice::new(i);
        let bytes: Vec<u8> = (0..dice.below(300)).map(|_| dice.byte()).collect();
        let simulation = simulate(&bytes, &job);
        assert!(!simulation.findings.is_empty(), "seed {i}: nothing is said of {bytes:?}");
    }
}

#[test]
fn programs_are_proved() {
    let (job, face) = demo::job_and_face();
    let text = program();
    for i in 0..count(300) {
        let report = prove(&spoil(text.as_bytes(), &mut Dice::new(i)), job, face);
        let said = report.to_string();
        assert!(!said.contains("NaN") && !said.contains("inf "), "seed {i}: {said}");
        assert!(serde_json::to_string(&report).is_ok(), "seed {i}");
    }
}

#[test]
fn scans() {
    let measured = demo::job().measured;
    let whole = fs::read_to_string("demo-data/scan-000.csv").expect("there");
    let head: String = whole.split_inclusive('\n').take(60).collect();
    let commas = head.replace(',', ";").replace('.', ",");
    let blanks = head.replace(',', "\t");
    let mut read = 0;
    let all = count(42_000);
    for i in 0..all {
        let text = [&head, &commas, &blanks][i % 3];
        let spoilt = spoil(text.as_bytes(), &mut Dice::new(i));
        let file = Path::new("a.csv");
        if let Ok(scan) = reader::read(&spoilt, file, &measured) {
            read += 1;
            assert!(scan.points.len() >= 2, "seed {i}");
        }
        if i % 8 == 0 {
            let _ = reader::read_round(&spoilt, file, &measured);
            let _ = guess::guess(&spoilt, file);
        }
    }
    assert!(read * 20 > all && read < all, "{read} of {all} are read: these show nothing");
}

/// A job that is read and cleared gives a program that is sound, pages and pictures without a number that is none.
fn follow(path: &Path, seed: usize) {
    let Ok(loaded) = pipeline::load(path) else { return };
    let done = loaded.measure().and_then(|measured| {
        let surveyed = measured.survey()?;
        let picture = survey_picture::picture(surveyed.survey(), loaded.job());
        let json = surveyed.survey().json().expect("JSON");
        for text in [&picture, &json] {
            assert!(!text.contains("NaN") && !text.contains("inf\""), "seed {seed}");
        }
        surveyed.plan(Options::default())?.write()?.prove()
    });
    if let Err(fault @ PipelineError::Proof(_)) = done {
        panic!("seed {seed}: {fault}\n{}", fs::read_to_string(path).unwrap_or_default());
    }
}

#[test]
fn job_and_shop_files() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name);
    for name in ["scan-000.csv", "scan-120.csv", "scan-240.csv", "job.yaml", "shop.yaml"] {
        fs::copy(Path::new("demo-data").join(name), path(name)).expect("copied");
    }
    let files = ["job.yaml", "shop.yaml"].map(|name| fs::read(path(name)).expect("there"));
    let (mut read, mut followed) = (0, 0);
    let all = count(6000);
    for i in 0..all {
        let which = i % 2;
        let name = ["job.yaml", "shop.yaml"][which];
        fs::write(path(name), spoil(&files[which], &mut Dice::new(i))).expect("written");
        if job::load_all(&path("job.yaml")).is_ok() {
            read += 1;
            // A program takes a hundred times as long as the reading.
            if read % 20 == 0 {
                followed += 1;
                follow(&path("job.yaml"), i);
            }
        }
        fs::write(path(name), &files[which]).expect("written");
    }
    assert!(read * 50 > all && read < all && followed > 0, "{read} of {all} are read: these show nothing");
}

#[test]
fn touch_readings() {
    let plan: &Plan = &demo::at_controls()[0].plan;
    let ground = plan.operations[0].ground.as_ref().expect("a face");
    let at = [80.0, 110.0, 140.0, 170.0, 200.0];
    let points: Vec<_> = at.iter().filter_map(|&at| touch_check::point(ground, at, 0.01)).collect();
    assert!(points.len() > 3, "{points:?}");
    let tells = touch_check::Tells::All;
    let mut solved = 0;
    for i in 0..count(400) {
        let dice = &mut Dice::new(i);
        let heights: Vec<f64> = (points.iter())
            .map(|p| match dice.below(3) {
                0 => p.z,
                1 => p.z + (dice.below(2001) as f64 - 1000.0) * 0.001,
                _ => dice.of(NUMBERS).parse().ok().filter(|n: &f64| n.is_finite()).unwrap_or(p.z),
            })
            .collect();
        if let Ok(found) = touch_check::solve(ground, &points, &heights, tells) {
            solved += 1;
            assert!(found.z.value.is_finite() && found.z.error.is_finite(), "{heights:?}");
        }
    }
    assert!(solved > 0, "none of them is solved");
}

#[test]
fn ledgers() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("wheels.db");
    drop(Ledger::open_or_create(&path).expect("made"));
    let whole = fs::read(&path).expect("there");
    for i in 0..count(100) {
        fs::write(&path, spoil(&whole, &mut Dice::new(i))).expect("written");
        if let Ok(Some(ledger)) = Ledger::open(&path) {
            let _ = (ledger.check(), ledger.wheels(), ledger.export());
        }
    }
}
