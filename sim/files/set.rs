//! Sets of files: all that one run of a command writes, put in place together or not at all.
//!
//! - A set is first written whole under temporary names; only when all stand are they renamed. What was there before keeps a second name
//!   until then, so that files that were already replaced get their old content back when a rename fails.
//! - What was written is remembered by a hash in a hidden list beside it (`.place.sum`). A file meant for editing (`*.toml`) that no
//!   longer has its remembered hash was changed by its owner: it stays, and the new one gets a number (`plan-2.toml`).
//! - Files that the last run of the same command wrote and this one does not (the drawing of a wall that is bare again) are removed
//!   when they are as we left them.
//! - Files that come piece by piece ([`Stream`]) may come side by side, out of one walk along what they are made of. Their hashes are
//!   taken as they are written.
//!
//! *References.* The hash is 64-bit FNV-1a (G. Fowler, L. C. Noll, K.-P. Vo; from memory), beside the length: it tells an edit from
//! no edit and is no guard against intent.
//!
//! *Limits.* Old content that could not be brought back stays under its second name, hidden, with the ending `.old`.

use std::error::Error;
use std::fmt::Write as _;
use std::io::{self, Write};
use std::path::{Component, Path, PathBuf};

use super::{Disk, FileError, Sink, hidden_beside, read_text};

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

/// Files that are written side by side, piece by piece.
pub struct Stream<'a> {
    /// Their names.
    pub names: Vec<String>,
    /// Writes each into its own of as many places.
    pub write: Box<Pour<'a>>,
}

/// What writes files side by side, each into its own place.
pub type Pour<'a> = dyn FnMut(&mut [&mut dyn Write]) -> Result<(), Broken> + 'a;

/// Why files that come piece by piece did not come to their end.
#[derive(Debug, thiserror::Error)]
pub enum Broken {
    /// They could not be written.
    #[error(transparent)]
    Disk(#[from] io::Error),
    /// There was nothing more to write.
    #[error("{0}")]
    Content(Box<dyn Error + Send + Sync>),
}

/// Writes the files of one run of `command` into `folder`: all of them, or none.
///
/// `scene` is the file the run was made from; it is never written to.
///
/// # Errors
/// [`FileError::Write`], [`FileError::Read`] and [`FileError::Name`]; the folder then holds what it held before.
pub fn write_all(disk: &dyn Disk, folder: &Path, command: &str, scene: &Path, files: &[(String, Vec<u8>)]) -> Result<Written, FileError> {
    write_set(disk, (folder, command, scene), (files, Vec::new()), &[])
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
    write_set(disk, (folder, command, scene), (files, Vec::new()), lying)
}

/// As [`write_all`], with files that come piece by piece after the others.
///
/// # Errors
/// As [`write_all`], and [`FileError::Content`].
pub fn write_streams(
    disk: &dyn Disk,
    (folder, command, scene): (&Path, &str, &Path),
    files: &[(String, Vec<u8>)],
    streams: Vec<Stream<'_>>,
) -> Result<Written, FileError> {
    write_set(disk, (folder, command, scene), (files, streams), &[])
}

fn write_set(
    disk: &dyn Disk,
    (folder, command, scene): (&Path, &str, &Path),
    (files, mut streams): (&[(String, Vec<u8>)], Vec<Stream<'_>>),
    lying: &[&str],
) -> Result<Written, FileError> {
    let names: Vec<&String> = files.iter().map(|(name, _)| name).chain(streams.iter().flat_map(|stream| &stream.names)).collect();
    if let Some(name) = names.iter().find(|name| !is_plain_name(name)) {
        return Err(FileError::Name { name: (*name).clone() });
    }
    disk.make_folder(folder).map_err(|cause| FileError::Write { path: folder.into(), cause })?;
    let list_path = folder.join(format!(".{command}.sum"));
    let remembered = Sums::read(disk, &list_path);
    let scene = disk.canonical(scene).ok();

    let mut written = Written::default();
    let mut sums = Sums::default();
    lying.iter().for_each(|name| sums.keep(name, &remembered));
    let mut own_names = Vec::new();
    for name in names {
        let own_name = free_name(disk, folder, name, &remembered, scene.as_deref());
        if own_name != *name {
            written.kept.push((folder.join(name), folder.join(&own_name)));
            // What was ours before stays known as ours, so that an edit taken back is no edit.
            sums.keep(name, &remembered);
        }
        written.files.push(folder.join(&own_name));
        own_names.push(own_name);
    }
    let places = written.files.iter().cloned().chain([list_path]).map(|target| Place::new(disk, target)).collect::<Result<Vec<_>, _>>()?;
    put(disk, &places, || {
        let of_bytes = places.iter().zip(files).map(|(place, (_, bytes))| place.write(disk, bytes));
        let mut found = of_bytes.collect::<Result<Vec<_>, _>>()?;
        for stream in &mut streams {
            let places = &places[found.len()..][..stream.names.len()];
            found.extend(pour(disk, places, stream)?);
        }
        own_names.iter().zip(found).for_each(|(name, sum)| sums.add(name, sum));
        places[own_names.len()].write(disk, sums.text().as_bytes()).map(drop)
    })?;

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

fn state(disk: &dyn Disk, path: &Path, remembered: Option<Sum>) -> State {
    match Sum::of_file(disk, path) {
        Ok(sum) if remembered == Some(sum) => State::Ours,
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => State::Free,
        _ => State::Foreign,
    }
}

/// Puts one file in place.
pub(super) fn put_one(disk: &dyn Disk, target: PathBuf, bytes: &[u8]) -> Result<(), FileError> {
    let place = Place::new(disk, target)?;
    put(disk, std::slice::from_ref(&place), || place.write(disk, bytes).map(drop))
}

/// Where a file is to be put.
struct Place {
    target: PathBuf,
    /// Whether a file stands there.
    is_taken: bool,
}

impl Place {
    fn new(disk: &dyn Disk, target: PathBuf) -> Result<Self, FileError> {
        match disk.open(&target) {
            Ok(_) => Ok(Self { target, is_taken: true }),
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => Ok(Self { target, is_taken: false }),
            Err(cause) => Err(FileError::Write { path: target, cause }),
        }
    }

    /// The name that a file is written under.
    fn temporary(&self) -> PathBuf {
        hidden_beside(&self.target, "part")
    }

    /// The name that what stands there is kept under.
    fn aside(&self) -> PathBuf {
        hidden_beside(&self.target, "old")
    }

    /// Writes a file under its temporary name.
    fn write(&self, disk: &dyn Disk, bytes: &[u8]) -> Result<Sum, FileError> {
        disk.write(&self.temporary(), bytes, false).map_err(|cause| self.failed(cause))?;
        Ok(Sum::of(bytes))
    }

    fn failed(&self, cause: io::Error) -> FileError {
        FileError::Write { path: self.target.clone(), cause }
    }
}

/// Puts in place what `write` writes under temporary names, or leaves everything as it was.
fn put(disk: &dyn Disk, places: &[Place], write: impl FnOnce() -> Result<(), FileError>) -> Result<(), FileError> {
    let outcome = write().and_then(|()| exchange(disk, places));
    if outcome.is_err() {
        // Best effort: the error that matters is the one being returned.
        places.iter().for_each(|place| drop(disk.remove(&place.temporary())));
    }
    outcome
}

/// Gives all files their names, or none.
fn exchange(disk: &dyn Disk, places: &[Place]) -> Result<(), FileError> {
    // One file alone is replaced or not: nothing is to be kept.
    for place in places.iter().filter(|place| place.is_taken && places.len() > 1) {
        if let Err(cause) = disk.keep(&place.target, &place.aside()) {
            forget(disk, places);
            return Err(place.failed(cause));
        }
    }
    for (index, place) in places.iter().enumerate() {
        if let Err(cause) = disk.rename(&place.temporary(), &place.target) {
            restore(disk, &places[..index]);
            forget(disk, &places[index..]);
            return Err(place.failed(cause));
        }
    }
    forget(disk, places);
    Ok(())
}

/// Takes their second names away from files that were there before.
fn forget(disk: &dyn Disk, places: &[Place]) {
    places.iter().filter(|place| place.is_taken).for_each(|place| drop(disk.remove(&place.aside())));
}

/// Gives files that were already replaced their old content back, as far as the disk lets us.
fn restore(disk: &dyn Disk, replaced: &[Place]) {
    for place in replaced {
        let outcome = if place.is_taken { disk.rename(&place.aside(), &place.target) } else { disk.remove(&place.target) };
        // Nothing better is left to try: the new file, whole, stays where the old one could not be brought back.
        drop(outcome);
    }
}

/// Writes files that come piece by piece under their temporary names.
fn pour(disk: &dyn Disk, places: &[Place], stream: &mut Stream<'_>) -> Result<Vec<Sum>, FileError> {
    let begin = |place: &Place| {
        Ok(Summed { sink: disk.create(&place.temporary()).map_err(|cause| place.failed(cause))?, sum: Sum::default(), has_failed: false })
    };
    let mut sinks = places.iter().map(begin).collect::<Result<Vec<_>, FileError>>()?;
    let mut into: Vec<&mut dyn Write> = sinks.iter_mut().map(|sink| sink as &mut dyn Write).collect();
    match (stream.write)(&mut into) {
        Ok(()) => places
            .iter()
            .zip(sinks)
            .map(|(place, sink)| sink.sink.close().map(|()| sink.sum).map_err(|cause| place.failed(cause)))
            .collect(),
        Err(Broken::Content(cause)) => Err(FileError::Content(cause)),
        Err(Broken::Disk(cause)) => {
            let at = sinks.iter().position(|sink| sink.has_failed).unwrap_or(0);
            Err(places[at].failed(cause))
        }
    }
}

/// A file that is being written, and the sum of what it holds by now.
struct Summed<'a> {
    sink: Box<dyn Sink + 'a>,
    sum: Sum,
    has_failed: bool,
}

impl Write for Summed<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.sink.write(bytes);
        match &written {
            Ok(count) => self.sum.add(&bytes[..*count]),
            Err(cause) => self.has_failed |= cause.kind() != io::ErrorKind::Interrupted,
        }
        written
    }

    fn flush(&mut self) -> io::Result<()> {
        self.sink.flush()
    }
}

/// The hidden list: name -> sum of what was written.
#[derive(Default)]
struct Sums(Vec<(String, Sum)>);

impl Sums {
    /// The list as it stands; an unreadable or damaged one knows nothing, which only makes us more careful.
    fn read(disk: &dyn Disk, path: &Path) -> Self {
        let text = read_text(disk, path).unwrap_or_default();
        Self(text.lines().filter_map(line_of_sum).collect())
    }

    fn of(&self, name: &str) -> Option<Sum> {
        self.0.iter().find(|(known, _)| known == name).map(|(_, sum)| *sum)
    }

    fn holds(&self, name: &str) -> bool {
        self.of(name).is_some()
    }

    fn add(&mut self, name: &str, sum: Sum) {
        self.0.push((name.to_owned(), sum));
    }

    fn keep(&mut self, name: &str, older: &Self) {
        if let Some(sum) = older.of(name) {
            self.0.push((name.to_owned(), sum));
        }
    }

    fn text(&self) -> String {
        let mut text = String::from("# What roomwright wrote here: hash, length, name. It tells your edits from its own files.\n");
        for (name, Sum { hash, length }) in &self.0 {
            writeln!(text, "{hash:016x} {length} {name}").expect("writing to a string cannot fail");
        }
        text
    }
}

fn line_of_sum(line: &str) -> Option<(String, Sum)> {
    let mut parts = line.splitn(3, ' ');
    let hash = u64::from_str_radix(parts.next()?, 16).ok()?;
    let length = parts.next()?.parse().ok()?;
    Some((parts.next()?.to_owned(), Sum { hash, length }))
}

/// FNV-1a and the length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Sum {
    hash: u64,
    length: u64,
}

impl Default for Sum {
    fn default() -> Self {
        Self { hash: 0xcbf2_9ce4_8422_2325, length: 0 }
    }
}

impl Sum {
    fn of(bytes: &[u8]) -> Self {
        let mut sum = Self::default();
        sum.add(bytes);
        sum
    }

    fn of_file(disk: &dyn Disk, path: &Path) -> io::Result<Self> {
        let mut sum = Self::default();
        io::copy(&mut disk.open(path)?, &mut sum)?;
        Ok(sum)
    }

    fn add(&mut self, bytes: &[u8]) {
        self.hash = bytes.iter().fold(self.hash, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3));
        self.length += bytes.len() as u64;
    }
}

impl Write for Sum {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.add(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
