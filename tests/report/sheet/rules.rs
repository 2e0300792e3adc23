//! Rules that hold for every page: accessible, large enough to touch, no text from a file more than text, refusals shown.

use super::browser::Browser;
use super::pages;
use serde_json::json;
use std::path::Path;

/// axe-core by Deque Systems (MPL 2.0), as published, for tests only.
const AXE: &str = include_str!("../../../fixtures/axe/axe.min.js");

/// What axe-core finds against WCAG 2.2 AA and its own best practices.
///
/// Rows of the listing are alike, so those far from the chosen one are taken out first: a thousand of them cost a minute.
fn violations(b: &mut Browser) -> Vec<String> {
    b.eval("document.querySelectorAll('.listing li').forEach((row, i) => { if (i > 80) row.remove(); })");
    b.eval(AXE);
    let found = b.eval("axe.run(document, { resultTypes: ['violations'] }).then(r => r.violations.map(v => v.id + ': ' + v.help + ' ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 200) + ' ' + n.failureSummary).join(' | ')))");
    found.as_array().into_iter().flatten().map(ToString::to_string).collect()
}

#[test]
fn axe_finds_nothing_wide_or_narrow_light_or_dark() {
    let mut b = Browser::start();
    for page in [pages::demo(), pages::refused()] {
        for (width, height) in [(360, 740), (1920, 1080)] {
            for scheme in ["light", "dark"] {
                b.look(width, height, scheme);
                b.open(page);
                assert_eq!(violations(&mut b), Vec::<String>::new(), "{} {width} {scheme}", page.display());
                // Nothing sticks out sideways, and no picture or table of passes is to be scrolled across.
                assert_eq!(
                    b.eval("[...document.querySelectorAll('.wide')].filter(w => w.scrollWidth > w.clientWidth + 1).length"),
                    json!(0),
                    "{width}"
                );
                assert_eq!(
                    b.eval("document.documentElement.scrollWidth <= innerWidth"),
                    json!(true),
                    "{width}"
                );
                let paper = b.eval("getComputedStyle(document.documentElement).backgroundColor");
                let white = paper == json!("rgb(255, 255, 255)");
                assert_eq!(white, scheme == "light", "{paper}");
            }
        }
    }
}

/// The check above can fail: faults put into the page are found.
#[test]
fn axe_finds_faults_that_are_there() {
    let mut b = Browser::start();
    b.look(1280, 900, "dark");
    b.open(pages::refused());
    b.eval("{ const p = document.createElement('p'); p.textContent = 'pale'; p.setAttribute('lang', 'nonsense-'); document.querySelector('main').append(p, document.createElement('button')); }");
    b.eval("document.querySelector('h1').style.color = '#333'");
    let found = violations(&mut b).join("\n");
    for rule in ["button-name", "valid-lang", "color-contrast"] {
        assert!(found.contains(rule), "{rule} is not among {found}");
    }
}

/// Letters in pictures are 11 pixels high or more, on a phone and on a screen, and none leaves its page.
#[test]
fn letters_in_pictures_can_be_read() {
    let mut b = Browser::start();
    for (width, height) in [(360, 740), (1280, 800)] {
        b.look(width, height, "light");
        b.open(pages::demo());
        let shown = "[...document.querySelectorAll('figure :is(.wide, .narrow) > svg')].filter(s => s.getClientRects().length)";
        assert_eq!(b.eval(&format!("{shown}.length")), json!(4), "{width}");
        let small = b.eval(&format!(
            "{shown}.flatMap(s => [...s.querySelectorAll('text')].map(t => [t, parseFloat(getComputedStyle(t).fontSize) * s.getBoundingClientRect().width / s.viewBox.baseVal.width]))
             .filter(([t, size]) => size < 10.95 || t.getBoundingClientRect().right > innerWidth).map(([t, size]) => t.textContent + ' ' + size)"
        ));
        assert_eq!(small, json!([]), "{width}");
    }
}

/// Nothing that is read is in metric units where the shop reads inches: axes, heads, readouts, the words beside each block.
#[test]
fn a_shop_of_inches_reads_inches_everywhere() {
    let (page, code) = pages::inches();
    assert_eq!(code, Some(0));
    let mut b = Browser::start();
    b.look(1280, 800, "light");
    b.open(&page);
    let metric = |b: &mut Browser| {
        b.eval(
            "(() => { const all = document.body.cloneNode(true); all.querySelectorAll('script, style, code, bdi, .name').forEach(e => e.remove());
             const heads = [...all.querySelectorAll('[data-name]')].map(e => e.dataset.name);
             const walk = document.createTreeWalker(all, NodeFilter.SHOW_TEXT); const found = [];
             for (let n = walk.nextNode(); n; n = walk.nextNode()) found.push(n.data);
             return [...found, ...heads].map(t => t.replaceAll(/`[^`]*`/g, '')).filter(t => /(^|[^a-z])(mm|µm|um|m\\/min|mm\\/rev|millimetres)([^a-z]|$)/.test(t)).slice(0, 5); })()",
        )
    };
    assert_eq!(metric(&mut b), json!([]));
}

/// Source: WCAG 2.2, success criterion 2.5.5 (44 by 44 CSS pixels).
#[test]
fn everything_to_touch_is_large_enough() {
    let mut b = Browser::start();
    for width in [360, 1280] {
        b.look(width, 800, "light");
        b.open(pages::demo());
        let small = b.eval(
            "[...document.querySelectorAll('button, select, a, label, input[type=range], .listing li')].filter(e => e.getClientRects().length)
             .map(e => [e, e.getBoundingClientRect()]).filter(([, r]) => r.width < 44 || r.height < 44).map(([e, r]) => e.outerHTML.slice(0, 80) + ' ' + r.width + 'x' + r.height)",
        );
        assert_eq!(small, json!([]), "{width}");
        assert_eq!(b.eval("document.querySelectorAll('button').length >= 10"), json!(true));
    }
}

fn text_of(page: &Path) -> String {
    std::fs::read_to_string(page).expect("the page")
}

#[test]
fn names_from_files_are_text_and_nothing_else() {
    let name = "</script><script>window.slipped=1</script><img src=x onerror=slipped=2>";
    let quoted = format!("\"{name}\"");
    let changes = [
        ("\"Demo 7, rear right\"", ") G0 X0 ("),
        ("\"17 x 7, ten spokes\"", quoted.as_str()),
        ("name: tyre", "name: \"</text></svg><script>slipped=3</script>\""),
    ];
    let plain = pages::changed("hostile", &changes, &[]).0;
    let given = pages::program(
        "</title> & 'hostile'.nc".replace('/', "∕").as_str(),
        "%\r\nN10 G18 G71 G40 G90 G95 (</script><script>slipped=4</script>)\r\nN20 <b>G00 X1\r\n(\u{202e}gnp.exe \u{7})\r\nN30 M30\r\n%\r\n",
    );
    let given = pages::changed("hostile-program", &changes, &["--program", &given.display().to_string()]).0;
    let mut b = Browser::start();
    b.look(1280, 900, "light");
    for page in [plain, given] {
        b.open(&page);
        b.until(
            "document.documentElement.classList.contains('script') || !document.getElementById('motions')",
        );
        assert_eq!(b.eval("typeof window.slipped"), json!("undefined"));
        assert_eq!(b.eval("document.querySelector('h1').textContent"), json!(") G0 X0 ("));
        assert_eq!(b.eval("document.querySelector('.wheel').textContent"), json!(name));
        assert_eq!(
            b.eval("document.querySelectorAll('img, b:not(.numbers b), iframe, object').length"),
            json!(0)
        );
        // The page's own two: the numbers and the script.
        assert_eq!(b.eval("document.scripts.length <= 2"), json!(true));
        assert_eq!(b.troubles(), Vec::<String>::new());
        assert!(!text_of(&page).contains(['\u{202e}', '\u{7}']));
    }
}

#[test]
fn a_refused_wheel_gets_a_page_that_says_why_and_holds_no_program() {
    let mut b = Browser::start();
    b.look(1280, 900, "light");
    b.open(pages::refused());
    let verdict = b.eval("document.querySelector('main > section').textContent");
    let verdict = verdict.as_str().unwrap_or_default();
    assert!(verdict.contains("Do not cut") && verdict.contains("There is no program"), "{verdict}");
    let page = b.eval("document.querySelector('main').innerText");
    let page = page.as_str().unwrap_or_default();
    assert!(!page.contains(":.") && !page.contains(".."), "sentences run into each other: {page}");
    assert!(b.eval("document.querySelector('.findings').textContent").to_string().contains("crack"));
    assert_eq!(b.eval("document.querySelectorAll('.listing, .touch, .ticks').length"), json!(0));
    assert!(!text_of(pages::refused()).contains("G96"));
    assert_eq!(b.troubles(), Vec::<String>::new());
}

#[test]
fn where_there_is_no_face_there_is_a_page_all_the_same() {
    let (page, code) = pages::changed("no-face", &[("to: 216 mm }", "to: 300 mm }")], &[]);
    assert_eq!(code, Some(1));
    let text = text_of(&page);
    assert!(text.contains("Do not cut") && text.contains("no face to cut") && !text.contains("G96"));
}

#[test]
fn a_plan_beyond_the_allowance_gets_a_page_without_a_program() {
    let (page, code) = pages::changed(
        "allowance",
        &[("limit: 1.0 mm, taken: 0.20 mm", "limit: 1.0 mm, taken: 0.80 mm")],
        &[],
    );
    assert_eq!(code, Some(1));
    let text = text_of(&page);
    assert!(text.contains("Do not cut") && !text.contains("G96"));
}

#[test]
fn a_program_edited_by_hand_is_proved_and_shown_as_it_stands() {
    let written = std::process::Command::new(env!("CARGO_BIN_EXE_facewright"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["write", "demo-data/job.yaml"])
        .output()
        .expect("facewright runs");
    let text = String::from_utf8(written.stdout).expect("plain text");
    let as_it_was = pages::program("same.nc", &text);
    let (_, code) = pages::changed("same", &[], &["--program", &as_it_was.display().to_string()]);
    assert_eq!(code, Some(0));
    // Somebody takes the spindle limit for a speed to be raised.
    let edited = text.replacen("G92 S650", "G92 S1950", 1);
    assert_ne!(edited, text);
    let program = pages::program("edited.nc", &edited);
    let (page, code) = pages::changed("edited", &[], &["--program", &program.display().to_string()]);
    assert_eq!(code, Some(1));
    let text = text_of(&page);
    assert!(text.contains("Do not cut") && text.contains("G92 S1950") && text.contains("edited.nc"));
}

/// Same input, same bytes.
#[test]
fn the_same_job_gives_the_same_page() {
    let again = pages::sheet(&["demo-data/job.yaml"]);
    assert!(again.stdout == std::fs::read(pages::demo()).expect("the page"));
}
