//! Where the bytes of a log come from: a file, or one that is packed in a file.

use std::fs::File;
use std::io::{Read as _, Seek as _, SeekFrom};

use wattsieve_core::bench::{InputSettings, Kind};
use wattsieve_core::unpack::{
    DIRECTORY_SEARCHED, Gunzip, LOCAL_HEADER, Limit, Member, Packing, Trouble, Unzip, find_directory,
    members, packing, unpacked_name,
};

use crate::Failure;
use crate::configure::base_name;

/// Bytes taken from a file at once.
const CHUNK: usize = 1 << 20;

/// One log.
#[derive(Clone, Debug)]
pub(crate) struct Source {
    /// Path of the file.
    pub path: String,
    /// Name of the log.
    pub name: String,
    /// Bytes of its text, where known.
    pub bytes: Option<u64>,
    packed: Packed,
}

#[derive(Clone, Debug)]
enum Packed {
    No(u64),
    Gzip,
    Zip(Box<Member>),
}

/// The logs that the files hold, and the settings of each: an archive's logs have those of its name
/// on the command line; where that names a run, they are its parts in the order of their names.
///
/// **Errors** a file that cannot be read or unpacked.
pub(crate) fn sources(
    files: &[String],
    settings: &[InputSettings],
) -> Result<(Vec<Source>, Vec<InputSettings>), Failure> {
    let mut found = Vec::new();
    let mut own = Vec::new();
    for (path, settings) in files.iter().zip(settings) {
        for (part, source) in logs_in(path)?.into_iter().enumerate() {
            found.push(source);
            let mut settings = settings.clone();
            let one_run = settings.run.is_some() && settings.kind.is_none_or(Kind::is_run);
            settings.continues |= part > 0 && one_run;
            own.push(settings);
        }
    }
    Ok((found, own))
}

fn logs_in(path: &str) -> Result<Vec<Source>, Failure> {
    let refused = |error: std::io::Error| Failure::refused(format!("{path}: cannot be read: {error}"));
    let mut file = File::open(path).map_err(refused)?;
    let about = file.metadata().map_err(refused)?;
    if about.is_dir() {
        return Err(Failure::refused(format!("{path}: this is a folder; name the log inside it")));
    }
    let size = about.len();
    let mut head = Vec::new();
    if about.is_file() {
        (&mut file).take(4).read_to_end(&mut head).map_err(refused)?;
    }
    let source =
        |name: &str, bytes, packed| Source { path: path.to_owned(), name: name.to_owned(), bytes, packed };
    match packing(&head) {
        Packing::Plain => {
            Ok(vec![source(base_name(path), about.is_file().then_some(size), Packed::No(size))])
        }
        Packing::Gzip => Ok(vec![source(unpacked_name(base_name(path)), None, Packed::Gzip)]),
        Packing::Zip => {
            let troubled = |trouble: Trouble| troubled(path, &trouble);
            let tail = part(&mut file, size.saturating_sub(DIRECTORY_SEARCHED), size).map_err(refused)?;
            let directory = find_directory(&tail, size).map_err(troubled)?;
            let place = directory.place;
            let directory = part(&mut file, place.start, place.end).map_err(refused)?;
            let members = members(&directory).map_err(troubled)?;
            Ok(members
                .into_iter()
                .map(|member| {
                    let name = member.base_name().to_owned();
                    source(&name, Some(member.bytes), Packed::Zip(Box::new(member)))
                })
                .collect())
        }
    }
}

fn troubled(path: &str, trouble: &Trouble) -> Failure {
    Failure::refused(format!("{path}: cannot be unpacked: {}", trouble.message))
}

fn part(file: &mut File, from: u64, end: u64) -> std::io::Result<Vec<u8>> {
    file.seek(SeekFrom::Start(from))?;
    let mut bytes = Vec::new();
    file.take(end.saturating_sub(from)).read_to_end(&mut bytes)?;
    Ok(bytes)
}

impl Source {
    /// Hands the text over, piece by piece.
    ///
    /// **Errors** the file cannot be read to its end, or not be unpacked.
    pub(crate) fn read(&self, mut take: impl FnMut(&[u8])) -> Result<(), Failure> {
        let path = &self.path;
        let refused = |error: std::io::Error| Failure::refused(format!("{path}: cannot be read: {error}"));
        let mut file = File::open(path).map_err(refused)?;
        let mut out = Vec::new();
        match &self.packed {
            Packed::No(size) => {
                let taken = pieces(&mut file, refused, |piece| {
                    take(piece);
                    Ok(())
                })?;
                if taken < *size {
                    return Err(Failure::refused(format!(
                        "{path}: the file became shorter while it was read: {taken} of {size} bytes came; wait until nothing writes to it, or copy it, and read it again"
                    )));
                }
                Ok(())
            }
            Packed::Gzip => {
                let mut gunzip = Gunzip::new(Limit::default());
                pieces(&mut file, refused, |piece| {
                    out.clear();
                    gunzip.push(piece, &mut out).map_err(|trouble| troubled(path, &trouble))?;
                    take(&out);
                    Ok(())
                })?;
                gunzip.finish().map_err(|trouble| troubled(path, &trouble))
            }
            Packed::Zip(member) => {
                let header = part(&mut file, member.header, member.header + LOCAL_HEADER).map_err(refused)?;
                let place = member.data(&header).map_err(|trouble| troubled(path, &trouble))?;
                let mut unzip = Unzip::new(member, Limit::default());
                file.seek(SeekFrom::Start(place.start)).map_err(refused)?;
                pieces(&mut file.take(place.end - place.start), refused, |piece| {
                    out.clear();
                    unzip.push(piece, &mut out).map_err(|trouble| troubled(path, &trouble))?;
                    take(&out);
                    Ok(())
                })?;
                unzip.finish().map_err(|trouble| troubled(path, &trouble))
            }
        }
    }
}

/// Reads to the end; gives how many bytes there were.
fn pieces(
    from: &mut impl std::io::Read,
    refused: impl Fn(std::io::Error) -> Failure,
    mut take: impl FnMut(&[u8]) -> Result<(), Failure>,
) -> Result<u64, Failure> {
    let mut chunk = vec![0; CHUNK];
    let mut taken = 0;
    loop {
        let count = from.read(&mut chunk).map_err(&refused)?;
        if count == 0 {
            return Ok(taken);
        }
        take(chunk.get(..count).unwrap_or_default())?;
        taken += count as u64;
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests")]

    use super::*;

    #[test]
    fn a_file_cut_while_it_is_read_is_named_with_what_came() {
        let path = std::env::temp_dir().join(format!("wattsieve-cut-{}.csv", std::process::id()));
        std::fs::write(&path, b"0.00,12.0\n".repeat(400_000)).unwrap();
        let sources = logs_in(&path.display().to_string()).unwrap();
        let mut taken = 0;
        let read = sources[0].read(|piece| {
            if taken == 0 {
                File::options().write(true).open(&path).unwrap().set_len(2_500_000).unwrap();
            }
            taken += piece.len();
        });
        std::fs::remove_file(&path).unwrap();
        let message = read.unwrap_err().message;
        assert_eq!(taken, 2_500_000);
        assert!(
            message.contains("became shorter while it was read: 2500000 of 4000000 bytes came")
                && message.contains("read it again")
                && message.contains(".csv"),
            "{message}"
        );
    }
}
