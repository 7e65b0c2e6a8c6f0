//! From shapes and lines to what the engine draws: four meshes and a line set for each pen, made anew only when they change.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use bevy::asset::io::embedded::EmbeddedAssetRegistry;
use bevy::camera::visibility::{NoFrustumCulling, RenderLayers};
use bevy::ecs::system::SystemParam;
use bevy::gizmos::config::{GizmoLineConfig, GizmoLineStyle};
use bevy::gizmos::retained::Gizmo;
use bevy::pbr::{Material, MaterialPlugin};
use bevy::prelude::*;
use bevy::render::render_resource::AsBindGroup;
use bevy::shader::ShaderRef;
use bevy_egui::egui::Color32;
use roomwright::plan::SurfaceMap;
use roomwright::report::axis::Marks;
use roomwright::report::heatmap::Heat;
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::study::landing::STEP_S;
use roomwright::study::{Landing, MapChoice};

use super::camera::Sight;
use super::hand::Hand;
use super::heat::{self, Sheet};
use super::ink::{self, Pen, Strip};
use super::mesh::{self, Shape};
use super::{picture, point, proved, wave};
use crate::results::Results;
use crate::view::{CameraView, View};

/// What the window shows.
pub(super) const LAYER_ON_SCREEN: usize = 0;
/// What pictures as files show.
pub(super) const LAYER_IN_PRINT: usize = 1;

/// Under which names the shaders are shipped.
const PAPER_SHADER: &str = "viewer/stage/paper.wgsl";
const HEAT_SHADER: &str = "viewer/stage/heat.wgsl";

/// Paper: the colors of the corners.
#[derive(Asset, AsBindGroup, Clone, Debug, Default, TypePath)]
pub(super) struct PaperMaterial {
    is_glazed: bool,
}

impl Material for PaperMaterial {
    fn fragment_shader() -> ShaderRef {
        ShaderRef::Path(format!("embedded://{PAPER_SHADER}").into())
    }

    fn alpha_mode(&self) -> AlphaMode {
        if self.is_glazed { AlphaMode::Blend } else { AlphaMode::Opaque }
    }

    fn enable_prepass() -> bool {
        false
    }

    fn enable_shadows() -> bool {
        false
    }
}

/// Maps: the colors of a picture.
#[derive(Asset, AsBindGroup, Clone, Debug, TypePath)]
pub(super) struct HeatMaterial {
    #[texture(0)]
    #[sampler(1)]
    pub(super) map: Handle<Image>,
}

impl Material for HeatMaterial {
    fn fragment_shader() -> ShaderRef {
        ShaderRef::Path(format!("embedded://{HEAT_SHADER}").into())
    }

    fn enable_prepass() -> bool {
        false
    }

    fn enable_shadows() -> bool {
        false
    }
}

/// One of the four meshes.
#[derive(Clone, Copy, Component, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    /// Walls, floor, ceilings, blocks without a map.
    Shell,
    /// Surfaces with a map.
    Heat,
    /// What hangs.
    Panels,
    /// Loudspeakers, heads, microphones.
    People,
}

/// A line set and its pen.
#[derive(Clone, Copy, Component, Debug)]
pub(super) struct Line(Pen);

/// What the colors on screen stand for, and their scale.
#[derive(Clone, Copy, Debug, Default, PartialEq, Resource)]
pub(super) struct MapScale(pub(super) Option<(Heat, Marks)>);

/// Frames that are drawn although nothing asks for them, so that what was sent to the driver comes on screen.
#[derive(Clone, Copy, Debug, Resource)]
pub(super) struct Unsettled(pub(super) u32);

impl Default for Unsettled {
    fn default() -> Self {
        // Until the shaders stand.
        Self(30)
    }
}

pub(super) fn plug(app: &mut App) {
    if let Some(shipped) = app.world().get_resource::<EmbeddedAssetRegistry>() {
        shipped.insert_asset(PathBuf::new(), Path::new(PAPER_SHADER), include_bytes!("paper.wgsl"));
        shipped.insert_asset(PathBuf::new(), Path::new(HEAT_SHADER), include_bytes!("heat.wgsl"));
    }
    app.add_plugins((MaterialPlugin::<PaperMaterial>::default(), MaterialPlugin::<HeatMaterial>::default()))
        .init_resource::<MapScale>()
        .init_resource::<Unsettled>()
        .add_systems(Startup, set_up);
}

fn set_up(mut commands: Commands, mut papers: ResMut<Assets<PaperMaterial>>, mut gizmos: ResMut<Assets<GizmoAsset>>) {
    let (paper, glaze) = (papers.add(PaperMaterial { is_glazed: false }), papers.add(PaperMaterial { is_glazed: true }));
    let both = RenderLayers::from_layers(&[LAYER_ON_SCREEN, LAYER_IN_PRINT]);
    let hidden = (Visibility::Hidden, Transform::IDENTITY, NoFrustumCulling, both);
    commands.spawn((Piece::Shell, MeshMaterial3d(paper.clone()), hidden.clone()));
    commands.spawn((Piece::People, MeshMaterial3d(paper), hidden.clone()));
    commands.spawn((Piece::Panels, MeshMaterial3d(glaze), hidden.clone()));
    commands.spawn((Piece::Heat, hidden));
    for pen in Pen::ALL {
        let (width, depth_bias) = (pen.width(), depth_bias(pen));
        let style = match pen.dashes() {
            Some([line_scale, gap_scale]) => GizmoLineStyle::Dashed { gap_scale, line_scale },
            None => GizmoLineStyle::Solid,
        };
        let handle = gizmos.add(GizmoAsset::default());
        // The same lines once more for pictures at print size, which have more pixels to the line.
        for (layer, zoom) in [(LAYER_ON_SCREEN, 1.0), (LAYER_IN_PRINT, picture::ZOOM)] {
            let line_config = GizmoLineConfig { width: width * zoom, style, ..default() };
            commands.spawn((Line(pen), Gizmo { handle: handle.clone(), line_config, depth_bias }, RenderLayers::layer(layer)));
        }
    }
}

/// How far before what it lies on a line is drawn.
fn depth_bias(pen: Pen) -> f32 {
    match pen {
        Pen::Edge => -0.0006,
        Pen::Fine | Pen::Dashed | Pen::Fan => -0.0008,
        Pen::Spot | Pen::Wave | Pen::AsPredicted | Pen::Louder | Pen::Weaker | Pen::NotToldApart | Pen::Missing => -0.001,
        Pen::Chosen => -0.01,
        Pen::Refused => -1.0,
    }
}

/// What is painted on the surfaces.
#[derive(Clone, Debug)]
enum Painting {
    /// A map.
    Map(MapChoice, Arc<Vec<SurfaceMap>>),
    /// The energy that has landed, so many steps after the source sounded.
    Landing(Arc<Landing>, u32),
}

impl Painting {
    fn of(view: &View, results: &Results) -> Option<Self> {
        if results.slice.is_some() {
            // One scale of color at a time.
            return None;
        }
        if let Some(choice) = view.lands() {
            // In whole steps: between them nothing changes.
            let step = (view.time_ms / (1000.0 * STEP_S) + 1e-6).floor() as u32;
            return results.landing_of(choice).map(|known| Self::Landing(known.value.clone(), step));
        }
        let choice = view.painted_map()?;
        let known = results.maps.get(&choice).filter(|known| !known.value.is_empty())?;
        Some(Self::Map(choice, known.value.clone()))
    }

    fn is_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Map(choice, maps), Self::Map(of, others)) => choice == of && Arc::ptr_eq(maps, others),
            (Self::Landing(landing, step), Self::Landing(other, of)) => step == of && Arc::ptr_eq(landing, other),
            _ => false,
        }
    }

    /// The maps that are painted, what they show, and their scale.
    fn maps(&self, room: &Room, with_floor: bool) -> (Vec<SurfaceMap>, Heat, Marks) {
        match self {
            Self::Map(choice, maps) => (heat::painted(room, maps, with_floor), heat::heat_of(choice.quantity), heat::scale(room, maps)),
            Self::Landing(landing, step) => {
                let (maps, marks) = heat::landed(room, landing, f64::from(*step) * STEP_S);
                (maps, Heat::Landed, marks)
            }
        }
    }
}

/// What the meshes were made of.
#[derive(Default)]
pub(super) struct Made {
    scene: Option<Arc<Scene>>,
    room: Option<Arc<Room>>,
    painting: Option<Painting>,
    with_floor: bool,
    /// The surfaces that are painted.
    painted: Vec<usize>,
}

fn is_same<T>(one: Option<&Arc<T>>, other: Option<&Arc<T>>) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => Arc::ptr_eq(one, other),
        (None, None) => true,
        _ => false,
    }
}

/// What shapes and pictures are put into.
#[derive(SystemParam)]
pub(super) struct Store<'w, 's> {
    commands: Commands<'w, 's>,
    meshes: ResMut<'w, Assets<Mesh>>,
    images: ResMut<'w, Assets<Image>>,
    heats: ResMut<'w, Assets<HeatMaterial>>,
    pieces: Query<'w, 's, (Entity, &'static Piece)>,
}

impl Store<'_, '_> {
    fn put(&mut self, piece: Piece, shape: Shape) {
        let Some((entity, _)) = self.pieces.iter().find(|(_, known)| **known == piece) else { return };
        let visibility = if shape.indices.is_empty() { Visibility::Hidden } else { Visibility::Inherited };
        self.commands.entity(entity).insert(visibility);
        if !shape.indices.is_empty() {
            self.commands.entity(entity).insert(Mesh3d(self.meshes.add(shape.into_mesh())));
        }
    }

    fn paint(&mut self, sheet: &Sheet) {
        if let Some((entity, _)) = self.pieces.iter().find(|(_, piece)| **piece == Piece::Heat) {
            let map = self.images.add(sheet.image());
            self.commands.entity(entity).insert(MeshMaterial3d(self.heats.add(HeatMaterial { map })));
        }
    }
}

/// Makes the meshes anew when the room, what hangs in it or what is painted has changed: each only if it is another one.
pub(super) fn make_meshes(
    mut made: Local<Made>,
    view: Res<View>,
    results: Res<Results>,
    mut scale: ResMut<MapScale>,
    mut unsettled: ResMut<Unsettled>,
    mut store: Store,
) {
    let room = results.room.as_ref().map(|known| &known.value);
    let painting = Painting::of(&view, &results);
    let with_floor = view.camera == CameraView::Plan;
    let is_same_room = is_same(room, made.room.as_ref());
    let is_same_scene = is_same(results.scene.as_ref(), made.scene.as_ref());
    let is_same_painting = match (&painting, &made.painting) {
        (Some(one), Some(other)) => one.is_same(other) && with_floor == made.with_floor,
        (one, other) => one.is_none() && other.is_none(),
    };
    if is_same_room && is_same_scene && is_same_painting {
        return;
    }
    let painted = std::mem::take(&mut made.painted);
    *made = Made { scene: results.scene.clone(), room: room.cloned(), painting, with_floor, painted };
    unsettled.0 = unsettled.0.max(3);
    let (Some(room), Some(scene)) = (made.room.clone(), made.scene.clone()) else {
        [Piece::Shell, Piece::Heat, Piece::Panels, Piece::People].into_iter().for_each(|piece| store.put(piece, Shape::default()));
        (scale.0, made.painted) = (None, Vec::new());
        return;
    };
    if !is_same_room || !is_same_scene {
        store.put(Piece::Panels, mesh::panels(&scene, &room));
    }
    if is_same_room && is_same_painting {
        // A flat panel was dragged.
        return;
    }
    let sheet = made.painting.as_ref().map(|painting| {
        let (maps, heat, marks) = painting.maps(&room, with_floor);
        let sheet = Sheet::new(&room, &maps, heat, marks);
        (maps, sheet, (heat, marks))
    });
    scale.0 = sheet.as_ref().map(|(.., scale)| *scale);
    let is_painted = |surface: usize| sheet.as_ref().is_some_and(|(maps, sheet, _)| sheet.holds(maps, surface));
    let painted: Vec<usize> = (0..room.surfaces.len()).filter(|&surface| is_painted(surface)).collect();
    if !is_same_room || painted != made.painted {
        store.put(Piece::Shell, mesh::shell(&room, |surface| painted.binary_search(&surface).is_ok()));
    }
    if !is_same_room || !is_same_painting {
        // Moments of the same energy share places on the sheet, but telling so costs as much as laying them out.
        store.put(Piece::Heat, sheet.as_ref().map_or_else(Shape::default, |(maps, sheet, _)| sheet.shape(&room, maps)));
        if let Some((_, sheet, _)) = &sheet {
            store.paint(sheet);
        }
    }
    made.painted = painted;
    if !is_same_room {
        store.put(Piece::People, mesh::people(&room));
    }
}

fn color(color: Color32) -> Color {
    let [red, green, blue, _] = color.to_srgba_unmultiplied();
    Color::srgb_u8(red, green, blue)
}

/// Writes strips into the line sets of these pens.
fn write(strips: &[Strip], is_meant: impl Fn(Pen) -> bool, lines: &Query<(&Line, &Gizmo)>, gizmos: &mut Assets<GizmoAsset>) {
    for (Line(pen), gizmo) in lines.iter().filter(|(line, _)| is_meant(line.0)) {
        let Some(mut asset) = gizmos.get_mut(&gizmo.handle) else { continue };
        // Twice where two zooms share the lines: the second time writes the same.
        asset.clear();
        for strip in strips.iter().filter(|strip| strip.pen == *pen) {
            asset.linestrip(strip.points.iter().map(|at| point(*at)), color(strip.color));
        }
    }
}

/// Draws the lines anew when they are others.
pub(super) fn make_lines(
    mut drawn: Local<Vec<Strip>>,
    (view, results, sight, hand): (Res<View>, Res<Results>, Res<Sight>, Res<Hand>),
    lines: Query<(&Line, &Gizmo)>,
    mut gizmos: ResMut<Assets<GizmoAsset>>,
    mut unsettled: ResMut<Unsettled>,
) {
    if !(view.is_changed() || results.is_changed() || sight.is_changed() || hand.is_changed()) {
        return;
    }
    let mut strips = Vec::new();
    if let (Some(scene), Some(room)) = (&results.scene, &results.room) {
        let room = &room.value;
        let seen = ink::seen(room, &sight.pose);
        let own = if let CameraView::Ear(receiver) = view.camera { Some(receiver) } else { None };
        strips = ink::room_lines(room, &seen, own);
        strips.extend(ink::panel_lines(scene, room, &seen));
        strips.extend(ink::clear_lines(scene, room, &seen));
        strips.extend(ink::target_lines(scene, room, &view));
        strips.extend(ink::hand_lines(scene, room, &view, &hand));
        strips.extend(ink::spot_lines(room, &view, &results, &seen));
        strips.extend(ink::path_lines(room, &view, &results));
        strips.extend(ink::build_lines(&view, &results, &sight.pose));
        strips.extend(proved::lines(&view, &results));
    }
    if *drawn != strips {
        write(&strips, |pen| pen != Pen::Wave, &lines, &mut gizmos);
        *drawn = strips;
        unsettled.0 = unsettled.0.max(2);
    }
}

/// Draws the wavefront anew when its moment is another.
pub(super) fn make_wave(
    mut drawn: Local<Vec<Strip>>,
    view: Res<View>,
    results: Res<Results>,
    lines: Query<(&Line, &Gizmo)>,
    mut gizmos: ResMut<Assets<GizmoAsset>>,
    mut unsettled: ResMut<Unsettled>,
) {
    if !(view.is_changed() || results.is_changed()) {
        return;
    }
    let strips = results.room.as_ref().map_or_else(Vec::new, |known| wave::lines(&known.value, &view));
    if *drawn != strips {
        write(&strips, |pen| pen == Pen::Wave, &lines, &mut gizmos);
        *drawn = strips;
        unsettled.0 = unsettled.0.max(2);
    }
}
