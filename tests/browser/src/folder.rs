//! Folders of one test.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use crate::Outcome;

static NEXT: AtomicU32 = AtomicU32::new(0);

/// The workspace's folder.
pub fn workspace() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.ancestors().nth(2).unwrap_or(here).to_path_buf()
}

/// Below `target`: where tests may write. Cargo gives it to tests, not to libraries.
pub(crate) fn scratch() -> PathBuf {
    let target = std::env::var_os("CARGO_TARGET_DIR").map(PathBuf::from);
    target.unwrap_or_else(|| workspace().join("target")).join("browser-tests")
}

/// An empty folder that is removed with its owner.
#[derive(Debug)]
pub struct Folder(PathBuf);

impl Folder {
    /// Makes one.
    ///
    /// **Errors** where it cannot be made.
    pub fn new() -> Outcome<Folder> {
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let path = scratch().join(format!("{}-{number}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path)?;
        Ok(Folder(std::fs::canonicalize(path)?))
    }

    /// Its path, absolute.
    pub fn path(&self) -> &Path {
        &self.0
    }

    /// Writes a file into it and gives its path.
    ///
    /// **Errors** where it cannot be written.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Outcome<PathBuf> {
        let path = self.0.join(name);
        std::fs::write(&path, bytes)?;
        Ok(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
