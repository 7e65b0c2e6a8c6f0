//! Scene files at hand: those opened or saved last, and what the folder holds that is looked into.
//!
//! The list lies in the user's own folder for such things, one path a line, and is written whole. It is a convenience: one that is missing
//! or cannot be read is empty, and one that cannot be written says nothing.
//!
//! *Limits.* A path that is no text, or has a line break in it, is not remembered.

use std::ffi::OsString;
use std::io;
use std::path::{Path, PathBuf};

use bevy::prelude::Resource;
use roomwright::files::{self, Disk, Held};

use crate::recovery;

/// How many files are remembered.
const MOST: usize = 8;

/// What stands over the paths.
const HEAD: &str = "# Scenes opened or saved last, the latest on top.\n";

/// A file of the list.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Recent {
    /// The file.
    pub(crate) path: PathBuf,
    /// Whether it was not there when last looked for.
    pub(crate) is_gone: bool,
    /// Whether it had a recovery copy then that opening it offers.
    pub(crate) is_left_unsaved: bool,
}

impl Recent {
    fn new(path: &Path) -> Self {
        Self { path: path.into(), is_gone: false, is_left_unsaved: false }
    }
}

/// A folder that was looked into.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Folder {
    /// The folder.
    pub(crate) path: PathBuf,
    /// Folders, scene files and WAV files in it, folders first.
    pub(crate) held: Vec<Held>,
}

/// The list and the folder.
#[derive(Debug, Default, Resource)]
pub(crate) struct Shelf {
    /// Where the list lies; `None`: it is not kept.
    list: Option<PathBuf>,
    /// Where to look first.
    here: PathBuf,
    recent: Vec<Recent>,
    folder: Folder,
}

impl Shelf {
    /// A shelf whose list lies there and which looks first in `here`.
    pub(crate) fn new(list: Option<PathBuf>, here: PathBuf) -> Self {
        Self { list, here, ..Self::default() }
    }

    /// Files opened or saved last, the latest first.
    pub(crate) fn recent(&self) -> &[Recent] {
        &self.recent
    }

    /// The folder that was looked into.
    pub(crate) fn folder(&self) -> &Folder {
        &self.folder
    }

    /// Reads the list.
    pub(crate) fn read(&mut self, disk: &dyn Disk) {
        let text = self.list.as_ref().and_then(|list| files::read_text(disk, list).ok()).unwrap_or_default();
        let paths = text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
        self.recent = paths.take(MOST).map(|path| Recent::new(path.as_ref())).collect();
        self.look(disk);
    }

    /// Puts a file on top of the list.
    pub(crate) fn remember(&mut self, path: &Path, disk: &dyn Disk) {
        if path.to_str().is_none_or(|path| path.contains(['\n', '\r']) || path.trim() != path || path.starts_with('#')) {
            return;
        }
        // Another window may have written it meanwhile.
        self.read(disk);
        self.recent.retain(|recent| recent.path != path);
        self.recent.insert(0, Recent::new(path));
        self.recent.truncate(MOST);
        self.write(disk);
    }

    /// Takes a file off the list.
    pub(crate) fn forget(&mut self, path: &Path, disk: &dyn Disk) {
        self.read(disk);
        self.recent.retain(|recent| recent.path != path);
        self.write(disk);
    }

    /// Looks which files are gone, and which were left with unsaved work.
    pub(crate) fn look(&mut self, disk: &dyn Disk) {
        for recent in &mut self.recent {
            recent.is_gone = disk.canonical(&recent.path).is_err_and(|cause| cause.kind() == io::ErrorKind::NotFound);
            recent.is_left_unsaved = recovery::waits(disk, &recent.path);
        }
    }

    fn write(&self, disk: &dyn Disk) {
        let Some(list) = &self.list else { return };
        let paths = self.recent.iter().filter_map(|recent| recent.path.to_str());
        let text = HEAD.to_owned() + &paths.map(|path| format!("{path}\n")).collect::<String>();
        if list.parent().is_none_or(|folder| disk.make_folder(folder).is_ok()) {
            drop(files::replace(disk, list, text.as_bytes()));
        }
    }

    /// Where a file is looked for first: beside this one, else beside the latest, else where the program was started.
    pub(crate) fn nearby(&self, beside: Option<&Path>) -> PathBuf {
        let latest = self.recent.iter().find(|recent| !recent.is_gone).map(|recent| recent.path.as_path());
        let folder = beside.or(latest).and_then(Path::parent).filter(|folder| !folder.as_os_str().is_empty());
        folder.map_or_else(|| self.here.clone(), |folder| self.here.join(folder))
    }

    /// Looks into a folder; `.` and `..` in its path are taken out.
    ///
    /// # Errors
    /// Why it cannot be looked into, in one sentence; what was looked into before stays.
    pub(crate) fn look_into(&mut self, path: &Path, disk: &dyn Disk) -> Result<(), String> {
        let path = tidy(&self.here.join(path));
        let asked = if path.as_os_str().is_empty() { Path::new(".") } else { &path };
        let is_shown = |held: &Held| {
            !held.name.starts_with('.') && (held.is_folder || has_ending(&held.name, "toml") || has_ending(&held.name, "wav"))
        };
        let mut held = disk.list(asked).map_err(|cause| format!("{} cannot be looked into: {cause}.", asked.display()))?;
        held.retain(is_shown);
        held.sort_by_key(|held| (!held.is_folder, held.name.to_lowercase(), held.name.clone()));
        self.folder = Folder { path, held };
        Ok(())
    }
}

/// Whether the name of a file ends so.
pub(crate) fn has_ending(name: &str, ending: &str) -> bool {
    Path::new(name).extension().is_some_and(|own| own.eq_ignore_ascii_case(ending))
}

/// A path without `.`, and without `..` as far as there is something to go back from.
fn tidy(path: &Path) -> PathBuf {
    use std::path::Component;
    let mut tidied = PathBuf::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir if matches!(tidied.components().next_back(), Some(Component::Normal(_))) => _ = tidied.pop(),
            Component::ParentDir if tidied.has_root() => {}
            _ => tidied.push(part),
        }
    }
    tidied
}

/// Where the list lies on a system of this name (`std::env::consts::OS`) with these variables; `None` where there is no place for it.
pub(crate) fn list_place(system: &str, variable: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let folder = |name: &str| variable(name).map(PathBuf::from).filter(|folder| folder.is_absolute() || system == "windows");
    let filled = |folder: Option<PathBuf>| folder.filter(|folder| !folder.as_os_str().is_empty());
    let base = match system {
        "windows" => filled(folder("LOCALAPPDATA"))?.join("Roomwright"),
        "macos" => filled(folder("HOME"))?.join("Library/Application Support/Roomwright"),
        _ => filled(folder("XDG_STATE_HOME")).or_else(|| Some(folder("HOME")?.join(".local/state")))?.join("roomwright"),
    };
    Some(base.join("recent-scenes.txt"))
}

/// `Attic, north` -> `attic-north.toml`.
pub(crate) fn file_name(title: &str) -> String {
    let words: Vec<String> = title.split(|letter: char| !letter.is_alphanumeric() && letter != '_').map(str::to_lowercase).collect();
    let stem = words.into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join("-");
    format!("{}.toml", if stem.is_empty() { "room" } else { &stem })
}

/// `rooms/attic.toml` -> `attic-b.toml`.
pub(crate) fn lettered(file: &Path, letter: char) -> PathBuf {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    format!("{stem}-{}.toml", letter.to_ascii_lowercase()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_list_in_the_folder_for_such_things() {
        let variables = |pairs: &'static [(&str, &str)]| {
            move |name: &str| pairs.iter().find(|(known, _)| *known == name).map(|(_, value)| OsString::from(value))
        };
        let place = |system, pairs| list_place(system, variables(pairs)).map(|path| path.to_str().unwrap().replace('\\', "/"));
        assert_eq!(place("linux", &[("HOME", "/people/a")]).as_deref(), Some("/people/a/.local/state/roomwright/recent-scenes.txt"));
        let state = &[("HOME", "/people/a"), ("XDG_STATE_HOME", "/state")];
        assert_eq!(place("linux", state).as_deref(), Some("/state/roomwright/recent-scenes.txt"));
        // A relative one is to be ignored, says the specification.
        let relative = &[("HOME", "/people/a"), ("XDG_STATE_HOME", "state")];
        assert_eq!(place("linux", relative).as_deref(), Some("/people/a/.local/state/roomwright/recent-scenes.txt"));
        let library = Some("/people/a/Library/Application Support/Roomwright/recent-scenes.txt");
        assert_eq!(place("macos", &[("HOME", "/people/a")]).as_deref(), library);
        assert_eq!(place("windows", &[("LOCALAPPDATA", "C:/Local")]).as_deref(), Some("C:/Local/Roomwright/recent-scenes.txt"));
        for system in ["linux", "macos", "windows"] {
            assert_eq!(place(system, &[]), None);
        }
    }

    #[test]
    fn exact_folders_above() {
        for (path, expected) in [("/a/b/..", "/a"), ("/a/./b", "/a/b"), ("/..", "/"), ("../a", "../a"), ("a/../..", ".."), (".", "")] {
            assert_eq!(tidy(Path::new(path)), Path::new(expected), "{path}");
        }
    }
}
