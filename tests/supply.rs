//! What others wrote and we build on: each direct dependency has its reason in DEVELOPERS.md, every package comes
//! from crates.io under a licence that lets a shop use and pass on the program, and what is there twice is known.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use serde_json::Value;

/// Licences (SPDX) under which a package may be used without more than naming it.
const PERMISSIVE: &[&str] = &[
    "0BSD",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// What cargo itself says of all packages that are built on this machine.
fn metadata() -> Value {
    let host = Command::new(env!("CARGO")).arg("-vV").output().expect("cargo runs").stdout;
    let host = String::from_utf8_lossy(&host);
    let host = host.lines().find_map(|l| l.strip_prefix("host: ")).expect("cargo names its host");
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--locked", "--offline", "--format-version", "1", "--filter-platform", host])
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("cargo writes JSON")
}

fn packages(metadata: &Value) -> &[Value] {
    metadata["packages"].as_array().expect("packages")
}

fn text<'a>(package: &'a Value, key: &str) -> &'a str {
    package[key].as_str().unwrap_or_default()
}

/// Whether every part of an SPDX expression leaves a permissive choice. Parts are split before choices, which judges
/// `A OR B AND C` more strictly than SPDX does.
fn permissive(expression: &str) -> bool {
    let plain = expression.replace(['(', ')'], " ").replace('/', " OR ");
    plain.split(" AND ").all(|part| {
        part.split(" OR ").any(|choice| {
            let licence = choice.split(" WITH ").next().unwrap_or_default().trim();
            PERMISSIVE.contains(&licence)
        })
    })
}

#[test]
fn every_licence_is_permissive_and_every_package_is_from_the_registry() {
    let metadata = metadata();
    let others: Vec<&Value> =
        packages(&metadata).iter().filter(|p| text(p, "name") != "facewright").collect();
    assert!(others.len() > 50, "{} packages show nothing", others.len());
    for package in others {
        let name = text(package, "name");
        assert!(permissive(text(package, "license")), "{name}: {}", package["license"]);
        assert!(text(package, "source").starts_with("registry+"), "{name}: {}", package["source"]);
    }
}

#[test]
fn an_expression_with_no_permissive_choice_is_seen() {
    assert!(
        permissive("MIT OR GPL-3.0")
            && permissive("(MIT OR Apache-2.0) AND Unicode-3.0")
            && permissive("MIT/Apache-2.0")
    );
    assert!(!permissive("GPL-3.0") && !permissive("") && !permissive("Apache-2.0 AND LGPL-2.1"));
    assert!(!permissive("(MIT OR GPL-3.0) AND GPL-3.0"));
}

#[test]
fn every_direct_dependency_has_its_reason() {
    let metadata = metadata();
    let ours = packages(&metadata).iter().find(|p| text(p, "name") == "facewright").expect("our own package");
    let used: BTreeSet<&str> =
        ours["dependencies"].as_array().expect("dependencies").iter().map(|d| text(d, "name")).collect();
    let page = std::fs::read_to_string("DEVELOPERS.md").expect("the page is there");
    let table = page.split("## What others wrote").nth(1).expect("the chapter is there");
    let table = table.split("\n## ").next().unwrap_or_default();
    let told: BTreeSet<&str> =
        table.lines().filter_map(|l| l.strip_prefix("| `")?.split('`').next()).collect();
    assert_eq!(used, told, "Cargo.toml against the table in DEVELOPERS.md");
}

/// Two versions of one package are two to trust: each is named in DEVELOPERS.md with who wants it.
#[test]
fn what_is_there_twice_is_known() {
    let metadata = metadata();
    let mut versions: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for package in packages(&metadata) {
        versions.entry(text(package, "name")).or_default().insert(text(package, "version"));
    }
    let page = std::fs::read_to_string("DEVELOPERS.md").expect("the page is there");
    let told =
        page.split("There twice: ").nth(1).and_then(|t| t.split('.').next()).expect("the sentence is there");
    let told: BTreeSet<&str> = told.split('`').skip(1).step_by(2).collect();
    let twice: BTreeSet<&str> = versions.iter().filter(|(_, v)| v.len() > 1).map(|(n, _)| *n).collect();
    assert_eq!(twice, told, "built in two versions against DEVELOPERS.md");
}
