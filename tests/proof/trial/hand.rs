//! A program as a careful hand would write it, over a face whose right paths have a closed form: flat, then a crown of one radius.

use super::Case;
use crate::fixtures::face::profile;
use crate::fixtures::job::{job, mm};
use facewright::face::Face;
use facewright::job::{Job, KeepOut, Tool};
use std::fmt::Write;

/// Radius of the crown, its beginning, the zone and the face's ends, millimetres.
const CROWN: f64 = 300.0;
const BEGINS: f64 = 80.0;
const ZONE: [f64; 2] = [60.0, 105.0];
const ENDS: [f64; 2] = [52.0, 112.0];

/// Height of the face.
fn height(x: f64) -> f64 {
    let dx = (x - BEGINS).max(0.0);
    (CROWN * CROWN - dx * dx).sqrt() - CROWN
}

pub fn case() -> Case {
    let mut job = job(3, 1, ZONE[0], ZONE[1]);
    job.keep_out.push(KeepOut::rectangle("tyre", [mm(116.0), mm(200.0)], [mm(-60.0), mm(1.0)]));
    let points: Vec<(f64, f64)> =
        (0..=1200).map(|k| ENDS[0] + 0.05 * f64::from(k)).map(|x| (x, height(x))).collect();
    let highest = profile(&points);
    let damage = highest.map(|p| if (90.0..95.0).contains(&p.x) { 0.1 } else { 0.0 });
    let face =
        Face { lowest: highest.raised(-0.25), damage, highest, errors: None, followed: None, taken: None };
    let text = program(&job);
    Case { name: "by hand".to_owned(), text, before: Vec::new(), already: mm(0.0), goes_on: false, job, face }
}

/// Where the nose runs at a depth: front points of start, of the flat's end and of the crown's end.
fn stations(tool: &Tool, depth: f64) -> [(f64, f64); 3] {
    let r = tool.nose_radius.as_mm();
    // At the zone's ends the nose just meets the corner of the face that stays.
    let inside = (r * r - (r - depth).powi(2)).max(0.0).sqrt();
    let front =
        |angle: f64| (BEGINS + (CROWN + r) * angle.sin(), (CROWN + r) * angle.cos() - CROWN - r - depth);
    let corner = (ZONE[1], height(ZONE[1]));
    let (mut low, mut high) = (0.0, ((ZONE[1] - BEGINS) / CROWN).asin());
    for _ in 0..60 {
        let angle = f64::midpoint(low, high);
        let (x, z) = front(angle);
        let clear = (corner.0 - x).hypot(corner.1 - z - r) >= r;
        if clear { low = angle } else { high = angle }
    }
    [(ZONE[0] + inside, -depth), (BEGINS, -depth), front(low)]
}

fn up(v: f64) -> f64 {
    (v * 1000.0 - 1e-6).ceil() / 1000.0
}

fn program(job: &Job) -> String {
    let mut n = 0;
    let mut text = String::from("%\r\n");
    let mut say = |block: &str| {
        n += 10;
        let _ = write!(text, "N{n} {block}\r\n");
    };
    say("G18 G40 G71 G90 G95 G97 M05 (SAFE START)");
    let pass = |say: &mut dyn FnMut(&str), tool: &Tool, depth: f64, lift: f64, feed: f64| {
        let [start, flat, end] = stations(tool, depth);
        let r = tool.nose_radius.as_mm();
        let z = up(start.1 + lift);
        let (ex, ez) = (up(end.0) - 0.001, up(end.1 + lift));
        say(&format!("G00 X{:.3}", 2.0 * up(start.0)));
        say(&format!("G00 Z{:.3}", lift.max(0.0) + 3.5));
        say(&format!("G01 Z{z:.3} F{feed:.3}"));
        say(&format!("G01 X{:.3}", 2.0 * flat.0));
        say(&format!("G03 X{:.3} Z{ez:.3} I0.000 K{:.3}", 2.0 * ex, -(CROWN + r)));
        say(&format!("G01 Z{:.3}", lift.max(0.0) + 3.5));
        say("G00 Z20.000");
    };
    say("T0101");
    say("G00 Z250.000");
    say("G92 S700");
    say("G96 S280 M03");
    pass(&mut say, &job.tools[0], 0.1, 1.0, 0.2);
    for block in ["M05", "M00 (LOOK)", "M03"] {
        say(block);
    }
    for k in 1..=3 {
        pass(&mut say, &job.tools[0], 0.1 * f64::from(k), 0.0, 0.2);
        for block in ["M05", "M01", "M03"] {
            say(block);
        }
    }
    for block in ["G97 S300", "G00 X660.000", "G00 Z250.000", "M05", "T0202", "M00 (TOUCH OFF)", "T0202"] {
        say(block);
    }
    for block in ["G00 Z250.000", "G96 S220 M03"] {
        say(block);
    }
    pass(&mut say, &job.tools[1], 0.35, 1.0, 0.1);
    for block in ["M05", "M00 (LOOK)", "M03"] {
        say(block);
    }
    pass(&mut say, &job.tools[1], 0.35, 0.0, 0.1);
    for block in ["G97 S300", "G00 X660.000", "G00 Z250.000", "M05", "M30"] {
        say(block);
    }
    text.push_str("%\r\n");
    text
}
