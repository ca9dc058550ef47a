//! Photos lying in a folder, found by their BLAKE3 whatever they are called.

use super::pictures::Shelf;
use scupper_core::survey::Photo;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// No photo file is larger.
const LARGEST: u64 = 256 << 20;

/// A folder of photos, read when the first photo is asked for that is not named by its hash.
#[derive(Debug)]
pub struct Folder {
    dir: PathBuf,
    by_hash: OnceLock<HashMap<String, PathBuf>>,
}

impl Folder {
    /// The photos in a folder and the folders in it.
    pub fn new(dir: impl Into<PathBuf>) -> Self {
        Self {
            dir: dir.into(),
            by_hash: OnceLock::new(),
        }
    }

    fn named(&self, hash: &str) -> Option<Vec<u8>> {
        let first = hash.get(..2)?;
        let places = [
            self.dir.join(hash),
            self.dir.join(first).join(hash),
            self.dir.join(format!("{hash}.jpg")),
            self.dir.join(format!("{hash}.png")),
        ];
        places
            .iter()
            .find_map(|path| read(path))
            .filter(|bytes| is(bytes, hash))
    }
}

impl Shelf for Folder {
    fn bytes(&self, photo: &Photo) -> Result<Vec<u8>, String> {
        let hash = photo.hash.as_str();
        if hash.len() != 64 || !hash.chars().all(|c| c.is_ascii_hexdigit()) {
            return Err("the survey does not say which file it is".to_owned());
        }
        if let Some(bytes) = self.named(hash) {
            return Ok(bytes);
        }
        let by_hash = self.by_hash.get_or_init(|| index(&self.dir));
        let found = by_hash.get(hash).and_then(|path| read(path));
        found.ok_or_else(|| "its file is not in the folder of photos".to_owned())
    }
}

fn is(bytes: &[u8], hash: &str) -> bool {
    blake3::hash(bytes).to_hex().as_str() == hash
}

fn read(path: &Path) -> Option<Vec<u8>> {
    let size = std::fs::metadata(path)
        .ok()
        .filter(|file| file.is_file())?
        .len();
    (size <= LARGEST)
        .then(|| std::fs::read(path).ok())
        .flatten()
}

/// Every file below a folder by its hash.
fn index(dir: &Path) -> HashMap<String, PathBuf> {
    let mut found = HashMap::new();
    let mut folders = vec![dir.to_owned()];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = std::fs::read_dir(&folder) else {
            continue;
        };
        for entry in entries.flatten() {
            let path = entry.path();
            match entry.file_type() {
                Ok(kind) if kind.is_dir() => folders.push(path),
                Ok(kind) if kind.is_file() => {
                    if let Some(bytes) = read(&path) {
                        found.insert(blake3::hash(&bytes).to_hex().to_string(), path);
                    }
                }
                _ => {}
            }
        }
    }
    found
}
