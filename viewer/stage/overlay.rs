//! What lies flat over the picture: the color scale with its unit, labels, names, the moment of the wavefront.
//!
//! It is laid out once as marks, and then painted on the screen or into a file. Labels take the first free of eight places round what
//! they name; one that finds none is left out rather than written over another.

mod drilled;
mod heard;

use bevy::math::{DVec3, Vec2};
use bevy_egui::egui::Color32;
use roomwright::findings::Estimate;
use roomwright::report::axis::Marks;
use roomwright::report::heatmap::Heat;
use roomwright::report::text::figures::with_error;
use roomwright::report::{heatmap, paper};
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::units::Length;

use super::camera::Sight;
use super::hand::Hand;
use super::handle::{self, Handle};
use super::{field, ink, mesh, picking, thing};
use crate::arrival;
use crate::results::Results;
use crate::ui::tokens;
use crate::view::{CameraView, MapChoice, Quantity, Step, Thing, View};

/// Height of letters, logical pixels.
const LETTERS: f32 = 12.0;
/// From the rim of the stage, logical pixels.
const MARGIN: f32 = 22.0;
/// Length of the color scale, logical pixels.
const SCALE_LENGTH: f32 = 250.0;
/// Its thickness.
const SCALE_THICK: f32 = 11.0;
/// Height of the words over it, and of the figures under it.
const SCALE_WORDS: [f32; 2] = [22.0, 18.0];
/// From the lower rim of the stage to the upper edge of the scale and its words.
#[cfg(test)]
pub(super) const FOOT: f32 = MARGIN + SCALE_WORDS[1] + SCALE_THICK + SCALE_WORDS[0];
/// Half the size of a handle, logical pixels.
const KNOB: f32 = 5.0;
/// Radius of the ring where sound bends, logical pixels.
const BEND: f32 = 3.0;
/// Steps of color on it.
const SCALE_STEPS: usize = 64;

/// Which end of a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    /// Its left end.
    Left,
    /// Its middle.
    Middle,
    /// Its right end.
    Right,
}

/// One thing to paint, logical pixels.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Mark {
    /// A line.
    Line {
        /// Its points.
        points: Vec<Vec2>,
        /// Its color.
        color: Color32,
        /// Its width.
        width: f32,
    },
    /// A filled rectangle.
    Fill {
        /// Left upper corner.
        low: Vec2,
        /// Right lower corner.
        high: Vec2,
        /// Its color.
        color: Color32,
    },
    /// One line of text.
    Text {
        /// Where its anchor is, half its height up.
        at: Vec2,
        /// Which end stands there.
        anchor: Anchor,
        /// The text.
        text: String,
        /// Its color.
        color: Color32,
        /// Whether it lies over the room, and needs paper behind it.
        on_paper: bool,
    },
}

/// Height of letters, logical pixels.
pub(super) const fn letters() -> f32 {
    LETTERS
}

/// Everything that is laid out from.
#[derive(Clone, Copy)]
pub(super) struct Seen<'a> {
    /// The scene on screen.
    pub(super) scene: &'a Scene,
    /// Its room.
    pub(super) room: &'a Room,
    /// What is chosen.
    pub(super) view: &'a View,
    /// What is known.
    pub(super) results: &'a Results,
    /// How it is looked at.
    pub(super) sight: &'a Sight,
    /// What the hand does.
    pub(super) hand: &'a Hand,
    /// What the colors on screen stand for, and their scale.
    pub(super) marks: Option<(Heat, Marks)>,
}

/// Width of a text at most, logical pixels.
pub(super) fn width(text: &str) -> f32 {
    paper::text_width(text, false) as f32 * LETTERS
}

/// The sheet of marks while it is laid out.
struct Layout {
    marks: Vec<Mark>,
    taken: Vec<(Vec2, Vec2)>,
    low: Vec2,
    high: Vec2,
}

impl Layout {
    fn text(&mut self, at: Vec2, anchor: Anchor, text: &str, color: Color32, on_paper: bool) {
        let long = width(text);
        let left = match anchor {
            Anchor::Left => at.x,
            Anchor::Middle => at.x - 0.5 * long,
            Anchor::Right => at.x - long,
        };
        self.taken.push((Vec2::new(left, at.y - 0.6 * LETTERS), Vec2::new(left + long, at.y + 0.6 * LETTERS)));
        self.marks.push(Mark::Text { at, anchor, text: text.to_owned(), color, on_paper });
    }

    fn is_free(&self, low: Vec2, high: Vec2) -> bool {
        let is_inside = low.cmpge(self.low + 4.0).all() && high.cmple(self.high - 4.0).all();
        is_inside && self.taken.iter().all(|(a, b)| low.x > b.x || high.x < a.x || low.y > b.y || high.y < a.y)
    }

    /// Lines of text beside a point, with a thin line to it where they stand off; whether there was a place.
    fn label(&mut self, at: Vec2, lines: &[(String, Color32)], off: f32, leads: bool) -> bool {
        let long = lines.iter().map(|(text, _)| width(text)).fold(0.0, f32::max);
        let tall = lines.len() as f32 * 1.35 * LETTERS;
        let places = [(1.0, 0.6), (1.0, -0.6), (-1.0, 0.6), (-1.0, -0.6), (0.0, 1.0), (0.0, -1.0), (1.0, 1.6), (1.0, -1.6)];
        let place = [off, 2.2 * off, 4.0 * off].into_iter().flat_map(|off| places.map(|(x, y)| (x, y, off))).find_map(|(x, y, off)| {
            let middle = at + Vec2::new(x * (off + 0.5 * long + 4.0), y * (off + 0.3 * tall));
            let half = 0.5 * Vec2::new(long, tall) + 2.0;
            self.is_free(middle - half, middle + half).then_some((middle, half, x))
        });
        let Some((middle, half, x)) = place else { return false };
        self.taken.push((middle - half, middle + half));
        if leads {
            let end = Vec2::new(middle.x - x * half.x, if x == 0.0 { middle.y - half.y * (middle.y - at.y).signum() } else { middle.y });
            self.marks.push(Mark::Line { points: vec![at, end], color: tokens::INK, width: 1.0 });
        }
        for (number, (text, color)) in lines.iter().enumerate() {
            let y = middle.y - 0.5 * tall + (number as f32 + 0.5) * 1.35 * LETTERS;
            let mark = Mark::Text {
                at: Vec2::new(middle.x - half.x + 2.0, y),
                anchor: Anchor::Left,
                text: text.clone(),
                color: *color,
                on_paper: true,
            };
            self.marks.push(mark);
        }
        true
    }
}

/// `both loudspeakers`: whom a map is for.
fn map_title(seen: &Seen<'_>, choice: MapChoice) -> String {
    let source = choice.source.and_then(|source| seen.room.sources.get(source));
    let who = source.map_or("all sources together", |source| &source.name);
    let what = match choice.quantity {
        Quantity::Earning => "early, by panel",
        Quantity::Early => "early, by area",
        Quantity::Clarity => "clarity, by area",
        Quantity::Late => "late, by area",
        Quantity::LateEarning => "late, by panel",
    };
    let octave = choice.octave.map_or_else(String::new, |octave| format!(" | {}", octave.label()));
    format!("{who} | {what}{octave}")
}

/// Everything that lies over the picture.
pub(super) fn laid_out(seen: &Seen<'_>) -> Vec<Mark> {
    let area = seen.sight.area;
    let mut layout = Layout { marks: Vec::new(), taken: Vec::new(), low: area.low, high: area.high };
    headline(&mut layout, seen);
    legend(&mut layout, seen);
    heard::legend(&mut layout, seen);
    foot(&mut layout, seen);
    handles(&mut layout, seen);
    bends(&mut layout, seen);
    drilled::numbers(&mut layout, seen);
    drilled::crosses(&mut layout, seen);
    guides(&mut layout, seen);
    keep_clear(&mut layout, seen);
    chosen_labels(&mut layout, seen);
    heard::label(&mut layout, seen);
    if !drilled::label(&mut layout, seen) {
        pointed_label(&mut layout, seen);
    }
    names(&mut layout, seen);
    spot_labels(&mut layout, seen);
    layout.marks
}

/// What is shown, in the upper corners.
fn headline(layout: &mut Layout, seen: &Seen<'_>) {
    let (low, high) = (layout.low, layout.high);
    let place =
        match seen.view.camera {
            CameraView::Orbit => None,
            CameraView::Plan => Some("from above".to_owned()),
            CameraView::Elevation(index) => seen.room.surfaces.get(index).map(|surface| {
                format!("{}, seen from {}", heatmap::heading(&surface.name, surface.role), heatmap::seen_from(surface.role))
            }),
            CameraView::Ear(index) => seen.room.receivers.get(index).map(|receiver| format!("from the {}", receiver.name)),
        };
    if let Some(place) = place {
        layout.text(low + Vec2::splat(MARGIN), Anchor::Left, &place, tokens::INK, true);
    }
    let mut corner = Vec2::new(high.x - MARGIN, low.y + MARGIN);
    let mut line = |text: &str, color: Color32| {
        layout.text(corner, Anchor::Right, text, color, true);
        corner.y += 1.4 * LETTERS;
    };
    if seen.results.is_sketch {
        line("a sketch of what could be read; nothing is computed", tokens::ACCENT);
    }
    if let Some(slice) = &seen.results.slice {
        field::headlines(seen.scene, seen.view, slice).iter().for_each(|words| line(words, tokens::SOFT));
        return;
    }
    if let Some((source, band)) = seen.view.lands().filter(|_| !seen.results.is_sketch) {
        let source = seen.room.sources.get(source).map_or("", |source| &source.name);
        line(&format!("{source} | energy landed, {}", band.label()), tokens::SOFT);
        match seen.results.landing_of((seen.view.source, band)) {
            None => line("what lands is on its way", tokens::SOFT),
            Some(known) if !seen.results.is_fresh(known) => line("as it was before the last edit", tokens::ACCENT),
            Some(_) => {}
        }
        return;
    }
    let Some(choice) = seen.view.painted_map().filter(|_| !seen.results.is_sketch) else { return };
    line(&map_title(seen, choice), tokens::SOFT);
    match seen.results.maps.get(&choice) {
        None if seen.scene.stock.is_empty() => line("a map needs a panel in stock", tokens::SOFT),
        None => line("the map is on its way", tokens::SOFT),
        Some(known) if known.value.is_empty() => line("nothing supports this map", tokens::SOFT),
        Some(known) if !seen.results.is_fresh(known) => line("as it was before the last edit", tokens::ACCENT),
        Some(_) => {}
    }
}

/// What the colors mean.
fn legend(layout: &mut Layout, seen: &Seen<'_>) {
    if let Some((slice, look)) = seen.results.slice.as_ref().zip(seen.view.low_end.field) {
        scale(layout, slice.meaning(look), slice.marks(look), |share| field::color(look, share));
        return;
    }
    let Some((heat, marks)) = seen.marks else { return };
    let low = scale(layout, &format!("{}, {}", heat.meaning(), heat.unit()), marks, |share| {
        let color = heat.colors().color(share);
        Color32::from_rgb(color.0, color.1, color.2)
    });
    let remark = match heat {
        Heat::Earning | Heat::LateEarning => "pale: no panel fits",
        Heat::Landed => "darkest: less, or nothing yet",
        Heat::Early | Heat::Clarity | Heat::Late => return,
    };
    layout.text(low + Vec2::new(SCALE_LENGTH + 16.0, 0.5 * SCALE_THICK), Anchor::Left, remark, tokens::SOFT, true);
}

/// The color scale with its marks and unit; where its left upper corner is.
fn scale(layout: &mut Layout, meaning: &str, marks: Marks, color: impl Fn(f64) -> Color32) -> Vec2 {
    let low = Vec2::new(layout.low.x + MARGIN, layout.high.y - MARGIN - SCALE_WORDS[1] - SCALE_THICK);
    let long = width(meaning).max(SCALE_LENGTH);
    let card = (low - Vec2::new(14.0, SCALE_WORDS[0]), low + Vec2::new(long + 14.0, SCALE_THICK + 20.0));
    layout.marks.push(Mark::Fill { low: card.0, high: card.1, color: tokens::CARD });
    layout.taken.push(card);
    layout.text(low - Vec2::new(0.0, 11.0), Anchor::Left, meaning, tokens::SOFT, false);
    layout.marks.push(Mark::Fill { low: low - 1.0, high: low + Vec2::new(SCALE_LENGTH, SCALE_THICK) + 1.0, color: tokens::LINE });
    for step in 0..SCALE_STEPS {
        let color = color(step as f64 / (SCALE_STEPS - 1) as f64);
        let x = |step: usize| low.x + SCALE_LENGTH * step as f32 / SCALE_STEPS as f32;
        let (from, to) = (Vec2::new(x(step), low.y), Vec2::new(x(step + 1), low.y + SCALE_THICK));
        layout.marks.push(Mark::Fill { low: from, high: to, color });
    }
    for value in marks.values() {
        let at = Vec2::new(low.x + SCALE_LENGTH * marks.share(value) as f32, low.y + SCALE_THICK + 10.0);
        layout.text(at, Anchor::Middle, &marks.print(value), tokens::SOFT, false);
    }
    low
}

/// What the wavefront shows, and the place that is pointed at, in the right lower corner.
fn foot(layout: &mut Layout, seen: &Seen<'_>) {
    let time = seen.view.time_ms;
    let mut corner = layout.high - Vec2::splat(MARGIN);
    let mut line = |text: &str, color: Color32| {
        layout.text(corner, Anchor::Right, text, color, true);
        corner.y -= 1.4 * LETTERS;
    };
    if let Some(hint) = hint(seen) {
        line(hint, tokens::SOFT);
    }
    if let Some(place) = seen.view.pointer.and_then(|point| place_text(seen.scene, seen.room, point)) {
        line(&place, tokens::INK);
    }
    if let Some(value) = seen.view.pointer.and_then(|point| value_text(seen, point)) {
        line(&value, tokens::INK);
    }
    if let Some(source) = seen.room.sources.get(seen.view.source).filter(|_| time > 0.0) {
        line("curves: red direct, gray first bounce off the room; later ones are not drawn", tokens::SOFT);
        line(&format!("{time:.1} ms after \"{}\" sounds", source.name), tokens::INK);
    }
}

/// What can be done with what is under the hand.
fn hint(seen: &Seen<'_>) -> Option<&'static str> {
    let rises = |thing: Thing| matches!(thing::spot(seen.scene, thing), Some(thing::Spot::At(_))) && !matches!(thing, Thing::Block(_));
    match seen.hand {
        Hand { handle: Some(handle), dragged: None, .. } => Some(handle.hint()),
        Hand { handle: Some(_), .. } => Some("Escape: back"),
        Hand { dragged: Some(thing), .. } if rises(*thing) => Some("Ctrl: up and down; Escape: back"),
        Hand { dragged: Some(Thing::Panel(_)), .. } => Some("Shift: not into line; Escape: back"),
        Hand { dragged: Some(_), .. } => Some("Escape: back"),
        Hand { offered: Some(_), .. } => Some("press to hang it; Escape: no more"),
        Hand { pointed: Some(thing), .. } if rises(*thing) => Some("drag to move, with Ctrl up and down"),
        Hand { pointed: Some(_), .. } => Some("drag to move"),
        _ => None,
    }
}

/// Hot spots, loudspeakers and heads are not to be written over.
fn keep_clear(layout: &mut Layout, seen: &Seen<'_>) {
    let Seen { room, view, results, sight, .. } = *seen;
    for (_, spot, surface) in ink::spots(room, view, results) {
        let chart = room.surfaces[surface].chart;
        if !sight.pose.is_before(chart.origin, chart.normal) {
            continue;
        }
        let corners = ink::spot_outlines(room, spot, surface).into_iter().flat_map(|part| part.corners);
        let on_screen: Vec<Vec2> = corners.filter_map(|corner| sight.screen(chart.point(corner))).collect();
        let around = on_screen.iter().copied().reduce(Vec2::min).zip(on_screen.iter().copied().reduce(Vec2::max));
        layout.taken.extend(around);
    }
    let people = room.sources.iter().map(|source| source.position).chain(room.receivers.iter().map(|receiver| receiver.position));
    layout.taken.extend(people.filter_map(|at| sight.screen(at)).map(|at| (at - 6.0, at + 6.0)));
    // A name must not lie on the arrow that says where its loudspeaker points.
    for source in &room.sources {
        let Some(tip) = ink::arrow_tip(source) else { continue };
        let along = [0.4, 0.7, 1.0].map(|part| source.position.lerp(tip, part));
        layout.taken.extend(along.into_iter().filter_map(|at| sight.screen(at)).map(|at| (at - 5.0, at + 5.0)));
    }
}

/// The label of a hot spot.
fn spot_text(spot: &roomwright::plan::HotSpot) -> String {
    format!("{}, {:.1} ms later, {:.1} dB at {}", spot.source, spot.delay_ms, spot.level_db, spot.receiver)
}

/// What is chosen or refused is named before anything else.
fn chosen_labels(layout: &mut Layout, seen: &Seen<'_>) {
    let Seen { scene, room, view, results, sight, .. } = *seen;
    if let (Some((wanted, thing)), Some(refused)) = (ink::refused(scene, view), &view.refused)
        && let Some(at) = thing::middle(&wanted, room, thing).and_then(|middle| sight.screen(middle))
    {
        let lines: Vec<(String, Color32)> = folded(&refused.reason).into_iter().map(|line| (line, tokens::ACCENT)).collect();
        layout.label(at, &lines, 22.0, true);
    }
    if let Some(choice) = view.arrival.filter(|_| view.step != Step::Prove)
        && let Some(found) = arrival::find(results, choice)
        && let Some(at) = arrival::way(room, results, choice).and_then(|way| sight.screen(named_at(&way)))
    {
        let mut lines: Vec<(String, Color32)> = folded(&found.words(scene)).into_iter().map(|line| (line, tokens::ACCENT)).collect();
        if !arrival::is_fresh(results, choice) {
            lines.push(("as it was before the last edit".to_owned(), tokens::SOFT));
        }
        layout.label(at, &lines, 22.0, true);
    }
    if let Some(index) = view.panel().filter(|index| seen.hand.dragged != Some(Thing::Panel(*index)))
        && let Some(panel) = scene.panels.get(index)
        && let Some(at) = mesh::hung_of(scene, room, panel).first().and_then(|hung| sight.screen(middle(&hung.front)))
    {
        let mut lines = vec![(panel.kind.clone(), tokens::INK)];
        if let (Some(earns), true) = results.earning_of(index) {
            let (value, digits) = (earns.value, if earns.se < 0.05 { 2 } else { 1 });
            let error = if earns.se < 0.005 { "under 0.01".to_owned() } else { format!("{:.digits$}", earns.se) };
            let text = format!("takes {value:.digits$} dB off the early level, +- {error} dB");
            lines.push((text, tokens::ACCENT));
        }
        layout.label(at, &lines, 26.0, true);
    }
}

/// Where the name of a way stands: at its first bounce or bend, or in its middle.
fn named_at(way: &[DVec3]) -> DVec3 {
    match way {
        [from, to] => from.midpoint(*to),
        _ => way[1],
    }
}

/// Rings where sound bends that could be chosen.
fn bends(layout: &mut Layout, seen: &Seen<'_>) {
    for (choice, point) in ink::bends(seen.view, seen.results) {
        let Some(at) = seen.sight.screen(point) else { continue };
        let color = if seen.view.arrival == Some(choice) { tokens::ACCENT } else { tokens::INK };
        let points = (0_u8..=12).map(|step| at + BEND * Vec2::from_angle(std::f32::consts::TAU * f32::from(step) / 12.0)).collect();
        layout.marks.push(Mark::Line { points, color, width: 1.2 });
    }
}

/// A sentence on lines that are not too long to read in a picture.
fn folded(sentence: &str) -> Vec<String> {
    const LETTERS_MOST: usize = 56;
    let mut lines: Vec<String> = Vec::new();
    for word in sentence.split_whitespace() {
        match lines.last_mut().filter(|line| line.chars().count() + word.chars().count() < LETTERS_MOST) {
            Some(line) => *line = format!("{line} {word}"),
            None => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Handles of the chosen cloud: an arrow for its height, rings for its tilt, squares for its size.
fn handles(layout: &mut Layout, seen: &Seen<'_>) {
    if seen.results.is_sketch || seen.hand.dragged.is_some() && seen.hand.handle.is_none() {
        return;
    }
    for (handle, place) in handle::handles(seen.scene, seen.view.chosen, seen.sight) {
        let Some(at) = seen.sight.screen(place) else { continue };
        let is_held = seen.hand.handle == Some(handle);
        if seen.hand.dragged.is_some() && !is_held {
            continue;
        }
        let color = if is_held { tokens::ACCENT } else { tokens::INK };
        let around = |points: &[(f32, f32)]| points.iter().map(|(x, y)| at + Vec2::new(*x, *y)).collect::<Vec<_>>();
        let figures = match handle {
            Handle::Height => vec![
                around(&[(0.0, -9.0), (0.0, 9.0)]),
                around(&[(-4.0, -5.0), (0.0, -9.5), (4.0, -5.0)]),
                around(&[(-4.0, 5.0), (0.0, 9.5), (4.0, 5.0)]),
            ],
            Handle::Tilt(_) => {
                let step = |step: u8| Vec2::from_angle(std::f32::consts::TAU * f32::from(step) / 20.0) * KNOB;
                vec![(0..=20).map(|number| at + step(number)).collect()]
            }
            Handle::Size(_) => vec![around(&[(-KNOB, -KNOB), (KNOB, -KNOB), (KNOB, KNOB), (-KNOB, KNOB), (-KNOB, -KNOB)])],
        };
        // On paper, so that it shows on a dark map.
        let paper = if handle == Handle::Height { Vec2::new(5.0, 10.5) } else { Vec2::splat(0.8 * KNOB) };
        layout.marks.push(Mark::Fill { low: at - paper, high: at + paper, color: tokens::CARD });
        for (color, width) in [(tokens::CARD, 5.0), (color, 1.6)] {
            layout.marks.extend(figures.iter().map(|points| Mark::Line { points: points.clone(), color, width }));
        }
        layout.taken.push((at - 2.0 * KNOB, at + 2.0 * KNOB));
    }
}

/// Thin lines to what a panel fell into line with, and their measures.
fn guides(layout: &mut Layout, seen: &Seen<'_>) {
    for guide in &seen.hand.guides {
        let [Some(from), Some(to)] = guide.ends.map(|end| seen.sight.screen(end)) else { continue };
        layout.marks.push(Mark::Line { points: vec![from, to], color: tokens::ACCENT, width: 1.0 });
        // Small strokes across the ends, as on a drawing.
        let across = (to - from).perp().try_normalize().unwrap_or(Vec2::Y) * 4.0;
        for end in [from, to] {
            layout.marks.push(Mark::Line { points: vec![end - across, end + across], color: tokens::ACCENT, width: 1.0 });
        }
        if !guide.words.is_empty() {
            layout.label(0.5 * (from + to), &[(guide.words.clone(), tokens::ACCENT)], 6.0, false);
        }
    }
}

/// The name of what is pointed at; while it is dragged, where it is.
fn pointed_label(layout: &mut Layout, seen: &Seen<'_>) {
    let Seen { scene, room, view, sight, hand, .. } = *seen;
    let Some(thing) = hand.pointed else { return };
    let (Some(name), Some(at)) = (thing::name(scene, thing), thing::middle(scene, room, thing).and_then(|at| sight.screen(at))) else {
        return;
    };
    // People have their names beside them anyway.
    let is_person = matches!(thing, Thing::Source(_) | Thing::Receiver(_));
    let is_named = is_person || view.panel().is_some_and(|panel| thing == Thing::Panel(panel) && hand.dragged.is_none());
    let mut lines = Vec::new();
    if !is_named {
        lines.push((name, tokens::INK));
    }
    if hand.dragged.is_some() {
        let words = thing::place_words(scene, thing).unwrap_or_default();
        lines.extend(folded(&words).into_iter().map(|words| (words, tokens::INK)));
    }
    if !lines.is_empty() {
        layout.label(at, &lines, 20.0, true);
    }
}

/// Names of loudspeakers, seats, microphones.
fn names(layout: &mut Layout, seen: &Seen<'_>) {
    let own = match seen.view.camera {
        CameraView::Ear(receiver) => Some(receiver),
        _ => None,
    };
    let sources = seen.room.sources.iter().map(|source| (&source.name, source.position, tokens::INK));
    let receivers = seen.room.receivers.iter().enumerate().filter(|(index, _)| Some(*index) != own);
    let receivers = receivers.map(|(_, receiver)| (&receiver.name, receiver.position, tokens::ACCENT));
    for (name, position, color) in sources.chain(receivers) {
        if let Some(at) = seen.sight.screen(position) {
            layout.label(at, &[(name.clone(), color)], 10.0, false);
        }
    }
}

/// Labels of hot spots on surfaces that are seen, the loudest first.
fn spot_labels(layout: &mut Layout, seen: &Seen<'_>) {
    const MOST: usize = 5;
    let Seen { room, view, results, sight, .. } = *seen;
    let mut spots = ink::spots(room, view, results);
    spots.retain(|(index, _, surface)| {
        let chart = room.surfaces[*surface].chart;
        view.hot_spot == Some(*index) || sight.pose.is_before(chart.origin, chart.normal)
    });
    spots.sort_by_key(|(index, ..)| (view.hot_spot != Some(*index), *index));
    for (index, spot, _) in spots.into_iter().take(MOST) {
        let Some(at) = sight.screen(spot.point_m.into()) else { continue };
        let color = if view.hot_spot == Some(index) { tokens::ACCENT } else { tokens::INK };
        layout.label(at, &[(spot_text(spot), color)], 24.0, true);
    }
}

fn middle(points: &[DVec3]) -> DVec3 {
    points.iter().sum::<DVec3>() / points.len().max(1) as f64
}

/// `0.42 +- 0.03 dB per m2`: what the colors say of the place that is pointed at, with its standard error.
fn value_text(seen: &Seen<'_>, point: DVec3) -> Option<String> {
    let (heat, _) = seen.marks?;
    let place = picking::on_surface(seen.room, point)?;
    let estimate = if heat == Heat::Landed {
        let landing = seen.results.landing_of(seen.view.lands()?)?.value.clone();
        let own = landing.grid.surfaces.get(place.surface)?;
        landing.level(own.first + own.slot(place.position), seen.view.time_ms / 1000.0)
    } else {
        let maps = &seen.results.maps.get(&seen.view.painted_map()?)?.value;
        maps.iter().find(|map| map.surface == place.surface)?.at(place.position)?
    };
    Some(match estimate {
        Estimate { value, .. } if value == f64::NEG_INFINITY => "nothing has landed here yet".to_owned(),
        Estimate { value, .. } if !value.is_finite() => return None,
        estimate => format!("{} {}", with_error(estimate), heat.unit()),
    })
}

/// `east: 1.52 m from the left edge, 0.80 m from the floor`: the place that is pointed at, in the unit of the scene.
pub(super) fn place_text(scene: &Scene, room: &Room, point: DVec3) -> Option<String> {
    let place = picking::on_surface(room, point)?;
    let surface = &room.surfaces[place.surface];
    let lower = if matches!(surface.role, roomwright::room::Role::Wall(_)) { "the floor" } else { "the lower edge" };
    let [left, bottom] = place.position.to_array().map(|meters| Length(meters).print(scene.unit));
    Some(format!("{}: {left} from the left edge, {bottom} from {lower}", surface.name))
}
