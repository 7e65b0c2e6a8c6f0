//! Rooms with rows of panels on three walls, a cloud and a corner panel, drawn by chance, as text.

/// A plain generator: Steele, Lea and Flood's split mix, 2014 (from memory).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[(self.next() % choices.len() as u64) as usize]
    }
}

/// A room with rows of panels on its walls, a cloud and a corner, as text; lengths in meters, the unit in feet every third time.
pub(super) fn invented(seed: u64) -> String {
    let mut chance = Chance(seed);
    let (length, width, height) = (chance.between(3.0, 7.0), chance.between(2.8, 5.0), chance.between(2.3, 3.2));
    let unit = chance.one_of(&["m", "mm", "ft"]);
    let made = chance.one_of(&["hardened board", "wooden frame", "bought"]);
    let size = chance.one_of(&[[0.6, 1.2], [0.6096, 1.2192], [0.5, 1.0], [0.4, 0.9]]);
    let thickness = chance.one_of(&[0.05, 0.1]);
    let mut text = format!(
        "format = 1\nname = \"room {seed}\"\nuse = \"mixing\"\nunit = \"{unit}\"\n[build]\nkerf = \"{:.1} mm\"\ncloth_return = \"{:.0} mm\"\nspare_percent = {:.0}\n\
         [room]\nsize = [\"{length} m\", \"{width} m\", \"{height} m\"]\nfloor = \"Wood floor (on joists)\"\nwall_material = \"Plaster on solid wall\"\n\
         ceiling_material = \"Plaster on solid wall\"\n[[loudspeaker]]\nposition = [\"0.6 m\", \"{} m\", \"1.2 m\"]\ntoward = \"seat\"\n[[seat]]\near = [\"1.6 m\", \"{} m\", \"1.2 m\"]\ndirection = [-1, 0, 0]\n",
        chance.between(0.0, 5.0),
        chance.between(60.0, 150.0),
        chance.between(0.0, 20.0),
        0.5 * width - 0.3,
        0.5 * width
    );
    for (name, kind, size, thickness) in
        [("flat", "panel", size, thickness), ("across", "corner", [0.6, 1.2], 0.1), ("cloud", "cloud", [0.6, 1.2], 0.05)]
    {
        text.push_str(&format!(
            "[[stock]]\nname = \"{name}\"\nkind = \"{kind}\"\nsize = [\"{} m\", \"{} m\"]\nthickness = \"{thickness} m\"\nflow_resistivity = 12000\nprice = 40\nmass = {:.1}\n{}",
            size[0],
            size[1],
            chance.between(2.0, 9.0),
            if kind == "panel" { format!("made = \"{made}\"\n") } else { String::new() }
        ));
    }
    // Corners of the floor lie at the far ends of the walls: rows keep off them.
    for (wall, along) in [("south", length), ("north", length), ("east", width)] {
        let gap = chance.between(0.01, 0.25);
        let (mut left, bottom) = (0.5 + chance.between(0.0, 0.2), chance.between(0.3, 0.8));
        while left + size[0] < along - 0.5 {
            text.push_str(&format!(
                "[[panel]]\ntype = \"flat\"\nsurface = \"{wall}\"\nleft = \"{left:.4} m\"\nbottom = \"{bottom:.4} m\"\n"
            ));
            left += size[0] + gap + chance.between(0.0, 0.012);
        }
        if chance.next().is_multiple_of(2) {
            text.push_str(&format!(
                "[[structure]]\nname = \"studs of {wall}\"\nkind = \"studs\"\nsurface = \"{wall}\"\nruns = \"up\"\nfirst = \"{:.3} m\"\nspacing = \"0.4 m\"\n",
                chance.between(0.0, 0.4)
            ));
        }
    }
    text.push_str(&format!(
        "[[clearance]]\nname = \"socket\"\nsurface = \"south\"\nleft = \"{:.3} m\"\nbottom = \"0.05 m\"\nwidth = \"80 mm\"\nheight = \"80 mm\"\n",
        chance.between(0.5, 2.5)
    ));
    text.push_str("[[panel]]\ntype = \"across\"\ncorner = [\"west\", \"south\"]\nbottom = \"0 m\"\n");
    text.push_str(&format!(
        "[[panel]]\ntype = \"cloud\"\ncenter = [\"{:.3} m\", \"{:.3} m\"]\nunderside = \"{:.3} m\"\n",
        chance.between(1.8, length - 1.0),
        0.5 * width,
        chance.between(2.0, height - 0.1)
    ));
    text.push_str(&format!(
        "[[structure]]\nname = \"joists\"\nkind = \"joists\"\nsurface = \"ceiling\"\nruns = \"{}\"\nfirst = \"{:.3} m\"\nspacing = \"{} m\"\n",
        chance.one_of(&["up", "across"]),
        chance.between(0.0, 0.5),
        chance.one_of(&[0.35, 0.4, 0.6])
    ));
    text
}
