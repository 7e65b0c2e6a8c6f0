//! The sheets of what is to be built, as files where the command line puts them: all of them whole, or none.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use bevy::prelude::{Res, ResMut};
use roomwright::files::{self, Disk};
use roomwright::scene::prices::{EXAMPLE, example};
use roomwright::{report, study};

use crate::document::Document;
use crate::results::{Known, Results};
use crate::view::{Step, View};

/// What the prices are written as, to be edited.
const PRICES: &str = "prices.toml";

/// Keeps what is to be built of what hangs, while that is looked at.
pub(crate) fn prepare(view: Res<View>, mut results: ResMut<Results>) {
    let Some(scene) = results.scene.clone().filter(|_| view.step == Step::Build && !results.is_sketch) else { return };
    if !results.build.as_ref().is_some_and(|known| results.is_fresh(known)) {
        let value = Arc::new(study::build(None, &scene, &example()));
        results.build = Some(Known { generation: results.generation, rays: 0, value });
    }
}

/// Where the sheets of a scene go: below its folder.
pub(crate) fn folder(scene: &Path) -> PathBuf {
    files::sheets_folder(scene, scene.parent().unwrap_or(Path::new("")))
}

/// Why none can be written; empty where they can.
pub(crate) fn why_not(document: &Document, results: &Results) -> &'static str {
    match results.building() {
        _ if document.is_broken() => "The scene text has mistakes.",
        _ if document.path().is_none() => "The scene has no file yet: save it first, and the sheets go beside it.",
        None => "There is nothing to build.",
        Some(_) => "",
    }
}

/// Writes them and says where they are, or why there are none.
pub(crate) fn write(disk: &dyn Disk, document: &Document, results: &Results) -> Result<String, String> {
    let (Some(building), Some(scene), "") = (results.building(), document.path(), why_not(document, results)) else {
        return Err(why_not(document, results).to_owned());
    };
    let mut sheets = report::build_files(building, None);
    sheets.push((PRICES.to_owned(), EXAMPLE.as_bytes().to_vec()));
    let folder = folder(scene);
    let written =
        files::write_all(disk, &folder, "build", scene, &sheets).map_err(|failure| format!("No sheet was written: {failure}."))?;
    let mut said = format!("Wrote {} files into {}.", written.files.len(), folder.display());
    for (yours, new) in &written.kept {
        said += &format!(" {} was changed by you and stays; the new one is {}.", yours.display(), new.display());
    }
    Ok(said)
}
