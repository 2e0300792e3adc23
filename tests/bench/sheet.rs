//! How long the page takes to build, once survey, plan and proof are done: the demo's page must take less than 100 ms.
//!
//!     cargo bench --bench sheet

use divan::{Bencher, black_box};
use facewright::gcode;
use facewright::job::{self, Job};
use facewright::plan::{Options, Plan, plan};
use facewright::proof::{Circumstances, ReadBack, read_back};
use facewright::report::sheet::{Origin, Program, Sheet, page};
use facewright::scan;
use facewright::survey::{Survey, survey};
use facewright::units::Length;
use std::path::Path;

fn main() {
    divan::main();
}

fn demo() -> (Job, Survey) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/job.yaml");
    let job = job::load(&path).expect("the demo's job");
    let traces = scan::open_all(&job.measured).expect("the demo's scans");
    let survey = survey(&job, &traces).expect("the demo's face");
    (job, survey)
}

fn planned(job: &Job, survey: &Survey) -> (Plan, Vec<Program>) {
    let plan = plan(job, survey.face(), Options::default()).expect("the demo's plan");
    let parts = gcode::write(job, &plan).expect("the demo's program");
    let programs = parts
        .into_iter()
        .map(|part| {
            let ReadBack { simulation, report } =
                read_back(part.text.as_bytes(), job, survey.face(), &Circumstances::default());
            Program { name: "the program".to_owned(), passes: Vec::new(), simulation, report }
        })
        .collect();
    (plan, programs)
}

#[divan::bench]
fn page_of_the_demo(bencher: Bencher<'_, '_>) {
    let (job, survey) = demo();
    let (plan, programs) = planned(&job, &survey);
    let sheet = Sheet {
        job: &job,
        survey: Ok(&survey),
        plan: Ok(&plan),
        already: Length::mm(0.0),
        touch_offs: Vec::new(),
        origin: Origin::Written,
        programs,
    };
    bencher.bench(|| page(black_box(&sheet)));
}
