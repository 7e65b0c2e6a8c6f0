//! `build`: the plan beside the scene or the scene itself, the price list beside the sheets or another, and the sheets.

use std::path::{Path, PathBuf};

use roomwright::files::{self, Disk as _, RealDisk};
use roomwright::report;
use roomwright::report::text::Extent;
use roomwright::scene::{self, PriceList, Severity};
use roomwright::study;

use super::arguments::Build;
use super::{Failure, finish, json, read, say, write_around};

/// What `place` calls its plan.
const PLAN: &str = "plan.toml";
/// What the prices are written as.
const PRICES: &str = "prices.toml";

/// Makes the sheets of a plan.
pub(super) fn build(given: &Build, out: Option<&Path>, extent: Extent) -> Result<(), Failure> {
    let (_, before) = read(&given.scene)?;
    let folder = out.map_or_else(|| files::sheets_folder(&given.scene, Path::new("")), PathBuf::from);
    let beside = folder.join(PRICES);
    let lies = given.prices.is_none() && RealDisk.canonical(&beside).is_ok();
    let (price_text, prices) = price_list(if lies { Some(&beside) } else { given.prices.as_deref() })?;
    if lies {
        say(&format!("the prices: {}", beside.display()));
    }
    let plan = match plan_file(given, &folder) {
        Some(path) => {
            say(&format!("the plan: {}", path.display()));
            Some(read(&path)?.1)
        }
        None => None,
    };
    let building = match &plan {
        Some(plan) => study::build(Some(&before), plan, &prices)?,
        None => study::build(None, &before, &prices)?,
    };
    let json = json(&building.build)?;
    let mut sheets = report::build_files(&building, given.paper());
    if !lies {
        sheets.push((PRICES.into(), price_text.into_bytes()));
    }
    let written = write_around("build", Some(&given.scene), Some(&folder), &sheets, if lies { &[PRICES] } else { &[] })?;
    finish(given.json, &written, &json, || report::text::build(&building.scene, &building.build, extent))
}

/// The plan that is named, else the one that `place` wrote for this scene.
fn plan_file(given: &Build, folder: &Path) -> Option<PathBuf> {
    if let Some(named) = &given.plan {
        return Some(named.clone());
    }
    let path = folder.join(PLAN);
    let itself = RealDisk.canonical(&path).ok().zip(RealDisk.canonical(&given.scene).ok()).is_some_and(|(plan, scene)| plan == scene);
    (!itself && RealDisk.canonical(&path).is_ok()).then_some(path)
}

/// The text and the list; without one, that of invented examples.
fn price_list(path: Option<&Path>) -> Result<(String, PriceList), Failure> {
    let Some(path) = path else { return Ok((scene::prices::EXAMPLE.to_owned(), scene::prices::example())) };
    let text = files::read_text(&RealDisk, path)?;
    let shown = path.display().to_string();
    let (found, list) = match scene::prices(&text) {
        Ok((list, warnings)) => (warnings, Some(list)),
        Err(mistakes) => (mistakes, None),
    };
    for one in &found {
        say(&one.render(&text, &shown));
    }
    match list {
        Some(list) => Ok((text, list)),
        None => {
            let count = found.iter().filter(|one| one.severity == Severity::Error).count();
            say(&format!("{count} {} in {shown}; nothing was written", if count == 1 { "error" } else { "errors" }));
            Err(Failure::Mistakes)
        }
    }
}
