//! Textures as written in the files: the height of the ridges that the feed leaves, their distance, or a name from the shop file.
//!
//! `Rz 2.0 um` and `Ra 0.4 um` give the feed by way of the nose radius ([`Feed::Rz`], [`Feed::Ra`]). An existing face is matched by its
//! grooves: `grooves 0.12 mm` is the distance of neighbouring grooves along the face, `25 grooves in 3 mm` a count on the old face under
//! a magnifier. One groove is one turn, so the distance is the feed, whatever nose and spindle speed are. `feed 0.11 mm/rev` is
//! for a texture found by eye on a trial wheel. Under `textures` the shop file gives names to such texts.

use super::fields;
use super::node::{nearest, quoted};
use super::schedule::Feed;
use super::schedule_file::given_feed;
use super::shop::Tool;
use super::source::Node;
use crate::diagnostics::{InputError, Mismatch};
use crate::units::{FeedPerRev, Length, QuantityError};
use serde::{Deserialize, Deserializer};

/// How to write a texture, for messages.
const EXAMPLES: &str =
    "write for example `Rz 2.0 um`, `Ra 32 uin`, `grooves 0.12 mm` or `25 grooves in 3 mm`";

/// Largest count of grooves accepted: nobody counts more under a magnifier.
const MOST_GROOVES: u32 = 10_000;

/// A texture as written.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Texture {
    /// Height of the ridges.
    Rz(Length),
    /// Their mean roughness.
    Ra(Length),
    /// Distance of neighbouring grooves.
    Grooves(Length),
    /// The feed itself.
    Feed(FeedPerRev),
    /// A texture of the shop file.
    Named(String),
}

impl<'de> Deserialize<'de> for Texture {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        fields::text(from, refused(), read)
    }
}

fn refused() -> Mismatch {
    Mismatch::expected(
        "`Rz` or `Ra` and a height, the distance of the grooves, or a texture of the shop file",
        EXAMPLES,
    )
}

fn read(text: &str) -> Result<Texture, Mismatch> {
    let unit = |e: QuantityError| Mismatch { fix: format!("{}; {EXAMPLES}", e.fix), ..Mismatch::from(e) };
    let length = |text: &str| text.parse::<Length>().map_err(unit);
    match text.split_once(' ') {
        Some(("Rz", height)) => Ok(Texture::Rz(length(height)?)),
        Some(("Ra", height)) => Ok(Texture::Ra(length(height)?)),
        Some(("grooves", pitch)) => Ok(Texture::Grooves(length(pitch)?)),
        Some(("feed", feed)) => Ok(Texture::Feed(feed.parse().map_err(unit)?)),
        _ if text.starts_with(char::is_alphabetic) => Ok(Texture::Named(text.to_owned())),
        Some((count, width)) => {
            let width = width.strip_prefix("grooves in ").ok_or_else(refused)?;
            let count: u32 = count.parse().map_err(|_| refused())?;
            if !(1..=MOST_GROOVES).contains(&count) {
                return Err(refused());
            }
            Ok(Texture::Grooves(length(width)? * f64::from(count).recip()))
        }
        None => Err(refused()),
    }
}

impl Texture {
    /// The feed that gives the texture with a tool.
    pub(super) fn feed(
        &self,
        tool: &Tool,
        named: &[(String, Self)],
        node: &Node,
    ) -> Result<Feed, InputError> {
        match self {
            Self::Rz(height) => ridges(*height, tool, node).map(Feed::Rz),
            Self::Ra(height) => ridges(*height, tool, node).map(Feed::Ra),
            Self::Grooves(pitch) if pitch.as_mm() > 0.0 => {
                given_feed(FeedPerRev::mm_per_rev(pitch.as_mm()), tool, node).map(|_| Feed::Grooves(*pitch))
            }
            Self::Feed(feed) if feed.as_mm_per_rev() > 0.0 => given_feed(*feed, tool, node),
            Self::Grooves(_) | Self::Feed(_) => {
                Err(node.error("a distance above zero from groove to groove", EXAMPLES))
            }
            Self::Named(name) => match named.iter().find(|(n, _)| n == name) {
                // A name in `textures` cannot refer to another name: see `check_names`.
                Some((_, Self::Named(_))) | None => Err(unknown(name, named, node)),
                Some((_, texture)) => texture.feed(tool, &[], node),
            },
        }
    }
}

fn unknown(name: &str, named: &[(String, Texture)], node: &Node) -> InputError {
    let names = || named.iter().map(|(n, _)| n.as_str());
    let known = if named.is_empty() {
        "a texture written out: the shop file names none".to_owned()
    } else {
        format!("a texture of the shop file: {}", quoted(names()))
    };
    let fix = nearest(name, names())
        .map_or_else(|| EXAMPLES.to_owned(), |n| format!("write `{n}`, if that is meant"));
    node.error_with_found(format!("{}, a texture that is not known", node.found()), known, fix)
}

/// Checks that the ridges are lower than the nose radius.
fn ridges(height: Length, tool: &Tool, node: &Node) -> Result<Length, InputError> {
    if height.as_mm() > 0.0 && height < tool.nose_radius {
        return Ok(height);
    }
    Err(node.error(
        format!(
            "`texture` with a height above zero and below the nose radius of `{}`, {}",
            tool.name, tool.nose_radius
        ),
        EXAMPLES,
    ))
}

/// Checks that no texture of the shop file refers to another name.
pub(super) fn check_names(textures: &[(String, Texture)], node: &Node, errors: &mut Vec<InputError>) {
    for (name, texture) in textures {
        if let Texture::Named(_) = texture {
            errors.push(node.at(name).error("a texture that is written out", EXAMPLES));
        }
    }
}
