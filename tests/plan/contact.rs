//! What passes touch, against the true turn of known wheels.

use crate::fixtures::known::{Known, ZONE, job_over, surveyed};
use facewright::face::Face;
use facewright::plan::contact::Turns;
use facewright::units::Length;
use std::f64::consts::TAU;

const WHEELS: u64 = 60;
const DEPTHS: [f64; 3] = [0.05, 0.1, 0.2];

/// Share of the area of the zone over which the true surface stands above a depth below its highest place.
fn true_share(wheel: &Known, depth: f64) -> f64 {
    let radii = (0..=146).map(|i| ZONE[0] + f64::from(i));
    let (touched, all) = radii.fold((0.0, 0.0), |(touched, all), r| {
        let heights: Vec<f64> = (0..720).map(|i| wheel.sound(r, f64::from(i) / 720.0 * TAU)).collect();
        let highest = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let above = heights.iter().filter(|z| **z > highest - depth).count();
        (touched + r * above as f64 / 720.0, all + r)
    });
    touched / all
}

/// The share told is that of the true wheel, as well as the survey knows the turn: between the shares of a tool higher and lower by
/// twice that (a share compares two places of the turn), and a hundredth of the area for the looking.
#[test]
fn the_share_in_contact_is_that_of_the_true_wheel() {
    let job = job_over(ZONE[0], ZONE[1]);
    let (mut told, mut within, mut off) = (0, 0, Vec::new());
    for seed in 0..WHEELS {
        let known = Known::of(70_000 + seed);
        let survey = surveyed(&job, known.lines());
        // Depths are counted from the highest place here, whatever the passes of this wheel would follow.
        let face = Face { followed: None, ..survey.face().clone() };
        let Some(turns) = Turns::new(&job, survey.model(), &face) else { continue };
        let unsure = 2.0 * survey.model().turn_at(ZONE[1]).uncertainty;
        for depth in DEPTHS {
            let contact = turns.contact(1, Length::mm(depth), &job.zones).expect("a zone");
            let truth = true_share(&known, depth);
            told += 1;
            let bounds = [contact.share_if(unsure) - 0.01, contact.share_if(-unsure) + 0.01];
            within += usize::from(bounds[0] <= truth && truth <= bounds[1]);
            off.push((contact.share - truth).abs());
            assert_eq!(contact.is_unbroken(), contact.at.iter().all(|(_, s)| *s > 0.998), "{contact:?}");
        }
    }
    off.sort_by(f64::total_cmp);
    println!(
        "{told} shares, {within} within what the survey knows; off by {:.3} in the middle, {:.3} at nine tenths, {:.3} at most",
        off[told / 2],
        off[told * 9 / 10],
        off[told - 1]
    );
    assert!(told >= 120, "{told} shares told");
    assert!(within * 100 >= told * 95, "{within} of {told} within");
    assert!(off[told / 2] < 0.02, "{}", off[told / 2]);
}
