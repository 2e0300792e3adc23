//! Which face is cut: the one that takes least off the whole face without taking more where most comes off. Faces are formulas, so what must
//! come out is reckoned by hand.

use super::lines::{even, job, surveyed};
use facewright::face::touch;
use facewright::job::{Damage, DamageKind, Job};
use facewright::plan::{self, Motion, Options, PassKind, Plan};
use facewright::proof::{self, Circumstances};
use facewright::survey::{Place, Survey};
use facewright::units::Length;

/// Highest less lowest place of the turn at 216 mm, which grows with the radius.
const TILT: f64 = 0.16;

/// Depth of the damage.
const DAMAGE: f64 = 0.30;

fn tilted(r: f64, angle: f64) -> f64 {
    TILT / 2.0 * r / 216.0 * angle.cos()
}

/// A wheel that is mounted with a tilt, with damage listed between two radii, at an angle that nobody knows.
fn damaged(from: f64, to: f64) -> (Job, Survey) {
    let mut job = job();
    job.damage = vec![Damage {
        from: Length::mm(from),
        to: Length::mm(to),
        depth: Length::mm(DAMAGE),
        kind: DamageKind::Scrape,
        sector: None,
    }];
    let survey = surveyed(&job, &even(5), tilted);
    (job, survey)
}

/// Damage at the rim, where the wheel runs out most: the lowest costs the same there, and less everywhere else.
#[test]
fn damage_at_the_rim_is_cut_along_the_lowest_place() {
    let (job, survey) = damaged(207.0, 215.5);
    let along = survey.depth.along;
    assert_eq!(along.cut, Place::Lowest);
    let most = TILT + DAMAGE;
    assert!((along.highest.most_mm - most).abs() < 0.003, "{along:?}");
    assert!((survey.depth.clean_up_mm - along.lowest.most_mm).abs() < 1e-9, "{along:?}");
    // As mounted it runs out as much as before, whatever is cut.
    let run_out = survey.run_out.as_ref().map_or(0.0, |r| r.as_mounted_mm);
    assert!((run_out - TILT).abs() < 0.002, "{run_out}");
    let face = survey.face();
    for p in face.highest.points() {
        assert!(face.follows().at(p.x) >= p.z - 1e-12, "nothing stands above what is followed: {}", p.x);
        let zone = job.zones[0];
        if zone.from.as_mm() < p.x && p.x < zone.to.as_mm() {
            // By hand: parallel to the lowest place, and as high as the highest where the wheel runs out most.
            let followed = -TILT / 2.0 * p.x / 216.0 + TILT;
            assert!((face.follows().at(p.x) - followed).abs() < 0.002, "{}", p.x);
        }
    }
}

/// A program that goes on follows what the first one followed, whatever would cost least now: the job names it.
#[test]
fn the_job_may_name_the_place() {
    for (at, asked) in [(207.0, Place::Highest), (207.0, Place::Middle), (80.0, Place::Lowest)] {
        let (mut job, chosen) = damaged(at, at + 8.0);
        job.cut_along = Some(asked);
        let survey = surveyed(&job, &even(5), tilted);
        assert_ne!(chosen.depth.along.cut, asked);
        assert_eq!(survey.depth.along.cut, asked);
        assert_eq!(survey.depth.along.lowest, chosen.depth.along.lowest);
        let kept = survey.face().follows() == &survey.face().highest;
        assert_eq!(kept, asked == Place::Highest);
    }
    // One line does not show the turn: then it is told that only the highest can be followed.
    let (mut job, _) = damaged(207.0, 215.0);
    job.cut_along = Some(Place::Lowest);
    let survey = surveyed(&job, &even(1), tilted);
    assert_eq!(survey.depth.along.cut, Place::Highest);
    let told = survey.which_face().unwrap_or_default();
    assert!(told.contains("The job asks for the lowest"), "{told}");
}

/// Damage far in: along the lowest the whole run-out of the rim would come off there too.
#[test]
fn damage_far_in_is_cut_along_the_highest_place() {
    let (_, survey) = damaged(80.0, 88.0);
    let along = survey.depth.along;
    assert!(
        along.lowest.mean_mm < along.highest.mean_mm + 0.1
            && along.lowest.most_mm > along.highest.most_mm + 0.05
    );
    assert_eq!(along.cut, Place::Highest);
    assert_eq!(survey.face().follows(), &survey.face().highest);
}

fn motions(plan: &Plan) -> impl Iterator<Item = (&plan::Operation, &plan::Pass, &Motion)> {
    let passes = plan.operations.iter().flat_map(|o| o.passes.iter().map(move |p| (o, p)));
    passes.flat_map(|(o, p)| p.motions.iter().map(move |m| (o, p, m)))
}

/// No pass bites deeper than its depth into the highest place, the air pass clears it, and a tool is touched off where it meets it: by a
/// search over every point of the highest place.
#[test]
fn no_pass_is_deeper_than_its_depth_at_the_highest_place() {
    let (job, survey) = damaged(207.0, 215.5);
    let face = survey.cleared().unwrap_or_else(|e| panic!("{e}"));
    let plan = plan::plan(&job, face, Options::default()).unwrap_or_else(|e| panic!("{e}"));
    let points = face.highest.points();
    let reaches = |o: &plan::Operation, m: &Motion| {
        let (under, at) = (o.tool.outline().heights(), m.piece.to());
        points.iter().map(|p| p.z - (at.z + under(p.x - at.x))).fold(f64::NEG_INFINITY, f64::max)
    };
    let first = &plan.operations[0];
    let deepest = motions(&plan).map(|(o, p, m)| (reaches(o, m), p)).fold(0.0_f64, |most, (depth, pass)| {
        let limit = if pass.kind == PassKind::Air { 0.0 } else { pass.total.as_mm() };
        assert!(depth < limit + 1e-6, "{:?} {} reaches {depth} below", pass.kind, pass.number);
        most.max(depth)
    });
    assert!(
        (deepest - plan.removed.as_mm()).abs() < 0.01,
        "where it runs out most all of it comes off: {deepest}"
    );
    let touched = touch(&face.highest, &first.tool.outline(), first.touch_off.at.as_mm());
    assert!((first.touch_off.z.as_mm() - touched.z).abs() < 1e-6, "{:?} and {touched:?}", first.touch_off);
    // Far in the highest place keeps what the rim runs out more.
    let r = 80.0;
    let runs_out = |r: f64| TILT * r / 216.0;
    let cut = face.follows().at(r) - plan.removed.as_mm();
    let comes_off = face.highest.at(r) - cut;
    assert!((plan.removed.as_mm() - comes_off - (TILT - runs_out(r))).abs() < 0.003, "{comes_off}");
    let parts = facewright::gcode::write(&job, &plan).unwrap_or_else(|e| panic!("{e}"));
    let proved = proof::read_back(parts[0].text.as_bytes(), &job, face, &Circumstances::default());
    assert_eq!(proved.report.verdict, proof::Verdict::Sound, "{:?}", proved.report.findings());
}
