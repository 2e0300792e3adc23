//! The tables of rules in docs/proof.md and docs/survey.md are those of the program.
//!
//! `DOCS_UPDATE=1 cargo test --test all diagnostics::` writes them anew.

use crate::fixtures::{demo, page};
use facewright::diagnostics::Rule;
use facewright::{proof, scan, survey};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;

/// The table of some rules as a page shows it.
fn table<'a>(rules: impl Iterator<Item = &'a Rule>) -> String {
    let mut out =
        String::from("| rule | what it is | rank | why it matters | what to do |\n|---|---|---|---|---|\n");
    for rule in rules {
        let rank = match rule.rank_before_others() {
            Some(lower) => format!("{}; {lower} before others", rule.rank()),
            None => rule.rank().to_string(),
        };
        let _ = writeln!(
            out,
            "| `{}` | {} | {rank} | {} | {} |",
            rule.id(),
            rule.title(),
            rule.why(),
            if rule.remedy().is_empty() { "nothing" } else { rule.remedy() }
        );
    }
    out
}

/// Compares a page's table with the rules, or writes it anew.
fn compare(file: &str, of: &str, rules: &[Rule]) {
    page::holds(file, [&format!("rules of {of}"), "end of rules"], &table(rules.iter()));
}

/// The tables of keys in docs/keys.md are those of the program; `DOCS_UPDATE=1` writes them anew.
#[test]
fn the_page_of_keys_has_every_key_and_no_other() {
    page::holds("docs/keys.md", ["keys", "end of keys"], &facewright::report::keys::page());
}

/// The schemas that the demo's files name for an editor are those that the program prints; `DOCS_UPDATE=1` writes them anew.
#[test]
fn the_schemas_beside_the_pages_are_those_of_the_program() {
    use facewright::job::keys::{JOB, SHOP};
    for (file, root) in [("docs/job.schema.json", &JOB), ("docs/shop.schema.json", &SHOP)] {
        let now = format!("{:#}\n", facewright::report::keys::schema(root));
        if std::env::var_os("DOCS_UPDATE").is_some() {
            fs::write(file, &now).unwrap_or_else(|e| panic!("{file}: {e}"));
        }
        let before = fs::read_to_string(file).unwrap_or_else(|e| panic!("{file}: {e}"));
        assert!(before == now, "{file} is not the table; DOCS_UPDATE=1 writes it anew");
    }
}

/// Every rule and every key can be looked up.
#[test]
fn every_word_of_a_finding_or_a_file_is_explained() {
    for word in facewright::report::explain::explained() {
        let text = facewright::report::explain::explain(word);
        assert!(text.is_some_and(|t| t.starts_with(word) && t.lines().count() > 1), "{word}");
    }
    assert_eq!(facewright::report::explain::explain("no such word"), None);
}

#[test]
fn the_pages_have_every_rule_and_no_other() {
    // Programs' rules are looked up by their word; the survey's stand in the order of its page.
    let mut proof: Vec<Rule> =
        Rule::all().filter(|r| matches!(r, Rule::Program(_) | Rule::Sweep(_))).collect();
    proof.sort_by_key(|r| r.id());
    compare("docs/proof.md", "the proof", &proof);
    let survey: Vec<Rule> = Rule::all().filter(|r| matches!(r, Rule::Survey(_))).collect();
    compare("docs/survey.md", "the survey", &survey);
    let plan: Vec<Rule> = Rule::all().filter(|r| matches!(r, Rule::Plan(_))).collect();
    compare("docs/survey.md", "the plan", &plan);
    assert_eq!(proof.len() + survey.len() + plan.len(), Rule::all().count());
}

/// Survey and proof give a finding in one shape, whatever it is.
#[test]
fn a_finding_has_one_shape_in_json() {
    let (job, face) = demo::job_and_face();
    let traces = scan::open_all(&job.measured).expect("the scans are whole");
    let survey = survey::survey(job, &traces).expect("the demo's wheel has a face");
    // A cut outside the zones, dry, by a tool that was never called: many rules, with and without a number.
    let report = proof::prove(b"G90\nG01 X190. Z-3.\nG00 X100.\n", job, face);
    let survey = serde_json::to_value(&survey.findings).expect("JSON");
    let proof = serde_json::to_value(&report).expect("JSON");
    let findings = [&survey, &proof["findings"]].into_iter().flat_map(|all| all.as_array().expect("a list"));
    let mut numbers = BTreeSet::new();
    for finding in findings {
        let keys: Vec<&str> = finding.as_object().expect("an object").keys().map(String::as_str).collect();
        let unit = keys.iter().find_map(|k| k.strip_prefix("value")).unwrap_or_else(|| panic!("{finding}"));
        let (value, limit) = (format!("value{unit}"), format!("limit{unit}"));
        let wanted = ["rule", "rank", "place", "what", &value, &limit, "why", "do"];
        assert_eq!(BTreeSet::from_iter(keys), BTreeSet::from(wanted), "{finding}");
        assert_eq!(finding[&value].is_null(), unit.is_empty(), "{finding}");
        let id = finding["rule"].as_str().expect("a word");
        let why = finding["why"].as_str();
        assert!(Rule::named(id).any(|r| Some(r.why()) == why), "{finding}");
        numbers.insert(unit.to_owned());
    }
    assert!(numbers.contains("") && numbers.contains("_mm"), "{numbers:?}");
}
