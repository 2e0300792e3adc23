//! Words and numbers as the page shows them.

/// Text from a file as a page may show it: nothing that steers, hides or turns round what stands beside it.
///
/// Tags and quotes are escaped where the text enters the page; here control characters and the marks that change the
/// direction of writing (Unicode, UAX 9) become visible.
pub(super) fn plain(text: &str) -> String {
    let steers = |c: char| {
        c.is_control()
            || matches!(c, '\u{061C}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{FEFF}')
    };
    text.chars().map(|c| if steers(c) { '\u{FFFD}' } else { c }).collect()
}

/// A length to the micrometre.
pub(super) fn mm(value: f64) -> String {
    format!("{} mm", number(value, 3))
}

/// A number with so many decimals, and no minus before a zero.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let zero = text.strip_prefix('-').filter(|t| t.chars().all(|c| matches!(c, '0' | '.')));
    zero.map_or_else(|| text.clone(), str::to_owned)
}

/// A number as short as its value allows at so many decimals.
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
    fn nothing_from_a_file_steers_the_page() {
        assert_eq!(plain("a\u{202E}b\u{0}c\nd"), "a\u{FFFD}b\u{FFFD}c\u{FFFD}d");
        assert_eq!(plain(") G0 X0 ("), ") G0 X0 (");
    }

    #[test]
    fn numbers_are_short_and_have_no_minus_zero() {
        assert_eq!(number(-0.000_1, 3), "0.000");
        assert_eq!(short(-0.01, 3), "-0.01");
        assert_eq!(short(120.0, 3), "120");
        assert_eq!(minutes(119.7), "2 min 00 s");
    }
}
