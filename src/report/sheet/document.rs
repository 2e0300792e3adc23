//! The HTML document around the body: style, script, and the policy that allows these two and nothing else.
//!
//! The policy (W3C, Content Security Policy Level 3) identifies both by the SHA-256 of their text. No other script or style
//! is applied, nothing is fetched, no form is sent.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

const STYLE: &str = include_str!("sheet.css");
const SCRIPT: &str = include_str!("sheet.js");

fn hash(text: &str) -> String {
    format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())))
}

fn policy() -> String {
    format!(
        "default-src 'none'; script-src {}; style-src {}; base-uri 'none'; form-action 'none'",
        hash(SCRIPT),
        hash(STYLE)
    )
}

/// The whole document for a body.
pub(super) fn document(title: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy());
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="referrer" content="no-referrer";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (body)
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    page.into_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: FIPS 180-4, SHA-256 of "abc", in base64 as CSP wants it.
    #[test]
    fn the_hash_is_that_of_the_standard() {
        assert_eq!(hash("abc"), "'sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='");
    }

    /// Text inside `style` and `script` is not escaped, so neither may contain its own end tag.
    #[test]
    fn style_and_script_cannot_end_their_elements() {
        assert!(!STYLE.contains("</") && !SCRIPT.contains("</") && !SCRIPT.contains("<!--"));
    }
}
