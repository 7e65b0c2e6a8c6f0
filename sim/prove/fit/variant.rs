//! The scene with fitted materials: its own text with materials of their own added, each with what it was, what it is now, and how sure that is.
//!
//! Only what is fitted changes, and of that only the octaves that are; comments, order and all else stay. A row of the table that becomes a material of its own keeps absorption, scattering, the law over the angle, and how it moves
//! as a whole.
//!
//! *Limits.* Absorption is written to a ten-thousandth.

use crate::absorbers::table;
use crate::bands::{Band, Bands};
use crate::scene::edit::{EditError, Edited, Editor};
use crate::scene::{AngleLaw, Core, Scene, UserMaterial};

use super::octave::OctaveFit;
use super::states::Material;
use super::{Changed, Made};

/// What the scene with fitted materials is called beside the page of recordings.
pub const FILE: &str = "fitted.toml";

/// The folder of its plan there.
pub const PLANNED: &str = "fitted";

/// The text of the variant and what it reads as, with what it changes; `None` where nothing is told.
///
/// # Errors
/// [`EditError`]: the text is not that of the scene, or would not read.
pub fn variant(
    text: &str,
    scene: &Scene,
    (materials, octaves): (&[Material], &[OctaveFit]),
) -> Result<(Option<Edited>, Vec<Changed>), EditError> {
    let mut editor = Editor::of(text, scene);
    let mut changed: Vec<Changed> = Vec::new();
    for (index, material) in materials.iter().enumerate() {
        if octaves.iter().all(|fit| fit.written[index].is_none()) {
            continue;
        }
        let name = free_name(&material.name, scene);
        let kind = scene.stock.iter().find(|kind| kind.name == material.name);
        let core = kind.and_then(|kind| match &kind.core {
            Core::Material(core) => Some(core.as_str()),
            Core::Porous(_) | Core::Layers(_) => None,
        });
        editor.add_material(&UserMaterial {
            name: name.clone(),
            ..fitted(scene, core.unwrap_or(&material.name), material, (index, octaves))
        });
        editor.exchange_material(&material.name, &name);
        if core.is_some() {
            editor.set_stock_material(&material.name, &name)?;
        }
        changed.push(Changed { material: made(scene, &material.name), written_as: name });
    }
    let edited = if changed.is_empty() { None } else { Some(editor.finish()?) };
    Ok((edited, changed))
}

/// A name that nothing else has.
fn free_name(name: &str, scene: &Scene) -> String {
    let is_free = |name: &String| table::find(name).is_none() && scene.materials.iter().all(|one| one.name != *name);
    let numbered = (2_u32..).map(|number| format!("{name}, fitted {number}"));
    std::iter::once(format!("{name}, fitted")).chain(numbered).find(is_free).unwrap_or_default()
}

/// Steps of absorption as it is written.
const PER_ONE: f64 = 1e4;

fn fitted(scene: &Scene, core: &str, material: &Material, (index, octaves): (usize, &[OctaveFit])) -> UserMaterial {
    let of = |band: Band| octaves.iter().find(|fit| fit.band == band).and_then(|fit| Some((fit, fit.written[index]?)));
    let absorption = |band: Band| {
        let own = material.octaves[band].absorption;
        Some((of(band).map_or(own, |(_, written)| written) * PER_ONE).round() / PER_ONE)
    };
    let told = Band::ALL.into_iter().filter_map(|band| {
        let (fit, written) = of(band)?;
        let sure = match fit.is_fitted(index) {
            true => format!("90 of 100 in {:.2} to {:.2}", fit.told[index].ends[0], fit.told[index].ends[1]),
            false => "by the factor of what cannot be told apart".to_owned(),
        };
        Some(format!("{} {:.2} (was {:.2}; {sure})", band.label(), written, material.octaves[band].absorption))
    });
    let own = scene.materials.iter().find(|one| one.name == core);
    UserMaterial {
        name: String::new(),
        absorption: Bands::from_fn(absorption),
        scattering: own.map_or_else(|| table::find(core).map_or(Bands::splat(0.1), table::Row::scattering), |one| one.scattering),
        law: own.map_or(AngleLaw::LocalReaction, |one| one.law),
        moves_like: own.map_or_else(
            || table::find(core).filter(|row| row.body.is_some()).map_or_else(String::new, |row| row.name.to_owned()),
            |one| one.moves_like.clone(),
        ),
        source: format!("fitted to a recording from \"{core}\": {}", told.collect::<Vec<_>>().join("; ")),
    }
}

/// What of a scene is made of a material, or how many panels are of a type.
#[must_use]
pub fn made(scene: &Scene, name: &str) -> Made {
    let row = |name: &str| table::find(name).map(|row| row.name);
    let is = |other: &str| other == name || row(other).is_some_and(|other| other == name);
    let floor = is(&scene.floor_material).then(|| "floor".to_owned());
    let walls = scene.walls.iter().filter(|wall| is(&wall.material)).map(|wall| wall.name.clone());
    let planes = scene.ceiling.iter().filter(|plane| is(&plane.material)).map(|plane| plane.name.clone());
    let openings = scene.openings.iter().filter(|opening| is(&opening.material)).map(|opening| opening.name.clone());
    let blocks = scene.blocks.iter().filter(|block| is(&block.material)).map(|block| block.name.clone());
    let hung: u32 = scene.panels.iter().filter(|panel| panel.kind == name).map(crate::scene::Panel::count).sum();
    let hung = (hung > 0).then(|| if hung == 1 { "1 panel".to_owned() } else { format!("{hung} panels") });
    let on = floor.into_iter().chain(walls).chain(planes).chain(openings).chain(blocks).chain(hung).collect();
    Made { name: name.to_owned(), on }
}
