//! Every rule that a finding can refer to, in one table, so that no rule has two ranks or two explanations by accident.
//!
//! A row gives the rule's id, which scripts rely on, its rank, a short title, why it matters at the lathe and what to do.
//! The text of a finding, with its numbers, is written where it is found. There is one file of rows for each module that makes findings: [`ProgramRule`] for the text and
//! its run, [`SweepRule`] for what the tool does to the wheel, [`SurveyRule`] for the measured lines, [`PlanRule`] for plans.
//!
//! Rules may share an id where users see one problem, but the cause decides rank, why or what to do: a `gouge` is a groove in a
//! zone or a cut outside all zones. The tables in docs/proof.md and docs/survey.md are generated from this table.

mod plan;
mod program;
mod survey;
mod sweep;

pub use plan::PlanRule;
pub use program::ProgramRule;
pub use survey::SurveyRule;
pub use sweep::SweepRule;

use super::Rank;
use std::fmt;

/// What all findings of a rule share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Row {
    topic: Topic,
    id: &'static str,
    title: &'static str,
    rank: Rank,
    before_others: Option<Rank>,
    why: &'static str,
    remedy: &'static str,
}

/// What a rule is about, in the order of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Topic {
    /// The text of a program as a whole.
    Text,
    /// Its words.
    Words,
    /// Modes and places that a motion relies on.
    State,
    /// The spindle.
    Spindle,
    /// The feed.
    Feed,
    /// Arcs.
    Arcs,
    /// Tool calls.
    Tool,
    /// Travel, and what is left on at the end.
    End,
    /// Where a motion takes the tool.
    Motion,
    /// What a cut takes.
    Cut,
    /// The air pass.
    AirPass,
    /// Speeds and feeds at the radius of the cut.
    Rates,
    /// The finished face compared with what the job asked for.
    Job,
    /// The measurement.
    Quality,
    /// Run-out, tilt and bend.
    RunOut,
    /// Damage.
    Damage,
    /// How deep the face must come down.
    Depth,
    /// The metal the wheel may lose.
    Allowance,
    /// A plan.
    Plan,
}

/// A rule, by the module that makes its findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rule {
    /// In a program's text or its execution.
    Program(ProgramRule),
    /// In what the tool does to the wheel.
    Sweep(SweepRule),
    /// In the measured lines.
    Survey(SurveyRule),
    /// In a plan.
    Plan(PlanRule),
}

impl Rule {
    /// Every rule, in the order of the tables.
    pub fn all() -> impl Iterator<Item = Self> {
        let program = ProgramRule::ALL.iter().copied().map(Self::Program);
        let sweep = SweepRule::ALL.iter().copied().map(Self::Sweep);
        let survey = SurveyRule::ALL.iter().copied().map(Self::Survey);
        let plan = PlanRule::ALL.iter().copied().map(Self::Plan);
        program.chain(sweep).chain(survey).chain(plan)
    }

    /// The rules of an id; none where no rule has it.
    ///
    /// ```
    /// use facewright::diagnostics::Rule;
    ///
    /// let whys: Vec<_> = Rule::named("gouge").map(Rule::why).collect();
    /// assert_eq!(whys.len(), 2);
    /// assert_eq!(Rule::named("no-such-rule").count(), 0);
    /// ```
    pub fn named(id: &str) -> impl Iterator<Item = Self> {
        Self::all().filter(move |rule| rule.id() == id)
    }

    const fn row(self) -> Row {
        match self {
            Self::Program(rule) => rule.row(),
            Self::Sweep(rule) => rule.row(),
            Self::Survey(rule) => rule.row(),
            Self::Plan(rule) => rule.row(),
        }
    }

    /// The id for users and scripts, such as `no-spindle-limit`.
    #[must_use]
    pub const fn id(self) -> &'static str {
        self.row().id
    }

    /// What was checked, or what is wrong, in a few words.
    #[must_use]
    pub const fn title(self) -> &'static str {
        self.row().title
    }

    /// What it is about.
    #[must_use]
    pub const fn topic(self) -> Topic {
        self.row().topic
    }

    /// How serious its findings are.
    #[must_use]
    pub const fn rank(self) -> Rank {
        self.row().rank
    }

    /// How serious they are in a program that is followed by others of the same job, where that differs.
    #[must_use]
    pub const fn rank_before_others(self) -> Option<Rank> {
        self.row().before_others
    }

    /// Why it matters at the lathe.
    #[must_use]
    pub const fn why(self) -> &'static str {
        self.row().why
    }

    /// What to do, in general; a finding may say it with its numbers. Empty where nothing is wrong.
    #[must_use]
    pub const fn remedy(self) -> &'static str {
        self.row().remedy
    }
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.id())
    }
}

/// Declares the rules of one module: by topic `Name = Rank "id" "title", why, what to do;`, the rank followed by `or Rank` where it
/// differs in a program that others follow.
macro_rules! rules {
    ($(#[$doc:meta])* $name:ident { $($topic:ident { $(
        $(#[$row_doc:meta])*
        $rule:ident = $rank:ident $(or $before_others:ident)? $id:literal $title:literal, $why:expr, $remedy:expr;
    )* })* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $($(
                #[doc = concat!("`", $id, "`: ", $title, ".")]
                $rule,
            )*)*
        }

        impl $name {
            /// All of them, in the order of the table.
            pub const ALL: &'static [Self] = &[$($(Self::$rule),*),*];

            pub(super) const fn row(self) -> super::Row {
                match self {
                    $($(Self::$rule => super::Row {
                        topic: super::Topic::$topic,
                        id: $id,
                        title: $title,
                        rank: super::Rank::$rank,
                        before_others: super::rules!(@before_others $($before_others)?),
                        why: $why,
                        remedy: $remedy,
                    },)*)*
                }
            }
        }
    };
    (@before_others) => { None };
    (@before_others $rank:ident) => { Some(super::Rank::$rank) };
}
use rules;

impl From<ProgramRule> for Rule {
    fn from(rule: ProgramRule) -> Self {
        Self::Program(rule)
    }
}

impl From<SweepRule> for Rule {
    fn from(rule: SweepRule) -> Self {
        Self::Sweep(rule)
    }
}

impl From<SurveyRule> for Rule {
    fn from(rule: SurveyRule) -> Self {
        Self::Survey(rule)
    }
}

impl From<PlanRule> for Rule {
    fn from(rule: PlanRule) -> Self {
        Self::Plan(rule)
    }
}

#[cfg(test)]
mod tests {
    use super::{Rank, Rule, Topic};
    use std::collections::{BTreeMap, BTreeSet};

    #[test]
    fn every_rule_says_all_it_should() {
        for rule in Rule::all() {
            let id = rule.id();
            assert!(!id.is_empty() && id.chars().all(|c| c.is_ascii_lowercase() || c == '-'), "{id}");
            assert!(!rule.title().is_empty() && !rule.why().is_empty(), "{id}");
            // Nothing is wrong, or the finding is about the job itself: there is nothing to do.
            assert_eq!(rule.remedy().is_empty(), rule.rank() == Rank::Fine || id == "limit", "{id}");
            // Bars and line ends would break the tables in docs/.
            let texts = [rule.title(), rule.why(), rule.remedy()];
            assert!(!texts.iter().any(|t| t.contains(['|', '\n'])), "{id}");
        }
    }

    /// Rules with one id have the same title and different texts, and come from one module, or from two that check the same thing.
    #[test]
    fn rules_of_one_id_are_told_apart_by_their_cause() {
        let mut ids: BTreeMap<&str, Vec<Rule>> = BTreeMap::new();
        for rule in Rule::all() {
            ids.entry(rule.id()).or_default().push(rule);
        }
        for (id, rules) in ids {
            let titles: BTreeSet<_> = rules.iter().map(|r| r.title()).collect();
            assert_eq!(titles.len(), 1, "{id}: {titles:?}");
            let rows: BTreeSet<_> = rules.iter().map(|r| (r.rank(), r.why(), r.remedy())).collect();
            assert_eq!(rows.len(), rules.len(), "{id} stands there twice");
            let surveyed = |r: &Rule| (Topic::Quality..=Topic::Allowance).contains(&r.topic());
            assert!(
                rules.iter().all(surveyed) || !rules.iter().any(surveyed),
                "{id} is survey's and proof's"
            );
        }
    }

    /// Only warnings can be lowered: what stops a program also stops a part of it.
    #[test]
    fn only_warnings_weigh_less_before_other_programs() {
        let lowered = |r: &Rule| r.rank_before_others().is_some();
        for rule in Rule::all().filter(lowered) {
            assert_eq!((rule.rank(), rule.rank_before_others()), (Rank::Warning, Some(Rank::Note)), "{rule}");
        }
        assert_eq!(Rule::all().filter(lowered).count(), 4);
    }
}
