//! What hanging takes, counted off the marks: fixings, stand-offs, rails, anchors, wire; and what each of them must hold.
//!
//! ```text
//! wire = sum over wires of (clear length + 2 loops);  of a secondary wire the longest that it may be;  a chain or link in place of what is too short for two loops
//! load of a fixing on a wall = mass / points of its panel
//! ```
//!
//! *Limits.* On walls the points of a panel are taken to share its mass; a maker's rating has its own factor in it.

use std::collections::BTreeMap;

use super::marking::{Mark, MarkKind, MarkedMembers, MarkedPanel, MarkedSurface};
use super::overhead::{Overhead, SLOPES};
use super::rails;
use super::words;
use crate::room::Room;
use crate::scene::making::{HeldBy, StructureKind};
use crate::scene::prices::Per;
use crate::scene::{Panel, PanelPlace, PanelType, Scene, StockKind};
use crate::units::LengthUnit;

/// What hanging takes, all panels together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hanging {
    /// Fixing points on walls and ceilings.
    pub fixing_points: u32,
    /// Of these, points of panels that clips hold.
    pub clip_points: u32,
    /// Of these, points of panels across corners.
    pub corner_points: u32,
    /// Of these, points with air behind, by the depth of that air in micrometers; where a rail takes part of it, by the rest.
    pub stand_offs: BTreeMap<u64, u32>,
    /// Lengths of rails, meters.
    pub rails_m: Vec<f64>,
    /// Where rails are screwed into members.
    pub rail_screws: u32,
    /// Points that clouds hang from.
    pub overhead_points: u32,
    /// Secondary wires.
    pub secondary_wires: u32,
    /// Wires too short for two loops: a chain or a link each.
    pub short_wires: u32,
    /// Ends of wires with loops, two each.
    pub wire_ends: u32,
    /// Wire together, meters.
    pub wire_m: f64,
    /// Of the fixing points on walls of members those that no member and no rail lies behind.
    pub hollow_points: u32,
    /// Anchors of wires in a slope, and how steep the steepest is, degrees.
    pub sloped_anchors: Option<(u32, f64)>,
    /// Largest load of a fixing point on a wall, kg; none where no mass is known.
    pub fixing_kg: Option<f64>,
    /// Breaking load that a fixing of what lies flat overhead must have, newtons.
    pub flat_n: Option<f64>,
    /// The same of every part of a wire that carries.
    pub wire_n: Option<f64>,
    /// The same of every part of a secondary wire.
    pub secondary_n: Option<f64>,
    /// The same of what takes the place of a wire that is too short for loops.
    pub short_n: Option<f64>,
    /// The same of a wire with loops, and of its clamps.
    pub looped_n: Option<f64>,
}

impl Hanging {
    /// Counted off the marks of what is to be hung.
    #[must_use]
    pub fn of(scene: &Scene, room: &Room, panels: &[Panel], surfaces: &[MarkedSurface], overhead: &[Overhead]) -> Self {
        let marked = || surfaces.iter().flat_map(|surface| surface.panels.iter().map(move |panel| (surface, panel)));
        let count = |kind: MarkKind| marked().map(|(_, panel)| counted(panel, kind)).sum::<u32>();
        let suspensions = || overhead.iter().filter_map(|overhead| overhead.suspension.as_ref());
        let flat = || overhead.iter().filter_map(|overhead| overhead.flat.as_ref());
        // Every wire: what is cut for it, what it must hold.
        let main = suspensions().flat_map(|suspension| suspension.points.iter().map(|point| (point.cut_m, suspension.needed_n)));
        let slack = suspensions().flat_map(|suspension| &suspension.secondary).map(|wire| (wire.cut_m, wire.needed_n));
        let beside = flat().flat_map(|flat| &flat.secondary).map(|wire| (wire.cut_m, wire.needed_n));
        let (looped, short): (Vec<_>, Vec<_>) = main.chain(slack).chain(beside).partition(|(cut, _)| cut.is_some());
        let kind = |panel: &MarkedPanel| scene.stock.iter().find(|kind| kind.name == panel.kind);
        let fixed = |wanted: &dyn Fn(&PanelType) -> bool| -> u32 {
            let of = marked().filter(|(_, panel)| kind(panel).is_some_and(wanted));
            of.map(|(_, panel)| counted(panel, MarkKind::Fixing)).sum()
        };
        let mut stand_offs = BTreeMap::new();
        for (_, panel) in marked() {
            let gap = match panels.get(panel.number as usize - 1).map(|panel| &panel.place) {
                Some(PanelPlace::Surface { gap, .. }) => (1e6 * rails::rest(*gap, panel)).round() as u64,
                _ => 0,
            };
            if gap > 0 {
                *stand_offs.entry(gap).or_insert(0) += counted(panel, MarkKind::Fixing);
            }
        }
        // Across a corner a panel has points on both walls.
        let points = |number: u32| -> u32 {
            let same = marked().filter(|(_, panel)| panel.number == number);
            same.map(|(_, panel)| counted(panel, MarkKind::Fixing)).sum()
        };
        let share = |panel: &MarkedPanel, kind: &PanelType| kind.mass.map(|mass| mass / f64::from(points(panel.number).max(1)));
        let on_walls = marked().filter(|(surface, panel)| !surface.is_overhead && counted(panel, MarkKind::Fixing) > 0);
        let largest = |loads: &mut dyn Iterator<Item = Option<f64>>| loads.flatten().reduce(f64::max);
        let secondary = suspensions().flat_map(|suspension| &suspension.secondary).map(|wire| wire.needed_n);
        let beside_n = flat().flat_map(|flat| &flat.secondary).map(|wire| wire.needed_n);
        let slopes = marked().filter_map(|(surface, panel)| {
            let slope = room.surfaces[surface.facet].chart.slope_deg();
            let anchors = counted(panel, MarkKind::Wire) + counted(panel, MarkKind::Secondary);
            (surface.is_overhead && slope > SLOPES && anchors > 0).then_some((anchors, slope))
        });
        let (wires, seconds) = (count(MarkKind::Wire), count(MarkKind::Secondary));
        Self {
            fixing_points: count(MarkKind::Fixing),
            clip_points: fixed(&|kind| kind.kind != StockKind::Corner && kind.held_by() == HeldBy::Clips),
            corner_points: fixed(&|kind| kind.kind == StockKind::Corner && kind.held_by() == HeldBy::Screws),
            stand_offs,
            rails_m: marked().flat_map(|(_, panel)| panel.rails.iter().map(|rail| rail.length_m)).collect(),
            rail_screws: marked().flat_map(|(_, panel)| &panel.rails).map(|rail| rail.screws_m.len() as u32).sum(),
            overhead_points: wires,
            secondary_wires: seconds,
            short_wires: short.len() as u32,
            wire_ends: 2 * looped.len() as u32,
            wire_m: looped.iter().filter_map(|(cut, _)| *cut).sum(),
            hollow_points: marked()
                .filter(|(surface, panel)| !surface.is_overhead && panel.rails.is_empty())
                .map(|(surface, panel)| panel.marks.iter().filter(|mark| is_hollow(surface, mark)).count() as u32)
                .sum(),
            sloped_anchors: slopes.reduce(|(all, steepest), (anchors, slope)| (all + anchors, steepest.max(slope))),
            fixing_kg: largest(&mut on_walls.map(|(_, panel)| share(panel, kind(panel)?))),
            flat_n: largest(&mut flat().map(|flat| flat.needed_n)),
            wire_n: largest(&mut suspensions().map(|suspension| suspension.needed_n)),
            secondary_n: largest(&mut secondary.chain(beside_n)),
            short_n: largest(&mut short.iter().map(|(_, needed)| *needed)),
            looped_n: largest(&mut looped.iter().map(|(_, needed)| *needed)),
        }
    }

    /// How much of what a supply goes by hanging takes.
    #[must_use]
    pub fn takes(&self, per: Per) -> f64 {
        match per {
            Per::FixingPoint => f64::from(self.fixing_points),
            Per::ClipPoint => f64::from(self.clip_points),
            Per::CornerPoint => f64::from(self.corner_points),
            Per::RailScrew => f64::from(self.rail_screws),
            Per::StandOff => f64::from(self.stand_offs.values().sum::<u32>()),
            Per::Rail => self.rails_m.iter().sum(),
            Per::OverheadPoint | Per::OverheadFitting => f64::from(self.overhead_points),
            Per::SecondaryWire | Per::SecondaryFitting => f64::from(self.secondary_wires),
            Per::ShortWire => f64::from(self.short_wires),
            Per::WireEnd => f64::from(self.wire_ends),
            Per::Wire => self.wire_m,
            Per::Panel | Per::Edge | Per::EdgeArea | Per::Face | Per::Cloth | Per::Joint => 0.0,
        }
    }

    /// What anchors in a slope must be.
    fn sloped(&self) -> Option<String> {
        let (count, degrees) = self.sloped_anchors?;
        Some(format!(
            "what is anchored in a slope ({count} wires) is of a kind that swivels, or that its maker rates for a pull {degrees:.0} degrees off its axis"
        ))
    }

    /// What to ask for of a supply that goes by this.
    #[must_use]
    pub fn ask_for(&self, per: Per, unit: LengthUnit) -> String {
        let force = |newtons: Option<f64>| newtons.map(|newtons| format!("breaks at {} or more", words::force(newtons, unit)));
        match per {
            Per::RailScrew => "through the rail and what covers the member at least 35 mm into it (common practice, no source)".to_owned(),
            Per::FixingPoint | Per::ClipPoint | Per::CornerPoint => {
                let wall = self.fixing_kg.map(|kg| format!("each rated for {} or more", words::mass_at_least(kg, unit)));
                let overhead = force(self.flat_n.filter(|_| per != Per::CornerPoint))
                    .map(|force| format!("of what lies flat overhead each {force}, and of a kind that locks"));
                let long = (per == Per::FixingPoint)
                    .then(|| "through stand-off and what covers the member at least 35 mm into it (common practice, no source), into a rail as far as it is thick".to_owned());
                let made_for_it = (self.hollow_points > 0 && per == Per::FixingPoint).then(|| {
                    format!(
                        "{} of them where no member lies: a fixing made for that wall, rated as much, in place of the screw",
                        self.hollow_points
                    )
                });
                wall.into_iter().chain(overhead).chain(long).chain(made_for_it).collect::<Vec<_>>().join("; ")
            }
            Per::StandOff => {
                let of = |(gap, count): (&u64, &u32)| format!("{count} of {}", words::print(*gap as f64 * 1e-6, unit));
                self.stand_offs.iter().map(of).collect::<Vec<_>>().join(", ")
            }
            Per::Rail => self.rails_m.iter().map(|meters| words::print(*meters, unit)).collect::<Vec<_>>().join(", "),
            Per::OverheadPoint => force(self.wire_n).into_iter().chain(self.sloped()).collect::<Vec<_>>().join("; "),
            Per::SecondaryWire => force(self.secondary_n).into_iter().chain(self.sloped()).collect::<Vec<_>>().join("; "),
            // What is not anchored in the ceiling has nothing to do with its slope.
            Per::OverheadFitting => force(self.wire_n).unwrap_or_default(),
            Per::SecondaryFitting => force(self.secondary_n).unwrap_or_default(),
            Per::ShortWire => force(self.short_n).unwrap_or_default(),
            // One roll and one kind of clamp for both.
            Per::Wire | Per::WireEnd => force(self.looped_n).unwrap_or_default(),
            Per::Panel | Per::Edge | Per::EdgeArea | Per::Face | Per::Cloth | Per::Joint => String::new(),
        }
    }
}

/// Whether a mark is on a wall of members and on none of them.
fn is_hollow(surface: &MarkedSurface, mark: &Mark) -> bool {
    let is_on = |members: &MarkedMembers| {
        let across = if members.upright { mark.left_m } else { mark.bottom_m };
        members.kind == StructureKind::Solid || members.at_m.iter().any(|at| (at - across).abs() <= 0.5 * members.width_m)
    };
    mark.what == MarkKind::Fixing && !surface.members.is_empty() && !surface.members.iter().any(is_on)
}

fn counted(panel: &MarkedPanel, kind: MarkKind) -> u32 {
    panel.marks.iter().filter(|mark| mark.what == kind).count() as u32
}
