//! Two programs held against each other by what they do to the wheel, not by their words.

use super::report::Report;
use super::sweep::{Depth, PassKind, Span, SweptPass};
use serde::Serialize;

/// Depths closer than this are the same, millimetres: a tenth of what a shop can measure on a wheel.
const SAME_DEPTH: f64 = 0.001;

/// Speeds and feeds whose ratio is nearer to one than this are the same.
const SAME_RATE: f64 = 0.005;

/// One thing in which the second program cuts otherwise than the first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    /// What kind, as a fixed word: `passes`, `depth`, `face`, `speed`, `feed`, `direction`, `tool`, `time`, `verdict`.
    pub kind: &'static str,
    /// Number of the pass, where it is of one.
    pub pass: Option<usize>,
    /// In words, with its numbers.
    pub what: String,
}

/// What `second` does otherwise than `first`, in cutting terms.
#[must_use]
pub fn against(first: &Report, second: &Report) -> Vec<Difference> {
    let mut out = Vec::new();
    let mut say = |kind, pass, what| out.push(Difference { kind, pass, what });
    if first.verdict != second.verdict {
        say(
            "verdict",
            None,
            format!("the verdict was {:?}, is {:?}", first.verdict, second.verdict).to_lowercase(),
        );
    }
    let (a, b) = (cutting(first), cutting(second));
    if a.len() != b.len() {
        let (more, by) =
            if b.len() > a.len() { ("more", b.len() - a.len()) } else { ("fewer", a.len() - b.len()) };
        say("passes", None, format!("{by} {more} passes that cut: {} instead of {}", b.len(), a.len()));
    }
    for (p, q) in a.iter().zip(&b) {
        pair(p, q, &mut say);
    }
    if let Some((radius, by)) = farthest(&first.sweep.total, &second.sweep.total) {
        say("face", None, format!("the finished face lies {} at radius {radius:.2} mm", deeper(by)));
    }
    if let (Some(t), Some(u)) = (first.seconds, second.seconds)
        && (t - u).abs() >= 1.0
    {
        say("time", None, format!("takes {:.0} s {}", (u - t).abs(), if u > t { "longer" } else { "less" }));
    }
    out
}

fn cutting(report: &Report) -> Vec<&SweptPass> {
    report.sweep.passes.iter().filter(|p| p.kind == PassKind::Cut).collect()
}

fn pair(p: &SweptPass, q: &SweptPass, say: &mut impl FnMut(&'static str, Option<usize>, String)) {
    let pass = Some(q.number);
    if p.tool != q.tool {
        let name = |t: Option<u32>| t.map_or("no tool".to_owned(), |t| format!("tool {t}"));
        say(
            "tool",
            pass,
            format!("pass {} cuts with {} instead of {}", q.number, name(q.tool), name(p.tool)),
        );
    }
    if p.direction != q.direction {
        say("direction", pass, format!("pass {} runs the other way", q.number));
    }
    if let Some((radius, by)) = farthest(&p.taken, &q.taken) {
        say("depth", pass, format!("pass {} takes {} at radius {radius:.2} mm", q.number, deeper(by)));
    }
    let rates: [(&'static str, Option<Span>, Option<Span>, &str); 3] = [
        ("speed", p.rates.surface, q.rates.surface, "m/min at the surface"),
        ("speed", p.rates.spindle, q.rates.spindle, "rpm"),
        ("feed", p.rates.feed, q.rates.feed, "mm each turn"),
    ];
    for (kind, was, is, unit) in rates {
        let (Some(was), Some(is)) = (was, is) else { continue };
        if (is.most / was.most - 1.0).abs() > SAME_RATE {
            let way = if is.most > was.most { "faster" } else { "slower" };
            let what = format!(
                "pass {} goes {way}: up to {:.3} {unit} instead of {:.3}",
                q.number, is.most, was.most
            );
            say(kind, pass, what);
        }
    }
}

fn deeper(by: f64) -> String {
    if by > 0.0 { format!("{by:.3} mm deeper") } else { format!("{:.3} mm less deep", -by) }
}

/// The radius at which two depth curves differ most, and by how much the second is deeper; none where they are the same.
fn farthest(a: &[Depth], b: &[Depth]) -> Option<(f64, f64)> {
    let radii = a.iter().chain(b).map(|d| d.radius);
    radii
        .map(|u| (u, at(b, u) - at(a, u)))
        .max_by(|x, y| x.1.abs().total_cmp(&y.1.abs()))
        .filter(|(_, by)| by.abs() > SAME_DEPTH)
}

/// The depth at a radius; zero outside the curve.
fn at(curve: &[Depth], u: f64) -> f64 {
    let i = curve.partition_point(|d| d.radius < u);
    let (Some(b), before) = (curve.get(i), i.checked_sub(1).and_then(|i| curve.get(i))) else { return 0.0 };
    match before {
        _ if b.radius == u => b.depth,
        Some(a) => a.depth + (b.depth - a.depth) * ((u - a.radius) / (b.radius - a.radius)),
        None => 0.0,
    }
}
