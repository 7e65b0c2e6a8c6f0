//! The direct sound and what is bent, chosen by a press and read row by row.

use roomwright::findings::Reflection;
use roomwright::report::text::figures::octave_heads;
use roomwright::report::text::response::{making, making_bend, making_direct};

use super::*;

/// Of the loudspeaker at the left, at the seat or the microphone.
fn pair(receiver: usize) -> usize {
    STUDIED.early.pairs.iter().position(|pair| pair.source == 0 && pair.receiver == receiver).unwrap()
}

/// What a row of a table says to a screen reader.
fn row(cells: &[String]) -> String {
    cells.iter().filter(|cell| !cell.is_empty()).map(String::as_str).collect::<Vec<_>>().join(", ")
}

/// At each ear of the seat and at the microphone the direct sound and all that is bent are rows; a press chooses one, another lets go, and what makes it is told
/// row by row.
#[test]
fn keeps_every_arrival_a_press_from_what_makes_it() {
    let mut tried = 0;
    for (receiver, ear) in [(0, 0), (0, 1), (1, 0)] {
        let pair = pair(receiver);
        let response = &STUDIED.findings.pairs[pair].early_responses[ear];
        let direct = (Which::Direct { ear }, "0.00, 0.0".to_owned(), making_direct(&STUDIED.scene, &response.direct));
        let edges = response.edges.iter().enumerate().map(|(row, edge)| {
            let begins = format!("{}, {}, {}", number(edge.delay_ms, 2), number(edge.level_db, 1), edge.bends);
            (Which::Edge { ear, row }, begins, making_bend(&STUDIED.scene, edge))
        });
        for (which, mut begins, rows) in std::iter::once(direct).chain(edges) {
            if receiver == 1 && matches!(which, Which::Direct { .. }) {
                begins = format!("0.00, {}", number(response.direct.level_db, 1));
            }
            let choice = ArrivalChoice { pair, which };
            let look = |view: &mut View| (view.receiver, view.ear) = (receiver, ear);
            let mut harness = shown(Desk::studied().with_view(look), hear_panel);
            assert_eq!(click(&mut harness, &begins), [Command::ChooseArrival(Some(choice))], "{begins}");
            let said = |(what, levels): &(String, [String; 8])| row(&[std::slice::from_ref(what), &levels[..]].concat());
            assert!(!says(&harness, &said(&rows[0])), "nothing is told before it is chosen");
            let mut harness = shown(harness.into_state().with_view(|view| view.arrival = Some(choice)), hear_panel);
            for row in &rows {
                assert!(says(&harness, &said(row)), "{row:?}");
            }
            assert_eq!(click(&mut harness, &begins), [Command::ChooseArrival(None)]);
            tried += 1;
        }
    }
    assert!(tried > 10, "{tried}");
}

/// What joins a reflection within a millisecond is listed once that is chosen, and chosen by a press as well: what makes it is told, and its way is drawn.
#[test]
fn keeps_what_joins_a_reflection_a_press_away() {
    let pair = pair(0);
    let reflections = &STUDIED.early.pairs[pair].reflections;
    let (index, reflection) = reflections.iter().enumerate().find(|(_, one)| one.joined_by.len() > 1).unwrap();
    let begins = |one: &Reflection| format!("{}, {}", number(one.delay_ms, 2), number(one.level_db, 1));
    let mut view = View { arrival: Some(ArrivalChoice { pair, which: Which::Reflection(index) }), ..View::default() };
    for (member, one) in reflection.joined_by.iter().enumerate() {
        let choice = ArrivalChoice { pair, which: Which::Joined { row: index, member } };
        let mut harness = shown(Desk::studied().with_view(|studied| studied.arrival = view.arrival), hear_panel);
        assert!(says(&harness, "Within a millisecond of it, counted with it"));
        assert_eq!(click(&mut harness, &begins(one)), [Command::ChooseArrival(Some(choice))]);
        view.arrival = Some(choice);
        let harness = shown(harness.into_state().with_view(|studied| studied.arrival = view.arrival), hear_panel);
        for (what, levels) in making(&STUDIED.scene, one) {
            assert!(says(&harness, &row(&[&[what], &levels[..]].concat())));
        }
    }
    view.choose_ear(1);
    assert!(matches!(view.arrival, Some(ArrivalChoice { which: Which::Joined { .. }, .. })), "an ear more or less does not matter to it");
}

/// The ear is chosen where there are two; what is bent is then another, the direct sound that of the other ear. A microphone is one ear.
#[test]
fn keeps_the_ear_that_is_looked_at() {
    let mut harness = shown(Desk::studied(), hear_panel);
    assert_eq!(click(&mut harness, "right ear"), [Command::ChooseEar(1)]);
    let pair = pair(0);
    let mut view = View { arrival: Some(ArrivalChoice { pair, which: Which::Direct { ear: 0 } }), ..View::default() };
    view.choose_ear(1);
    assert_eq!((view.ear, view.arrival), (1, Some(ArrivalChoice { pair, which: Which::Direct { ear: 1 } })));
    view.arrival = Some(ArrivalChoice { pair, which: Which::Edge { ear: 1, row: 0 } });
    view.choose_ear(0);
    assert_eq!(view.arrival, None);
    (view.receiver, view.ear) = (1, 1);
    view.keep_within(&STUDIED.scene);
    assert_eq!((view.receiver, view.ear), (1, 0));
    let harness = shown(Desk::studied().with_view(|view| view.receiver = 1), hear_panel);
    assert!(says(&harness, "at the microphone"));
}

/// Octaves where waves rule are marked over the combs as over every other table by octave.
#[test]
fn keeps_combs_marked_where_waves_rule() {
    let harness = shown(Desk::studied(), hear_panel);
    let heads = octave_heads(&STUDIED.findings);
    assert!(heads[0] == "63*" && heads[7] == "8k");
    assert!(says(&harness, &row(&[&["at".to_owned()], &heads[..]].concat())), "{heads:?}");
}
