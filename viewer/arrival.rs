//! The early arrivals that can be chosen: the direct sound, reflections and what joins them, what is bent round edges; by their place in the findings.
//!
//! Reflections are those of the early window, which follow a panel that is dragged; direct sound and edges are of the findings behind, ear by ear.

use bevy::math::DVec3;
use roomwright::findings::{EarlyResponse, EdgeArrival, Reflection};
use roomwright::report::text::figures::{length, number};
use roomwright::report::text::response::{hidden, round};
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::study::{EarlyFindings, EarlyPair};

use crate::results::Results;
use crate::view::{ArrivalChoice, View, Which};

/// What is known of an arrival.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Found<'a> {
    /// A reflection.
    Reflection(&'a Reflection),
    /// The direct sound at an ear.
    Direct(&'a EarlyResponse),
    /// What is bent on its way to an ear.
    Edge(&'a EarlyResponse, &'a EdgeArrival),
}

/// The pair in front, early, with its number.
pub(crate) fn in_front<'a>(view: &View, results: &'a Results) -> Option<(usize, &'a EarlyPair)> {
    pair_in_front(view, &results.early.as_ref()?.value)
}

/// The same of findings that are given.
pub(crate) fn pair_in_front<'a>(view: &View, early: &'a EarlyFindings) -> Option<(usize, &'a EarlyPair)> {
    let is_shown = |pair: &EarlyPair| pair.source == view.source && pair.receiver == view.receiver;
    early.pairs.iter().enumerate().find(|(_, pair)| is_shown(pair))
}

/// What an ear of a pair hears early, with all phases.
pub(crate) fn response(results: &Results, pair: usize, ear: usize) -> Option<&EarlyResponse> {
    results.findings.as_ref()?.value.pairs.get(pair)?.early_responses.get(ear)
}

/// What was chosen, if it is there.
pub(crate) fn find(results: &Results, choice: ArrivalChoice) -> Option<Found<'_>> {
    let reflection = |row: usize| results.early.as_ref()?.value.pairs.get(choice.pair)?.reflections.get(row);
    match choice.which {
        Which::Reflection(row) => Some(Found::Reflection(reflection(row)?)),
        Which::Joined { row, member } => Some(Found::Reflection(reflection(row)?.joined_by.get(member)?)),
        Which::Direct { ear } => Some(Found::Direct(response(results, choice.pair, ear)?)),
        Which::Edge { ear, row } => {
            let response = response(results, choice.pair, ear)?;
            Some(Found::Edge(response, response.edges.get(row)?))
        }
    }
}

/// Whether what is known of it is of the scene on screen.
pub(crate) fn is_fresh(results: &Results, choice: ArrivalChoice) -> bool {
    match choice.which {
        Which::Reflection(_) | Which::Joined { .. } => results.early.as_ref().is_some_and(|known| results.is_fresh(known)),
        Which::Direct { .. } | Which::Edge { .. } => results.findings.as_ref().is_some_and(|known| results.is_fresh(known)),
    }
}

/// The points of its way, from the source to where it is heard, meters.
pub(crate) fn way(room: &Room, results: &Results, choice: ArrivalChoice) -> Option<Vec<DVec3>> {
    let pair = results.early.as_ref()?.value.pairs.get(choice.pair)?;
    let source = room.sources.get(pair.source)?.position;
    let (bends, end) = match find(results, choice)? {
        Found::Reflection(reflection) => (reflection.points_m.as_slice(), pair.point_m),
        Found::Direct(response) => (&[][..], response.position_m),
        // One that bends once has its point twice.
        Found::Edge(response, edge) => (&edge.points_m[..edge.bends as usize], response.position_m),
    };
    Some(std::iter::once(source).chain(bends.iter().copied().chain([end]).map(DVec3::from_array)).collect())
}

impl Found<'_> {
    /// When it arrives, ms after the direct sound, and its level re that, dB.
    pub(crate) fn arrives(self) -> [f64; 2] {
        match self {
            Self::Reflection(reflection) => [reflection.delay_ms, reflection.level_db],
            Self::Direct(response) => [0.0, response.direct.level_db],
            Self::Edge(_, edge) => [edge.delay_ms, edge.level_db],
        }
    }

    /// It in a few words, for a label at its way.
    pub(crate) fn words(self, scene: &Scene) -> String {
        let [delay, level] = self.arrives().map(|figure| number(figure, 1));
        match self {
            Self::Reflection(reflection) => format!("{delay} ms later, {level} dB, off {}", reflection.surfaces.join(", ")),
            Self::Direct(EarlyResponse { direct, at, .. }) if direct.hidden_by.is_empty() => {
                format!("direct to {at}, {}, {} ms after it left", length(direct.way_m, scene), number(direct.arrives_ms, 1))
            }
            Self::Direct(EarlyResponse { direct, at, .. }) => format!("direct to {at}, {}", hidden(direct)),
            Self::Edge(response, edge) => format!("{delay} ms later at {}, {level} dB, round {}", response.at, round(edge)),
        }
    }
}
