//! The scenes of the repository, the starter and the reference: they read without a complaint, and print back the same.

use std::fs;
use std::path::PathBuf;

use proptest::prelude::*;
use roomwright::scene::{self, Diagnostic, FORMAT, Panel, PanelPlace, RoomSize, Scene};
use roomwright::units::LengthUnit;

/// Name and text of every file in `scenes/`.
fn shipped() -> Vec<(String, String)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes");
    let mut files: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files.into_iter().map(|path| (path.file_stem().unwrap().to_string_lossy().into_owned(), fs::read_to_string(path).unwrap())).collect()
}

fn rendered(diagnostics: &[Diagnostic], text: &str) -> String {
    diagnostics.iter().map(|found| found.render(text, "scene.toml")).collect::<Vec<_>>().join("\n")
}

/// The scene of a text that has no fault and no warning.
fn clean(text: &str) -> Scene {
    match scene::read(text) {
        Ok((scene, warnings)) if warnings.is_empty() => scene,
        Ok((_, found)) | Err(found) => panic!("{}\n{text}", rendered(&found, text)),
    }
}

#[test]
fn keeps_shipped_scenes_clean() {
    let shipped = shipped();
    assert!(shipped.len() >= 3);
    for (name, text) in &shipped {
        let scene = clean(text);
        assert!(scene.question.is_some(), "{name} asks nothing");
    }
    clean(FORMAT);
}

#[test]
fn keeps_scenes_through_print_and_read() {
    for (name, text) in shipped().into_iter().chain([("reference".to_owned(), FORMAT.to_owned())]) {
        let scene = clean(&text);
        let printed = scene::print(&scene);
        assert_eq!(clean(&printed), scene, "{name}");
        assert_eq!(scene::print(&clean(&printed)), printed, "{name}");
    }
}
