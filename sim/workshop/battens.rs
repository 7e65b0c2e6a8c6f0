//! How many cross-battens a framed panel takes: one under each row of its fixing points, or of the eyes of its wires, so that all of them go into wood.
//!
//! They lie across the shorter side, let into the back of the core between the long sides of the frame.
//!
//! *Limits.* All panels of a type get as many as the one that takes most.

use std::collections::BTreeMap;

use super::marking::{MarkKind, MarkedPanel, MarkedSurface};
use super::overhead::Overhead;
use crate::scene::{Panel, PanelPlace};

/// Rows nearer to each other than this share a batten, meters.
const SAME: f64 = 0.02;
/// How many a type has of which nothing hangs flat or as a cloud.
const USUAL: u32 = 2;

/// Cross-battens of each type.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Battens(BTreeMap<String, u32>);

impl Battens {
    /// Those of a type.
    #[must_use]
    pub fn of(&self, kind: &str) -> u32 {
        self.0.get(kind).copied().unwrap_or(USUAL)
    }

    /// Counted off the marks.
    #[must_use]
    pub fn count(panels: &[Panel], surfaces: &[MarkedSurface], overhead: &[Overhead]) -> Self {
        let mut all = BTreeMap::new();
        let mut take = |kind: &str, rows: u32| {
            let most: &mut u32 = all.entry(kind.to_owned()).or_insert(0);
            *most = (*most).max(rows);
        };
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
        all.retain(|_, rows| *rows > 0);
        Self(all)
    }
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
