//! Where corner panels go: the order that waves say, and what is said of a panel by it.
//!
//! *References.* As `findings::bass::corners`.
//!
//! *Limits.* Waves were run in the room without the rest of the plan, in cells twice the usual size.

use crate::scene::{Panel, PanelPlace};

use super::CORNER;

/// Where corner panels take most from the ring of the low end, by waves in the room without the rest of a plan.
#[derive(Clone, Debug, Default)]
pub struct Corners {
    /// Panels in the order that they hang in.
    pub steps: Vec<CornerStep>,
    /// Types that were ranked.
    pub ranked: Vec<String>,
    /// Why others were not, where something stood against it.
    pub why: Option<String>,
}

/// A panel of that order.
#[derive(Clone, Debug, PartialEq)]
pub struct CornerStep {
    /// The panel.
    pub panel: Panel,
    /// What it changes of the ring beside those before it, dB.
    pub change_db: f64,
}

impl Corners {
    /// Which of the steps a panel is.
    pub(super) fn step(&self, panel: &Panel) -> Option<usize> {
        let stands = |panel: &Panel| match panel.place {
            PanelPlace::Corner { corner, bottom } => Some((corner, bottom)),
            PanelPlace::Surface { .. } | PanelPlace::Cloud(_) => None,
        };
        let (corner, bottom) = stands(panel)?;
        let is_there =
            |step: &CornerStep| stands(&step.panel).is_some_and(|(there, height)| there == corner && (height - bottom).abs() < 1e-3);
        self.steps.iter().position(|step| step.panel.kind == panel.kind && is_there(step))
    }

    /// What a corner panel serves.
    pub(super) fn serves(&self, panel: &Panel) -> String {
        match self.step(panel) {
            Some(step) => format!("low end: of the bare room's ring {:.1} dB by waves", -self.steps[step].change_db),
            None if self.ranked.contains(&panel.kind) => "low end: not where waves say that it takes most".to_owned(),
            None => CORNER.1.to_owned(),
        }
    }

    /// What the places of a plan's corner panels rest on.
    #[must_use]
    pub fn note(&self) -> String {
        match (&self.why, self.steps.is_empty(), self.ranked.is_empty()) {
            (Some(why), ..) => format!("Corner panels stand by common practice: waves cannot rank them, since {why}."),
            (None, false, _) => "Corner panels go where they take most from the ring of the low end, one after the other in the room without the rest of the plan; types that are not fiber alone, \
                 and what waves see no use for, by common practice."
                .to_owned(),
            (None, true, false) => "By waves no corner panel takes anything from the ring of the low end: what hangs across corners stands by common practice.".to_owned(),
            (None, true, true) => "What hangs across corners stands by common practice: no type of fiber alone is there to be ranked by waves.".to_owned(),
        }
    }
}
