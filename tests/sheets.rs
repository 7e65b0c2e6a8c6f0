//! The printed pages and lists of a build, and the PDF that holds them.

use roomwright::scene::prices::example;
use roomwright::study::Building;

mod lists; // they read back, with the values of the build, and no cell is a formula
mod pages; // nothing lies on anything, nothing is left out, sums are sums
mod pdf; // true to size, one page a drawing, letters embedded, the same bytes every time

/// A room in meters with panels on two walls, under the ceiling, across a corner, and two clouds; one of them has no member above.
const METERS: &str = include_str!("cases/build/meters.toml");
/// A room in feet with panels and a tilted cloud of two.
const FEET: &str = include_str!("cases/build/feet.toml");

fn built(text: &str) -> Building {
    let (plan, _) = roomwright::scene::read(text).expect("the scene is sound");
    roomwright::study::build(None, &plan, &example()).expect("panels hang in it")
}
