//! The picture of docs/fair.md: the curvature of a path without tangents that agree, and with them, over one measured face.
//!
//! `DOCS_UPDATE=1 cargo test --test all fit::picture` draws it anew.

use super::from_readings::{ZONE, dish, survey_of};
use crate::fixtures::demo;
use facewright::fit::{ArcForm, ArcLimits, ArcRule, Tube, fit};
use facewright::geometry::joint::joints;
use facewright::geometry::{Curve, Grid, Piece, Turn, envelope};
use std::f64::consts::PI;
use std::fmt::Write as _;

const FILE: &str = "docs/fair-curvature.svg";

/// Width and height of a panel, and the room around it, in pixels.
const PANEL: [f64; 2] = [800.0, 170.0];
const AROUND: [f64; 2] = [70.0, 40.0];

/// The greatest curvature that is drawn, 1/m, and the greatest joint, degrees.
const CURVATURES: f64 = 10.0;
const JOINTS: f64 = 0.5;

fn curvature(piece: &Piece) -> f64 {
    match piece {
        Piece::Line(_) => 0.0,
        Piece::Arc(arc) if arc.turn == Turn::Clockwise => -1000.0 / arc.radius(),
        Piece::Arc(arc) => 1000.0 / arc.radius(),
    }
}

/// One panel: curvature as steps, every joint over 0.05° as a bar as high as it turns.
fn panel(svg: &mut String, top: f64, title: &str, path: &Curve) {
    let [width, height] = PANEL;
    let x = |r: f64| AROUND[0] + (r - ZONE[0]) / (ZONE[1] - ZONE[0]) * width;
    let y = |c: f64| top + height * 0.5 * (1.0 - c.clamp(-CURVATURES, CURVATURES) / CURVATURES);
    let base = top + height;
    let _ = writeln!(svg, r#"<text x="{:.1}" y="{:.1}" class="title">{title}</text>"#, AROUND[0], top - 10.0);
    let _ = writeln!(
        svg,
        r#"<rect x="{:.1}" y="{top:.1}" width="{width:.1}" height="{height:.1}" class="frame"/>"#,
        AROUND[0]
    );
    for c in [-CURVATURES, 0.0, CURVATURES] {
        let (l, r, y) = (AROUND[0], AROUND[0] + width, y(c));
        let _ = writeln!(svg, r#"<path d="M{l:.1} {y:.1}H{r:.1}" class="grid"/>"#);
        let _ = writeln!(svg, r#"<text x="{:.1}" y="{:.1}" class="left">{c:.0}</text>"#, l - 6.0, y + 4.0);
    }
    for r in [80, 100, 120, 140, 160, 180, 200] {
        let at = x(f64::from(r));
        let _ = writeln!(svg, r#"<text x="{at:.1}" y="{:.1}" class="under">{r}</text>"#, base + 16.0);
    }
    for joint in joints(path.pieces()).iter().filter(|j| j.turn.abs().to_degrees() > 0.05) {
        let tall = (joint.turn.abs().to_degrees() / JOINTS).min(1.0) * height;
        let _ = writeln!(svg, r#"<path d="M{:.1} {base:.1}v{:.1}" class="joint"/>"#, x(joint.at.x), -tall);
    }
    let mut steps = String::new();
    for (i, piece) in path.pieces().iter().enumerate() {
        let (from, to, c) = (x(piece.from().x), x(piece.to().x), y(curvature(piece)));
        let _ = write!(steps, "{}{from:.1} {c:.1}H{to:.1}", if i == 0 { "M" } else { "L" });
    }
    let _ = writeln!(svg, r#"<path d="{steps}" class="curvature"/>"#);
}

#[test]
fn curvature_before_and_after() {
    let survey = survey_of(dish, 11);
    let tool = demo::job().tools[1].outline();
    let exact = envelope::dilate(&survey.face().highest, &tool, ZONE).expect("the tool meets the face");
    let limits = ArcLimits {
        room: None,
        turn: None,
        min_radius: 0.1,
        max_radius: 5000.0,
        end_tolerance: 0.002,
        form: ArcForm::Centre { step: 0.001 },
    };
    let tube = Tube {
        tolerance: 0.005,
        grid: Grid { dx: 0.0005, dz: 0.001, x0: 0.0, z0: 0.0 },
        arcs: ArcRule::Allowed(limits),
        tangent_jump: PI,
        breaks: &[],
        doubted: &[],
    };
    let fitted = |tangent_jump| fit(&exact, &Tube { tangent_jump, ..tube }).unwrap_or_else(|e| panic!("{e}"));
    let (before, after) = (fitted(PI), fitted(1f64.to_radians()));
    let greatest =
        |path: &Curve| joints(path.pieces()).iter().map(|j| j.turn.abs()).fold(0.0, f64::max).to_degrees();
    assert!(
        greatest(&before) > 0.1 && greatest(&after) < 0.05,
        "{} and {}",
        greatest(&before),
        greatest(&after)
    );
    let title = |name: &str, path: &Curve| {
        format!("{name}: {} pieces, joints to {:.2}°", path.pieces().len(), greatest(path))
    };
    let second = AROUND[1] + PANEL[1] + 60.0;
    let [width, height] = [PANEL[0] + 2.0 * AROUND[0], second + PANEL[1] + 50.0];
    let mut svg = format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0} {height:.0}" role="img" aria-label="Curvature of a path over the radius, without and with tangents that agree">
<style>text{{font:13px sans-serif;fill:#222}}.title{{font-weight:bold}}.left{{text-anchor:end}}.under{{text-anchor:middle}}.frame{{fill:#fff;stroke:#999}}.grid{{stroke:#ddd;fill:none}}.curvature{{stroke:#0072b2;stroke-width:1.8;fill:none}}.joint{{stroke:#d55e00;stroke-width:2;stroke-dasharray:3 2}}</style>
<rect width="{width:.0}" height="{height:.0}" fill="#fff"/>
"##
    );
    panel(&mut svg, AROUND[1], &title("Fewest pieces", &before), &before);
    panel(&mut svg, second, &title("Fair", &after), &after);
    let _ = writeln!(
        svg,
        r#"<text x="{:.1}" y="{:.1}">radius, mm; curvature, 1/m (line); joints over 0.05° (dashed bars, full height 0.5°)</text>
</svg>"#,
        AROUND[0],
        height - 14.0
    );
    if std::env::var_os("DOCS_UPDATE").is_some() {
        std::fs::write(FILE, &svg).expect(FILE);
    }
    assert_eq!(std::fs::read_to_string(FILE).expect(FILE), svg, "{FILE} is not what is drawn today");
}
