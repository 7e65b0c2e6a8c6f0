//! Pages of what recordings said, as files where the command line puts them: takes of voices equally loud, the scene with fitted materials.
//!
//! A scene with fitted materials that was edited since it was written stays as it is; the new one gets a number (`roomwright::files`).

use std::path::{Path, PathBuf};

use roomwright::files::{self, Disk};
use roomwright::prove::fit::variant::PLANNED;
use roomwright::report;

use crate::document::Document;
use crate::proving::Proven;
use crate::recordings::Listed;
use crate::results::Results;
use crate::sheets::{folder, said};

/// Why nothing of the answer can be written; empty where it can.
pub(crate) fn why_not(document: &Document, results: &Results) -> &'static str {
    match &results.proof {
        _ if document.is_broken() => "The scene text has mistakes.",
        None => "Nothing was compared.",
        Some(proven) if !results.shows(&proven.scene) => "This is of the scene as it was.",
        Some(_) if document.path().is_none() => "The scene has no file yet: save it first, and the files go beside it.",
        Some(_) => "",
    }
}

/// The answer and the file of its scene, or why nothing of it is written.
fn ready<'a>(document: &'a Document, results: &'a Results) -> Result<(&'a Proven, &'a Path), String> {
    let why = why_not(document, results);
    match (results.proof.as_deref(), document.path()) {
        (Some(proven), Some(scene)) if why.is_empty() => Ok((proven, scene)),
        _ => Err(format!("Nothing was written. {why}")),
    }
}

/// Writes takes of voices equally loud, with their page, and says where they are.
pub(crate) fn voices(disk: &dyn Disk, document: &Document, results: &Results) -> Result<String, String> {
    let (proven, scene) = ready(document, results)?;
    let Some(voices) = &proven.voices else { return Err("Nothing was written: no voice was compared.".to_owned()) };
    let no = |why: &dyn std::fmt::Display| format!("Nothing was written: {why}.");
    let files = report::voice_files(&proven.scene, &voices.proof, &voices.heard).map_err(|why| no(&why))?;
    let folder = folder(scene);
    let takes = proven.listed.iter().flat_map(Listed::files).map(|file| file.path.as_path());
    if let Some(take) = files::replaced(disk, (&folder, "voice"), &files, takes).first() {
        return Err(no(&format!("{} is a take and would be replaced; move it elsewhere and list it anew", take.display())));
    }
    let written = files::write_all(disk, &folder, "voice", scene, &files).map_err(|failure| no(&failure))?;
    Ok(said(&written, &folder))
}

/// Writes the scene with fitted materials, with its page; says where they are, and gives the file of that scene.
pub(crate) fn fit(disk: &dyn Disk, document: &Document, results: &Results) -> Result<(String, PathBuf), String> {
    let (proven, scene) = ready(document, results)?;
    let Some((proof, variant)) = proven.proof.as_ref().zip(proven.variant.as_ref()) else {
        return Err("Nothing was written: no material was told surely enough.".to_owned());
    };
    let no = |failure: files::FileError| format!("Nothing was written: {failure}.");
    let files = report::prove_files(&proven.scene, proof, Some(variant));
    let folder = folder(scene);
    let written = files::write_all(disk, &folder, "prove", scene, &files).map_err(no)?;
    let planned = folder.join(PLANNED);
    let mut words = said(&written, &folder);
    if disk.list(&planned).is_ok() {
        // The plan of a variant that is no more.
        let emptied = files::write_all(disk, &planned, "place", scene, &[]).map_err(no)?;
        if !emptied.removed.is_empty() {
            words += &format!(" The plan in {} was of another fit and is gone.", planned.display());
        }
    }
    let variant = written.files.into_iter().next_back().unwrap_or_default();
    Ok((words, variant))
}
