//! A zip archive: its directory, and one file of it to its text.
//!
//! **Source** APPNOTE.TXT 6.3 (PKWARE): 4.3.7 local header, 4.3.12 directory, 4.3.16 end of it,
//! 4.5.3 sizes beyond 32 bits.

use core::ops::Range;

use super::inflate::Inflate;
use super::{Limit, Trouble};

/// Bytes at the end of an archive among which the end of its directory must be: the record and the
/// longest comment.
pub const DIRECTORY_SEARCHED: u64 = 22 + 65_535;

/// Bytes of a header in front of a file's data, without its name.
pub const LOCAL_HEADER: u64 = 30;

/// Files of one archive, at most.
const MOST_MEMBERS: usize = 1000;

/// Where the directory of an archive is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Directory {
    /// Its place in the file.
    pub place: Range<u64>,
    /// Files in it.
    pub count: usize,
}

/// One file of an archive.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// Its name with its folders.
    pub name: String,
    /// Place of its header in the archive.
    pub header: u64,
    /// Bytes in the archive.
    pub packed: u64,
    /// Bytes unpacked.
    pub bytes: u64,
    method: u16,
    encrypted: bool,
    crc: u32,
}

fn two(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(*bytes.get(at..)?.first_chunk()?))
}

fn four(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(*bytes.get(at..)?.first_chunk()?))
}

fn eight(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(*bytes.get(at..)?.first_chunk()?))
}

/// Finds the directory in the last [`DIRECTORY_SEARCHED`] bytes of an archive of so many bytes.
///
/// **Errors** there is none, or the archive is of a kind that is not read.
pub fn find_directory(tail: &[u8], size: u64) -> Result<Directory, Trouble> {
    let missing = || Trouble::damaged("this zip archive has no directory at its end");
    let at = tail.windows(4).rposition(|four| four == b"PK\x05\x06").ok_or_else(missing)?;
    let record = tail.get(at..).unwrap_or_default();
    let (Some(disk), Some(count), Some(bytes), Some(start)) =
        (two(record, 4), two(record, 10), four(record, 12), four(record, 16))
    else {
        return Err(missing());
    };
    if disk != 0 && disk != u16::MAX {
        return Err(Trouble::new(
            "archive_method",
            "this is one part of a zip archive in several; join the parts, or unpack them and open the logs",
        ));
    }
    if count == u16::MAX || start == u32::MAX {
        return Err(Trouble::new(
            "archive_too_large",
            "this zip archive is of the kind for more than 4 GB; unpack it and open the logs themselves",
        ));
    }
    let place = u64::from(start)..u64::from(start) + u64::from(bytes);
    if place.end > size {
        return Err(missing());
    }
    Ok(Directory { place, count: usize::from(count) })
}

/// The files of an archive that can be logs, in the order of their names, numbers by value. Folders
/// and what a system adds for itself are left out.
///
/// **Errors** the directory is damaged, the archive is a spreadsheet workbook, or holds no file.
pub fn members(directory: &[u8]) -> Result<Vec<Member>, Trouble> {
    let mut found = Vec::new();
    let mut rest = directory;
    while rest.starts_with(b"PK\x01\x02") {
        let (member, length) =
            member(rest).ok_or_else(|| Trouble::damaged("the directory of this zip archive is broken"))?;
        found.push(member);
        rest = rest.get(length..).unwrap_or_default();
        if found.len() > MOST_MEMBERS {
            return Err(Trouble::new(
                "archive_too_large",
                format!(
                    "it holds more than {MOST_MEMBERS} files; unpack it and open the logs that are meant"
                ),
            ));
        }
    }
    let workbook = |member: &Member| {
        member.name.eq_ignore_ascii_case("xl/workbook.xml") || member.name.eq_ignore_ascii_case("content.xml")
    };
    if found.iter().any(workbook) {
        return Err(Trouble::new(
            "spreadsheet",
            "this is a spreadsheet workbook; export the sheet with the log as delimited text (CSV) and open that",
        ));
    }
    found.retain(|member| {
        let base = member.base_name();
        !base.is_empty() && !base.starts_with('.') && !member.name.starts_with("__MACOSX/")
    });
    if found.is_empty() {
        return Err(Trouble::new("archive_empty", "this zip archive holds no files; check how it was made"));
    }
    found.sort_by(|a, b| by_number(&a.name, &b.name).then_with(|| a.header.cmp(&b.header)));
    Ok(found)
}

/// Order of names in which `part 9` stands before `part 10`.
fn by_number(a: &str, b: &str) -> core::cmp::Ordering {
    let (mut a, mut b) = (a.as_bytes(), b.as_bytes());
    loop {
        let digits = |text: &[u8]| text.iter().take_while(|byte| byte.is_ascii_digit()).count();
        let (da, db) = (digits(a), digits(b));
        if da > 0 && db > 0 {
            let value = |text: &[u8], digits: usize| {
                text.iter().take(digits).fold(0_u128, |value, byte| {
                    value.saturating_mul(10).saturating_add(u128::from(byte - b'0'))
                })
            };
            let order = value(a, da).cmp(&value(b, db)).then(da.cmp(&db));
            if order.is_ne() {
                return order;
            }
            (a, b) = (a.get(da..).unwrap_or_default(), b.get(db..).unwrap_or_default());
            continue;
        }
        match (a.split_first(), b.split_first()) {
            (Some((x, rest_a)), Some((y, rest_b))) if x == y => (a, b) = (rest_a, rest_b),
            (x, y) => return x.map(|(x, _)| x).cmp(&y.map(|(y, _)| y)),
        }
    }
}

/// One entry of the directory and its length.
fn member(entry: &[u8]) -> Option<(Member, usize)> {
    let (flags, method, crc) = (two(entry, 8)?, two(entry, 10)?, four(entry, 16)?);
    let (packed, bytes) = (four(entry, 20)?, four(entry, 24)?);
    let name_length = usize::from(two(entry, 28)?);
    let (extra_length, comment_length) = (usize::from(two(entry, 30)?), usize::from(two(entry, 32)?));
    let header = four(entry, 42)?;
    let name = entry.get(46..46 + name_length)?;
    let mut extra = entry.get(46 + name_length..46 + name_length + extra_length)?;
    let mut member = Member {
        name: String::from_utf8_lossy(name).replace('\\', "/"),
        header: u64::from(header),
        packed: u64::from(packed),
        bytes: u64::from(bytes),
        method,
        encrypted: flags & 1 != 0,
        crc,
    };
    // Sizes that need more than 32 bits stand in a field of their own, in this order.
    while let (Some(id), Some(length)) = (two(extra, 0), two(extra, 2)) {
        let field = extra.get(4..4 + usize::from(length))?;
        if id == 1 {
            let mut at = 0;
            let wanted = [
                (bytes == u32::MAX, &mut member.bytes),
                (packed == u32::MAX, &mut member.packed),
                (header == u32::MAX, &mut member.header),
            ];
            for (_, value) in wanted.into_iter().filter(|(wanted, _)| *wanted) {
                *value = eight(field, at)?;
                at += 8;
            }
        }
        extra = extra.get(4 + usize::from(length)..)?;
    }
    Some((member, 46 + name_length + extra_length + comment_length))
}

impl Member {
    /// Its name without folders.
    #[must_use]
    pub fn base_name(&self) -> &str {
        self.name.rsplit('/').next().unwrap_or(&self.name)
    }

    /// Place of its data, by the [`LOCAL_HEADER`] bytes in front of it.
    ///
    /// **Errors** it is encrypted, packed by an unknown method, or not there.
    pub fn data(&self, local: &[u8]) -> Result<Range<u64>, Trouble> {
        let name = self.base_name();
        if self.encrypted {
            return Err(Trouble::new(
                "archive_encrypted",
                format!(
                    "`{name}` in it is encrypted; unpack the archive with its password and open the log itself"
                ),
            ));
        }
        if !matches!(self.method, 0 | 8) {
            return Err(Trouble::new(
                "archive_method",
                format!(
                    "`{name}` in it is packed by method {}, and only deflate is known; unpack it and open the log itself",
                    self.method
                ),
            ));
        }
        let lengths = (two(local, 26), two(local, 28));
        match lengths {
            (Some(name), Some(extra)) if local.starts_with(b"PK\x03\x04") => {
                let start = self.header + LOCAL_HEADER + u64::from(name) + u64::from(extra);
                Ok(start..start + self.packed)
            }
            _ => Err(Trouble::damaged(&format!(
                "`{name}` is not where the directory of this zip archive says"
            ))),
        }
    }
}

/// Unpacks one file of an archive, whose data comes in pieces.
#[derive(Debug)]
pub struct Unzip {
    limit: Limit,
    member: Member,
    stream: Inflate,
}

impl Unzip {
    /// At the beginning of its data.
    #[must_use]
    pub fn new(member: &Member, limit: Limit) -> Self {
        let mut stream = Inflate::new();
        stream.ended = member.method == 0;
        Self { limit, member: member.clone(), stream }
    }

    /// Takes the next bytes of the data and appends the text that they complete.
    ///
    /// **Errors** the data is damaged, or unpacks to too much.
    pub fn push(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> Result<(), Trouble> {
        if self.member.method == 0 {
            self.stream.crc.push(bytes);
            self.stream.given += bytes.len() as u64;
            self.stream.taken += bytes.len() as u64;
            out.extend_from_slice(bytes);
            return self.limit.check(self.stream.taken, self.stream.given);
        }
        let what = format!("`{}` in this zip archive", self.member.base_name());
        self.stream.push(bytes, out, self.limit, (0, 0), &what).map(drop)
    }

    /// Ends the data.
    ///
    /// **Errors** it stops before its end, or is not what was packed.
    pub fn finish(self) -> Result<(), Trouble> {
        let whole = self.stream.ended && self.stream.given == self.member.bytes;
        if whole && self.stream.crc.value() == self.member.crc {
            return Ok(());
        }
        let name = self.member.base_name();
        Err(Trouble::damaged(&if whole {
            format!("`{name}` in it does not fit its check sum")
        } else {
            format!("`{name}` in it stops before its end")
        }))
    }
}
