//! Which cloud is studied, where it hangs, and which heights there are; or what is in the way.
//!
//! **Which**: the cloud that hangs in the scene, taken down for the comparison while all else stays; otherwise the first type of cloud with any in stock. **Where**: over the mean of the
//! ceiling's mirror points of the judged pairs, or as near to it as it fits with at least half of the heights that the ceiling leaves it there, its longer side the way that covers more of their first Fresnel zones in 1-8 kHz. **Heights**: from
//! the lowest that leaves headroom below its lowest edge up to where its highest edge touches the ceiling, in marks of a tape (1 mm, a sixteenth of an inch) but for the last.
//!
//! *References.* Common practice, no source: the headroom and the distances kept are those of `layout::free`.
//!
//! *Limits.* The nearest place that fits is taken, not the one that covers most.

use glam::DVec2;

use crate::bands::Bands;
use crate::layout::free::{Free, HEADROOM};
use crate::layout::{Refusal, measure_step};
use crate::room::Room;
use crate::scene::diagnostic::nearest;
use crate::scene::{Cloud, Panel, PanelPlace, PanelType, Scene, StockKind};
use crate::units::{Length, LengthUnit};
use crate::weigh::flat_weights;

use super::fresnel::{CeilingBounce, mean_covered};
use super::{CloudAsked, LeftOut};

/// Farther than this from where a cloud is wanted no place is tried, meters.
const SEARCH_REACH: f64 = 3.0;

/// Within so many meters of where a cloud is wanted it looks for the most heights, and how far apart places are for that.
const HIGHER_WITHIN: (f64, f64) = (0.6, 0.05);

/// A place leaves at least this share of them, or below a slope there would be next to none.
const HEIGHTS_LEFT: f64 = 0.5;

/// Reasons that a sentence holds at most, the most frequent first.
const REASONS: usize = 3;

/// Most heights of one study.
pub const HEIGHTS_MOST: u32 = 200;

/// Why no cloud can be studied.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CannotHang {
    /// The scene speaks of no cloud.
    #[error(
        "there is no cloud to hang: the scene needs a [[stock]] with `kind = \"cloud\"` and a `count`, or a cloud among its [[panel]]s"
    )]
    NoCloud,
    /// Types of cloud, but none of them left.
    #[error("none of {0} is left in stock: raise its `count`")]
    NoneLeft(String),
    /// No such type.
    #[error("there is no \"{name}\" in stock{instead}")]
    UnknownType {
        /// What was asked for.
        name: String,
        /// What there is, as the end of the sentence.
        instead: String,
    },
    /// A type of another kind.
    #[error("\"{name}\" is no cloud{instead}")]
    NotACloud {
        /// What was asked for.
        name: String,
        /// What there is, as the end of the sentence.
        instead: String,
    },
    /// No height leaves headroom.
    #[error(
        "the ceiling is too low: {place} it is at {ceiling}, and a cloud {thick} thick that leaves {headroom} of headroom needs {needed}"
    )]
    TooLow {
        /// Where that is, `where it is highest` or `over [1, 2]`.
        place: String,
        /// How high the ceiling is there.
        ceiling: String,
        /// Thickness of the cloud.
        thick: String,
        /// Headroom to leave.
        headroom: String,
        /// Both together.
        needed: String,
    },
    /// Nowhere a place.
    #[error("\"{kind}\" fits nowhere within {reach} of the ceiling's first reflection points: {reasons}")]
    Nowhere {
        /// Its type.
        kind: String,
        /// How far places were tried.
        reach: String,
        /// What was in the way most often.
        reasons: String,
    },
    /// None of the heights.
    #[error("at [{center}] \"{kind}\" fits at none of {count}: {reasons}")]
    NoHeight {
        /// Its type.
        kind: String,
        /// Middle of its underside on the floor plan.
        center: String,
        /// `25 heights from 2 m to 2.35 m`.
        count: String,
        /// What was in the way most often.
        reasons: String,
    },
    /// What was asked makes no sense.
    #[error("{0}")]
    Asked(String),
}

/// The cloud to study and the scene without it.
pub(super) struct Chosen {
    /// Its panels are back in stock.
    pub(super) scene: Scene,
    /// Number of its type.
    pub(super) kind: usize,
    /// Where it hangs in the scene as it is, and its number among the panels.
    pub(super) hung: Option<(usize, Cloud)>,
}

/// Chooses the cloud.
pub(super) fn choose(scene: &Scene, asked: &CloudAsked) -> Result<Chosen, CannotHang> {
    let names: Vec<&str> = scene.stock.iter().filter(|kind| kind.kind == StockKind::Cloud).map(|kind| kind.name.as_str()).collect();
    let listed = || names.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ");
    let instead = || if names.is_empty() { ", and no cloud either".to_owned() } else { format!("; clouds are {}", listed()) };
    let wanted = match &asked.kind {
        None => None,
        Some(name) => {
            let Some(index) = scene.stock.iter().position(|kind| kind.name == *name) else {
                let meant = nearest(name, names.iter().copied()).map(|meant| format!("; did you mean \"{meant}\"?"));
                return Err(CannotHang::UnknownType { name: name.clone(), instead: meant.unwrap_or_else(instead) });
            };
            if scene.stock[index].kind != StockKind::Cloud {
                return Err(CannotHang::NotACloud { name: name.clone(), instead: instead() });
            }
            Some(index)
        }
    };
    let hangs = |(index, panel): (usize, &Panel)| match panel.place {
        PanelPlace::Cloud(cloud) => {
            let kind = scene.stock.iter().position(|kind| kind.name == panel.kind)?;
            wanted.is_none_or(|wanted| wanted == kind).then_some((kind, index, cloud))
        }
        PanelPlace::Surface { .. } | PanelPlace::Corner { .. } => None,
    };
    if let Some((kind, index, cloud)) = scene.panels.iter().enumerate().find_map(hangs) {
        let mut without = scene.clone();
        without.panels.remove(index);
        without.stock[kind].count += cloud.count();
        return Ok(Chosen { scene: without, kind, hung: Some((index, cloud)) });
    }
    let in_stock = |&index: &usize| scene.stock[index].kind == StockKind::Cloud && scene.stock[index].count > 0;
    let kind = wanted.map_or_else(|| (0..scene.stock.len()).find(in_stock), |wanted| Some(wanted).filter(in_stock));
    match kind {
        Some(kind) => Ok(Chosen { scene: scene.clone(), kind, hung: None }),
        None if names.is_empty() => Err(CannotHang::NoCloud),
        None => Err(CannotHang::NoneLeft(wanted.map_or_else(listed, |wanted| format!("\"{}\"", scene.stock[wanted].name)))),
    }
}

/// Hangs clouds of one type on trial.
pub(super) struct Hanger<'a> {
    pub(super) scene: &'a Scene,
    pub(super) kind: &'a PanelType,
    free: Free,
}

/// A mark of a tape in this unit, meters.
pub(super) fn mark(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => 0.001,
        LengthUnit::Foot | LengthUnit::Inch => 0.0254 / 16.0,
    }
}

impl<'a> Hanger<'a> {
    /// In the room of the scene without the cloud.
    pub(super) fn new(scene: &'a Scene, kind: &'a PanelType, room: &Room) -> Self {
        Self { scene, kind, free: Free::new(scene, room) }
    }

    pub(super) fn told(&self, meters: f64) -> String {
        Length(meters).print(self.scene.unit)
    }

    fn marks(&self, meters: f64) -> f64 {
        meters / mark(self.scene.unit)
    }

    /// Whether it fits there.
    pub(super) fn fits(&self, cloud: &Cloud) -> Result<(), Refusal> {
        let panel = Panel { kind: self.kind.name.clone(), place: PanelPlace::Cloud(*cloud) };
        self.free.fits_panel(&panel, self.kind).map(|_| ())
    }

    /// Lowest and highest height of its underside there: by its headroom, and where it touches the ceiling.
    pub(super) fn range(&self, cloud: &Cloud) -> (f64, f64) {
        let solid = cloud.solid(self.kind);
        let lowest = cloud.underside + HEADROOM - solid.bounds().0.z;
        let room = solid.corners().iter().filter_map(|corner| Some(self.free.ceiling_height(corner.truncate())? - corner.z));
        let highest = cloud.underside + room.fold(f64::INFINITY, f64::min);
        ((self.marks(lowest) - 1e-6).ceil() * mark(self.scene.unit), highest)
    }

    /// That a range leaves no height.
    fn too_low(&self, place: String, (lowest, highest): (f64, f64)) -> CannotHang {
        let thick = self.kind.thickness;
        CannotHang::TooLow {
            place,
            ceiling: self.told(highest + thick),
            thick: self.told(thick),
            headroom: self.told(HEADROOM),
            needed: self.told(lowest + thick),
        }
    }

    /// As many heights as asked, evenly from the lowest to the highest that there are or that are asked for, meters.
    pub(super) fn heights(&self, cloud: &Cloud, asked: &CloudAsked) -> Result<Vec<f64>, CannotHang> {
        let (lowest, highest) = self.range(cloud);
        let (low, high) = (asked.from_m.unwrap_or(lowest), asked.to_m.unwrap_or(highest));
        if !(1..=HEIGHTS_MOST).contains(&asked.heights) {
            return Err(CannotHang::Asked(format!("{} heights were asked for; 1 to {HEIGHTS_MOST} can be", asked.heights)));
        }
        if asked.from_m.is_none() && asked.to_m.is_none() && lowest > highest + 1e-9 {
            return Err(self.too_low(format!("over [{}]", self.at(cloud.center)), (lowest, highest)));
        }
        if !(low.is_finite() && high.is_finite() && low > 0.0 && high >= low - 1e-9) {
            return Err(CannotHang::Asked(format!("there are no heights from {} to {}", self.told(low), self.told(high))));
        }
        let steps = f64::from(asked.heights.saturating_sub(1).max(1));
        let even = |index: u32| {
            let height = low + (high - low) * f64::from(index) / steps;
            let is_end = index == 0 || index + 1 == asked.heights;
            if is_end { height } else { self.marks(height).round() * mark(self.scene.unit) }
        };
        let mut heights: Vec<f64> = (0..asked.heights).map(even).collect();
        heights.dedup_by(|a, b| (*a - *b).abs() < 0.5 * mark(self.scene.unit));
        Ok(heights)
    }

    /// A place on the floor plan, `2.4, 3.89`.
    pub(super) fn at(&self, center: DVec2) -> String {
        format!("{}, {}", self.told(center.x), self.told(center.y))
    }

    /// That nothing of what was tried fits.
    pub(super) fn no_height(&self, cloud: &Cloud, heights: &[f64], left_out: &[LeftOut]) -> CannotHang {
        let ends = [heights.first(), heights.last()].map(|height| self.told(height.copied().unwrap_or(0.0)));
        let count = if heights.len() == 1 {
            format!("its 1 height, {}", ends[0])
        } else {
            format!("{} heights from {} to {}", heights.len(), ends[0], ends[1])
        };
        let reasons: Vec<String> = left_out.iter().map(|out| out.reason.clone()).collect();
        CannotHang::NoHeight { kind: self.kind.name.clone(), center: self.at(cloud.center), count, reasons: most_frequent(&reasons) }
    }

    /// The same cloud at the height nearest to its own at which it fits.
    pub(super) fn nearest(&self, cloud: Cloud) -> Result<Cloud, Refusal> {
        let first = match self.fits(&cloud) {
            Ok(()) => return Ok(cloud),
            Err(refusal) => refusal,
        };
        let (lowest, highest) = self.range(&cloud);
        let at = |underside: f64| Cloud { underside, ..cloud };
        let step = measure_step(self.scene.unit);
        let wanted = cloud.underside.clamp(lowest.min(highest), highest.max(lowest));
        let tries = ((highest - lowest).max(0.0) / step) as u32 + 1;
        let both = |index: u32| [wanted - f64::from(index) * step, wanted + f64::from(index) * step];
        let heights = (0..=tries).flat_map(both).filter(|height| (lowest..=highest).contains(height));
        heights.map(at).find(|cloud| self.fits(cloud).is_ok()).ok_or(first)
    }

    /// Level, over the place nearest to the ceiling's mirror points where it fits; the longer side the way that covers more of their zones.
    pub(super) fn over(&self, target: DVec2, bounces: &[CeilingBounce]) -> Result<Cloud, CannotHang> {
        let mut refusals: Vec<String> = Vec::new();
        let mut highest: Option<(f64, f64)> = None;
        let mut best: Option<(f64, Cloud)> = None;
        for &turned in self.ways() {
            let Some(cloud) = self.nearest_place(target, turned, &mut refusals, &mut highest) else { continue };
            let covered = self.covers(&cloud, bounces);
            if best.as_ref().is_none_or(|(most, _)| covered > most + 1e-9) {
                best = Some((covered, cloud));
            }
        }
        if let Some((_, cloud)) = best {
            return Ok(cloud);
        }
        match highest {
            Some(range) if range.0 > range.1 + 1e-9 => Err(self.too_low("even where it is highest there".to_owned(), range)),
            _ => {
                Err(CannotHang::Nowhere { kind: self.kind.name.clone(), reach: self.told(SEARCH_REACH), reasons: most_frequent(&refusals) })
            }
        }
    }

    /// The longer side along x, and along y.
    fn ways(&self) -> &'static [bool] {
        if (self.kind.size.x - self.kind.size.y).abs() < 1e-9 { &[false] } else { &[false, true] }
    }

    /// Level over a place that is given; the longer side the way that fits, and of both the one that covers more of the zones.
    pub(super) fn at_place(&self, center: DVec2, bounces: &[CeilingBounce]) -> Cloud {
        let level = |turned: bool| Cloud::level(center, HEADROOM, turned);
        let worth = |cloud: &Cloud| {
            let fitting = self.three(cloud).iter().filter(|cloud| self.fits(cloud).is_ok()).count();
            (fitting, self.covers(cloud, bounces))
        };
        let better = |one: Cloud, other: Cloud| if worth(&other) > worth(&one) { other } else { one };
        self.ways().iter().map(|&turned| level(turned)).reduce(better).unwrap_or_else(|| level(false))
    }

    /// At its lowest, its middle and its highest height.
    fn three(&self, cloud: &Cloud) -> [Cloud; 3] {
        let (low, high) = self.range(cloud);
        [low, 0.5 * (low + high), high].map(|underside| Cloud { underside, ..*cloud })
    }

    /// Of the zones of these bounces in 1-8 kHz, what it covers, mean of its lowest, middle and highest height.
    fn covers(&self, cloud: &Cloud, bounces: &[CeilingBounce]) -> f64 {
        let share = |cloud: Cloud| (mean_covered(bounces, &cloud.solid(self.kind)).unwrap_or(Bands::splat(0.0)) * flat_weights()).sum();
        self.three(cloud).map(share).iter().sum::<f64>() / 3.0
    }

    /// From the lowest to the highest height at most, near a place, meters.
    fn most_heights(&self, target: DVec2, turned: bool) -> f64 {
        let (within, step) = HIGHER_WITHIN;
        let reach = (within / step).round() as i32;
        let places = (-reach..=reach).flat_map(|i| (-reach..=reach).map(move |j| target + step * DVec2::new(f64::from(i), f64::from(j))));
        let height = |center: DVec2| {
            let (low, high) = self.range(&Cloud::level(center, HEADROOM, turned));
            high - low
        };
        places.filter(|place| self.free.outline().contains(*place)).map(height).fold(0.0, f64::max)
    }

    /// The level cloud nearest to a place that fits at its lowest, middle and highest height there, and leaves enough heights; else at any of them; `highest` is the range of the highest ceiling met.
    fn nearest_place(&self, target: DVec2, turned: bool, refusals: &mut Vec<String>, highest: &mut Option<(f64, f64)>) -> Option<Cloud> {
        let step = measure_step(self.scene.unit);
        let reach = (SEARCH_REACH / step) as i32;
        let first = (target / step).round();
        let mut places: Vec<DVec2> = (-reach..=reach)
            .flat_map(|i| (-reach..=reach).map(move |j| (first + DVec2::new(f64::from(i), f64::from(j))) * step))
            .filter(|place| self.free.outline().contains(*place))
            .collect();
        let enough = HEIGHTS_LEFT * self.most_heights(target, turned);
        let far = |place: &DVec2| place.distance_squared(target);
        places.sort_by(|a, b| far(a).total_cmp(&far(b)).then(a.x.total_cmp(&b.x)).then(a.y.total_cmp(&b.y)));
        let mut partly = None;
        for center in places {
            let level = Cloud::level(center, HEADROOM, turned);
            let (low, high) = self.range(&level);
            if highest.is_none_or(|(_, most)| high > most) {
                *highest = Some((low, high));
            }
            if low > high + 1e-9 {
                refusals.push("the ceiling is too low".to_owned());
                continue;
            }
            let tried = self.three(&level).map(|cloud| self.fits(&cloud));
            let fitting = tried.iter().filter(|tried| tried.is_ok()).count();
            if fitting == tried.len() && high - low >= enough - 1e-9 {
                return Some(level);
            }
            refusals.extend(tried.into_iter().find_map(Result::err).map(|refusal| refusal.to_string()));
            if fitting > 0 {
                partly.get_or_insert(level);
            }
        }
        partly
    }
}

/// Of these reasons the most frequent, in words.
fn most_frequent(reasons: &[String]) -> String {
    let mut counted: Vec<(usize, &str)> = Vec::new();
    for reason in reasons {
        match counted.iter_mut().find(|(_, known)| known == reason) {
            Some((count, _)) => *count += 1,
            None => counted.push((1, reason)),
        }
    }
    // Of those met as often the one met first.
    counted.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
    counted.iter().take(REASONS).map(|(_, reason)| *reason).collect::<Vec<_>>().join("; ")
}
