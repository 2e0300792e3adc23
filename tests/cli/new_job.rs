//! A new job under a shop file, held against what the scans say of themselves.

use super::journeys::{Bench, text};

/// A summary below the readings is no trace, and does not hide those that there are.
#[test]
fn a_summary_below_does_not_hide_the_traces() {
    let bench = Bench::new();
    let rows =
        |angle: u32| (0..6).map(|i| format!("a,{},{},{angle}\n", 70 + 20 * i, i % 3)).collect::<String>();
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
