//! A moment, as files state it: RFC 3339 in UTC, to the second.

use std::fmt;
use std::time::SystemTime;
use time::format_description::well_known::Rfc3339;
use time::{OffsetDateTime, UtcOffset};

/// A moment in UTC, to the second. Years 0 to 9999, as RFC 3339 allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stamp(OffsetDateTime);

impl Stamp {
    /// The present moment by the machine's clock.
    pub fn now() -> Stamp {
        Stamp::of(OffsetDateTime::now_utc()).unwrap_or(Stamp(OffsetDateTime::UNIX_EPOCH))
    }

    /// The moment so many seconds after 1 January 1970, if its year has four
    /// digits.
    pub fn from_unix_seconds(seconds: i64) -> Option<Stamp> {
        Stamp::of(OffsetDateTime::from_unix_timestamp(seconds).ok()?)
    }

    /// Seconds after 1 January 1970.
    pub fn unix_seconds(self) -> i64 {
        self.0.unix_timestamp()
    }

    /// Reads RFC 3339, any offset.
    pub fn parse(text: &str) -> Option<Stamp> {
        Stamp::of(OffsetDateTime::parse(text, &Rfc3339).ok()?)
    }

    /// The moment of a file's time, if it has a year of four digits.
    pub(super) fn of_file(time: SystemTime) -> Option<Stamp> {
        let seconds = match time.duration_since(SystemTime::UNIX_EPOCH) {
            Ok(after) => i64::try_from(after.as_secs()).ok()?,
            Err(before) => -i64::try_from(before.duration().as_secs()).ok()?,
        };
        Stamp::from_unix_seconds(seconds)
    }

    fn of(time: OffsetDateTime) -> Option<Stamp> {
        let time = time.checked_to_offset(UtcOffset::UTC)?;
        let time = time.replace_nanosecond(0).ok()?;
        (0..=9999).contains(&time.year()).then_some(Stamp(time))
    }
}

impl fmt::Display for Stamp {
    /// `2026-03-04T10:11:12Z`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = self.0.format(&Rfc3339).map_err(|_| fmt::Error)?;
        f.write_str(&text)
    }
}
