//! What a person does with the page: open, choose, step, play, zoom, print.

use super::browser::Browser;
use super::pages;
use base64::Engine as _;
use serde_json::{Value, json};
use std::fmt::Write as _;

const CURRENT: &str = "document.querySelector('[aria-current]')?.id";

fn opened() -> Browser {
    let mut b = Browser::start();
    b.look(1280, 900, "light");
    b.open(pages::demo());
    b
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or(f64::NAN)
}

fn line(b: &mut Browser) -> f64 {
    number(&b.eval("Number(document.querySelector('[aria-current]').id.split('l')[1])"))
}

/// Forty frames of the page: its script moves the listing for at most thirty after a choice. Frames, not time: a busy machine draws fewer a second.
const SETTLED: &str = "new Promise(done => { let frames = 40; const next = () => frames-- > 0 ? requestAnimationFrame(next) : done(true); next(); })";

/// Whether the chosen row stands wholly inside the listing.
const IN_SIGHT: &str = "(() => { const r = document.querySelector('[aria-current]').getBoundingClientRect(), l = document.getElementById('listing').getBoundingClientRect(); return r.top >= l.top && r.bottom <= l.bottom; })()";

#[test]
fn the_page_opens_from_disk_and_asks_for_nothing() {
    let size = std::fs::metadata(pages::demo()).expect("the page").len();
    assert!(size < 1_000_000, "{size} bytes");
    let mut b = opened();
    b.until("document.documentElement.classList.contains('script')");
    b.eval("new Promise(done => setTimeout(done, 300))");
    assert_eq!(b.troubles(), Vec::<String>::new());
    assert_eq!(b.requests(), [format!("file://{}", pages::demo().display())]);
    // The policy holds: a script that somebody slips in does not run.
    b.eval("{ const s = document.createElement('script'); s.textContent = 'window.slipped = 1'; document.body.append(s); }");
    assert_eq!(b.eval("window.slipped ?? 0"), json!(0));
    assert!(!b.troubles().is_empty(), "the policy says nothing");
}

#[test]
fn a_block_lights_up_in_the_picture() {
    let mut b = opened();
    b.eval("document.getElementById('walk').scrollIntoView()");
    b.eval("document.getElementById('p1-l117').click()");
    assert_eq!(b.eval(CURRENT), json!("p1-l117"));
    // The lit path ends where the readout says the tool is, and the tool stands there.
    let end = b.eval(
        "document.querySelector('.lit').getAttribute('d').match(/(\\S+) (\\S+)$/).slice(1).map(Number)",
    );
    let radius = b.eval("Number(document.getElementById('r-radius').textContent)");
    let height = b.eval("Number(document.getElementById('r-height').textContent)");
    assert!((number(&end[0]) - number(&radius)).abs() < 0.001, "{end} {radius}");
    assert!((number(&end[1]) - number(&height)).abs() < 0.001, "{end} {height}");
    assert_eq!(b.eval("document.querySelector('.tool').getBBox().width > 2"), json!(true));
    // The sentence of the block names the same place.
    let says = b.eval("document.getElementById('says').textContent");
    assert!(says.as_str().unwrap_or_default().starts_with("Line 117: Feed"), "{says}");
    // Spindle speed by n = v / (2 π r): Machinery's Handbook, cutting speeds (from memory).
    let rpm = number(&b.eval("Number(document.getElementById('r-rpm').textContent)"));
    let expected = (280_000.0 / (2.0 * std::f64::consts::PI * number(&radius))).min(650.0);
    assert!((rpm - expected).abs() <= 0.5, "{rpm} {expected}");
    assert_eq!(b.eval("document.getElementById('r-feed').textContent"), json!("0.2 mm/rev"));
    // Its radius is marked in every other picture, and its row is in sight.
    assert_eq!(
        b.eval(
            "[...document.querySelectorAll('.marker')].every(m => m.getAttribute('visibility') === 'visible')"
        ),
        json!(true)
    );
    b.until(IN_SIGHT);
}

/// Rows of the listing take their true height only in view: drawn there by the slider from far away, and stepped over the end of a
/// stretch that lies together, the chosen row stays in sight.
#[test]
fn the_chosen_block_stays_in_sight() {
    let slide = |to: &str| {
        format!(
            "const t = document.getElementById('time'); t.value = {to}; t.dispatchEvent(new Event('input', {{ bubbles: true }}));"
        )
    };
    let at_end = "document.querySelector('[aria-current]:last-child')";
    let look_up = format!(
        "(() => {{ const found = {{}}; for (let i = 0; i <= 1000; i += 1) {{ {} const row = {at_end}; if (row) found[row.id] = String(i); }} return Object.values(found); }})()",
        slide("String(i)")
    );
    let places = opened().eval(&look_up);
    let places: Vec<&str> = places.as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    assert!(!places.is_empty(), "{places:?}");
    for place in places {
        let mut b = opened();
        b.look(1500, 940, "light");
        b.eval("document.getElementById('walk-title').scrollIntoView()");
        b.eval(&format!("(() => {{ {} }})()", slide(&format!("'{place}'"))));
        for step in 0..3 {
            b.eval(SETTLED);
            assert_eq!(b.eval(IN_SIGHT), json!(true), "{step} steps behind place {place} of the slider");
            b.eval("document.getElementById('next').click()");
        }
    }
}

#[test]
fn a_place_on_the_picture_lights_its_blocks_up() {
    let mut b = opened();
    b.eval("document.getElementById('walk').scrollIntoView()");
    // Where the block of line 115 ends, on the screen.
    b.eval("document.getElementById('p1-l122').click()");
    let at = b.eval("(() => { const r = document.querySelector('.dot').getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()");
    b.eval("document.getElementById('p1-l61').click()");
    b.click(number(&at[0]), number(&at[1]));
    let near = b.eval("[...document.querySelectorAll('li.near')].map(r => r.id)");
    assert!(near.as_array().is_some_and(|n| n.contains(&json!("p1-l122"))), "{near}");
    let first = b.eval(CURRENT);
    assert!(near.as_array().is_some_and(|n| n.contains(&first)), "{first} of {near}");
    // The same place again takes the next block there.
    b.click(number(&at[0]), number(&at[1]));
    assert_ne!(b.eval(CURRENT), first);
    // A place on the picture of depth chooses the block of the pass that goes through it.
    let at = b.eval(
        "(() => { const svg = document.querySelectorAll('figure .wide svg')[1]; svg.scrollIntoView({ block: 'center' });
            const [left, width, from, to, top, height, low, high] = svg.querySelector('.marker').dataset.frame.split(' ').map(Number);
            const p = new DOMPoint(left + width * (150 - from) / (to - from), top + height * (1 - (0.25 - low) / (high - low))).matrixTransform(svg.getScreenCTM());
            return [p.x, p.y]; })()",
    );
    b.click(number(&at[0]), number(&at[1]));
    let pass = b.eval("document.getElementById('r-pass').textContent");
    assert_eq!(pass, json!("4 rough 3 of 5"), "0.25 mm deep lies in the third rough pass");
    let shown = b.eval("(() => { const d = document.querySelector('.lit').getAttribute('d').match(/M(\\S+) .* ?[ L](\\S+) \\S+$/).slice(1).map(Number); return Math.min(...d) <= 150 && Math.max(...d) >= 150; })()");
    assert_eq!(shown, json!(true));
}

#[test]
fn keys_and_buttons_step_play_zoom_and_pan() {
    let mut b = opened();
    b.eval("document.getElementById('p1-l117').click(); document.getElementById('scene').focus()");
    for (key, expected) in [("n", 118.0), ("N", 119.0), ("b", 118.0)] {
        b.key(key);
        assert_eq!(line(&mut b), expected, "key {key}");
    }
    let transform = "document.getElementById('world').getAttribute('transform')";
    let mut seen = vec![b.eval(transform)];
    for key in ["+", "ArrowLeft", "ArrowUp", "-", "0"] {
        b.key(key);
        let now = b.eval(transform);
        assert!(seen.last() != Some(&now), "key {key} changes nothing");
        seen.push(now);
    }
    assert_eq!(seen.first(), seen.last(), "0 shows the whole face again");
    b.eval("document.getElementById('listing').focus()");
    b.key("ArrowDown");
    assert_eq!(line(&mut b), 119.0);
    b.key("Home");
    assert_eq!(line(&mut b), 1.0);
    b.eval("document.getElementById('p1-l119').click()");
    b.eval("document.getElementById('next').click()");
    assert_eq!(line(&mut b), 120.0);
    b.eval("document.getElementById('pass-next').click()");
    assert_eq!(b.eval("document.getElementById('r-pass').textContent"), json!("3 rough 2 of 5"));
    b.eval("document.getElementById('heights').click()");
    assert_ne!(Some(&b.eval(transform)), seen.last());
    // The air pass goes on by itself, and waits.
    let time = "Number(document.getElementById('time').value)";
    let before = number(&b.eval(time));
    b.key("p");
    b.until(&format!("{time} > {before} + 1"));
    b.key("p");
    let stopped = b.eval(time);
    b.eval("new Promise(done => setTimeout(done, 150))");
    assert_eq!(b.eval(time), stopped);
    assert_eq!(b.troubles(), Vec::<String>::new());
}

/// Half a number is another number: wherever a line ends in the listing, it ends between words.
#[test]
fn no_line_ends_inside_a_word() {
    let mut b = opened();
    b.look(360, 740, "light");
    let broken = b.eval(
        "[...document.querySelectorAll('.listing code span')].slice(0, 600).filter(w => { w.closest('ol').style.contentVisibility = 'visible'; return w.getClientRects().length > 1; }).map(w => w.textContent)",
    );
    assert_eq!(broken, json!([]));
    // The text itself is as written, blanks and all.
    let text = b.eval("document.querySelector('#p1-l53 code').textContent");
    let program = std::process::Command::new(env!("CARGO_BIN_EXE_facewright"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["write", "demo-data/job.yaml"])
        .output()
        .expect("facewright runs");
    let program = String::from_utf8(program.stdout).expect("plain text");
    assert_eq!(text.as_str(), program.lines().nth(52));
}

#[test]
fn the_play_waits_at_a_stop() {
    let mut b = opened();
    // Just before the end of the first pass, after which the program stops.
    b.eval("document.getElementById('p1-l168').click(); document.getElementById('speed').value = '120'; document.getElementById('play').click()");
    b.until("document.getElementById('says').textContent.includes('stops here')");
    let waits = b.eval("document.getElementById('play').textContent");
    assert_eq!(waits, json!("▶ play"));
}

fn pdf(b: &mut Browser, width: f64, height: f64) -> Vec<u8> {
    let size = json!({ "paperWidth": width, "paperHeight": height, "printBackground": false, "preferCSSPageSize": false });
    let answer = b.call("Page.printToPDF", size);
    let data = answer["data"].as_str().expect("a PDF");
    base64::engine::general_purpose::STANDARD.decode(data).expect("base64")
}

/// Pages of a PDF, by their objects (ISO 32000-1, 7.7.3.3).
fn pages_of(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    text.matches("/Type /Page").count() - text.matches("/Type /Pages").count()
}

#[test]
fn it_prints_on_a4_and_letter_with_or_without_the_listing() {
    let mut b = opened();
    let rows = number(&b.eval("document.querySelectorAll('.listing li').length"));
    for (width, height) in [(8.27, 11.69), (8.5, 11.0)] {
        b.eval("document.getElementById('print-listing').checked = false");
        let sheet = pages_of(&pdf(&mut b, width, height));
        assert!((4..=7).contains(&sheet), "{sheet} pages on {width} in");
        b.eval("document.getElementById('print-listing').checked = true");
        let all = pages_of(&pdf(&mut b, width, height));
        // Some 40 to 70 rows stand on a page.
        let more = (all - sheet) as f64;
        assert!((rows / 70.0..rows / 25.0).contains(&more), "{more} pages for {rows} rows");
    }
}

#[test]
fn without_scripts_the_page_is_complete() {
    let mut b = Browser::start();
    b.look(1280, 900, "light");
    b.call("Emulation.setScriptExecutionDisabled", json!({ "value": true }));
    b.open(pages::demo());
    assert_eq!(b.eval("document.documentElement.classList.contains('script')"), json!(false));
    assert_eq!(b.eval("document.querySelectorAll('figure .wide svg').length"), json!(4));
    assert_eq!(
        b.eval("[...document.querySelectorAll('.needs-script')].every(e => e.offsetParent === null)"),
        json!(true)
    );
    assert_eq!(b.eval("document.querySelectorAll('.listing li').length > 400"), json!(true));
    let shown = b.eval("[...document.querySelectorAll('.verdict, table, .touch, .cautions, .scene, .signing, .listing')].every(e => e.getBoundingClientRect().height > 40)");
    assert_eq!(shown, json!(true));
    // Paths of every pass stand inside the picture.
    let inside = b.eval("(() => { const s = document.getElementById('drawing').getBoundingClientRect(); return [...document.querySelectorAll('#world .cut')].filter(p => { const r = p.getBoundingClientRect(); return r.left >= s.left && r.right <= s.right && r.bottom <= s.bottom; }).length; })()");
    assert_eq!(inside, json!(6));
    assert_eq!(b.troubles(), Vec::<String>::new());
}

/// In the middle of an arc the tool stands on the circle that the picture draws.
#[test]
fn the_tool_keeps_to_the_arc() {
    let mut b = opened();
    let row = "[...document.querySelectorAll('.listing li')].find(r => / G0[23] /.test(r.querySelector('code').textContent))";
    b.eval(&format!("{row}.click()"));
    let off = b.eval(
        "(() => {
            const lit = document.querySelector('.lit'), time = document.getElementById('time'), end = Number(time.value);
            document.getElementById('back').click();
            const start = Number(time.value);
            time.value = (start + end) / 2;
            time.dispatchEvent(new Event('input'));
            const [x, z] = ['r-radius', 'r-height'].map(id => Number(document.getElementById(id).textContent));
            const places = Array.from({ length: 2001 }, (_, i) => lit.getPointAtLength(lit.getTotalLength() * i / 2000));
            return [lit.getTotalLength(), Math.min(...places.map(p => Math.hypot(p.x - x, p.y - z)))];
        })()",
    );
    assert!(number(&off[0]) > 0.05, "{off}");
    assert!(number(&off[1]) < 0.002, "{off}");
}

#[test]
fn a_program_in_parts_is_listed_whole_and_each_part_linked() {
    let (page, parts) = pages::in_parts();
    assert!(parts.len() > 1, "{} parts", parts.len());
    let mut b = Browser::start();
    b.look(1280, 900, "light");
    b.open(&page);
    b.until("document.documentElement.classList.contains('script')");
    let named = b.eval("[...document.querySelectorAll('.listing h3')].map(h => h.textContent)");
    let names: Vec<String> = (1..=parts.len()).map(|n| format!("part {n} of {}", parts.len())).collect();
    assert_eq!(named, json!(names));
    for (part, text) in (1..).zip(&parts) {
        // Blank blocks change nothing and are listed as they are.
        let listed = b.eval(&format!(
            "[...document.querySelectorAll('.listing li[id^=\"p{part}-\"] code')].map(c => c.textContent)"
        ));
        let blocks: Vec<&str> = text.lines().map(str::trim_end).collect();
        assert_eq!(listed, json!(blocks), "part {part}");
    }
    // A block of the last part is chosen, and the place where it ends leads back to it.
    let last = parts.len();
    let cut =
        parts[last - 1].lines().position(|l| l.contains("G03") || l.contains("G02")).expect("an arc") + 1;
    b.eval(&format!("document.getElementById('p{last}-l{cut}').click()"));
    assert_eq!(b.eval(CURRENT), json!(format!("p{last}-l{cut}")));
    let says = b.eval("document.getElementById('says').textContent");
    assert!(says.as_str().unwrap_or_default().starts_with(&format!("Line {cut}: Feed")), "{says}");
    b.eval("document.getElementById('walk').scrollIntoView()");
    let at = b.eval("(() => { const r = document.querySelector('.dot').getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()");
    b.click(number(&at[0]), number(&at[1]));
    let near = b.eval("[...document.querySelectorAll('li.near')].map(r => r.id)");
    assert!(near.as_array().is_some_and(|n| n.contains(&json!(format!("p{last}-l{cut}")))), "{near}");
    // One step before a part's first block stands the part before it.
    b.eval(&format!("document.getElementById('p{last}-l1').click()"));
    b.eval("document.getElementById('back').click()");
    let current = b.eval(CURRENT);
    let before = format!("p{}-", last - 1);
    assert!(current.as_str().unwrap_or_default().starts_with(&before), "{current}");
    assert_eq!(b.eval("new Set([...document.querySelectorAll('[id]')].map(e => e.id)).size === document.querySelectorAll('[id]').length"), json!(true));
    assert_eq!(b.troubles(), Vec::<String>::new());
}

#[test]
fn a_program_of_twenty_thousand_blocks_stays_usable() {
    // The demo's own frame around passes of short straight blocks above the face: nothing is cut, everything is listed.
    let mut text = "N10 G18 G71 G40 G90 G95\r\nN20 G97 M05\r\nN30 T0101\r\nN40 G92 S650\r\nN50 G96 S280 M03\r\nN60 G00 X600.0 Z200.0\r\n".to_owned();
    let _ = write!(text, "N70 G00 X144.0\r\nN80 Z10.0\r\nN85 G01 F0.2\r\n");
    for n in 0..20_000 {
        let (pass, i) = (n / 1000, n % 1000);
        let x = if pass % 2 == 0 { i } else { 999 - i };
        let _ = write!(
            text,
            "N{} X{:.3} Z{:.3}\r\n",
            90 + n,
            144.0 + 0.28 * f64::from(x),
            10.0 - 0.1 * f64::from(pass)
        );
    }
    text += "N30000 G00 Z200.0\r\nN30010 M30\r\n";
    let program = pages::program("long.nc", &text);
    let (page, _) = pages::changed("long", &[], &["--program", &program.display().to_string()]);
    let mut b = Browser::start();
    b.look(1280, 900, "light");
    b.open(&page);
    b.until("document.documentElement.classList.contains('script')");
    assert_eq!(b.eval("document.querySelectorAll('.listing li').length > 20000"), json!(true));
    b.eval("document.getElementById('walk').scrollIntoView()");
    let changed = b.eval(
        "(async () => { let n = 0; const seen = new MutationObserver(all => { n += all.length; }); seen.observe(document, { subtree: true, childList: true, attributes: true, characterData: true }); document.getElementById('p1-l15000').click(); document.getElementById('next').click(); await new Promise(requestAnimationFrame); await new Promise(requestAnimationFrame); return n + seen.takeRecords().length; })()",
    );
    assert_eq!(b.eval(CURRENT), json!("p1-l15001"));
    println!("two steps change {changed} nodes");
    // A page that draws every row anew at each step changes tens of thousands; the block, the place and the words beside them are few.
    assert!((2.0..1000.0).contains(&number(&changed)), "two steps change {changed} nodes");
}
