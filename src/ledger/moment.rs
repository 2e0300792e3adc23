//! When something was done: a moment in UTC, as a person writes it or a clock gives it.

use std::fmt;
use std::str::FromStr;

/// Seconds in a day; UTC as kept here has no leap seconds (as in POSIX time).
const DAY: u64 = 86_400;

/// A moment of Coordinated Universal Time, to the second; text as in ISO 8601, such as `2026-03-02T14:05:00Z`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(String);

/// The text is no moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("expected a day such as `2026-03-02`, or a moment in UTC such as `2026-03-02T14:05:00Z`")]
pub struct MomentError;

impl Moment {
    /// A moment as a clock counts it: whole seconds since 1970 began.
    #[must_use]
    pub fn from_unix(seconds: u64) -> Self {
        let [year, month, day] = civil(seconds / DAY);
        let second = seconds % DAY;
        let [h, m, s] = [second / 3600, second / 60 % 60, second % 60];
        Self(format!("{year:04}-{month:02}-{day:02}T{h:02}:{m:02}:{s:02}Z"))
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The day alone.
    #[must_use]
    pub fn day(&self) -> &str {
        self.0.get(..10).unwrap_or(&self.0)
    }
}

/// Year, month and day of a day counted from 1970. Source: the Gregorian calendar repeats after 146 097 days; with years that
/// begin in March the leap day is the last.
fn civil(days: u64) -> [u64; 3] {
    /// From the first of March of the year 0 to the first of January 1970.
    const FROM_MARCH_0: u64 = 719_468;
    let days = days.saturating_add(FROM_MARCH_0);
    let (era, of_era) = (days / 146_097, days % 146_097);
    let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let next = u64::from(month <= 2);
    [year + 400 * era + next, month, day]
}

impl FromStr for Moment {
    type Err = MomentError;

    fn from_str(text: &str) -> Result<Self, MomentError> {
        let (day, time) = text.split_once('T').unwrap_or((text, "00:00:00Z"));
        let number = |text: Option<&str>, digits: usize| {
            let text = text.filter(|t| t.len() == digits && t.bytes().all(|b| b.is_ascii_digit()));
            text.and_then(|t| t.parse::<u32>().ok()).ok_or(MomentError)
        };
        let mut parts = day.split('-');
        let (y, m, d) = (number(parts.next(), 4)?, number(parts.next(), 2)?, number(parts.next(), 2)?);
        let mut clock = time.strip_suffix('Z').ok_or(MomentError)?.split(':');
        let (h, min) = (number(clock.next(), 2)?, number(clock.next(), 2)?);
        let s = clock.next().map_or(Ok(0), |s| number(Some(s), 2))?;
        let leap = y % 4 == 0 && (y % 100 != 0 || y % 400 == 0);
        let longest = match m {
            2 => 28 + u32::from(leap),
            4 | 6 | 9 | 11 => 30,
            _ => 31,
        };
        let ends = parts.next().is_none() && clock.next().is_none();
        if !ends || !(1..=12).contains(&m) || !(1..=longest).contains(&d) || h > 23 || min > 59 || s > 59 {
            return Err(MomentError);
        }
        Ok(Self(format!("{y:04}-{m:02}-{d:02}T{h:02}:{min:02}:{s:02}Z")))
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: GNU date, `date -u -d @SECONDS +%FT%TZ`.
    #[test]
    fn a_clock_is_read_as_date_reads_it() {
        for (seconds, text) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_782_400, "2000-02-29T00:00:00Z"),
            (1_709_251_199, "2024-02-29T23:59:59Z"),
            (4_107_542_400, "2100-03-01T00:00:00Z"),
        ] {
            assert_eq!(Moment::from_unix(seconds).as_str(), text);
        }
    }

    #[test]
    fn what_is_no_moment_is_refused() {
        for text in ["2026-03-02", "2026-03-02T14:05Z", "2024-02-29T23:59:59Z"] {
            assert!(text.parse::<Moment>().is_ok(), "{text}");
        }
        for text in [
            "",
            "now",
            "2026-3-2",
            "2026-02-29",
            "2026-13-01",
            "2026-03-02T24:00Z",
            "2026-03-02T14:05",
            "2026-03-02-01",
        ] {
            assert_eq!(text.parse::<Moment>(), Err(MomentError), "{text}");
        }
    }
}
