//! Questions at a terminal for the blanks of a job file.
//!
//! Each line with a blank is shown with what it is for, and each of its blanks is asked for. Enter leaves a blank as it is, and the end
//! of the input leaves all that follow: `write` names them. What is answered is put into the file as it is, a number with the unit that
//! the blank has; `write` judges it as it judges every file.

use super::page::quoted;
use crate::cli::error::CliError;
use crate::diagnostics::text::visible;
use crate::job::BLANK;
use std::fmt::Write as _;
use std::io::{self, BufRead, IsTerminal, Write};

/// Whether a person sits before the program, to be asked and to answer.
pub(super) fn at_terminal() -> bool {
    io::stdin().is_terminal() && io::stderr().is_terminal()
}

/// Asks at the terminal.
pub(super) fn at_the_terminal(text: &str) -> Result<String, CliError> {
    fill(text, &mut io::stdin().lock(), &mut io::stderr().lock()).map_err(|source| CliError::File {
        action: "read",
        path: "the answers".into(),
        source,
    })
}

/// A text whose blanks are filled with what is answered.
fn fill(text: &str, input: &mut impl BufRead, out: &mut impl Write) -> io::Result<String> {
    writeln!(out, "Each blank is asked for. Enter leaves it; `write` names every one that is left.")?;
    let mut filled = String::new();
    let (mut asks, mut tyre_is_off) = (true, false);
    for line in text.lines() {
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
            let answer = if asks { blank.ask(input, out)? } else { None };
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
        let text = fill(JOB, &mut answers.as_bytes(), &mut asked).expect("a text can be read");
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

    /// A tyre that is off needs no keep-out.
    #[test]
    fn a_tyre_that_is_off_is_not_asked_for() {
        let (text, asked) = filled("\n\n\n\nremoved\n");
        assert!(!text.contains("keep_out") && !text.contains("name: tyre"), "{text}");
        assert!(text.contains("tyre: removed") && !asked.contains("x, from"), "{asked}");
    }
}
