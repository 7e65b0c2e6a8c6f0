//! A set of panels as patches on the surfaces, for weighing without tracing anew.
//!
//! What hangs flat is a patch by itself. A corner panel is taken as a patch on both walls it touches, as wide as its legs; a cloud as
//! a patch on the ceiling above it, with the air behind it as its gap (at most 300 mm). Round what hangs flat lies its margin (`hanging`), but where a search asks for patches alone.
//!
//! *Limits.* Good enough to compare layouts with one another; the finished plan is traced anew with every panel as a body.

use std::sync::RwLock;

use glam::{DVec2, DVec3};

use crate::absorbers::Finish;
use crate::absorbers::sized::Rectangle;
use crate::geometry::Polygon;
use crate::hanging::{self, Flat, Hanging, Neighbors, Patch, margins, stands_free};
use crate::room::bodies::is_patch;
use crate::room::{Role, Room, panel_finish};
use crate::scene::{Cloud, Panel, PanelPlace, PanelType, Scene};
use crate::weigh::Linings;

/// Air behind a cloud counts up to this, meters.
const CLOUD_AIR_MAX: f64 = 0.3;

/// Gaps are told apart to this, meters.
const GAP_STEP: f64 = 0.01;

/// Makes patches of panels; remembers the finishes it has made.
pub struct Flush<'a> {
    scene: &'a Scene,
    room: &'a Room,
    neighbors: Neighbors,
    /// By type, share of its uncertainty that its absorption is off by; empty where none is.
    off: Vec<f64>,
    /// Index of the type, gap in steps, finish.
    made: RwLock<Vec<(usize, i64, Finish)>>,
}

/// What a panel covers on one surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Cover {
    /// Index of the surface.
    pub surface: usize,
    /// Region on its chart.
    pub region: Polygon,
    /// Air behind the panel, meters.
    gap: f64,
}

impl<'a> Flush<'a> {
    /// For the panels of `scene` on the surfaces of `room`.
    #[must_use]
    pub fn new(scene: &'a Scene, room: &'a Room) -> Self {
        Self { scene, room, neighbors: Neighbors::Heard, off: Vec::new(), made: RwLock::new(Vec::new()) }
    }

    /// The same where no panel is heard of another, see [`Neighbors`]: for comparing many layouts.
    #[must_use]
    pub fn for_trials(scene: &'a Scene, room: &'a Room) -> Self {
        Self { neighbors: Neighbors::Ignored, ..Self::new(scene, room) }
    }

    /// The same with the material of each type off by a share of its uncertainty, -1 to 1 ([`Finish::off_by`]): for asking whether a comparison of layouts hangs on tables.
    #[must_use]
    pub fn off_by(self, shares: Vec<f64>) -> Self {
        Self { off: shares, made: RwLock::new(Vec::new()), ..self }
    }

    /// The room.
    #[must_use]
    pub fn room(&self) -> &Room {
        self.room
    }

    /// The linings of the room with these panels.
    #[must_use]
    pub fn linings(&self, panels: &[Panel]) -> Linings {
        Linings::new(self.room, &self.hanging(panels))
    }

    /// The same without margins: quicker, and a panel that is moved changes nothing but where it was and is.
    #[must_use]
    pub fn without_margins(&self, panels: &[Panel]) -> Linings {
        Linings::new(self.room, &self.alone(panels))
    }

    /// The panels as patches without margins.
    #[must_use]
    pub fn alone(&self, panels: &[Panel]) -> Hanging {
        self.patches(panels).0
    }

    /// What early sound is weighed by while layouts are tried: the panels without margins, which hardly count in its octaves and would change all of a wall; `None` where it is weighed by
    /// all that hangs.
    #[must_use]
    pub fn for_early_trials(&self, panels: &[Panel]) -> Option<Hanging> {
        (self.neighbors == Neighbors::Ignored).then(|| self.alone(panels))
    }

    /// The panels as patches with their margins, but for those that the room has as bodies.
    #[must_use]
    pub fn hanging(&self, panels: &[Panel]) -> Hanging {
        let (mut hanging, flat, others) = self.patches(panels);
        hanging.margins = margins(self.room, &hanging.finishes, &flat, &others, self.neighbors);
        hanging
    }

    /// The panels as patches, those that hang flat, and the patches of all others.
    fn patches<'b>(&self, panels: &'b [Panel]) -> (Hanging, Vec<Flat<'b>>, Vec<Patch>) {
        let (mut hanging, mut flat, mut others) = (Hanging::default(), Vec::new(), Vec::new());
        let mut known: Vec<(usize, i64)> = Vec::new();
        for panel in panels {
            let Some(kind) = self.kind(panel) else { continue };
            if self.is_built(panel) {
                continue;
            }
            let is_flat = matches!(panel.place, PanelPlace::Surface { .. }) && !stands_free(self.scene.stock[kind].kind);
            for cover in self.covers(panel) {
                let key = (kind, steps(cover.gap));
                let finish = known.iter().position(|&other| other == key).unwrap_or_else(|| {
                    known.push(key);
                    hanging.finishes.push(self.finish(kind, cover.gap));
                    known.len() - 1
                });
                let outline = hanging::outline(self.scene, panel).filter(|_| is_flat);
                let rectangle =
                    outline.and_then(|(surface, outline)| Some((surface, Rectangle::new(outline.bounds().0, outline.bounds().1)?)));
                match rectangle {
                    // A panel over a seam is several patches.
                    Some((surface, rectangle))
                        if !flat.iter().any(|flat: &Flat<'_>| (flat.surface, flat.rectangle) == (surface, rectangle)) =>
                    {
                        flat.push(Flat { surface, rectangle, finish, is_body: false });
                    }
                    Some(_) => {}
                    None => others.push(Patch { surface: cover.surface, region: cover.region.clone(), finish }),
                }
                hanging.patches.push(Patch { surface: cover.surface, region: cover.region, finish });
            }
        }
        (hanging, flat, others)
    }

    /// What a panel covers, surface by surface.
    #[must_use]
    pub fn covers(&self, panel: &Panel) -> Vec<Cover> {
        let Some(kind) = self.kind(panel).map(|kind| &self.scene.stock[kind]) else { return Vec::new() };
        match panel.place {
            PanelPlace::Surface { gap, .. } => self.flat(panel, gap),
            PanelPlace::Corner { corner, bottom } => self.corner(kind, corner, bottom),
            PanelPlace::Cloud(cloud) => self.cloud(kind, &cloud),
        }
    }

    /// Finish of a type of panel with this much air behind it.
    #[must_use]
    pub fn finish(&self, kind: usize, gap: f64) -> Finish {
        let key = (kind, steps(gap));
        let find = |made: &[(usize, i64, Finish)]| made.iter().find(|entry| (entry.0, entry.1) == key).map(|entry| entry.2.clone());
        if let Some(finish) = self.made.read().ok().and_then(|made| find(&made)) {
            return finish;
        }
        let mut finish = panel_finish(self.scene, &self.scene.stock[kind], key.1 as f64 * GAP_STEP);
        if let Some(&share) = self.off.get(kind) {
            finish = finish.off_by(share);
        }
        if let Ok(mut made) = self.made.write()
            && find(&made).is_none()
        {
            made.push((key.0, key.1, finish.clone()));
        }
        finish
    }

    /// Whether a panel hangs in the scene already and stands in the room as a body: it is weighed as that.
    fn is_built(&self, panel: &Panel) -> bool {
        let kind = self.kind(panel).map(|kind| self.scene.stock[kind].kind);
        let is_flat = matches!(panel.place, PanelPlace::Surface { .. }) && kind.is_some_and(|kind| is_patch(kind, self.room.bodies));
        !is_flat && self.scene.panels.contains(panel)
    }

    fn kind(&self, panel: &Panel) -> Option<usize> {
        self.scene.stock.iter().position(|kind| kind.name == panel.kind)
    }

    fn flat(&self, panel: &Panel, gap: f64) -> Vec<Cover> {
        let Some((name, outline)) = hanging::outline(self.scene, panel) else { return Vec::new() };
        let pieces = |(surface, host): (usize, &crate::room::Surface)| {
            let regions = if inside(&host.outline, &outline) { vec![outline.clone()] } else { outline.intersection(&host.outline) };
            regions.into_iter().map(|region| Cover { surface, region, gap }).collect::<Vec<_>>()
        };
        self.room.named(name).flat_map(pieces).collect()
    }

    fn corner(&self, kind: &PanelType, corner: usize, bottom: f64) -> Vec<Cover> {
        let outline = &self.scene.outline;
        let count = outline.len();
        let (to_left, to_right) =
            (outline[(corner + 1) % count] - outline[corner], outline[(corner + count - 1) % count] - outline[corner]);
        // An isosceles triangle over the corner: legs on the walls, on average half its height of air behind the panel.
        let half = 0.5 * to_left.angle_to(to_right).abs();
        let leg = kind.size.x / (2.0 * half.sin());
        let gap = (0.5 * leg * half.cos() - kind.thickness).max(0.0);
        let mut covers = Vec::new();
        for (surface, face) in self.room.surfaces.iter().enumerate() {
            let Role::Wall(wall) = face.role else { continue };
            let next = (wall + 1) % count;
            // Seen from inside, wall i begins on the left at corner i + 1 and ends on the right at corner i.
            let left = if next == corner {
                0.0
            } else if wall == corner {
                outline[wall].distance(outline[next]) - leg
            } else {
                continue;
            };
            let low = DVec2::new(left, bottom);
            let region = Polygon::rectangle(low, low + DVec2::new(leg, kind.size.y));
            covers.push(Cover { surface, region, gap });
        }
        covers
    }

    fn cloud(&self, kind: &PanelType, cloud: &Cloud) -> Vec<Cover> {
        let mut covers = Vec::new();
        for (surface, face) in self.room.surfaces.iter().enumerate() {
            let Role::Ceiling(plane) = face.role else { continue };
            let height = |point: DVec2| self.scene.ceiling[plane].height_at(point);
            // The outline of the cloud, thrown straight up onto the facet's plane. Seen from below it turns the other way round.
            let mut corners = cloud.underside_corners(kind).map(DVec3::truncate);
            corners.reverse();
            let corners = corners.map(|corner| face.chart.position(corner.extend(height(corner))));
            let gap = (height(cloud.center) - cloud.underside - kind.thickness).clamp(0.0, CLOUD_AIR_MAX);
            let regions = Polygon::new(corners.to_vec()).intersection(&face.outline);
            covers.extend(regions.into_iter().filter(|region| region.area() > 1e-6).map(|region| Cover { surface, region, gap }));
        }
        covers
    }
}

fn steps(gap: f64) -> i64 {
    (gap / GAP_STEP).round() as i64
}

/// Whether a rectangle lies in a convex outline, which most do: then nothing needs to be cut.
fn inside(outline: &Polygon, rectangle: &Polygon) -> bool {
    outline.is_convex() && rectangle.corners.iter().all(|&corner| outline.contains(corner))
}
