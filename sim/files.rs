//! Files: the only place in the house that touches the file system.
//!
//! What it answers: how a scene is read whole, and how results reach the disk so that nobody ever finds half a file, loses an edit or
//! takes yesterday's drawing for today's.
//!
//! - A file is written under a temporary name beside its place and then renamed. Of a set of files all or none are put in place, and the
//!   owner's edits stay: see `set`.
//! - The scene that a run reads is never a place it writes to. Only who edits it replaces it, whole ([`replace`]).
//! - Long files are read, compared and written piece by piece, so that none takes more memory for being longer.
//!
//! All access goes through the trait [`Disk`], so that tests can make any step fail.
//!
//! *Limits.* A machine that loses power between two renames of a set may show old files beside new ones, each of them whole, and leave
//! hidden files behind that end in `.part` and `.old`.

mod beside;
mod set;

use std::error::Error;
use std::io::{self, Read as _, Write};
use std::path::{Path, PathBuf};

use crate::dsp::wav::Reading;
use crate::scene;

pub use beside::beside;
pub use set::{Broken, Pour, Stream, Written, replaced, write_all, write_around, write_streams};

/// The most bytes of a scene that are read; a longer file is no scene.
pub const SCENE_BYTES_MAX: u64 = 8 << 20;

/// What the program asks of a file system.
pub trait Disk {
    /// The whole content, at most `bytes_max` bytes; a longer file is an error of kind [`io::ErrorKind::FileTooLarge`].
    ///
    /// # Errors
    /// What the file system says.
    fn read(&self, path: &Path, bytes_max: u64) -> io::Result<Vec<u8>>;
    /// Writes a whole file, through to the disk; `fresh`: fails where one is already, and leaves none where it fails halfway.
    ///
    /// # Errors
    /// What the file system says.
    fn write(&self, path: &Path, bytes: &[u8], fresh: bool) -> io::Result<()>;
    /// Opens a file to be read piece by piece. Where files lie in memory anyway, [`Self::read`] will do.
    ///
    /// # Errors
    /// What the file system says.
    fn open(&self, path: &Path) -> io::Result<Box<dyn Reading>> {
        Ok(Box::new(io::Cursor::new(self.read(path, u64::MAX - 1)?)))
    }
    /// Begins a file that is written piece by piece, in the place of what was there. Where files lie in memory anyway, [`Self::write`] will
    /// do.
    ///
    /// # Errors
    /// What the file system says.
    fn create<'a>(&'a self, path: &Path) -> io::Result<Box<dyn Sink + 'a>> {
        Ok(Box::new(Gathered { disk: self, path: path.into(), bytes: Vec::new() }))
    }
    /// Keeps what a file holds under a second name as well, whatever becomes of the first.
    ///
    /// # Errors
    /// What the file system says.
    fn keep(&self, path: &Path, aside: &Path) -> io::Result<()> {
        self.write(aside, &self.read(path, u64::MAX - 1)?, false)
    }
    /// Gives a file another name, replacing what was there.
    ///
    /// # Errors
    /// What the file system says.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file.
    ///
    /// # Errors
    /// What the file system says.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Makes a folder and those above it; an existing one is fine.
    ///
    /// # Errors
    /// What the file system says.
    fn make_folder(&self, path: &Path) -> io::Result<()>;
    /// The one true name of an existing file.
    ///
    /// # Errors
    /// What the file system says.
    fn canonical(&self, path: &Path) -> io::Result<PathBuf>;
    /// What a folder holds, in no order.
    ///
    /// # Errors
    /// What the file system says.
    fn list(&self, folder: &Path) -> io::Result<Vec<Held>>;
}

/// A file that is being written.
pub trait Sink: Write {
    /// Brings all of it through to the disk.
    ///
    /// # Errors
    /// What the file system says.
    fn close(self: Box<Self>) -> io::Result<()>;
}

/// One that is written when it is whole.
struct Gathered<'a, D: ?Sized> {
    disk: &'a D,
    path: PathBuf,
    bytes: Vec<u8>,
}

impl<D: Disk + ?Sized> Write for Gathered<'_, D> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.bytes.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl<D: Disk + ?Sized> Sink for Gathered<'_, D> {
    fn close(self: Box<Self>) -> io::Result<()> {
        self.disk.write(&self.path, &self.bytes, false)
    }
}

impl Sink for std::fs::File {
    fn close(self: Box<Self>) -> io::Result<()> {
        self.sync_all()
    }
}

/// A file or folder in a folder.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Held {
    /// Its name, without the folder's.
    pub name: String,
    /// Whether it is a folder, or leads to one.
    pub is_folder: bool,
}

/// The file system of this machine.
#[derive(Clone, Copy, Debug, Default)]
pub struct RealDisk;

impl Disk for RealDisk {
    fn read(&self, path: &Path, bytes_max: u64) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        self.open(path)?.take(bytes_max + 1).read_to_end(&mut bytes)?;
        if bytes.len() as u64 > bytes_max { Err(io::ErrorKind::FileTooLarge.into()) } else { Ok(bytes) }
    }

    fn write(&self, path: &Path, bytes: &[u8], fresh: bool) -> io::Result<()> {
        let mut options = std::fs::OpenOptions::new();
        options.write(true);
        if fresh {
            options.create_new(true)
        } else {
            options.create(true).truncate(true)
        };
        let mut file = options.open(path)?;
        let written = file.write_all(bytes).and_then(|()| file.sync_all());
        if fresh && written.is_err() {
            // It is ours: half a file is worse than none. That none remains is all we can do here.
            drop(std::fs::remove_file(path));
        }
        written
    }

    fn open(&self, path: &Path) -> io::Result<Box<dyn Reading>> {
        let file = std::fs::File::open(path)?;
        if file.metadata()?.is_dir() { Err(io::ErrorKind::IsADirectory.into()) } else { Ok(Box::new(file)) }
    }

    fn create<'a>(&'a self, path: &Path) -> io::Result<Box<dyn Sink + 'a>> {
        Ok(Box::new(std::fs::File::create(path)?))
    }

    fn keep(&self, path: &Path, aside: &Path) -> io::Result<()> {
        // One that an earlier run left here.
        drop(std::fs::remove_file(aside));
        // Where a file may not have two names it is copied.
        std::fs::hard_link(path, aside).or_else(|_| std::fs::copy(path, aside).map(drop))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        std::fs::remove_file(path)
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        std::fs::create_dir_all(path)
    }

    fn canonical(&self, path: &Path) -> io::Result<PathBuf> {
        std::fs::canonicalize(path)
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<Held>> {
        let mut held = Vec::new();
        for entry in std::fs::read_dir(folder)? {
            let entry = entry?;
            // A name that is no text cannot be typed or shown either.
            if let Ok(name) = entry.file_name().into_string() {
                held.push(Held { name, is_folder: entry.path().is_dir() });
            }
        }
        Ok(held)
    }
}

/// The scene file in the folder of a path whose name is nearly that of the path, if one is near enough to be meant.
#[must_use]
pub fn nearest(disk: &dyn Disk, path: &Path) -> Option<PathBuf> {
    let folder = path.parent().filter(|folder| *folder != Path::new("")).unwrap_or(Path::new("."));
    let mut names: Vec<String> = disk.list(folder).ok()?.into_iter().filter(|held| !held.is_folder).map(|held| held.name).collect();
    names.sort_unstable();
    let stems: Vec<&str> = names.iter().filter_map(|name| name.strip_suffix(".toml")).collect();
    let meant = scene::diagnostic::nearest(path.file_stem()?.to_str()?, stems)?;
    Some(path.with_file_name(format!("{meant}.toml")))
}

/// Why a file could not be read or written.
#[derive(Debug, thiserror::Error)]
pub enum FileError {
    /// The file could not be read.
    #[error("cannot read {}: {}", .path.display(), plain(.cause))]
    Read {
        /// The file.
        path: PathBuf,
        /// What the file system said.
        #[source]
        cause: io::Error,
    },
    /// The file is not text.
    #[error("{}:{line}:{column}: this is not text (a byte that is no UTF-8); a scene is plain text, saved as UTF-8", .path.display())]
    NotText {
        /// The file.
        path: PathBuf,
        /// Line of the first wrong byte, from 1.
        line: usize,
        /// Its column in bytes, from 1.
        column: usize,
    },
    /// A file or folder could not be written; what was there before is there still.
    #[error("cannot write {}: {}", .path.display(), plain(.cause))]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// What the file system said.
        #[source]
        cause: io::Error,
    },
    /// What was to be written could not be made; what was there before is there still.
    #[error("{0}")]
    Content(Box<dyn Error + Send + Sync>),
    /// A file of that name exists and is not ours to replace.
    #[error("{} exists already and is left as it is; choose another name, or move it away first", .path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// A name that would leave the output folder.
    #[error("\"{name}\" is no plain file name")]
    Name {
        /// The name.
        name: String,
    },
}

/// What the file system said, in words for someone who wants to mend it.
#[must_use]
pub fn plain(cause: &io::Error) -> String {
    match cause.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".into(),
        io::ErrorKind::PermissionDenied => "permission denied".into(),
        io::ErrorKind::IsADirectory => "it is a folder, not a file".into(),
        io::ErrorKind::NotADirectory | io::ErrorKind::AlreadyExists => "a file stands where a folder is needed".into(),
        io::ErrorKind::FileTooLarge => "it is longer than anything that is read here".into(),
        io::ErrorKind::StorageFull => "the disk is full".into(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk is read-only".into(),
        _ => cause.to_string(),
    }
}

/// What a plan is called, which lies among its drawings.
const PLAN: &str = "plan.toml";

/// Where what is made of a scene goes when nothing is said: `out/` and the scene's file name without its ending; of a plan, its own folder beside it, since
/// every room has a plan of that name.
#[must_use]
pub fn default_folder(scene: &Path) -> PathBuf {
    let stem = Path::new(scene.file_stem().unwrap_or("scene".as_ref()));
    beside_plan(scene).unwrap_or_else(|| "out".into()).join(stem)
}

/// The folder that a plan lies in.
fn beside_plan(scene: &Path) -> Option<PathBuf> {
    let folder = scene.parent().filter(|_| scene.file_name().is_some_and(|name| name == PLAN))?;
    Some(if folder.as_os_str().is_empty() { ".".into() } else { folder.to_owned() })
}

/// Where sheets go when nothing is said: beside a plan that is built itself, else into [`default_folder`] below `base`.
#[must_use]
pub fn sheets_folder(scene: &Path, base: &Path) -> PathBuf {
    beside_plan(scene).unwrap_or_else(|| base.join(default_folder(scene)))
}

/// The whole text of a scene.
///
/// # Errors
/// [`FileError::Read`] and [`FileError::NotText`].
pub fn read_text(disk: &dyn Disk, path: &Path) -> Result<String, FileError> {
    let bytes = disk.read(path, SCENE_BYTES_MAX).map_err(|cause| FileError::Read { path: path.into(), cause })?;
    String::from_utf8(bytes).map_err(|error| {
        let good = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        let line = good.iter().filter(|byte| **byte == b'\n').count() + 1;
        let column = good.iter().rev().take_while(|byte| **byte != b'\n').count() + 1;
        FileError::NotText { path: path.into(), line, column }
    })
}

/// Longest sound file that is read whole: an hour and a half of stereo at 48 kHz and 24 bits.
const SOUND_BYTES_MAX: u64 = 1 << 31;

/// The bytes of a sound file.
///
/// # Errors
/// [`FileError::Read`].
pub fn read_sound(disk: &dyn Disk, path: &Path) -> Result<Vec<u8>, FileError> {
    disk.read(path, SOUND_BYTES_MAX).map_err(|cause| FileError::Read { path: path.into(), cause })
}

/// Opens a sound file, to be read piece by piece.
///
/// # Errors
/// [`FileError::Read`].
pub fn open_sound(disk: &dyn Disk, path: &Path) -> Result<Box<dyn Reading>, FileError> {
    disk.open(path).map_err(|cause| FileError::Read { path: path.into(), cause })
}

/// Longest result of another command, bytes: far above that of the largest room.
const RESULT_BYTES_MAX: u64 = 256 << 20;

/// Reads what another command wrote for a program.
///
/// # Errors
/// [`FileError::Read`].
pub fn read_result(disk: &dyn Disk, path: &Path) -> Result<Vec<u8>, FileError> {
    disk.read(path, RESULT_BYTES_MAX).map_err(|cause| FileError::Read { path: path.into(), cause })
}

/// The most bytes of a measured head that are read: those that are free to have take some megabytes.
const HEAD_BYTES_MAX: u64 = 1 << 29;

/// The bytes of a measured head.
///
/// # Errors
/// [`FileError::Read`].
pub fn read_head(disk: &dyn Disk, path: &Path) -> Result<Vec<u8>, FileError> {
    disk.read(path, HEAD_BYTES_MAX).map_err(|cause| FileError::Read { path: path.into(), cause })
}

/// Writes a file that must not exist yet, with the folders above it.
///
/// # Errors
/// [`FileError::Exists`] and [`FileError::Write`].
pub fn write_new(disk: &dyn Disk, path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        disk.make_folder(folder).map_err(|cause| FileError::Write { path: folder.into(), cause })?;
    }
    // Whatever went wrong, a file that stands there now is somebody's.
    disk.write(path, bytes, true).map_err(|cause| match cause.kind() {
        io::ErrorKind::AlreadyExists => FileError::Exists { path: path.into() },
        _ => FileError::Write { path: path.into(), cause },
    })
}

/// Puts a whole file in the place of another, or of none: whoever reads it finds the old one or the new one. A link stays a link: what it
/// leads to is replaced.
///
/// # Errors
/// [`FileError::Write`]; what was there before is there still.
pub fn replace(disk: &dyn Disk, path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    let target = disk.canonical(path).unwrap_or_else(|_| path.into());
    set::put_one(disk, target, bytes)
}

/// A hidden name beside a file that no other process uses.
fn hidden_beside(path: &Path, ending: &str) -> PathBuf {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!(".{name}.{}.{ending}", std::process::id()))
}

/// Removes a file; that there is none is fine.
///
/// # Errors
/// [`FileError::Write`].
pub fn remove(disk: &dyn Disk, path: &Path) -> Result<(), FileError> {
    match disk.remove(path) {
        Err(cause) if cause.kind() != io::ErrorKind::NotFound => Err(FileError::Write { path: path.into(), cause }),
        _ => Ok(()),
    }
}
