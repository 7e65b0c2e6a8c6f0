//! Layouts A and B: the one that is not shown is work like the one that is, until a file holds it.

use super::*;

fn count(count: u32) -> Command {
    Command::SetStockCount { kind: "cloud".into(), count }
}

fn notice(app: &App) -> &str {
    view(app).notice.as_deref().unwrap_or_default()
}

/// The attic as its file holds it as A, shown, and B with other clouds in stock.
fn with_hidden_b(disk: &Arc<Memory>) -> (App, String) {
    let mut app = opened(disk);
    for command in [Command::ToggleLayout, count(7)] {
        send(&mut app, command);
    }
    let b = document(&app).text().to_owned();
    send(&mut app, Command::ToggleLayout);
    assert_eq!((document(&app).text(), document(&app).shows_b()), (attic().as_str(), Some(false)));
    (app, b)
}

#[test]
fn keeps_a_hidden_layout_from_being_left_unasked() {
    let other = attic().replace("Attic voice room", "Other");
    for leave in [Command::Close, Command::ToStart, Command::Open("rooms/other.toml".into()), Command::OpenCopy(other.clone())] {
        let disk = Memory::holding(FILE, &attic());
        disk.put("rooms/other.toml", &other);
        let (mut app, b) = with_hidden_b(&disk);
        assert!(document(&app).is_unsaved() && !document(&app).is_text_unsaved());
        send(&mut app, leave.clone());
        assert!(!has_exited(&app) && view(&app).question == Some(Question::Unsaved), "{leave:?}");
        // Saving what is shown is no answer for what is not.
        send(&mut app, Command::Save);
        assert!(!has_exited(&app) && view(&app).question == Some(Question::Unsaved), "{leave:?}");
        assert!(notice(&app).contains("Layout B is in no file"), "{}", notice(&app));
        send(&mut app, Command::Stay);
        assert_eq!((document(&app).text(), document(&app).layouts().other.as_deref()), (attic().as_str(), Some(b.as_str())));
        send(&mut app, leave.clone());
        send(&mut app, Command::Discard);
        assert_eq!((disk.text(FILE), disk.text(COPY)), (Some(attic()), None), "{leave:?}: what was given up is not offered again");
        assert!(has_exited(&app) == (leave == Command::Close) && (has_exited(&app) || document(&app).path() != Some(Path::new(FILE))));
    }
}

/// The answers of the question, in their order: both layouts reach files, and then the window closes.
#[test]
fn keeps_both_layouts_when_both_are_saved() {
    let disk = Memory::holding(FILE, &attic());
    let (mut app, b) = with_hidden_b(&disk);
    send(&mut app, count(3));
    let a = document(&app).text().to_owned();
    send(&mut app, Command::Close);
    send(&mut app, Command::Save);
    assert_eq!((disk.text(FILE), view(&app).question.as_ref()), (Some(a.clone()), Some(&Question::Unsaved)));
    assert!(!has_exited(&app) && document(&app).is_other_unsaved());
    for command in [Command::ToggleLayout, Command::AskWhere] {
        send(&mut app, command);
    }
    assert_eq!(view(&app).question, Some(Question::WhereTo("attic-b.toml".into())));
    send(&mut app, Command::SaveAs("rooms/attic-b.toml".into()));
    assert!(has_exited(&app));
    assert_eq!((disk.text(FILE), disk.text("rooms/attic-b.toml")), (Some(a), Some(b)));
    assert_eq!(disk.names(), ["rooms/attic-b.toml", FILE], "no copy is left");
}

#[test]
fn keeps_both_layouts_through_a_crash() {
    let disk = Memory::holding(FILE, &attic());
    let (mut app, b) = with_hidden_b(&disk);
    assert!(disk.text(COPY).is_some(), "the file holds what is shown, and not B");
    // Saving A does not remove what there is of B.
    send(&mut app, count(3));
    let a = document(&app).text().to_owned();
    for (is_saved, shows_b) in [(false, false), (false, true), (true, false)] {
        if document(&app).shows_b() != Some(shows_b) {
            send(&mut app, Command::ToggleLayout);
        }
        if is_saved {
            send(&mut app, Command::Save);
        }
        let left = document(&app).layouts().clone();
        assert_eq!((left.shows_b, left.shown.as_str()), (shows_b, if shows_b { &*b } else { &*a }));
        drop(app);

        app = opened(&disk);
        assert_eq!(view(&app).question, Some(Question::Recovery));
        assert!(document(&app).shows_b().is_none(), "nothing is taken up unasked");
        send(&mut app, Command::ToggleLayout);
        let file = document(&app).layouts().clone();
        assert!(file.other.is_none(), "the copy waits for the answer");
        send(&mut app, Command::RestoreRecovery);
        assert_eq!(document(&app).layouts(), &left);
        assert!(document(&app).is_unsaved() && notice(&app).contains("Two layouts"));
        assert_eq!(results(&app).generation.0, document(&app).revision());
        send(&mut app, Command::Undo);
        assert_eq!((document(&app).layouts(), disk.text(COPY)), (&file, None), "nothing is unsaved any more");
        send(&mut app, Command::Redo);
        assert_eq!(document(&app).layouts(), &left);
    }
    // Removed, both are gone.
    drop(app);
    let mut app = opened(&disk);
    send(&mut app, Command::DiscardRecovery);
    assert_eq!((disk.text(COPY), document(&app).text(), document(&app).is_unsaved()), (None, a.as_str(), false));
}

#[test]
fn keeps_both_layouts_of_a_room_without_a_file_through_a_crash() {
    let disk = Arc::new(Memory::default());
    let mut first = app(&disk);
    for command in [Command::New(shed()), Command::ToggleLayout, Command::SetActivity(Activity::Lesson)] {
        send(&mut first, command);
    }
    let left = document(&first).layouts().clone();
    assert!(left.shows_b && left.other.as_deref() != Some(&left.shown));
    drop(first);
    let mut second = app(&disk);
    send(&mut second, Command::RestoreRecovery);
    assert_eq!(document(&second).layouts(), &left);
    assert!(document(&second).path().is_none() && results(&second).room.is_some());
    // One after the other they get files.
    send(&mut second, Command::ToStart);
    send(&mut second, Command::Save);
    send(&mut second, Command::SaveAs("shed.toml".into()));
    assert!(document(&second).is_open() && view(&second).question == Some(Question::Unsaved));
    for command in [Command::ToggleLayout, Command::AskWhere] {
        send(&mut second, command);
    }
    send(&mut second, Command::SaveAs("shed-a.toml".into()));
    assert!(!document(&second).is_open() && disk.names() == ["shed-a.toml", "shed.toml"]);
    assert_eq!((disk.text("shed.toml"), disk.text("shed-a.toml").as_deref()), (Some(left.shown), left.other.as_deref()));
}

/// What is done again after saving is unsaved work anew, though the text that is shown stays as it is.
#[test]
fn keeps_a_layout_that_comes_back_by_redo() {
    let disk = Memory::holding(FILE, &attic());
    let (app, b) = with_hidden_b(&disk);
    drop(app);
    let mut app = opened(&disk);
    for command in [Command::RestoreRecovery, Command::Undo, Command::Save] {
        send(&mut app, command);
    }
    assert!(!document(&app).is_unsaved() && disk.text(COPY).is_none());
    let revision = document(&app).revision();
    send(&mut app, Command::Redo);
    assert_eq!((document(&app).layouts().other.as_deref(), document(&app).revision()), (Some(b.as_str()), revision));
    drop(app);
    let mut app = opened(&disk);
    send(&mut app, Command::RestoreRecovery);
    assert_eq!(document(&app).layouts().other.as_deref(), Some(b.as_str()));
}

/// A file that another program removed holds nothing any more: the copy has it.
#[test]
fn keeps_the_text_of_a_file_that_is_gone() {
    let disk = Memory::holding(FILE, &attic());
    let mut app = opened(&disk);
    disk.remove(Path::new(FILE)).unwrap();
    (0..5).for_each(|_| app.update());
    assert_eq!((document(&app).is_unsaved(), disk.text(COPY)), (true, Some(attic())));
}

/// The letter on the page is that of the text, however one got there; the results are of the text.
#[test]
fn keeps_the_layout_and_its_letter_through_undo() {
    let disk = Memory::holding(FILE, &attic());
    let (mut app, b) = with_hidden_b(&disk);
    send(&mut app, Command::Undo);
    assert_eq!((document(&app).text(), document(&app).shows_b()), (b.as_str(), Some(true)));
    assert_eq!(document(&app).layouts().other.as_deref(), Some(attic().as_str()));
    assert_eq!(results(&app).scene.as_ref().unwrap().stock[2].count, 7);
    for command in [Command::Undo, Command::Undo] {
        send(&mut app, command);
    }
    assert_eq!((document(&app).text(), document(&app).shows_b()), (attic().as_str(), None));
    assert!(!document(&app).is_unsaved() && disk.text(COPY).is_none());
    for command in [Command::Redo, Command::Redo, Command::Redo] {
        send(&mut app, command);
    }
    assert_eq!((document(&app).text(), document(&app).layouts().other.as_deref()), (attic().as_str(), Some(b.as_str())));
    assert!(document(&app).is_unsaved() && disk.text(COPY).is_some());
}
