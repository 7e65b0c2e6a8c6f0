//! How many cross-battens a framed panel takes: one under each row of its fixing points, or of the eyes of its wires, so that all of them go into wood.
//!
//! They lie across the shorter side, let into the back of the core between the long sides of the frame.
//!
//! *Limits.* What one panel of a type weighs and costs is reckoned with as many as the one that takes most.

use std::collections::BTreeMap;

use super::Build;
use super::marking::{MarkKind, MarkedPanel, MarkedSurface};
use super::overhead::Overhead;
use crate::scene::making::Construction;
use crate::scene::{Panel, PanelPlace};

/// Rows nearer to each other than this share a batten, meters.
const SAME: f64 = 0.02;
/// How many a type has of which nothing hangs flat or as a cloud.
const USUAL: u32 = 2;

/// Cross-battens of each type: of every panel that was counted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Battens(BTreeMap<String, Vec<u32>>);

impl Battens {
    /// Those of the panel of a type that takes most.
    #[must_use]
    pub fn of(&self, kind: &str) -> u32 {
        self.0.get(kind).and_then(|rows| rows.iter().copied().max()).unwrap_or(USUAL)
    }

    /// How many fewer all panels of a type take than so many each; 0 where others are made than were counted.
    #[must_use]
    pub fn spare(&self, kind: &str, made: u32) -> u32 {
        let counted = self.0.get(kind).filter(|rows| rows.len() == made as usize);
        counted.map_or(0, |rows| self.of(kind) * made - rows.iter().sum::<u32>())
    }

    /// Counted off the marks.
    #[must_use]
    pub fn count(panels: &[Panel], surfaces: &[MarkedSurface], overhead: &[Overhead]) -> Self {
        let mut all: BTreeMap<String, Vec<u32>> = BTreeMap::new();
        let mut take = |kind: &str, rows: u32| all.entry(kind.to_owned()).or_default().push(rows);
        for panel in surfaces.iter().flat_map(|surface| &surface.panels) {
            if matches!(panels.get(panel.number as usize - 1).map(|panel| &panel.place), Some(PanelPlace::Surface { .. })) {
                take(&panel.kind, rows(&places(panel)));
            }
        }
        for overhead in overhead {
            let Some(hung) = &overhead.suspension else { continue };
            if let Some(PanelPlace::Cloud(cloud)) = panels.get(overhead.number as usize - 1).map(|panel| &panel.place)
                && cloud.count() == 1
            {
                let axis = usize::from(cloud.turned);
                take(&overhead.kind, rows(&hung.points.iter().map(|point| point.on_back_m[axis]).collect::<Vec<_>>()));
            }
        }
        all.retain(|_, rows| rows.iter().any(|rows| *rows > 0));
        Self(all)
    }
}

/// Where the cross-battens of one panel go.
#[derive(Clone, Debug, PartialEq)]
pub struct Places {
    /// Number of the panel.
    pub panel: u32,
    /// Its type.
    pub kind: String,
    /// What the measures count from, as it is seen hung.
    pub from: &'static str,
    /// Middles of the battens, meters.
    pub middles_m: Vec<f64>,
}

/// The cross-battens of every framed panel that hangs flat or as a cloud of one, in hanging order.
#[must_use]
pub fn of_panels(panels: &[Panel], build: &Build) -> Vec<Places> {
    let is_framed = |kind: &str| build.types.iter().any(|made| made.kind == kind && made.construction == Construction::WoodenFrame);
    let mut all: Vec<Places> = Vec::new();
    for panel in build.surfaces.iter().flat_map(|surface| &surface.panels).filter(|panel| is_framed(&panel.kind)) {
        if matches!(panels.get(panel.number as usize - 1).map(|panel| &panel.place), Some(PanelPlace::Surface { .. })) {
            let from = if panel.height_m >= panel.width_m { "lower end" } else { "left end" };
            all.push(Places { panel: panel.number, kind: panel.kind.clone(), from, middles_m: middles(&places(panel)) });
        }
    }
    for overhead in build.overhead.iter().filter(|overhead| is_framed(&overhead.kind)) {
        let (Some(hung), Some(PanelPlace::Cloud(cloud))) =
            (&overhead.suspension, panels.get(overhead.number as usize - 1).map(|panel| &panel.place))
        else {
            continue;
        };
        if cloud.count() == 1 {
            let (axis, from) = if cloud.turned { (1, "edge at lower y") } else { (0, "edge at lower x") };
            let eyes: Vec<f64> = hung.points.iter().map(|point| point.on_back_m[axis]).collect();
            all.push(Places { panel: overhead.number, kind: overhead.kind.clone(), from, middles_m: middles(&eyes) });
        }
    }
    all.retain(|places| !places.middles_m.is_empty());
    all.sort_by_key(|places| places.panel);
    all
}

/// Where the fixing points of a panel lie along its longer side, meters.
#[must_use]
pub fn places(panel: &MarkedPanel) -> Vec<f64> {
    let fixings = panel.marks.iter().filter(|mark| mark.what == MarkKind::Fixing);
    let upright = panel.height_m >= panel.width_m;
    fixings.map(|mark| if upright { mark.bottom_m - panel.bottom_m } else { mark.left_m - panel.left_m }).collect()
}

/// The middles of the rows that places make up, meters, in rising order.
#[must_use]
pub fn middles(places: &[f64]) -> Vec<f64> {
    let mut sorted = places.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup_by(|a, b| (*a - *b).abs() < SAME);
    sorted
}

fn rows(places: &[f64]) -> u32 {
    middles(places).len() as u32
}
