//! The whole job at 10³ to 10⁶ trace points, stage by stage, beside a bare loop that reads and parses the same bytes;
//! then the memory it takes, and the demo from process start to proved file.
//!
//!     cargo bench --bench job
//!
//! Three lines of the demo's wheel, measured ever more closely, at the demo's shop and schedule. Each stage is timed alone on what
//! the stage before it left; of some runs the fastest counts, since everything that disturbs a run makes it longer.
//!
//! Every stage runs as in the product: the lines are read and cleaned side by side on all processors, as `scan::open_all` does
//! it, so *read* and *clean* are the time that passes, not the time that the processors spend. The bare loop runs on one of them.

#[allow(dead_code)]
#[path = "../fixtures/mod.rs"]
mod fixtures;

use divan::black_box;
use facewright::face::Face;
use facewright::geometry::Curve;
use facewright::job::{self, Job, passes};
use facewright::plan::pass_paths::PassPaths;
use facewright::plan::{Only, Options, plan};
use facewright::scan::{self, MeasuredLines, clean, reader};
use facewright::{gcode, proof, survey};
use rayon::prelude::*;
use std::fmt::Display;
use std::num::NonZero;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

#[global_allocator]
static MEMORY: peak_alloc::PeakAlloc = peak_alloc::PeakAlloc;

const LINES: usize = 3;

/// Points in all, and how often a stage is run.
const SIZES: [(usize, usize); 4] = [(1_000, 15), (10_000, 15), (100_000, 9), (1_000_000, 5)];

/// A point is two numbers of eight bytes.
const POINT: f64 = 16.0;

/// Process starts of the demo.
const STARTS: usize = 40;

fn main() {
    let job = sound(job::load(Path::new("demo-data/job.yaml")));
    let processors = thread::available_parallelism().map_or(1, NonZero::get);
    println!("whole job on {processors} processors, the bare loop on one; nanoseconds a point");
    println!(
        "| points | bare loop | read | clean | survey | plan | its paths | write | prove | all | all ms | ratio to the bare loop |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|");
    for (points, runs) in SIZES {
        stages(&job, points, runs);
    }
    println!();
    memory(&job);
    demo();
}

/// A row of the table.
fn stages(job: &Job, points: usize, runs: usize) {
    let texts = texts(points);
    let bare = fastest(runs, || texts.iter().map(|t| bare_loop(t)).sum::<usize>());
    let read = fastest(runs, || scans(job, &texts));
    let scans = scans(job, &texts);
    let cleaning = fastest(runs, || lines(job, &scans));
    let lines = lines(job, &scans);
    let survey = fastest(runs, || survey::survey(job, &lines).is_ok());
    let surveyed = sound(survey::survey(job, &lines));
    let face = surveyed.face();
    let planning = fastest(runs, || plan(job, face, Options::default()).is_ok());
    let paths = fastest(runs, || exact_paths(job, face));
    let plan = sound(plan(job, face, Options::default()));
    let write = fastest(runs, || gcode::write(job, &plan).is_ok());
    let parts = sound(gcode::write(job, &plan));
    let prove = fastest(runs, || {
        parts.iter().map(|p| proof::prove(p.text.as_bytes(), job, face).movements).sum::<usize>()
    });
    let all = read + cleaning + survey + planning + write + prove;
    let each = |time: Duration| format!("{:.1}", time.as_secs_f64() * 1e9 / points as f64);
    let row = [bare, read, cleaning, survey, planning, paths, write, prove, all].map(each).join(" | ");
    println!(
        "| {points} | {row} | {:.1} | {:.1} |",
        all.as_secs_f64() * 1e3,
        all.as_secs_f64() / bare.as_secs_f64()
    );
}

fn sound<T, E: Display>(result: Result<T, E>) -> T {
    result.unwrap_or_else(|fault| panic!("{fault}"))
}

fn fastest<T>(runs: usize, run: impl Fn() -> T) -> Duration {
    let one = || {
        let start = Instant::now();
        black_box(run());
        start.elapsed()
    };
    (0..runs).map(|_| one()).min().unwrap_or_default()
}

fn texts(points: usize) -> Vec<String> {
    let wheel = fixtures::wheel::demo_wheel();
    let step = 156.5 * LINES as f64 / points as f64;
    let line = |i: usize| {
        let how = fixtures::wheel::Measurement {
            from: 62.0,
            to: 218.5,
            step: [step, step],
            noise: 0.01,
            ball: 0.0,
            seed: i as u64,
        };
        fixtures::wheel::csv(&["bench"], &how.of(&wheel, (120.0 * i as f64).to_radians()))
    };
    (0..LINES).map(line).collect()
}

/// The least that reading can cost: two fast numbers a line, nothing checked, the same points kept.
fn bare_loop(text: &str) -> usize {
    let header = text.lines().take(2).map(|l| l.len() + 1).sum();
    let mut rest = text.as_bytes().get(header..).unwrap_or_default();
    let mut points: Vec<(f64, f64)> = Vec::with_capacity(rest.len() / 16);
    while !rest.is_empty() {
        let Ok((x, n)) = fast_float2::parse_partial::<f64, _>(rest) else { break };
        rest = &rest[n + 1..];
        let Ok((z, n)) = fast_float2::parse_partial::<f64, _>(rest) else { break };
        rest = &rest[n + 1..];
        points.push((x, z));
    }
    black_box(points).len()
}

fn scans(job: &Job, texts: &[String]) -> Vec<reader::Scan> {
    let read = |text: &String| reader::read(text.as_bytes(), Path::new("bench.csv"), &job.measured);
    texts.par_iter().map(|t| sound(read(t))).collect()
}

fn lines(job: &Job, scans: &[reader::Scan]) -> MeasuredLines {
    let pairs: Vec<_> = scans.iter().zip(&job.measured.lines).collect();
    let lines = pairs.par_iter().map(|(s, l)| clean(s, l.at.as_rad())).collect();
    MeasuredLines { lines, ..MeasuredLines::default() }
}

/// The paths of all passes before they are fitted: what planning is without the fit, but for a few sums.
fn exact_paths(job: &Job, face: &Face) -> Vec<Curve> {
    let need = face.need(&job.zones);
    let passes = passes::lay_out(
        &job.schedule,
        job.control.resolution,
        need.depth,
        Options::default().already,
        Only::All,
    );
    let (follows, passes) = (Curve::from(face.follows()), sound(passes));
    let mut paths = sound(PassPaths::new(job, &follows, &passes, Options::default().already, None));
    let tools = std::iter::from_fn(|| sound(paths.next_tool()));
    tools.flat_map(|tool| tool.passes).map(|pass| pass.path).collect()
}

/// The most memory that the job holds at once beyond what it began with: from the files to the proof.
fn memory(job: &Job) {
    let folder = sound(tempfile::tempdir());
    println!("most memory held at once");
    println!("| points | bytes of the points | at most held | ratio |");
    println!("|---|---|---|---|");
    for (points, _) in SIZES {
        let mut job = job.clone();
        for ((i, line), text) in job.measured.lines.iter_mut().enumerate().zip(texts(points)) {
            line.file = folder.path().join(format!("scan-{i}.csv"));
            sound(std::fs::write(&line.file, text));
        }
        let before = MEMORY.current_usage();
        MEMORY.reset_peak_usage();
        black_box(run(&job));
        let held = MEMORY.peak_usage() - before;
        let size = POINT * points as f64;
        println!("| {points} | {size:.0} | {held} | {:.2} |", held as f64 / size);
    }
    println!();
}

/// The whole job, as the command line runs it.
fn run(job: &Job) -> usize {
    let lines = sound(scan::open_all(&job.measured));
    let surveyed = sound(survey::survey(job, &lines));
    let face = surveyed.face();
    let plan = sound(plan(job, face, Options::default()));
    let parts = sound(gcode::write(job, &plan));
    parts.iter().map(|p| proof::prove(p.text.as_bytes(), job, face).movements).sum()
}

/// The demo as a person runs it: from process start to the proved file under its name.
fn demo() {
    let folder = sound(tempfile::tempdir());
    let file = folder.path().join("demo.nc");
    let start = || {
        let begun = Instant::now();
        let status = Command::new(env!("CARGO_BIN_EXE_facewright"))
            .args(["write", "demo-data/job.yaml", "-o"])
            .arg(&file)
            .stdout(Stdio::null())
            .status();
        assert!(sound(status).success(), "the demo's program is refused");
        begun.elapsed()
    };
    let mut times: Vec<Duration> = (0..STARTS).map(|_| start()).collect();
    times.sort();
    let ms = |share: usize| times.get(STARTS * share / 100).map_or(0.0, |t| t.as_secs_f64() * 1e3);
    println!(
        "demo, from process start to proved file, {STARTS} starts: fastest {:.1} ms, median {:.1} ms, nine of ten under {:.1} ms",
        ms(0),
        ms(50),
        ms(90)
    );
}
