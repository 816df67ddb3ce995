#![allow(clippy::unwrap_used, reason = "tests")]

use super::crc::Crc;
use super::*;

/// **Source** the check value of CRC-32 over the nine digits, 0xcbf43926 (ITU-T V.42's polynomial;
/// from memory).
#[test]
fn the_check_sum_is_the_published_one() {
    let mut crc = Crc::new();
    crc.push(b"12345");
    crc.push(b"6789");
    assert_eq!(crc.value(), 0xcbf4_3926);
}

#[test]
fn is_told_by_content() {
    assert_eq!(packing(b"\x1f\x8b\x08\0"), Packing::Gzip);
    assert_eq!(packing(b"PK\x03\x04"), Packing::Zip);
    assert_eq!(packing(b"PK\x05\x06"), Packing::Zip);
    assert_eq!(packing(b"PKV,I"), Packing::Plain);
    assert_eq!(packing(b""), Packing::Plain);
    assert_eq!(unpacked_name("run.csv.GZ"), "run.csv");
    assert_eq!(unpacked_name(".gz"), ".gz");
    assert_eq!(unpacked_name("run.csv"), "run.csv");
}

/// A stream of one stored block (RFC 1951, 3.2.4), by hand.
fn stored(text: &[u8]) -> Vec<u8> {
    let length = text.len() as u16;
    let mut out = vec![0x1f, 0x8b, 8, 0, 0, 0, 0, 0, 0, 255, 1];
    out.extend(length.to_le_bytes());
    out.extend((!length).to_le_bytes());
    out.extend(text);
    let mut crc = Crc::new();
    crc.push(text);
    out.extend(crc.value().to_le_bytes());
    out.extend(u32::from(length).to_le_bytes());
    out
}

#[test]
fn streams_follow_each_other_however_they_are_cut() {
    let packed = [stored(b"t,v\n0,1\n"), stored(b""), stored(b"1,2\n"), vec![0; 40]].concat();
    for size in [1, 2, 7, 1000] {
        let mut gunzip = Gunzip::new(Limit::default());
        let mut text = Vec::new();
        packed.chunks(size).for_each(|piece| gunzip.push(piece, &mut text).unwrap());
        gunzip.finish().unwrap();
        assert_eq!(text, b"t,v\n0,1\n1,2\n");
    }
    for cut in 1..packed.len() - 41 {
        let mut gunzip = Gunzip::new(Limit::default());
        let mut text = Vec::new();
        let pushed = gunzip.push(&packed[..cut], &mut text);
        let ended = pushed.and_then(|()| gunzip.finish());
        let whole = [stored(b"t,v\n0,1\n").len(), stored(b"t,v\n0,1\n").len() + stored(b"").len()];
        assert_eq!(ended.is_ok(), whole.contains(&cut), "{cut}");
    }
    let mut wrong = stored(b"abc");
    let place = wrong.len() - 6;
    wrong[place] ^= 1;
    let damaged = Gunzip::new(Limit::default()).push(&wrong, &mut Vec::new()).unwrap_err();
    assert_eq!(damaged.code, "archive_damaged");
}

#[test]
fn too_much_is_refused_while_it_unpacks() {
    let packed = stored(&[b'1'; 5000]);
    let limit = Limit { bytes: 4000, ..Limit::default() };
    let mut text = Vec::new();
    let refused = Gunzip::new(limit).push(&packed, &mut text).unwrap_err();
    assert_eq!(refused.code, "archive_too_large");
    let limit = Limit { ratio: 2, spared: 0, ..Limit::default() };
    assert!(limit.check(100, 150).is_ok() && limit.check(100, 202).is_err());
}
