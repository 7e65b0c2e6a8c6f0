//! Lessons in the window: opened as two layouts, versions as B, nothing to save as they came; and the difference of two layouts.

use roomwright::scene::lessons::Lesson;
use roomwright::study::compare::Kind;

use super::*;
use crate::lesson::Beside;

/// A lesson that is open.
fn lesson(number: usize) -> App {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    send(&mut app, Command::OpenLesson(number));
    app
}

fn b(app: &App) -> String {
    let layouts = document(app).layouts();
    if layouts.shows_b { layouts.shown.clone() } else { layouts.other.as_deref().unwrap().to_owned() }
}

#[test]
fn keeps_every_lesson_as_two_layouts() {
    for lesson in &Lesson::ALL {
        let app = self::lesson(lesson.number);
        assert_eq!(view(&app).lesson, Some(lesson));
        assert_eq!((document(&app).text(), document(&app).shows_b()), (lesson.text, Some(false)), "{}", lesson.word);
        assert_eq!(b(&app), lesson.variations[0].applied(lesson.text), "{}", lesson.word);
        assert!(document(&app).is_copy() && !document(&app).is_unsaved(), "{}: as it came there is nothing to save", lesson.word);
        assert!(document(&app).scene().is_some());
    }
}

#[test]
fn keeps_versions_as_layout_b() {
    let mut app = lesson(3);
    let flutter = Lesson::named("flutter").unwrap();
    send(&mut app, Command::ShowVersion(2));
    assert_eq!((document(&app).text(), b(&app)), (flutter.text, flutter.variations[2].applied(flutter.text)));
    assert!(!document(&app).is_unsaved());
    send(&mut app, Command::ToggleLayout);
    assert_eq!(document(&app).text(), flutter.variations[2].applied(flutter.text));
    assert!(!document(&app).is_unsaved(), "it came with the lesson");
    send(&mut app, Command::ShowVersion(1));
    assert_eq!((document(&app).text(), document(&app).shows_b()), (flutter.variations[1].applied(flutter.text).as_str(), Some(true)));
    send(&mut app, Command::ShowVersion(99));
    assert_eq!(b(&app), flutter.variations[1].applied(flutter.text), "there is no such version");
    // One step, and what is one's own is asked about.
    send(&mut app, Command::Undo);
    assert_eq!(document(&app).text(), flutter.variations[2].applied(flutter.text));
    send(&mut app, Command::SetText(format!("{}\n# mine\n", flutter.text)));
    assert!(document(&app).is_unsaved());
    send(&mut app, Command::ToStart);
    assert_eq!(view(&app).question, Some(Question::Unsaved));
    send(&mut app, Command::Discard);
    assert!(!document(&app).is_open() && view(&app).lesson.is_none());
    send(&mut app, Command::ShowVersion(0));
    assert!(!document(&app).is_open(), "without a lesson there are no versions");
}

#[test]
fn keeps_the_difference_of_two_layouts() {
    let mut app = lesson(1);
    let asked = |app: &App| Beside::of(document(app), view(app).lesson).unwrap();
    let beside = asked(&app);
    assert_eq!(beside.names, ["1.5 m from the wall", "3.5 m from the wall"]);
    send(&mut app, Command::Begin(Errand::Difference(Box::new(beside.clone()))));
    wait(&mut app, |results| results.difference.is_some());
    let difference = results(&app).difference.clone().unwrap();
    assert_eq!(difference.asked, beside);
    let comparison = difference.found.as_ref().unwrap();
    let change = comparison.figure(Kind::EarlyLevel).unwrap().cells[1].change.unwrap();
    assert!(change.told_apart && change.by.value < -4.0, "{change:?}");
    // What is asked is known as that of other layouts once one of them is another.
    send(&mut app, Command::ShowVersion(1));
    assert_ne!(asked(&app), beside);
    // A layout with mistakes is a sentence.
    let text = document(&app).text().to_owned();
    send(&mut app, Command::SetText(text.replace("[room]", "[rooms]")));
    send(&mut app, Command::ToggleLayout);
    let beside = asked(&app);
    send(&mut app, Command::Begin(Errand::Difference(Box::new(beside.clone()))));
    wait(&mut app, |results| results.difference.as_ref().is_some_and(|difference| difference.asked == beside));
    let why = results(&app).difference.as_ref().unwrap().found.as_ref().unwrap_err().clone();
    assert!(why.contains("Layout A has mistakes"), "{why}");
}
