//! `facewright touch`: where a tool must touch if it is set right, and what it means where it touched.

use super::error::CliError;
use super::inputs::FILE;
use super::next::{self, Varied};
use super::survey::Format;
use super::{ledger, output};
use crate::face::touch_check::{self, Choice, Estimate, Found, Ground, TouchPoint};
use crate::gcode::{self, PlaceWords};
use crate::input::Input;
use crate::job::{Job, Tool};
use crate::ledger::{Stamp, Touch as Entry};
use crate::pipeline::{Loaded, PipelineError};
use crate::plan::touch_cost::{self, Decision};
use crate::plan::{Operation, Options, Plan};
use crate::report::touch_page::{self, Answer, Table};
use crate::units::{Length, MM_PER_INCH, for_shop};
use clap::Args;

/// Say where a tool must touch the face, and what it means where it did
///
/// Without readings: a table of places that tell most about the tool's offsets in X and Z and about how the wheel is seated. With
/// --read: by how much the tool stands off, how well that is known, what it would cost in metal and in damage that stays,
/// whether to go on or to set the tool anew, and what to enter. Exit code 1 where the answer is not "go". docs/touch.md
/// explains it by an example.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  facewright touch demo-data/job.yaml --tool 1")]
pub(super) struct Touch {
    /// The job file, or `-` for standard input
    #[arg(value_hint = FILE)]
    job: Input,
    /// The tool: its number, or its name in the shop file
    #[arg(long, value_name = "TOOL")]
    tool: String,
    #[command(flatten)]
    varied: Varied,
    /// The Z that the control showed at each place where the tool touched, in the order of the table
    #[arg(long, value_name = "Z,Z,Z", value_delimiter = ',', allow_hyphen_values = true)]
    read: Vec<String>,
    /// Touch at these X instead of the table's, as the control shows X
    #[arg(long, value_name = "X,X,X", value_delimiter = ',', allow_hyphen_values = true)]
    at: Vec<String>,
    /// Depth that an earlier program of this job has taken off already, such as 0.32mm; as the ledger holds it if left out
    #[arg(long, value_name = "DEPTH", value_parser = next::depth)]
    already: Option<Length>,
    /// Who touched it, for the ledger
    #[arg(long, value_name = "NAME", default_value = "")]
    by: String,
    /// Text for a person, or one JSON object (its shape: docs/touch.md)
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

impl Touch {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        let loaded = self.varied.load(&self.job)?;
        let inches = loaded.job().control.unit_word.is_inch();
        self.of(&loaded, inches).map_err(|error| error.for_shop(inches))
    }

    fn of(&self, loaded: &Loaded, inches: bool) -> Result<(), CliError> {
        let job = loaded.job();
        let surveyed = loaded.measure()?.survey()?;
        let options = Options {
            only: self.varied.only(None),
            already: loaded.already(self.already)?,
            ..Options::default()
        };
        let planned = surveyed.plan(options)?;
        let operation = self.operation(planned.plan())?;
        let tool = &operation.tool;
        let ground = operation.ground.as_ref().ok_or_else(|| nowhere(tool))?;
        let choice = self.places(job, operation, ground)?;
        let expected: Vec<f64> = choice.points.iter().map(|p| p.z).collect();
        let foreseen = touch_check::solve(ground, &choice.points, &expected, choice.tells).map_err(input)?;
        let places = choice.points.iter().map(|p| gcode::place_words(&job.control, tool, [p.at, p.z]));
        let places: Vec<PlaceWords> = places.collect::<Result<_, _>>().map_err(PipelineError::from)?;
        let words = gcode::touch_off_words(operation, job).map_err(PipelineError::from)?;
        let plan = planned.plan();
        let judge =
            |found: &Found| touch_cost::judge(job, &surveyed.survey().face().highest, found, plan.left);
        let table = Table {
            job,
            tool,
            words: &words,
            points: &choice.points,
            places: &places,
            foreseen: &foreseen,
            at_best: judge(&foreseen),
        };
        if self.read.is_empty() {
            return match self.format {
                Format::Text => output::print_text(&for_shop(touch_page::table(&table), inches)),
                Format::Json => output::print(output::json(&touch_page::json(&table, None))?.as_bytes()),
            };
        }
        let readings = self.readings(job, choice.points.len())?;
        let heights = heights(job, tool, &choice.points, &readings)?;
        let found = touch_check::solve(ground, &choice.points, &heights, choice.tells).map_err(input)?;
        let judged = judge(&found);
        let answer = Answer {
            readings: &readings,
            found: &found,
            judged,
            contact: plan.contact_if(found.z.value),
            correction: correction(job, tool, &choice.points, &heights, &found)?,
            entered: self.enter(loaded, tool, &found, judged.decision)?,
        };
        match self.format {
            Format::Text => {
                let text = touch_page::table(&table) + "\n" + &touch_page::answer(&table, &answer);
                output::print_text(&for_shop(text, inches))?;
            }
            Format::Json => {
                output::print(output::json(&touch_page::json(&table, Some(&answer)))?.as_bytes())?;
            }
        }
        match judged.decision {
            Decision::Go => Ok(()),
            against => Err(CliError::Refused(touch_page::verdict(against).to_owned())),
        }
    }

    /// The operation of the tool asked for.
    fn operation<'p>(&self, plan: &'p Plan) -> Result<&'p Operation, CliError> {
        let number = self.tool.trim_start_matches('T').parse::<u32>().ok();
        let is_it = |o: &&Operation| o.tool.name == self.tool || Some(o.tool.number) == number;
        plan.operations.iter().find(is_it).ok_or_else(|| {
            let known: Vec<String> =
                plan.operations.iter().map(|o| format!("{} `{}`", o.tool.number, o.tool.name)).collect();
            CliError::Input(format!(
                "the plan has no tool `{}`\n  to mend it: name one that it has: {}",
                self.tool,
                known.join(", ")
            ))
        })
    }

    /// The places of the table, or those that were asked for.
    fn places(&self, job: &Job, operation: &Operation, ground: &impl Ground) -> Result<Choice, CliError> {
        let tool = &operation.tool;
        if self.at.is_empty() {
            return operation.check.clone().ok_or_else(|| nowhere(tool));
        }
        let numbers = self.at.iter().map(|text| number(job, 'X', text));
        let points = numbers.map(|x| {
            let [at, _] = gcode::place_of(&job.control, tool, [x?, 0.0]).map_err(PipelineError::from)?;
            touch_check::point(ground, at, job.touching.repeats.as_mm()).ok_or_else(|| {
                CliError::Input(format!(
                    "at radius {at:.3} mm the tool meets nothing that was surveyed\n  to mend it: touch farther from the ends of the face"
                ))
            })
        });
        let points = points.collect::<Result<Vec<_>, CliError>>()?;
        Ok(Choice { points, tells: touch_check::Tells::All })
    }

    /// The readings as numbers of the control.
    fn readings(&self, job: &Job, places: usize) -> Result<Vec<f64>, CliError> {
        let read = self.read.iter().map(|text| number(job, 'Z', text)).collect::<Result<Vec<_>, _>>()?;
        if read.len() == places {
            return Ok(read);
        }
        Err(CliError::Input(format!(
            "{} readings for {places} places\n  to mend it: give one Z for each place of the table, in its order, or name the places with --at",
            read.len()
        )))
    }

    /// Enters the check in the shop's ledger; what became of that.
    fn enter(
        &self,
        loaded: &Loaded,
        tool: &Tool,
        found: &Found,
        decision: Decision,
    ) -> Result<Option<String>, CliError> {
        let both = |e: Estimate| [Length::mm(e.value), Length::mm(e.error)];
        let entry = Entry {
            tool: tool.name.clone(),
            error_x: found.x.map(both),
            error_z: both(found.z),
            note: touch_page::verdict(decision).split(':').next().unwrap_or_default().to_owned(),
        };
        let stamp = Stamp { at: ledger::now(), by: self.by.clone() };
        match loaded.record_touch(&entry, &stamp) {
            Ok(true) => Ok(Some("entered".into())),
            Ok(false) => Ok(None),
            // The answer stands without the ledger, and the wheel waits for it.
            Err(PipelineError::Ledger(why)) => Ok(Some(format!("not entered: {why}"))),
            Err(other) => Err(other.into()),
        }
    }
}

/// A coordinate as the control shows it: a bare number or a word in the control's unit, or a length with its unit.
fn number(job: &Job, axis: char, text: &str) -> Result<f64, CliError> {
    let text = text.trim();
    let bare =
        text.strip_prefix(axis).or_else(|| text.strip_prefix(axis.to_ascii_lowercase())).unwrap_or(text);
    let shown = bare.trim().parse::<f64>().ok().or_else(|| {
        let unit = if job.control.unit_word.is_inch() { MM_PER_INCH } else { 1.0 };
        bare.parse::<Length>().ok().map(|l| l.as_mm() / unit)
    });
    shown.filter(|n| n.is_finite()).ok_or_else(|| {
        CliError::Input(format!(
            "`{text}` is no {axis} that a control shows\n  to mend it: write the number as shown, in {}",
            if job.control.unit_word.is_inch() {
                format!("inches, such as {axis}-0.1616")
            } else {
                format!("millimetres, such as {axis}-4.105")
            }
        ))
    })
}

/// Heights of the front point that readings name, millimetres.
fn heights(
    job: &Job,
    tool: &Tool,
    points: &[TouchPoint],
    readings: &[f64],
) -> Result<Vec<f64>, PipelineError> {
    let height = |(_, z): (&TouchPoint, &f64)| Ok(gcode::place_of(&job.control, tool, [0.0, *z])?[1]);
    points.iter().zip(readings).map(height).collect()
}

/// The last place touched, as shown and as it is.
fn correction(
    job: &Job,
    tool: &Tool,
    points: &[TouchPoint],
    heights: &[f64],
    found: &Found,
) -> Result<[PlaceWords; 2], PipelineError> {
    let at = points.last().map_or(0.0, |p| p.at);
    let z = heights.last().copied().unwrap_or_default();
    let [by_x, by_z] = found.correction();
    let is = [at + by_x, z + by_z];
    Ok([gcode::place_words(&job.control, tool, [at, z])?, gcode::place_words(&job.control, tool, is)?])
}

fn nowhere(tool: &Tool) -> CliError {
    CliError::Input(format!(
        "no three places on sound metal tell how tool {} is set\n  to mend it: name places yourself with --at",
        tool.number
    ))
}

#[allow(clippy::needless_pass_by_value)] // As map_err wants it.
fn input(error: touch_check::TouchError) -> CliError {
    CliError::Input(error.to_string())
}
