//! A guess of a scan held against the reader: the traces that lines part, and what `write` would refuse.

use super::guess::{Guess, Trace, reach};
use super::reader;
use super::traces::Parted;
use super::trouble::shown;
use crate::diagnostics::InputError;
use crate::job::{Column, HeightSense, LengthUnit, Measured, Sensor, XMeaning};
use crate::units::Length;
use std::path::Path;

/// No number of x is greater where it is in millimetres or inches; wheels reach some 32 in across (common practice, no source).
const LARGEST: f64 = 1000.0;

/// The guess with the traces that the reader tells apart, or with what it says against the file.
pub(super) fn parted_by_lines(guess: Guess, bytes: &[u8], file: &Path) -> Guess {
    let Some(measured) = measured(&guess) else { return guess };
    if measured.columns.contains(&Column::Trace) {
        return guess;
    }
    match reader::parted(bytes, file, &measured) {
        Ok(parted) if !parted.is_empty() => {
            let half = if measured.x == XMeaning::Diameter { 0.5 } else { 1.0 };
            let as_written = half * measured.unit.as_mm();
            let traces = parted.into_iter().filter_map(|one| trace(one, as_written)).collect();
            Guess { traces, ..guess }
        }
        Ok(_) => {
            let refused = reader::read(bytes, file, &measured).err().map(|error| told(&error));
            Guess { refused, ..guess }
        }
        Err(error) => Guess { refused: Some(told(&error)), ..guess },
    }
}

fn trace(parted: Parted, as_written: f64) -> Option<Trace> {
    let angle = parted.angle.map(|(degrees, line)| {
        let whole = degrees.rem_euclid(360.0);
        (whole.to_string(), format!("above its readings stands `{}`", shown(line.as_bytes())))
    });
    // Radii were made millimetres; as they stand, to so many places that a rounding in between does not show.
    let stand = |x: f64| (x / as_written * 1e6).round() / 1e6;
    let reach = reach(parted.radii.into_iter().map(stand).collect())?;
    Some(Trace { name: parted.name, reach, angle })
}

/// A job that says of a scan what is guessed, and where nothing is, what reads most; none where the columns are not known.
fn measured(guess: &Guess) -> Option<Measured> {
    let (columns, _) = guess.columns.clone()?;
    let most = guess.reach.map_or(0.0, |[_, most, _]| most);
    let unit = guess.unit.as_ref().map(|(unit, _)| *unit);
    let small = if most > 2.0 * LARGEST { LengthUnit::Micrometre } else { LengthUnit::Millimetre };
    let unit = unit.unwrap_or(small);
    let across = if most * unit.as_mm() >= LARGEST { XMeaning::Diameter } else { XMeaning::Radius };
    Some(Measured {
        sensor: Sensor::Spot,
        x: guess.x.as_ref().map_or(across, |(x, _)| *x),
        unit,
        z_unit: guess.z_unit.as_ref().map(|(unit, _)| *unit),
        columns,
        z: guess.z.as_ref().map_or(HeightSense::Height, |(z, _)| *z),
        x_offset: Length::mm(0.0),
        filter: None,
        longest_gap: Length::mm(1.0),
        run_out: None,
        lines: Vec::new(),
        turn: Vec::new(),
        not_the_shops: None,
        said_in: Vec::new(),
    })
}

fn told(error: &InputError) -> String {
    let line = if error.line == 0 { String::new() } else { format!("line {}: ", error.line) };
    format!("{line}found {}; to mend it: {}", error.found, error.fix)
}
