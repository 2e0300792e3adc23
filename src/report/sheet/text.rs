//! Formats words and numbers for the page.

/// Text from a file with control characters made visible; tags and quotes are escaped later, in the template.
pub(super) use crate::diagnostics::text::visible as plain;

use crate::job::Job;
use crate::units::{MM_PER_INCH, in_inches};
use maud::{Markup, html};

/// A name from a file within the page: in an element of its own, so that it runs in its own direction and stays as it is written where the page is
/// turned into inches.
pub(super) fn name(text: &str) -> Markup {
    html! { bdi { (plain(text)) } }
}

/// A unit that stands apart from its numbers: in the head of a column, on an axis, beside a readout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shown {
    /// Its name.
    pub unit: &'static str,
    /// How many of it are one of the metric unit.
    pub times: f64,
    /// Decimals more than the metric number has, for nearly its resolution.
    pub more: usize,
}

/// The units in which the shop reads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Units {
    /// Millimetres, or inches.
    pub length: Shown,
    /// Length per revolution.
    pub feed: Shown,
    /// Surface speed, per minute.
    pub surface: Shown,
    /// Length of the spiral.
    pub spiral: Shown,
    /// Height of ridges.
    pub ridge: Shown,
}

impl Units {
    /// Those of a job's shop.
    pub fn of(job: &Job) -> Self {
        const FEET_PER_M: f64 = 1000.0 / MM_PER_INCH / 12.0;
        let metric = |unit| Shown { unit, times: 1.0, more: 0 };
        let shown = |unit, times, more| Shown { unit, times, more };
        if job.control.unit_word.is_inch() {
            Self {
                length: shown("in", 1.0 / MM_PER_INCH, 1),
                feed: shown("in/rev", 1.0 / MM_PER_INCH, 1),
                surface: shown("ft/min", FEET_PER_M, 0),
                spiral: shown("ft", FEET_PER_M, 0),
                ridge: shown("µin", 1000.0 / MM_PER_INCH, 0),
            }
        } else {
            Self {
                length: metric("mm"),
                feed: metric("mm/rev"),
                surface: metric("m/min"),
                spiral: metric("m"),
                ridge: metric("µm"),
            }
        }
    }
}

/// A length to the micrometre.
pub(super) fn mm(value: f64) -> String {
    format!("{} mm", number(value, 3))
}

/// A number with `decimals` decimals; zero has no minus sign.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let zero = text.strip_prefix('-').filter(|t| t.chars().all(|c| matches!(c, '0' | '.')));
    zero.map_or_else(|| text.clone(), str::to_owned)
}

/// A number with at most `decimals` decimals, without zeros at the end.
pub(super) fn short(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A time in minutes and seconds.
pub(super) fn minutes(seconds: f64) -> String {
    // As the head of the program and the proof have it.
    let whole = seconds.max(0.0).floor();
    format!("{:.0} min {:02.0} s", (whole / 60.0).floor(), whole % 60.0)
}

/// A count with its noun.
pub(super) fn many(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}

/// The tag of a curve's name in a picture: that of a trial's ring is from a file.
const CURVE_NAME: &str = "text class=\"name\"";

/// A page whose quantities are in inches: those in what is read, not those in its styles, scripts, attributes and names ([`name`], and
/// those of curves in pictures), nor in the blocks of a program. A column or an axis that names its unit is made in it ([`Units`]).
pub(super) fn read_in_inches(page: &str) -> String {
    let mut out = String::with_capacity(page.len());
    let mut within: Option<&str> = None;
    for (i, part) in page.split('<').enumerate() {
        if i == 0 {
            out.push_str(part);
            continue;
        }
        let named = part.starts_with(CURVE_NAME).then_some("text");
        let unread =
            named.or_else(|| ["style", "script", "bdi", "code"].into_iter().find(|t| part.starts_with(t)));
        within = match within {
            Some(tag) if part.strip_prefix('/').is_some_and(|p| p.starts_with(tag)) => None,
            Some(tag) => Some(tag),
            None => unread,
        };
        out.push('<');
        match part.split_once('>') {
            Some((tag, read)) if within.is_none() => {
                out.push_str(tag);
                out.push('>');
                out.push_str(&in_inches(read));
            }
            _ => out.push_str(part),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_is_read_in_inches_but_not_drawn_in_them() {
        let page = "<style>p{margin:4 mm}</style><p title=\"2 mm\">0.100 mm</p><script>a<b 3 mm</script><i>1 mm</i><bdi>5 mm</bdi> 2 mm";
        let turned = "<style>p{margin:4 mm}</style><p title=\"2 mm\">0.0039 in</p><script>a<b 3 mm</script><i>0.0394 in</i><bdi>5 mm</bdi> 0.0787 in";
        assert_eq!(read_in_inches(page), turned);
    }

    #[test]
    fn numbers_are_short_and_have_no_minus_zero() {
        assert_eq!(number(-0.000_1, 3), "0.000");
        assert_eq!(short(-0.01, 3), "-0.01");
        assert_eq!(short(120.0, 3), "120");
        assert_eq!(minutes(119.7), "1 min 59 s");
    }
}
