//! What hangs overhead goes where something carries it, if that is near: joists are where they are, and 50 mm are nothing to a sound.
//!
//! A panel overhead that the sheets would not let hang where it is tries the places round it, as it is and turned, all else staying; of those against which least speaks it takes the one that costs the
//! room least.
//!
//! *Limits.* One panel after the other; a cloud as high or 100 mm lower, for wires to another member that are not too flat.
//! Where nothing near carries it it stays, and the plan says that it is not to be hung.

use glam::DVec2;

use crate::layout::body::size_as_hung;
use crate::layout::measure_step;
use crate::progress::Cancelled;
use crate::scene::{Panel, PanelPlace, PanelType};
use crate::workshop::bearing;

use super::{Hung, Search};

/// How far a panel goes for what carries it, meters.
const REACH: f64 = 0.2;

/// How much lower a cloud may hang for it, meters.
const LOWER: f64 = 0.1;

/// Of the places that least speaks against so many are weighed, the nearest.
const WEIGHED: usize = 24;

impl Search<'_> {
    /// Moves what hangs overhead to what carries it.
    pub(super) fn bear(&mut self) -> Result<(), Cancelled> {
        if self.progress.is_enough() || !bearing::is_known(self.scene, &self.ground.traced.room) {
            return Ok(());
        }
        for number in 0..self.hung.len() {
            let now = self.against(&self.hung);
            if now[number] == 0 || self.stays(&self.hung[number].panel) {
                continue;
            }
            let layouts = self.better_borne(number, now.iter().sum());
            if layouts.is_empty() {
                continue;
            }
            let (_, weighed) = self.steps(&self.hung)?;
            let gains = self.gains(&weighed, &layouts)?;
            let best = layouts.into_iter().zip(gains).max_by(|a, b| a.1.whole.total_cmp(&b.1.whole));
            if let Some((layout, _)) = best {
                self.hung = layout;
            }
        }
        Ok(())
    }

    /// How much speaks against each of these.
    fn against(&self, hung: &[Hung]) -> Vec<usize> {
        let panels: Vec<Panel> = hung.iter().map(|hung| hung.panel.clone()).collect();
        bearing::against(self.scene, &self.ground.traced.room, &panels)
    }

    /// What hangs with this panel beside its place, where least speaks against all of it and less than `most` reasons, the nearest first.
    fn better_borne(&self, number: usize, most: usize) -> Vec<Vec<Hung>> {
        let mut found: Vec<(usize, i32, Vec<Hung>)> = Vec::new();
        let step = measure_step(self.scene.unit);
        let own = &self.hung[number].panel;
        let turned = self.kind_of(own).and_then(|kind| turned(own, &self.scene.stock[kind], step));
        // Turned it looks another way: of equals as it is.
        let nearby = nearby(own, step).into_iter().chain(turned.iter().flat_map(|turned| nearby(turned, step)));
        for (far, panel) in nearby {
            let mut hung = self.hung.clone();
            hung[number].panel = panel;
            if self.are_legal(&hung) {
                let reasons = self.against(&hung).iter().sum();
                found.push((reasons, far, hung));
            }
        }
        let least = found.iter().map(|(reasons, ..)| *reasons).min().unwrap_or(most);
        found.retain(|(reasons, ..)| *reasons == least && least < most);
        found.sort_by_key(|(_, far, _)| *far);
        found.into_iter().take(WEIGHED).map(|(.., hung)| hung).collect()
    }
}

/// The same with its longer side the other way, round the same middle; none across a corner.
fn turned(panel: &Panel, kind: &PanelType, step: f64) -> Option<Panel> {
    let mut panel = panel.clone();
    match &mut panel.place {
        PanelPlace::Surface { left, bottom, lying, .. } => {
            let by = 0.5 * (size_as_hung(kind, *lying) - size_as_hung(kind, !*lying));
            let low = ((DVec2::new(*left, *bottom) + by) / step).round() * step;
            (*left, *bottom, *lying) = (low.x, low.y, !*lying);
        }
        PanelPlace::Cloud(cloud) => cloud.turned = !cloud.turned,
        PanelPlace::Corner { .. } => return None,
    }
    Some(panel)
}

/// A panel in the places beside its own, along one axis or the other: members run along one. Each with how many steps it is away.
fn nearby(panel: &Panel, step: f64) -> Vec<(i32, Panel)> {
    let moved = |[along, across, lower]: [i32; 3]| {
        let mut panel = panel.clone();
        let by = [along, across, lower].map(|steps| f64::from(steps) * step);
        match &mut panel.place {
            PanelPlace::Surface { left, bottom, .. } => (*left, *bottom) = (*left + by[0], *bottom + by[1]),
            PanelPlace::Cloud(cloud) => {
                cloud.center += DVec2::new(by[0], by[1]);
                cloud.underside -= by[2];
            }
            PanelPlace::Corner { .. } => {}
        }
        (along.abs() + across.abs() + lower, panel)
    };
    let of = |length: f64| (length / step).round() as i32;
    let beside = (1..=of(REACH)).flat_map(|far| [[far, 0], [-far, 0], [0, far], [0, -far]]);
    let lower = if matches!(panel.place, PanelPlace::Cloud(_)) { vec![0, of(LOWER)] } else { vec![0] };
    let places = std::iter::once([0, 0]).chain(beside).flat_map(|[along, across]| lower.iter().map(move |lower| [along, across, *lower]));
    places.map(moved).collect()
}
