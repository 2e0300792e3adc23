//! Known wheels, measured badly in two hundred ways, must be recovered: face, tilt, bend and damage.
//!
//! The truth is the generator's own; nothing of the survey's mathematics enters it. The table in
//! docs/survey.md is what `cargo test --test all known_wheels -- --nocapture` prints.

use crate::fixtures::known::{Known, ZONE, job_over, surveyed};
use crate::fixtures::wheel;
use facewright::diagnostics::SurveyRule;
use facewright::job::Zone;
use facewright::scan::MeasuredLine;
use facewright::survey::Survey;
use facewright::units::Length;

const WHEELS: u64 = 200;
/// Damage of this depth on every line at one radius hides the sound face there, millimetres.
const LOST: f64 = 0.015;

fn line(wheel: &Known, line: usize) -> MeasuredLine {
    wheel.line(line)
}

/// What the survey got wrong about one wheel, millimetres.
#[derive(Debug, Clone)]
struct Errors {
    seed: u64,
    /// Highest and lowest place of the turn, signed, at radii inside the zone for which the survey vouches.
    face: Vec<f64>,
    /// The radius where that is worst.
    worst_at: f64,
    /// Radii inside the zone at which the survey warns that it has but one line's word: every line is damaged there.
    unsure: usize,
    /// How far the face lies too low where every line crosses damage, signed.
    copied: f64,
    tilt: f64,
    bend: f64,
    /// None where nothing deep enough to tell lies under the lines.
    damage: Option<Damage>,
}

/// How far the deepest damage was told wrong, and how far the survey says that it may be.
#[derive(Debug, Clone, Copy)]
struct Damage {
    off: f64,
    uncertainty: f64,
}

fn errors(seed: u64) -> Errors {
    let wheel = Known::of(seed);
    let lines = (0..wheel.angles.len()).map(|k| line(&wheel, k)).collect();
    let found = surveyed(&job_over(ZONE[0], ZONE[1]), lines);
    let (run_out, face) =
        (found.run_out.as_ref().unwrap_or_else(|| panic!("{seed}: no run-out")), found.face());
    let tilt = found.model().tilt;

    // Where every line crosses damage the sound face was not measured: no survey can know it, but it must say so.
    let lost = |x: f64| wheel.angles.iter().all(|&a| wheel.damage(x, a) > LOST);
    let told =
        [SurveyRule::AllRound, SurveyRule::Undecided, SurveyRule::UndecidedTold, SurveyRule::OneLinesWord];
    let unsure = found.findings.iter().filter(|f| told.iter().any(|&rule| f.rule == rule.into())).count();
    let radii = || std::iter::successors(Some(ZONE[0]), |r| Some(r + 0.15)).take_while(|r| *r <= ZONE[1]);
    let off = |x: f64| {
        let [low, high] = wheel.over_the_turn(x);
        [face.highest.at(x) - high, face.lowest.at(x) - low]
    };
    let copied = radii().filter(|&x| lost(x)).map(|x| off(x)[0]).fold(0.0, f64::min);
    let known = radii().filter(|&x| !lost(x)).flat_map(off).collect();
    let most = |x: f64| off(x).map(f64::abs).into_iter().fold(0.0, f64::max);
    let worst_at = radii().filter(|&x| !lost(x)).max_by(|a, b| most(*a).total_cmp(&most(*b)));
    let [slope, high_side] = wheel.tilt;
    let deepest = wheel.deepest_on_lines();
    let of_lines = found.damage.iter().filter(|d| d.line_deg.is_some());
    let told = of_lines.max_by(|a, b| a.depth_mm.total_cmp(&b.depth_mm));
    let (told, uncertainty) = told.map_or((0.0, 0.0), |d| (d.depth_mm, d.uncertainty_mm.unwrap_or(0.0)));
    let [cos, sin] = [tilt.high_side.cos(), tilt.high_side.sin()].map(|part| tilt.slope * part);
    Errors {
        seed,
        face: known,
        worst_at: worst_at.unwrap_or(0.0),
        unsure,
        copied,
        tilt: ZONE[1] * (cos - slope * high_side.cos()).hypot(sin - slope * high_side.sin()),
        bend: (run_out.bend_mm - 2.0 * wheel.bend[0]).abs(),
        // Depth is counted from the face: where that is lost, and told so, there is no depth to hold it to.
        damage: (copied > -LOST && (deepest > 0.05 || told > 0.05))
            .then_some(Damage { off: (told - deepest).abs(), uncertainty }),
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index within the values")]
fn share(mut values: Vec<f64>, share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let last = values.len() - 1;
    values[(last as f64 * share).round() as usize]
}

fn table_row(name: &str, values: &[f64]) -> String {
    let [median, most, worst] = [0.5, 0.99, 1.0].map(|s| share(values.to_vec(), s));
    format!("| {name} | {median:.4} | {most:.4} | {worst:.4} |")
}

/// A number from the environment: other wheels come by `WHEELS_FROM=1000 cargo test --test all known_wheels -- --nocapture`, more of them
/// by `WHEELS=1000` beside it.
fn asked(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(usual)
}

/// What of one wheel is told further off than it may be.
fn wrong(e: &Errors) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut within = |holds: bool, what: String| {
        if !holds {
            wrong.push(format!("wheel {}: {what}", e.seed));
        }
    };
    let most = share(e.face.iter().map(|e| e.abs()).collect(), 0.99);
    within(most <= 0.015, format!("face {most:.4} mm at 99 % of the radii"));
    let low = e.face.iter().copied().fold(f64::INFINITY, f64::min);
    within(low > -0.1, format!("a dent of {low:.3} mm is left in the face"));
    // A dent on all lines that differs from line to line is told; only its like on all of them is taken for shape.
    within(e.copied > -0.1 || e.unsure > 0, format!("a dent of {:.3} mm is copied unsaid", e.copied));
    let high = e.face.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    within(high < 0.1, format!("{high:.3} mm of a feature are mended away"));
    within(e.tilt <= 0.01, format!("tilt {:.4} mm", e.tilt));
    within(e.bend <= 0.02, format!("bend {:.4} mm", e.bend));
    // A furrow's tip that falls between two readings of 0.01 mm noise is not known better than this.
    within(e.damage.is_none_or(|d| d.off <= 0.025), format!("damage {:?}", e.damage));
    wrong
}

#[test]
fn two_hundred_known_wheels_are_recovered() {
    let first = asked("WHEELS_FROM", 0);
    let seeds: Vec<u64> = (first..first + asked("WHEELS", WHEELS)).collect();
    let (left, right) = seeds.split_at(seeds.len() / 2);
    let all: Vec<Errors> = std::thread::scope(|scope| {
        let there = scope.spawn(|| left.iter().map(|&s| errors(s)).collect::<Vec<_>>());
        let here: Vec<Errors> = right.iter().map(|&s| errors(s)).collect();
        there.join().unwrap_or_else(|_| panic!("a wheel panicked")).into_iter().chain(here).collect()
    });

    let face: Vec<f64> = all.iter().flat_map(|e| &e.face).map(|e| e.abs()).collect();
    let of = |f: fn(&Errors) -> f64| all.iter().map(f).collect::<Vec<f64>>();
    let damage: Vec<Damage> = all.iter().filter_map(|e| e.damage).collect();
    let off: Vec<f64> = damage.iter().map(|d| d.off).collect();
    println!("{} wheels from {first}:", all.len());
    println!("| error, mm | median | 99 % | worst |\n|---|---|---|---|");
    println!("{}", table_row("highest and lowest place, every radius", &face));
    println!(
        "{}",
        table_row(
            "the same, 99 % of each wheel",
            &of(|e| share(e.face.iter().map(|e| e.abs()).collect(), 0.99))
        )
    );
    println!("{}", table_row("tilt at the rim", &of(|e| e.tilt)));
    println!("{}", table_row("bend at the rim", &of(|e| e.bend)));
    println!("{}", table_row("deepest damage", &off));
    let of_damage = |is: fn(&Damage) -> bool| damage.iter().filter(|d| is(d)).count();
    let beyond = of_damage(|d| d.off > d.uncertainty);
    let most = |e: &Errors| e.face.iter().map(|e| e.abs()).fold(0.0, f64::max);
    let mut worst: Vec<&Errors> = all.iter().collect();
    worst.sort_by(|a, b| most(b).total_cmp(&most(a)));
    let named = worst
        .iter()
        .take(5)
        .map(|e| format!("wheel {} at radius {:.1} mm {:.4} mm", e.seed, e.worst_at, most(e)));
    println!("the worst places: {}", named.collect::<Vec<_>>().join("; "));
    println!(
        "told as unsure, one line's word: {} radii on {} wheels",
        all.iter().map(|e| e.unsure).sum::<usize>(),
        all.iter().filter(|e| e.unsure > 0).count()
    );
    println!(
        "every line damaged at one radius: {} wheels, the face there over 0.015 mm too low on {}",
        all.iter().filter(|e| e.copied < 0.0).count(),
        all.iter().filter(|e| e.copied < -0.015).count()
    );
    println!(
        "damage on {} wheels; over 0.02 mm off: {}; told as known no better than 0.02 mm: {}; off by more than told: {beyond}",
        damage.len(),
        of_damage(|d| d.off > 0.02),
        of_damage(|d| d.uncertainty > 0.02),
    );

    let wrong: Vec<String> = all.iter().flat_map(wrong).collect();
    assert!(wrong.is_empty(), "{} of {} wheels:\n{}", wrong.len(), all.len(), wrong.join("\n"));
    let most = share(off, 0.99);
    assert!(most <= 0.02, "damage {most:.4} mm at 99 % of the wheels");
    // Told as three standard deviations: of normal errors one in 370 lies beyond.
    assert!(beyond * 50 <= damage.len(), "{beyond} of {} are off by more than told", damage.len());
}

/// A flat face with a dip on some of the lines, measured with a noise of 0.002 mm.
fn dips(lines: u32, dipped: &[u32], depth: f64) -> Vec<MeasuredLine> {
    let mut random = wheel::Random::new(7);
    (0..lines)
        .map(|line| {
            let z = |x: f64| if dipped.contains(&line) && (118.0..124.0).contains(&x) { -depth } else { 0.0 };
            let points: Vec<(f64, f64)> = (0..=1000)
                .map(|i| 70.0 + 0.1 * f64::from(i))
                .map(|x| (x, z(x) + 0.002 * random.normal()))
                .collect();
            let at = std::f64::consts::TAU / f64::from(lines) * f64::from(line);
            MeasuredLine { noise: 0.002, ..MeasuredLine::exact(at, &points) }
        })
        .collect()
}

/// The lowest and the highest place of the face where the dips are.
fn ends(s: &Survey) -> [f64; 2] {
    let face = (0..=100).map(|i| 116.0 + 0.1 * f64::from(i)).map(|r| s.model().face_at(r));
    face.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], z| [low.min(z), high.max(z)])
}

fn dents(s: &Survey) -> usize {
    s.damage.iter().filter(|d| d.line_deg.is_some()).count()
}

#[test]
fn a_dip_on_all_lines_is_the_wheels_own() {
    let s = surveyed(&job_over(75.0, 165.0), dips(3, &[0, 1, 2], 0.4));
    assert!((ends(&s)[0] + 0.4).abs() < 0.01, "{:?}", ends(&s));
    assert_eq!(dents(&s), 0, "{:?}", s.damage);
}

#[test]
fn a_dip_on_some_lines_is_mended() {
    for dipped in [&[1][..], &[0, 2]] {
        let s = surveyed(&job_over(75.0, 165.0), dips(3, dipped, 0.4));
        assert!(ends(&s)[0] > -0.005, "{dipped:?}: {:?}", ends(&s));
        assert_eq!(dents(&s), dipped.len(), "{:?}", s.damage);
        assert!(s.damage.iter().all(|d| (d.depth_mm - 0.4).abs() < 0.01), "{:?}", s.damage);
    }
}

/// A burr on one line of four is likelier than the same dent on the three others; of two lines nobody can say.
#[test]
fn a_burr_on_one_line_of_many_does_not_lift_the_face() {
    for (lines, burred) in [(4, 1), (5, 0), (6, 5)] {
        let s = surveyed(&job_over(75.0, 165.0), dips(lines, &[burred], -0.1));
        assert!(ends(&s)[1] < 0.005, "{lines} lines: {:?}", ends(&s));
        assert_eq!(dents(&s), 0, "{lines} lines: {:?}", s.damage);
        assert!(s.findings.iter().any(|f| f.rule.title() == "raised spot"), "{lines} lines");
    }
}

#[test]
fn a_person_has_the_last_word_on_a_dip() {
    let here = vec![Zone { from: Length::mm(117.0), to: Length::mm(125.0) }];
    let mut mend = job_over(75.0, 165.0);
    mend.mending.mend.clone_from(&here);
    let mended = surveyed(&mend, dips(3, &[0, 1, 2], 0.4));
    assert!(ends(&mended)[0] > -0.01, "{:?}", ends(&mended));
    let mut leave = job_over(75.0, 165.0);
    leave.mending.leave = here;
    let left = surveyed(&leave, dips(3, &[0, 1], 0.4));
    assert_eq!(dents(&left), 0, "{:?}", left.damage);
    assert!(ends(&left)[0] < -0.1, "{:?}", ends(&left));
}
