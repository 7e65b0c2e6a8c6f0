//! A disk in memory for tests: what was written, and how it fails.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

use roomwright::files::{Disk, Held};

/// A disk in memory, which can be full.
#[derive(Default)]
pub(crate) struct Memory {
    files: Mutex<BTreeMap<PathBuf, Vec<u8>>>,
    pub(crate) full: Mutex<bool>,
    /// Files that were read to their end, once for each time.
    read: Mutex<Vec<PathBuf>>,
    /// Files whose readers wait.
    held_back: Mutex<BTreeSet<PathBuf>>,
}

impl Memory {
    pub(crate) fn holding(path: &str, text: &str) -> Arc<Self> {
        let memory = Self::default();
        memory.put(path, text);
        Arc::new(memory)
    }

    pub(crate) fn put(&self, path: &str, bytes: impl AsRef<[u8]>) {
        self.files.lock().unwrap().insert(path.into(), bytes.as_ref().to_vec());
    }

    pub(crate) fn text(&self, path: &str) -> Option<String> {
        self.files.lock().unwrap().get(Path::new(path)).map(|bytes| String::from_utf8(bytes.clone()).unwrap())
    }

    /// How often a file was read to its end.
    pub(crate) fn reads(&self, path: &str) -> usize {
        self.read.lock().unwrap().iter().filter(|read| *read == Path::new(path)).count()
    }

    /// Lets whoever reads a file wait until it is let go, for a minute at most.
    pub(crate) fn hold_back(&self, path: &str) {
        self.held_back.lock().unwrap().insert(path.into());
    }

    pub(crate) fn let_go(&self, path: &str) {
        self.held_back.lock().unwrap().remove(Path::new(path));
    }

    pub(crate) fn names(&self) -> Vec<String> {
        self.files.lock().unwrap().keys().map(|path| path.display().to_string()).collect()
    }
}

impl Disk for Memory {
    fn read(&self, path: &Path, bytes_max: u64) -> io::Result<Vec<u8>> {
        for _ in 0..12_000 {
            if bytes_max == 0 || !self.held_back.lock().unwrap().contains(path) {
                break;
            }
            thread::sleep(Duration::from_millis(5));
        }
        let files = self.files.lock().unwrap();
        match files.get(path) {
            Some(bytes) if bytes.len() as u64 > bytes_max => Err(io::ErrorKind::FileTooLarge.into()),
            Some(bytes) => {
                self.read.lock().unwrap().push(path.into());
                Ok(bytes.clone())
            }
            None if files.keys().any(|file| file.starts_with(path)) => Err(io::ErrorKind::IsADirectory.into()),
            None => Err(io::ErrorKind::NotFound.into()),
        }
    }

    fn write(&self, path: &Path, bytes: &[u8], fresh: bool) -> io::Result<()> {
        // As a real one has it: a full disk still knows what it holds.
        if fresh && self.files.lock().unwrap().contains_key(path) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        if *self.full.lock().unwrap() {
            return Err(io::ErrorKind::StorageFull.into());
        }
        self.files.lock().unwrap().insert(path.into(), bytes.into());
        Ok(())
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        let bytes = self.files.lock().unwrap().remove(from).ok_or(io::ErrorKind::NotFound)?;
        self.files.lock().unwrap().insert(to.into(), bytes);
        Ok(())
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        self.files.lock().unwrap().remove(path).map(|_| ()).ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    fn make_folder(&self, _path: &Path) -> io::Result<()> {
        Ok(())
    }

    fn canonical(&self, path: &Path) -> io::Result<PathBuf> {
        if self.files.lock().unwrap().contains_key(path) { Ok(path.into()) } else { Err(io::ErrorKind::NotFound.into()) }
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<Held>> {
        let files = self.files.lock().unwrap();
        let folder = if folder == Path::new(".") { Path::new("") } else { folder };
        let within = files.keys().filter_map(|path| path.strip_prefix(folder).ok()?.to_str());
        let held: BTreeSet<Held> = within
            .map(|path| match path.split_once('/') {
                Some((name, _)) => Held { name: name.to_owned(), is_folder: true },
                None => Held { name: path.to_owned(), is_folder: false },
            })
            .collect();
        if held.is_empty() { Err(io::ErrorKind::NotFound.into()) } else { Ok(held.into_iter().collect()) }
    }
}
