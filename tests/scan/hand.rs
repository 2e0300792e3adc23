//! A hand-driven measurement of a known face, with every fault that hand and sensor make; the same seed, the same scan.

use std::fmt::Write;

/// Random numbers from a fixed sequence (Knuth's multiplier for 64 bits).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xD1B5_4A32_D192_ED03);
        dice.share();
        dice
    }
    /// From 0 to 1.
    pub fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(self.0 >> 32).unwrap_or(0)) / 4_294_967_296.0
    }
    pub fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * self.share()
    }
    /// Normal, by the sum of twelve.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.share()).sum::<f64>() - 6.0
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub fn count(&mut self, a: usize, b: usize) -> usize {
        a + (self.share() * (b + 1 - a) as f64) as usize
    }
}

/// A face from 80 mm to 120 mm: a dome, a fillet of 3 mm, a lip of 45° with sharp corners, a groove with steep walls.
pub fn face(x: f64) -> f64 {
    let dome = -0.002 * (x - 95.0).powi(2);
    let lip = -(x - 112.0).clamp(0.0, 1.5);
    let groove = if (101.0..104.0).contains(&x) { -((x - 101.0).min(104.0 - x) / 0.1).min(1.0) } else { 0.0 };
    let t = (x - 88.0).clamp(0.0, 1.5);
    let fillet = 3.0 - (9.0 - t * t).sqrt() + (x - 89.5).clamp(0.0, 2.0) * 0.577;
    dome + lip + groove + fillet
}

/// What goes wrong in a measurement.
#[derive(Debug, Clone, Default)]
pub struct Faults {
    pub noise: f64,
    pub spacing: [f64; 2],
    pub pauses: usize,
    pub backsteps: usize,
    pub reversed: bool,
    pub spikes: usize,
    pub clusters: usize,
    pub sentinels: usize,
    pub out_and_back: bool,
    pub hysteresis: f64,
    pub drift: f64,
    pub leaves_face: bool,
}

impl Faults {
    pub fn clean() -> Self {
        Self { noise: 0.01, spacing: [0.05, 0.3], ..Self::default() }
    }
}

/// The scan's text.
pub fn measure(f: &Faults, seed: u64) -> String {
    measure_on(f, seed, face)
}

/// The text of a scan of another face over the same radii.
pub fn measure_on(f: &Faults, seed: u64, face: impl Fn(f64) -> f64) -> String {
    let mut dice = Dice::new(seed);
    let mut xs = way(f, &mut dice);
    if f.out_and_back {
        let back = way(f, &mut dice);
        xs.extend(back.into_iter().rev());
    }
    let mut rows: Vec<(f64, String)> = Vec::new();
    let turn = xs.len() / 2;
    let n = xs.len() as f64;
    for (i, &x) in xs.iter().enumerate() {
        let way = if f.out_and_back && i >= turn { 0.5 } else { -0.5 };
        let wrong = if f.out_and_back { way * f.hysteresis } else { 0.0 } + f.drift * (i as f64 / n - 0.5);
        let beyond = f.leaves_face && !(80.0..=120.0).contains(&x);
        let z =
            if beyond { -30.0 + dice.between(-8.0, 8.0) } else { face(x) + wrong + f.noise * dice.normal() };
        rows.push((x, format!("{z:.4}")));
    }
    for _ in 0..f.spikes {
        spoil(&mut rows, &mut dice, 1, |d, x| format!("{:.4}", face(x) + wild(d)));
    }
    for _ in 0..f.clusters {
        let length = dice.count(2, 20);
        spoil(&mut rows, &mut dice, length, |d, x| format!("{:.4}", face(x) + wild(d)));
    }
    for _ in 0..f.sentinels {
        let length = dice.count(1, 4);
        let what = ["-999", "NaN", "", "0", "9999.0", "---"][dice.count(0, 5)];
        spoil(&mut rows, &mut dice, length, |_, _| what.to_string());
    }
    if f.reversed {
        rows.reverse();
    }
    let mut text = String::from("x;z\n");
    for (x, z) in rows {
        let _ = writeln!(text, "{x:.4};{z}");
    }
    text
}

fn wild(d: &mut Dice) -> f64 {
    let size = d.between(0.25, 4.0);
    if d.share() < 0.5 { size } else { -size }
}

fn spoil(
    rows: &mut [(f64, String)],
    dice: &mut Dice,
    length: usize,
    with: impl Fn(&mut Dice, f64) -> String,
) {
    let at = dice.count(0, rows.len() - length);
    for (x, z) in rows.iter_mut().skip(at).take(length) {
        *z = with(dice, *x);
    }
}

fn way(f: &Faults, dice: &mut Dice) -> Vec<f64> {
    let [from, to] = if f.leaves_face { [75.0, 124.0] } else { [80.0, 120.0] };
    let mut xs = vec![from];
    let mut x = from;
    while x < to {
        x += dice.between(f.spacing[0], f.spacing[1]);
        xs.push(x.min(to));
    }
    for _ in 0..f.backsteps {
        let at = dice.count(0, xs.len() - 1);
        let length = dice.count(5, 25).min(at);
        let mut again: Vec<f64> = xs[at - length..at].iter().rev().map(|x| x + 0.01 * dice.share()).collect();
        again.extend(again.clone().into_iter().rev());
        xs.splice(at..at, again);
    }
    for _ in 0..f.pauses {
        let at = dice.count(0, xs.len() - 1);
        let here = xs[at];
        let stay: Vec<f64> = (0..dice.count(100, 400)).map(|_| here + 0.001 * dice.share()).collect();
        xs.splice(at..at, stay);
    }
    xs
}
