//! Formats words and numbers for the page.

/// Text from a file with control characters made visible; tags and quotes are escaped later, in the template.
pub(super) use crate::diagnostics::text::visible as plain;

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_have_no_minus_zero() {
        assert_eq!(number(-0.000_1, 3), "0.000");
        assert_eq!(short(-0.01, 3), "-0.01");
        assert_eq!(short(120.0, 3), "120");
        assert_eq!(minutes(119.7), "2 min 00 s");
    }
}
