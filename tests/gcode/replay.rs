//! A plain control for tests: runs the words of a program and says what moves. It forgets everything at a
//! stop and panics where a block relies on what was not said.

use facewright::gcode::{Block, ProgramText, Word};

/// One motion from a known place, in millimetres of the programmed point.
#[derive(Debug, Clone, PartialEq)]
pub struct Move {
    pub code: u32,
    pub tool: u32,
    pub from: (f64, f64),
    pub to: (f64, f64),
    /// Centre of an arc given by I and K.
    pub centre: Option<(f64, f64)>,
    /// Radius of an arc given by R.
    pub radius: Option<f64>,
    pub feed: f64,
    /// 96 or 97, and the S word in force with it.
    pub spindle: (u32, f64),
    pub coolant: bool,
}

#[derive(Debug, Clone, Default)]
#[allow(clippy::struct_excessive_bools)] // One for each thing that a control is told.
struct Told {
    plane: bool,
    unit: Option<f64>,
    uncompensated: bool,
    absolute: bool,
    per_rev: bool,
    motion: Option<u32>,
    x: Option<f64>,
    z: Option<f64>,
    feed: Option<f64>,
    turning: bool,
    mode: Option<u32>,
    s: Option<f64>,
    limit: Option<f64>,
    coolant: bool,
}

/// The words of every block that has any, without sequence numbers.
pub fn words(program: &ProgramText) -> Vec<Vec<Word>> {
    program
        .blocks
        .iter()
        .filter_map(|block| match block {
            Block::Words(words) => Some(words.iter().copied().filter(|w| w.address() != 'N').collect()),
            Block::TapeMark | Block::Comment(_) => None,
        })
        .collect()
}

/// What the words do, where X words are `x_factor` times the radius.
pub fn run(program: &ProgramText, x_factor: f64) -> Vec<Move> {
    let mut told = Told::default();
    let mut tool = 0;
    let mut moves = Vec::new();
    for block in words(program) {
        block_of(&block, x_factor, &mut told, &mut tool, &mut moves);
    }
    assert!(!told.turning && !told.coolant && told.mode == Some(97), "left on at the end: {told:?}");
    moves
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn block_of(block: &[Word], x_factor: f64, told: &mut Told, tool: &mut u32, moves: &mut Vec<Move>) {
    let find = |address: char| block.iter().find(|w| w.address() == address).map(Word::value);
    let codes =
        |address: char| block.iter().filter(move |w| w.address() == address).map(|w| w.value() as u32);
    // A wait moves nothing, whatever its X says.
    if codes('G').any(|g| g == 4) {
        return;
    }
    let limit_block = codes('G').any(|g| g == 92 || g == 50);
    if let Some(s) = find('S') {
        if limit_block {
            told.limit = Some(s);
        } else {
            told.s = Some(s);
        }
    }
    // Beside a tool word, or as D0, it is the tool's offset.
    if let Some(d) = find('D').filter(|d| *d > 0.0 && find('T').is_none()) {
        told.limit = Some(d);
    }
    if let Some(f) = find('F') {
        assert!(told.per_rev, "F before its mode");
        told.feed = Some(f * told.unit.expect("unit before F"));
    }
    if let Some(t) = find('T') {
        assert!(!told.turning, "tool call with the spindle on");
        *tool = if t >= 100.0 { (t / 100.0) as u32 } else { t as u32 };
    }
    for g in codes('G') {
        match g {
            0..=3 => told.motion = Some(g),
            18 => told.plane = true,
            20 | 70 => told.unit = Some(25.4),
            21 | 71 => told.unit = Some(1.0),
            40 => told.uncompensated = true,
            90 => told.absolute = true,
            95 => told.per_rev = true,
            // X and Z are absolute by themselves in this family.
            99 => (told.per_rev, told.absolute) = (true, true),
            96 => {
                assert!(told.limit.is_some(), "surface speed before a limit");
                assert!(told.turning, "surface speed with the spindle off");
                assert!(find('S').is_some());
                told.mode = Some(96);
            }
            97 => told.mode = Some(97),
            43 => assert!(find('H').is_some() && !told.turning, "a length offset without its number"),
            28 => assert!(!told.turning, "home with the spindle on"),
            49 | 50 | 92 | 54..=59 => {}
            other => panic!("G{other}"),
        }
    }
    for m in codes('M').filter(|m| matches!(m, 3 | 4 | 7 | 8)) {
        match m {
            3 | 4 => {
                assert!(told.mode == Some(97) && find('S').is_some(), "the spindle starts at a stated speed");
                told.turning = true;
            }
            _ => told.coolant = true,
        }
    }
    if find('X').is_some() || find('Z').is_some() {
        go(block, x_factor, told, *tool, moves);
    }
    if codes('G').any(|g| g == 28) {
        // Beyond the park, at a place that only the machine knows.
        (told.x, told.z) = (None, None);
    }
    for m in codes('M') {
        match m {
            5 => told.turning = false,
            9 => told.coolant = false,
            0 | 1 => {
                assert!(!told.turning && !told.coolant, "a stop with the spindle or coolant on");
                *told = Told::default();
            }
            10..=12 | 41 | 42 | 68 => assert!(!told.turning, "M{m} with the spindle on"),
            3 | 4 | 6..=8 | 30 => {}
            other => panic!("M{other}"),
        }
    }
}

fn go(block: &[Word], x_factor: f64, told: &mut Told, tool: u32, moves: &mut Vec<Move>) {
    let find = |address: char| block.iter().find(|w| w.address() == address).map(Word::value);
    assert!(told.plane && told.absolute && told.uncompensated, "a mode relied on was never said");
    let unit = told.unit.expect("unit");
    let before = told.x.zip(told.z);
    told.x = find('X').map(|x| x * unit / x_factor).or(told.x);
    told.z = find('Z').map(|z| z * unit).or(told.z);
    let code = told.motion.expect("a motion word");
    let Some(from) = before else {
        assert_eq!(code, 0, "a feed from an unknown place");
        return;
    };
    let to = told.x.zip(told.z).expect("both known");
    if code > 0 {
        assert!(told.turning && told.feed.is_some(), "a cut without spindle or feed");
    }
    if from == to {
        return;
    }
    let arc = code > 1;
    let offsets = find('I').zip(find('K')).filter(|_| arc);
    moves.push(Move {
        code,
        tool,
        from,
        to,
        centre: offsets.map(|(i, k)| (from.0 + i * unit, from.1 + k * unit)),
        radius: find('R').filter(|_| arc).map(|r| r * unit),
        feed: told.feed.unwrap_or(0.0),
        spindle: (told.mode.expect("spindle mode"), told.s.expect("S")),
        coolant: told.coolant,
    });
}
