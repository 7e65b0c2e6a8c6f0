//! A small box for tests: soon rung out and soon planned, a loudspeaker, a seat and two corner panels of fiber.

use roomwright::study::BassAsked;

/// Its text; walls take 6 % at every angle.
pub(crate) const SMALL: &str = r#"
format = 1
name = "Box"
use = "mixing"
[settings]
rays = 400
rounds = 1
image_order = 2
patch = "200 mm"
[room]
size = [3.1, 2.7, 2.3]
floor = "even"
wall_material = "even"
ceiling_material = "even"
[[material]]
name = "even"
absorption = [0.06, 0.06, 0.06, 0.06, 0.06, 0.06, 0.06, 0.06]
scattering = 0
angle = "uniform"
[[loudspeaker]]
name = "left"
position = [0.6, 0.5, 0.4]
directivity = "omni"
[[seat]]
name = "seat"
ear = [2.1, 1.4, 1.2]
[[stock]]
name = "corner panel"
kind = "corner"
count = 2
size = [0.6, 1.0]
thickness = 0.1
flow_resistivity = 12000
"#;

/// Waves that are coarse, and without other walls.
pub(crate) const COARSE: BassAsked = BassAsked { top_hz: 125.0, memory: roomwright::study::MEMORY, others: 0, beside_bare: true };
