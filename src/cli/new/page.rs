//! A job file to fill in: what the scans say, and a blank for everything that only a person can say.

use super::another::Another;
use super::said::{
    agreed, columns, columns_of, ends, reaches, sense, told, unit, which_x, whole_reach, x, z, z_unit,
};
use crate::job::{BLANK, HeightSense, LengthUnit, ShopSays, XMeaning};
use crate::report::keys::asked_in_inches;
use crate::scan::guess::{Because, Guess, Trace};
use crate::units::MM_PER_INCH;
use std::fmt::Write as _;
use std::path::Path;

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

/// The shop of a job.
pub(super) struct Shop<'a> {
    /// Its file; none where it is written beside the job.
    pub file: Option<&'a Path>,
    /// What it says of the job.
    pub says: &'a ShopSays,
    /// What the scans say against its sensor.
    pub another: Option<&'a Another>,
}

pub(super) fn job(names: &[String], guesses: &[Guess], of: &Shop<'_>) -> String {
    let Shop { file: shop, says, .. } = *of;
    let mut page = Page(String::new());
    page.line("# What this wheel needs. A ____ is a blank: fill it in. A guess is to be checked. docs/keys.md tells every key.", "");
    page.line(&format!("job: {BLANK}"), "such as \"1042, front left\"");
    match shop {
        Some(file) => page.line(&format!("# shop: {}, the nearest", file.display()), ""),
        None => page.line("shop: shop.yaml", "fill it in once for all jobs"),
    }
    if says.schedules.len() != 1 {
        page.line(
            &format!("schedule: {}", if shop.is_none() { "kerbside" } else { BLANK }),
            &format!("a schedule of the shop file: {}", says.schedules.join(", ")),
        );
    }
    if let Some(number) = &says.program_number {
        page.line(
            "# program_number: O1002",
            &format!("for example: a number of this wheel's own, since under the shop's {number} the next wheel's program takes its place in the control"),
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
    page.line(&format!("  tyre: {BLANK}"), "mounted or removed; the keep-out below is for a mounted one");
    page.line("\nmeasured:", "");
    measured(&mut page, guesses, of);
    page.line("  lines:", "");
    for (name, refused) in refused(names, guesses) {
        page.line(&format!("    # {name}, as it is guessed, cannot be read: {refused}"), "");
    }
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
    let zero = zero(guesses, says).unwrap_or_default();
    page.line(&format!("  - {{ name: tyre, x: [{BLANK} mm, {BLANK} mm], z: [{BLANK} mm, {BLANK} mm] }}"), &format!("where a mounted tyre stands: radii, and heights (away from the chuck is plus) from the scans' zero{zero}; take these two lines out if it is removed"));
    page.line(
        "\n# damage:                                       for example, not measured: what a person sees and the lines may miss",
        "",
    );
    page.line("#   - { from: 203 mm, to: 214 mm, depth: 0.35 mm, kind: scrape }", "");
    page.0
}

/// Where heights count from, by what the scans read at their outer end: in the job's terms where the scans' are known.
fn zero(guesses: &[Guess], says: &ShopSays) -> Option<String> {
    let [x, z] = ends(guesses)?.outer;
    let across = agreed(guesses, |g| g.x.as_ref()).map(|(x, _)| x);
    let unit = agreed(guesses, |g| g.unit.as_ref()).map(|(unit, _)| unit);
    let along =
        agreed(guesses, |g| g.z.as_ref()).map(|(z, _)| z).or_else(|| of_shop(says, "z").and_then(sense));
    let of_shop = || of_shop(says, "z_unit").and_then(LengthUnit::of_word);
    let z_unit = agreed(guesses, |g| g.z_unit.as_ref()).map(|(unit, _)| unit).or_else(of_shop).or(unit);
    let (one, word, digits) = if says.inches == Some(true) { (MM_PER_INCH, "in", 2) } else { (1.0, "mm", 1) };
    let length = |number: f64, unit: Option<LengthUnit>| match unit {
        Some(unit) => format!("{:.digits$} {word}", number * unit.as_mm() / one),
        None => format!("{number} in the scans' unit"),
    };
    // What the scans do not say hangs on another answer: then both are told.
    let radius = match across {
        Some(XMeaning::Radius) => length(x, unit),
        Some(XMeaning::Diameter) => length(x / 2.0, unit),
        None => format!("{}, or {} if x is a diameter", length(x, unit), length(x / 2.0, unit)),
    };
    let height = match along {
        Some(HeightSense::Height) => length(z, z_unit),
        Some(HeightSense::Distance) => length(-z, z_unit),
        None => format!("{} (or {} if z is a distance)", length(z, z_unit), length(-z, z_unit)),
    };
    Some(format!(", where the scans read 0: the face stands at {height} there at radius {radius}"))
}

/// The scans that cannot be read as they are guessed, with why: `write` would say the same.
pub(super) fn refused<'a>(
    names: &'a [String],
    guesses: &'a [Guess],
) -> impl Iterator<Item = (&'a str, &'a str)> {
    names.iter().zip(guesses).filter_map(|(name, guess)| Some((name.as_str(), guess.refused.as_deref()?)))
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
pub(super) fn quoted(text: &str) -> String {
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

fn measured(page: &mut Page, guesses: &[Guess], shop: &Shop<'_>) {
    let Shop { file: shop, says, another } = *shop;
    let has = |key: &str| says.sensor.iter().any(|(k, _)| k == key);
    let beside = |key: &str| another.map_or_else(String::new, |another| another.beside(key));
    match (says.sensors.as_slice(), another) {
        (_, Some(another)) => {
            page.line(&format!("  sensor: {BLANK}"), &another.question());
            page.line(&format!("  # {}", another.places()), "");
        }
        ([], None) => page.line(
            &format!("  sensor: {BLANK}"),
            "spot for light, a fine point, or a ball whose radius the control has taken off already; else ball and its diameter, such as ball 3 mm",
        ),
        ([_], None) => {}
        (several, None) => {
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
    if shop.is_some() {
        blanks_of_shop(page, guesses, says);
    }
    let of_z = of_shop(says, "z").and_then(sense);
    if let Some((ends, z)) = ends(guesses).zip(of_z) {
        page.line(&format!("  # the shop's sensor says `z: {}`: {}", z.word(), told(ends, z)), "");
    }
    if !has("x_offset") {
        page.line(
            &format!("  x_offset: {BLANK} mm"),
            &format!(
                "added to every radius: how far the sensor stands inside the tool; 0 mm where they are one{}",
                beside("x_offset")
            ),
        );
    }
    if !has("longest_gap") {
        let widest = whole_reach(guesses).map_or_else(String::new, |[.., step]| {
            format!("; the widest step between readings is {step:.3} as they stand")
        });
        page.line(
            &format!("  longest_gap: {BLANK} mm"),
            &format!("gaps up to this are bridged, such as 2 mm{widest}{}", beside("longest_gap")),
        );
    }
}

/// What the scans say of keys that the shop's sensor leaves blank: the shop file is never changed, so a person copies them.
fn blanks_of_shop(page: &mut Page, guesses: &[Guess], says: &ShopSays) {
    let known =
        [("x", x(guesses)), ("unit", unit(guesses)), ("columns", columns(guesses)), ("z", z(guesses))];
    for (key, guess) in known {
        let blank = of_shop(says, key).is_some_and(|value| value.contains(BLANK));
        if let Some((value, why)) = guess.filter(|_| blank) {
            page.line(&format!("  # for the shop's sensor, {key}: {value}"), &format!("a guess: {why}"));
        }
    }
}

/// What the shop's only sensor says of a key.
fn of_shop<'a>(says: &'a ShopSays, key: &str) -> Option<&'a str> {
    says.sensor.iter().find(|(k, _)| k == key).map(|(_, word)| word.as_str())
}

/// A job file for a shop that counts inches: its blanks and examples in inches, the names of files as they are.
pub(super) fn job_in_inches(text: &str) -> String {
    let named = |line: &str| line.contains("file:") || line.starts_with("# shop:");
    let line = |line: &str| if named(line) { line.to_owned() } else { asked_in_inches(line) };
    text.lines().map(line).fold(String::new(), |all, line| all + &line + "\n")
}

/// How a zone is written that runs off the metal.
const RUNS_OFF: &str = "  # `to: edge` in place of a length where the tool runs off the rim, `from: edge` where it runs off at the bore; `facewright explain edge`";

/// The zone that every line measured, in the job's radii where they are known, in the shop's unit.
fn zones(page: &mut Page, guesses: &[Guess], inches: bool) {
    page.line("\nzones:", "");
    let half = agreed(guesses, |g| g.x.as_ref()).map(|(x, _)| if x == XMeaning::Radius { 1.0 } else { 0.5 });
    let unit = agreed(guesses, |g| g.unit.as_ref()).map(|(u, _)| u);
    let least = reaches(guesses).map(|r| r[0]).fold(0.0, f64::max);
    let most = reaches(guesses).map(|r| r[1]).fold(f64::INFINITY, f64::min);
    match half.zip(unit) {
        Some((half, unit)) if least < most && most.is_finite() => {
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
    page.line(RUNS_OFF, "");
}
