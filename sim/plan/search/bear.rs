//! What hangs overhead goes where something carries it, if that is near: joists are where they are, and 50 mm are nothing to a sound.
//!
//! A panel overhead that the sheets would not let hang where it is tries the places round it, as it is and turned, and where none of them
//! carries it all that are free overhead, all else staying; of those against which least speaks it takes the one that costs the
//! room least.
//!
//! *Limits.* One panel after the other; a cloud as high or 100 mm lower, for wires to another member that are not too flat.
//! Where nothing carries it anywhere it stays, and the plan says that it is not to be hung.

use glam::DVec2;

use crate::layout::body::size_as_hung;
use crate::layout::candidates::Candidate;
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

/// So many layouts are tried where pieces are in one another's way.
const TRIED: usize = 60;

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
            if let Some(best) = self.best_first(layouts)?.into_iter().next() {
                self.hung = best;
            }
        }
        self.bear_together()
    }

    /// Takes down all that is carried elsewhere but not where it hangs, since one may be in the way of the other, and hangs it anew piece by piece.
    fn bear_together(&mut self) -> Result<(), Cancelled> {
        let (now, before) = (self.against(&self.hung), self.hung.clone());
        let is_down = |number: &usize| {
            let panel = &before[*number].panel;
            now[*number] > 0 && !self.stays(panel) && self.least_anywhere(panel).is_some_and(|least| least < now[*number])
        };
        let down: Vec<usize> = (0..before.len()).filter(is_down).collect();
        if down.len() < 2 {
            return Ok(());
        }
        let up: Vec<Hung> = (0..before.len()).filter(|number| !down.contains(number)).map(|number| before[number].clone()).collect();
        let (others, pieces) = (up.len(), down.iter().map(|&number| before[number].clone()).collect::<Vec<_>>());
        let mut tries = TRIED;
        let hung = self.hung_anew(up, &pieces, &mut tries)?;
        self.hung = before;
        if let Some(hung) = hung {
            // In the order in which they were hung.
            down.iter().zip(&hung[others..]).for_each(|(&number, piece)| self.hung[number] = piece.clone());
        }
        Ok(())
    }

    /// What hangs with these pieces besides, each where something carries it, those places first that leave least wrong; none where that was not found in so many tries.
    fn hung_anew(&mut self, up: Vec<Hung>, pieces: &[Hung], tries: &mut usize) -> Result<Option<Vec<Hung>>, Cancelled> {
        let [piece, rest @ ..] = pieces else { return Ok(Some(up)) };
        let last = up.len();
        let Some(least) = self.least_anywhere(&piece.panel) else { return Ok(None) };
        let most = self.against(&up).iter().sum::<usize>() + least + 1;
        self.hung = [&up[..], std::slice::from_ref(piece)].concat();
        let layouts = self.least_against(last, most, self.elsewhere(last).into_iter());
        for layout in self.best_first(layouts)? {
            if *tries == 0 {
                break;
            }
            *tries -= 1;
            if let Some(hung) = self.hung_anew(layout, rest, tries)? {
                return Ok(Some(hung));
            }
        }
        Ok(None)
    }

    /// How few reasons speak against a panel of this type by itself, wherever it hangs overhead.
    fn least_anywhere(&self, panel: &Panel) -> Option<usize> {
        let places = self.candidates(self.way_of(panel)?, &self.free_without_hung());
        let overhead = places.into_iter().filter(|place| place.overhead);
        let alone = |place: Candidate| bearing::against(self.scene, &self.ground.traced.room, &[place.panel])[0];
        overhead.map(alone).min()
    }

    /// These layouts, the one that leaves least wrong with the room first.
    fn best_first(&self, layouts: Vec<Vec<Hung>>) -> Result<Vec<Vec<Hung>>, Cancelled> {
        if layouts.is_empty() {
            return Ok(layouts);
        }
        let (_, weighed) = self.steps(&self.hung)?;
        let gains = self.gains(&weighed, &layouts)?;
        let mut ranked: Vec<(f64, Vec<Hung>)> = gains.iter().map(|gain| gain.whole).zip(layouts).collect();
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        Ok(ranked.into_iter().map(|(_, layout)| layout).collect())
    }

    /// How much speaks against each of these.
    fn against(&self, hung: &[Hung]) -> Vec<usize> {
        let panels: Vec<Panel> = hung.iter().map(|hung| hung.panel.clone()).collect();
        bearing::against(self.scene, &self.ground.traced.room, &panels)
    }

    /// What hangs with this panel elsewhere, where least speaks against all of it and less than `most` reasons, the nearest first: beside its place if there is one, else anywhere overhead.
    fn better_borne(&self, number: usize, most: usize) -> Vec<Vec<Hung>> {
        let own = &self.hung[number].panel;
        let step = measure_step(self.scene.unit);
        let turned = self.kind_of(own).and_then(|kind| turned(own, &self.scene.stock[kind], step));
        // Turned it looks another way: of equals as it is.
        let beside = nearby(own, step).into_iter().chain(turned.iter().flat_map(|turned| nearby(turned, step)));
        let beside = self.least_against(number, most, beside);
        if beside.is_empty() { self.least_against(number, most, self.elsewhere(number).into_iter()) } else { beside }
    }

    /// What hangs with this panel in one of these places, as above.
    fn least_against(&self, number: usize, most: usize, places: impl Iterator<Item = (i32, Panel)>) -> Vec<Vec<Hung>> {
        let mut found: Vec<(usize, i32, Vec<Hung>)> = Vec::new();
        for (far, panel) in places {
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

    /// All places overhead that are free for this panel beside the others, each with how far it is from its own, millimeters.
    fn elsewhere(&self, number: usize) -> Vec<(i32, Panel)> {
        let own = &self.hung[number].panel;
        let others: Vec<Hung> = self.hung.iter().enumerate().filter(|(other, _)| *other != number).map(|(_, hung)| hung.clone()).collect();
        let free = self.free_with(&others);
        let body = self.kind_of(own).and_then(|kind| free.body(own, &self.scene.stock[kind]).ok());
        let (Some(way), Some(body)) = (self.way_of(own), body) else { return Vec::new() };
        let places = self.candidates(way, &free).into_iter().filter(|place| place.overhead);
        places.map(|place| ((1000.0 * place.point.distance(body.front)) as i32, place.panel)).collect()
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
