//! What a word of a finding or of a file means: a rule, a key, a key with those above it, or a word that may stand under a key.
//!
//! A person asks with what they have before them: `longest_gap`, `wheel.speed_limit`, `schedules.kerbside.rough.depth`, `to: edge` or
//! the bare `edge`. Names that a shop chose itself, such as `kerbside`, are in no table and are passed over.

use super::keys::{absent, example_in_inches, form};
use crate::diagnostics::Rule;
use crate::job::keys::{Form, Group, JOB, Key, SHOP, groups};
use std::fmt::Write as _;

/// A key where it stands in a file.
struct Placed {
    /// The keys above it, that of the file's own group first.
    above: Vec<&'static str>,
    group: &'static Group,
    key: &'static Key,
}

/// Every key of both files, a key of a group that stands in several places once for each.
fn placed() -> Vec<Placed> {
    fn collect(group: &'static Group, above: &[&'static str], all: &mut Vec<Placed>) {
        for key in group.keys {
            all.push(Placed { above: above.to_vec(), group, key });
            if let Some(inner) = key.form.group() {
                collect(inner, &[above, &[key.key]].concat(), all);
            }
        }
    }
    let mut all = Vec::new();
    for root in [&JOB, &SHOP] {
        collect(root, &[], &mut all);
    }
    all
}

/// What a word is: every rule and every key of that name, and every key under which it may stand. None where there is nothing of it.
#[must_use]
pub fn explain(word: &str) -> Option<String> {
    let word = word.trim().trim_matches(['`', '"', '\'']).trim_end_matches(':');
    let mut out = String::new();
    for rule in Rule::named(word) {
        write_rule(&mut out, rule);
    }
    let (path, value) = word.split_once(':').map_or((word, None), |(path, value)| (path, Some(value.trim())));
    let mut found = at(path);
    if let Some(value) = value {
        // What is none of the words that may stand there is a quantity or a name: the key is explained all the same.
        let takes: Vec<_> = found.iter().copied().filter(|(_, key)| takes(key.form, value)).collect();
        found = if takes.is_empty() { found } else { takes };
    }
    for (group, key) in &found {
        write_key(&mut out, group, key);
    }
    let under: Vec<(&Group, &Key)> = groups()
        .into_iter()
        .flat_map(|group| group.keys.iter().map(move |key| (group, key)))
        .filter(|(_, key)| takes(key.form, word))
        .collect();
    if out.is_empty() {
        if !under.is_empty() {
            let _ = writeln!(out, "{word} may stand under a key:");
        }
        for (group, key) in under {
            write_key(&mut out, group, key);
        }
    } else if !under.is_empty() {
        let places: Vec<String> =
            under.iter().map(|(group, key)| format!("`{}` ({})", key.key, group.place)).collect();
        let _ = writeln!(out, "{word} may also stand under a key: {}", places.join(", "));
    }
    (!out.is_empty()).then_some(out)
}

// Writing to a string cannot fail.
fn write_rule(out: &mut String, rule: Rule) {
    let _ = writeln!(out, "{} ({}): {}", rule.id(), rule.rank(), rule.title());
    let _ = writeln!(out, "  why         {}", rule.why());
    if !rule.remedy().is_empty() {
        let _ = writeln!(out, "  what to do  {}", rule.remedy());
    }
}

fn write_key(out: &mut String, group: &Group, key: &Key) {
    let _ = writeln!(out, "{} ({})", key.key, group.place);
    let _ = writeln!(out, "  is          {}", key.why);
    let _ = writeln!(out, "  may hold    {}", form(key.form));
    let _ = writeln!(out, "  such as     {}: {}", key.key, key.example);
    let inches = example_in_inches(key);
    if inches != key.example {
        let _ = writeln!(out, "  in inches   {}: {inches}", key.key);
    }
    let _ = writeln!(out, "  left out    {}", absent(key));
    let _ = writeln!(out, "  if wrong    {}", key.harm);
}

/// The keys of a name, of a dotted one those that have most of the keys before it above them, and one at least.
fn at(path: &str) -> Vec<(&'static Group, &'static Key)> {
    let (names, last) = parts(path);
    let matched = |p: &Placed| {
        let mut from = 0;
        let mut is_above = |name: &&&str| {
            let place = p.above.iter().skip(from).position(|above| above == *name);
            from += place.map_or(0, |place| place + 1);
            place.is_some()
        };
        names.iter().filter(|name| is_above(name)).count()
    };
    let named: Vec<(usize, Placed)> =
        placed().into_iter().filter(|p| p.key.key == last).map(|p| (matched(&p), p)).collect();
    let most = named.iter().map(|(count, _)| *count).max().unwrap_or(0);
    let mut found: Vec<(&'static Group, &'static Key)> = Vec::new();
    for (count, p) in named {
        let known = found.iter().any(|(_, key)| std::ptr::eq(*key, p.key));
        if count == most && !known && (names.is_empty() || most > 0) {
            found.push((p.group, p.key));
        }
    }
    found
}

/// The keys before the last of a dotted name, and the last; without the places in a list, as in `zones[0].to`.
fn parts(path: &str) -> (Vec<&str>, &str) {
    let mut names: Vec<&str> =
        path.split('.').map(|part| part.split('[').next().unwrap_or(part).trim()).collect();
    let last = names.pop().unwrap_or(path);
    (names, last)
}

/// What stands under the last group that a dotted name goes through: for a name of which the table has no key.
#[must_use]
pub fn keys_of_group(path: &str) -> Option<(&'static str, Vec<&'static str>)> {
    let (names, _) = parts(path);
    let of = |name: &&str| at(name).into_iter().find_map(|(_, key)| Some((key.key, key.form.group()?)));
    let (name, group) = names.iter().rev().find_map(of)?;
    Some((name, group.keys.iter().map(|key| key.key).collect()))
}

/// Whether a word is one of those that a key may hold.
fn takes(form: Form, word: &str) -> bool {
    let quoted = |text: &str| text.split('`').skip(1).step_by(2).any(|quoted| quoted == word);
    match form {
        Form::Words(words) => words.contains(&word),
        Form::Or(words, other) => words.contains(&word) || quoted(other),
        Form::ListOf(what) => quoted(what),
        _ => false,
    }
}

/// Every rule and every key.
pub fn explained() -> impl Iterator<Item = &'static str> {
    Rule::all().map(Rule::id).chain(groups().into_iter().flat_map(|g| g.keys).map(|k| k.key))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How many keys are explained, and the place of the first.
    fn told(word: &str) -> (usize, String) {
        let text = explain(word).unwrap_or_default();
        let place = text.lines().find_map(|l| Some(l.split_once('(')?.1.split_once(')')?.0.to_owned()));
        (text.matches("\n  may hold ").count(), place.unwrap_or_default())
    }

    #[test]
    fn a_key_is_found_with_those_above_it() {
        for (word, place) in [
            ("wheel.speed_limit", "job file: wheel"),
            ("wheel.allowance.limit", "job file: wheel: allowance"),
            ("zones[0].to", "job file: zones"),
            ("schedules.kerbside.rough.depth", "shop file: schedules: a schedule: rough"),
            ("passes.rough.depth", "shop file: schedules: a schedule: rough"),
            ("rough.depth:", "shop file: schedules: a schedule: rough"),
            ("sensors.probe.x", "shop file: sensors: a sensor"),
            ("to: edge", "job file: zones"),
            ("from: edge", "job file: zones"),
            ("`measured.z: distance`", "job file: measured"),
            ("touch_off.at: 82 mm", "job file: touch_off"),
        ] {
            assert_eq!(told(word), (1, place.to_owned()), "{word}");
        }
        assert_eq!(explain("wheel.diameter"), None);
        assert_eq!(explain("foo.depth"), None);
        let (group, keys) = keys_of_group("wheel.diameter").unwrap_or_default();
        assert!(group == "wheel" && keys.contains(&"speed_limit"), "{keys:?}");
    }

    /// Whoever counts inches finds the example in inches, with the units that an inch shop has; where it has no unit it is not repeated.
    #[test]
    fn an_example_is_shown_in_inches_too() {
        for (key, inches) in [
            ("longest_gap", "  such as     longest_gap: 2 mm\n  in inches   longest_gap: 0.0787 in\n"),
            ("measured.run_out", "  in inches   run_out: 0.0031 in\n"),
            (
                "turn",
                "  in inches   turn: [{ at: 8.43 in, every: 45 deg, reads: [0.000 in, 0.0012 in, 0.0020 in] }]\n",
            ),
            ("rapid", "  in inches   rapid: 236 in/min\n"),
            ("rough.surface_speed", "  in inches   surface_speed: 918.6 ft/min\n"),
        ] {
            let text = explain(key).unwrap_or_default();
            assert!(text.contains(inches), "{key}: {text}");
        }
        let text = explain("sequence").unwrap_or_default();
        assert!(!text.is_empty() && !text.contains("in inches"), "{text}");
    }

    /// A word that is no key is explained by the keys that may hold it; one that is a key too says where else it may stand.
    #[test]
    fn a_word_is_found_by_the_keys_that_may_hold_it() {
        let edge = explain("edge").unwrap_or_default();
        assert!(
            edge.contains("runs off the metal at the rim") && edge.contains("to (job file: zones)"),
            "{edge}"
        );
        let height = explain("height").unwrap_or_default();
        assert!(
            height.starts_with("height (") && height.contains("may also stand under a key: `z` ("),
            "{height}"
        );
        for word in ["two-lobe bend unseen", "G50", "spot", "trace", "inward"] {
            assert!(explain(word).is_some(), "{word}");
        }
    }
}
