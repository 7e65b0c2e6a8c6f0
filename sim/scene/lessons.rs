//! Lessons: eight small rooms, each with versions that differ in one thing, so that one can see, hear and reckon what that thing does.
//!
//! A version is the text of the room with some of its lines written anew: what a lesson changes, anybody can change by hand, and the page
//! of the lesson says how. Texts are those in `scenes/lessons/`.
//!
//! *Limits.* Rooms and materials are made up. A version that does not go with its room is a fault of ours; a test reads all of them.

/// A room and its versions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lesson {
    /// Its number, from 1.
    pub number: usize,
    /// The word that it is asked for by, and the name of its file.
    pub word: &'static str,
    /// Its title.
    pub title: &'static str,
    /// The text of its room.
    pub text: &'static str,
    /// What it is about.
    pub about: &'static str,
    /// What to keep in mind.
    pub kept: &'static str,
    /// What the room is called as it stands there.
    pub first: &'static str,
    /// What is changed in it, each by itself.
    pub variations: &'static [Variation],
    /// The version whose room its page lets one turn.
    pub shown: usize,
    /// The wall that its page draws the image of the source in: which edge of the outline, from 0.
    pub mirror: Option<usize>,
    /// Whether it is about waves, which take their time.
    pub is_by_waves: bool,
    /// What to change next, and what to look for.
    pub try_next: &'static str,
}

/// A change of one thing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Variation {
    /// What the room is called then.
    pub name: &'static str,
    /// What is written anew.
    pub changes: &'static [Change],
}

/// A change of the text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// A piece that stands there once, and what stands in its place.
    Piece {
        /// What is there.
        was: &'static str,
        /// What comes there.
        is: &'static str,
    },
    /// What is added at the end.
    End(&'static str),
    /// Panels that are hung: type, and for each surface where: from its left and its lower edge, meters.
    Panels(&'static str, &'static [(&'static str, &'static [[f64; 2]])]),
}

/// A version of the room of a lesson.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Version {
    /// What it is called.
    pub name: &'static str,
    /// Its whole text.
    pub text: String,
}

impl Lesson {
    /// All of them.
    pub const ALL: [Self; 8] = [ONE_WALL, MIRROR_POINT, FLUTTER, ABSORB_OR_SCATTER, CLOUD_HEIGHTS, TWENTY_PER_CENT, CORNERS, TOO_DEAD];

    /// The one of this word or number.
    #[must_use]
    pub fn named(word: &str) -> Option<&'static Self> {
        static ALL: [Lesson; 8] = Lesson::ALL;
        ALL.iter().find(|lesson| lesson.word.eq_ignore_ascii_case(word) || lesson.number.to_string() == word)
    }

    /// Its room as it stands, and every version.
    #[must_use]
    pub fn versions(&self) -> Vec<Version> {
        let first = Version { name: self.first, text: self.text.to_owned() };
        let other = |variation: &Variation| Version { name: variation.name, text: variation.applied(self.text) };
        std::iter::once(first).chain(self.variations.iter().map(other)).collect()
    }
}

impl Variation {
    /// The text with its changes.
    #[must_use]
    pub fn applied(&self, text: &str) -> String {
        self.changes.iter().fold(text.to_owned(), |text, change| change.applied(&text))
    }
}

impl Change {
    fn applied(&self, text: &str) -> String {
        match self {
            Self::Piece { was, is } => text.replacen(was, is, 1),
            Self::End(added) => format!("{text}\n{added}"),
            Self::Panels(..) => format!("{text}\n{}", self.added()),
        }
    }

    /// What is added at the end; nothing where a piece is written anew.
    #[must_use]
    pub fn added(&self) -> String {
        match self {
            Self::Piece { .. } => String::new(),
            Self::End(added) => (*added).to_owned(),
            Self::Panels(kind, surfaces) => {
                let panel = |surface: &str, [left, bottom]: [f64; 2]| {
                    format!("[[panel]]\ntype = \"{kind}\"\nsurface = \"{surface}\"\nleft = {left}\nbottom = {bottom}\n")
                };
                let on = |(surface, places): &(&str, &[[f64; 2]])| places.iter().map(|place| panel(surface, *place)).collect::<String>();
                surfaces.iter().map(on).collect()
            }
        }
    }
}

/// A piece of text for another.
const fn piece(was: &'static str, is: &'static str) -> Change {
    Change::Piece { was, is }
}

const ONE_WALL: Lesson = Lesson {
    number: 1,
    word: "one-wall",
    title: "One wall",
    text: include_str!("../../scenes/lessons/one-wall.toml"),
    about: "A wall that mirrors sound acts like a second source behind it, as far behind as the first stands before: its image. Where the image stands tells how late its sound comes and how weak.",
    kept: "Farther from a wall, its reflection comes later and weaker; absorber at the right place takes more than distance does. The dips of both stay where the delay puts them.",
    first: "1.5 m from the wall",
    variations: &[
        Variation {
            name: "3.5 m from the wall",
            changes: &[
                piece("position = [1.5, 1.5, 1.5]", "position = [1.5, 3.5, 1.5]"),
                piece("position = [4.5, 1.5, 1.5]", "position = [4.5, 3.5, 1.5]"),
            ],
        },
        Variation { name: "a panel at the mirror point", changes: &[Change::Panels("thick panel", &[("hard wall", &[[2.4, 0.9]])])] },
    ],
    shown: 0,
    mirror: Some(0),
    is_by_waves: false,
    try_next: "Move the seat nearer to the source (its `position`). The direct sound gains more than the wall's, so the reflection sinks in level and its delay grows. \
               Or give the wall another material from the table: `roomwright absorbers` lists them.",
};

const MIRROR_POINT: Lesson = Lesson {
    number: 2,
    word: "mirror-point",
    title: "The mirror point moves with the seat",
    text: include_str!("../../scenes/lessons/mirror-point.toml"),
    about: "A wall mirrors a loudspeaker to a seat at one point. A panel there takes that reflection; a panel elsewhere takes others. When the seat moves, the point moves along the wall.",
    kept: "Find the point for the seat that counts, and make the panel wide: a reflection needs an area round its point, the larger the farther the seat, and heads move.",
    first: "panel at the mirror point",
    variations: &[
        Variation { name: "no panel", changes: &[piece(MIRROR_PANEL, "")] },
        Variation { name: "seat 1.5 m back, panel stays", changes: &[piece("position = [1.8, 2.5, 1.2]", "position = [1.8, 1, 1.2]")] },
        Variation {
            name: "seat 1.5 m back, panel follows",
            changes: &[piece("position = [1.8, 2.5, 1.2]", "position = [1.8, 1, 1.2]"), piece("left = 1.4 ", "left = 2.0 ")],
        },
        Variation {
            name: "seat 1.5 m back, two panels",
            changes: &[
                piece("position = [1.8, 2.5, 1.2]", "position = [1.8, 1, 1.2]"),
                Change::Panels("wall panel", &[("east", &[[2.0, 0.6]])]),
            ],
        },
    ],
    shown: 0,
    mirror: Some(1),
    is_by_waves: false,
    try_next: "Move the seat sideways instead, or the loudspeaker. Then find the mirror point with a real mirror: sit down, let a friend slide it along the wall, \
               and mark where you see the loudspeaker. It is the point that the table gives.",
};

const MIRROR_PANEL: &str = "[[panel]]\ntype = \"wall panel\"\nsurface = \"east\"\nleft = 1.4                        # of the panel, from the north end of the wall\nbottom = 0.6\n";

const FLUTTER: Lesson = Lesson {
    number: 3,
    word: "flutter",
    title: "Flutter between two walls",
    text: include_str!("../../scenes/lessons/flutter.toml"),
    about: "Between two bare walls that face each other sound goes to and fro long after all other ways have died in carpet, ceiling and curtains. A clap then rattles or hums at the rate of the returns.",
    kept: "It takes little to stop it: something that absorbs, scatters or turns the sound away, wherever two bare stretches face each other. Panels with bare stretches between them shorten what the room rings and leave the rattle in between; stand there and clap. Turned walls need no absorber.",
    first: "two bare walls",
    variations: &[
        Variation {
            name: "four panels on one of them",
            changes: &[Change::Panels("wall panel", &[("north", &[[0.5, 0.8], [1.65, 0.8], [2.8, 0.8], [3.95, 0.8]])])],
        },
        Variation {
            name: "one of them scatters",
            changes: &[Change::End(
                "[[room.wall]]\nedge = 3\nname = \"shelves\"\nmaterial = \"full shelves\"\n\n[[material]]\nname = \"full shelves\"\nabsorption = [0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.03]\nscattering = 0.6\nsource = \"made up for this lesson\"\n",
            )],
        },
        Variation {
            name: "one of them turned by 6 degrees",
            changes: &[piece("outline = [[0, 0], [5, 0], [5, 3], [0, 3]]", "outline = [[0, 0], [5, 0], [5, 3.26], [0, 2.74]]")],
        },
    ],
    shown: 0,
    mirror: None,
    is_by_waves: false,
    try_next: "Add panels until no bare stretch of one wall faces a bare stretch of the other, at the height of your ears: on both walls, each opposite a gap.",
};

const ABSORB_OR_SCATTER: Lesson = Lesson {
    number: 4,
    word: "absorb-or-scatter",
    title: "Absorption against scattering",
    text: include_str!("../../scenes/lessons/absorb-or-scatter.toml"),
    about: "Scattering throws sound into all directions: the mirror image grows weaker, but no energy leaves the room. Absorption takes energy away: reflections and decay both shrink.",
    kept: "Scatter where single reflections are too strong and the room is dry enough; absorb where it rings too long. Scattering close to a head needs distance.",
    first: "hard and smooth",
    variations: &[
        Variation {
            name: "walls scatter",
            changes: &[piece("scattering = 0.1                  # of the walls", "scattering = 0.7                  # of the walls")],
        },
        Variation {
            name: "walls absorb",
            changes: &[piece(
                "absorption = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]  # of the walls",
                "absorption = [0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5]  # of the walls",
            )],
        },
    ],
    shown: 0,
    mirror: None,
    is_by_waves: false,
    try_next: "Let the walls do both. Or give the floor an absorption of 0.5 and let the walls scatter: sound that went to and fro between smooth walls is sent to the floor then, and now scattering shortens the decay, too.",
};

/// The cloud of the lesson, its underside so high, meters.
macro_rules! cloud_at {
    ($underside:literal) => {
        Change::End(concat!(
            "[[panel]]\ntype = \"cloud\"\ncenter = [1.9, 3.55]\nturned = true\npanels = [2, 2]\nunderside = ",
            $underside,
            "\n"
        ))
    };
}

const CLOUD_HEIGHTS: Lesson = Lesson {
    number: 5,
    word: "cloud-heights",
    title: "A cloud at four heights",
    text: include_str!("../../scenes/lessons/cloud-heights.toml"),
    about: "A cloud takes the bounce of the ceiling. With air above it its back absorbs as well, and the same panels do more for the decay.",
    kept: "Every height takes the bounce of the ceiling, as long as the cloud covers its mirror points; air above is what makes it worth more for the decay. Headroom and what holds it come first: see what `roomwright build` says of loads, and ask someone who may judge them.",
    first: "no cloud",
    variations: &[
        Variation { name: "2.65 m, at the ceiling", changes: &[cloud_at!("2.65")] },
        Variation { name: "2.5 m", changes: &[cloud_at!("2.5")] },
        Variation { name: "2.3 m", changes: &[cloud_at!("2.3")] },
        Variation { name: "2.1 m", changes: &[cloud_at!("2.1")] },
    ],
    shown: 3,
    mirror: None,
    is_by_waves: false,
    try_next: "Move the cloud half a meter toward the wall behind the seat: it misses the mirror points, and the ceiling is back. `roomwright cloud` tries 25 heights, tilts and sizes at once.",
};

const TWENTY_PER_CENT: Lesson = Lesson {
    number: 6,
    word: "twenty-per-cent",
    title: "The rule of twenty per cent, tested",
    text: include_str!("../../scenes/lessons/twenty-per-cent.toml"),
    about: "The rule says: cover fifteen to twenty per cent of floor, walls and ceiling (common practice, no source). It says nothing of where, nor of how thick.",
    kept: "The share sets how long a room rings in the middle and above; places set what the first reflections do, and panels all in one place do less of both. Thin panels leave the bass whatever their share.",
    first: "bare",
    variations: &[
        Variation {
            name: "10 %, evenly",
            changes: &[Change::Panels(
                "wall panel",
                &[
                    ("south", &[[1.5, 0.65]]),
                    ("north", &[[1.5, 0.65]]),
                    ("east", &[[0.6, 0.65], [2.1, 0.65], [3.6, 0.65]]),
                    ("west", &[[0.6, 0.65], [2.1, 0.65], [3.6, 0.65]]),
                    ("ceiling", &[[0.6, 1.8], [2.4, 1.8], [1.5, 0.4]]),
                ],
            )],
        },
        Variation {
            name: "20 %, evenly",
            changes: &[Change::Panels(
                "wall panel",
                &[
                    ("south", &[[0.45, 0.65], [1.5, 0.65], [2.55, 0.65]]),
                    ("north", &[[0.45, 0.65], [1.5, 0.65], [2.55, 0.65]]),
                    ("east", &[[0.3, 0.65], [1.2, 0.65], [2.1, 0.65], [3.0, 0.65], [3.9, 0.65]]),
                    ("west", &[[0.3, 0.65], [1.2, 0.65], [2.1, 0.65], [3.0, 0.65], [3.9, 0.65]]),
                    ("ceiling", &[[0.6, 0.6], [2.4, 0.6], [1.5, 1.8], [0.6, 3.0], [2.4, 3.0]]),
                ],
            )],
        },
        Variation {
            name: "20 %, first bounces first",
            changes: &[Change::Panels(
                "wall panel",
                &[
                    ("south", &[[0.6, 0.6], [1.2, 0.6], [1.8, 0.6], [2.4, 0.6]]),
                    ("north", &[[0.9, 0.6], [1.5, 0.6], [2.1, 0.6]]),
                    ("east", &[[0.65, 0.6], [1.25, 0.6], [1.85, 0.6], [3.3, 0.6]]),
                    ("west", &[[2.35, 0.6], [2.95, 0.6], [3.55, 0.6], [0.9, 0.6]]),
                    ("ceiling", &[[0.9, 2.93], [1.5, 2.93], [2.1, 2.93], [0.9, 1.73], [1.5, 1.73], [2.1, 1.73]]),
                ],
            )],
        },
        Variation {
            name: "20 %, all at the back",
            changes: &[Change::Panels(
                "wall panel",
                &[
                    (
                        "south",
                        &[
                            [0.0, 0.05],
                            [0.6, 0.05],
                            [1.2, 0.05],
                            [1.8, 0.05],
                            [2.4, 0.05],
                            [3.0, 0.05],
                            [0.0, 1.25],
                            [0.6, 1.25],
                            [1.2, 1.25],
                            [1.8, 1.25],
                            [2.4, 1.25],
                            [3.0, 1.25],
                        ],
                    ),
                    (
                        "ceiling",
                        &[[0.0, 0.0], [0.6, 0.0], [1.2, 0.0], [1.8, 0.0], [2.4, 0.0], [3.0, 0.0], [0.6, 1.2], [1.5, 1.2], [2.4, 1.2]],
                    ),
                ],
            )],
        },
    ],
    shown: 3,
    mirror: None,
    is_by_waves: false,
    try_next: "Make the panels 100 mm thick (`thickness`), and look at the octaves below 500 Hz. `roomwright place` looks for the best places of a stock by itself.",
};

const CORNERS: Lesson = Lesson {
    number: 7,
    word: "corners",
    title: "Corners and bass",
    text: include_str!("../../scenes/lessons/corners.toml"),
    about: "Below some 200 Hz a small room has single tones that stand between its walls. Air moves least at a wall and fiber takes motion: straight on a wall a panel meets little of it; across a corner it stands away from both walls, with air behind.",
    kept: "Depth and air behind are what bass asks for; corners offer both without taking floor. At 63 Hz eight panels leave most of it wherever they hang: that takes far more depth, or panels that swing.",
    first: "bare",
    variations: &[
        Variation {
            name: "eight panels across corners",
            changes: &[Change::End(
                "[[panel]]\ntype = \"corner panel\"\ncorner = [\"north\", \"east\"]\nbottom = 0\n\n[[panel]]\ntype = \"corner panel\"\ncorner = [\"north\", \"east\"]\nbottom = 1.25\n\n\
                 [[panel]]\ntype = \"corner panel\"\ncorner = [\"east\", \"south\"]\nbottom = 0\n\n[[panel]]\ntype = \"corner panel\"\ncorner = [\"east\", \"south\"]\nbottom = 1.25\n\n\
                 [[panel]]\ntype = \"corner panel\"\ncorner = [\"south\", \"west\"]\nbottom = 0\n\n[[panel]]\ntype = \"corner panel\"\ncorner = [\"south\", \"west\"]\nbottom = 1.25\n\n\
                 [[panel]]\ntype = \"corner panel\"\ncorner = [\"west\", \"north\"]\nbottom = 0\n\n[[panel]]\ntype = \"corner panel\"\ncorner = [\"west\", \"north\"]\nbottom = 1.25\n",
            )],
        },
        Variation {
            name: "the same eight flat on walls",
            changes: &[Change::Panels(
                "wall panel",
                &[
                    ("north", &[[1.0, 0.65], [1.6, 0.65]]),
                    ("south", &[[1.0, 0.65], [1.6, 0.65]]),
                    ("east", &[[1.45, 0.65], [2.05, 0.65]]),
                    ("west", &[[1.45, 0.65], [2.05, 0.65]]),
                ],
            )],
        },
    ],
    shown: 1,
    mirror: None,
    is_by_waves: true,
    try_next: "Move the seat a meter forward and ask `roomwright bass` of the room bare and with its corners: which third octaves are strong or weak at each place, and how long does each ring?",
};

const TOO_DEAD: Lesson = Lesson {
    number: 8,
    word: "too-dead",
    title: "A room too dead",
    text: include_str!("../../scenes/lessons/too-dead.toml"),
    about: "Thin absorber everywhere takes the treble and leaves the bass. The room measures short and sounds dull and boomy; a voice in it has no air, and one works against it.",
    kept: "Take away before you add: laying walls bare brings the treble back, and the same fiber, deep on one wall, takes the bass.",
    first: "thin lining all over",
    variations: &[
        Variation {
            name: "two walls laid bare",
            changes: &[
                piece("material = \"thin lining\"          # east", "material = \"Plaster on solid wall\""),
                piece("material = \"thin lining\"          # south", "material = \"Plaster on solid wall\""),
            ],
        },
        Variation {
            name: "deep lining on one wall, three bare",
            changes: &[
                piece("material = \"thin lining\"          # east", "material = \"Plaster on solid wall\""),
                piece("material = \"thin lining\"          # south", "material = \"deep lining\""),
                piece("material = \"thin lining\"          # north", "material = \"Plaster on solid wall\""),
                piece("material = \"thin lining\"          # west", "material = \"Plaster on solid wall\""),
            ],
        },
    ],
    shown: 0,
    mirror: None,
    is_by_waves: true,
    try_next: "Look for a version with a decay of 0.15 to 0.30 s in every octave. Depth is what the bass asks for; area is what the treble asks for.",
};
