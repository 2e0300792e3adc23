//! Measurements that cannot be believed: whatever the wheel, nothing may be cut after them.

use super::hand::Way;
use super::judge;
use super::seeds;
use super::trial::{Ask, Trial};
use super::wheel::Damage;

/// Spoils a trial and tells every seed whose survey would still be cut.
fn refused(family: u64, few: u64, ask: Ask, spoil: impl Fn(&mut Trial)) {
    let cut: Vec<String> = seeds(family, few)
        .filter_map(|seed| {
            let mut trial = Trial::of(seed, ask);
            spoil(&mut trial);
            let survey = trial.survey().ok()?;
            (!judge::stands(&survey)).then(|| format!("seed {seed}: {}", judge::words(&survey)))
        })
        .collect();
    assert!(cut.is_empty(), "cut all the same:\n{}", cut.join("\n"));
}

const FIVE: Ask =
    Ask { lines: 5, plain: false, rash: false, listed: false, hidden_bend: false, well_measured: false };

#[test]
fn one_scan_under_all_names_is_refused() {
    refused(50, 2, FIVE, |trial| {
        let first = trial.lines[0].clone();
        for line in &mut trial.lines {
            (line.rows, line.style) = (first.rows.clone(), first.style);
        }
    });
}

#[test]
fn one_scan_twice_among_others_is_refused() {
    refused(51, 2, FIVE, |trial| {
        trial.lines[3].rows = trial.lines[1].rows.clone();
        trial.lines[3].style = trial.lines[1].style;
    });
}

/// Written by another program, with other separators, the readings are the same.
#[test]
fn a_copy_written_otherwise_is_a_copy() {
    refused(52, 2, FIVE, |trial| {
        trial.lines[3].rows = trial.lines[1].rows.clone();
        trial.lines[3].style.separator = if trial.lines[1].style.separator == ';' { ',' } else { ';' };
        trial.lines[3].style.header = !trial.lines[1].style.header;
    });
}

/// Backward, with some readings left out, or zeroed anew: nobody measures the same noise twice.
#[test]
fn a_copy_backward_is_a_copy() {
    refused(53, 2, FIVE, |trial| {
        trial.lines[2].rows = trial.lines[0].rows.iter().rev().copied().collect();
    });
}

#[test]
fn a_copy_with_readings_left_out_is_a_copy() {
    refused(54, 2, FIVE, |trial| {
        let mut i = 0;
        trial.lines[2].rows = trial.lines[0].rows.clone();
        trial.lines[2].rows.retain(|_| {
            i += 1;
            i % 3 != 0
        });
    });
}

#[test]
fn a_copy_zeroed_anew_is_a_copy() {
    refused(55, 2, FIVE, |trial| {
        trial.lines[2].rows = trial.lines[0].rows.iter().map(|&(r, z)| (r, z.map(|z| z + 0.0125))).collect();
    });
}

/// A face read upside down: its damage stands up, or its listed damage is no dip.
#[test]
fn distance_called_height_is_refused() {
    let ask = Ask { lines: 5, listed: true, ..Ask::default() };
    refused(56, 2, ask, |trial| {
        if trial.wheel.damage.is_empty() {
            let middle = f64::midpoint(trial.zone[0], trial.zone[1]);
            trial.wheel.damage.push(Damage::Scrape {
                from: middle - 6.0,
                to: middle + 6.0,
                middle: trial.lines[0].angle,
                half_angle: 0.4,
                depth: 0.3,
                lean: 1.0,
            });
            trial.remeasure();
            trial.listed = vec![super::trial::Listed { stretch: [middle - 7.0, middle + 7.0], depth: 0.3 }];
        }
        for line in &mut trial.lines {
            line.rows.iter_mut().for_each(|row| row.1 = row.1.map(|z| -z));
        }
    });
}

/// A scrape that several lines cross stands up on all of them where the face is read upside down: that they agree does not make
/// it the wheel.
#[test]
fn distance_called_height_with_a_scrape_over_several_lines_is_refused() {
    let ask = Ask { lines: 8, plain: true, ..Ask::default() };
    refused(60, 3, ask, |trial| {
        let to = trial.zone[1] - 8.0;
        trial.wheel.damage.push(Damage::Scrape {
            from: to - 6.0,
            to,
            middle: trial.lines[1].angle,
            half_angle: 2.0,
            depth: 0.3,
            lean: 1.0,
        });
        trial.remeasure();
        for line in &mut trial.lines {
            line.rows.iter_mut().for_each(|row| row.1 = row.1.map(|z| -z));
        }
    });
}

/// Heights beyond the sensor's range are written as its end on every line: a part of the zone was never measured.
#[test]
fn readings_at_the_end_of_the_range_on_all_lines_are_refused() {
    refused(57, 2, FIVE, |trial| {
        let radii = trial.radii();
        let mut heights: Vec<f64> = radii.iter().map(|&r| trial.wheel.profile(r)).collect();
        heights.sort_by(f64::total_cmp);
        // A tenth of the zone lies beyond, and by some tenths of a millimetre at least.
        let end = heights[heights.len() * 9 / 10];
        let beyond = heights[heights.len() - 1] - end;
        let end = if beyond < 0.3 { heights[heights.len() - 1] - 0.3 } else { end };
        for line in &mut trial.lines {
            line.sensor.range = [-1e4, end];
        }
        trial.remeasure();
    });
}

/// A sensor that stuck over a stretch on every line has not measured it.
#[test]
fn a_sensor_stuck_on_all_lines_is_refused() {
    refused(58, 2, FIVE, |trial| {
        let at = f64::midpoint(trial.zone[0], trial.zone[1]);
        for line in &mut trial.lines {
            line.hand.way = Way::Out;
            line.sensor.stuck = Some([at, at + 14.0]);
        }
        trial.remeasure();
    });
}

/// A stretch that no line saw is asked about.
#[test]
fn a_stretch_without_any_line_is_refused() {
    refused(59, 2, FIVE, |trial| {
        let at = f64::midpoint(trial.zone[0], trial.zone[1]);
        for line in &mut trial.lines {
            line.rows.iter_mut().filter(|row| row.0 > at && row.0 < at + 6.0).for_each(|row| row.1 = None);
        }
    });
}
