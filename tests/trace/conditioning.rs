//! Conditioning against a known face, measured badly.

use crate::hand::{Faults, errors, face, measure, share_below, trace};
use crate::plain;

#[test]
#[ignore = "prints a table"]
fn table() {
    let base = Faults::clean();
    let cases = [
        ("clean", base.clone()),
        ("dense", Faults { spacing: [0.02, 0.08], ..base.clone() }),
        ("wide", Faults { spacing: [0.2, 0.3], ..base.clone() }),
        ("pauses", Faults { pauses: 8, ..base.clone() }),
        ("backsteps", Faults { backsteps: 8, ..base.clone() }),
        ("reversed", Faults { reversed: true, ..base.clone() }),
        ("spikes", Faults { spikes: 15, ..base.clone() }),
        ("clusters", Faults { clusters: 3, ..base.clone() }),
        ("dense clusters", Faults { clusters: 5, spacing: [0.02, 0.08], ..base.clone() }),
        ("sentinels", Faults { sentinels: 10, ..base.clone() }),
        ("out and back", Faults { out_and_back: true, hysteresis: 0.02, drift: 0.04, ..base.clone() }),
        ("leaves", Faults { leaves_face: true, ..base.clone() }),
        (
            "all",
            Faults {
                pauses: 5,
                backsteps: 5,
                spikes: 10,
                clusters: 2,
                sentinels: 5,
                leaves_face: true,
                out_and_back: true,
                hysteresis: 0.02,
                drift: 0.03,
                ..base.clone()
            },
        ),
    ];
    for (name, f) in cases {
        let (mut m, mut n99, mut worst) = (0.0, 0.0, 0.0_f64);
        let mut w99 = 0.0_f64;
        let mut bad = 0;
        for seed in 0..40 {
            let t = trace(&measure(&f, seed), &plain());
            let e = errors(&t);
            m += share_below(&e, 0.5) / 40.0;
            let s = share_below(&e, 0.99);
            n99 += s / 40.0;
            w99 = w99.max(s);
            worst = worst.max(share_below(&e, 1.0));
            if share_below(&e, 1.0) > 0.1 {
                bad = seed;
            }
        }
        println!("{name:>16}: median {m:.4}, 99 % {n99:.4} (worst seed {w99:.4}), worst {worst:.4} [{bad}]");
    }
}

#[test]
#[ignore = "prints a table"]
fn look() {
    let which: u64 = std::env::var("SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(0);
    let f = Faults { leaves_face: true, ..Faults::clean() };
    let f = match std::env::var("CASE").unwrap_or_default().as_str() {
        "clusters" => Faults { clusters: 3, ..Faults::clean() },
        "dense" => Faults { clusters: 5, spacing: [0.02, 0.08], ..Faults::clean() },
        "spikes" => Faults { spikes: 15, ..Faults::clean() },
        "clean" => Faults::clean(),
        "back" => Faults { out_and_back: true, hysteresis: 0.02, drift: 0.04, ..Faults::clean() },
        "sentinels" => Faults { sentinels: 10, ..Faults::clean() },
        _ => f,
    };
    let t = trace(&measure(&f, which), &plain());
    println!("{:#?}", t.report);
    for p in t.profile.points() {
        let e = p.z - face(p.x);
        if e.abs() > 0.02 {
            println!("{:.3} {:.4} off {e:.4}", p.x, p.z);
        }
    }
}
