//! Absorbers side by side, by commands: what stands there, under which numbers, and that its figures are the front door's.

use roomwright::study::absorbers::Sample;

use super::*;
use crate::comparison::MOST;

fn material(name: &str) -> Choice {
    Choice::Material(name.into())
}

/// The attic with absorbers beneath the stage.
fn looking(text: &str) -> App {
    let mut app = opened(&Memory::holding(FILE, text));
    send(&mut app, Command::ChooseStrip(Strip::Absorbers));
    app
}

fn side_by_side(app: &App) -> Vec<(usize, String)> {
    results(app).absorbers.samples.iter().map(|sample| (sample.number, sample.name.clone())).collect()
}

fn named(names: &[(usize, &str)]) -> Vec<(usize, String)> {
    names.iter().map(|(number, name)| (*number, (*name).to_owned())).collect()
}

#[test]
fn keeps_the_number_of_what_stands_side_by_side() {
    let text = attic();
    let mut app = opened(&Memory::holding(FILE, &text));
    assert!(results(&app).absorbers.samples.is_empty(), "nothing is computed that nobody looks at");
    send(&mut app, Command::ChooseStrip(Strip::Absorbers));
    let stock = [(1, "wall panel"), (2, "corner panel"), (3, "cloud")];
    assert_eq!(side_by_side(&app), named(&stock), "until somebody chooses, the stock");
    let typed = Choice::Typed("thin: 25 mm, 20000".into());
    for choice in [material("Rough concrete"), typed.clone(), material("Heavy carpet on concrete")] {
        send(&mut app, Command::Compare(choice));
    }
    let all = [stock[0], stock[1], stock[2], (4, "Rough concrete"), (5, "thin"), (6, "Heavy carpet on concrete")];
    assert_eq!(side_by_side(&app), named(&all));
    // There is room for no more, and the same again is no more.
    assert_eq!((MOST, view(&app).notice.as_deref()), (6, None));
    send(&mut app, Command::Compare(typed.clone()));
    assert_eq!((side_by_side(&app).len(), view(&app).notice.as_deref()), (6, None));
    send(&mut app, Command::Compare(material("Standard brickwork")));
    assert_eq!(side_by_side(&app), named(&all));
    assert!(view(&app).notice.as_ref().unwrap().contains("leave one out first"));
    // What goes leaves its number to the next, and the others keep theirs.
    send(&mut app, Command::LeaveOut(Choice::Stock("corner panel".into())));
    assert_eq!(side_by_side(&app), named(&[all[0], all[2], all[3], all[4], all[5]]));
    send(&mut app, Command::Compare(material("Standard brickwork")));
    assert_eq!(side_by_side(&app)[1], (2, "Standard brickwork".to_owned()));
    // What cannot be computed takes no number.
    send(&mut app, Command::LeaveOut(material("Standard brickwork")));
    for (choice, said) in
        [(Choice::Typed("50 mm".into()), "of what?"), (material("Cheese"), "no row"), (Choice::Stock("rug".into()), "no type")]
    {
        let before = view(&app).comparison.clone();
        send(&mut app, Command::Compare(choice));
        assert_eq!(view(&app).comparison, before);
        assert!(view(&app).notice.as_ref().unwrap().contains(said));
    }
    assert_eq!(document(&app).text(), text);
    for choice in view(&app).comparison.chosen(None).into_iter().map(|(_, choice)| choice) {
        send(&mut app, Command::LeaveOut(choice));
    }
    assert!(side_by_side(&app).is_empty(), "nothing is nothing, not the stock again");
}

#[test]
fn keeps_figures_with_the_scene() {
    let mut app = looking(&attic());
    let first = |app: &App| -> Sample { results(app).absorbers.samples[0].clone() };
    let expected = |app: &App| Choice::Stock("wall panel".into()).sample(1, document(app).scene().map(|scene| &**scene)).unwrap();
    let before = first(&app);
    assert_eq!(before, expected(&app));
    let thicker = document(&app).text().replacen("thickness = \"50 mm\"", "thickness = \"80 mm\"", 1);
    send(&mut app, Command::SetText(thicker));
    assert_ne!(first(&app), before);
    assert_eq!(first(&app), expected(&app));
    send(&mut app, Command::Undo);
    assert_eq!(first(&app), before);
    // A text with mistakes leaves what was known.
    let broken = document(&app).text().replace("Solid wooden door", "Solid wooden dor");
    send(&mut app, Command::SetText(broken));
    assert!(document(&app).is_broken());
    assert_eq!(first(&app), before);
    send(&mut app, Command::Undo);
    // A type that is gone is let go of, with its number.
    send(&mut app, Command::Compare(material("Rough concrete")));
    let text = document(&app).text().to_owned();
    let (rest, cloud) = text.rsplit_once("[[stock]]\nname = \"cloud\"").unwrap();
    let panels = cloud.find("[[panel]]").map_or("", |at| &cloud[at..]);
    send(&mut app, Command::SetText(format!("{rest}{panels}")));
    assert_eq!(side_by_side(&app), named(&[(1, "wall panel"), (2, "corner panel"), (4, "Rough concrete")]));
}

#[test]
fn keeps_a_new_type_of_stock_beside_what_was_typed() {
    let mut app = looking(&attic());
    let typed = "50 mm, 12000, gap 50 mm, size 60 x 120 cm";
    send(&mut app, Command::Compare(Choice::Typed(typed.into())));
    send(&mut app, Command::AddStock(panel_type(typed, "thin").unwrap()));
    assert!(view(&app).refused.is_none());
    send(&mut app, Command::Compare(Choice::Stock("thin".into())));
    let samples = &results(&app).absorbers.samples;
    assert_eq!((samples.len(), samples[4].name.as_str()), (5, "thin"));
    for band in Band::ALL {
        assert!((samples[3].absorption[band] - samples[4].absorption[band]).abs() < 1e-9, "{band:?}");
    }
    send(&mut app, Command::Undo);
    assert_eq!(results(&app).absorbers.samples.len(), 4, "what undo took out of the stock stands there no more");
}

#[test]
fn keeps_what_a_material_is_given_to() {
    let mut app = looking(&attic());
    let target = |app: &App| view(app).comparison.target.clone();
    assert_eq!(target(&app), None);
    send(&mut app, Command::Choose(Some(Thing::Opening(1))));
    assert_eq!(target(&app), Some(Target::One("door".into())));
    send(&mut app, Command::Choose(Some(Thing::Block(0))));
    assert_eq!(target(&app), Some(Target::One("desk".into())));
    // A head has no material; what was meant stays.
    for command in [Command::Choose(Some(Thing::Receiver(0))), Command::Choose(None)] {
        send(&mut app, command);
        assert_eq!(target(&app), Some(Target::One("desk".into())));
    }
    send(&mut app, Command::RemoveThing(ThingKind::Block, "desk".into()));
    assert_eq!(target(&app), None, "what is gone is given nothing");
    send(&mut app, Command::ChooseTarget(Some(Target::One("cellar".into()))));
    assert_eq!(target(&app), None);
    send(&mut app, Command::ChooseTarget(Some(Target::Walls)));
    send(&mut app, Command::SetWallMaterial("standard brickwork".into()));
    let scene = document(&app).scene().unwrap().clone();
    assert!(scene.walls.iter().all(|wall| wall.material == "standard brickwork"), "as it was written");
    assert_eq!(crate::comparison::uses(&scene, "Standard brickwork").len(), scene.walls.len());
    send(&mut app, Command::Undo);
    assert_ne!(document(&app).scene().unwrap().walls, scene.walls);
}
