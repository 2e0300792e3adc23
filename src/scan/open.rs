//! The scans of a job, read and cleaned side by side, and held against each other.

use super::ScanError;
use super::clean::{Cleaned, Cleaning, clean};
use super::copies::{self, Copy, Identity, Likeness};
use super::line::MeasuredLine;
use super::reader::{self, Scan};
use super::ring::{self, DIAL_NOISE, Headed, RingReadings};
use super::stated_angle;
use crate::diagnostics::InputError;
use crate::geometry::Point;
use crate::input;
use crate::job::{
    Column, LengthUnit, Measured, MeasuredAgain, NamedIn, RingSource, ScanLine, TurnReadings, XMeaning,
};
use crate::units::Length;
use rayon::prelude::*;
use std::fmt;
use std::path::PathBuf;

/// The measured lines of a job, in the job's order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeasuredLines {
    /// The lines, each with what cleaning found.
    pub lines: Vec<Cleaned>,
    /// Readings round the wheel.
    pub rings: Vec<RingReadings>,
    /// What stands against believing them.
    pub doubts: Vec<LineDoubt>,
    /// The lines measured again after passes were cut.
    pub again: Vec<Cleaned>,
}

impl MeasuredLines {
    /// Lines that are known as they stand: nothing was cleaned, nothing is in doubt.
    #[must_use]
    pub fn known(lines: Vec<MeasuredLine>) -> Self {
        let known = |line| Cleaned { line, cleaning: Cleaning::default() };
        Self { lines: lines.into_iter().map(known).collect(), ..Self::default() }
    }

    /// The lines that the face is fitted to.
    #[must_use]
    pub fn measured(&self) -> Vec<MeasuredLine> {
        self.lines.iter().map(|l| l.line.clone()).collect()
    }
}

/// Why a line is no measurement of the wheel at its angle.
#[derive(Debug, Clone, PartialEq)]
pub enum LineDoubt {
    /// Two lines are one.
    Copied {
        /// Which, and how that was found.
        copy: super::copies::Copy,
        /// The two files, the earlier line's first.
        files: [PathBuf; 2],
    },
    /// The sensor did not move.
    Stuck {
        /// The line, from zero.
        line: usize,
        /// Its file.
        file: PathBuf,
        /// Where, and at what height.
        held: super::held::Held,
    },
}

impl fmt::Display for LineDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Copied { copy, files: [first, second] } => {
                let what = match copy.how {
                    Likeness::SameFile => "are one and the same file".to_owned(),
                    Likeness::SameBytes => "hold the same bytes".to_owned(),
                    Likeness::SameReadings => "hold the same readings".to_owned(),
                    Likeness::Shifted { by } => {
                        format!("hold the same readings, the second's {by:+.4} mm along the radius")
                    }
                    Likeness::Rounded { to } => {
                        format!("hold the same readings, of one rounded to {to} mm")
                    }
                    Likeness::Tilted { by } => {
                        format!("hold the same readings, tilted by {:.1} um over 100 mm", by * 1e5)
                    }
                    Likeness::InPart(over) => {
                        format!("hold the same readings from {:.1} mm to {:.1} mm", over.from, over.to)
                    }
                };
                write!(f, "{} and {} {what}; two angles never read alike", first.display(), second.display())
            }
            Self::Stuck { file, held, .. } if held.dead => write!(
                f,
                "{}: the sensor is dead: {} readings from {:.1} mm to {:.1} mm stand at {:.4} mm, and no face is that even",
                file.display(),
                held.count,
                held.over.from,
                held.over.to,
                held.height
            ),
            Self::Stuck { file, held, .. } => {
                write!(
                    f,
                    "{}: the sensor did not move from {:.1} mm to {:.1} mm, {} readings of {:.4} mm",
                    file.display(),
                    held.over.from,
                    held.over.to,
                    held.count,
                    held.height
                )?;
                if held.flickers > 0.0 {
                    write!(f, " to {:.4} mm", held.height + held.flickers)
                } else {
                    Ok(())
                }
            }
        }
    }
}

/// Reads and cleans the scans of a job. The lines have nothing to do with each other until the face is fitted, so they are read and cleaned in parallel.
///
/// # Errors
/// Of every line whose file cannot be read or is no scan, in the job's order; of a reading round the wheel after them.
pub fn open_all(measured: &Measured) -> Result<MeasuredLines, ScanError> {
    let read: Vec<_> = measured.lines.par_iter().map(|line| read(line, measured)).collect();
    let (read, wrong): (Vec<_>, Vec<_>) = read.into_iter().partition(Result::is_ok);
    if let Some(error) = ScanError::of(wrong.into_iter().filter_map(Result::err).collect()) {
        return Err(error);
    }
    let read: Vec<Read> = read.into_iter().filter_map(Result::ok).collect();
    let of_files: Vec<(&Identity, &Scan)> = read.iter().map(|r| (&r.identity, &r.scan)).collect();
    let copies = copies::find(&of_files);
    let file = |line: usize| measured.lines.get(line).map_or_else(PathBuf::new, |l| l.file.clone());
    let copied = |copy: Copy| LineDoubt::Copied { copy, files: [file(copy.of), file(copy.line)] };
    let mut doubts: Vec<LineDoubt> = copies.into_iter().map(copied).collect();
    for (line, one) in read.iter().enumerate() {
        let held = one.cleaned.cleaning.held.iter();
        doubts.extend(held.map(|&held| LineDoubt::Stuck { line, file: file(line), held }));
    }
    let rings = measured.turn.iter().map(|t| readings_round(t, measured)).collect::<Result<_, _>>()?;
    let lines = read.into_iter().map(|r| r.cleaned).collect();
    Ok(MeasuredLines { lines, rings, doubts, again: Vec::new() })
}

/// Reads and cleans the first lines of a job and those measured again, and holds all of them against each other: a first line under
/// another name tells nothing of what was cut.
///
/// # Errors
/// As [`open_all`].
pub fn open_with_again(
    measured: &Measured,
    again: Option<&MeasuredAgain>,
) -> Result<MeasuredLines, ScanError> {
    let Some(again) = again else { return open_all(measured) };
    let lines = measured.lines.iter().chain(&again.lines).cloned().collect();
    let mut all = open_all(&Measured { lines, ..measured.clone() })?;
    all.again = all.lines.split_off(measured.lines.len().min(all.lines.len()));
    Ok(all)
}

struct Read {
    identity: Identity,
    scan: Scan,
    cleaned: Cleaned,
}

fn read(line: &ScanLine, measured: &Measured) -> Result<Read, ScanError> {
    let bytes = input::read(&line.file, input::LARGEST_SCAN).map_err(|source| ScanError::Unreadable {
        file: line.file.clone(),
        named: line.named.clone(),
        source,
    })?;
    let trace = line.trace.as_ref().map(|t| t.0.as_str());
    let scan = reader::read_trace(&bytes, &line.file, measured, trace)
        .map_err(|fault| named(fault, line.named.as_ref(), measured))?;
    if let Some(above) = scan.above {
        stated_angle::check(&bytes, &line.file, above, line.at)
            .map_err(|fault| named(fault, line.named.as_ref(), measured))?;
    }
    let first = scan.points.first().map(|p| (p.x, p.line));
    if let Some((x, at)) = first.filter(|(x, _)| scan.points.iter().all(|p| p.x == *x)) {
        return Err(named(no_line(line, x, at), line.named.as_ref(), measured).into());
    }
    Ok(Read {
        identity: Identity::of(&line.file, trace, &bytes),
        cleaned: clean(&scan, line.at.as_rad()),
        scan,
    })
}

/// A scan that is no line across the face.
fn no_line(scan: &ScanLine, x: f64, line: u32) -> InputError {
    InputError {
        file: scan.file.clone(),
        line: usize::try_from(line).unwrap_or(usize::MAX),
        column: 0,
        found: format!("a scan whose readings all stand at the radius {}", Length::mm(x)),
        expected: "a line across the face: x over more than one place".into(),
        fix: "check `columns` and `unit` in the job; x must run along the radius".into(),
        context: None,
    }
}

/// The fault with the line of the job that names the file, and with the places of the keys that it speaks of. Where the shop says one of
/// them, the scan may be another sensor's: then more than that key is its own.
fn named(fault: InputError, named: Option<&NamedIn>, measured: &Measured) -> InputError {
    let mut fault = match named {
        Some(named) => fault.named_in(&named.file, named.line),
        None => fault,
    };
    let spoken: Vec<_> = measured.said_in.iter().filter(|(key, _)| fault.speaks_of(key)).collect();
    let to_change =
        |key: &str| fault.fix.contains(&format!("`{key}: ")) || fault.fix.contains(&format!("make `{key}`"));
    let of_shop = |place: &NamedIn| named.is_some_and(|job| job.file != place.file);
    if spoken.iter().any(|(key, place)| of_shop(place) && to_change(key)) {
        fault.fix.push_str(MAY_BE_ANOTHERS);
    }
    spoken.into_iter().fold(fault, |fault, (key, place)| fault.said_in(key, &place.file, place.line))
}

/// What a person must know who corrects the shop's sensor in a job.
const MAY_BE_ANOTHERS: &str = "; where the shop's sensor measured it all the same, name that under `measured` too, by `sensor`; where another did, write what is its own there, `x_offset` above all";

/// The fault of a scan round the wheel: no key of the job says which of its columns holds what.
fn of_ring(fault: InputError) -> InputError {
    let fix = "keep the columns of angle (degrees) and height alone, in this order, or put a line over them that names both, such as `Angle (deg);Height (mm)`";
    if fault.speaks_of("columns") { InputError { fix: fix.into(), ..fault } } else { fault }
}

/// The readings of one ring, from the job or from its file.
fn readings_round(turn: &TurnReadings, measured: &Measured) -> Result<RingReadings, ScanError> {
    let radius = turn.at.as_mm();
    match &turn.source {
        RingSource::Dial { every, reads } => {
            let at = |(i, z): (usize, &Length)| (every.as_rad() * i as f64, z.as_mm());
            Ok(RingReadings {
                radius,
                heights: reads.iter().enumerate().map(at).collect(),
                noise: DIAL_NOISE,
            })
        }
        RingSource::Scan { file, named: job } => {
            let bytes = input::read(file, input::LARGEST_SCAN).map_err(|source| ScanError::Unreadable {
                file: file.clone(),
                named: job.clone(),
                source,
            })?;
            let headed = ring::headed(&bytes, file).map_err(|fault| named(fault, job.as_ref(), measured))?;
            let headed =
                headed.unwrap_or_else(|| Headed { columns: vec![Column::X, Column::Z], ..Headed::default() });
            // Angles are degrees, which the reader of radii takes as they are.
            let columns = Measured {
                x: XMeaning::Radius,
                unit: LengthUnit::Millimetre,
                z_unit: Some(headed.unit.or(measured.z_unit).unwrap_or(measured.unit)),
                z: headed.z.unwrap_or(measured.z),
                columns: headed.columns,
                x_offset: Length::mm(0.0),
                ..measured.clone()
            };
            let scan = reader::read_round(&bytes, file, &columns)
                .map_err(|fault| named(of_ring(fault), job.as_ref(), measured))?;
            let heights: Vec<(f64, f64)> = scan.points.iter().map(|p| (p.x.to_radians(), p.z)).collect();
            let noise = super::noise::sigma(scan.points.iter().map(|p| Point::new(p.x, p.z)));
            Ok(RingReadings { radius, heights, noise })
        }
    }
}
