//! The sheets of what is to be built, as files where the command line puts them: all of them whole, or none.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use std::time::Duration;

use bevy::prelude::{Local, Real, Res, ResMut, Time};
use roomwright::files::{self, Disk, Written};
use roomwright::scene::prices::{self, EXAMPLE, PriceList, example};
use roomwright::{report, study};

use crate::document::Document;
use crate::recovery::Storage;
use crate::results::{Known, Results};
use crate::view::{Step, View};

/// What the prices are written as, to be edited.
const PRICES: &str = "prices.toml";

/// How often the price list beside the sheets is looked at.
const LOOK: Duration = Duration::from_secs(1);

/// The price list that lies beside the sheets; none where there is none, and that of invented examples is taken.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Prices {
    /// What is read from it.
    list: Option<PriceList>,
    /// Why it is not taken, though it lies there.
    pub(crate) trouble: Option<String>,
}

impl Prices {
    fn beside(disk: &dyn Disk, document: &Document) -> Self {
        let Some(path) = document.path().map(|scene| folder(scene).join(PRICES)) else { return Self::default() };
        if disk.canonical(&path).is_err() {
            return Self::default();
        }
        let told = |why: String| Self { list: None, trouble: Some(format!("{} is not taken: {why}", path.display())) };
        match files::read_text(disk, &path) {
            Ok(text) => match prices::prices(&text) {
                Ok((list, _)) => Self { list: Some(list), trouble: None },
                Err(mistakes) => {
                    let first = mistakes.first().map_or_else(String::new, |first| first.message.clone());
                    told(format!("{first} (`roomwright build` tells where)"))
                }
            },
            Err(failure) => told(failure.to_string()),
        }
    }

    /// Whether the list that lies there is the one that counts.
    pub(crate) fn is_own(&self) -> bool {
        self.list.is_some()
    }
}

/// Keeps what is to be built of what hangs, while that is looked at.
pub(crate) fn prepare(
    view: Res<View>,
    document: Res<Document>,
    storage: Res<Storage>,
    time: Res<Time<Real>>,
    mut last: Local<Duration>,
    mut results: ResMut<Results>,
) {
    if view.step != Step::Build || results.scene.is_none() || results.is_sketch {
        return;
    }
    let is_fresh = results.build.as_ref().is_some_and(|known| results.is_fresh(known));
    if is_fresh && time.elapsed() < *last + LOOK {
        return;
    }
    *last = time.elapsed();
    let prices = Prices::beside(&*storage.0, &document);
    if !is_fresh || prices != results.prices {
        figure(&mut results, prices);
    }
}

/// Works out what is to be built by these prices.
fn figure(results: &mut Results, prices: Prices) {
    let Some(scene) = results.scene.clone() else { return };
    let value = Arc::new(study::build(None, &scene, &prices.list.clone().unwrap_or_else(example)));
    results.build = Some(Known { generation: results.generation, rays: 0, value });
    results.prices = prices;
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

/// Writes them by the prices that lie there now, and says where they are, or why there are none.
pub(crate) fn write(disk: &dyn Disk, document: &Document, results: &mut Results) -> Result<String, String> {
    let (Some(scene), "") = (document.path(), why_not(document, results)) else { return Err(why_not(document, results).to_owned()) };
    figure(results, Prices::beside(disk, document));
    if let Some(trouble) = &results.prices.trouble {
        return Err(format!("No sheet was written: {trouble}."));
    }
    let Some(building) = results.building() else { return Err(why_not(document, results).to_owned()) };
    let mut sheets = report::build_files(building, None);
    let folder = folder(scene);
    let lies = disk.canonical(&folder.join(PRICES)).is_ok();
    if !lies {
        sheets.push((PRICES.to_owned(), EXAMPLE.as_bytes().to_vec()));
    }
    let lying: &[&str] = if lies { &[PRICES] } else { &[] };
    let written = files::write_around(disk, &folder, "build", scene, &sheets, lying)
        .map_err(|failure| format!("No sheet was written: {failure}."))?;
    Ok(said(&written, &folder))
}

/// What was written, and what of it under another name.
pub(crate) fn said(written: &Written, folder: &Path) -> String {
    let mut said = format!("Wrote {} files into {}.", written.files.len(), folder.display());
    for (yours, new) in &written.kept {
        said += &format!(" {} was changed by you and stays; the new one is {}.", yours.display(), new.display());
    }
    said
}
