//! Times, lengths and roughness against scipy (tests/reference/turning.py).

use facewright::geometry::{Arc, Piece, Point, Turn};
use facewright::plan::spindle::{SpindleLaw, spiral_length};
use facewright::plan::texture::{mean_roughness, scallop};
use facewright::units::{FeedPerRev, Length, SpindleSpeed, SurfaceSpeed};
use float_cmp::assert_approx_eq;
use serde::Deserialize;

#[derive(Deserialize)]
struct Reference {
    times: Vec<TimeCase>,
    roughness: Vec<RoughnessCase>,
}

#[derive(Deserialize)]
struct TimeCase {
    surface_speed: f64,
    limit: f64,
    feed: f64,
    pieces: Vec<PieceCase>,
    seconds: f64,
    spiral: f64,
}

#[derive(Deserialize)]
struct PieceCase {
    kind: String,
    from: [f64; 2],
    to: [f64; 2],
    centre: [f64; 2],
}

#[derive(Deserialize)]
struct RoughnessCase {
    feed: f64,
    nose: f64,
    rz: f64,
    ra: f64,
}

fn reference() -> Reference {
    let text = include_str!("../../fixtures/reference/turning.json");
    serde_json::from_str(text).expect("the kept reference values are whole")
}

fn piece(case: &PieceCase) -> Piece {
    let [from, to, centre] = [case.from, case.to, case.centre].map(|[x, z]| Point::new(x, z));
    match case.kind.as_str() {
        "line" => Piece::line(from, to),
        "cap" => Piece::Arc(Arc { from, to, centre, turn: Turn::Clockwise }),
        _ => Piece::Arc(Arc { from, to, centre, turn: Turn::CounterClockwise }),
    }
}

/// Source: scipy.integrate.quad over `ds/(f·n)` and `2·π·x/f ds`.
#[test]
fn time_and_spiral_are_scipys_integrals() {
    for case in reference().times {
        let pieces: Vec<Piece> = case.pieces.iter().map(piece).collect();
        let law = SpindleLaw {
            surface_speed: SurfaceSpeed::mm_per_min(case.surface_speed),
            limit: SpindleSpeed::rpm(case.limit),
        };
        let feed = FeedPerRev::mm_per_rev(case.feed);
        for pieces in [pieces.clone(), pieces.iter().rev().map(Piece::reversed).collect()] {
            assert_approx_eq!(f64, law.time(&pieces, feed).as_s() / case.seconds, 1.0, epsilon = 1e-9);
            assert_approx_eq!(f64, spiral_length(&pieces, feed).as_mm() / case.spiral, 1.0, epsilon = 1e-9);
        }
    }
}

/// Source: Ra by its definition in ISO 4287 (ISO 21920-2), integrated by scipy.
#[test]
fn roughness_is_its_definition() {
    for case in reference().roughness {
        let (feed, nose) = (FeedPerRev::mm_per_rev(case.feed), Length::mm(case.nose));
        assert_approx_eq!(f64, scallop(feed, nose).as_mm() / case.rz, 1.0, epsilon = 1e-9);
        assert_approx_eq!(f64, mean_roughness(feed, nose).as_mm() / case.ra, 1.0, epsilon = 1e-7);
    }
}
