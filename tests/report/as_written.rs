//! What a page or an account takes from files and from programs as it stands there: names, and the checksum of a head.

use crate::fixtures::controls::VARIANTS;
use crate::fixtures::demo;
use facewright::job::Job;
use facewright::plan::Plan;
use facewright::proof::{Circumstances, read_back};
use facewright::report::account;
use facewright::report::sheet::{Origin, Program, Sheet, page};
use facewright::units::{Length, for_shop};

/// A page with one program, given or written.
fn page_with(job: &Job, plan: &Plan, name: &str, text: &str, origin: Origin) -> String {
    let survey = &demo::surveyed().1;
    let back = read_back(text.as_bytes(), job, survey.face(), &Circumstances::default());
    let written = facewright::gcode::write(job, plan).expect("a program").remove(0);
    let passes = if origin == Origin::Written { written.names } else { Vec::new() };
    page(&Sheet {
        job,
        survey: Ok(survey),
        plan: Ok(plan),
        already: Length::mm(0.0),
        touch_offs: written.touch_offs,
        origin,
        programs: vec![Program {
            name: name.to_owned(),
            passes,
            simulation: back.simulation,
            report: back.report,
        }],
    })
}

/// In a shop of inches lengths are told in inches, but a name is a name: it is what stands in the program's head and on the wheel.
#[test]
fn names_stay_as_their_files_have_them_in_a_shop_of_inches() {
    let &(_, inches) = VARIANTS.iter().find(|(name, _)| *name == "inches").expect("a control in inches");
    let (job, face) = demo::job_and_face();
    let mut job = job.clone();
    inches(&mut job);
    job.title = "rim 5 mm deep".to_owned();
    job.wheel.name = "17 mm x 430 mm rim".to_owned();
    job.wheel.material = "cast, 9 mm thick".to_owned();
    let tool = "nose of 2 mm".to_owned();
    job.schedule.rough.as_mut().expect("rough passes").tool.clone_from(&tool);
    job.tools[0].name = tool;
    let plan = facewright::plan::plan(&job, face, facewright::plan::Options::default());
    let plan = plan.expect("a plan");
    let text = facewright::gcode::write(&job, &plan).expect("a program").remove(0).text;
    let page = page_with(&job, &plan, "depth 3 mm.nc", &text, Origin::Written);
    let account = for_shop(account::of(&job, &plan), true);
    for name in [&job.title, &job.wheel.name, &job.wheel.material, &job.tools[0].name, "depth 3 mm.nc"] {
        assert!(page.contains(name), "the page has not {name}");
    }
    for name in [&job.title, &job.wheel.name, &job.tools[0].name] {
        assert!(account.contains(name), "no {name} in\n{account}");
    }
    for wrong in [
        "0.197 in deep",
        "0.669 in x",
        "16.93 in rim",
        "0.354 in thick",
        "nose of 0.079 in",
        "depth 0.118 in",
    ] {
        assert!(!page.contains(wrong) && !account.contains(wrong), "{wrong} in\n{account}");
    }
    // A name that would end what is quoted does not keep the lengths behind it from being turned.
    job.title = "`".to_owned();
    job.wheel.name = "a ` of 3 mm".to_owned();
    let account = for_shop(account::of(&job, &plan), true);
    assert!(account.contains(" in off the highest place"), "{account}");
}

/// The tick that says so stands only where the head of every program carries the checksum of that program.
#[test]
fn the_checksum_is_ticked_only_where_the_head_carries_it() {
    let own = &demo::at_controls()[0];
    let text = &own.parts[0].text;
    let carried = "Checksum in its head is the one above";
    let of = |text: &str| page_with(&own.job, &own.plan, "wheel.nc", text, Origin::Given);
    assert!(of(text).contains(carried));
    let without: String = text.split_inclusive('\n').filter(|l| !l.contains("CHECKSUM")).collect();
    let other = text.replace(" F0.4", " F0.38");
    for edited in [without, other] {
        assert_ne!(&edited, text);
        let page = of(&edited);
        assert!(!page.contains(carried), "ticked where the head does not carry it");
        assert!(page.contains("its last block were compared"), "no tick for which program it is");
    }
}

/// Somebody at the lathe sets by the first screen what the head of the program says: at every control both tell the same checksum, limit
/// and places of touch-off, and the page has its boxes right below.
#[test]
fn the_first_screen_says_what_the_head_says() {
    let mut tried = 0;
    for at in demo::at_controls().iter().filter(|at| at.parts.len() == 1) {
        let written = &at.parts[0];
        let page = page_with(&at.job, &at.plan, "wheel.nc", &written.text, Origin::Written);
        let (_, from) = page.split_once("<dl class=\"glance\">").expect("a first screen");
        let (glance, rest) = from.split_once("</dl>").expect("its end");
        let comment = |line: &str| line.trim().trim_matches(['(', ')']).trim_start_matches("- ").to_owned();
        let head: Vec<String> =
            written.text.lines().take_while(|l| !l.contains("G18")).map(comment).collect();
        let head = head.join(" ");
        let after = |key: &str, words: usize| {
            let (_, after) =
                head.split_once(key).unwrap_or_else(|| panic!("{}: no {key} in {head}", at.name));
            after.split_whitespace().take(words).collect::<Vec<_>>().join(" ")
        };
        let limit = after("AT MOST ", 1);
        assert!(glance.contains(&format!("{limit} rpm")), "{}: {limit} in {glance}", at.name);
        assert!(glance.contains(&after("CHECKSUM ", 2)), "{}: {glance}", at.name);
        for (words, tool) in written.touch_offs.iter().zip(&at.plan.operations) {
            assert_eq!(words.tool, tool.tool.number, "{}", at.name);
            if at.job.touching.setter.is_none() {
                let stand = after(&format!("STAND TOOL {} AT ", words.tool), 1);
                assert_eq!(stand.trim_matches(','), words.x, "{}", at.name);
            }
            assert!(head.contains(&format!("ENTER {}", words.z)), "{}: {} in {head}", at.name, words.z);
            assert!(glance.contains(&format!("{} {}", words.x, words.z)), "{}: {glance}", at.name);
        }
        let ticks = rest.find("type=\"checkbox\"").expect("boxes");
        // Only their own heading stands between.
        assert!(
            rest[..ticks].matches("<h2").count() <= 1,
            "{}: the boxes stand on the first screen",
            at.name
        );
        tried += 1;
    }
    assert!(tried > 10, "{tried} controls");
}
