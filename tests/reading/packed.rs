//! Packed logs: archives made by Python's `gzip` and `zipfile` (`logs/packed`), unpacked in pieces of
//! any size; and files that are refused, each with its sentence (`logs/refused/cases.json`).

use wattsieve_core::log::{self, Settings};
use wattsieve_core::unpack::{
    Gunzip, LOCAL_HEADER, Limit, Packing, Trouble, Unzip, find_directory, members, packing, unpacked_name,
};

use crate::support::{file, json};

/// The logs of a file, unpacked with so many bytes at once.
fn logs_in(name: &str, bytes: &[u8], piece: usize) -> Result<Vec<(String, Vec<u8>)>, Trouble> {
    match packing(bytes) {
        Packing::Plain => Ok(vec![(name.to_owned(), bytes.to_vec())]),
        Packing::Gzip => {
            let (mut gunzip, mut text) = (Gunzip::new(Limit::default()), Vec::new());
            for bytes in bytes.chunks(piece) {
                gunzip.push(bytes, &mut text)?;
            }
            gunzip.finish()?;
            Ok(vec![(unpacked_name(name).to_owned(), text)])
        }
        Packing::Zip => {
            let directory = find_directory(bytes, bytes.len() as u64)?;
            let place = directory.place.start as usize..directory.place.end as usize;
            let one = |member: &wattsieve_core::unpack::Member| {
                let header = member.header as usize;
                let place = member.data(&bytes[header..header + LOCAL_HEADER as usize])?;
                let (mut unzip, mut text) = (Unzip::new(member, Limit::default()), Vec::new());
                for bytes in bytes[place.start as usize..place.end as usize].chunks(piece) {
                    unzip.push(bytes, &mut text)?;
                }
                unzip.finish()?;
                Ok((member.base_name().to_owned(), text))
            };
            members(&bytes[place])?.iter().map(one).collect()
        }
    }
}

fn unpacked(name: &str) -> Vec<(String, Vec<u8>)> {
    let bytes = file(&format!("logs/packed/{name}"));
    let found = logs_in(name, &bytes, 1 << 20).unwrap();
    for piece in [1, 7, 100] {
        assert_eq!(logs_in(name, &bytes, piece).unwrap(), found, "{name} in pieces of {piece}");
    }
    found
}

#[test]
fn archives_give_the_logs_that_were_packed() {
    let one = unpacked("one.csv.gz");
    assert_eq!(one[0].0, "one.csv");
    assert_eq!(log::read(&one[0].1, &Settings::default()).rows(), 40);
    assert_eq!(unpacked("stored.zip"), one);
    assert_eq!(unpacked("two_streams.csv.gz")[0].1.iter().filter(|byte| **byte == b'\n').count(), 41);
    let parts = unpacked("parts.zip");
    let names: Vec<&str> = parts.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["part 9.csv", "part 10.csv"], "numbers in names count by value");
    let rows: Vec<usize> =
        parts.iter().map(|(_, text)| log::read(text, &Settings::default()).rows()).collect();
    assert_eq!(rows, [20, 15]);
}

#[test]
fn what_cannot_be_used_is_refused_with_its_reason() {
    for case in json("logs/refused/cases.json").as_array().unwrap() {
        let path = case["file"].as_str().unwrap();
        let (code, message) = match logs_in(path, &file(&format!("logs/{path}")), 1 << 16) {
            Err(trouble) => (trouble.code, trouble.message),
            Ok(logs) => {
                let refusal = log::read(&logs[0].1, &Settings::default()).refusal().unwrap().clone();
                (refusal.code, refusal.message)
            }
        };
        assert_eq!(code, case["code"].as_str().unwrap(), "{path}: {message}");
        for words in case["says"].as_array().unwrap() {
            assert!(message.contains(words.as_str().unwrap()), "{path}: {message}");
        }
        assert!(!message.contains('\n') && !message.ends_with('.'), "{path}: {message}");
    }
}
