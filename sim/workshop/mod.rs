//! From plan to Saturday: what to buy, what to cut, in which order, where each mark goes, what it bears, and what could hurt.
//!
//! ```text
//! Plan ─make→ pieces ─cut→ sheets, roll, lengths ─buy→ list and costs
//!      └mark→ surfaces with rows and fixing points ─hang→ loads and verdicts
//! ```
//!
//! [`build`] takes the scene as it stands and the panels that are to be made and hung. What cannot be made, marked or hung becomes a [`Trouble`]; all the rest is still told.
//!
//! *Limits.* No permit and no proof: local codes and who is licensed to judge rank above every figure here.

pub mod anchors;
pub mod battens;
pub mod bearing;
pub mod caution;
mod corners;
pub mod cuts;
pub mod cutting;
pub mod flat;
pub mod hanging;
pub mod held;
mod lanes;
pub mod lines;
pub mod marking;
pub mod overhead;
pub mod pieces;
pub mod rails;
mod rows;
pub mod schedule;
pub mod shop;
pub mod statics;
pub mod suspension;
pub mod trouble;
pub mod words;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use caution::Cautions;
pub use cuts::{BoardCuts, ClothCuts, CutPiece, TimberCuts};
pub use marking::{Mark, MarkKind, MarkedPanel, MarkedSurface};
pub use overhead::Overhead;
pub use pieces::Made;
pub use schedule::Schedule;
pub use shop::{Costs, Purchase};
pub use suspension::{Suspension, Verdict};
pub use trouble::Trouble;

use battens::Battens;
use hanging::Hanging;
use shop::Shopping;

use crate::room::Room;
use crate::scene::prices::PriceList;
use crate::scene::{Panel, PanelType, Scene};

/// What is to be made, bought, cut, marked and hung.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Build {
    /// Title of the scene.
    pub scene: String,
    /// A word behind every sum.
    pub currency: String,
    /// Whether the prices are invented examples.
    pub prices_are_invented: bool,
    /// How each type is made.
    pub types: Vec<Made>,
    /// Cores out of sheets.
    pub boards: Vec<BoardCuts>,
    /// Cloth off the roll.
    pub cloths: Vec<ClothCuts>,
    /// Frames out of lengths.
    pub timbers: Vec<TimberCuts>,
    /// The shopping list.
    pub purchases: Vec<Purchase>,
    /// What it costs.
    pub costs: Costs,
    /// When what is made; none where all is bought.
    pub schedule: Option<Schedule>,
    /// What is marked where.
    pub surfaces: Vec<MarkedSurface>,
    /// What hangs over heads.
    pub overhead: Vec<Overhead>,
    /// What could hurt, by the page where it could.
    pub cautions: Vec<Cautions>,
    /// What somebody has to look at.
    pub troubles: Vec<Trouble>,
}

/// What is built: the room with what hangs in it already, and what is to be hung.
#[derive(Clone, Copy, Debug)]
pub struct Job<'a> {
    /// The scene; its own panels hang already.
    pub scene: &'a Scene,
    /// Its room.
    pub room: &'a Room,
    /// What is to be hung, in hanging order.
    pub panels: &'a [Panel],
    /// Pieces that have to be made or bought: type and how many, where some of what is hung comes from elsewhere in the room.
    pub pieces: &'a [(String, u32)],
    /// What things are made of and cost.
    pub prices: &'a PriceList,
}

/// Everything for the shop and the ladder; the panels as they are marked, rows made even.
#[must_use]
pub fn build(job: Job<'_>) -> (Build, Vec<Panel>) {
    let Job { scene, room, prices, .. } = job;
    let making = &scene.making;
    let mut troubles = Vec::new();
    // How many battens a frame has, its marks tell; what it weighs with them, the frame.
    let first = Hung::of(job, &Battens::default(), &mut Vec::new());
    let battens = Battens::count(&first.panels, &first.surfaces, &first.overhead);
    let whole = Scene { panels: job.panels.to_vec(), ..scene.clone() };
    let wanted = pieces::wanted(&whole, job.pieces, &battens);
    let mut types: Vec<Made> = wanted.iter().map(|wanted| pieces::made(scene, prices, *wanted, &mut troubles)).collect();
    let boards = cuts::boards(prices, making, scene.unit, &types, &mut troubles);
    let cloths = cuts::cloths(prices, making, &types);
    let timbers = cuts::timbers(prices, making, scene.unit, &types, &mut troubles);
    // Of what cannot be made nobody knows what it costs.
    for made in &mut types {
        if troubles.iter().any(|trouble| trouble.kind.as_ref() == Some(&made.kind)) {
            made.materials_cost = None;
        }
    }
    let Hung { massed, panels, mut surfaces, overhead } = Hung::of(job, &battens, &mut troubles);
    troubles.extend(held::above_people(scene, room, &surfaces));
    troubles.extend(overhead.iter().filter(|overhead| !overhead.not_to_be_hung.is_empty()).map(not_to_be_hung));
    troubles.extend(overhead::to_look_at(scene, &overhead));
    name_panels(&mut troubles, &panels, scene, room);
    lanes::name(scene, &mut surfaces);
    let hanging = Hanging::of(&massed, room, &panels, &surfaces, &overhead);
    let cuts = shop::AllCuts { boards: &boards, cloths: &cloths, timbers: &timbers };
    let purchases = Shopping { prices, making, unit: scene.unit, made: &types, cuts, hanging: &hanging }.purchases();
    let costs = shop::costs(prices, &types, &purchases, &hanging);
    let schedule = schedule::schedule(making, &types);
    surfaces.sort_by_key(|surface| surface.facet);
    let cautions = caution::cautions(&massed, room, &types, &surfaces);
    let build = Build {
        scene: scene.name.clone(),
        currency: prices.currency.clone(),
        prices_are_invented: prices.invented,
        types,
        boards,
        cloths,
        timbers,
        purchases,
        costs,
        schedule,
        surfaces,
        overhead,
        cautions,
        troubles,
    };
    (build, panels)
}

/// Where everything is marked, and what it bears.
struct Hung {
    massed: Scene,
    panels: Vec<Panel>,
    surfaces: Vec<MarkedSurface>,
    overhead: Vec<Overhead>,
}

impl Hung {
    fn of(job: Job<'_>, battens: &Battens, troubles: &mut Vec<Trouble>) -> Self {
        let massed = with_masses(job.scene, job.prices, job.panels, battens);
        let mut panels = job.panels.to_vec();
        let mut surfaces = marking::surfaces(&massed, job.room, &mut panels, troubles);
        let overhead = overhead::overhead(&massed, job.room, &panels, &mut surfaces);
        Self { massed, panels, surfaces, overhead }
    }
}

/// The scene with the mass of every type that is known from what it is made of.
fn with_masses(scene: &Scene, prices: &PriceList, panels: &[Panel], battens: &Battens) -> Scene {
    let whole = Scene { panels: panels.to_vec(), ..scene.clone() };
    let one_each: Vec<(String, u32)> = scene.stock.iter().map(|kind| (kind.name.clone(), 1)).collect();
    let mass = |kind: &PanelType| {
        let wanted = pieces::wanted(&whole, &one_each, battens).into_iter().find(|wanted| wanted.kind.name == kind.name)?;
        pieces::made(scene, prices, wanted, &mut Vec::new()).mass_kg
    };
    let stock = scene.stock.iter().map(|kind| PanelType { mass: kind.mass.or_else(|| mass(kind)), ..kind.clone() }).collect();
    Scene { stock, ..scene.clone() }
}

fn not_to_be_hung(overhead: &Overhead) -> Trouble {
    Trouble::new(
        "not-to-be-hung",
        format!("panel {} under {} is not to be hung: {}", overhead.number, overhead.surface, overhead.not_to_be_hung.join("; ")),
        "leave it down until that is mended; where your code asks for a licensed person, let one hang it",
    )
    .of(&overhead.kind)
    .on(&overhead.surface, vec![overhead.number])
}

/// Troubles of a type name the panels of that type and where they hang.
fn name_panels(troubles: &mut [Trouble], panels: &[Panel], scene: &Scene, room: &Room) {
    for trouble in troubles.iter_mut().filter(|trouble| trouble.panels.is_empty()) {
        let of_type = panels.iter().enumerate().filter(|(_, panel)| Some(&panel.kind) == trouble.kind.as_ref());
        let (numbers, mut surfaces): (Vec<u32>, Vec<String>) =
            of_type.map(|(index, panel)| (index as u32 + 1, words::whereabouts(panel, scene, room))).unzip();
        surfaces.dedup();
        surfaces.sort();
        surfaces.dedup();
        trouble.panels = numbers;
        trouble.surface = (!surfaces.is_empty()).then(|| surfaces.join(", "));
    }
}
