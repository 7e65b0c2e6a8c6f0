//! Types of panel that exclude one another: `instead_of` in a `[[stock]]`.
//!
//! A type and all that stand instead of it are a group, of which a plan hangs one. Groups are independent of each other: every choice from one goes with
//! every choice from the others. A type of which none is left offers nothing: it is no member, and what hangs already decides nothing.

use super::{PanelType, Scene};

/// Combinations that are planned at most.
pub const ALTERNATIVES_MOST: usize = 8;

impl Scene {
    /// Numbers in the stock of types that exclude one another, a list for each group that leaves something to choose; all in the order of the stock.
    #[must_use]
    pub fn groups(&self) -> Vec<Vec<usize>> {
        let standing_for = |kind: &PanelType| kind.instead_of.clone().unwrap_or_else(|| kind.name.clone());
        let mut groups: Vec<(String, Vec<usize>)> = Vec::new();
        for (index, kind) in self.stock.iter().enumerate().filter(|(_, kind)| kind.count > 0) {
            let name = standing_for(kind);
            match groups.iter_mut().find(|(other, _)| *other == name) {
                Some((_, members)) => members.push(index),
                None => groups.push((name, vec![index])),
            }
        }
        groups.into_iter().map(|(_, members)| members).filter(|members| members.len() > 1).collect()
    }

    /// What may be chosen: a type of each group, for every combination, the choice from the last group changing first. Where nothing excludes
    /// anything there is one, of no type.
    #[must_use]
    pub fn alternatives(&self) -> Vec<Vec<usize>> {
        let with_one_more = |chosen: &Vec<usize>, group: &[usize]| -> Vec<Vec<usize>> {
            group.iter().map(|&kind| chosen.iter().copied().chain([kind]).collect()).collect()
        };
        self.groups().iter().fold(vec![Vec::new()], |all, group| all.iter().flat_map(|chosen| with_one_more(chosen, group)).collect())
    }

    /// The scene with one of its [`Scene::alternatives`] in stock: of what that excludes there is none.
    #[must_use]
    pub fn with_alternative(&self, chosen: &[usize]) -> Self {
        let mut scene = self.clone();
        for kind in self.groups().into_iter().flatten().filter(|kind| !chosen.contains(kind)) {
            scene.stock[kind].count = 0;
        }
        scene
    }
}
