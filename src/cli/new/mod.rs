//! `facewright new`: a job file from scans, and a shop file to fill in.

mod another;
mod ask;
mod page;
mod said;

use super::destination::Destination;
use super::error::CliError;
use super::inputs::{self, FILE};
use super::output;
use crate::diagnostics::text::visible_lines;
use crate::input::Input;
use crate::job::{BLANK, ShopSays, keys, nearest_shop, shop_says};
use crate::report::keys::{Known, form_to_fill_in};
use crate::scan::guess::Guess;
use another::Another;
use clap::Args;
use page::{Shop, job, job_in_inches};
use said::{agreed, hear_names, read, sensor};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Write a job file from scans, and a shop file where there is none
///
/// What the scans say is taken over, each with its reason in a comment; what only a person can say is left as a blank, `____`, and
/// `write` names every blank that is left. A shop file is looked for in the job's folder and above it; where there is none, one is
/// written beside the job, to be filled in once for all jobs. Nothing that is there is ever replaced. At a terminal each blank of
/// the job is asked for; Enter leaves it.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  facewright new demo-data/scan-000.csv demo-data/scan-120.csv demo-data/scan-240.csv -o -\n  facewright new --shop --inch -o -"
)]
pub(super) struct New {
    /// The scans of one wheel, one for each line; `-` for standard input
    #[arg(required_unless_present = "shop", value_hint = FILE)]
    scans: Vec<Input>,
    /// Write a shop file alone; with scans, its sensor is described as they show it
    #[arg(long)]
    shop: bool,
    /// Ask in inches, and give examples in inches; else as the shop's control counts, or the scans do
    #[arg(long)]
    inch: bool,
    /// Where the file goes, `-` for standard output; job.yaml or shop.yaml if left out
    #[arg(short, long, value_name = "FILE", value_hint = FILE)]
    output: Option<Destination>,
}

const SHOP_HEAD: &str = "# What the workshop has, once for all jobs. A ____ is a blank: fill it in. Millimetres and inches may be mixed: 1.2 mm, 0.05 in.\n# Measure your own machine, and read your own control's manual; docs/keys.md tells every key, and `facewright explain KEY` one.\n";

impl New {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        inputs::standard_once(self.scans.iter().map(Some))?;
        let name = if self.shop { "shop.yaml" } else { "job.yaml" };
        let out = self.output.clone().unwrap_or_else(|| Destination::File(name.into()));
        // Nobody shall answer questions for a file that cannot be written.
        if let Some(out) = out.file().filter(|out| out.exists()) {
            return Err(is_there(out));
        }
        if self.shop {
            return self.shop_alone(out.file());
        }
        let folder = out.file().and_then(Path::parent).unwrap_or(Path::new("")).to_owned();
        let shop = nearest_shop(&folder.join("job.yaml"));
        let says = match &shop {
            Some(file) => shop_says(file).map_err(CliError::Faults)?,
            None => of_new_shop(),
        };
        let mut guesses = self.guesses(&says)?;
        let another = Another::than(&says, &guesses);
        let says = match &another {
            // What the shop's sensor says does not hold for the scans of another.
            Some(_) => ShopSays { sensor: Vec::new(), ..says },
            None => says,
        };
        if another.is_some() {
            guesses = self.guesses(&says)?;
        }
        let names: Vec<String> = self.scans.iter().map(|scan| from_folder(scan, &folder)).collect();
        let inches = self.inch || says.inches.unwrap_or_else(|| are_in_inches(&guesses));
        let says = ShopSays { inches: Some(inches), ..says };
        let text =
            job(&names, &guesses, &Shop { file: shop.as_deref(), says: &says, another: another.as_ref() });
        let text = if inches { job_in_inches(&text) } else { text };
        let text = match out.file() {
            Some(out) if ask::at_terminal() => ask::at_the_terminal(&text, out)?,
            _ => text,
        };
        let cautions = cautions(&names, &guesses, another.as_ref());
        let Some(out) = out.file() else {
            print_file(&text)?;
            return output::tell(&cautions);
        };
        let (job, job_blanks) = (out.to_owned(), lines_with_blanks(&text));
        let job_told = written(&job, job_blanks);
        let (told, shop) = if let Some(shop) = shop {
            create(&[(job.clone(), text)])?;
            let taken = format!("shop     {}: taken for what the job leaves out\n", shop.display());
            (job_told + &taken + &cautions, (shop, says.blanks))
        } else {
            let (shop, form) = (folder.join("shop.yaml"), self.form(&guesses, inches));
            let blanks = lines_with_blanks(&form);
            // The shop's first: where only one can be put in its place, the next job takes it.
            create(&[(shop.clone(), form), (job.clone(), text)])?;
            (job_told + &cautions + &written(&shop, blanks), (shop, blanks))
        };
        output::print_text(&(told + &next(out, &[(job, job_blanks), shop])))
    }

    /// A shop file alone.
    fn shop_alone(&self, out: Option<&Path>) -> Result<(), CliError> {
        let guesses = self.guesses(&of_new_shop())?;
        let inches = self.inch || are_in_inches(&guesses);
        let text = self.form(&guesses, inches);
        let Some(out) = out else { return print_file(&text) };
        let blanks = lines_with_blanks(&text);
        create(&[(out.to_owned(), text)])?;
        let next = "next     fill in its blanks; then make a job with `facewright new SCAN...`\n";
        output::print_text(&(written(out, blanks) + next))
    }

    fn guesses(&self, says: &ShopSays) -> Result<Vec<Guess>, CliError> {
        let mut guesses: Vec<Guess> =
            self.scans.iter().map(|scan| read(scan, says)).collect::<Result<_, _>>()?;
        hear_names(&mut guesses);
        Ok(guesses)
    }

    /// A shop file to fill in, its sensor as the scans show it.
    fn form(&self, guesses: &[Guess], inches: bool) -> String {
        let mut known: Known = sensor(guesses);
        if self.inch {
            known.insert(("ControlFile", "units"), ("inch".to_owned(), "as `--inch` says".to_owned()));
        }
        if inches {
            let step = "smallest step of a coordinate word; such as 0.0001 in";
            known.insert(("ControlFile", "resolution"), (format!("{BLANK} in"), step.to_owned()));
        }
        SHOP_HEAD.to_owned() + &form_to_fill_in(&keys::SHOP, &known, inches)
    }
}

/// Whether all scans say that they are in a unit of inches.
fn are_in_inches(guesses: &[Guess]) -> bool {
    agreed(guesses, |g| g.unit.as_ref()).is_some_and(|(unit, _)| unit.is_of_inch())
}

/// What a person must know before using the job file.
fn cautions(names: &[String], guesses: &[Guess], another: Option<&Another>) -> String {
    let refused = page::refused(names, guesses)
        .map(|(name, refused)| format!("{name} cannot be read as it is guessed: {refused}"));
    let another = another.into_iter().flat_map(|another| [another.told(), another.places()]);
    refused.chain(another).fold(String::new(), |all, caution| all + "caution  " + &caution + "\n")
}

/// What the shop file that is written beside the job will say.
fn of_new_shop() -> ShopSays {
    let keys = ["kind", "x", "unit", "z_unit", "columns", "z", "x_offset", "longest_gap"];
    ShopSays {
        sensors: vec!["probe".to_owned()],
        sensor: keys.map(|key| (key.to_owned(), BLANK.to_owned())).to_vec(),
        inches: None,
        run_out: true,
        angles: 0,
        schedules: vec!["kerbside".to_owned()],
        program_number: None,
        blanks: 0,
    }
}

/// The name of a scan as a job file in a folder gives it: a blank for one that came from standard input, and whose file a person
/// must name.
fn from_folder(scan: &Input, folder: &Path) -> String {
    let Some(scan) = scan.file() else { return BLANK.to_owned() };
    let name = match scan.strip_prefix(folder) {
        Ok(inside) => inside.to_owned(),
        Err(_) => std::path::absolute(scan).unwrap_or_else(|_| scan.to_owned()),
    };
    name.to_string_lossy().into_owned()
}

fn is_there(path: &Path) -> CliError {
    CliError::Input(format!(
        "{}: there is a file of this name, and it is never replaced\n  to mend it: name another with -o FILE",
        path.display()
    ))
}

/// Writes new files, all of them whole; one that is there stays.
fn create(files: &[(PathBuf, String)]) -> Result<(), CliError> {
    let files: Vec<(PathBuf, &[u8])> =
        files.iter().map(|(path, text)| (path.clone(), text.as_bytes())).collect();
    output::create_files(&files).map_err(|error| match error {
        CliError::File { path, source, .. } if source.kind() == ErrorKind::AlreadyExists => is_there(&path),
        other => other,
    })
}

/// Prints a file as it is: it is not broken into lines that fit the terminal.
fn print_file(text: &str) -> Result<(), CliError> {
    output::print(visible_lines(text).as_bytes())
}

/// What is told of a file that was written, and of its lines with blanks.
fn written(path: &Path, blanks: usize) -> String {
    format!("written  {}{}\n", path.display(), told(blanks))
}

/// How many lines of a file have blanks; one in a comment is none.
fn lines_with_blanks(text: &str) -> usize {
    text.lines().filter(|l| l.split('#').next().unwrap_or_default().contains(BLANK)).count()
}

/// What is told of the blanks of a file.
fn told(blanks: usize) -> String {
    match blanks {
        0 => String::new(),
        1 => ": 1 line with blanks".to_owned(),
        several => format!(": {several} lines with blanks"),
    }
}

/// What comes next, by the blanks that are left in the job file and its shop file together.
fn next(job: &Path, files: &[(PathBuf, usize)]) -> String {
    let job = job.display();
    let left: Vec<String> =
        files.iter().filter(|(_, blanks)| *blanks > 0).map(|(path, _)| path.display().to_string()).collect();
    match left.as_slice() {
        [] => format!(
            "next     no blank is left: `facewright survey {job}`, then `facewright write {job} -o FILE`\n"
        ),
        left => format!(
            "next     fill in the blanks of {}; `facewright write {job}` names every one that is left\n",
            left.join(" and ")
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whoever answered everything at the terminal is not told to fill in blanks, but where the shop file has some: those of both files
    /// count. One in a comment is none.
    #[test]
    fn what_comes_next_depends_on_what_is_left() {
        let next = |[job, shop]: [usize; 2]| {
            super::next(Path::new("job.yaml"), &[("job.yaml".into(), job), ("shop.yaml".into(), shop)])
        };
        for (blanks, says) in [
            ([0, 0], "next     no blank is left: `facewright survey job.yaml`, then"),
            ([0, 43], "next     fill in the blanks of shop.yaml; `facewright write job.yaml` names"),
            ([7, 0], "next     fill in the blanks of job.yaml; "),
            ([7, 43], "next     fill in the blanks of job.yaml and shop.yaml; "),
        ] {
            assert!(next(blanks).starts_with(says), "{}", next(blanks));
        }
        for (text, blanks) in [
            ("# A ____ is a blank.\njob: 1042  # ____\n", ""),
            ("job: ____  # such as 7\nx: radius\n", ": 1 line with blanks"),
            ("job: ____\nallowance: { limit: ____ mm, taken: ____ mm }\n", ": 2 lines with blanks"),
        ] {
            assert_eq!(told(lines_with_blanks(text)), blanks);
        }
    }
}
