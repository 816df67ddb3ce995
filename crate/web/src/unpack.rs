//! Packed logs, unpacked piece by piece: the script reads the bytes, the core unpacks them.

use crate::failure::Failure;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_core::unpack::{
    self, Directory, Gunzip, LOCAL_HEADER, Limit, Member, Packing, Trouble, Unzip, find_directory, members,
};

fn failure(trouble: Trouble) -> JsValue {
    Failure {
        code: trouble.code,
        message: format!("It cannot be unpacked: {}.", trouble.message),
        hint: None,
        at: None,
    }
    .into()
}

/// How a file that begins so is packed: `plain`, `gzip` or `zip`.
#[must_use]
#[wasm_bindgen]
pub fn packing(head: &[u8]) -> String {
    match unpack::packing(head) {
        Packing::Plain => "plain",
        Packing::Gzip => "gzip",
        Packing::Zip => "zip",
    }
    .to_owned()
}

/// Name of the log in a gzip file.
#[must_use]
#[wasm_bindgen]
pub fn unpacked_name(name: &str) -> String {
    unpack::unpacked_name(name).to_owned()
}

/// Unpacks one log.
#[wasm_bindgen]
pub struct Unpacker(Kind);

enum Kind {
    Gzip(Gunzip),
    Zip(Unzip),
}

#[wasm_bindgen]
impl Unpacker {
    /// Of a gzip file.
    #[must_use]
    pub fn gzip() -> Self {
        Self(Kind::Gzip(Gunzip::new(Limit::default())))
    }

    /// Takes the next packed bytes; gives the text that they complete.
    ///
    /// # Errors
    /// What is wrong with the file.
    pub fn push(&mut self, bytes: &[u8]) -> Result<Vec<u8>, JsValue> {
        let mut out = Vec::new();
        match &mut self.0 {
            Kind::Gzip(gunzip) => gunzip.push(bytes, &mut out),
            Kind::Zip(unzip) => unzip.push(bytes, &mut out),
        }
        .map_err(failure)?;
        Ok(out)
    }

    /// Ends the packed bytes.
    ///
    /// # Errors
    /// They stop too early, or the text is not the one that was packed.
    pub fn finish(self) -> Result<(), JsValue> {
        match self.0 {
            Kind::Gzip(gunzip) => gunzip.finish(),
            Kind::Zip(unzip) => unzip.finish(),
        }
        .map_err(failure)
    }
}

/// A zip archive's directory.
#[wasm_bindgen]
pub struct Archive {
    directory: Directory,
    members: Vec<Member>,
}

#[wasm_bindgen]
impl Archive {
    /// How many bytes of the end of an archive are looked at.
    #[must_use]
    pub fn tail() -> f64 {
        unpack::DIRECTORY_SEARCHED as f64
    }

    /// Bytes in front of a file's data that [`Archive::data`] wants.
    #[must_use]
    pub fn header() -> f64 {
        LOCAL_HEADER as f64
    }

    /// Finds the directory in the end of an archive of so many bytes.
    ///
    /// # Errors
    /// There is none.
    #[wasm_bindgen(constructor)]
    pub fn new(tail: &[u8], size: f64) -> Result<Self, JsValue> {
        let directory = find_directory(tail, size as u64).map_err(failure)?;
        Ok(Self { directory, members: Vec::new() })
    }

    /// First byte of the directory and the first after it.
    #[must_use]
    pub fn place(&self) -> Vec<f64> {
        vec![self.directory.place.start as f64, self.directory.place.end as f64]
    }

    /// Takes the directory; gives the names of its files in order.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(&mut self, directory: &[u8]) -> Result<Vec<String>, JsValue> {
        self.members = members(directory).map_err(failure)?;
        Ok(self.members.iter().map(|member| member.base_name().to_owned()).collect())
    }

    /// Place of the header of a file.
    ///
    /// # Errors
    /// There is no such file.
    pub fn header_of(&self, member: usize) -> Result<f64, JsValue> {
        Ok(self.member(member)?.header as f64)
    }

    /// Place of the data of a file, by its header: first byte and the first after it.
    ///
    /// # Errors
    /// It cannot be unpacked: encrypted, packed in an unknown way, not there.
    pub fn data(&self, member: usize, header: &[u8]) -> Result<Vec<f64>, JsValue> {
        let place = self.member(member)?.data(header).map_err(failure)?;
        Ok(vec![place.start as f64, place.end as f64])
    }

    /// Begins to unpack a file.
    ///
    /// # Errors
    /// There is no such file.
    pub fn unpacker(&self, member: usize) -> Result<Unpacker, JsValue> {
        Ok(Unpacker(Kind::Zip(Unzip::new(self.member(member)?, Limit::default()))))
    }

    fn member(&self, member: usize) -> Result<&Member, JsValue> {
        self.members
            .get(member)
            .ok_or_else(|| Failure::internal("a file of an archive that is not there was asked for").into())
    }
}
