//! Every number of the job and the shop file at the edges of what it may be: refused in words, or the program is right.
//!
//! The table of keys is walked, so that a new key is tried of itself. In a key's own example each number is put to nothing, minus
//! nothing, tiny, small, great, absurd and negative, and where there are two, to equal and reversed ones. The rest is the demo, with
//! groups that it lacks made of the examples of their keys, and with what must stand beside a key and what must not. What the files' reader refuses names the key or shows
//! the value; what survey, plan or writer refuse names the key or its group, or tells the fact that the key decides ([`FACTS`]); what is not must come to a program that the
//! proof does not stop: that refusal would be a fault of ours. The example itself is tried as it stands.

use facewright::job::keys::{Absent, Form, Group, JOB, Key, SHOP};
use facewright::pipeline::{self, Loaded, PipelineError};
use facewright::plan::Options;
use serde_yaml::{Mapping, Value};
use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::path::Path;
use std::sync::Mutex;
use std::thread;

/// What every number is put to, in the unit of the example.
const VALUES: [&str; 12] =
    ["0", "-0", "0.000001", "0.01", "0.3", "2", "10", "120", "1000", "1000000", "-1", "1e300"];

/// One key at one value.
struct Case {
    in_shop: bool,
    /// The way to the key: names of groups, with `0` for the first of a list.
    way: Vec<String>,
    value: String,
    /// The number in it that is at its edge.
    number: String,
}

/// The numbers of a text: where each begins and ends.
fn numbers(text: &str) -> Vec<(usize, usize)> {
    let bytes = text.as_bytes();
    let mut all = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let before = at.checked_sub(1).map(|i| bytes[i]);
        let begins =
            bytes[at].is_ascii_digit() && !before.is_some_and(|b| b.is_ascii_alphanumeric() || b == b'-');
        if begins {
            let end = (at..bytes.len()).find(|&i| !(bytes[i].is_ascii_digit() || bytes[i] == b'.'));
            let end = end.unwrap_or(bytes.len());
            all.push((at, end));
            at = end;
        } else {
            at += 1;
        }
    }
    all
}

/// The example of a key with each of its numbers at each value.
fn at_edges(example: &str) -> Vec<(String, String)> {
    let at = numbers(example);
    let put =
        |(from, to): (usize, usize), value: &str| format!("{}{value}{}", &example[..from], &example[to..]);
    let mut all: Vec<(String, String)> =
        at.iter().flat_map(|&n| VALUES.map(|v| (put(n, v), v.to_owned()))).collect();
    if let Some(&(from, to)) = at.first() {
        all.push((example.to_owned(), example[from..to].to_owned()));
    }
    if let [a, b, ..] = *at.as_slice() {
        let (first, second) = (&example[a.0..a.1], &example[b.0..b.1]);
        let both = |x: &str, y: &str| {
            let text = format!("{}{x}{}{y}{}", &example[..a.0], &example[a.1..b.0], &example[b.1..]);
            (text, x.to_owned())
        };
        all.extend([both(second, second), both(second, first)]);
    }
    all
}

fn collect(group: &'static Group, in_shop: bool, way: &[String], into: &mut Vec<Case>) {
    for key in group.keys {
        let mut way = way.to_vec();
        way.push(key.key.to_owned());
        if let Some(group) = key.form.group() {
            match key.form {
                Form::List(_) => way.push("0".into()),
                Form::Named(_) => way.push("*".into()),
                _ => {}
            }
            collect(group, in_shop, &way, into);
        } else {
            let values = at_edges(key.example).into_iter();
            into.extend(values.map(|(value, number)| Case { in_shop, way: way.clone(), value, number }));
        }
    }
}

fn yaml(text: &str) -> Value {
    serde_yaml::from_str(text).unwrap_or_else(|_| Value::String(text.into()))
}

/// A group with its needed keys at their examples.
fn made(group: &Group) -> Value {
    let needed = group.keys.iter().filter(|k| !matches!(k.absent, Absent::Then(_)));
    let of = |k: &Key| match k.form.group() {
        Some(inner) => made(inner),
        None => yaml(k.example),
    };
    Value::Mapping(needed.map(|k| (Value::String(k.key.into()), of(k))).collect::<Mapping>())
}

/// A group under a key: as its example writes it, where that is whole; else made of its needed keys.
fn group_under(key: &Key, inner: &Group) -> Value {
    let example = yaml(key.example);
    let first = example.as_sequence().and_then(|all| all.first()).unwrap_or(&example);
    if first.is_mapping() && !key.example.contains("...") { first.clone() } else { made(inner) }
}

/// What stands beside a key of a group: with it, and not with it.
const BESIDE: [(&str, &str, &str, &[&str]); 8] = [
    ("DamageFile", "at", "over: 60 deg", &[]),
    ("DamageFile", "over", "at: 40 deg", &[]),
    ("KeepOutFile", "corners", "", &["x", "z"]),
    ("RoughFile", "texture", "", &["feed"]),
    ("FinishFile", "feed", "", &["texture"]),
    ("ControlFile", "speed_steps", "surface_speed: false, spindle_limit_word: none", &[]),
    // The lines of the demo measured again were measured with the sensor set anew.
    ("MeasuredAgain", "cut", "zero: face", &[]),
    ("MeasuredAgain", "lines", "zero: face", &[]),
];

/// What a refusal may tell in place of a key: the fact that the key decides.
const FACTS: [(&str, &[&str]); 16] = [
    ("wheel.allowance.limit", &["more than the wheel may lose"]),
    ("measured.run_out", &["an indicator at the rim read"]),
    ("keep_out.0.z", &["crossing to the face needs"]),
    ("control.largest_sequence", &["sequence numbers up to"]),
    ("finish.depth", &["The schedule takes"]),
    ("wheel.bend_limit", &["more than a bend may be"]),
    ("wheel.run_out_limit", &["The wheel runs out"]),
    ("measured.x_offset", &["reaches beyond what was measured"]),
    ("measured.longest_gap", &["Nothing was measured on metal"]),
    // What is left of the face beside so much of no metal.
    ("no_metal.0.to", &["The face is known within"]),
    ("turn.0.at", &["a bend of"]),
    ("turn.0.every", &["a bend of", "runs out"]),
    ("turn.0.reads", &["a bend of", "runs out"]),
    // Higher than the park, it cannot be crossed.
    ("keep_out.0.corners", &["crossing to the face needs"]),
    ("holder.outer", &["would enter the keep-out"]),
    ("rough.depth", &["The schedule takes"]),
];

/// Puts a value under a way, with the groups on it made where they are not there.
fn put(node: &mut Value, group: &'static Group, way: &[String], value: &str) {
    let Some((name, rest)) = way.split_first() else { return };
    let key = group.keys.iter().find(|k| k.key == name).expect("a key of the group");
    let map = node.as_mapping_mut().expect("a group");
    let slot = map.entry(Value::String(name.clone())).or_insert(Value::Null);
    let beside = BESIDE.iter().filter(|(kind, key, ..)| (*kind, *key) == (group.kind, name.as_str()));
    let Some(inner) = key.form.group() else {
        *slot = yaml(value);
        beside.for_each(|b| stand_beside(map, b.2, b.3));
        return;
    };
    let (slot, rest) = match rest.split_first() {
        Some((step, rest)) if step == "0" => {
            if slot.as_sequence().is_none_or(Vec::is_empty) {
                let example = yaml(key.example);
                let whole = example.as_sequence().filter(|all| all.iter().all(Value::is_mapping));
                let written = whole.filter(|all| !all.is_empty() && !key.example.contains("..."));
                *slot = Value::Sequence(written.cloned().unwrap_or_else(|| vec![group_under(key, inner)]));
            }
            (&mut slot.as_sequence_mut().expect("a list")[0], rest)
        }
        Some((step, rest)) if step == "*" => {
            if slot.as_mapping().is_none() {
                let one = [(Value::String("one".into()), made(inner))];
                *slot = Value::Mapping(one.into_iter().collect());
            }
            let first = slot.as_mapping_mut().expect("names").iter_mut().next().expect("one");
            (first.1, rest)
        }
        _ => {
            if !slot.is_mapping() {
                *slot = group_under(key, inner);
            }
            (slot, rest)
        }
    };
    put(slot, inner, rest, value);
    beside.for_each(|b| stand_beside(map, b.2, b.3));
}

/// Adds keys to a group, and takes others out of it.
fn stand_beside(map: &mut Mapping, with: &str, without: &[&str]) {
    map.extend(yaml(&format!("{{ {with} }}")).as_mapping().expect("a group").clone());
    for key in without {
        map.remove(*key);
    }
}

/// Whether a refusal of survey, plan or writer tells what is wrong: by the key or its group, or by the fact that the key decides ([`FACTS`]).
fn tells(said: &str, case: &Case) -> bool {
    let steps = case.way.iter().rev().filter(|step| *step != "0" && *step != "*").take(2);
    let key = case.way.join(".");
    let facts = FACTS.iter().filter(|(end, _)| key.ends_with(end)).flat_map(|(_, facts)| *facts);
    steps.into_iter().any(|step| names(said, step)) || facts.into_iter().any(|fact| said.contains(fact))
}

/// Whether a text names a key: as it is written in the file, or in words. A short one is a word of any sentence, and must be quoted.
fn names(said: &str, key: &str) -> bool {
    ["_", " ", "-"].iter().map(|by| key.replace('_', by)).any(|key| {
        let quoted = said.contains(&format!("`{key}`")) || said.contains(&format!("{key}:"));
        let alone = |at: usize| {
            let letter = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
            !letter(said[..at].chars().next_back()) && !letter(said[at + key.len()..].chars().next())
        };
        quoted || key.len() > 3 && said.match_indices(&key).any(|(at, _)| alone(at))
    })
}

/// What became of each job that was read, by all that it holds: how it was refused, or none where there is a program. Two values, or one at two keys, that
/// make the same job are planned and proved once.
#[derive(Default)]
struct Made(Mutex<HashMap<String, Result<Option<String>, String>>>);

impl Made {
    fn of(&self, loaded: &Loaded, folder: &Path) -> Result<Option<String>, String> {
        let job = format!("{:?}", loaded.job()).replace(&*folder.to_string_lossy(), "");
        if let Some(made) = self.0.lock().expect("no panic").get(&job) {
            return made.clone();
        }
        let program = loaded.measure().and_then(|m| m.survey()?.plan(Options::default())?.write()?.prove());
        let made = match program {
            Ok(_) => Ok(None),
            Err(fault @ PipelineError::Proof(_)) => Err(format!("{fault}")),
            Err(refused) => Ok(Some(refused.to_string())),
        };
        self.0.lock().expect("no panic").insert(job, made.clone());
        made
    }
}

/// What became of a case: how it was refused, or none where there is a program.
fn tried(folder: &Path, case: &Case, made: &Made) -> Result<Option<String>, String> {
    let [mut job, mut shop] = ["job.yaml", "shop.yaml"]
        .map(|name| yaml(&fs::read_to_string(Path::new("demo-data").join(name)).expect("the demo is there")));
    if case.in_shop {
        put(&mut shop, &SHOP, &case.way, &case.value);
    } else {
        if case.way.first().is_some_and(|key| key == "schedule") {
            // The shop's, written out.
            let name = job["schedule"].as_str().expect("a name").to_owned();
            job["schedule"] = shop["schedules"][name.as_str()].clone();
        }
        put(&mut job, &JOB, &case.way, &case.value);
    }
    if case.way.iter().any(|step| step == "speed_changes") {
        put(&mut shop, &SHOP, &["control".into(), "speed_steps".into()], "6");
    }
    for (name, value) in [("job.yaml", &job), ("shop.yaml", &shop)] {
        fs::write(folder.join(name), serde_yaml::to_string(value).expect("YAML")).expect("written");
    }
    let loaded = match pipeline::load(&folder.join("job.yaml")) {
        Ok(loaded) => loaded,
        Err(refused) => {
            let said = refused.to_string();
            let key = case.way.iter().rfind(|step| *step != "0" && *step != "*").expect("a key");
            let names = said.contains(key.as_str()) || said.contains(&case.number);
            return if names { Ok(Some(said)) } else { Err(format!("refused without naming it: {said}")) };
        }
    };
    match made.of(&loaded, folder)? {
        Some(said) if !tells(&said, case) => Err(format!("told otherwise: {said}")),
        became => Ok(became),
    }
}

#[test]
fn every_number_at_its_edges_is_refused_in_words_or_right() {
    let mut cases = Vec::new();
    collect(&JOB, false, &[], &mut cases);
    collect(&SHOP, true, &[], &mut cases);
    let workers = thread::available_parallelism().map_or(1, usize::from);
    let (cases, made) = (&cases, &Made::default());
    let all: Vec<(usize, Result<Option<String>, String>)> = thread::scope(|scope| {
        let parts: Vec<_> = (0..workers)
            .map(|w| {
                scope.spawn(move || {
                    let folder = tempfile::tempdir().expect("a folder");
                    for name in ["scan-000.csv", "scan-120.csv", "scan-240.csv", "again-000.csv"] {
                        fs::copy(Path::new("demo-data").join(name), folder.path().join(name))
                            .expect("copied");
                    }
                    let mine = (w..cases.len()).step_by(workers);
                    mine.map(|i| (i, tried(folder.path(), &cases[i], made))).collect::<Vec<_>>()
                })
            })
            .collect();
        parts.into_iter().flat_map(|part| part.join().expect("no panic")).collect()
    });
    let mut keys: BTreeMap<String, [usize; 2]> = BTreeMap::new();
    let mut wrong = Vec::new();
    for (i, done) in &all {
        let Case { in_shop, way, value, .. } = &cases[*i];
        let name = format!("{}: {}", if *in_shop { "shop" } else { "job" }, way.join("."));
        let tally = keys.entry(name.clone()).or_default();
        match done {
            Ok(None) => tally[0] += 1,
            Ok(Some(_)) => tally[1] += 1,
            Err(why) => wrong.push(format!("{name} = {value}: {why}")),
        }
        if std::env::var("VALUES").is_ok() {
            println!("{name} = {value}: {done:?}");
        }
    }
    println!("{} values of {} keys, {} jobs", all.len(), keys.len(), made.0.lock().expect("no panic").len());
    for (name, [right, refused]) in &keys {
        println!("{name}: {right} right, {refused} refused");
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), all.len(), wrong.join("\n"));
    assert!(
        keys.len() > 80 && keys.values().map(|k| k[0]).sum::<usize>() > 200,
        "too few are tried to show anything"
    );
}
