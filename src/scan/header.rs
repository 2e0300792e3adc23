//! What a scan's header line says, held against what the job says: swapped columns would wreck a wheel.
//!
//! Only plain names are understood (x, r, radius, diameter; z, height, distance); any other header is let pass.

use crate::job::{Column, HeightSense, LengthUnit, Measured, XMeaning};

/// A header and a job that contradict each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Contradiction {
    /// What the header says.
    pub found: String,
    /// What the job says.
    pub expected: String,
}

/// The first contradiction between a header's fields and the job.
pub(super) fn contradiction(fields: &[&[u8]], measured: &Measured) -> Option<Contradiction> {
    fields.iter().zip(&measured.columns).enumerate().find_map(|(i, (field, &column))| {
        let text = String::from_utf8_lossy(field).to_ascii_lowercase();
        let mut words = text.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty());
        let name = words.next()?;
        let unit = words.find_map(unit_of);
        let number = i + 1;
        let against = |found: String, expected: String| Some(Contradiction { found, expected });
        match (column_of(name), column) {
            (Some(Column::X), Column::Z) => against(
                format!("`{name}` over column {number}"),
                format!("z in column {number}, as the job says"),
            ),
            (Some(Column::Z), Column::X) => against(
                format!("`{name}` over column {number}"),
                format!("x in column {number}, as the job says"),
            ),
            (_, Column::Other) => None,
            _ => match (name, column, measured.x, measured.z) {
                ("diameter", Column::X, XMeaning::Radius, _) => {
                    against("`diameter` over the x column".into(), "a radius, as the job says".into())
                }
                ("r" | "radius", Column::X, XMeaning::Diameter, _) => {
                    against(format!("`{name}` over the x column"), "a diameter, as the job says".into())
                }
                ("height", Column::Z, _, HeightSense::Distance) => {
                    against("`height` over the z column".into(), "a distance, as the job says".into())
                }
                ("distance", Column::Z, _, HeightSense::Height) => {
                    against("`distance` over the z column".into(), "a height, as the job says".into())
                }
                _ => match (unit, measured.unit) {
                    (Some(LengthUnit::Millimetre), LengthUnit::Inch) => {
                        against(format!("millimetres over column {number}"), "inches, as the job says".into())
                    }
                    (Some(LengthUnit::Inch), LengthUnit::Millimetre) => {
                        against(format!("inches over column {number}"), "millimetres, as the job says".into())
                    }
                    _ => None,
                },
            },
        }
    })
}

fn column_of(name: &str) -> Option<Column> {
    match name {
        "x" | "r" | "radius" | "diameter" => Some(Column::X),
        "z" | "height" | "distance" => Some(Column::Z),
        _ => None,
    }
}

fn unit_of(word: &str) -> Option<LengthUnit> {
    match word {
        "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Some(LengthUnit::Millimetre),
        "in" | "inch" | "inches" => Some(LengthUnit::Inch),
        _ => None,
    }
}
