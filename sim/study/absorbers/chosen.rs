//! One thing at a time, for whoever picks: the figures of a material, a type of panel or a build-up as typed, and what is typed as a type of panel for a scene's stock.
//!
//! *Limits.* Partitions, and cloth whose mass is not known, can be computed as typed but not be said in a scene. What is suspended becomes a cloud.

use glam::DVec2;

use super::compared::{of_finish, of_row, of_stock, of_written, own_source, row_mistake, whole};
use super::written::{self, Written};
use super::{Mistake, Sample};
use crate::absorbers::{Backing, table};
use crate::room::material_finish;
use crate::scene::{Core, CoreLayer, Diagnostic, Facing, PanelType, Scene, StockKind};

/// What may stand beside others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Choice {
    /// A material by its name: one of the scene's own, or else a row of the table.
    Material(String),
    /// A type of panel in the scene's stock, by its name.
    Stock(String),
    /// A build-up as the user typed it.
    Typed(String),
}

impl Choice {
    /// Its figures, under this number in tables and charts; the same as among others.
    ///
    /// # Errors
    /// Everything that is wrong with its text or its name.
    pub fn sample(&self, number: usize, scene: Option<&Scene>) -> Result<Sample, Vec<Mistake>> {
        let sample = match self {
            Self::Material(name) => scene
                .and_then(|scene| of_own_material(scene, name))
                .or_else(|| table::find(name).map(of_row))
                .ok_or_else(|| vec![row_mistake(0, name)])?,
            Self::Stock(name) => {
                let kind = scene.and_then(|scene| Some((scene, scene.stock.iter().find(|kind| kind.name == *name)?)));
                kind.map(|(scene, kind)| of_stock(scene, kind, None)).ok_or_else(|| vec![not_in_stock(name)])?
            }
            Self::Typed(text) => of_written(&read(text)?, None),
        };
        Ok(Sample { number, ..sample })
    }
}

/// What is typed as a type of panel of this name, one of them: its last layers of air are the gap behind it, a sheet before it is its facing.
///
/// # Errors
/// Everything that is wrong with the text, or what a scene's stock must know beside.
pub fn panel_type(text: &str, name: &str) -> Result<PanelType, Vec<Mistake>> {
    let written = read(text)?;
    let wrong = |message: &str, hint: &str| vec![mistake(text, message, hint)];
    let Some(size) = written.size else {
        return Err(wrong("a panel in stock has a size", "add size 60 x 120 cm"));
    };
    if written.build_up.cells {
        return Err(wrong("a panel in stock cannot have cells", "leave them out, or write that type in the scene text"));
    }
    let Some(layers) = written.parts.iter().cloned().collect::<Option<Vec<CoreLayer>>>() else {
        return Err(wrong("the cloth of a panel in stock has a mass", "write it like cloth 200 Pa s/m 0.3 kg/m2"));
    };
    let (layers, gap) = without_gap(layers);
    let thickness = layers.iter().map(CoreLayer::thickness).sum();
    let (facing, core) = behind_facing(layers);
    Ok(PanelType {
        made: None,
        fixing: None,
        name: name.to_owned(),
        kind: if written.build_up.backing == Backing::FreeAir { StockKind::Cloud } else { StockKind::Panel },
        size: DVec2::new(size.min_element(), size.max_element()),
        thickness,
        core,
        facing,
        gap,
        other_gaps: Vec::new(),
        count: 1,
        price: written.price_each(),
        drill: None,
        mass: None,
        scattering: None,
        instead_of: None,
        least_distance: 0.0,
    })
}

/// How what is typed is called: by what stands before its colon, or else by its parts.
///
/// # Errors
/// Everything that is wrong with the text.
pub fn typed_name(text: &str) -> Result<String, Vec<Mistake>> {
    read(text).map(|written| written.name)
}

fn read(text: &str) -> Result<Written, Vec<Mistake>> {
    let place = || "build-up".to_owned();
    let told = |diagnostic: Diagnostic| Mistake { place: place(), text: text.to_owned(), diagnostic };
    written::read(text).map_err(|found| found.into_iter().map(told).collect())
}

fn mistake(text: &str, message: &str, hint: &str) -> Mistake {
    whole("build-up".to_owned(), text, "key-missing", message.to_owned(), hint.to_owned())
}

fn not_in_stock(name: &str) -> Mistake {
    let message = format!("no type of panel in stock is called \"{name}\"");
    whole("stock".to_owned(), name, "stock-not-found", message, "name one of the scene's stock".to_owned())
}

/// A material of the scene as surfaces are computed with it.
fn of_own_material(scene: &Scene, name: &str) -> Option<Sample> {
    let material = scene.materials.iter().find(|material| material.name == *name)?;
    let (absorption, extrapolated) = table::fill(material.absorption, false);
    let sample = of_finish(name, &material_finish(scene, name, None), absorption, extrapolated);
    Some(Sample { source: own_source(scene, name), ..sample })
}

/// The layers without the air behind them, and how much that is, meters. What would be nothing but a membrane without its air keeps it: that is a box.
fn without_gap(mut layers: Vec<CoreLayer>) -> (Vec<CoreLayer>, f64) {
    let is_air = |layer: &CoreLayer| matches!(layer, CoreLayer::Air { .. });
    if layers.iter().all(|layer| is_air(layer) || layer.thickness() == 0.0) {
        return (layers, 0.0);
    }
    let front = layers.iter().rposition(|layer| !is_air(layer)).map_or(0, |last| last + 1);
    let behind = layers.split_off(front);
    (layers, behind.iter().map(CoreLayer::thickness).sum())
}

/// The sheet before the rest, if there is one, and the rest: a single layer of fiber where it is no more.
fn behind_facing(mut layers: Vec<CoreLayer>) -> (Option<Facing>, Core) {
    let facing = match layers[..] {
        [CoreLayer::Sheet(facing), _, ..] => Some(facing),
        _ => None,
    };
    layers.drain(..usize::from(facing.is_some()));
    let core = match layers[..] {
        [CoreLayer::Porous { filling, .. }] => Core::Porous(filling),
        _ => Core::Layers(layers),
    };
    (facing, core)
}
