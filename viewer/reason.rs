//! Why an edit was refused, in one sentence and in the words of the screen: the scene's rules speak to someone who types a scene, and quote
//! its keys; a hand on the mouse moves edges and middles.
//!
//! *Limits.* A hint that speaks of a key without a word on the screen is left out; what is wrong is always said.

use roomwright::scene::{EditError, Severity};

/// What the screen calls what a key of the scene means. Longer ones first.
const WORDS: [(&str, &str); 9] = [
    ("the third number of `size`", "its height"),
    ("move `center`", "move it"),
    ("`left`", "the left edge"),
    ("`bottom`", "the lower edge"),
    ("`center`", "its middle"),
    ("`underside`", "the underside"),
    ("`tilt`", "the tilt"),
    ("`base`", "its underside"),
    ("raise its `count`", "put more into stock"),
];

/// Why an edit was refused.
pub(crate) fn reason(error: &EditError) -> String {
    let EditError::Refused(refused) = error else { return error.to_string() };
    let first = refused.diagnostics.iter().find(|found| found.severity == Severity::Error);
    first.map_or_else(String::new, |found| {
        let message = on_screen(&found.message).unwrap_or_else(|| found.message.clone());
        match found.hint.as_deref().and_then(on_screen) {
            Some(hint) => format!("{message} - {hint}"),
            None => message,
        }
    })
}

/// What the screen calls what an option of the command line asks for.
const OPTIONS: [(&str, &str); 3] = [("`--channel`", "\"channel\""), ("--memory", "\"memory\""), ("--top", "\"up to\"")];

/// What was said elsewhere, with the screen's own words for what is asked of waves and recordings.
pub(crate) fn without_options(text: &str) -> String {
    OPTIONS.iter().fold(text.to_owned(), |text, (option, word)| text.replace(option, word))
}

/// What was refused elsewhere, without the parts of it that speak of keys.
pub(crate) fn without_keys(text: &str) -> String {
    let begins = |part: &str| part.split_once(": ").and_then(|(before, _)| on_screen(before));
    let parts: Vec<String> = text.split("; ").filter_map(|part| on_screen(part).or_else(|| begins(part))).collect();
    if parts.is_empty() { text.to_owned() } else { parts.join("; ") }
}

/// The same without keys; `None` where it cannot be said without.
fn on_screen(text: &str) -> Option<String> {
    let told = WORDS.iter().fold(text.to_owned(), |text, (key, word)| text.replace(key, word));
    // What is to be typed stands at the end: "it goes across a corner: `corner = ["north", "east"]`".
    let told = told.split_once(": `").map_or(told.as_str(), |(before, _)| before).to_owned();
    (!told.contains('`') && !told.contains("[[")).then_some(told)
}

#[cfg(test)]
mod tests {
    use roomwright::scene::{Cloud, Editor, Panel, PanelPlace};

    use super::*;

    fn refused(kind: &str, place: PanelPlace) -> String {
        let mut editor = Editor::new(include_str!("../scenes/attic-voice-room.toml")).unwrap();
        editor.add_panel(&Panel { kind: kind.into(), place });
        reason(&editor.finish().unwrap_err().into())
    }

    #[test]
    fn keeps_keys_of_the_scene_off_the_screen() {
        let on =
            |surface: &str, left: f64, bottom: f64| PanelPlace::Surface { surface: surface.into(), left, bottom, lying: false, gap: 0.05 };
        let cloud = |x: f64, underside: f64| {
            PanelPlace::Cloud(Cloud { tilt: [20.0, 0.0].into(), ..Cloud::level([x, 3.4].into(), underside, true) })
        };
        let all = [
            refused("wall panel", on("north", -0.1, 0.6)),
            refused("wall panel", on("north", 4.0, 0.6)),
            refused("wall panel", on("north", 2.0, 1.6)),
            refused("cloud", cloud(2.9, 2.3)),
            refused("cloud", cloud(4.3, 2.0)),
            refused("cloud", on("north", 2.0, 0.6)),
        ];
        for (said, words) in all.iter().zip([
            "the left edge is 0 or more",
            "the left edge is at most 3.8 m",
            "the lower edge is at most 1.2 m",
            "the underside is at most",
            "reaches through a wall - move it",
            "it goes below the ceiling",
        ]) {
            assert!(said.contains(words) && !said.contains('`'), "{said}");
        }
        assert_eq!(on_screen("add a [[seat]] with `ear`"), None);
        let nowhere = "fits at none of 9 places: too near (9); a smaller `--step` may find one";
        assert_eq!(without_keys(nowhere), "fits at none of 9 places: too near (9)");
        assert_eq!(without_keys("there is no cloud: it needs a [[stock]] with a `count`"), "there is no cloud");
        assert_eq!(
            without_keys("none of \"cloud\" is left in stock: raise its `count`"),
            "none of \"cloud\" is left in stock: put more into stock"
        );
    }
}
