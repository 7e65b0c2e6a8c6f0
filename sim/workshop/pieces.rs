//! What a panel is made of: core, frame, cloth, and what else goes into it, by its construction.
//!
//! ```text
//! cloth = (width + 2 (thickness + fold)) x (height + 2 (thickness + fold))
//! frame = 2 long sides + 2 short sides between them;  core = face - 2 x thickness of the timber
//! ```
//!
//! A panel across a corner of angle a closes a triangle: its long edges are beveled by a / 2 off square, so that they lie on both walls; its back is narrower than its front by
//! `2 t tan(a / 2)`, and the air behind it has the section `(w / (2 tan(a / 2)) - t)^2 tan(a / 2)`, w its width and t its thickness.
//!
//! *References.* Elementary geometry. The size of the cloth is common practice without a source: a board of 24 x 48 in, 2 in thick, with 4 in folded on the back takes 36 x 60 in.
//!
//! Its frame has sides that stand askew by that angle, boards `t / cos(a / 2)` wide on either face; both edges are sawn to the same slant, so that a board `s` thick takes
//! `t / cos(a / 2) + s tan(a / 2)` of stock. It has ends and a core cut as trapezoids out of the rectangles that are listed. What hangs flat or by wires has
//! cross-battens let into the back of its core, which fixings and eyes go into (`battens`).
//!
//! *Limits.* Frames are butted and have no other brace; a facing of sheets is cut to the face by whoever sells it.

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::battens::Battens;
use super::trouble::Trouble;
use super::words;
use crate::scene::making::{Construction, HeldBy, Making};
use crate::scene::prices::{Board, Cloth, Per, PriceList, Timber};
use crate::scene::{Core, CoreLayer, Filling, PanelPlace, PanelType, Scene, StockKind};
use crate::units::LengthUnit;

/// Thicknesses closer than this are the same, meters.
const SAME: f64 = 0.001;
/// Sheets laid on one another at most.
const LAYERS_MOST: u32 = 6;

/// How one type of panel is made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Made {
    /// Type.
    pub kind: String,
    /// How it comes into being.
    pub construction: Construction,
    /// What holds it.
    pub fixing: HeldBy,
    /// How many are to be made or bought.
    pub count: u32,
    /// Width and height of its face, meters, the shorter first.
    pub face_m: [f64; 2],
    /// Thickness, meters.
    pub thickness_m: f64,
    /// What one absorbs with.
    pub cores: Vec<CorePiece>,
    /// Sides of the frame of one: long ones, then what lies between them, ends and as many cross-battens as the panel with most of them has.
    pub frame: Vec<FrameSide>,
    /// Cross-battens that all of them together have fewer than so many each.
    pub battens_spare: u32,
    /// The cloth of one.
    pub cloth: Option<ClothPiece>,
    /// Where it goes across a corner.
    pub corner: Option<CornerCut>,
    /// What else one takes.
    pub supplies: Vec<SupplyUse>,
    /// Mass of one in kg: as the scene says, else from what it is made of where all of that is known.
    pub mass_kg: Option<f64>,
    /// Price of what is in one, without waste; none where it is bought.
    pub materials_cost: Option<f64>,
    /// Price of one that is bought, as the scene says.
    pub bought_price: Option<f64>,
}

/// Core of one panel out of one board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CorePiece {
    /// Name of the board.
    pub board: String,
    /// Width and height, meters.
    pub size_m: [f64; 2],
    /// How many lie on one another.
    pub layers: u32,
    /// Flow resistivity that the plan reckons with, Pa s/m2; none where the core is a row of the materials table.
    pub flow_resistivity_pa_s_m2: Option<f64>,
}

/// Side of a frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FrameSide {
    /// Name of the timber.
    pub timber: String,
    /// Length, meters.
    pub length_m: f64,
    /// How many one panel has.
    pub count: u32,
}

/// Cloth of one panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClothPiece {
    /// Name of the cloth.
    pub cloth: String,
    /// Width and height, meters.
    pub size_m: [f64; 2],
}

/// How a panel is cut to lie across a corner.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CornerCut {
    /// Angle between the walls, degrees.
    pub corner_deg: f64,
    /// How far off square its long edges are cut, degrees.
    pub bevel_deg: f64,
    /// Width of its back, meters.
    pub back_m: f64,
    /// Air behind it, m3.
    pub air_m3: f64,
    /// How far its front edges lie from the corner, along each wall, meters.
    pub leg_m: f64,
}

impl CornerCut {
    /// Width of the stock that a side takes, meters: of a panel so thick out of a board so thick, both edges sawn to the same slant.
    #[must_use]
    pub fn board(&self, thickness: f64, board: f64) -> f64 {
        let slant = self.bevel_deg.to_radians();
        thickness / slant.cos() + board * slant.tan()
    }
}

/// What one panel takes of something.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SupplyUse {
    /// Name.
    pub supply: String,
    /// How much of its unit.
    pub quantity: f64,
}

/// A type of the plan and how much of it.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// The type.
    pub kind: &'a PanelType,
    /// How many pieces.
    pub count: u32,
    /// Angle of the corner that it goes across, radians.
    pub corner: Option<f64>,
    /// Cross-battens of the one with most of them, where it is framed.
    pub battens: u32,
    /// Cross-battens that all of them together have fewer than so many each.
    pub battens_spare: u32,
}

/// Sizes of the cloth of a panel: face, thickness and fold on every side. Meters.
#[must_use]
pub fn cloth_size(face: DVec2, thickness: f64, fold: f64) -> DVec2 {
    face + DVec2::splat(2.0 * (thickness + fold))
}

/// How a panel lies across a corner of this angle (radians); `None` where its back would have no width.
#[must_use]
pub fn corner_cut(size: DVec2, thickness: f64, angle: f64) -> Option<CornerCut> {
    let tangent = (0.5 * angle).tan();
    let back = size.x - 2.0 * thickness * tangent;
    let depth = size.x / (2.0 * tangent) - thickness;
    (tangent.is_finite() && tangent > 0.0 && back > 0.0).then(|| CornerCut {
        corner_deg: angle.to_degrees(),
        bevel_deg: (0.5 * angle).to_degrees(),
        back_m: back,
        air_m3: depth * depth * tangent * size.y,
        leg_m: size.x / (2.0 * (0.5 * angle).sin()),
    })
}

/// Angle between the walls that meet at a corner of the outline, radians.
#[must_use]
pub fn corner_angle(scene: &Scene, corner: usize) -> Option<f64> {
    let count = scene.outline.len();
    let at = *scene.outline.get(corner)?;
    let to_back = (scene.outline[(corner + count - 1) % count] - at).try_normalize()?;
    let to_ahead = (scene.outline[(corner + 1) % count] - at).try_normalize()?;
    Some(to_back.dot(to_ahead).clamp(-1.0, 1.0).acos())
}

/// How one type is made, and what cannot be made of what is sold.
#[must_use]
pub fn made(scene: &Scene, prices: &PriceList, wanted: Wanted<'_>, troubles: &mut Vec<Trouble>) -> Made {
    let (kind, making) = (wanted.kind, &scene.making);
    let construction = kind.construction();
    let corner = wanted.corner.and_then(|angle| corner_cut(kind.size, kind.thickness, angle));
    let mut made = Made {
        kind: kind.name.clone(),
        construction,
        fixing: kind.held_by(),
        count: wanted.count,
        face_m: kind.size.to_array(),
        thickness_m: kind.thickness,
        cores: Vec::new(),
        frame: Vec::new(),
        battens_spare: 0,
        cloth: None,
        corner,
        supplies: Vec::new(),
        mass_kg: kind.mass,
        materials_cost: None,
        bought_price: kind.price,
    };
    if construction == Construction::Bought {
        return made;
    }
    let maker = Maker { kind, making, prices, unit: scene.unit };
    // Across a corner the sides stand askew, as the walls do: a board as deep as they are long.
    let askew = corner.map_or(1.0, |cut| 1.0 / cut.bevel_deg.to_radians().cos());
    let timber = (construction == Construction::WoodenFrame).then(|| maker.timber(corner, troubles)).flatten();
    if let Some(timber) = timber {
        made.frame = frame(kind, timber, askew, wanted.battens);
        made.battens_spare = if kind.kind == StockKind::Corner { 0 } else { wanted.battens_spare };
    }
    let core_size = kind.size - 2.0 * timber.map_or(0.0, |timber| timber.section.x) * DVec2::new(askew, 1.0);
    let mut cores: Vec<(&Board, u32)> = Vec::new();
    for (thickness, filling) in core_layers(kind) {
        let Some((board, layers)) = maker.board(core_size, thickness, troubles) else { continue };
        cores.push((board, layers));
        made.cores.push(CorePiece {
            board: board.name.clone(),
            size_m: core_size.to_array(),
            layers,
            flow_resistivity_pa_s_m2: filling.map(|filling| filling.resistivity().likely),
        });
    }
    let cloth = maker.cloth(askew, troubles);
    let cloth_size = cloth_size(kind.size, kind.thickness, making.cloth_return) + DVec2::new(2.0 * kind.thickness * (askew - 1.0), 0.0);
    made.cloth = cloth.map(|cloth| ClothPiece { cloth: cloth.name.clone(), size_m: cloth_size.to_array() });
    made.supplies = maker.supplies(&made);
    if made.mass_kg.is_none() {
        made.mass_kg = mass(prices, &cores, timber, cloth, core_size, &made);
    }
    made.materials_cost = Some(materials(prices, &made));
    made
}

/// Two long sides, two between them, and the cross-battens that fixings or eyes go into; `askew`: by how much wider a side is than it is thick.
fn frame(kind: &PanelType, timber: &Timber, askew: f64, battens: u32) -> Vec<FrameSide> {
    let side = |length_m: f64, count: u32| FrameSide { timber: timber.name.clone(), length_m, count };
    let across = kind.size.x - 2.0 * timber.section.x * askew;
    // Across a corner the fixings are in the long sides.
    let battens = if kind.kind == StockKind::Corner { 0 } else { battens };
    vec![side(kind.size.y, 2), side(across, 2 + battens)]
}

/// Thicknesses of what absorbs, meters, and what fills them where that is known, front first.
fn core_layers(kind: &PanelType) -> Vec<(f64, Option<Filling>)> {
    match &kind.core {
        Core::Layers(layers) => layers
            .iter()
            .filter_map(|layer| match layer {
                CoreLayer::Porous { thickness, filling } => Some((*thickness, Some(*filling))),
                _ => None,
            })
            .collect(),
        core => {
            let filling = if let Core::Porous(filling) = core { Some(*filling) } else { None };
            vec![(kind.thickness - kind.facing.as_ref().map_or(0.0, crate::scene::Facing::thickness), filling)]
        }
    }
}

/// What a type is made with.
struct Maker<'a> {
    kind: &'a PanelType,
    making: &'a Making,
    prices: &'a PriceList,
    unit: LengthUnit,
}

impl<'a> Maker<'a> {
    fn print(&self, meters: f64) -> String {
        words::print(meters, self.unit)
    }

    fn trouble(&self, id: &str, message: String, hint: &str) -> Trouble {
        Trouble::new(id, message, hint).of(&self.kind.name)
    }

    /// The board that makes up this thickness in the fewest layers, of those that the core comes out of where there are any.
    fn board(&self, core: DVec2, thickness: f64, troubles: &mut Vec<Trouble>) -> Option<(&'a Board, u32)> {
        let layered = |board: &'a Board| {
            let layers = (thickness / board.thickness).round();
            ((layers * board.thickness - thickness).abs() <= SAME && (1.0..=f64::from(LAYERS_MOST)).contains(&layers))
                .then_some((board, layers as u32))
        };
        let holds = |board: &Board| {
            let core = DVec2::new(core.min_element(), core.max_element());
            (board.size - core).min_element() >= -1e-9
        };
        let found = self.prices.boards.iter().filter_map(layered).min_by_key(|(board, layers)| (!holds(board), *layers));
        if found.is_none() {
            let message =
                format!("no board of the price list makes up the {} that \"{}\" absorbs with", self.print(thickness), self.kind.name);
            troubles.push(self.trouble(
                "no-board",
                message,
                "add a [[board]] of that thickness to the price list, or write `made = \"bought\"`",
            ));
        }
        found
    }

    /// The timber as deep as the sides of the frame, else the next deeper one.
    fn timber(&self, corner: Option<CornerCut>, troubles: &mut Vec<Trouble>) -> Option<&'a Timber> {
        let depth = |thick: f64| corner.map_or(self.kind.thickness, |cut| cut.board(self.kind.thickness, thick));
        let deep_enough = self.prices.timbers.iter().filter(|timber| timber.section.y >= depth(timber.section.x) - 0.003);
        let found = deep_enough.min_by(|a, b| a.section.y.total_cmp(&b.section.y));
        let fits = found.filter(|timber| self.kind.size.x > 2.0 * timber.section.x + 0.01);
        if fits.is_none() {
            let message = format!("no timber of the price list frames \"{}\", {} deep", self.kind.name, self.print(depth(0.0)));
            troubles.push(self.trouble(
                "no-timber",
                message,
                "add a [[timber]] of that depth to the price list, or write `made = \"hardened board\"`",
            ));
        }
        fits
    }

    /// The first cloth that the piece comes out of, whole.
    fn cloth(&self, askew: f64, troubles: &mut Vec<Trouble>) -> Option<&'a Cloth> {
        let more = DVec2::new(2.0 * self.kind.thickness * (askew - 1.0), 0.0);
        let piece = cloth_size(self.kind.size, self.kind.thickness, self.making.cloth_return) + more;
        // The shorter side lies across the roll; the direction of a pattern runs along the longer one.
        let found = self.prices.cloths.iter().find(|cloth| piece.min_element() <= cloth.width + 1e-9);
        if found.is_none() {
            let widest = self.prices.cloths.iter().map(|cloth| cloth.width).fold(0.0, f64::max);
            let [width, height] = piece.to_array().map(|meters| self.print(meters));
            let message = if widest > 0.0 {
                format!(
                    "the cloth of \"{}\" is a piece of {width} x {height}, and the widest roll has {}",
                    self.kind.name,
                    self.print(widest)
                )
            } else {
                format!("the price list has no cloth for \"{}\"", self.kind.name)
            };
            let hint = if widest > 0.0 {
                "sew two widths together with a seam where nobody looks, or turn the piece along a wider roll"
            } else {
                "add a [[cloth]] to the price list"
            };
            troubles.push(self.trouble("cloth-too-narrow", message, hint));
        }
        found
    }

    /// What one takes beside core, frame and cloth.
    fn supplies(&self, made: &Made) -> Vec<SupplyUse> {
        let per = |per: Per| base(per, made);
        self.prices
            .supplies
            .iter()
            .filter(|supply| supply.per.is_making() && supply.construction.is_none_or(|construction| construction == made.construction))
            .map(|supply| SupplyUse { supply: supply.name.clone(), quantity: supply.uses * per(supply.per) })
            .filter(|used| used.quantity > 0.0)
            .collect()
    }
}

/// How much of what a supply goes by one panel has.
fn base(per: Per, made: &Made) -> f64 {
    let face = DVec2::from_array(made.face_m);
    let around = 2.0 * (face.x + face.y);
    match per {
        Per::Panel => 1.0,
        Per::Edge => around,
        Per::EdgeArea => around * made.thickness_m,
        Per::Face => face.x * face.y,
        Per::Cloth => made.cloth.as_ref().map_or(0.0, |cloth| cloth.size_m[0] * cloth.size_m[1]),
        // Ends and cross-battens meet the long sides, each at both its ends.
        Per::Joint => made.frame.get(1).map_or(0.0, |across| 2.0 * f64::from(across.count)),
        hung => {
            debug_assert!(!hung.is_making(), "what goes into a panel is told above");
            0.0
        }
    }
}

/// Mass of one from its parts, kg, where those of core, frame and cloth are known.
fn mass(
    prices: &PriceList,
    cores: &[(&Board, u32)],
    timber: Option<&Timber>,
    cloth: Option<&Cloth>,
    core_size: DVec2,
    made: &Made,
) -> Option<f64> {
    if cores.is_empty() || (made.construction == Construction::WoodenFrame && timber.is_none()) {
        return None;
    }
    let boards: Option<f64> = cores
        .iter()
        .map(|(board, layers)| Some(board.mass? * core_size.x * core_size.y / (board.size.x * board.size.y) * f64::from(*layers)))
        .sum();
    let frame_length: f64 = made.frame.iter().map(|side| side.length_m * f64::from(side.count)).sum();
    // A board is ripped to the depth of the frame.
    let slant = made.corner.map_or(1.0, |cut| 1.0 / cut.bevel_deg.to_radians().cos());
    let ripped = |timber: &Timber| (made.thickness_m * slant / timber.section.y).min(1.0);
    let frame = timber.map_or(Some(0.0), |timber| Some(timber.mass? * ripped(timber) * frame_length / timber.length));
    let piece = made.cloth.as_ref()?;
    let left = |used: &SupplyUse| prices.supplies.iter().find(|supply| supply.name == used.supply)?.mass.map(|mass| mass * used.quantity);
    let supplies: f64 = made.supplies.iter().filter_map(left).sum();
    Some(boards? + frame? + cloth?.mass? * piece.size_m[0] * piece.size_m[1] + supplies)
}

/// Price of what is in one panel, nothing wasted.
fn materials(prices: &PriceList, made: &Made) -> f64 {
    let cores: f64 = made
        .cores
        .iter()
        .filter_map(|core| {
            let board = prices.boards.iter().find(|board| board.name == core.board)?;
            Some(board.price * core.size_m[0] * core.size_m[1] / (board.size.x * board.size.y) * f64::from(core.layers))
        })
        .sum();
    let frame: f64 = made
        .frame
        .iter()
        .filter_map(|side| {
            let timber = prices.timbers.iter().find(|timber| timber.name == side.timber)?;
            Some(timber.price * side.length_m * f64::from(side.count) / timber.length)
        })
        .sum();
    let cloth = made.cloth.as_ref().and_then(|piece| {
        let cloth = prices.cloths.iter().find(|cloth| cloth.name == piece.cloth)?;
        Some(cloth.price * piece.size_m[0] * piece.size_m[1] / cloth.width)
    });
    let supplies: f64 = made
        .supplies
        .iter()
        .filter_map(|used| {
            let supply = prices.supplies.iter().find(|supply| supply.name == used.supply)?;
            Some(supply.price * used.quantity / supply.pack)
        })
        .sum();
    cores + frame + cloth.unwrap_or(0.0) + supplies
}

/// The types of these places with how many pieces of each, in the order of the stock; those of the corners with the angle of the first of them.
#[must_use]
pub fn wanted<'a>(scene: &'a Scene, pieces: &[(String, u32)], battens: &Battens) -> Vec<Wanted<'a>> {
    let corner = |kind: &PanelType| {
        let across = scene.panels.iter().filter(|panel| panel.kind == kind.name);
        across.into_iter().find_map(|panel| match panel.place {
            PanelPlace::Corner { corner, .. } => corner_angle(scene, corner),
            _ => None,
        })
    };
    scene
        .stock
        .iter()
        .filter_map(|kind| {
            let count = pieces.iter().filter(|(name, _)| *name == kind.name).map(|(_, count)| count).sum();
            let corner = (kind.kind == StockKind::Corner).then(|| corner(kind)).flatten();
            (count > 0).then(|| Wanted {
                kind,
                count,
                corner,
                battens: battens.of(&kind.name),
                battens_spare: battens.spare(&kind.name, count),
            })
        })
        .collect()
}
