//! The envelope at 10³ to 10⁶ points, beside two general offset libraries.
//!
//!     cargo bench --bench envelope
//!
//! The libraries' long runs, a minute at most each if ended by hand: `cargo bench --bench envelope -- --ignored cavalier`, and `geo`.
//!
//! A face 150 mm long, gently curved, with noise of σ = 0.01 mm; nose 0.8 mm, edges 30°.

use divan::{Bencher, counter::ItemsCount};
use facewright::geometry::envelope::{close, dilate, dilate_disk, erode};
use facewright::geometry::{Outline, Point, Profile};

const TOOL: Outline = Outline {
    nose_radius: 0.8,
    inner_edge: 30.0 * std::f64::consts::PI / 180.0,
    outer_edge: 30.0 * std::f64::consts::PI / 180.0,
    edge_length: 8.0,
    holder: None,
};

const OVER: [f64; 2] = [70.0, 220.0];

fn main() {
    divan::main();
}

/// A noisy face; the noise is the sum of twelve uniform numbers, from a fixed linear congruential generator.
fn face(count: usize) -> Profile {
    let mut state = 1_u64;
    let mut uniform = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let step = (OVER[1] - OVER[0]) / (count - 1) as f64;
    let point = |i: usize| {
        let x = OVER[0] + step * i as f64;
        let noise = 0.01 * ((0..12).map(|_| uniform()).sum::<f64>() - 6.0);
        Point::new(x, 12.0 * (x / 40.0).sin() + noise)
    };
    match Profile::new((0..count).map(point).collect()) {
        Ok(profile) => profile,
        Err(fault) => panic!("{fault}"),
    }
}

const COUNTS: [usize; 4] = [1_000, 10_000, 100_000, 1_000_000];

#[divan::bench(args = COUNTS, sample_count = 20, sample_size = 1)]
fn dilation_by_tool(bencher: Bencher, count: usize) {
    let face = face(count);
    bencher.counter(ItemsCount::new(count)).bench(|| dilate(&face, &TOOL, OVER));
}

#[divan::bench(args = COUNTS, sample_count = 20, sample_size = 1)]
fn dilation_by_disk(bencher: Bencher, count: usize) {
    let face = face(count);
    bencher.counter(ItemsCount::new(count)).bench(|| dilate_disk(&face, TOOL.nose_radius));
}

#[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 20, sample_size = 1)]
fn dilation_with_holder(bencher: Bencher, count: usize) {
    let face = face(count);
    let tool = Outline { holder: Some(facewright::geometry::Holder { inner: 4.0, outer: 25.0 }), ..TOOL };
    bencher.counter(ItemsCount::new(count)).bench(|| dilate(&face, &tool, OVER));
}

#[divan::bench(args = COUNTS, sample_count = 20, sample_size = 1)]
fn erosion_of_noise(bencher: Bencher, count: usize) {
    let path = face(count);
    bencher.counter(ItemsCount::new(count)).bench(|| erode(&path, &TOOL, OVER));
}

#[divan::bench(args = COUNTS, sample_count = 20, sample_size = 1)]
fn closing(bencher: Bencher, count: usize) {
    let face = face(count);
    bencher.counter(ItemsCount::new(count)).bench(|| close(&face, &TOOL, OVER));
}

/// `cavalier_contours`: the face as an open polyline, moved to its left.
#[divan::bench(args = [1_000, 10_000], sample_count = 3, sample_size = 1)]
fn cavalier_contours_parallel_offset(bencher: Bencher, count: usize) {
    parallel_offset(bencher, count);
}

#[divan::bench(args = [100_000], sample_count = 1, sample_size = 1, ignore)]
fn cavalier_contours_long(bencher: Bencher, count: usize) {
    parallel_offset(bencher, count);
}

fn parallel_offset(bencher: Bencher, count: usize) {
    use cavalier_contours::polyline::{PlineSource, PlineSourceMut, Polyline};
    let face = face(count);
    let mut line = Polyline::new();
    for p in face.points() {
        line.add(p.x, p.z, 0.0);
    }
    bencher.counter(ItemsCount::new(count)).bench(|| line.parallel_offset(TOOL.nose_radius));
}

/// `geo`: the face as an open line, grown on all sides.
#[divan::bench(args = [1_000, 10_000], sample_count = 3, sample_size = 1)]
fn geo_buffer(bencher: Bencher, count: usize) {
    buffer(bencher, count);
}

#[divan::bench(args = [100_000], sample_count = 1, sample_size = 1, ignore)]
fn geo_long(bencher: Bencher, count: usize) {
    buffer(bencher, count);
}

fn buffer(bencher: Bencher, count: usize) {
    use geo::Buffer;
    let face = face(count);
    let line: geo::LineString = face.points().iter().map(|p| (p.x, p.z)).collect();
    bencher.counter(ItemsCount::new(count)).bench(|| line.buffer(TOOL.nose_radius));
}
