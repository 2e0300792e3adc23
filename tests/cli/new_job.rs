//! A new job under a shop file, held against what the scans say of themselves.

use super::journeys::{Bench, text};
use std::fs;

/// A bench whose shop describes its only sensor so.
fn with_sensor(sensor: &str) -> Bench {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    bench.put("shop.yaml", &format!("{shop}\nsensors: {{ probe: {{ kind: spot, {sensor} }} }}\n"));
    bench
}

/// Headings that contradict the shop's sensor are written into the job, which `write` would refuse without them; what they leave to the
/// shop stays with it. The ring to cut is guessed as they say.
#[test]
fn headings_correct_the_shops_sensor_for_the_job() {
    for (sensor, header, keys, zone) in [
        (
            "columns: [x, z], x: diameter, unit: mm, z: height",
            "radius_mm;height_um",
            &["x: radius", "z_unit: um"][..],
            "from: 81 mm, to: 119 mm",
        ),
        (
            "columns: [x, z], x: radius, unit: inch, z: height",
            "radius_mm;distance_mm",
            &["unit: mm", "z: distance"],
            "from: 81 mm, to: 119 mm",
        ),
        (
            "columns: [z, x], x: radius, unit: mm, z: height",
            "Radius (mm);Height (mm)",
            &["columns: [x, z]"],
            "from: 81 mm, to: 119 mm",
        ),
        ("columns: [x, z], x: diameter, unit: mm, z: height", "x;z", &[], "from: 41 mm, to: 59 mm"),
        (
            "columns: [x, z], x: radius, unit: mm, z: height",
            "radius_mm;height_mm",
            &[],
            "from: 81 mm, to: 119 mm",
        ),
    ] {
        let bench = with_sensor(sensor);
        bench.put("s.csv", &format!("{header}\n80;1.5\n100;2\n120;1\n"));
        let made = bench.run(&["new", "s.csv", "-o", "new.yaml"]);
        assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
        let job = fs::read_to_string(bench.path("new.yaml")).expect("written");
        let written: Vec<&str> =
            job.lines().map(|l| l.split('#').next().unwrap_or_default().trim()).collect();
        for key in keys {
            assert!(written.contains(key), "{header}: no `{key}` in\n{job}");
        }
        for key in ["x: ", "unit: ", "z_unit: ", "z: ", "columns: "] {
            let expected = keys.iter().any(|k| k.starts_with(key));
            assert_eq!(written.iter().any(|l| l.starts_with(key)), expected, "{header}: {key}\n{job}");
        }
        assert!(job.contains(zone), "{header}: {job}");
        let told = text(&made.stdout);
        assert!(told.contains("shop     shop.yaml"), "{told}");
    }
}

/// A number in a name is an angle only where those of all files are spread over the turn.
#[test]
fn a_number_in_a_name_is_an_angle_only_beside_others() {
    let bench = Bench::new();
    let scan = "x;z\n80;1\n81;2\n82;1\n";
    let angles = |names: &[&str]| {
        for name in names {
            let above = if name.starts_with("said") { "Angle: 100\n" } else { "" };
            bench.put(name, &[above, scan].concat());
        }
        let job = text(&bench.run(&[&["new", "-o", "-"], names].concat()).stdout);
        let at = |line: &str| Some(line.split_once(", at: ")?.1.split_once(" deg")?.0.to_owned());
        job.lines().filter_map(at).collect::<Vec<_>>()
    };
    assert_eq!(angles(&["s-000.csv", "s-120.csv", "s-240.csv"]), ["0", "120", "240"]);
    assert_eq!(angles(&["0.csv", "q1.txt", "144.csv", "216.csv", "288.csv"]), ["____"; 5]);
    assert_eq!(angles(&["0.csv", "q.txt", "144.csv", "216.csv", "288.csv"]), ["____"; 5]);
    assert_eq!(angles(&["1.csv", "2.csv", "3.csv"]), ["____"; 3]);
    assert_eq!(angles(&["10.csv", "20.csv", "30.csv"]), ["____"; 3]);
    assert_eq!(angles(&["s-000.csv", "said.csv", "s-240.csv"]), ["0", "100", "240"]);
    assert_eq!(angles(&["q1.txt", "said.csv", "q2.csv"]), ["____", "100", "____"]);
}

/// A summary below the readings is no trace, and does not hide those that there are.
#[test]
fn a_summary_below_does_not_hide_the_traces() {
    let bench = Bench::new();
    let rows = |angle: u32| {
        (0..6).map(|i| format!("a,{},{},{angle}\n", 70 + 20 * i, i % 3)).collect::<Vec<_>>().concat()
    };
    let all = ["Name,Radius (mm),Height (mm),Angle (deg)\n", &[0, 120, 240].map(rows).concat()].concat();
    for below in ["min,70,-0.5,0\n", "mean,120.0,1,120\nmax,170,2,240\n"] {
        bench.put("all.csv", &[&all, below].concat());
        let job = text(&bench.run(&["new", "all.csv", "-o", "-"]).stdout);
        for angle in ["0", "120", "240"] {
            let line = format!("- {{ file: all.csv, trace: {angle}, at: {angle} deg }}");
            assert!(job.contains(&line), "{below}: {job}");
        }
    }
}
