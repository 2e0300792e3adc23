//! `facewright new`: a job file from scans, and a shop file to fill in.

use super::error::CliError;
use super::output;
use crate::input;
use crate::job::{BLANK, Column, HeightSense, LengthUnit, ShopSays, XMeaning, keys, nearest_shop, shop_says};
use crate::report::keys::{Known, form_to_fill_in};
use crate::scan::ends::Ends;
use crate::scan::guess::{Because, Guess, Trace, guess_as, spread_over_turn};
use crate::units::{MM_PER_INCH, in_inches};
use clap::Args;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Write a job file from scans, and a shop file where there is none
///
/// What the scans say is taken over, each with its reason in a comment; what only a person can say is left as a blank, `____`, and
/// `write` names every blank that is left. A shop file is looked for in the job's folder and above it; where there is none, one is
/// written beside the job, to be filled in once for all jobs. Nothing that is there is ever replaced.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  facewright new demo-data/scan-000.csv demo-data/scan-120.csv demo-data/scan-240.csv -o -"
)]
pub(super) struct New {
    /// The scans of one wheel, one for each line
    #[arg(required_unless_present = "shop")]
    scans: Vec<PathBuf>,
    /// Write a shop file alone
    #[arg(long, conflicts_with = "scans")]
    shop: bool,
    /// Where the file goes, `-` for standard output; job.yaml or shop.yaml if left out
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

const SHOP_HEAD: &str = "# What the workshop has, once for all jobs. A ____ is a blank: fill it in. Inches may be written as well: 0.05 in.\n# Measure your own machine, and read your own control's manual; docs/keys.md tells every key, and `facewright explain KEY` one.\n";

impl New {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        if self.shop {
            let text = format!("{SHOP_HEAD}{}", form_to_fill_in(&keys::SHOP, &Known::new()));
            return put(
                &self.output.unwrap_or_else(|| "shop.yaml".into()),
                &text,
                "fill in its blanks; then make a job with `facewright new SCAN...`",
            );
        }
        let out = self.output.clone().unwrap_or_else(|| "job.yaml".into());
        let folder = if out == Path::new("-") {
            PathBuf::new()
        } else {
            out.parent().unwrap_or(Path::new("")).to_owned()
        };
        let shop = nearest_shop(&folder.join("job.yaml"));
        let says = match &shop {
            Some(file) => shop_says(file).map_err(CliError::Faults)?,
            None => of_new_shop(),
        };
        let mut guesses: Vec<Guess> =
            self.scans.iter().map(|scan| read(scan, &says)).collect::<Result<_, _>>()?;
        hear_names(&mut guesses);
        let names: Vec<String> = self.scans.iter().map(|scan| from_folder(scan, &folder)).collect();
        let inches = says.inches.unwrap_or_else(|| {
            agreed(&guesses, |g| g.unit.as_ref()).is_some_and(|(unit, _)| unit.is_of_inch())
        });
        let text = job(&names, &guesses, shop.as_deref(), &ShopSays { inches: Some(inches), ..says });
        let text = if inches { job_in_inches(&text) } else { text };
        put(&out, &text, "fill in its blanks; `facewright write` names every one that is left")?;
        if let Some(shop) = shop.as_deref().filter(|_| out != Path::new("-")) {
            output::print_text(&format!("shop     {}: taken for what the job leaves out\n", shop.display()))?;
        }
        if shop.is_none() && out != Path::new("-") {
            let text = format!("{SHOP_HEAD}{}", form_to_fill_in(&keys::SHOP, &sensor(&guesses)));
            let text = if inches { blanks_in_inches(&text) } else { text };
            put(&folder.join("shop.yaml"), &text, "fill it in once for all jobs")?;
        }
        Ok(())
    }
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
    }
}

/// What the scans say of the sensor, for the shop file; what only a person can say, with what the scans hold of it.
fn sensor(guesses: &[Guess]) -> Known {
    let asked = |why: String| Some((BLANK.to_owned(), why));
    let said = [
        ("x", x(guesses).or_else(|| asked(which_x(guesses)?))),
        ("unit", unit(guesses)),
        ("z_unit", z_unit(guesses)),
        ("columns", columns(guesses)),
        ("z", z(guesses).or_else(|| asked(ends(guesses)?.which_way()))),
    ];
    said.into_iter().filter_map(|(key, guess)| Some((("SensorFile", key), guess?))).collect()
}

fn x(guesses: &[Guess]) -> Option<(String, String)> {
    agreed(guesses, |g| g.x.as_ref()).map(|(x, why)| (x_word(x).to_owned(), why))
}

const fn x_word(x: XMeaning) -> &'static str {
    match x {
        XMeaning::Radius => "radius",
        XMeaning::Diameter => "diameter",
    }
}

const fn z_word(z: HeightSense) -> &'static str {
    match z {
        HeightSense::Height => "height",
        HeightSense::Distance => "distance",
    }
}

fn z(guesses: &[Guess]) -> Option<(String, String)> {
    let (z, why) = agreed(guesses, |g| g.z.as_ref())?;
    Some((
        z_word(z).to_owned(),
        ends(guesses).map_or_else(|| why.clone(), |e| why.clone() + "; " + &told(e, z)),
    ))
}

/// The ends of the first line whose columns are known.
fn ends(guesses: &[Guess]) -> Option<Ends> {
    guesses.iter().find_map(|g| g.ends)
}

/// What a person looks at to see whether a word for z is right, and what the numbers say against it.
fn told(ends: Ends, z: HeightSense) -> String {
    let against = ends.against(z).map_or_else(String::new, |a| format!("THE SCANS SPEAK AGAINST IT: {a}; "));
    against + &ends.which_way()
}

/// What the scans hold of x, for a person who must say what it means.
fn which_x(guesses: &[Guess]) -> Option<String> {
    let [least, most, _] = whole_reach(guesses)?;
    Some(format!("radius or diameter? x goes from {least} to {most}"))
}

fn unit(guesses: &[Guess]) -> Option<(String, String)> {
    agreed(guesses, |g| g.unit.as_ref()).map(|(unit, why)| (unit.key().to_owned(), why))
}

fn z_unit(guesses: &[Guess]) -> Option<(String, String)> {
    agreed(guesses, |g| g.z_unit.as_ref()).map(|(unit, why)| (unit.key().to_owned(), why))
}

fn columns(guesses: &[Guess]) -> Option<(String, String)> {
    let name = |c: &Column| match c {
        Column::X => "x",
        Column::Z => "z",
        Column::Trace => "trace",
        Column::Other => "other",
    };
    let list = |all: &[Column]| format!("[{}]", all.iter().map(name).collect::<Vec<_>>().join(", "));
    agreed(guesses, |g| g.columns.as_ref()).map(|(columns, why)| (list(&columns), why))
}

/// What a scan seems to hold; what the shop's sensor says of it holds before any guess.
fn read(scan: &Path, says: &ShopSays) -> Result<Guess, CliError> {
    let failed = |source| CliError::File { action: "read", path: scan.to_owned(), source };
    let bytes = input::read(scan, input::LARGEST_SCAN).map_err(failed)?;
    let of_sensor = |key: &str| says.sensor.iter().find(|(k, _)| k == key).map(|(_, value)| value.as_str());
    let told = of_sensor("columns").and_then(columns_of);
    let mut guess = guess_as(&bytes, scan, told.as_deref()).map_err(|e| CliError::Input(e.to_string()))?;
    let because = "the shop's sensor says so";
    // Headings are held against the job by `write`: where the shop says otherwise, the job corrects it.
    if let (Some(x), None) = (of_sensor("x").and_then(x_of), &guess.over.x) {
        guess.x = Some((x, because.to_owned()));
    }
    if let (Some(unit), None) = (of_sensor("unit").and_then(unit_of), &guess.over.unit) {
        guess.unit = Some((unit, because.to_owned()));
    }
    Ok(guess)
}

/// Takes the numbers in the files' names for angles, where all of them can be those of one wheel.
fn hear_names(guesses: &mut [Guess]) {
    let of_lines = guesses.iter().filter(|g| g.traces.is_empty());
    let angle = |g: &Guess| g.angle.as_ref().or(g.in_name.as_ref()).map(|(degrees, _)| *degrees);
    let all: Option<Vec<f64>> = of_lines.map(angle).collect();
    if all.is_some_and(|all| spread_over_turn(&all)) {
        for guess in guesses {
            guess.angle = guess.angle.take().or_else(|| guess.in_name.take());
        }
    }
}

/// The columns that a list of words names.
fn columns_of(list: &str) -> Option<Vec<Column>> {
    let words = list.strip_prefix('[')?.strip_suffix(']')?.split(',').map(str::trim);
    let column = |word: &str| match word {
        "x" => Some(Column::X),
        "z" => Some(Column::Z),
        "trace" => Some(Column::Trace),
        "other" => Some(Column::Other),
        _ => None,
    };
    words.map(column).collect()
}

fn x_of(word: &str) -> Option<XMeaning> {
    match word {
        "radius" => Some(XMeaning::Radius),
        "diameter" => Some(XMeaning::Diameter),
        _ => None,
    }
}

/// The unit of a word of the shop file, with the words that it may write for one.
fn unit_of(word: &str) -> Option<LengthUnit> {
    match word {
        "in" => Some(LengthUnit::Inch),
        "thou" => Some(LengthUnit::Mil),
        word => LengthUnit::ALL.into_iter().find(|u| u.key() == word),
    }
}

/// The name of a scan as a job file in a folder gives it.
fn from_folder(scan: &Path, folder: &Path) -> String {
    let name = match scan.strip_prefix(folder) {
        Ok(inside) => inside.to_owned(),
        Err(_) => std::path::absolute(scan).unwrap_or_else(|_| scan.to_owned()),
    };
    name.to_string_lossy().into_owned()
}

/// Writes a new file; one that is there stays.
fn put(path: &Path, text: &str, next: &str) -> Result<(), CliError> {
    if path == Path::new("-") {
        return output::print_text(text);
    }
    let failed = |source: std::io::Error| {
        let folder = path.parent().filter(|f| !f.as_os_str().is_empty());
        match (source.kind(), folder) {
            (std::io::ErrorKind::AlreadyExists, _) => CliError::Input(format!(
                "{}: there is a file of this name, and it is never replaced\n  to mend it: name another with -o FILE",
                path.display()
            )),
            (_, Some(folder)) if !folder.is_dir() => {
                CliError::NoFolder { path: path.to_owned(), folder: folder.to_owned() }
            }
            _ => CliError::File { action: "write", path: path.to_owned(), source },
        }
    };
    let mut file = std::fs::File::create_new(path).map_err(failed)?;
    file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(failed)?;
    let blanks = text.lines().filter(|l| l.split('#').next().unwrap_or_default().contains(BLANK)).count();
    output::print_text(&format!("written  {}: {blanks} lines with blanks\nnext     {next}\n", path.display()))
}

/// Of guesses that agree, the first; none where they differ.
fn agreed<T: Clone + PartialEq>(
    guesses: &[Guess],
    of: impl Fn(&Guess) -> Option<&(T, String)>,
) -> Option<(T, String)> {
    let first = guesses.first().and_then(&of)?.clone();
    guesses.iter().all(|g| of(g).is_some_and(|(value, _)| *value == first.0)).then_some(first)
}

/// A line of a file to fill in: what stands there, and why.
struct Page(String);

impl Page {
    fn line(&mut self, text: &str, why: &str) {
        // Writing to a string cannot fail.
        let _ =
            if why.is_empty() { writeln!(self.0, "{text}") } else { writeln!(self.0, "{text:<44}  # {why}") };
    }

    /// A key with its guess, or a blank.
    fn guessed(&mut self, key: &str, guess: Option<(String, String)>, ask: &str) {
        match guess {
            Some((value, why)) => self.line(&format!("  {key}: {value}"), &format!("a guess: {why}")),
            None => self.line(&format!("  {key}: {BLANK}"), ask),
        }
    }
}

/// So small a part of a step is the rounding of binary numbers.
const ROUNDING: f64 = 1e-6;

fn job(names: &[String], guesses: &[Guess], shop: Option<&Path>, says: &ShopSays) -> String {
    let mut page = Page(String::new());
    page.line("# What this wheel needs. A ____ is a blank: fill it in. A guess is to be checked. docs/keys.md tells every key.", "");
    page.line(&format!("job: {BLANK}"), "such as \"1042, front left\"");
    match shop {
        Some(file) => page.line(&format!("# shop: the nearest shop.yaml, {}", file.display()), ""),
        None => page.line("shop: shop.yaml", "fill it in once for all jobs"),
    }
    if says.schedules.len() != 1 {
        page.line(
            &format!("schedule: {}", if shop.is_none() { "kerbside" } else { BLANK }),
            &format!("a schedule of the shop file: {}", says.schedules.join(", ")),
        );
    }
    page.line("\nwheel:", "");
    page.line(&format!("  speed_limit: {BLANK} rpm"), "how fast balance and tyre let this wheel turn");
    page.line(
        &format!("  allowance: {{ limit: {BLANK} mm, taken: {BLANK} mm }}"),
        "all the metal it may ever lose, and what earlier jobs took; 0 mm for a wheel never cut",
    );
    if !says.run_out {
        page.line(
            &format!("  run_out_limit: {BLANK} mm"),
            "how untrue a wheel is still cut, such as 0.30 mm; the shop's `limits` may say it for all",
        );
    }
    page.line(&format!("  tyre: {BLANK}"), "mounted or removed; a mounted tyre needs the keep-out below");
    page.line("\nmeasured:", "");
    measured(&mut page, guesses, says);
    page.line("  lines:", "");
    let lines = lines(names, guesses);
    for (file, angle) in &lines {
        match angle {
            _ if says.angles == lines.len() => {
                page.line(&format!("    - {{ {file} }}"), "its angle is the shop's");
            }
            Some((angle, why)) => {
                page.line(&format!("    - {{ {file}, at: {angle} deg }}"), &format!("a guess: {why}"));
            }
            None => page
                .line(&format!("    - {{ {file}, at: {BLANK} deg }}"), "the angle of the wheel at this line"),
        }
    }
    zones(&mut page, guesses, says.inches == Some(true));
    page.line("\nkeep_out:", "");
    page.line(&format!("  - {{ name: tyre, x: [{BLANK} mm, {BLANK} mm], z: [{BLANK} mm, {BLANK} mm] }}"), "where a mounted tyre stands: radii and heights, from the scans' zero; take both lines out if it is off");
    page.line(
        "\n# damage:                                       what a person sees and the lines may miss:",
        "",
    );
    page.line("#   - { from: 203 mm, to: 214 mm, depth: 0.35 mm, kind: scrape }", "");
    page.0
}

/// The lines of a job: the file of each, with its trace where the file holds several, and its angle where one is guessed. What a
/// file says of an angle is not said of its traces.
fn lines(names: &[String], guesses: &[Guess]) -> Vec<(String, Option<Because<String>>)> {
    let mut lines = Vec::new();
    for (name, guess) in names.iter().zip(guesses) {
        let file = format!("file: {}", quoted(name));
        if guess.traces.is_empty() {
            let angle = guess.angle.as_ref().map(|(angle, why)| (angle.to_string(), why.clone()));
            lines.push((file, angle));
        } else {
            let of_trace = |t: &Trace| (format!("{file}, trace: {}", quoted(&t.name)), t.angle.clone());
            lines.extend(guess.traces.iter().map(of_trace));
        }
    }
    lines
}

/// A text as the value of a key, in quotation marks where a bare one would be read otherwise.
fn quoted(text: &str) -> String {
    let marks = |c: char| matches!(c, ':' | '#' | '"' | '\'' | '{' | '}' | '[' | ']' | ',') || c.is_control();
    let begins = text.starts_with(|c: char| c.is_alphanumeric() || matches!(c, '.' | '/' | '\\' | '_'));
    let word = ["null", "true", "false"].iter().any(|w| text.eq_ignore_ascii_case(w));
    if text.contains(marks) || !begins || word {
        // A text of JSON is one of YAML.
        serde_json::Value::from(text).to_string()
    } else {
        text.to_owned()
    }
}

/// The reach of every line, as it stands in the scans.
fn reaches(guesses: &[Guess]) -> impl Iterator<Item = [f64; 3]> {
    guesses.iter().flat_map(|g| {
        let whole = g.reach.filter(|_| g.traces.is_empty());
        g.traces.iter().map(|t| t.reach).chain(whole)
    })
}

/// The reach of all lines together; none where no column of x is known.
fn whole_reach(guesses: &[Guess]) -> Option<[f64; 3]> {
    reaches(guesses).reduce(|a, b| [f64::min(a[0], b[0]), f64::max(a[1], b[1]), f64::max(a[2], b[2])])
}

fn measured(page: &mut Page, guesses: &[Guess], says: &ShopSays) {
    let has = |key: &str| says.sensor.iter().any(|(k, _)| k == key);
    match says.sensors.as_slice() {
        [] => page.line(
            &format!("  sensor: {BLANK}"),
            "spot for light or a fine point, or ball and its diameter, such as ball 3 mm",
        ),
        [_] => {}
        several => {
            page.line(&format!("  sensor: {BLANK}"), &format!("one of the shop's: {}", several.join(", ")));
        }
    }
    // A shop that reads over the column which tells the traces apart, or names them in another order, is corrected for this job.
    let said = of_shop(says, "columns").and_then(columns_of);
    let guessed = agreed(guesses, |g| g.columns.as_ref());
    let other = said.is_some_and(|said| guessed.is_some_and(|(columns, _)| columns != said));
    if !has("columns") || other {
        let first = guesses.first().map(|g| g.first_row.as_str()).unwrap_or_default();
        page.guessed(
            "columns",
            columns(guesses),
            &format!("x, z and other in the order of the file, in brackets; its first row is {first}"),
        );
    }
    if !has("x") {
        page.guessed("x", x(guesses), &which_x(guesses).unwrap_or_else(|| "radius or diameter?".to_owned()));
    }
    if !has("unit") {
        page.guessed("unit", unit(guesses), "mm, inch, um, cm or m");
        if let Some(guess) = z_unit(guesses) {
            page.guessed("z_unit", Some(guess), "");
        }
    }
    if !has("z") {
        let ask = ends(guesses).map_or_else(
            || "height, if z grows away from the chuck; distance, if it grows toward it".to_owned(),
            |ends| ends.which_way(),
        );
        page.guessed("z", z(guesses), &ask);
    }
    let corrected = corrections(guesses, says);
    for (key, guess) in &corrected {
        page.guessed(key, Some(guess.clone()), "");
    }
    let of_z = of_shop(says, "z").and_then(sense).filter(|_| corrected.iter().all(|(key, _)| *key != "z"));
    if let Some((ends, z)) = ends(guesses).zip(of_z) {
        page.line(&format!("  # the shop's sensor says `z: {}`: {}", z_word(z), told(ends, z)), "");
    }
    if !has("x_offset") {
        page.line(
            &format!("  x_offset: {BLANK} mm"),
            "added to every radius: how far the sensor stands inside the tool; 0 mm where they are one",
        );
    }
    if !has("longest_gap") {
        let widest = whole_reach(guesses).map_or_else(String::new, |[.., step]| {
            format!("; the widest step between readings is {step:.3} as they stand")
        });
        page.line(
            &format!("  longest_gap: {BLANK} mm"),
            &format!("gaps up to this are bridged, such as 2 mm{widest}"),
        );
    }
}

/// What the shop's only sensor says of a key.
fn of_shop<'a>(says: &'a ShopSays, key: &str) -> Option<&'a str> {
    says.sensor.iter().find(|(k, _)| k == key).map(|(_, word)| word.as_str())
}

/// The keys of which the headings of all scans say otherwise than the shop's sensor, with what they say: `write` would refuse them.
fn corrections(guesses: &[Guess], says: &ShopSays) -> Vec<(&'static str, (String, String))> {
    let mut all = Vec::new();
    let mut correct = |key: &'static str, word: &str, why: &str, shop: &str| {
        all.push((key, (word.to_owned(), format!("{why}; the shop's sensor says {shop}"))));
    };
    let x = agreed(guesses, |g| g.over.x.as_ref()).zip(of_shop(says, "x").and_then(x_of));
    if let Some(((x, why), shop)) = x.filter(|((x, _), shop)| x != shop) {
        correct("x", x_word(x), &why, x_word(shop));
    }
    let shop_unit = of_shop(says, "unit").and_then(unit_of);
    let heading = agreed(guesses, |g| g.over.unit.as_ref());
    if let Some(((unit, why), shop)) = heading.clone().zip(shop_unit).filter(|((u, _), shop)| u != shop) {
        correct("unit", unit.key(), &why, shop.key());
    }
    // Where the shop names no unit of heights, they are in that of x.
    let of_x = shop_unit.map(|shop| heading.map_or(shop, |(unit, _)| unit));
    let z_unit = of_shop(says, "z_unit").and_then(unit_of).or(of_x);
    let over_z = agreed(guesses, |g| g.over.z_unit.as_ref()).zip(z_unit);
    if let Some(((unit, why), shop)) = over_z.filter(|((u, _), shop)| u != shop) {
        correct("z_unit", unit.key(), &why, shop.key());
    }
    let z = agreed(guesses, |g| g.over.z.as_ref()).zip(of_shop(says, "z").and_then(sense));
    if let Some(((z, why), shop)) = z.filter(|((z, _), shop)| z != shop) {
        correct("z", z_word(z), &why, z_word(shop));
    }
    all
}

/// Which way z grows, by the word of a file.
fn sense(word: &str) -> Option<HeightSense> {
    match word {
        "height" => Some(HeightSense::Height),
        "distance" => Some(HeightSense::Distance),
        _ => None,
    }
}

/// A job file for a shop that counts inches: its blanks and examples in inches, the names of files as they are.
fn job_in_inches(text: &str) -> String {
    let named = |line: &str| line.contains("file:") || line.starts_with("# shop:");
    let line = |line: &str| if named(line) { line.to_owned() } else { in_inches(line) };
    blanks_in_inches(&text.lines().map(line).fold(String::new(), |all, line| all + &line + "\n"))
}

/// Blanks with the inch unit in place of the metric one.
fn blanks_in_inches(text: &str) -> String {
    text.replace(&format!("{BLANK} mm"), &format!("{BLANK} in"))
        .replace(&format!("{BLANK} m/min"), &format!("{BLANK} ft/min"))
}

/// The zone that every line measured, in the job's radii where they are known, in the shop's unit.
fn zones(page: &mut Page, guesses: &[Guess], inches: bool) {
    page.line("\nzones:", "");
    let half = agreed(guesses, |g| g.x.as_ref()).map(|(x, _)| if x == XMeaning::Radius { 1.0 } else { 0.5 });
    let unit = agreed(guesses, |g| g.unit.as_ref()).map(|(u, _)| u);
    let least = reaches(guesses).map(|r| r[0]).fold(0.0, f64::max);
    let most = reaches(guesses).map(|r| r[1]).fold(f64::INFINITY, f64::min);
    match half.zip(unit) {
        Some((half, unit)) if least < most => {
            // Whole millimetres, or hundredths of an inch; about a millimetre is left at each end.
            let (one, word, step, less, digits) =
                if inches { (MM_PER_INCH, "in", 0.01, 0.04, 2) } else { (1.0, "mm", 1.0, 1.0, 0) };
            let steps = |x: f64| x * half * unit.as_mm() / one / step;
            let from = ((steps(least) - ROUNDING).ceil() * step) + less;
            let to = ((steps(most) + ROUNDING).floor() * step) - less;
            page.line(
                &format!("  - {{ from: {from:.digits$} {word}, to: {to:.digits$} {word} }}"),
                &format!(
                    "a guess: what every line measured, less {less} {word}; make it the ring to cut, as radii"
                ),
            );
        }
        _ => page.line(
            &format!("  - {{ from: {BLANK} mm, to: {BLANK} mm }}"),
            &if least < most && most.is_finite() {
                format!("the ring to cut, as radii; every line has x from {least} to {most} as they stand")
            } else {
                "the ring to cut, as radii".to_owned()
            },
        ),
    }
}
