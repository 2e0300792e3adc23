//! Escapes text from outside for each output: a terminal, a message, a page, a comment in a program.
//!
//! A name in a file may contain anything: a control character that moves the cursor, a mark that reverses the direction of writing
//! and so hides a verdict, a tag, a bracket that ends a comment. Each output has one function here.

/// Longest text from a file that a message repeats, in characters: enough to find it again.
const LONGEST_SHOWN: usize = 60;

/// What a further line of a long comment of a program begins with.
pub const GOES_ON: &str = "- ";

/// Characters allowed in a comment of a program besides capital letters, digits and blanks.
pub const MARKS: &str = ".,-+=/'";

/// Whether a character can move, hide or reverse the text beside it: controls, line separators, and the marks of zero width and of
/// direction (Unicode Standard Annex 9).
#[must_use]
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{061C}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{FEFF}')
}

/// Text within a line, for a terminal or a page: such characters are made visible, and a tab, which only parts words, is a blank.
#[must_use]
pub fn visible(text: &str) -> String {
    text.chars().map(seen).collect()
}

fn seen(c: char) -> char {
    match c {
        '\t' => ' ',
        c if steers(c) => '\u{FFFD}',
        c => c,
    }
}

/// Text of several lines for a terminal: such characters are made visible, line ends are kept.
#[must_use]
pub fn visible_lines(text: &str) -> String {
    text.chars().map(|c| if c == '\n' { c } else { seen(c) }).collect()
}

/// Text from a file, quoted in a message: such characters are written as escapes, and long text is shortened.
#[must_use]
pub fn shown(text: &str) -> String {
    let mut shown: String = text.chars().take(LONGEST_SHOWN).flat_map(char::escape_debug).collect();
    if text.chars().nth(LONGEST_SHOWN).is_some() {
        shown.push('…');
    }
    shown
}

/// Text between tags and in attributes of a page or a picture; characters that XML forbids are replaced.
#[must_use]
pub fn for_markup(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if steers(c) || matches!(c, '\u{FFFE}' | '\u{FFFF}') => out.push('\u{FFFD}'),
            c => out.push(c),
        }
    }
    out
}

/// Text for a comment of a program: capital letters, digits, blanks and [`MARKS`], runs of blanks made one.
#[must_use]
pub fn for_comment(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        push_for_comment(&mut out, c);
    }
    out.split_ascii_whitespace().collect::<Vec<_>>().join(" ")
}

/// Adds the visible form of one character.
fn push_for_comment(out: &mut String, c: char) {
    let upper = c.to_ascii_uppercase();
    if upper.is_ascii_alphanumeric() || MARKS.contains(upper) {
        out.push(upper);
        return;
    }
    out.push_str(match c {
        c if c.is_whitespace() || c.is_control() => " ",
        '(' | ')' | '[' | ']' | '{' | '}' | '<' | '>' => " ",
        ':' | ';' => ",",
        '"' | '`' | '‘' | '’' | '“' | '”' => "'",
        '_' | '–' | '—' | '−' | '~' => "-",
        '\\' | '|' => "/",
        '&' => "+",
        '%' => " PCT ",
        '@' => " AT ",
        '×' => "X",
        '°' => " DEG ",
        'ä' | 'Ä' | 'æ' | 'Æ' => "AE",
        'ö' | 'Ö' | 'ø' | 'Ø' | 'œ' | 'Œ' => "OE",
        'ü' | 'Ü' => "UE",
        'å' | 'Å' => "AA",
        'ß' => "SS",
        'à' | 'á' | 'â' | 'ã' | 'À' | 'Á' | 'Â' | 'Ã' | 'ą' | 'Ą' => "A",
        'ç' | 'Ç' | 'č' | 'Č' | 'ć' | 'Ć' => "C",
        'è' | 'é' | 'ê' | 'ë' | 'È' | 'É' | 'Ê' | 'Ë' | 'ě' | 'Ě' | 'ę' | 'Ę' => "E",
        'ì' | 'í' | 'î' | 'ï' | 'Ì' | 'Í' | 'Î' | 'Ï' | 'ı' | 'İ' => "I",
        'ł' | 'Ł' => "L",
        'ñ' | 'Ñ' | 'ń' | 'Ń' | 'ň' | 'Ň' => "N",
        'ò' | 'ó' | 'ô' | 'õ' | 'Ò' | 'Ó' | 'Ô' | 'Õ' | 'ő' | 'Ő' => "O",
        'ř' | 'Ř' => "R",
        'š' | 'Š' | 'ś' | 'Ś' | 'ş' | 'Ş' => "S",
        'µ' | 'μ' | 'ù' | 'ú' | 'û' | 'Ù' | 'Ú' | 'Û' | 'ű' | 'Ű' | 'ů' | 'Ů' => "U",
        'ý' | 'ÿ' | 'Ý' => "Y",
        'ž' | 'Ž' | 'ź' | 'Ź' | 'ż' | 'Ż' => "Z",
        _ => ".",
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nothing_from_a_file_steers_the_line_it_stands_in() {
        assert_eq!(visible("a\u{202E}b\u{0}c\nd"), "a\u{FFFD}b\u{FFFD}c\u{FFFD}d");
        assert_eq!(visible(") G0 X0 ("), ") G0 X0 (");
        assert_eq!((visible("a\tb"), visible_lines("a\tb\n")), ("a b".to_owned(), "a b\n".to_owned()));
        assert_eq!(visible_lines("a\u{7}\nb"), "a\u{FFFD}\nb");
        assert_eq!(for_markup("<b>\u{202E}'"), "&lt;b&gt;\u{FFFD}&#39;");
        assert_eq!(shown("\u{202E}\n"), "\\u{202e}\\n");
        assert_eq!(for_comment(") G0 X0 (\u{202E}"), "G0 X0 .");
    }

    proptest! {
        #[test]
        fn whatever_a_file_holds_no_place_is_steered(text in any::<String>()) {
            let all = [visible(&text), visible_lines(&text).replace('\n', ""), shown(&text), for_markup(&text), for_comment(&text)];
            prop_assert!(all.iter().all(|t| !t.contains(steers)), "{:?}", all);
            prop_assert!(for_comment(&text).is_ascii());
        }
    }
}
