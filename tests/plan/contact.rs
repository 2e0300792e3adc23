//! What passes touch, against the true turn of known wheels.

use crate::fixtures::demo;
use crate::fixtures::known::{Known, ZONE, job_over, surveyed};
use facewright::face::Face;
use facewright::job::TurnPlace;
use facewright::plan::contact::Turns;
use facewright::plan::{self, Motion, Options, Pass, PassKind, Role};
use facewright::units::Length;

const WHEELS: u64 = 60;
const DEPTHS: [f64; 3] = [0.05, 0.1, 0.2];

/// A place of the turn: a share of the run-out below the highest.
const PLACES: [(TurnPlace, f64); 3] =
    [(TurnPlace::Highest, 0.0), (TurnPlace::Middle, 0.5), (TurnPlace::Lowest, 1.0)];

/// The turn at every millimetre of the zone: the true surface at 720 places.
fn true_turns(wheel: &Known) -> Vec<(f64, Vec<f64>)> {
    let radii = (0..=146).map(|i| ZONE[0] + f64::from(i));
    radii.map(|r| (r, wheel.turn(r, 720).collect())).collect()
}

/// Share of the area of the zone over which the true surface stands above what a pass leaves. Passes follow a place of the turn, raised until
/// nothing of the highest stands above it, and each leaves its depth below that.
fn true_share(turns: &[(f64, Vec<f64>)], place: f64, depth: f64) -> f64 {
    let span = |heights: &[f64]| {
        heights.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), z| (a.min(*z), b.max(*z)))
    };
    let below = |heights: &[f64]| place * (span(heights).1 - span(heights).0);
    let raised = turns.iter().map(|(_, heights)| below(heights)).fold(0.0, f64::max);
    let (touched, all) = turns.iter().fold((0.0, 0.0), |(touched, all), (r, heights)| {
        let left = span(heights).1 - below(heights) + raised - depth;
        let above = heights.iter().filter(|z| **z > left).count();
        (touched + r * above as f64 / 720.0, all + r)
    });
    touched / all
}

/// The share told is that of the true wheel, whatever place of the turn is followed, as well as the survey knows the turn: between the
/// shares of a tool higher and lower by twice that (a share compares two places of the turn), and a hundredth of the area for the looking.
#[test]
fn the_share_in_contact_is_that_of_the_true_wheel() {
    let job = job_over(ZONE[0], ZONE[1]);
    let mut told = PLACES.map(|_| (0, 0, Vec::new()));
    for seed in 0..WHEELS {
        let known = Known::of(70_000 + seed);
        let true_turns = true_turns(&known);
        let survey = surveyed(&job, known.lines());
        let unsure = 2.0 * survey.model().turn_at(ZONE[1]).uncertainty;
        for ((place, share_of_run_out), (told, within, off)) in PLACES.iter().zip(&mut told) {
            let highest = Face { followed: None, ..survey.face().clone() };
            let face = highest.cut_along(place.share(), &job.zones).expect("the same radii");
            let Some(turns) = Turns::new(&job, survey.model(), &face) else { continue };
            for depth in DEPTHS {
                let left = |r: f64| Some(face.follows().at(r) - depth);
                let contact = turns.contact(1, left).expect("a zone");
                let truth = true_share(&true_turns, *share_of_run_out, depth);
                *told += 1;
                let bounds = [contact.share_if(unsure) - 0.01, contact.share_if(-unsure) + 0.01];
                *within += usize::from(bounds[0] <= truth && truth <= bounds[1]);
                off.push((contact.share - truth).abs());
                assert_eq!(contact.is_unbroken(), contact.at.iter().all(|(_, s)| *s > 0.998), "{contact:?}");
                let touched = |r: f64| contact.touched.iter().any(|[a, b]| a.as_mm() <= r && r <= b.as_mm());
                assert!(
                    contact.at.iter().all(|(r, s)| touched(r.as_mm()) == (*s > 0.001)),
                    "{place:?}, seed {seed}: {:?}",
                    contact.touched
                );
            }
        }
    }
    for ((place, _), (told, within, off)) in PLACES.iter().zip(&mut told) {
        off.sort_by(f64::total_cmp);
        let at = |share: usize| off[(*told * share / 10).min(*told - 1)];
        println!(
            "{place:?}: {told} shares, {within} within what the survey knows; off by {:.3} in the middle, {:.3} at nine tenths, {:.3} at most",
            at(5),
            at(9),
            at(10)
        );
        assert!(*told >= 120, "{told} shares told");
        assert!(*within * 100 >= *told * 95, "{place:?}: {within} of {told} within");
        assert!(at(5) < 0.02, "{place:?}: {}", at(5));
    }
}

/// What a pass touches is reckoned from its path as it is written, which stands above the ideal one by what the fit gives away: at each
/// radius the surface left is the lowest that the nose's circle reaches from places along the cut, close together.
#[test]
fn contact_is_that_of_the_path_as_written() {
    let (demo, survey) = demo::surveyed();
    let mut job = demo.clone();
    job.schedule.tolerance = Length::mm(0.03);
    let mut plan = plan::plan(&job, survey.face(), Options::default()).expect("a plan");
    plan.look_ahead(&job, survey.model(), survey.face());
    let turns = Turns::new(&job, survey.model(), survey.face()).expect("three lines");
    let mut above = 0;
    for operation in &plan.operations {
        let nose = operation.tool.nose_radius.as_mm();
        let takes = |p: &&Pass| matches!(p.kind, PassKind::Rough | PassKind::Finish);
        for pass in operation.passes.iter().filter(takes) {
            let told = pass.contact.as_ref().expect("the turn is known");
            let places = places(&pass.motions);
            let nose_reaches = |r: f64| {
                let below = places.iter().filter(|(x, _)| (x - r).abs() < nose);
                let heights = below.map(|(x, z)| z + nose - (nose * nose - (r - x).powi(2)).sqrt());
                heights.fold(f64::INFINITY, f64::min)
            };
            let [first, .., last] = told.at.as_slice() else { panic!("some radii") };
            let inside = |r: f64| first.0.as_mm() <= r && r <= last.0.as_mm();
            let anew =
                turns.contact(told.number, |r| inside(r).then(|| nose_reaches(r))).expect("some radii");
            assert_eq!(anew.at.len(), told.at.len());
            assert!((anew.share - told.share).abs() < 2e-3, "{} against {}", anew.share, told.share);
            let ideal = |r: f64| inside(r).then(|| survey.face().follows().at(r) - pass.total.as_mm());
            let ideal = turns.contact(told.number, ideal).expect("some radii");
            assert!(told.share < ideal.share + 1e-6, "{} above {}", told.share, ideal.share);
            above += usize::from(told.share < ideal.share - 0.02);
        }
    }
    assert!(above > 0, "the tolerance is seen");
}

/// Front points along the cuts of a pass, a fiftieth of a millimetre apart.
fn places(motions: &[Motion]) -> Vec<(f64, f64)> {
    let cuts = motions.iter().filter(|m| m.role == Role::Cut);
    cuts.flat_map(|m| {
        let (from, to) = (m.piece.from().x, m.piece.to().x);
        let count = ((to - from).abs() / 0.02).ceil().max(1.0);
        let mut all = Vec::new();
        let mut k = 0.0;
        while k <= count {
            let x = from + (to - from) * k / count;
            all.push((x, m.piece.at(x)));
            k += 1.0;
        }
        all
    })
    .collect()
}
