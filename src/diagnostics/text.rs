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

/// Whether a character can move, hide or reverse the text beside it: controls, separators of lines and paragraphs, and format characters, such as
/// marks of zero width, of direction (Unicode Standard Annex 9) and tags: the general categories Cc, Zl, Zp and Cf (Unicode Standard,
/// 4.5), with what stands unassigned between them and is ignored by default.
#[must_use]
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{00AD}'
            | '\u{0600}'..='\u{0605}'
            | '\u{061C}'
            | '\u{06DD}'
            | '\u{070F}'
            | '\u{0890}'..='\u{0891}'
            | '\u{08E2}'
            | '\u{180E}'
            | '\u{200B}'..='\u{200F}'
            | '\u{2028}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}'
            | '\u{FEFF}'
            | '\u{FFF0}'..='\u{FFFB}'
            | '\u{110BD}'
            | '\u{110CD}'
            | '\u{13430}'..='\u{1343F}'
            | '\u{1BCA0}'..='\u{1BCA3}'
            | '\u{1D173}'..='\u{1D17A}'
            | '\u{E0000}'..='\u{E007F}')
}

/// JSON in which such characters stand as escapes: the same value, and nothing in it that could steer a terminal. Outside its texts JSON has
/// none of them but line ends, which stay.
#[must_use]
pub fn escaped_json(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c != '\n' && steers(c) {
            for unit in c.encode_utf16(&mut [0; 2]) {
                let escape = format!("\\u{unit:04x}");
                out += &escape;
            }
        } else {
            out.push(c);
        }
    }
    out
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

    /// Characters that a terminal takes for orders or hides: C1 controls, marks of direction and of zero width, tags.
    const FORMAT: &[std::ops::RangeInclusive<char>] = &[
        '\u{7F}'..='\u{9F}',
        '\u{180E}'..='\u{180E}',
        '\u{200B}'..='\u{200F}',
        '\u{2028}'..='\u{202E}',
        '\u{2060}'..='\u{206F}',
        '\u{E0001}'..='\u{E0001}',
        '\u{E0020}'..='\u{E007F}',
    ];

    /// What the standard library writes as an escape since it cannot be printed, of those that are assigned and take no place of
    /// their own: another list of the same characters.
    #[test]
    fn format_characters_are_those_that_cannot_be_printed() {
        for c in FORMAT.iter().cloned().flatten().chain(['\u{AD}', '\u{2062}', '\u{FFF9}', '\u{1D173}']) {
            assert!(steers(c), "{}", c.escape_unicode());
            assert_eq!(c.escape_debug().to_string(), c.escape_unicode().to_string());
        }
        for c in ['a', 'é', '\u{301}', '中', '😀', ' ', '\u{3000}'] {
            assert!(!steers(c), "{}", c.escape_unicode());
        }
    }

    proptest! {
        #[test]
        fn json_keeps_its_value_and_steers_nothing(text in any::<String>(), c in prop::char::ranges(FORMAT.into())) {
            let text = format!("{text}{c}");
            let json = escaped_json(&serde_json::to_string_pretty(&[&text]).unwrap());
            prop_assert!(!json.replace('\n', "").contains(steers), "{json}");
            prop_assert_eq!(serde_json::from_str::<Vec<String>>(&json).unwrap(), vec![text]);
        }

        #[test]
        fn whatever_a_file_holds_no_place_is_steered(text in any::<String>()) {
            let all = [visible(&text), visible_lines(&text).replace('\n', ""), shown(&text), for_markup(&text), for_comment(&text)];
            prop_assert!(all.iter().all(|t| !t.contains(steers)), "{:?}", all);
            prop_assert!(for_comment(&text).is_ascii());
        }
    }
}
