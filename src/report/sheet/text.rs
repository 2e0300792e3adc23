//! Formats words and numbers for the page.

/// Text from a file with control characters made visible; tags and quotes are escaped later, in the template.
pub(super) use crate::diagnostics::text::visible as plain;

use crate::units::in_inches;
use maud::{Markup, html};

/// A name from a file within the page: in an element of its own, so that it runs in its own direction and stays as it is written where the page is
/// turned into inches.
pub(super) fn name(text: &str) -> Markup {
    html! { bdi { (plain(text)) } }
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
    let whole = seconds.max(0.0).round();
    format!("{:.0} min {:02.0} s", (whole / 60.0).floor(), whole % 60.0)
}

/// A count with its noun.
pub(super) fn many(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}

/// A page whose quantities are in inches: those in what is read, not those in its styles, scripts, attributes and names ([`name`], and
/// those of curves in pictures). A column or an axis that
/// names its unit keeps it, and so do the words beside each block, which name places to the last digit.
pub(super) fn read_in_inches(page: &str) -> String {
    let blocks = page.find(BLOCKS).unwrap_or(page.len());
    let (before, after) = page.split_at_checked(blocks).unwrap_or((page, ""));
    turned(before) + after
}

/// The tag of a curve's name in a picture: that of a trial's ring is from a file.
const CURVE_NAME: &str = "text class=\"name\"";

/// Where the program begins, block by block.
const BLOCKS: &str = "<section class=\"walk\"";

fn turned(page: &str) -> String {
    let mut out = String::with_capacity(page.len());
    let mut within: Option<&str> = None;
    for (i, part) in page.split('<').enumerate() {
        if i == 0 {
            out.push_str(part);
            continue;
        }
        let named = part.starts_with(CURVE_NAME).then_some("text");
        let unread = named.or_else(|| ["style", "script", "bdi"].into_iter().find(|t| part.starts_with(t)));
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
        assert_eq!(minutes(119.7), "2 min 00 s");
    }
}
