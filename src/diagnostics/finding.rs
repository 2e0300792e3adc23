//! A finding of survey, plan or proof.

use super::{Place, Rank, Rule};
use serde::ser::{Serialize, SerializeStruct, Serializer};
use std::borrow::Cow;

/// The unit of a finding's number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Degrees.
    Deg,
    /// Revolutions per minute.
    Rpm,
    /// Metres per minute.
    MPerMin,
    /// Millimetres per minute.
    MmPerMin,
    /// Millimetres per revolution.
    MmPerRev,
    /// A count.
    Count,
}

impl Unit {
    /// The names of value and limit in JSON.
    const fn keys(self) -> (&'static str, &'static str) {
        match self {
            Self::Mm => ("value_mm", "limit_mm"),
            Self::Deg => ("value_deg", "limit_deg"),
            Self::Rpm => ("value_rpm", "limit_rpm"),
            Self::MPerMin => ("value_m_per_min", "limit_m_per_min"),
            Self::MmPerMin => ("value_mm_per_min", "limit_mm_per_min"),
            Self::MmPerRev => ("value_mm_per_rev", "limit_mm_per_rev"),
            Self::Count => ("value_count", "limit_count"),
        }
    }
}

/// A number that was found, and what it is compared with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// What was found.
    pub value: f64,
    /// What it is compared with, in the same unit.
    pub limit: Option<f64>,
    /// The unit of both.
    pub unit: Unit,
}

/// A finding of survey, plan or proof.
///
/// In JSON it has one shape everywhere: `rule`, `rank`, `place`, `what`, the number with its unit in the name of the field
/// (`value_mm` and `limit_mm`; `value` and `limit`, both null, where there is none), `why` and `do`.
///
/// ```
/// use facewright::diagnostics::{Finding, Place, SweepRule, Unit};
///
/// let finding = Finding::new(SweepRule::Allowance, Place::line(12), "takes 0.900 mm")
///     .measured(0.9, Some(0.8), Unit::Mm);
/// let json = serde_json::to_value(&finding).unwrap();
/// assert_eq!(json["rule"], "allowance");
/// assert_eq!(json["place"]["line"], 12);
/// assert_eq!(json["limit_mm"], 0.8);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Its rule, which says why it matters.
    pub rule: Rule,
    /// How serious it is.
    pub rank: Rank,
    /// Where it is.
    pub place: Place,
    /// What was found, with its numbers.
    pub what: String,
    /// The number, where the finding has one.
    pub measure: Option<Measure>,
    /// What to do; empty where there is nothing to do.
    pub remedy: Cow<'static, str>,
}

impl Finding {
    /// A finding with the rank and the remedy of its rule.
    #[must_use]
    pub fn new(rule: impl Into<Rule>, place: Place, what: impl Into<String>) -> Self {
        let rule = rule.into();
        Self {
            rule,
            rank: rule.rank(),
            place,
            what: what.into(),
            measure: None,
            remedy: Cow::Borrowed(rule.remedy()),
        }
    }

    /// The finding with its number, and what that is compared with.
    #[must_use]
    pub const fn measured(mut self, value: f64, limit: Option<f64>, unit: Unit) -> Self {
        self.measure = Some(Measure { value, limit, unit });
        self
    }

    /// The finding with what to do in this case; empty where the text of the finding says it.
    #[must_use]
    pub fn to_do(mut self, remedy: impl Into<Cow<'static, str>>) -> Self {
        self.remedy = remedy.into();
        self
    }

    /// The finding with the rank it has in a program that is followed by others of the same job: what is left undone there is not a warning.
    #[must_use]
    pub fn before_others(mut self) -> Self {
        self.rank = self.rule.rank_before_others().unwrap_or(self.rank);
        self
    }

    /// Why it matters at the lathe.
    #[must_use]
    pub const fn why(&self) -> &'static str {
        self.rule.why()
    }

    /// Line of the program; 0 where the finding has no line.
    #[must_use]
    pub fn line(&self) -> usize {
        self.place.program_line().unwrap_or(0)
    }

    /// The value in millimetres, where it is a length.
    #[must_use]
    pub fn value_mm(&self) -> Option<f64> {
        self.measure.filter(|m| m.unit == Unit::Mm).map(|m| m.value)
    }

    /// The limit in millimetres, where it is a length.
    #[must_use]
    pub fn limit_mm(&self) -> Option<f64> {
        self.measure.filter(|m| m.unit == Unit::Mm).and_then(|m| m.limit)
    }
}

impl Serialize for Finding {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (value_key, limit_key) = self.measure.map_or(("value", "limit"), |m| m.unit.keys());
        let mut fields = serializer.serialize_struct("Finding", 8)?;
        fields.serialize_field("rule", self.rule.id())?;
        fields.serialize_field("rank", &self.rank)?;
        fields.serialize_field("place", &self.place)?;
        fields.serialize_field("what", &self.what)?;
        fields.serialize_field(value_key, &self.measure.map(|m| m.value))?;
        fields.serialize_field(limit_key, &self.measure.and_then(|m| m.limit))?;
        fields.serialize_field("why", self.why())?;
        fields.serialize_field("do", &self.remedy)?;
        fields.end()
    }
}
