//! What the last pass leaves to be seen: grooves, the finest texture of an edge, waviness, speeds that change where a person says.

use crate::fixtures::face::profile;
use crate::fixtures::{controls, demo};
use facewright::face::Face;
use facewright::geometry::Piece;
use facewright::job::{self, Direction, Feed, Job, UnitWord, Zone};
use facewright::numeric::waviness::{Noise, RINGS};
use facewright::plan::{Motion, Options, Pass, Plan, Role, plan};
use facewright::units::{FeedPerRev, Length};

fn planned(change: impl FnOnce(&mut Job)) -> (Job, Plan) {
    with(Options::default(), change)
}

fn with(options: Options, change: impl FnOnce(&mut Job)) -> (Job, Plan) {
    let (job, face) = demo::job_and_face();
    let mut job = job.clone();
    change(&mut job);
    let plan = plan(&job, face, options).unwrap_or_else(|refusal| panic!("{refusal}"));
    (job, plan)
}

fn finish(job: &mut Job) -> &mut job::FinishPass {
    job.schedule.finish.as_mut().expect("the demo has a finish")
}

fn last(plan: &Plan) -> &Pass {
    plan.operations.last().and_then(|o| o.passes.last()).expect("a plan has passes")
}

fn found<'p>(plan: &'p Plan, id: &str) -> Option<&'p facewright::diagnostics::Finding> {
    plan.findings.iter().find(|f| f.rule.id() == id)
}

/// One groove is one turn: the feed is the pitch, whatever the nose, and whether the spindle limit holds or the surface speed.
#[test]
fn grooves_are_as_far_apart_as_asked() {
    for limit in [650.0, 200.0] {
        let (_, plan) = planned(|job| {
            job.wheel.speed_limit = facewright::units::SpindleSpeed::rpm(limit);
            finish(job).feed = Feed::Grooves(Length::mm(0.12));
        });
        assert!((last(&plan).feed.as_mm_per_rev() - 0.12).abs() < 1e-12);
    }
    // 7 grooves in 1 mm are 0.142857 mm apart: 0.1429 mm is the nearest word, 0.1428 mm the next below; in inches 0.00562 in.
    let seven = Feed::Grooves(Length::mm(1.0 / 7.0));
    let (_, plan) = planned(|job| finish(job).feed = seven);
    assert!((last(&plan).feed.as_mm_per_rev() - 0.1429).abs() < 1e-9);
    let feed = facewright::plan::texture::feed_of(seven, Length::mm(0.8), UnitWord::G20);
    assert!((feed.expect("a feed").as_mm_per_rev() - 0.005_62 * 25.4).abs() < 1e-9);
}

/// Rz goes no lower than 0.02 of the edge's rounding: Childs and others, Surface finishes from turning and facing with round
/// nosed tools, CIRP Annals 57 (2008), abstract.
#[test]
fn a_texture_finer_than_the_edge_is_told_with_its_time() {
    let rz = |um: f64| Feed::Rz(Length::mm(um / 1000.0));
    let (_, plan) = planned(|job| finish(job).feed = rz(0.05));
    let told = found(&plan, "texture-too-fine").expect("an edge of 10 um leaves no Rz under 0.2 um");
    assert!((told.limit_mm().unwrap_or_default() - 0.0002).abs() < 1e-12, "{}", told.what);
    // By f²/(8·r) Rz 0.05 um takes a feed of 0.01789 mm, which the next word below names as 0.017, and Rz 0.2 um one of 0.03578.
    let minutes: Vec<f64> =
        told.what.split(" in ").skip(1).filter_map(|t| t.split(' ').next()?.parse().ok()).collect();
    let took = last(&plan).figures.feed_time.as_s() / 60.0;
    assert!((took / minutes[0] - 0.035_78 / 0.017).abs() < 0.02, "{took} min, {}", told.what);
    for (um, edge) in [(0.25, 0.010), (0.05, 0.002)] {
        let (_, plan) = planned(|job| {
            finish(job).feed = rz(um);
            job.tools[1].cutting_edge_radius = Length::mm(edge);
        });
        assert!(found(&plan, "texture-too-fine").is_none(), "{um} um with an edge of {edge} mm");
    }
}

/// The path's own waviness lies within its tolerance, and that of the readings joins it as squares; a limit is judged by both.
#[test]
fn waviness_is_told_and_limited() {
    let noise = Noise { sigma: 0.010, spacing: 0.04, half_width: 2.0, length: 145.0 };
    let options = Options { noise: Some(noise), ..Options::default() };
    let (job, plan) = with(options, |job| job.schedule.waviness = Some(Length::mm(0.003)));
    let waviness = plan.finished.waviness;
    assert!(waviness.path.as_mm() > 0.0 && waviness.path <= job.schedule.tolerance * 2.0, "{waviness:?}");
    let both = waviness.path.as_mm().hypot(RINGS.expected(&noise));
    assert!((waviness.expected().as_mm() - both).abs() < 1e-12);
    let told = found(&plan, "waviness").expect("6.8 um come from the readings alone");
    assert!(told.remedy.contains("more lines"), "{}", told.remedy);
    let (_, plan) = with(options, |job| job.schedule.waviness = Some(Length::mm(0.030)));
    assert!(found(&plan, "waviness").is_none());
    let (_, plan) = planned(|job| job.schedule.waviness = Some(Length::mm(0.000_1)));
    let told = found(&plan, "waviness").expect("no path is so even");
    assert!(told.remedy.contains("tolerance"), "{}", told.remedy);
}

/// A finer tolerance makes a more even path.
#[test]
fn waviness_of_the_path_falls_with_the_tolerance() {
    let path = |mm: f64| {
        let (_, plan) = planned(|job| job.schedule.tolerance = Length::mm(mm));
        plan.finished.waviness.path.as_mm()
    };
    let (fine, coarse) = (path(0.002), path(0.010));
    assert!(fine < coarse, "{fine} for a tolerance of 2 um, {coarse} for 10 um");
}

/// Speeds change at the radii named and nowhere else, or else within 5 %; they are nowhere above what the radius allows, and the path stays as it is.
#[test]
fn speeds_change_where_a_person_says() {
    let stepped = |job: &mut Job| {
        job.control.surface_speed = false;
        job.control.spindle_limit_word = job::SpindleLimitWord::None;
    };
    let radii = [96.0, 140.0];
    for direction in [Direction::Outward, Direction::Inward] {
        let (job, few) = planned(|job| {
            stepped(job);
            job.schedule.direction = direction;
            finish(job).speed_changes = radii.map(Length::mm).into();
        });
        let (_, many) = planned(|job| {
            stepped(job);
            job.schedule.direction = direction;
        });
        assert!(many.finished.speeds.len() > 15, "{}", many.finished.speeds.len());
        for motion in last(&many).motions.iter().filter(|m| m.role == Role::Cut) {
            let [inner, outer] = span(&motion.piece).map(|x| last(&many).allowed_at(x).as_rpm());
            let rpm = motion.speed.expect("a stepped speed").as_rpm();
            assert!(0.95 * inner <= rpm && rpm <= outer + 1e-9, "{rpm} where {outer} to {inner} are allowed");
        }
        let mut changes: Vec<f64> = few.finished.speeds.iter().skip(1).map(|s| s.from.as_mm()).collect();
        changes.sort_by(f64::total_cmp);
        let grid = job.control.grid(&job.tools[1]);
        assert_eq!(changes.len(), 2);
        assert!(changes.iter().zip(radii).all(|(a, b)| (a - b).abs() <= grid.dx), "{changes:?}");
        let pass = last(&few);
        for motion in pass.motions.iter().filter(|m| m.role != Role::Rapid) {
            let outer = motion.piece.from().x.max(motion.piece.to().x);
            let speed = motion.speed.expect("a stepped speed");
            assert!(speed.as_rpm() <= pass.allowed_at(outer).as_rpm() + 1e-9);
        }
        let parts = facewright::gcode::write(&job, &few).expect("a program");
        for part in &parts {
            let earlier = facewright::proof::Circumstances {
                already: part.before,
                goes_on: part.part < part.of,
                ..facewright::proof::Circumstances::default()
            };
            let report =
                facewright::proof::prove_in(part.text.as_bytes(), &job, &demo::job_and_face().1, &earlier);
            assert_ne!(report.verdict, facewright::proof::Verdict::Stop, "{report}");
        }
    }
}

/// Words so coarse that a step is most of the tolerance leave few places for a change of speed; it is made at one of them.
#[test]
fn coarse_words_leave_places_for_a_change_of_speed() {
    for direction in [Direction::Outward, Direction::Inward] {
        let (job, plan) = planned(|job| {
            job.control.surface_speed = false;
            job.control.spindle_limit_word = job::SpindleLimitWord::None;
            job.control.resolution = Length::mm(0.01);
            job.control.arc_tolerance = Length::mm(0.02);
            job.schedule.tolerance = Length::mm(0.013);
            job.schedule.direction = direction;
        });
        assert!(plan.finished.speeds.len() > 10, "{}", plan.finished.speeds.len());
        facewright::gcode::write(&job, &plan).expect("a program");
    }
}

/// A corner of the finish is shown by readings that leave no doubt of it, or by a zone's end. The demo's face has none within its zones.
#[test]
fn every_corner_has_its_evidence() {
    use facewright::plan::corners::Evidence;
    let zone = |from, to| Zone { from: Length::mm(from), to: Length::mm(to) };
    let (demo, measured) = demo::job_and_face();
    // A notch that no nose of the demo gets to the bottom of, in a level face known as well as the demo's.
    let points = [(60.0, 0.0), (119.0, 0.0), (120.0, -0.4), (121.0, 0.0), (220.0, 0.0)];
    let notched =
        Face { highest: profile(&points), lowest: profile(&points), followed: None, ..measured.clone() };
    let mut shown = 0;
    for (face, zones) in [
        (measured, vec![zone(70.0, 216.0)]),
        (measured, vec![zone(72.0, 120.0), zone(128.0, 215.0)]),
        (&notched, vec![zone(70.0, 216.0)]),
    ] {
        let job = Job { zones, ..demo.clone() };
        let plan = plan(&job, face, Options::default()).unwrap_or_else(|refusal| panic!("{refusal}"));
        let ends = job.zones.iter().flat_map(|z| [z.from.as_mm(), z.to.as_mm()]);
        for corner in &plan.finished.corners {
            match corner.evidence {
                Evidence::Readings(error) => {
                    assert!(corner.turn.as_rad().abs() >= 5.0 * error.as_rad());
                    shown += usize::from((corner.at.as_mm() - 120.0).abs() < 0.5);
                }
                Evidence::ZoneEnd => {
                    let off =
                        ends.clone().map(|end| (end - corner.at.as_mm()).abs()).fold(f64::MAX, f64::min);
                    assert!(off < 1.0, "{corner:?}");
                }
                Evidence::Given => panic!("the face is measured"),
            }
        }
    }
    assert_eq!(shown, 1, "the notch alone has a corner inside");
}

/// Horizontal reach of a motion.
fn span(piece: &Piece) -> [f64; 2] {
    let (a, b) = (piece.from().x, piece.to().x);
    [a.min(b), a.max(b)]
}

/// Leads come and go beside the zone or stay over its end: none runs over the face that the pass has made bright, or will.
#[test]
fn leads_cross_no_bright_metal() {
    /// A straight lead along the normal of a slope leans over the face by no more than its own length.
    const LEANS: f64 = 0.5;
    let zone = |from, to| Zone { from: Length::mm(from), to: Length::mm(to) };
    for &(name, change) in controls::VARIANTS {
        for direction in [Direction::Outward, Direction::Inward] {
            let (_, plan) = planned(|job| {
                change(job);
                job.zones = vec![zone(72.0, 120.0), zone(128.0, 216.0)];
                job.schedule.direction = direction;
            });
            let motions = &last(&plan).motions;
            let of = |lead: bool| {
                let wanted = move |m: &&Motion| {
                    (m.role == Role::Cut) != lead
                        && matches!(m.role, Role::Cut | Role::LeadIn | Role::LeadOut)
                };
                motions.iter().filter(wanted).map(|m| span(&m.piece))
            };
            let bright = of(false).fold(Vec::<[f64; 2]>::new(), |mut all, [a, b]| {
                match all.iter_mut().find(|s| s[0] <= b + 1e-9 && a <= s[1] + 1e-9) {
                    Some(s) => *s = [s[0].min(a), s[1].max(b)],
                    None => all.push([a, b]),
                }
                all
            });
            assert_eq!(bright.len(), 2, "{name}: {bright:?}");
            for lead in of(true) {
                let inside = bright.iter().any(|s| lead[1] > s[0] + LEANS && lead[0] < s[1] - LEANS);
                assert!(!inside, "{name}: a lead over {lead:?} crosses {bright:?}");
            }
        }
    }
}

/// The feed of a texture by its ridges is that of before: the next word below.
#[test]
fn ridges_stay_no_higher_than_asked() {
    let (_, plan) = planned(|job| finish(job).feed = Feed::Rz(Length::mm(0.002)));
    assert_eq!(last(&plan).feed, FeedPerRev::mm_per_rev(0.113));
}
