//! Files opened last, folders looked into, copies to look around in: on a disk in memory.

use super::*;
use crate::shelf::{Recent, Shelf};

const LIST: &str = "/state/roomwright/recent-scenes.txt";

/// An application that keeps its list on the disk.
fn listing(disk: &Arc<Memory>) -> App {
    let mut app = App::new();
    app.add_plugins((MinimalPlugins, SessionPlugin))
        .insert_resource(TimeUpdateStrategy::ManualDuration(Duration::from_secs(1)))
        .insert_resource(Shelf::new(Some(LIST.into()), "/rooms".into()))
        .insert_resource(Storage(disk.clone()));
    app.update();
    app
}

fn shelf(app: &App) -> &Shelf {
    app.world().resource()
}

fn recent(app: &App) -> Vec<(String, bool)> {
    shelf(app).recent().iter().map(|Recent { path, is_gone, .. }| (path.display().to_string(), *is_gone)).collect()
}

fn held(app: &App) -> Vec<&str> {
    shelf(app).folder().held.iter().map(|held| held.name.as_str()).collect()
}

/// A disk with rooms of these names in `/rooms`.
fn rooms(names: &[&str]) -> Arc<Memory> {
    let disk = Memory::default();
    for name in names {
        disk.put(&format!("/rooms/{name}.toml"), include_str!("../scenes/attic-voice-room.toml"));
    }
    Arc::new(disk)
}

#[test]
fn keeps_the_last_scenes_opened_and_saved() {
    let names: Vec<String> = (1..=9).map(|number| format!("room-{number}")).collect();
    let disk = rooms(&names.iter().map(String::as_str).collect::<Vec<_>>());
    let mut app = listing(&disk);
    assert_eq!(recent(&app), []);
    for name in &names {
        send(&mut app, Command::Open(format!("/rooms/{name}.toml").into()));
    }
    send(&mut app, Command::Open("/rooms/room-5.toml".into()));
    let order = [5, 9, 8, 7, 6, 4, 3, 2].map(|number| (format!("/rooms/room-{number}.toml"), false));
    assert_eq!(recent(&app), order);
    send(&mut app, Command::SaveAs("/rooms/copy.toml".into()));
    assert_eq!(recent(&app)[0].0, "/rooms/copy.toml");
    // The next start, with one file gone and one written meanwhile by another window.
    disk.remove(Path::new("/rooms/room-9.toml")).unwrap();
    let mut next = listing(&disk);
    let known = recent(&next);
    assert_eq!(known.len(), 8);
    assert_eq!(known.iter().filter(|(_, is_gone)| *is_gone).map(|(path, _)| path.as_str()).collect::<Vec<_>>(), ["/rooms/room-9.toml"]);
    send(&mut app, Command::Open("/rooms/room-1.toml".into()));
    send(&mut next, Command::Forget("/rooms/room-9.toml".into()));
    assert_eq!(recent(&next)[0].0, "/rooms/room-1.toml");
    assert!(!recent(&listing(&disk)).iter().any(|(path, _)| path.contains("room-9")));
    // A file that comes back is told while one looks at the page.
    disk.remove(Path::new("/rooms/room-8.toml")).unwrap();
    (0..4).for_each(|_| next.update());
    assert!(recent(&next).contains(&("/rooms/room-8.toml".to_owned(), true)));
}

/// What is marked is what opening offers; what is not, opens without a question.
#[test]
fn keeps_scenes_with_unsaved_work_marked() {
    let disk = rooms(&["attic", "basement", "shed", "gone"]);
    let mut app = listing(&disk);
    for name in ["gone", "shed", "basement", "attic"] {
        send(&mut app, Command::Open(format!("/rooms/{name}.toml").into()));
    }
    send(&mut app, Command::SetActivity(Activity::Lesson));
    let attic = document(&app).text().to_owned();
    drop(app);
    // A copy that says what the scene says is no work, and neither is one of a scene that is gone.
    disk.put("/rooms/.shed.toml.unsaved", disk.text("/rooms/shed.toml").unwrap());
    disk.put("/rooms/.gone.toml.unsaved", "name = 1");
    disk.remove(Path::new("/rooms/gone.toml")).unwrap();
    let marked = |app: &App| -> Vec<String> {
        let names = shelf(app).recent().iter().filter(|recent| recent.is_left_unsaved);
        names.map(|recent| recent.path.file_stem().unwrap().to_string_lossy().into_owned()).collect()
    };
    let mut app = listing(&disk);
    assert_eq!(marked(&app), ["attic"]);
    for name in ["shed", "basement", "attic"] {
        send(&mut app, Command::Open(format!("/rooms/{name}.toml").into()));
        assert_eq!(view(&app).question.is_some(), name == "attic", "{name}");
    }
    send(&mut app, Command::RestoreRecovery);
    assert_eq!(document(&app).text(), attic);
    send(&mut app, Command::ToStart);
    send(&mut app, Command::Discard);
    assert_eq!(marked(&app), [""; 0], "what was given up is not marked");
    // One that comes while the page is looked at is.
    disk.put("/rooms/.basement.toml.unsaved", &attic);
    (0..4).for_each(|_| app.update());
    assert_eq!(marked(&app), ["basement"]);
}

#[test]
fn keeps_a_missing_or_broken_list_empty() {
    for bytes in [None, Some(&b"\xff\xfe broken"[..]), Some(&b"# nothing but a remark\n\n"[..])] {
        let disk = rooms(&["attic"]);
        if let Some(bytes) = bytes {
            disk.put(LIST, bytes);
        }
        let mut app = listing(&disk);
        assert_eq!(recent(&app), []);
        send(&mut app, Command::Open("/rooms/attic.toml".into()));
        assert_eq!(recent(&listing(&disk)), [("/rooms/attic.toml".to_owned(), false)]);
    }
    // A disk that is full: the scene opens all the same.
    let disk = rooms(&["attic"]);
    let mut app = listing(&disk);
    *disk.full.lock().unwrap() = true;
    send(&mut app, Command::Open("/rooms/attic.toml".into()));
    assert!(document(&app).is_open() && view(&app).notice.is_none() && disk.text(LIST).is_none());
}

#[test]
fn keeps_nothing_where_no_list_is_kept() {
    let disk = rooms(&["attic"]);
    let mut app = app(&disk);
    send(&mut app, Command::Open("/rooms/attic.toml".into()));
    assert_eq!(disk.names(), ["/rooms/attic.toml"]);
}

#[test]
fn keeps_to_folders_and_scenes_where_a_file_is_chosen() {
    let disk = rooms(&["Basement", "attic", "old/shed", ".hidden"]);
    disk.put("/rooms/notes.txt", "x");
    let mut app = listing(&disk);
    send(&mut app, Command::AskFile);
    assert_eq!((&view(&app).question, held(&app)), (&Some(Question::Which), vec!["old", "attic.toml", "Basement.toml"]));
    send(&mut app, Command::LookInto("/rooms/old".into()));
    assert_eq!(held(&app), ["shed.toml"]);
    send(&mut app, Command::LookInto("/rooms/none".into()));
    assert_eq!((view(&app).notice.is_some(), held(&app)), (true, vec!["shed.toml"]), "what was shown stays");
    send(&mut app, Command::LookInto("/rooms/old/..".into()));
    assert_eq!((shelf(&app).folder().path.as_path(), view(&app).notice.as_ref()), (Path::new("/rooms"), None));
    // What cannot be opened is said, and one may choose again.
    send(&mut app, Command::Open("/rooms/missing.toml".into()));
    assert!(view(&app).question == Some(Question::Which) && view(&app).notice.as_ref().unwrap().contains("no such file"));
    send(&mut app, Command::Open("/rooms/attic.toml".into()));
    assert!(document(&app).is_open() && view(&app).question.is_none());
    // With unsaved work that is asked first.
    send(&mut app, Command::SetActivity(Activity::Lesson));
    send(&mut app, Command::AskFile);
    send(&mut app, Command::Open("/rooms/Basement.toml".into()));
    assert_eq!(view(&app).question, Some(Question::Unsaved));
    send(&mut app, Command::Discard);
    assert_eq!(document(&app).path(), Some(Path::new("/rooms/Basement.toml")));
}

#[test]
fn keeps_a_copy_apart_from_unsaved_work() {
    let disk = rooms(&["attic"]);
    let text = include_str!("../scenes/basement-mix-room.toml");
    let mut app = listing(&disk);
    send(&mut app, Command::OpenCopy(text.to_owned()));
    assert_eq!((document(&app).text(), document(&app).path()), (text, None));
    assert!(document(&app).is_copy() && !document(&app).is_unsaved() && document(&app).can_undo_redo() == (false, false));
    (0..4).for_each(|_| app.update());
    assert!(!disk.names().iter().any(|name| name.contains("unsaved")), "there is nothing to recover");
    // Nothing was done: it may be left unasked.
    send(&mut app, Command::ToStart);
    assert!(!document(&app).is_open() && results(&app).scene.is_none() && view(&app).question.is_none());
    send(&mut app, Command::OpenCopy(text.to_owned()));
    send(&mut app, Command::SetActivity(Activity::Lesson));
    assert!(!document(&app).is_copy() && document(&app).is_unsaved());
    send(&mut app, Command::ToStart);
    assert_eq!(view(&app).question, Some(Question::Unsaved));
    send(&mut app, Command::Save);
    assert!(matches!(view(&app).question, Some(Question::WhereTo(_))));
    assert_eq!(held(&app), ["attic.toml"], "the folder for it is shown");
    send(&mut app, Command::SaveAs("/rooms/mine.toml".into()));
    assert!(!document(&app).is_open(), "then what was asked for is done");
    assert_eq!((recent(&app)[0].0.as_str(), disk.text("/rooms/mine.toml").is_some()), ("/rooms/mine.toml", true));
    // An untouched copy can be saved.
    send(&mut app, Command::OpenCopy(text.to_owned()));
    send(&mut app, Command::AskWhere);
    send(&mut app, Command::SaveAs("/rooms/second.toml".into()));
    assert_eq!((disk.text("/rooms/second.toml").as_deref(), document(&app).is_copy()), (Some(text), false));
}

#[test]
fn keeps_a_press_for_the_form_that_asked() {
    let disk = Memory::holding(FILE, &attic());
    let mut app = opened(&disk);
    let pressed = crate::view::Pressed { surface: "east".into(), position: DVec2::new(1.0, 0.5), point: DVec3::new(4.4, 1.0, 0.5) };
    send(&mut app, Command::GivePlace(pressed.clone()));
    assert_eq!(view(&app).pressed, None, "nobody asked");
    send(&mut app, Command::AskPlace(true));
    assert!(view(&app).asks_place);
    send(&mut app, Command::GivePlace(pressed.clone()));
    assert_eq!((view(&app).asks_place, &view(&app).pressed), (false, &Some(pressed)));
    send(&mut app, Command::AskPlace(false));
    assert_eq!(view(&app).pressed, None);
}
