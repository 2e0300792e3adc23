//! From noisy readings to the program's text: how even a smooth face becomes, and how true its edges stay.
//!
//! Wheels known exactly are measured on three lines, surveyed, planned, written and proved as a person would have it done. The text is read by
//! a reader of its own, and what it does is compared with the path that a nose would take over the true face, found by trying
//! every point of the nose. The band of waviness is the one that scipy's Gaussian filters find too (`numeric::waviness`).

use crate::fixtures::wheel::{Measurement, Random, Wave, Wheel, csv};
use facewright::numeric::waviness::RINGS;
use facewright::pipeline;
use facewright::plan::Options;
use facewright::survey::Survey;
use std::f64::consts::PI;
use std::fmt::Write as _;
use std::path::Path;

/// Noise of a reading, millimetres.
const NOISE: f64 = 0.010;
/// From one reading of a line to the next; the three lines stand a third of it apart.
const SPACING: f64 = 0.12;
/// Nose radius of the demo's finishing tool.
const NOSE: f64 = 0.8;
/// The zone that is cut.
pub const ZONE: [f64; 2] = [70.0, 215.0];
/// From one place that is looked at to the next, millimetres.
const STEP: f64 = 0.05;

/// A wheel measured, cut and read back.
struct Cut {
    /// The finish, piece by piece, from the inside out.
    pieces: Vec<Piece>,
    account: String,
}

/// A line or an arc of the program, as radius and height.
#[derive(Debug, Clone, Copy)]
struct Piece {
    from: [f64; 2],
    to: [f64; 2],
    centre: Option<[f64; 2]>,
}

impl Piece {
    /// The angle at which it runs at one of its ends.
    fn heading(&self, [x, z]: [f64; 2]) -> f64 {
        let (dx, dz) = match self.centre {
            None => (self.to[0] - self.from[0], self.to[1] - self.from[1]),
            Some([cx, cz]) => (cz - z, x - cx),
        };
        if dx < 0.0 { (-dz).atan2(-dx) } else { dz.atan2(dx) }
    }

    fn at(&self, x: f64) -> f64 {
        let ([x0, z0], [x1, z1]) = (self.from, self.to);
        match self.centre {
            None => z0 + (z1 - z0) * (x - x0) / (x1 - x0),
            Some([cx, cz]) => {
                let squared = (x0 - cx).powi(2) + (z0 - cz).powi(2) - (x - cx).powi(2);
                cz + squared.max(0.0).sqrt().copysign(z0 - cz)
            }
        }
    }
}

/// Measures a face that runs true, and has it surveyed, cut and read back.
fn cut(face: fn(f64) -> f64, seed: u64) -> Cut {
    made(&measured(face, seed).path().join("job.yaml"))
}

/// Measures a face that runs true, and has it surveyed.
pub fn survey_of(face: fn(f64) -> f64, seed: u64) -> Survey {
    let folder = measured(face, seed);
    let loaded = pipeline::load(&folder.path().join("job.yaml")).unwrap_or_else(|e| panic!("{e}"));
    let measured = loaded.measure().unwrap_or_else(|e| panic!("{e}"));
    measured.survey().unwrap_or_else(|e| panic!("{e}")).survey().clone()
}

/// A folder with a job and the scans of its face.
fn measured(face: fn(f64) -> f64, seed: u64) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect(name);
    let level = Wave { height: 0.0, at_radius: 220.0, highest_at: 0.0 };
    let wheel = Wheel { face, tilt: level, bend: level, damage: Vec::new() };
    let mut lines = String::new();
    for (line, degrees) in (0_u8..3).zip([0.0_f64, 120.0, 240.0]) {
        let how = Measurement {
            from: ZONE[0] - 6.0 + f64::from(line) * SPACING / 3.0,
            to: ZONE[1] + 6.0,
            step: [SPACING, SPACING],
            noise: NOISE,
            ball: 0.0,
            seed: Random::new(3 * seed + u64::from(line)).bits(),
        };
        write(&format!("line-{line}.csv"), &csv(&["made up"], &how.of(&wheel, degrees.to_radians())));
        let _ = writeln!(lines, "    - {{ file: line-{line}.csv, at: {degrees} deg }}");
    }
    write("shop.yaml", &std::fs::read_to_string("demo-data/shop.yaml").expect("the demo's shop"));
    let [from, to] = ZONE;
    write(
        "job.yaml",
        &format!(
            "job: made up\nshop: shop.yaml\nschedule: scuffed-lip\n\
             wheel:\n  name: made up\n  material: cast aluminium\n  tyre: removed\n  speed_limit: 650 rpm\n  \
             allowance: {{ limit: 1.0 mm, taken: 0.0 mm }}\n  run_out_limit: 0.30 mm\n\
             measured:\n  sensor: spot\n  x: radius\n  unit: mm\n  columns: [x, z]\n  z: height\n  x_offset: 0 mm\n  \
             filter: 0.8 mm\n  longest_gap: 2 mm\n  lines:\n{lines}\
             touch_off: {{ at: 76 mm }}\nzones:\n  - {{ from: {from} mm, to: {to} mm }}\n"
        ),
    );
    folder
}

fn made(job: &Path) -> Cut {
    let loaded = pipeline::load(job).unwrap_or_else(|e| panic!("{e}"));
    let measured = loaded.measure().unwrap_or_else(|e| panic!("{e}"));
    let surveyed = measured.survey().unwrap_or_else(|e| panic!("{e}"));
    let planned = surveyed.plan(Options::default()).unwrap_or_else(|e| panic!("{e}"));
    let finished = planned.plan().finished.clone();
    let proved = planned.write().and_then(pipeline::Written::prove).unwrap_or_else(|e| panic!("{e}"));
    let text = &proved.parts().last().expect("a program").program().text;
    Cut { pieces: last_cut(text), account: format!("{finished:?}") }
}

/// The pieces of the longest run at feed behind the last rapid but those of the retreat: the finish, without its leads.
fn last_cut(text: &str) -> Vec<Piece> {
    let mut strokes: Vec<Vec<Piece>> = vec![Vec::new()];
    let (mut code, mut at) = (0, [f64::NAN; 2]);
    for line in text.lines() {
        let words = words(line);
        let of = |letter: char| words.iter().find(|w| w.0 == letter).map(|w| w.1);
        for motion in words.iter().filter(|w| w.0 == 'G' && w.1 < 4.0 && w.1.fract() == 0.0) {
            code = [0, 1, 2, 3].into_iter().find(|c| f64::from(*c) == motion.1).unwrap_or(code);
        }
        if of('X').is_none() && of('Z').is_none() {
            continue;
        }
        // The demo's control names diameters.
        let to = [of('X').map_or(at[0], |x| x / 2.0), of('Z').unwrap_or(at[1])];
        let centre = [at[0] + of('I').unwrap_or(0.0), at[1] + of('K').unwrap_or(0.0)];
        if code == 0 {
            strokes.push(Vec::new());
        } else if let Some(stroke) = strokes.last_mut() {
            stroke.push(Piece { from: at, to, centre: (code > 1).then_some(centre) });
        }
        at = to;
    }
    let mut pieces = strokes.into_iter().rev().find(|s| s.len() > 2).expect("a cut");
    // Leads and the ways to and from them lie outside; the arc of a lead rises from the zone's end.
    pieces.retain(|p| p.to[0] > p.from[0]);
    pieces
}

/// Letters and numbers of a block, comments left out.
fn words(line: &str) -> Vec<(char, f64)> {
    let block = line.split('(').next().unwrap_or_default();
    let starts: Vec<usize> =
        block.char_indices().filter(|(_, c)| c.is_ascii_alphabetic()).map(|(i, _)| i).collect();
    let ends = starts.iter().skip(1).copied().chain([block.len()]);
    let word = |(start, end): (&usize, usize)| {
        let letter = block[*start..].chars().next()?;
        Some((letter, block[start + 1..end].trim().parse().ok()?))
    };
    starts.iter().zip(ends).filter_map(word).collect()
}

/// The lowest place of a nose at a radius that cuts nothing below a face: every point of the nose is tried.
fn nose_over(face: fn(f64) -> f64, x: f64) -> f64 {
    let points = (-400..=400).map(|i| f64::from(i) / 400.0 * (PI / 2.0 - 0.35));
    points.map(|a| face(x + NOSE * a.sin()) - NOSE * (1.0 - a.cos())).fold(f64::NEG_INFINITY, f64::max)
}

impl Cut {
    fn joints(&self) -> impl Iterator<Item = (f64, f64)> {
        self.pieces.windows(2).map(|w| {
            let turn = w[1].heading(w[1].from) - w[0].heading(w[0].to);
            (w[1].from[0], turn.abs().to_degrees())
        })
    }

    /// How far the path lies over the true one along the normal, at even places between two radii.
    fn over(&self, face: fn(f64) -> f64, [from, to]: [f64; 2]) -> Vec<(f64, f64)> {
        let places = std::iter::successors(Some(from), |x| Some(x + STEP)).take_while(|x| *x <= to);
        let at =
            |x: f64| self.pieces.iter().find(|p| p.from[0] <= x && x <= p.to[0]).expect("all is cut").at(x);
        places
            .map(|x| {
                let slope = (nose_over(face, x + 1e-3) - nose_over(face, x - 1e-3)) / 2e-3;
                (x, (at(x) - nose_over(face, x)) / slope.hypot(1.0))
            })
            .collect()
    }
}

pub fn dish(x: f64) -> f64 {
    -6.0 * (-((x - 142.0) / 45.0).powi(2)).exp()
}

/// The goal for a smooth face, from its readings to the text: at most 16 pieces, no joint over 0.05 degrees, waviness of 3 um.
#[test]
fn a_smooth_face_is_cut_without_rings() {
    for seed in [11, 12, 13] {
        let cut = cut(dish, seed);
        // Where the nose meets the zone's ends there is no face on one side.
        let inside = [ZONE[0] + 1.0, ZONE[1] - 1.0];
        let pieces = cut.pieces.iter().filter(|p| p.to[0] > inside[0] && p.from[0] < inside[1]).count();
        let joint =
            cut.joints().filter(|j| inside[0] < j.0 && j.0 < inside[1]).map(|j| j.1).fold(0.0, f64::max);
        let over: Vec<f64> = cut.over(dish, inside).iter().map(|o| o.1).collect();
        let waviness = RINGS.peak_to_valley(&over, STEP);
        println!(
            "{seed}: {pieces} pieces, joints to {joint:.4} degrees, waviness {:.2} um, {}",
            1e3 * waviness,
            cut.account
        );
        assert!(pieces <= 16, "{pieces} pieces");
        assert!(joint <= 0.05, "{joint} degrees");
        assert!(waviness <= 0.003, "{waviness} mm");
    }
}

/// A dish that from [`KINK`] on runs off at an angle: a hollow of no radius.
fn kinked(x: f64, by: f64) -> f64 {
    let slope = (dish(KINK + 1e-4) - dish(KINK - 1e-4)) / 2e-4;
    let rise = (slope.atan() + by.to_radians()).tan() - slope;
    dish(x) + rise * (x - KINK).max(0.0)
}

const KINK: f64 = 150.03;

fn kinked_by_12(x: f64) -> f64 {
    kinked(x, 12.0)
}

fn kinked_by_25(x: f64) -> f64 {
    kinked(x, 25.0)
}

/// A dish with a crown, a groove and a lip: a form turned with care, or sharper walls.
fn groove_and_lip(x: f64, walls: i32, lip: f64) -> f64 {
    let bump = |at: f64, width: f64, n: i32| (-((x - at) / width).powi(n)).exp();
    let rise = ((x - LIP_FOOT) / lip).clamp(0.0, 1.0);
    let dish = -18.0 * (1.0 - ((x - 60.0) / 150.0).clamp(0.0, 1.0)).powf(1.6);
    let groove = -0.8 * bump(176.0, 4.0, walls);
    dish + 1.5 * bump(120.0, 18.0, 2) + groove + 2.0 * rise * rise * (3.0 - 2.0 * rise)
}

const LIP_FOOT: f64 = 204.0;

/// The distance of a place from a face: the nearest of its points.
fn from_face(face: fn(f64) -> f64, x: f64, z: f64) -> f64 {
    let points = (-600..=600).map(|i| x + f64::from(i) * 0.001);
    points.map(|u| (face(u) - z).hypot(u - x)).fold(f64::INFINITY, f64::min)
}

/// A place far from every edge of these faces.
const PLAIN: f64 = 135.0;

/// Of 95 in 100 places within 1.5 mm of an edge, how far at most the surveyed face lies from the true one.
fn off_at_edges(face: fn(f64) -> f64, edges: &[f64]) -> f64 {
    let mut off = Vec::new();
    for seed in 21..26 {
        let survey = survey_of(face, seed);
        // Three lines may tilt the whole by their noise; what is asked for is the shape.
        let level = survey.face().highest.at(PLAIN) - face(PLAIN);
        for edge in edges {
            for i in -30..=30 {
                let x = edge + f64::from(i) * STEP;
                off.push(from_face(face, x, survey.face().highest.at(x) - level));
            }
        }
    }
    off.sort_by(f64::total_cmp);
    println!(
        "edges at {edges:?}: {:.1} um, worst {:.1} um",
        1e3 * off[off.len() * 95 / 100],
        1e3 * off[off.len() - 1]
    );
    off[off.len() * 95 / 100]
}

/// Height over the radius.
type Face = fn(f64) -> f64;

fn gentle(x: f64) -> f64 {
    groove_and_lip(x, 4, 3.0)
}

fn narrower(x: f64) -> f64 {
    groove_and_lip(x, 4, 2.2)
}

/// Its lip climbs 2 mm in 1.2 mm, at up to 68 degrees, from a foot of 0.12 mm radius.
fn sharper(x: f64) -> f64 {
    groove_and_lip(x, 12, 1.2)
}

/// What a fresh measurement keeps of an edge, millimetres along the normal in 95 of 100 places.
const KEPT: f64 = 0.010;

/// Feet and tops of lips, edges of grooves and ends of zones keep their shape within 10 um along the normal, 95 in 100 places.
#[test]
fn edges_keep_their_shape() {
    let (ends, groove) = ([ZONE[0], ZONE[1]], [172.0, 180.0]);
    let feet = |lip: f64| [LIP_FOOT, LIP_FOOT + lip];
    let cases: [(Face, [f64; 2]); 10] = [
        (gentle, ends),
        (gentle, groove),
        (gentle, feet(3.0)),
        (narrower, ends),
        (narrower, feet(2.2)),
        (sharper, ends),
        (sharper, groove),
        (sharper, feet(1.2)),
        (kinked_by_12, [KINK; 2]),
        (kinked_by_25, [KINK; 2]),
    ];
    for (face, edges) in cases {
        let off = off_at_edges(face, &edges);
        assert!(off <= KEPT, "edges at {edges:?}: {off} mm");
    }
}
