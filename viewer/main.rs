//! The viewer's place in the house: the room on screen comes with its own issue; until then this says so and ends.

use std::io::Write as _;

fn main() -> std::io::Result<()> {
    writeln!(std::io::stdout(), "The viewer is not built yet; `roomwright place SCENE` writes pictures of the room into out/.")
}
