//! Questions at a terminal for the blanks of a job file.
//!
//! Each line with a blank is shown with what it is for, and each of its blanks is asked for. Enter leaves a blank as it is, and the end
//! of the input leaves all that follow: `write` names them. What is answered is put into the file as it is, a number with the unit that
//! the blank has. What `write` could not read is said at once and asked for again, a few times; then the blank is left. What hangs on more
//! than one answer is for `write` to judge.

use super::page::quoted;
use crate::cli::error::CliError;
use crate::diagnostics::InputError;
use crate::diagnostics::text::visible;
use crate::job::{self, BLANK};
use std::fmt::Write as _;
use std::io::{self, BufRead, IsTerminal, Write};
use std::path::Path;

/// Whether a person sits before the program, to be asked and to answer.
pub(super) fn at_terminal() -> bool {
    io::stdin().is_terminal() && io::stderr().is_terminal()
}

/// So often an answer that cannot be read is asked for.
const MOST_TRIES: usize = 3;

/// Asks at the terminal for the blanks of a job file that will lie here.
pub(super) fn at_the_terminal(text: &str, path: &Path) -> Result<String, CliError> {
    let wrong = |text: &str, line: usize| job::errors_in_line(text, path, line).into_iter().next();
    fill(text, &wrong, &mut io::stdin().lock(), &mut io::stderr().lock()).map_err(|source| CliError::File {
        action: "read",
        path: "the answers".into(),
        source,
    })
}

/// A text whose blanks are filled with what is answered; `wrong` tells the first error of a line, from 1, of a text.
fn fill(
    text: &str,
    wrong: &impl Fn(&str, usize) -> Option<InputError>,
    input: &mut impl BufRead,
    out: &mut impl Write,
) -> io::Result<String> {
    writeln!(out, "Each blank is asked for. Enter leaves it; `write` names every one that is left.")?;
    let mut filled = String::new();
    let (mut asks, mut tyre_is_off) = (true, false);
    for (number, line) in text.lines().enumerate() {
        // Of a tyre that is off no keep-out is asked for, and none is left to be filled in.
        if tyre_is_off && (line == "keep_out:" || line.trim_start().starts_with("- { name: tyre,")) {
            // Nor the empty line above it.
            if line == "keep_out:" && filled.ends_with("\n\n") {
                filled.pop();
            }
            continue;
        }
        let (written, comment) = line.split_once("  # ").unwrap_or((line, ""));
        if !asks || line.starts_with('#') || !written.contains(BLANK) {
            filled.extend([line, "\n"]);
            continue;
        }
        writeln!(out, "\n{}\n  {}", visible(written.trim()), visible(comment))?;
        let mut rest = written;
        let mut answered = String::new();
        while let Some((before, after)) = rest.split_once(BLANK) {
            answered.push_str(before);
            let blank = Blank::of(&answered, after);
            let read = |answer: &str| {
                let mut line = answered.clone();
                let rest = blank.put(&mut line, after, answer);
                let below = text.lines().skip(number + 1).collect::<Vec<_>>().join("\n");
                wrong(&[&filled, line.as_str(), rest, "\n", &below].concat(), filled.lines().count() + 1)
            };
            let answer = if asks { blank.ask_until(read, input, out)? } else { None };
            asks &= answer.is_some();
            rest = blank.put(&mut answered, after, answer.as_deref().unwrap_or_default());
        }
        answered.push_str(rest);
        tyre_is_off |= answered.trim() == "tyre: removed";
        // The comment stays where it stood, if there is room.
        let (answered, width) = (answered.trim_end(), written.chars().count());
        if comment.is_empty() {
            filled.push_str(answered);
        } else {
            // Writing to a string cannot fail.
            let _ = write!(filled, "{answered:width$}  # {comment}");
        }
        filled.push('\n');
    }
    Ok(filled)
}

/// A blank of a line.
struct Blank {
    /// What it is called.
    name: String,
    /// The unit behind it, or nothing.
    unit: String,
}

impl Blank {
    /// The blank between two parts of a line.
    fn of(before: &str, after: &str) -> Self {
        let unit = after.strip_prefix(' ').unwrap_or_default();
        let unit = unit.split([',', ' ', ']', '}']).next().unwrap_or_default();
        let key = before.rsplit_once(": ").map_or("", |(key, _)| key);
        let key = key.rsplit([' ', '{', ',']).next().unwrap_or_default();
        let of_range = |end: &str| format!("{key}, {end}");
        // The two ends of a range stand in brackets.
        let name = match before.rsplit_once('[') {
            Some((_, "")) => of_range("from"),
            Some((_, inside)) if !inside.contains(']') => of_range("to"),
            _ => key.to_owned(),
        };
        Self { name, unit: unit.to_owned() }
    }

    /// Asks for it: an empty answer leaves it, none is the end of the input.
    fn ask(&self, input: &mut impl BufRead, out: &mut impl Write) -> io::Result<Option<String>> {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" [{}]", self.unit) };
        write!(out, "  {}{unit}: ", self.name)?;
        out.flush()?;
        let mut line = String::new();
        Ok((input.read_line(&mut line)? > 0).then(|| line.trim().to_owned()))
    }

    /// Asks for it until the answer can be read, or was asked for often enough: then it is left.
    fn ask_until(
        &self,
        wrong: impl Fn(&str) -> Option<InputError>,
        input: &mut impl BufRead,
        out: &mut impl Write,
    ) -> io::Result<Option<String>> {
        for tries in 1..=MOST_TRIES {
            let Some(answer) = self.ask(input, out)? else { return Ok(None) };
            let Some(error) = Some(&answer).filter(|a| !a.is_empty()).and_then(|a| wrong(a)) else {
                return Ok(Some(answer));
            };
            let next = if tries < MOST_TRIES { error.fix.as_str() } else { "left as a blank" };
            let said = format!("found {}, expected {}: {next}", error.found, error.expected);
            writeln!(out, "  cannot be read: {}", visible(&said))?;
        }
        Ok(Some(String::new()))
    }

    /// Puts an answer in the place of the blank; gives what is left of the line.
    fn put<'a>(&self, written: &mut String, after: &'a str, answer: &str) -> &'a str {
        match answer {
            "" => written.push_str(BLANK),
            name if self.name == "job" => written.push_str(&quoted(name)),
            // A quantity with a unit of its own takes the place of the blank's.
            quantity
                if !self.unit.is_empty() && !quantity.ends_with(|c: char| c.is_ascii_digit() || c == '.') =>
            {
                written.push_str(quantity);
                return after.get(1 + self.unit.len()..).unwrap_or_default();
            }
            value => written.push_str(value),
        }
        after
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const JOB: &str = "# A ____ is a blank\njob: ____  # such as \"1042, front left\"\n\nwheel:\n  speed_limit: ____ rpm  # how fast\n  allowance: { limit: ____ mm, taken: ____ mm }  # all the metal\n  tyre: ____  # mounted or removed\nmeasured:\n  lines:\n    - { file: a.csv, at: 0 deg }  # a guess\nkeep_out:\n  - { name: tyre, x: [____ mm, ____ mm], z: [____ mm, ____ mm] }  # where\n";

    /// A text without its padding.
    fn words(text: &str) -> Vec<Vec<&str>> {
        text.lines().map(|line| line.split_whitespace().collect()).collect()
    }

    fn filled(answers: &str) -> (String, String) {
        let mut asked = Vec::new();
        let wrong =
            |text: &str, line| job::errors_in_line(text, Path::new("none/job.yaml"), line).into_iter().next();
        let text = fill(JOB, &wrong, &mut answers.as_bytes(), &mut asked).expect("a text can be read");
        (text, String::from_utf8(asked).expect("words"))
    }

    #[test]
    fn every_blank_is_asked_for_and_filled() {
        let (text, asked) = filled("1042: left\n650\n0.04 in\n0.2\nmounted\n226\n320\n-120\n2 mm\n");
        let expected = JOB
            .replace("job: ____", "job: \"1042: left\"")
            .replace("____ rpm", "650 rpm")
            .replace("limit: ____ mm", "limit: 0.04 in")
            .replace("taken: ____", "taken: 0.2")
            .replace("tyre: ____", "tyre: mounted")
            .replace(
                "x: [____ mm, ____ mm], z: [____ mm, ____ mm]",
                "x: [226 mm, 320 mm], z: [-120 mm, 2 mm]",
            );
        assert_eq!(words(&text), words(&expected));
        for question in
            ["  job: ", "  speed_limit [rpm]: ", "  taken [mm]: ", "  x, from [mm]: ", "  z, to [mm]: "]
        {
            assert_eq!(asked.matches(question).count(), 1, "{question}: {asked}");
        }
        assert!(asked.contains("mounted or removed"), "{asked}");
    }

    #[test]
    fn enter_and_the_end_of_the_input_leave_blanks() {
        assert_eq!(filled("").0, JOB);
        assert_eq!(filled(&"\n".repeat(9)).0, JOB);
        let some = filled("\n650\n").0;
        assert_eq!(some, JOB.replace("____ rpm", "650 rpm "));
    }

    /// An answer that `write` could not read is said and asked for again; after a few it is left, and the next is asked for.
    #[test]
    fn what_cannot_be_read_is_asked_for_again() {
        let (text, asked) =
            filled("1042\nfast\n650 mm\n650\n1,0\n1.0 mm\n0\nyes\nno\nmaybe\n226\nfar\n320\n-120\n");
        assert!(
            text.contains("speed_limit: 650 rpm") && text.contains("limit: 1.0 mm, taken: 0 mm"),
            "{text}"
        );
        assert!(
            text.contains("tyre: ____") && text.contains("x: [226 mm, 320 mm], z: [-120 mm, ____ mm]"),
            "{text}"
        );
        assert_eq!(asked.matches("  cannot be read: ").count(), 7, "{asked}");
        assert_eq!(asked.matches("left as a blank").count(), 1, "{asked}");
        for piece in ["found `fast`", "found `650 mm`", "`mounted`, `removed`"] {
            assert!(asked.contains(piece), "no {piece} in\n{asked}");
        }
        // The end of the input is no answer.
        assert!(filled("1042\nfast\n").0.contains("speed_limit: ____ rpm"));
    }

    /// A tyre that is off needs no keep-out.
    #[test]
    fn a_tyre_that_is_off_is_not_asked_for() {
        let (text, asked) = filled("\n\n\n\nremoved\n");
        assert!(!text.contains("keep_out") && !text.contains("name: tyre"), "{text}");
        assert!(text.contains("tyre: removed") && !asked.contains("x, from"), "{asked}");
    }
}
