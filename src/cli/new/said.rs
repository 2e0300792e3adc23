//! What scans say of themselves, as words of a file, and what they leave for a person to say.

use crate::cli::error::CliError;
use crate::input::{self, Input};
use crate::job::{BLANK, Column, HeightSense, LengthUnit, ShopSays, XMeaning};
use crate::report::keys::Known;
use crate::scan::ends::Ends;
use crate::scan::guess::{Guess, guess_as};
use crate::scan::guessed_angle::spread_over_turn;

/// What the scans say of the sensor, for the shop file; what only a person can say, with what the scans hold of it.
pub(super) fn sensor(guesses: &[Guess]) -> Known {
    let asked = |why: String| Some((BLANK.to_owned(), why));
    let said = [
        ("x", x(guesses).or_else(|| asked(which_x(guesses)?))),
        ("unit", unit(guesses)),
        ("z_unit", z_unit(guesses)),
        ("columns", columns(guesses)),
        ("z", z(guesses).or_else(|| asked(ends(guesses)?.which_way()))),
    ];
    let guess = |(value, why): (String, String)| {
        let why = if value == BLANK { why } else { format!("a guess: {why}") };
        (value, why)
    };
    said.into_iter().filter_map(|(key, said)| Some((("SensorFile", key), guess(said?)))).collect()
}

pub(super) fn x(guesses: &[Guess]) -> Option<(String, String)> {
    agreed(guesses, |g| g.x.as_ref()).map(|(x, why)| (x.word().to_owned(), why))
}

pub(super) fn z(guesses: &[Guess]) -> Option<(String, String)> {
    let (z, why) = agreed(guesses, |g| g.z.as_ref())?;
    Some((
        z.word().to_owned(),
        ends(guesses).map_or_else(|| why.clone(), |e| why.clone() + "; " + &told(e, z)),
    ))
}

/// The ends of the first line whose columns are known.
pub(super) fn ends(guesses: &[Guess]) -> Option<Ends> {
    guesses.iter().find_map(|g| g.ends)
}

/// What a person looks at to see whether a word for z is right, and what the numbers say against it.
pub(super) fn told(ends: Ends, z: HeightSense) -> String {
    let against = ends.against(z).map_or_else(String::new, |a| format!("THE SCANS SPEAK AGAINST IT: {a}; "));
    against + &ends.which_way()
}

/// The reach of every line, as it stands in the scans.
pub(super) fn reaches(guesses: &[Guess]) -> impl Iterator<Item = [f64; 3]> {
    guesses.iter().flat_map(|g| {
        let whole = g.reach.filter(|_| g.traces.is_empty());
        g.traces.iter().map(|t| t.reach).chain(whole)
    })
}

/// The reach of all lines together; none where no column of x is known.
pub(super) fn whole_reach(guesses: &[Guess]) -> Option<[f64; 3]> {
    reaches(guesses).reduce(|a, b| [f64::min(a[0], b[0]), f64::max(a[1], b[1]), f64::max(a[2], b[2])])
}

/// What the scans hold of x, for a person who must say what it means.
pub(super) fn which_x(guesses: &[Guess]) -> Option<String> {
    let [least, most, _] = whole_reach(guesses)?;
    Some(format!("radius or diameter? x goes from {least} to {most}"))
}

pub(super) fn unit(guesses: &[Guess]) -> Option<(String, String)> {
    agreed(guesses, |g| g.unit.as_ref()).map(|(unit, why)| (unit.key().to_owned(), why))
}

pub(super) fn z_unit(guesses: &[Guess]) -> Option<(String, String)> {
    agreed(guesses, |g| g.z_unit.as_ref()).map(|(unit, why)| (unit.key().to_owned(), why))
}

pub(super) fn columns(guesses: &[Guess]) -> Option<(String, String)> {
    let list = |all: &[Column]| format!("[{}]", all.iter().map(|c| c.word()).collect::<Vec<_>>().join(", "));
    agreed(guesses, |g| g.columns.as_ref()).map(|(columns, why)| (list(&columns), why))
}

/// What a scan seems to hold; what the shop's sensor says of it holds before any guess.
pub(super) fn read(scan: &Input, says: &ShopSays) -> Result<Guess, CliError> {
    let failed = |source| CliError::File { action: "read", path: scan.name().to_owned(), source };
    let bytes = scan.read(input::LARGEST_SCAN).map_err(failed)?;
    let of_sensor = |key: &str| says.sensor.iter().find(|(k, _)| k == key).map(|(_, value)| value.as_str());
    let told = of_sensor("columns").and_then(columns_of);
    let mut guess =
        guess_as(&bytes, scan.name(), told.as_deref()).map_err(|e| CliError::Input(e.to_string()))?;
    let because = "the shop's sensor says so";
    // Headings are held against the job by `write`: where the shop says otherwise, the job corrects it.
    if let (Some(x), None) = (of_sensor("x").and_then(x_of), &guess.over.x) {
        guess.x = Some((x, because.to_owned()));
    }
    if let (Some(unit), None) = (of_sensor("unit").and_then(LengthUnit::of_word), &guess.over.unit) {
        guess.unit = Some((unit, because.to_owned()));
    }
    Ok(guess)
}

/// Takes the numbers in the files' names for angles, where all of them can be those of one wheel.
pub(super) fn hear_names(guesses: &mut [Guess]) {
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
pub(super) fn columns_of(list: &str) -> Option<Vec<Column>> {
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

/// Which way z grows, by the word of a file.
pub(super) fn sense(word: &str) -> Option<HeightSense> {
    match word {
        "height" => Some(HeightSense::Height),
        "distance" => Some(HeightSense::Distance),
        _ => None,
    }
}

pub(super) fn x_of(word: &str) -> Option<XMeaning> {
    match word {
        "radius" => Some(XMeaning::Radius),
        "diameter" => Some(XMeaning::Diameter),
        _ => None,
    }
}

/// Of guesses that agree, the first; none where they differ.
pub(super) fn agreed<T: Clone + PartialEq>(
    guesses: &[Guess],
    of: impl Fn(&Guess) -> Option<&(T, String)>,
) -> Option<(T, String)> {
    let first = guesses.first().and_then(&of)?.clone();
    guesses.iter().all(|g| of(g).is_some_and(|(value, _)| *value == first.0)).then_some(first)
}
