//! What comes next, and what is varied for this time: arguments that `write`, `sheet` and `proof` share.

use super::error::CliError;
use crate::input::Input;
use crate::job::{NextPasses, Only, Variation};
use crate::pipeline::{self, Loaded};
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
