//! The file of a session: opening, leaving, saving, taking up what was left. Part of `session`, which applies commands.

use std::path::{Path, PathBuf};

use bevy::prelude::AppExit;
use roomwright::files::{self, FileError};
use roomwright::scene::lessons::Lesson;

use super::Desk;
use crate::command::{Command, NewRoom};
use crate::edits::new_room;
use crate::results::Results;
use crate::shelf;
use crate::view::{Question, View};
use crate::{lesson, recovery};

impl Desk<'_> {
    /// Opens or closes something, now or when it is known what becomes of the unsaved work.
    pub(super) fn leave(&mut self, command: &Command) {
        if self.document.is_unsaved() {
            self.view.question = Some(Question::Unsaved);
            self.postponed.0 = Some(command.clone());
        } else {
            self.go(command);
        }
    }

    /// Goes on after a question if `done` says so, and asks again if there is still unsaved work: of a layout that is not shown.
    pub(super) fn answer(&mut self, done: impl FnOnce(&mut Self) -> bool) {
        let question = self.view.question.take();
        if !done(self) {
            // What was asked instead, or else the same again.
            self.view.question = self.view.question.take().or(question);
            return;
        }
        if let Some(command) = self.postponed.0.take() {
            self.leave(&command);
        }
    }

    /// Goes on after a question, whatever is unsaved.
    pub(super) fn drop_work(&mut self) {
        self.view.question = None;
        if let Some(command) = self.postponed.0.take() {
            self.go(&command);
        }
    }

    /// Opens or closes something, whatever is unsaved.
    pub(super) fn go(&mut self, command: &Command) {
        match command {
            Command::Open(path) => self.open(path),
            Command::New(room) => self.begin(room),
            Command::OpenCopy(text) => self.show(None, text.clone(), true),
            Command::OpenLesson(number) => self.open_lesson(*number),
            Command::ToStart => self.put_away(),
            Command::Close => {
                recovery::clear(&*self.storage.0, self.document.path());
                self.compute.stop();
                self.compute.stop_errand();
                self.exit.write(AppExit::Success);
            }
            _ => {}
        }
    }

    pub(super) fn open(&mut self, path: &Path) {
        match files::read_text(&*self.storage.0, path) {
            Ok(text) => {
                self.show(Some(path.into()), text, true);
                self.shelf.remember(path, &*self.storage.0);
            }
            Err(FileError::Read { cause, .. }) if cause.kind() == std::io::ErrorKind::IsADirectory => {
                self.apply(&Command::LookInto(path.into()));
            }
            Err(failure) => {
                self.view.notice = Some(failure.to_string());
                self.shelf.look(&*self.storage.0);
            }
        }
    }

    /// A lesson: its room as A, its first version as B.
    fn open_lesson(&mut self, number: usize) {
        let Some(lesson) = Lesson::named(&number.to_string()) else { return };
        let (a, b) = lesson::layouts(lesson);
        self.show(None, a, true);
        self.document.lay_beside(b);
        self.view.lesson = Some(lesson);
    }

    /// Back to the page without a scene.
    pub(super) fn put_away(&mut self) {
        recovery::clear(&*self.storage.0, self.document.path());
        self.compute.stop();
        self.compute.stop_errand();
        self.document.close();
        (*self.results, *self.view, self.recovered.0) = (Results::default(), View::default(), None);
        self.shelf.look(&*self.storage.0);
    }

    /// Asks for a file, beginning where the scene is.
    pub(super) fn ask_file(&mut self, question: Question) {
        let nearby = self.shelf.nearby(self.document.path());
        self.view.notice = self.shelf.look_into(&nearby, &*self.storage.0).err();
        self.view.question = Some(question);
    }

    pub(super) fn ask_where(&mut self) {
        let named = self.document.path().and_then(Path::file_name).map(PathBuf::from);
        let name = match (named, self.document.shows_b()) {
            // The file may hold the other layout.
            (Some(named), Some(_)) => shelf::lettered(&named, self.document.layouts().letter()),
            (Some(named), None) => named,
            (None, _) => shelf::file_name(self.document.scene().map_or("room", |scene| &scene.name)).into(),
        };
        self.ask_file(Question::WhereTo(name));
    }

    pub(super) fn begin(&mut self, room: &NewRoom) {
        match new_room(room) {
            Ok(text) => self.show(None, text, false),
            Err(failure) => self.view.notice = Some(failure),
        }
    }

    /// Puts another text on screen; a recovery copy beside it is offered.
    pub(super) fn show(&mut self, path: Option<PathBuf>, text: String, saved: bool) {
        if self.document.is_open() {
            recovery::clear(&*self.storage.0, self.document.path());
        }
        self.recovered.0 = recovery::left(&*self.storage.0, path.as_deref(), &text);
        self.compute.stop();
        self.compute.stop_errand();
        self.document.open(path, text, saved);
        let question = self.recovered.0.is_some().then_some(Question::Recovery);
        *self.results = Results::default();
        *self.view = View { question, ..View::default() };
        self.refresh();
    }

    /// Whether the file holds the text now.
    pub(super) fn save(&mut self, over: bool) -> bool {
        let Some(path) = self.document.path().map(Path::to_owned) else {
            self.ask_where();
            return false;
        };
        let is_changed = match files::read_text(&*self.storage.0, &path) {
            Ok(text) => self.document.saved() != Some(&text) && self.document.text() != text,
            Err(FileError::Read { cause, .. }) if cause.kind() == std::io::ErrorKind::NotFound => false,
            // Something stands there that is no scene of ours.
            Err(_) => true,
        };
        if is_changed && !over {
            self.view.question = Some(Question::ChangedOnDisk);
            return false;
        }
        let written = files::replace(&*self.storage.0, &path, self.document.text().as_bytes());
        self.saved(path, written)
    }

    pub(super) fn save_as(&mut self, path: &Path) -> bool {
        let path = if path.extension().is_some() { path.to_owned() } else { path.with_extension("toml") };
        if self.document.path() == Some(&path) {
            return self.save(false);
        }
        let before = self.document.path().map(Path::to_owned);
        let written = files::write_new(&*self.storage.0, &path, self.document.text().as_bytes());
        let done = self.saved(path, written);
        if done {
            recovery::clear(&*self.storage.0, before.as_deref());
        }
        done
    }

    pub(super) fn saved(&mut self, path: PathBuf, written: Result<(), FileError>) -> bool {
        match written {
            Ok(()) => {
                self.shelf.remember(&path, &*self.storage.0);
                let mut said = format!("Saved {}.", path.display());
                self.document.mark_saved(path);
                if self.document.is_other_unsaved() {
                    said += &format!(" Layout {} is in no file.", self.document.layouts().other_letter());
                }
                self.view.notice = Some(said);
                true
            }
            Err(failure) => {
                self.view.notice = Some(failure.to_string());
                false
            }
        }
    }

    pub(super) fn reload(&mut self) -> bool {
        let Some(path) = self.document.path() else { return true };
        match files::read_text(&*self.storage.0, path) {
            Ok(text) => {
                self.document.reload(text);
                self.refresh();
                true
            }
            Err(failure) => {
                self.view.notice = Some(failure.to_string());
                false
            }
        }
    }

    pub(super) fn recover(&mut self, restore: bool) {
        if matches!(self.view.question, Some(Question::Recovery)) {
            self.view.question = None;
        }
        let Some(layouts) = self.recovered.0.take() else { return };
        if restore {
            if layouts.other.is_some() {
                self.view.notice = Some(format!("Two layouts were taken up; {} is shown.", layouts.letter()));
            }
            if !self.document.is_open() {
                self.document.open(None, layouts.shown.clone(), false);
            }
            self.document.take_up(layouts);
            self.refresh();
        } else {
            recovery::clear(&*self.storage.0, self.document.path());
        }
    }
}
