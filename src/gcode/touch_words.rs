//! The words with which a tool is touched off and checked, as they stand in the program's head and on the sheet.
//!
//! The height to enter is rounded down to a whole step, so that the tool never stands lower than the words say. Heights
//! of the check are rounded to the nearest: there the operator looks and enters nothing.

use super::GcodeError;
use super::scale::{Scale, WordScale};
use crate::job::{Control, Job, LengthOffset, OffsetKind, Tool, ToolWord, Touching};
use crate::plan::{Choice, Operation, TouchOff};
use crate::units::Length;

/// How a tool is touched off, as the words of the control stand in the program's header.
#[derive(Debug, Clone, PartialEq)]
pub struct TouchOffWords {
    /// Number of the tool.
    pub tool: u32,
    /// The X word at which the tool stands.
    pub x: String,
    /// The Z word to be entered where it touches.
    pub z: String,
    /// What is done there, in capitals as in the header.
    pub how: String,
    /// The offset that takes the height, in capitals as in the header.
    pub into: String,
    /// Where the tool may be touched to see whether it was set right; empty where no place tells.
    pub check: Vec<PlaceWords>,
    /// Whether the check tells X.
    pub tells_x: bool,
    /// What the check leaves open, where that is so much that no reading could let the tool go on.
    pub leaves: Option<Length>,
}

/// One place of a touch check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlaceWords {
    /// The X word at which the tool stands.
    pub x: String,
    /// The Z word at which it must touch.
    pub z: String,
}

/// The words of a touch-off.
///
/// # Errors
/// Where the control cannot say a place.
pub fn touch_off_words(operation: &Operation, job: &Job) -> Result<TouchOffWords, GcodeError> {
    words(operation, job, &Scale::new(&job.control)?)
}

/// The same at a scale.
pub(super) fn words(operation: &Operation, job: &Job, scale: &Scale) -> Result<TouchOffWords, GcodeError> {
    let tool_scale = WordScale::new(*scale, &operation.tool);
    let TouchOff { at, z, lacquer, .. } = operation.touch_off;
    let x = tool_scale.x(at.as_mm(), "the touch-off")?;
    let z = tool_scale.z_not_above(z.as_mm()).ok_or_else(|| GcodeError::Number {
        what: "the touch-off height".into(),
        value: format!("{} mm", z.as_mm()),
        keys: "`touch_off`, or the control's `resolution`",
    })?;
    let check = operation.check.as_ref();
    let places = check.iter().flat_map(|c| &c.points).map(|p| place(&tool_scale, scale, [p.at, p.z]));
    Ok(TouchOffWords {
        tool: operation.tool.number,
        x: scale.word('X', x).to_string(),
        z: scale.word('Z', z).to_string(),
        how: how(&job.touching, lacquer, scale),
        into: into(&job.control, &operation.tool, job.touching.into),
        check: places.collect::<Result<_, _>>()?,
        tells_x: check.is_some_and(Choice::tells_x),
        leaves: operation.check_leaves,
    })
}

fn place(tool_scale: &WordScale, scale: &Scale, [at, z]: [f64; 2]) -> Result<PlaceWords, GcodeError> {
    let what = "a place of the touch check";
    let number = |value: f64| {
        move || GcodeError::Number {
            what: what.into(),
            value: format!("{value} mm"),
            keys: "the place, or the control's `resolution`",
        }
    };
    let x = tool_scale.x_nearest(at).ok_or_else(number(at))?;
    let z = tool_scale.z_nearest(z).ok_or_else(number(z))?;
    Ok(PlaceWords { x: scale.word('X', x).to_string(), z: scale.word('Z', z).to_string() })
}

/// The words of a place of a tool's front point, radius and height in millimetres, to the nearest step.
///
/// # Errors
/// Where the control cannot say it.
pub fn place_words(control: &Control, tool: &Tool, place: [f64; 2]) -> Result<PlaceWords, GcodeError> {
    let scale = Scale::new(control)?;
    self::place(&WordScale::new(scale, tool), &scale, place)
}

/// The place of a tool's front point, radius and height in millimetres, that the numbers of an X and a Z word name.
///
/// # Errors
/// Where the control's resolution makes no words.
pub fn place_of(control: &Control, tool: &Tool, [x, z]: [f64; 2]) -> Result<[f64; 2], GcodeError> {
    let scale = Scale::new(control)?;
    Ok(WordScale::new(scale, tool).front([x, z]))
}

/// What is done at the place of a touch-off.
fn how(touching: &Touching, lacquer: Length, scale: &Scale) -> String {
    let thick = |t: Length| scale.length_text(t);
    let bare = |t: Length| t.as_mm() <= 0.0;
    if touching.setter.is_some() {
        return if bare(touching.shim) {
            "TOUCH THE TOOL SETTER".into()
        } else {
            format!("TOUCH A SHIM OF {} LAID ON THE TOOL SETTER", thick(touching.shim))
        };
    }
    match (bare(touching.shim), bare(lacquer)) {
        (true, true) => "TOUCH THE FACE".into(),
        (false, true) => format!("TOUCH A SHIM OF {} LAID ON THE FACE", thick(touching.shim)),
        (true, false) => format!("TOUCH THE LACQUER, {} THICK THERE", thick(lacquer)),
        (false, false) => format!(
            "TOUCH A SHIM OF {} LAID ON THE LACQUER, {} THICK THERE",
            thick(touching.shim),
            thick(lacquer)
        ),
    }
}

/// The offset that takes the height.
fn into(control: &Control, tool: &Tool, into: OffsetKind) -> String {
    match (into, control.work_offset, control.tool_word) {
        (OffsetKind::Work, Some(offset), _) => format!("WORK OFFSET G{offset}"),
        _ if control.traits.length_offset == LengthOffset::G43 => format!("LENGTH OFFSET H{}", tool.number),
        (_, _, ToolWord::NumberAndOffset | ToolWord::ShortNumberAndOffset) => {
            format!("OFFSET {:02}", tool.number)
        }
        (_, _, ToolWord::NumberAndD) => format!("OFFSET D{}", tool.number),
        (_, _, ToolWord::Number | ToolWord::NumberAndM06) => format!("THE OFFSET OF TOOL {}", tool.number),
        (_, _, ToolWord::None) => "THE OFFSET IN FORCE".to_owned(),
    }
}

/// How a tool is touched off, as a sentence of the header.
pub(super) fn touch_off_text(operation: &Operation, job: &Job, scale: &Scale) -> Result<String, GcodeError> {
    let TouchOffWords { tool, x, z, how, into, .. } = words(operation, job, scale)?;
    Ok(if job.touching.setter.is_some() {
        format!(
            "SPINDLE STANDING. STAND TOOL {tool} OVER THE TOOL SETTER AT {x}, {how}, ENTER {z} AS THE Z OF THIS PLACE IN {into}. \
             BACK TO THE PARK"
        )
    } else {
        format!(
            "SPINDLE STANDING. STAND TOOL {tool} AT {x}, TURN THE WHEEL BY HAND TO ITS HIGHEST PLACE THERE, {how}, \
             ENTER {z} AS THE Z OF THIS PLACE IN {into}. BACK TO THE PARK"
        )
    })
}

/// Where a tool may be touched to see whether it was set right, as a sentence of the header; none where no place tells.
pub(super) fn check_text(
    operation: &Operation,
    job: &Job,
    scale: &Scale,
) -> Result<Option<String>, GcodeError> {
    let words = words(operation, job, scale)?;
    if words.check.is_empty() {
        return Ok(None);
    }
    let places: Vec<String> = words.check.iter().map(|p| format!("AT {} {}", p.x, p.z)).collect();
    let x = if words.tells_x { "X AND Z ARE" } else { "Z IS" };
    if let Some(leaves) = operation.check_leaves {
        return Ok(Some(format!(
            "TOOL {} AT THE HIGHEST PLACE OF THE TURN SHOULD TOUCH {}. THAT {x} RIGHT IT CANNOT TELL: THESE PLACES LEAVE {} OPEN, \
             THE LIMIT IS {}",
            words.tool,
            places.join(", "),
            scale.length_text(leaves),
            scale.length_text(job.touching.limit)
        )));
    }
    Ok(Some(format!(
        "{x} RIGHT IF TOOL {} AT THE HIGHEST PLACE OF THE TURN TOUCHES {}",
        words.tool,
        places.join(", ")
    )))
}
