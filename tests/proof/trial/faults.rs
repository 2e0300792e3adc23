//! Single faults, as hands and wires make them, from a seed.

use facewright::job::{Control, UnitWord, XWords};

/// The same numbers for the same seed: a counter, mixed so that neighbouring seeds have nothing in common
/// (Steele, Lea and Flood 2014, splitmix64; constants from memory).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(mixed(seed.wrapping_add(1).wrapping_mul(GOLDEN)))
    }

    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(GOLDEN);
        // The share of the whole range: no remainder favours small numbers.
        ((u128::from(mixed(self.0)) * n.max(1) as u128) >> 64) as usize
    }
}

/// The odd number nearest to 2⁶⁴ over the golden ratio.
const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

fn mixed(z: u64) -> u64 {
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// Every kind of fault.
pub const KINDS: [&str; 24] = [
    "delete a block",
    "delete a word",
    "change a sign",
    "point one to the right",
    "point one to the left",
    "swap X and Z",
    "G00 for G01",
    "G01 for G00",
    "swap G02 and G03",
    "swap G96 and G97",
    "swap feed modes",
    "other unit",
    "drop the limit",
    "drop the stop",
    "drop the air pass",
    "drop the spindle start",
    "swap two neighbours",
    "swap two blocks",
    "S tenfold",
    "F tenfold",
    "shift by 0.05 mm",
    "duplicate a block",
    "cut the file short",
    "join two programs",
];

/// The program with one fault; none where the fault finds no place in it.
pub fn make(kind: &str, text: &str, control: &Control, dice: &mut Dice) -> Option<String> {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let n = lines.len();
    let pick = |dice: &mut Dice, wanted: &dyn Fn(&str) -> bool| {
        let all: Vec<usize> = (0..n).filter(|&i| wanted(&lines[i])).collect();
        (!all.is_empty()).then(|| all[dice.below(all.len())])
    };
    match kind {
        "delete a block" => {
            let i = dice.below(n);
            lines.remove(i);
        }
        "delete a word" => change_word(&mut lines, dice, |_| true, |_| Some(String::new()))?,
        "change a sign" => change_word(
            &mut lines,
            dice,
            |w| "XZIKRFS".contains(letter(w)),
            |w| {
                w.strip_prefix(letter(w)).map(|v| match v.strip_prefix('-') {
                    Some(v) => format!("{}{v}", letter(w)),
                    None => format!("{}-{v}", letter(w)),
                })
            },
        )?,
        "point one to the right" => {
            change_word(&mut lines, dice, |w| "XZIKRF".contains(letter(w)), |w| times(w, 10.0))?
        }
        "point one to the left" => {
            change_word(&mut lines, dice, |w| "XZIKRF".contains(letter(w)), |w| times(w, 0.1))?
        }
        "swap X and Z" => {
            let i = pick(dice, &|l| code(l).contains('X') || code(l).contains('Z'))?;
            lines[i] = lines[i]
                .chars()
                .map(|c| match c {
                    'X' => 'Z',
                    'Z' => 'X',
                    c => c,
                })
                .collect();
        }
        "G00 for G01" => replace(&mut lines, dice, "G01", "G00")?,
        "G01 for G00" => replace(&mut lines, dice, "G00", "G01")?,
        "swap G02 and G03" => either(&mut lines, dice, &[("G02", "G03")])?,
        "swap G96 and G97" => either(&mut lines, dice, &[("G96", "G97")])?,
        "swap feed modes" => either(&mut lines, dice, &[("G94", "G95"), ("G98", "G99")])?,
        "other unit" => either(&mut lines, dice, &[("G71", "G70"), ("G21", "G20")])?,
        "drop the limit" => {
            let i = pick(dice, &|l| words(l).any(|w| w == "G92" || w == "G50" || letter(w) == 'D'))?;
            if words(&lines[i]).any(|w| letter(w) == 'D') {
                let kept: Vec<&str> = lines[i].split(' ').filter(|w| letter(w) != 'D').collect();
                lines[i] = kept.join(" ");
            } else {
                lines.remove(i);
            }
        }
        "drop the stop" => {
            let i = pick(dice, &|l| words(l).any(|w| w == "M00"))?;
            lines.remove(i);
        }
        "drop the air pass" => {
            // From a tool's first block at feed to the look that follows.
            let has = |i: usize, word: &str| words(&lines[i]).any(|w| w == word);
            let looks: Vec<usize> = (0..n).filter(|&i| has(i, "M00")).collect();
            let begins = |stop: usize| {
                let call = (0..stop).rev().find(|&i| words(&lines[i]).any(|w| letter(w) == 'T'))?;
                (call..stop).find(|&i| has(i, "G01"))
            };
            let airs: Vec<(usize, usize)> =
                looks.into_iter().filter_map(|stop| Some((begins(stop)?, stop))).collect();
            let &(first, stop) = airs.get(dice.below(airs.len()))?;
            lines.drain(first..stop);
        }
        "drop the spindle start" => {
            let i = pick(dice, &|l| code(l).contains("M03") || code(l).contains("M04"))?;
            lines[i] = lines[i].replace(" M03", "").replace(" M04", "").replace("M03", "").replace("M04", "");
        }
        "swap two neighbours" => {
            let i = dice.below(n - 1);
            lines.swap(i, i + 1);
        }
        "swap two blocks" => {
            let (i, j) = (dice.below(n), dice.below(n));
            lines.swap(i, j);
        }
        "S tenfold" => change_word(&mut lines, dice, |w| letter(w) == 'S', |w| times(w, 10.0))?,
        "F tenfold" => change_word(&mut lines, dice, |w| letter(w) == 'F', |w| times(w, 10.0))?,
        "shift by 0.05 mm" => {
            let inch = matches!(control.unit_word, UnitWord::G20 | UnitWord::G70);
            let (by, decimals) = if inch { (0.05 / 25.4, 4) } else { (0.05, 3) };
            let by = if dice.below(2) == 0 { by } else { -by };
            change_word(
                &mut lines,
                dice,
                |w| "XZIKR".contains(letter(w)),
                |w| {
                    let v: f64 = w.get(1..)?.parse().ok()?;
                    let diameter = letter(w) == 'X' && control.x_words == XWords::Diameter;
                    Some(format!("{}{:.decimals$}", letter(w), v + if diameter { 2.0 * by } else { by }))
                },
            )?;
        }
        "duplicate a block" => {
            let i = dice.below(n);
            lines.insert(i, lines[i].clone());
        }
        "cut the file short" => lines.truncate(dice.below(n)),
        "join two programs" => {
            let cut = dice.below(n);
            let again = lines.clone();
            lines.truncate(cut);
            lines.extend(again);
        }
        _ => return None,
    }
    let end = if text.contains('\r') { "\r\n" } else { "\n" };
    let made = lines.join(end) + end;
    (made != text).then_some(made)
}

/// The words of a line, its comment left out.
fn words(line: &str) -> impl Iterator<Item = &str> {
    code(line).split(' ')
}

/// A line without its comment.
fn code(line: &str) -> &str {
    line.split('(').next().unwrap_or_default()
}

fn letter(word: &str) -> char {
    word.chars().next().unwrap_or(' ')
}

fn times(word: &str, factor: f64) -> Option<String> {
    let v: f64 = word.get(1..)?.parse().ok()?;
    let text = format!("{:.4}", v * factor);
    let text = text.trim_end_matches('0');
    let text = if word.contains('.') { text } else { text.trim_end_matches('.') };
    Some(format!("{}{text}", letter(word)))
}

/// Changes one word, chosen among those wanted.
fn change_word(
    lines: &mut [String],
    dice: &mut Dice,
    wanted: impl Fn(&str) -> bool,
    change: impl Fn(&str) -> Option<String>,
) -> Option<()> {
    let places: Vec<(usize, usize)> = lines
        .iter()
        .enumerate()
        .flat_map(|(i, l)| code(l).split(' ').enumerate().map(move |(j, w)| (i, j, w)).collect::<Vec<_>>())
        .filter(|(_, _, w)| w.len() > 1 && letter(w) != 'N' && wanted(w))
        .map(|(i, j, _)| (i, j))
        .collect();
    let &(i, j) = places.get(dice.below(places.len()))?;
    let mut words: Vec<String> = lines[i].split(' ').map(str::to_owned).collect();
    words[j] = change(&words[j])?;
    lines[i] = words.into_iter().filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ");
    Some(())
}

fn replace(lines: &mut [String], dice: &mut Dice, from: &str, to: &str) -> Option<()> {
    let all: Vec<usize> = (0..lines.len()).filter(|&i| code(&lines[i]).contains(from)).collect();
    let &i = all.get(dice.below(all.len()))?;
    lines[i] = lines[i].replacen(from, to, 1);
    Some(())
}

/// Changes one word of a pair for the other.
fn either(lines: &mut [String], dice: &mut Dice, pairs: &[(&str, &str)]) -> Option<()> {
    let other = |word: &str| {
        pairs
            .iter()
            .find_map(|&(a, b)| (word == a).then_some(b).or((word == b).then_some(a)))
            .map(str::to_owned)
    };
    change_word(lines, dice, |w| other(w).is_some(), other)
}
