//! Files: the only place in the house that touches the file system.
//!
//! What it answers: how a scene is read whole, and how results reach the disk so that nobody ever finds half a file, loses an edit or
//! takes yesterday's drawing for today's.
//!
//! - A file is written under a temporary name beside its place and then renamed. A set of files ([`write_all`]) is first written
//!   whole under temporary names; only when all stand are they renamed, and when a rename fails the files that were already replaced
//!   get their old content back.
//! - What was written is remembered by a hash in a hidden list beside it (`.place.sum`). A file meant for editing (`*.toml`) that no
//!   longer has its remembered hash was changed by its owner: it stays, and the new one gets a number (`plan-2.toml`).
//! - Files that the last run of the same command wrote and this one does not (the drawing of a wall that is bare again) are removed
//!   when they are as we left them.
//! - The scene that a run reads is never a place it writes to. Only who edits it replaces it, whole ([`replace`]).
//!
//! All access goes through the trait [`Disk`], so that tests can make any step fail.
//!
//! *References.* The hash is 64-bit FNV-1a (G. Fowler, L. C. Noll, K.-P. Vo; from memory), beside the length: it tells an edit from
//! no edit and is no guard against intent.
//!
//! *Limits.* A machine that loses power between two renames of a set may show old files beside new ones, each of them whole.

use std::fmt::Write as _;
use std::io::{self, Read as _, Write as _};
use std::path::{Component, Path, PathBuf};

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
        let file = std::fs::File::open(path)?;
        if file.metadata()?.is_dir() {
            return Err(io::ErrorKind::IsADirectory.into());
        }
        let mut bytes = Vec::new();
        file.take(bytes_max + 1).read_to_end(&mut bytes)?;
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
fn plain(cause: &io::Error) -> String {
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

/// What [`write_all`] did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Written {
    /// Every file as it stands now, in the order given.
    pub files: Vec<PathBuf>,
    /// Files that their owner had changed, or the scene itself: they stayed, and the new one went under the second name.
    pub kept: Vec<(PathBuf, PathBuf)>,
    /// Files of the last run that this one has no use for; they are gone.
    pub removed: Vec<PathBuf>,
}

/// What a plan is called, which lies among its drawings.
const PLAN: &str = "plan.toml";

/// Where what is made of a scene goes when nothing is said: `out/` and the scene's file name without its ending.
#[must_use]
pub fn default_folder(scene: &Path) -> PathBuf {
    Path::new("out").join(scene.file_stem().unwrap_or("scene".as_ref()))
}

/// Where sheets go when nothing is said: beside a plan that is built itself, else into [`default_folder`] below `base`.
#[must_use]
pub fn sheets_folder(scene: &Path, base: &Path) -> PathBuf {
    match scene.parent().filter(|_| scene.file_name().is_some_and(|name| name == PLAN)) {
        Some(folder) if folder.as_os_str().is_empty() => ".".into(),
        Some(folder) => folder.to_owned(),
        None => base.join(default_folder(scene)),
    }
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

/// Longest sound file that is read: an hour and a half of stereo at 48 kHz and 24 bits.
const SOUND_BYTES_MAX: u64 = 1 << 31;

/// The bytes of a sound file.
///
/// # Errors
/// [`FileError::Read`].
pub fn read_sound(disk: &dyn Disk, path: &Path) -> Result<Vec<u8>, FileError> {
    disk.read(path, SOUND_BYTES_MAX).map_err(|cause| FileError::Read { path: path.into(), cause })
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
    replace_all(disk, &[Job { target, bytes }])
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

/// Writes the files of one run of `command` into `folder`: all of them, or none.
///
/// `scene` is the file the run was made from; it is never written to.
///
/// # Errors
/// [`FileError::Write`], [`FileError::Read`] and [`FileError::Name`]; the folder then holds what it held before.
pub fn write_all(disk: &dyn Disk, folder: &Path, command: &str, scene: &Path, files: &[(String, Vec<u8>)]) -> Result<Written, FileError> {
    write_around(disk, folder, command, scene, files, &[])
}

/// The same, with files of these names left as they lie, whoever wrote them: the run was made from them, too.
///
/// # Errors
/// As [`write_all`].
pub fn write_around(
    disk: &dyn Disk,
    folder: &Path,
    command: &str,
    scene: &Path,
    files: &[(String, Vec<u8>)],
    lying: &[&str],
) -> Result<Written, FileError> {
    if let Some((name, _)) = files.iter().find(|(name, _)| !is_plain_name(name)) {
        return Err(FileError::Name { name: name.clone() });
    }
    disk.make_folder(folder).map_err(|cause| FileError::Write { path: folder.into(), cause })?;
    let list_path = folder.join(format!(".{command}.sum"));
    let remembered = Sums::read(disk, &list_path);
    let scene = disk.canonical(scene).ok();

    let mut written = Written::default();
    let mut sums = Sums::default();
    lying.iter().for_each(|name| sums.keep(name, &remembered));
    let mut jobs = Vec::new();
    for (name, bytes) in files {
        let own_name = free_name(disk, folder, name, &remembered, scene.as_deref());
        if own_name != *name {
            written.kept.push((folder.join(name), folder.join(&own_name)));
            // What was ours before stays known as ours, so that an edit taken back is no edit.
            sums.keep(name, &remembered);
        }
        sums.add(&own_name, bytes);
        jobs.push(Job { target: folder.join(&own_name), bytes });
        written.files.push(folder.join(&own_name));
    }
    let list = sums.text();
    jobs.push(Job { target: list_path, bytes: list.as_bytes() });
    replace_all(disk, &jobs)?;

    for (name, sum) in remembered.0.iter().filter(|(name, _)| !sums.holds(name)) {
        let path = folder.join(name);
        let ours = is_plain_name(name) && state(disk, &path, Some(*sum)) == State::Ours;
        if ours && disk.canonical(&path).ok() != scene && disk.remove(&path).is_ok() {
            written.removed.push(path);
        }
    }
    Ok(written)
}

/// Those of `inputs` that a run of `command` would replace or remove as it writes `files` into `folder`.
#[must_use]
pub fn replaced<'a>(
    disk: &dyn Disk,
    (folder, command): (&Path, &str),
    files: &[(String, Vec<u8>)],
    inputs: impl Iterator<Item = &'a Path>,
) -> Vec<&'a Path> {
    let before = Sums::read(disk, &folder.join(format!(".{command}.sum")));
    let names = files.iter().map(|(name, _)| name).chain(before.0.iter().map(|(name, _)| name));
    let touched: Vec<PathBuf> = names.filter_map(|name| disk.canonical(&folder.join(name)).ok()).collect();
    inputs.filter(|path| disk.canonical(path).is_ok_and(|path| touched.contains(&path))).collect()
}

/// A name without folders, `.` or `..` in it.
fn is_plain_name(name: &str) -> bool {
    let mut components = Path::new(name).components();
    matches!((components.next(), components.next()), (Some(Component::Normal(only)), None) if only == name) && !name.contains('\\')
}

/// `name`, or a numbered one where a file stands that must stay: the scene itself, or an edited file.
fn free_name(disk: &dyn Disk, folder: &Path, name: &str, remembered: &Sums, scene: Option<&Path>) -> String {
    let stays = |name: &str| {
        let path = folder.join(name);
        let is_scene = scene.is_some() && disk.canonical(&path).ok().as_deref() == scene;
        is_scene || (is_for_editing(name) && state(disk, &path, remembered.of(name)) == State::Foreign)
    };
    let (stem, ending) = name.rsplit_once('.').map_or((name, String::new()), |(stem, ending)| (stem, format!(".{ending}")));
    let numbered = (2_u32..).map(|number| format!("{stem}-{number}{ending}"));
    std::iter::once(name.to_owned()).chain(numbered).find(|name| !stays(name)).expect("numbers do not end before names do")
}

/// Files that a person is meant to change by hand.
fn is_for_editing(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|ending| ending.eq_ignore_ascii_case("toml"))
}

/// What stands at a path.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// Nothing.
    Free,
    /// A file as we left it.
    Ours,
    /// Something else, or something that cannot be read.
    Foreign,
}

fn state(disk: &dyn Disk, path: &Path, remembered: Option<(u64, u64)>) -> State {
    match disk.read(path, u64::MAX - 1) {
        Ok(bytes) if remembered == Some(sum_of(&bytes)) => State::Ours,
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => State::Free,
        _ => State::Foreign,
    }
}

/// One file to be put in place.
struct Job<'a> {
    target: PathBuf,
    bytes: &'a [u8],
}

impl Job<'_> {
    /// A hidden name beside the target that no other process uses.
    fn temporary(&self) -> PathBuf {
        let name = self.target.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        self.target.with_file_name(format!(".{name}.{}.part", std::process::id()))
    }
}

/// Puts all files in place, or leaves everything as it was.
fn replace_all(disk: &dyn Disk, jobs: &[Job<'_>]) -> Result<(), FileError> {
    let fail = |job: &Job<'_>, cause| {
        for job in jobs {
            // Best effort: the error that matters is the one being returned.
            drop(disk.remove(&job.temporary()));
        }
        FileError::Write { path: job.target.clone(), cause }
    };
    let mut before = Vec::with_capacity(jobs.len());
    for job in jobs {
        match disk.read(&job.target, u64::MAX - 1) {
            Ok(bytes) => before.push(Some(bytes)),
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => before.push(None),
            Err(cause) => return Err(FileError::Write { path: job.target.clone(), cause }),
        }
    }
    for job in jobs {
        disk.write(&job.temporary(), job.bytes, false).map_err(|cause| fail(job, cause))?;
    }
    for (index, job) in jobs.iter().enumerate() {
        if let Err(cause) = disk.rename(&job.temporary(), &job.target) {
            restore(disk, &jobs[..index], &before);
            return Err(fail(job, cause));
        }
    }
    Ok(())
}

/// Gives files that were already replaced their old content back, as far as the disk lets us.
fn restore(disk: &dyn Disk, replaced: &[Job<'_>], before: &[Option<Vec<u8>>]) {
    for (job, old) in replaced.iter().zip(before) {
        let outcome = match old {
            Some(bytes) => disk.write(&job.temporary(), bytes, false).and_then(|()| disk.rename(&job.temporary(), &job.target)),
            None => disk.remove(&job.target),
        };
        // Nothing better is left to try: the new file, whole, stays where the old one could not be brought back.
        drop(outcome);
    }
}

/// The hidden list: name -> (hash, length) of what was written.
#[derive(Default)]
struct Sums(Vec<(String, (u64, u64))>);

impl Sums {
    /// The list as it stands; an unreadable or damaged one knows nothing, which only makes us more careful.
    fn read(disk: &dyn Disk, path: &Path) -> Self {
        let text = read_text(disk, path).unwrap_or_default();
        Self(text.lines().filter_map(line_of_sum).collect())
    }

    fn of(&self, name: &str) -> Option<(u64, u64)> {
        self.0.iter().find(|(known, _)| known == name).map(|(_, sum)| *sum)
    }

    fn holds(&self, name: &str) -> bool {
        self.of(name).is_some()
    }

    fn add(&mut self, name: &str, bytes: &[u8]) {
        self.0.push((name.to_owned(), sum_of(bytes)));
    }

    fn keep(&mut self, name: &str, older: &Self) {
        if let Some(sum) = older.of(name) {
            self.0.push((name.to_owned(), sum));
        }
    }

    fn text(&self) -> String {
        let mut text = String::from("# What roomwright wrote here: hash, length, name. It tells your edits from its own files.\n");
        for (name, (hash, length)) in &self.0 {
            writeln!(text, "{hash:016x} {length} {name}").expect("writing to a string cannot fail");
        }
        text
    }
}

fn line_of_sum(line: &str) -> Option<(String, (u64, u64))> {
    let mut parts = line.splitn(3, ' ');
    let hash = u64::from_str_radix(parts.next()?, 16).ok()?;
    let length = parts.next()?.parse().ok()?;
    Some((parts.next()?.to_owned(), (hash, length)))
}

/// FNV-1a and the length.
fn sum_of(bytes: &[u8]) -> (u64, u64) {
    let hash = bytes.iter().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3));
    (hash, bytes.len() as u64)
}
