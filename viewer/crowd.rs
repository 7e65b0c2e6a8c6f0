//! A scene with very many triangles, to find out what stays usable.

use roomwright::scene::{RoomSize, starter};

/// The text of a hall of 12 x 10 x 3.5 m with boxes on a grid, turned this way and that, low and high, clear of the middle
/// where one listens. A box has 12 triangles.
pub(crate) fn text(boxes: u32) -> String {
    let size = RoomSize::read("12x10x3.5m").expect("a size as the help says it");
    let mut text = starter("Hall of boxes", &size);
    let columns = (f64::from(boxes) * 1.2).sqrt().ceil().max(1.0) as u32;
    let rows = boxes.div_ceil(columns).max(1);
    let side = (0.35 * (11.6 / f64::from(columns)).min(9.6 / f64::from(rows))).min(0.4);
    for index in 0..boxes {
        let (column, row) = (index % columns, index / columns);
        let x = 0.2 + 11.6 * (f64::from(column) + 0.5) / f64::from(columns);
        let y = 0.2 + 9.6 * (f64::from(row) + 0.5) / f64::from(rows);
        // Under the ears and over the heads; none lies on the floor, which would take a face from it.
        let base = [0.02, 0.3, 2.4, 3.0][((column * 7 + row * 3) % 4) as usize];
        let turn = (column * 13 + row * 29) % 45;
        let block = format!(
            "\n[[block]]\nname = \"box {}\"\ncenter = [{x:.3}, {y:.3}]\nbase = {base}\nsize = [{side:.3}, {side:.3}, 0.1]\n\
             rotation = {turn}\nmaterial = \"Solid wooden door\"\n",
            index + 1
        );
        text.push_str(&block);
    }
    text
}
