//! A tool with a holder behind short edges: the holder takes no metal, in whatever pass.

use super::narrow::told;
use crate::fixtures::demo;
use facewright::diagnostics::{Finding, SweepRule};
use facewright::job::{Job, Only, Step, Tyre};
use facewright::plan::{Options, plan};
use facewright::proof::Rank;
use facewright::units::Length;

fn demo_with(edge: f64, holder: [f64; 2], step: Step) -> Job {
    let (demo, _) = demo::job_and_face();
    let mut job = demo.clone();
    job.wheel.tyre = Tyre::Removed;
    job.keep_out.clear();
    job.schedule.step = step;
    for tool in &mut job.tools {
        tool.edge_length = Length::mm(edge);
        tool.holder = Some(holder.map(Length::mm));
    }
    job
}

#[test]
fn no_holder_is_led_into_the_metal() {
    let (_, face) = demo::job_and_face();
    let (mut sound, mut lifted) = (0, 0);
    for (edge, holder) in [(2.0, [10.0, 20.0]), (3.0, [25.0, 25.0]), (1.0, [6.0, 6.0]), (1.5, [40.0, 3.0])] {
        for (step, already, only) in [
            (Step::Axial, 0.0, Only::All),
            (Step::Normal, 0.0, Only::All),
            (Step::Axial, 0.2, Only::All),
            (Step::Axial, 0.3, Only::Finish),
        ] {
            let job = demo_with(edge, holder, step);
            let options = Options { already: Length::mm(already), only, ..Options::default() };
            let named = format!("edges of {edge} mm, holder {holder:?}, {step:?}, {already} mm gone");
            let planned = plan(&job, face, options);
            let Ok(planned) = planned else {
                println!("{named}: {}", planned.err().map_or(String::new(), |e| e.to_string()));
                continue;
            };
            let told = told(&job, face, options);
            let stops: Vec<&Finding> = told.iter().filter(|f| f.rank == Rank::Stop).collect();
            assert!(stops.is_empty(), "{named}: {stops:?}");
            let holder_touches = |f: &&Finding| f.rule == SweepRule::HolderTouches.into();
            assert_eq!(told.iter().filter(holder_touches).count(), 0, "{named}");
            sound += 1;
            println!("{named}: rest {}", planned.rest.amount);
            lifted += usize::from(planned.rest.amount > Length::mm(0.1));
        }
    }
    // Not for want of cases: most are planned, and in some the holder keeps the nose off.
    assert!(sound >= 10 && lifted >= 1, "{sound} sound, {lifted} lifted");
}
