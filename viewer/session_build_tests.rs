//! What is to be built, kept up while it is looked at, and written as files beside the scene.

use roomwright::report::build_files;
use roomwright::scene::prices::EXAMPLE;

use super::*;

const FOLDER: &str = "rooms/out/attic";

#[test]
fn keeps_what_is_built_of_the_scene_on_screen() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    app.update();
    assert!(results(&app).build.is_none(), "nobody asks for it yet");
    send(&mut app, Command::ChooseStep(Step::Build));
    let count = |app: &App| results(app).building().unwrap().panels.len();
    assert_eq!(count(&app), 2);
    let build = results(&app).build.clone().unwrap().value;
    send(&mut app, Command::Choose(Some(Thing::Panel(0))));
    assert!(Arc::ptr_eq(&build, &results(&app).build.as_ref().unwrap().value), "it is worked out once");
    send(&mut app, Command::AddPanel(panel("north", 3.0)));
    assert_eq!(count(&app), 3);
    send(&mut app, Command::Undo);
    assert_eq!(count(&app), 2);
    // A mistake leaves that of the last sound text.
    send(&mut app, Command::SetText(attic().replace("surface = \"south\"", "surface = \"sotuh\"")));
    assert_eq!(count(&app), 2);
    send(&mut app, Command::Undo);
    for _ in 0..2 {
        send(&mut app, Command::RemovePanel(0));
    }
    assert!(results(&app).building().is_none() && results(&app).build.as_ref().unwrap().value.is_err());
}

#[test]
fn keeps_the_sheets_whole_and_beside_the_scene() {
    let text = attic();
    let disk = Memory::holding(FILE, &text);
    let mut app = opened(&disk);
    send(&mut app, Command::ChooseStep(Step::Build));
    let sheets = build_files(results(&app).building().unwrap(), None);
    assert!(!sheets.is_empty());

    // All of them, or none.
    *disk.full.lock().unwrap() = true;
    let held = disk.names();
    send(&mut app, Command::WriteSheets);
    assert!(disk.names() == held && view(&app).notice.as_ref().unwrap().contains("the disk is full"), "{:?}", view(&app).notice);
    *disk.full.lock().unwrap() = false;

    send(&mut app, Command::WriteSheets);
    let said = format!("Wrote {} files into {FOLDER}.", sheets.len() + 1);
    assert_eq!(view(&app).notice.as_ref(), Some(&said));
    for (name, bytes) in &sheets {
        assert_eq!(&disk.read(format!("{FOLDER}/{name}").as_ref(), u64::MAX).unwrap(), bytes, "{name}");
    }
    assert_eq!(disk.text(&format!("{FOLDER}/prices.toml")).as_deref(), Some(EXAMPLE));
    assert!(disk.text(FILE).as_deref() == Some(&text) && !document(&app).is_unsaved() && !document(&app).can_undo_redo().0);

    // Prices that somebody wrote there are taken, and stay; while they have mistakes nothing is written.
    let prices = format!("{FOLDER}/prices.toml");
    disk.put(&prices, "format = 1\nprice = 3");
    let held = disk.names();
    send(&mut app, Command::WriteSheets);
    assert!(disk.names() == held && view(&app).notice.as_ref().unwrap().contains("prices.toml is not taken"), "{:?}", view(&app).notice);
    let mine = EXAMPLE.replace("invented = true", "invented = false").replace("price = 11", "price = 77");
    disk.put(&prices, &mine);
    // What a change has no use for goes.
    send(&mut app, Command::RemovePanel(1));
    send(&mut app, Command::WriteSheets);
    assert_eq!(disk.text(&prices).as_deref(), Some(mine.as_str()));
    assert!(disk.names().iter().all(|name| !name.contains("prices-2")), "{:?}", disk.names());
    let build = &results(&app).building().unwrap().build;
    assert!(!build.prices_are_invented && results(&app).prices.is_own());
    let now: Vec<String> = build_files(results(&app).building().unwrap(), None).into_iter().map(|(name, _)| name).collect();
    for (name, _) in &sheets {
        assert_eq!(disk.names().contains(&format!("{FOLDER}/{name}")), now.contains(name), "{name}");
    }
    assert!(now.len() < sheets.len(), "nothing hangs on the north wall any more");
}

#[test]
fn keeps_sheets_from_being_written_of_nothing() {
    let disk = Memory::holding(FILE, &attic());
    let mut app = opened(&disk);
    let refused = |app: &mut App, why: &str| {
        let held = disk.names();
        send(app, Command::WriteSheets);
        assert!(disk.names() == held && view(app).notice.as_ref().unwrap().contains(why), "{why}: {:?}", view(app).notice);
    };
    send(&mut app, Command::ChooseStep(Step::Build));
    send(&mut app, Command::SetText(attic().replace("surface = \"south\"", "surface = \"sotuh\"")));
    refused(&mut app, "The scene text has mistakes");
    send(&mut app, Command::Undo);
    for _ in 0..2 {
        send(&mut app, Command::RemovePanel(0));
    }
    refused(&mut app, "There is nothing to build");
    send(&mut app, Command::OpenCopy(attic()));
    send(&mut app, Command::Discard);
    send(&mut app, Command::ChooseStep(Step::Build));
    refused(&mut app, "The scene has no file yet: save it first");
}

/// Sheets of a plan lie beside it, as the command line has it.
#[test]
fn keeps_the_sheets_of_a_plan_beside_it() {
    for (scene, folder) in [
        ("rooms/attic.toml", "rooms/out/attic"),
        ("attic.toml", "out/attic"),
        ("rooms/out/attic/plan.toml", "rooms/out/attic"),
        ("plan.toml", "."),
    ] {
        assert_eq!(sheets::folder(Path::new(scene)), Path::new(folder));
    }
}

/// The report is written as the command line writes it, of the plan that was made here, hung or not; without one it says so.
#[test]
fn keeps_the_report_of_the_room_on_screen() {
    let text = attic().replace("rays = 2000", "rays = 200");
    let disk = Memory::holding(FILE, &text);
    let mut app = opened(&disk);
    let page = |app: &mut App| {
        app.world_mut().resource_mut::<View>().notice = None;
        send(app, Command::WriteReport);
        wait_for(app, "a report", |app| view(app).notice.is_some());
        assert_eq!(view(app).notice.as_deref(), Some("Wrote 2 files into rooms/out/attic."));
        disk.text(&format!("{FOLDER}/report.html")).unwrap()
    };
    let bare = page(&mut app);
    assert!(bare.contains("There is no plan yet") && bare.contains("Nothing was measured yet"));
    send(&mut app, Command::Begin(Errand::Plan(None)));
    wait(&mut app, |results| results.plan.is_some());
    let planned = page(&mut app);
    assert!(planned.contains("The panels, in the order to hang them") && !planned.contains("There is no plan yet"));
    send(&mut app, Command::TakePlan);
    assert_eq!(page(&mut app), planned, "hung it is the same plan");
    // None, rather than half of one; none without a file.
    *disk.full.lock().unwrap() = true;
    app.world_mut().resource_mut::<View>().notice = None;
    send(&mut app, Command::WriteReport);
    wait_for(&mut app, "a sentence", |app| view(app).notice.is_some());
    assert!(view(&app).notice.as_ref().unwrap().contains("No report was written"), "{:?}", view(&app).notice);
    // Another change, and the plan is not of this room any more.
    assert!(results(&app).plan_here().is_some());
    send(&mut app, Command::RemovePanel(0));
    assert!(results(&app).plan_here().is_none());
    let mut app = opened(&Memory::holding(FILE, &text));
    send(&mut app, Command::SetText(text.replace("surface = \"south\"", "surface = \"sotuh\"")));
    send(&mut app, Command::WriteReport);
    assert!(view(&app).notice.as_ref().unwrap().contains("The scene text has mistakes"), "{:?}", view(&app).notice);
}
