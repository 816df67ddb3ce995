//! Dates and times of day as written in logs.

use super::digits::{NOUGHTS, TEN, no_digits, value_of};

/// A time as written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stamp {
    /// Days since 1970-01-01; `None` where only the time of day is given.
    pub(super) day: Option<i64>,
    /// Seconds since that day's midnight, the zone taken out where one is given.
    pub(super) secs: f64,
}

/// Reads a date with time, a date, or a time of day.
///
/// Taken: `2024-03-31T01:59:50.250+01:00`, `2024-03-31 01:59:50,25`, `2024/3/31 1:59`,
/// `31.03.2024 01:59:50`, `31/03/2024 01:59:50 PM`, `03/31/2024 …` where only that reading is
/// possible, `01:59:50.25`. Date parts separated by `/` that can be read both ways are taken as day
/// and month.
///
/// **Source** ISO 8601-1:2019, 5.2 to 5.4 for the forms with `-` (from memory).
pub(super) fn read_stamp(text: &[u8]) -> Option<Stamp> {
    usual(text).or_else(|| any(text))
}

/// The form that most loggers write: `2024-03-31 01:59:50.25` with any or no fraction of up to eight
/// digits.
fn usual(text: &[u8]) -> Option<Stamp> {
    let (date, rest) = text.split_first_chunk::<8>()?;
    let ([tens, ones, between], rest) = rest.split_first_chunk::<3>()?;
    let (clock, fraction) = rest.split_first_chunk::<8>()?;
    let date = digits_in(*date, *b"0000-00-")?;
    let clock = digits_in(*clock, *b"00:00:00")?;
    let [day_tens, day_ones] = [tens.wrapping_sub(b'0'), ones.wrapping_sub(b'0')];
    let two = |digits: [u8; 8], at: usize| 10 * i64::from(digits[at]) + i64::from(digits[at + 1]);
    let (year, month) = (100 * two(date, 0) + two(date, 2), two(date, 5));
    let day = 10 * i64::from(day_tens) + i64::from(day_ones);
    let (hour, minute, second) = (two(clock, 0), two(clock, 3), two(clock, 6));
    let fraction = match fraction {
        [] => 0.0,
        [b'.' | b',', digits @ ..] if (1..=8).contains(&digits.len()) => {
            let mut padded = [b'0'; 8];
            padded.get_mut(8 - digits.len()..)?.copy_from_slice(digits);
            let bytes = u64::from_le_bytes(padded) ^ NOUGHTS;
            if no_digits(bytes) != 0 {
                return None;
            }
            value_of(bytes) as f64 / TEN.get(digits.len())?
        }
        _ => return None,
    };
    let fits = matches!(between, b' ' | b'T')
        && day_tens <= 9
        && day_ones <= 9
        && (1..=12).contains(&month)
        && (1..=days_in_month(year, month)).contains(&day)
        && hour <= 24
        && minute < 60
        && second <= 60;
    let secs = (hour * 3600 + minute * 60 + second) as f64 + fraction;
    fits.then(|| Stamp { day: Some(days_from_civil(year, month, day)), secs })
}

/// Eight characters less a pattern of noughts and marks, where only digits stand in place of noughts.
fn digits_in(text: [u8; 8], pattern: [u8; 8]) -> Option<[u8; 8]> {
    let (bytes, pattern) = (u64::from_le_bytes(text), u64::from_le_bytes(pattern));
    let rest = bytes ^ pattern;
    let marks = no_digits(pattern ^ NOUGHTS) / 0x80 * 0xff;
    (no_digits(rest) == 0 && rest & marks == 0).then(|| rest.to_le_bytes())
}

/// Every other form.
fn any(text: &[u8]) -> Option<Stamp> {
    let mut cursor = Cursor { text, at: 0 };
    let first = cursor.integer()?;
    if cursor.take(b":") {
        let secs = cursor.clock(first.value)?;
        let secs = cursor.half_day(secs)?;
        let zone = cursor.zone()?;
        return cursor.done().then_some(Stamp { day: None, secs: secs - zone });
    }
    let mark = *text.get(cursor.at).filter(|mark| b"-/.".contains(mark))?;
    cursor.at += 1;
    let second = cursor.integer()?;
    if !cursor.take(&[mark]) {
        return None;
    }
    let third = cursor.integer()?;
    let (year, month, day) = match (first.digits, third.digits) {
        (4, 1..=2) => (first.value, second.value, third.value),
        (1..=2, 4) if mark == b'/' && first.value <= 12 && second.value > 12 => {
            (third.value, first.value, second.value)
        }
        (1..=2, 4) => (third.value, second.value, first.value),
        _ => return None,
    };
    if !(1..=12).contains(&month) || !(1..=days_in_month(year, month)).contains(&day) {
        return None;
    }
    let day = days_from_civil(year, month, day);
    if cursor.done() {
        return Some(Stamp { day: Some(day), secs: 0.0 });
    }
    if !(cursor.take(b"T") || cursor.take(b"t") || cursor.take(b" ") || cursor.take(b"_")) {
        return None;
    }
    while cursor.take(b" ") {}
    let hour = cursor.integer()?;
    if !cursor.take(b":") {
        return None;
    }
    let secs = cursor.clock(hour.value)?;
    let secs = cursor.half_day(secs)?;
    let zone = cursor.zone()?;
    cursor.done().then_some(Stamp { day: Some(day), secs: secs - zone })
}

struct Integer {
    value: i64,
    digits: usize,
}

struct Cursor<'a> {
    text: &'a [u8],
    at: usize,
}

impl Cursor<'_> {
    fn done(&self) -> bool {
        self.at == self.text.len()
    }

    fn take(&mut self, what: &[u8]) -> bool {
        let found = self.text.get(self.at..).is_some_and(|rest| rest.starts_with(what));
        if found {
            self.at += what.len();
        }
        found
    }

    fn integer(&mut self) -> Option<Integer> {
        let start = self.at;
        let mut value = 0_i64;
        while let Some(byte) = self.text.get(self.at).filter(|byte| byte.is_ascii_digit()) {
            if self.at - start == 9 {
                return None;
            }
            value = value * 10 + i64::from(byte - b'0');
            self.at += 1;
        }
        let digits = self.at - start;
        (digits > 0).then_some(Integer { value, digits })
    }

    /// Minutes, seconds and their fraction after `hour:`.
    fn clock(&mut self, hour: i64) -> Option<f64> {
        let minute = self.integer()?;
        let mut second = 0;
        let mut fraction = 0.0;
        if self.take(b":") {
            second = self.integer()?.value;
            if self.take(b".") || self.take(b",") || self.take(b":") {
                let start = self.at;
                while self.text.get(self.at).is_some_and(u8::is_ascii_digit) {
                    self.at += 1;
                }
                let mut decimal = [b'.'; 24];
                let digits = self.text.get(start..self.at).filter(|digits| !digits.is_empty())?;
                let length = digits.len().min(23);
                decimal.get_mut(1..=length)?.copy_from_slice(digits.get(..length)?);
                fraction = super::number::parse_number(decimal.get(..=length)?, b'.')?;
            }
        }
        let in_range = hour <= 24 && minute.value < 60 && second <= 60;
        // One division by a thousand-free sum: whole seconds first, then the fraction.
        in_range.then_some((hour * 3600 + minute.value * 60 + second) as f64 + fraction)
    }

    fn half_day(&mut self, secs: f64) -> Option<f64> {
        let after_noon = match self.text.get(self.at..) {
            Some([b' ', b'A' | b'a', b'M' | b'm', ..]) => false,
            Some([b' ', b'P' | b'p', b'M' | b'm', ..]) => true,
            _ => return Some(secs),
        };
        self.at += 3;
        let twelve = 12.0 * 3600.0;
        let of_half = if secs >= twelve { secs - twelve } else { secs };
        (of_half < twelve).then_some(if after_noon { of_half + twelve } else { of_half })
    }

    /// Seconds that the written time is ahead of UTC; 0 where no zone is given.
    fn zone(&mut self) -> Option<f64> {
        while self.take(b" ") {}
        if self.take(b"Z") || self.take(b"z") || self.take(b"UTC") {
            return Some(0.0);
        }
        let ahead = match self.text.get(self.at) {
            Some(b'+') => 1.0,
            Some(b'-') => -1.0,
            _ => return Some(0.0),
        };
        self.at += 1;
        let hours = self.integer()?;
        let minutes = match hours.digits {
            4 => hours.value / 100 * 60 + hours.value % 100,
            _ if self.take(b":") => hours.value * 60 + self.integer()?.value,
            _ => hours.value * 60,
        };
        (minutes <= 18 * 60).then_some(ahead * 60.0 * minutes as f64)
    }
}

fn days_in_month(year: i64, month: i64) -> i64 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        _ => 31,
    }
}

/// Days from 1970-01-01 in the Gregorian calendar.
///
/// **Formula** years start in March, so that the leap day is the last; 400 years have 146 097 days.
fn days_from_civil(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let cycle = year.div_euclid(400);
    let year_of_cycle = year.rem_euclid(400);
    let day_of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    cycle * 146_097 + year_of_cycle * 365 + year_of_cycle / 4 - year_of_cycle / 100 + day_of_year - 719_468
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: Option<(Option<i64>, f64)>) {
        let found = read_stamp(text.as_bytes()).map(|stamp| (stamp.day, stamp.secs));
        assert_eq!(found, expected, "{text}");
    }

    // Day numbers: 2000-03-01 is day 11017, 2024-03-31 is day 19813 (POSIX.1-2017, 4.16 "Seconds
    // since the Epoch", computed by its formula).
    #[test]
    fn reads_common_forms() {
        check("2000-03-01", Some((Some(11_017), 0.0)));
        check("2024-03-31T01:59:50.250+01:00", Some((Some(19_813), 3_590.25)));
        check("2024-03-31 01:59:50,5", Some((Some(19_813), 7_190.5)));
        check("2024-03-31T01:59:50Z", Some((Some(19_813), 7_190.0)));
        check("2024/3/31 1:59", Some((Some(19_813), 7_140.0)));
        check("31.03.2024 01:59:50", Some((Some(19_813), 7_190.0)));
        check("03/31/2024 01:59:50 PM", Some((Some(19_813), 50_390.0)));
        check("12:00:01 AM", Some((None, 1.0)));
        check("23:59:59.125", Some((None, 86_399.125)));
        check("1969-12-31 23:59:59", Some((Some(-1), 86_399.0)));
    }

    #[test]
    fn the_usual_form_is_read_as_any_other() {
        let parts = ["2024", "0000", "1x24", "1900"];
        let rests = ["-02-29", "-02-30", "-12-01", "-00-10", "-13-01", "/03/01", "-0a-01", "-04-3:"];
        let clocks = [
            " 00:00:00",
            "T23:59:60",
            " 24:00:00",
            " 12:60:00",
            " 12.00:00",
            "_12:00:00",
            " 12:00:61",
            " 1:00:000",
        ];
        let fractions = ["", ".5", ",25", ".12345678", ".123456789", ".", ".1a", "Z", ".5+01:00"];
        let mut usual_ones = 0;
        for part in parts {
            for rest in rests {
                for clock in clocks {
                    for fraction in fractions {
                        let text = format!("{part}{rest}{clock}{fraction}");
                        let found = usual(text.as_bytes());
                        usual_ones += usize::from(found.is_some());
                        if found.is_some() {
                            assert_eq!(found, any(text.as_bytes()), "{text}");
                        }
                    }
                }
            }
        }
        // Years 2024, 0000 and 1900, of which the last has no 29 February; two dates, three clocks, four fractions.
        assert_eq!(usual_ones, 5 * 3 * 4);
    }

    #[test]
    fn refuses_what_is_no_time() {
        for text in
            ["2024-02-30", "2024-13-01", "13.08", "1.2.3", "25:00:00", "12:60", "2024-03-31x", "-", "12-"]
        {
            check(text, None);
        }
    }
}
