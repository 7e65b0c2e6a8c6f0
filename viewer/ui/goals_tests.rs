//! What is asked of a plan, as the step place shows and changes it.

use roomwright::scene::{Drilling, Goals, Term};

use super::*;
use crate::edits::{objection, tried};

fn goals_panel(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let scene = shown.document.scene().unwrap().clone();
    forms::goals::goals(ui, shown, &scene, &mut drafts.form, asked);
}

fn opened() -> Harness<'static, Desk> {
    let mut harness = shown(Desk::studied(), goals_panel);
    assert!(says(&harness, "reflections, 1, usual") && says(&harness, "speech, 0, usual"));
    assert!(click(&mut harness, "Ask for something else").is_empty());
    harness
}

/// What the form sends, and the goals of the scene after it.
fn changed(harness: &mut Harness<'_, Desk>) -> Goals {
    let asked = click(harness, "Change it");
    let [command @ Command::SetGoals(goals)] = &asked[..] else { panic!("{asked:?}") };
    assert_eq!(tried(&harness.state().document, command).unwrap().scene.goals, **goals);
    (**goals).clone()
}

#[test]
fn keeps_goals_as_they_are_typed() {
    let mut harness = opened();
    assert!(says(&harness, "usual 1") && says(&harness, "usual 0"));
    for (label, text) in [("likeness", "0.5"), ("speech", "2"), ("decay, seconds", "0.2"), ("to", "0.35"), ("budget", "150")] {
        retype(&mut harness, label, text);
    }
    click(&mut harness, "not into ...");
    assert!(find_begin(&harness, "Change it").accesskit_node().is_disabled(), "into which is not said");
    click(&mut harness, "north");
    click(&mut harness, "a plan may move");
    let goals = changed(&mut harness);
    let mut expected = Goals {
        decay_s: Some((0.2, 0.35)),
        move_hung: true,
        drilling: Drilling::NotInto(vec!["north".into()]),
        budget: Some(150.0),
        ..Goals::default()
    };
    (expected.weights[Term::Likeness], expected.weights[Term::Speech]) = (Some(0.5), Some(2.0));
    assert_eq!(goals, expected);
    // What is emptied says nothing any more.
    harness.state_mut().document.edit(|editor| editor.set_goals(&expected)).unwrap();
    let scene = harness.state().document.scene().unwrap().clone();
    harness.state_mut().results.scene = Some(scene);
    harness.run_ok();
    assert!(says(&harness, "A decay of 0.2 to 0.35 s is asked for; no holes in north; a budget of 150; what hangs may move."));
    assert!(says(&harness, "speech, 2") && !says(&harness, "speech, 1, usual"));
    click(&mut harness, "Ask for something else");
    for label in ["likeness", "decay, seconds", "to", "budget"] {
        retype(&mut harness, label, " ");
    }
    click(&mut harness, "anywhere");
    let goals = changed(&mut harness);
    assert_eq!((goals.decay_s, goals.budget, goals.weights[Term::Likeness]), (None, None, None));
    assert_eq!((goals.weights[Term::Speech], goals.drilling), (Some(2.0), Drilling::Anywhere));
}

/// What does not read is told beside it; what the scene's rules refuse is told in their words, and nothing is sent.
#[test]
fn keeps_goals_that_cannot_be_to_the_form() {
    let mut harness = opened();
    for (label, text, said) in [
        ("flutter", "much", "Not a number."),
        ("flutter", "NaN", "Not a number."),
        ("decay, seconds", "0.4", "Both, or none of them."),
        ("to", "0.2", "no decay is both at least 0.4 s and at most 0.2 s"),
        ("decay, seconds", "0.001", "out of range"),
        ("budget", "-5", "out of range"),
    ] {
        retype(&mut harness, label, text);
        assert!(says(&harness, said), "{label} {text}: {said}");
        assert!(find_begin(&harness, "Change it").accesskit_node().is_disabled());
        if label != "decay, seconds" && label != "to" {
            retype(&mut harness, label, " ");
        }
    }
    for label in ["decay, seconds", "to"] {
        retype(&mut harness, label, " ");
    }
    for term in Term::ALL {
        retype(&mut harness, term.words(), "0");
    }
    assert!(says(&harness, "every weight is 0"));
    let none = Goals { weights: roomwright::scene::Terms::from_fn(|_| Some(0.0)), ..Goals::default() };
    assert!(objection(&harness.state().document, &Command::SetGoals(Box::new(none))).is_some());
}
