//! Every finding that waits for a person names what settles it, and that settles it: each key is applied as the message writes it, and
//! the finding waits no more.

use super::lines::even;
use facewright::diagnostics::{Rule, SurveyRule};
use facewright::job::{self, Damage, DamageKind, Job, Zone};
use facewright::scan::ring::{DIAL_NOISE, RingReadings};
use facewright::scan::{MeasuredLine, MeasuredLines};
use facewright::survey::{self, Rank, Survey};
use facewright::units::Length;
use std::f64::consts::{PI, TAU};
use std::fs;

type Surface<'a> = &'a dyn Fn(f64, f64) -> f64;

/// A wheel that makes the survey ask, and what a person would write.
struct Case<'a> {
    rule: SurveyRule,
    degrees: Vec<f64>,
    z: Surface<'a>,
    /// What is accepted already.
    accepted: &'a str,
    /// Where the person looks.
    here: Zone,
    /// What the person found there, millimetres deep.
    depth: f64,
}

/// Lines over a face and readings round it.
fn measured(degrees: &[f64], z: Surface<'_>, round: bool) -> MeasuredLines {
    let exact = |at: &f64| {
        let points: Vec<(f64, f64)> =
            (0..1565).map(|i| 62.0 + 0.1 * f64::from(i)).map(|r| (r, z(r, at.to_radians()))).collect();
        MeasuredLine::exact(at.to_radians(), &points)
    };
    let angle = |i: u32| TAU * f64::from(i) / 8.0;
    let ring = RingReadings {
        radius: 214.0,
        heights: (0..8).map(|i| (angle(i), 3.0 + z(214.0, angle(i)))).collect(),
        noise: DIAL_NOISE,
    };
    let rings = if round { vec![ring] } else { Vec::new() };
    MeasuredLines { rings, ..MeasuredLines::known(degrees.iter().map(exact).collect()) }
}

fn surveyed(job: &Job, lines: &MeasuredLines) -> Survey {
    survey::survey(job, lines).unwrap_or_else(|e| panic!("{e}"))
}

/// The demo's job without its damage, with more keys as a person writes them.
fn with_keys(keys: &str) -> Job {
    let dir = tempfile::tempdir().expect("a directory");
    for file in ["shop.yaml", "job.yaml"] {
        let text = fs::read_to_string(format!("demo-data/{file}")).expect("the demo");
        let text = if file == "job.yaml" { text + "\n" + keys + "\n" } else { text };
        fs::write(dir.path().join(file), text).expect("it is written");
    }
    let mut job = job::load(&dir.path().join("job.yaml")).unwrap_or_else(|e| panic!("{keys}: {e}"));
    job.damage.clear();
    job
}

/// What stands between backticks.
fn named(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}

impl Case<'_> {
    fn lines(&self) -> MeasuredLines {
        measured(&self.degrees, self.z, false)
    }

    /// The survey once a person has done what a name in the message says; none for a word that is a value.
    fn settled_by(&self, name: &str) -> Option<Survey> {
        let Zone { from, to } = self.here;
        let stretch = format!("[{{ from: {} mm, to: {} mm }}]", from.as_mm(), to.as_mm());
        let keys = |key: &str| with_keys(&format!("{}\n{key}", self.accepted));
        Some(match name {
            "turn" => surveyed(&keys(""), &measured(&self.degrees, self.z, true)),
            "mend" | "leave" => surveyed(&keys(&format!("{name}: {stretch}")), &self.lines()),
            // The other of height and distance: the same readings count the other way.
            "z" => {
                let other = |r: f64, angle: f64| -(self.z)(r, angle);
                surveyed(&keys(""), &measured(&self.degrees, &other, false))
            }
            "height" | "distance" => return None,
            key => {
                assert!(key.contains(": "), "`{key}` is no key that a person could write");
                surveyed(&with_keys(key), &self.lines())
            }
        })
    }

    fn asks(&self, survey: &Survey) -> bool {
        survey.findings.iter().any(|f| f.rule == Rule::from(self.rule) && f.rank == Rank::Decision)
    }
}

#[test]
fn every_decision_names_a_key_that_settles_it() {
    let bend = |r: f64, angle: f64| 0.08 * (r / 216.0).powi(2) * (2.0 * angle).cos();
    let raised = |r: f64, at: f64| if at == 0.0 && (120.0..126.0).contains(&r) { 0.2 } else { 0.0 };
    // At a corner the face does not run on smoothly, so that the feet tell no depth.
    let dip = |r: f64, angle: f64| {
        let u = ((r - 150.0) / 6.0).clamp(0.0, 1.0);
        3.0 * u - if angle < 1.0 { 0.3 * (PI * u).sin().powi(2) } else { 0.0 }
    };
    let zone = |from: f64, to: f64| Zone { from: Length::mm(from), to: Length::mm(to) };
    let cases = [
        Case {
            rule: SurveyRule::TwoLinesUndecided,
            degrees: vec![0.0, 180.0],
            z: &|_, _| 0.0,
            accepted: "",
            here: zone(149.0, 157.0),
            depth: 0.0,
        },
        Case {
            rule: SurveyRule::BendBetweenLines,
            degrees: even(4),
            z: &bend,
            accepted: "",
            here: zone(149.0, 157.0),
            depth: 0.0,
        },
        Case {
            rule: SurveyRule::RaisedOnly,
            degrees: even(5),
            z: &raised,
            accepted: "",
            here: zone(119.0, 127.0),
            depth: 0.0,
        },
        Case {
            rule: SurveyRule::Undecided,
            degrees: vec![0.0, 180.0],
            z: &dip,
            accepted: "accept: [two-lobe bend unseen]",
            here: zone(149.0, 157.0),
            depth: 0.31,
        },
    ];
    let decisions = SurveyRule::ALL.iter().filter(|r| Rule::from(**r).rank() == Rank::Decision);
    for rule in decisions {
        assert!(cases.iter().any(|c| c.rule == *rule), "no wheel for the decision {rule:?}");
    }
    for case in &cases {
        let mut plain = with_keys(case.accepted);
        let asked = surveyed(&plain, &case.lines());
        assert!(case.asks(&asked), "{:?}: {:?}", case.rule, asked.findings);
        let remedy = Rule::from(case.rule).remedy();
        let settled: Vec<(&str, Survey)> =
            named(remedy).into_iter().filter_map(|name| Some((name, case.settled_by(name)?))).collect();
        assert!(!settled.is_empty(), "{remedy}");
        for (name, survey) in settled {
            assert!(!case.asks(&survey), "`{name}` of {:?}: {:?}", case.rule, survey.findings);
        }
        if remedy.contains("list the damage") {
            plain.damage.push(Damage {
                from: case.here.from,
                to: case.here.to,
                depth: Length::mm(case.depth),
                kind: DamageKind::Scrape,
                sector: None,
            });
            let listed = surveyed(&plain, &case.lines());
            assert!(!case.asks(&listed), "listed: {:?}", listed.findings);
        }
    }
}
