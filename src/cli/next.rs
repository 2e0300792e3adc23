//! What comes next, and what is varied for this time: arguments that `write`, `sheet` and `proof` share.

use super::error::CliError;
use crate::input::Input;
use crate::job::{Comments, Job, NextPasses, Only, Variation};
use crate::pipeline::{self, Loaded, Surveyed};
use crate::proof::Circumstances;
use crate::units::{Length, MM_PER_INCH, QuantityError};
use clap::{Args, ValueEnum};

/// The next passes, counted from the face as it stands.
#[derive(Debug, Args)]
pub(super) struct Varied {
    /// Only the next passes, whatever was cut before: one rough pass more, or the finish; with an air pass of their own
    #[arg(long, value_name = "KIND")]
    next: Option<Kind>,
    /// How many of them; one rough pass, or the finish passes of the schedule if left out
    #[arg(long, value_name = "COUNT", requires = "next")]
    passes: Option<String>,
    /// Depth of each of them, for this time, such as 0.08mm
    #[arg(long, value_name = "DEPTH", requires = "next")]
    depth: Option<String>,
    /// Their feed, for this time, such as 0.15mm/rev
    #[arg(long, value_name = "FEED", requires = "next", conflicts_with = "texture")]
    feed: Option<String>,
    /// Their surface speed, for this time, such as "200 m/min"
    #[arg(long, value_name = "SPEED", requires = "next")]
    surface_speed: Option<String>,
    /// The texture that they leave, for this time, such as "Rz 2 um" or one that the shop file names
    #[arg(long, value_name = "TEXTURE", requires = "next")]
    texture: Option<String>,
    /// Another schedule of the shop file, for this time
    #[arg(long, value_name = "NAME")]
    schedule: Option<String>,
}

/// Which passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Kind {
    Rough,
    Finish,
}

impl From<Kind> for Only {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Rough => Self::Rough,
            Kind::Finish => Self::Finish,
        }
    }
}

/// What a program's proof must know of the other programs of its job, beside the depth that they took.
#[derive(Debug, Args)]
pub(super) struct Others {
    /// Another program of this job follows, and what this one leaves undone is no warning; with a depth, such as
    /// --goes-on=0.312mm, it begins there, and this one must leave no more
    #[arg(long, requires = "program", value_name = "DEPTH", num_args = 0..=1, require_equals = true, value_parser = depth)]
    #[expect(
        clippy::option_option,
        reason = "the shape that clap gives an option whose value may be left out"
    )]
    goes_on: Option<Option<Length>>,
    /// Rest passes that the parts before made; at a control without comments, where the program cannot say it
    #[arg(long, requires = "program", value_name = "COUNT")]
    rest_passes: Option<u32>,
}

impl Others {
    /// What is known of the other programs of a wheel, of which some took a depth already.
    pub fn circumstances(
        &self,
        surveyed: &Surveyed<'_>,
        (job, varied): (&Job, &Varied),
        already: Length,
    ) -> Result<Circumstances, CliError> {
        if self.rest_passes.is_some() && job.control.traits.comments != Comments::None {
            return Err(CliError::Input(
                "--rest-passes: the comments of the program say how many rest passes the parts before it made\n  to mend it: leave it out".into(),
            ));
        }
        Ok(Circumstances {
            already: surveyed.below_first(already),
            goes_on: self.goes_on.is_some() || varied.goes_on(),
            ends_at: self.goes_on.flatten().map(|depth| surveyed.below_first(depth)),
            rest_passes: self.rest_passes.unwrap_or(0),
        })
    }
}

/// What the account of a part says of proving it alone.
pub(super) fn to_prove_alone(job: &Job, among: &Circumstances, begins: Length) -> String {
    let inch = job.control.unit_word.is_inch();
    let depth = |depth: Length| {
        let depth = (depth - begins).as_mm();
        if inch { format!("{:.5}in", depth / MM_PER_INCH) } else { format!("{depth:.3}mm") }
    };
    let silent = job.control.traits.comments == Comments::None;
    let goes_on = match among.ends_at.filter(|_| silent) {
        Some(ends_at) => format!(" --goes-on={}", depth(ends_at)),
        None if among.goes_on => " --goes-on".to_owned(),
        None => String::new(),
    };
    let rest = match among.rest_passes {
        made if silent && made > 0 => format!(" --rest-passes {made}"),
        _ => String::new(),
    };
    format!("--already {}{goes_on}{rest}", depth(among.already))
}

/// A depth on the command line: a length, not below zero.
pub(super) fn depth(text: &str) -> Result<Length, String> {
    let depth: Length = text.parse().map_err(|e: QuantityError| e.to_string())?;
    if depth.as_mm() < 0.0 {
        Err("a depth is counted downward from zero, such as 0.32mm".into())
    } else {
        Ok(depth)
    }
}

impl Varied {
    /// The job of a file, as varied.
    pub fn load(&self, from: &Input) -> Result<Loaded, CliError> {
        let variation = Variation {
            schedule: self.schedule.clone(),
            next: self.next.map(|kind| match kind {
                Kind::Rough => NextPasses::Rough,
                Kind::Finish => NextPasses::Finish,
            }),
            passes: self.passes.clone(),
            depth: self.depth.clone(),
            feed: self.feed.clone(),
            surface_speed: self.surface_speed.clone(),
            texture: self.texture.clone(),
        };
        Ok(pipeline::load_input(from, &variation)?)
    }

    /// The passes that the program has: those that come next, or else those asked for.
    pub fn only(&self, asked: Option<Kind>) -> Only {
        self.next.or(asked).map_or(Only::All, Only::from)
    }

    /// Whether more passes of the job are to follow.
    pub fn goes_on(&self) -> bool {
        self.next == Some(Kind::Rough)
    }
}
