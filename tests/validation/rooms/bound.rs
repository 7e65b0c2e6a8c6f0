//! What no layout of a room can do better than, proven term by term.
//!
//! Energy that arrives is a sum over paths of products of what each bounce leaves, none of them negative. So it can only fall where every bounce leaves less. Here every place that
//! some piece of the stock could cover is given a material that leaves, at each angle and octave, the least of what lies there and of everything in stock, mirrored and scattered
//! apart; as many pieces as there are places, overlapping at will. What early sound is left then, no layout of any number of these pieces goes below:
//!
//! - *reflections*: excess over the criterion with images so;
//! - *early level*: images so, and rays with the same on all of every surface that takes a piece, times what a panel's margin (`hanging`) may take beside;
//! - *decay, evenness, likeness, speech, flutter*: 0, since no term is negative. No better bound is proven: a decay time does not fall with every absorber (early energy that goes makes what
//!   is left decay more slowly), and a layout may by chance be even or alike.
//!
//! So the sum is a bound, and a loose one where the decay is long: the panels at hand may be too few to reach what is asked, wherever they hang.
//!
//! *Limits.* In the model that layouts are compared in (panels as patches); with the rays of one trace, whose scatter it has in common with all layouts on it.

use std::collections::BTreeSet;

use roomwright::absorbers::Finish;
use roomwright::bands::Bands;
use roomwright::findings::reflections::excesses;
use roomwright::findings::targets::CRITERION_DB;
use roomwright::geometry::Polygon;
use roomwright::hanging::{Hanging, Patch};
use roomwright::layout::{Free, candidates};
use roomwright::plan::flush::Flush;
use roomwright::plan::score::Ground;
use roomwright::plan::search::early_level;
use roomwright::progress::Progress;
use roomwright::scene::{Scene, Term};
use roomwright::weigh::Linings;

/// Distance of the grid on which places are sought; what lies so near to one counts as covered, too, so that places between are. Meters.
const STEP: f64 = 0.1;

/// The least that can be wrong, weighted steps.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bound {
    pub(super) reflections_steps: f64,
    pub(super) early_level_steps: f64,
}

impl Bound {
    pub(super) fn steps(self) -> f64 {
        self.reflections_steps + self.early_level_steps
    }
}

/// The bound for layouts of the types of which `counts` has any.
pub(super) fn bound(scene: &Scene, ground: Ground<'_>, counts: &[u32]) -> Bound {
    let Ground { traced, index, flush, goal } = ground;
    // A term without a bound is one that may be negative: without a range the decay is held against the bare room's.
    assert!(goal.target.is_some(), "a decay without a range has no bound");
    let room = &traced.room;
    // What margins take, those of what hangs as well, is reckoned beside.
    let hung = Hanging { margins: Vec::new(), ..flush.hanging(&scene.panels) };
    let (mut of_images, mut of_rays) = (hung.clone(), hung.clone());
    let coverable = coverable(scene, ground, counts);
    for (surface, face) in room.surfaces.iter().enumerate() {
        // A margin may lie on any surface of that name.
        let alike = room.named(&face.name).flat_map(|(other, _)| &coverable[other].1);
        let pieces: Vec<&Finish> = alike.collect();
        if pieces.is_empty() {
            continue;
        }
        let lies = std::iter::once(face.finish).chain(face.linings.iter().map(|lining| lining.finish)).map(|finish| &room.finishes[finish]);
        let hangs = hung.patches.iter().filter(|patch| patch.surface == surface).map(|patch| &hung.finishes[patch.finish]);
        let below: Vec<&Finish> = lies.chain(hangs).collect();
        let grid = &room.patches.surfaces[surface];
        let cell = |&slot: &usize| Polygon::rectangle(grid.corner(slot), grid.corner(slot) + grid.side);
        cover(&mut of_images, surface, coverable[surface].0.iter().map(cell).collect(), least(&below, &pieces, false));
        cover(&mut of_rays, surface, vec![Polygon::rectangle(grid.low, grid.high)], least(&below, &pieces, true));
    }
    let images = Linings::new(room, &of_images);
    let excess = goal.pairs.iter().map(|&(source, receiver)| excesses(traced, &images, source, receiver).mean_db()).fold(0.0, f64::max);
    let progress = Progress::new();
    let mut early = index.weigh(&progress, &Linings::new(room, &of_rays)).expect("nobody cancels");
    early.images = index.weigh(&progress, &images).expect("nobody cancels").images;
    let level_db = early_level(traced, goal, &early).value;
    Bound {
        reflections_steps: goal.weights[Term::Reflections] * excess,
        early_level_steps: goal.weights[Term::EarlyLevel] * (level_db - CRITERION_DB).max(0.0),
    }
}

/// By surface: the patches that some piece could cover, and what pieces could lie there.
fn coverable(scene: &Scene, Ground { traced, .. }: Ground<'_>, counts: &[u32]) -> Vec<(BTreeSet<usize>, Vec<Finish>)> {
    let room = &traced.room;
    let mut all = vec![(BTreeSet::new(), Vec::<Finish>::new()); room.surfaces.len()];
    let (free, flush) = (Free::new(scene, room), Flush::for_trials(scene, room));
    let in_use = scene.stock.iter().zip(counts).filter(|(_, count)| **count > 0);
    for place in in_use.flat_map(|(kind, _)| candidates(scene, room, &free, kind, STEP)) {
        let hanging = flush.for_early_trials(&[place.panel]).expect("patches of trials have no margins");
        for patch in hanging.patches {
            let (cells, finishes) = &mut all[patch.surface];
            let (low, high) = patch.region.bounds();
            let grid = &room.patches.surfaces[patch.surface];
            let meets = |slot: &usize| {
                let corner = grid.corner(*slot);
                (corner + grid.side + STEP).cmpgt(low).all() && (corner - STEP).cmplt(high).all()
            };
            cells.extend((0..grid.len()).filter(meets));
            let finish = &hanging.finishes[patch.finish];
            if !finishes.contains(finish) {
                finishes.push(finish.clone());
            }
        }
    }
    all
}

fn cover(hanging: &mut Hanging, surface: usize, regions: Vec<Polygon>, finish: Finish) {
    hanging.finishes.push(finish);
    let finish = hanging.finishes.len() - 1;
    hanging.patches.extend(regions.into_iter().map(|region| Patch { surface, region, finish }));
}

/// What leaves the least of all these, mirrored and scattered apart, at each angle and octave; `with_margin`: times what the softest of the pieces leaves of what meets its margin.
fn least(below: &[&Finish], pieces: &[&Finish], with_margin: bool) -> Finish {
    let smaller = |own: Bands<f32>, other: Bands<f32>| own.zip(other, f32::min);
    let all: Vec<&Finish> = below.iter().chain(pieces).copied().collect();
    let mut least = all[0].clone();
    for bin in 0..least.specular.len() {
        let kept = |piece: &Finish| piece.specular[bin] + piece.diffuse[bin];
        let beside = pieces.iter().filter(|_| with_margin).map(|piece| kept(piece)).fold(Bands::splat(1.0), smaller);
        let of = |ways: &dyn Fn(&Finish) -> Bands<f32>| {
            let alone = all.iter().map(|finish| ways(finish)).fold(Bands::splat(1.0), smaller);
            let margin = below.iter().map(|finish| ways(finish)).fold(Bands::splat(1.0), smaller) * beside;
            smaller(alone, margin)
        };
        let [specular, diffuse] = [of(&|finish| finish.specular[bin]), of(&|finish| finish.diffuse[bin])];
        (least.specular[bin], least.diffuse[bin]) = (specular, diffuse);
    }
    least
}
