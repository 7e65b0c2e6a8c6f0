//! Why something cannot hang or stand in a place, in words for the person who asked.

/// Why something cannot hang or stand in a place.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, thiserror::Error)]
pub enum Refusal {
    /// No surface, corner or seat for this kind of thing.
    #[error("nothing in the room can carry `{0}`")]
    NoPlace(String),
    /// Its surface is not in the room.
    #[error("there is no surface `{0}`")]
    NoSurface(String),
    /// This kind of thing does not go on this surface.
    #[error("`{kind}` does not go on `{surface}`")]
    WrongSurface {
        /// Type of panel.
        kind: String,
        /// Surface.
        surface: String,
    },
    /// Over or too near the edge of its surface.
    #[error("it reaches over the edge of `{0}` or is nearer to it than 20 mm")]
    Edge(String),
    /// Through a wall, the ceiling or the floor.
    #[error("it reaches through `{0}`")]
    Shell(String),
    /// Over a door, window or hatch, or within 20 mm of its frame.
    #[error("the opening `{0}` is there")]
    Opening(String),
    /// Where a door or hatch opens.
    #[error("`{0}` must open there")]
    Sweep(String),
    /// In a clearance.
    #[error("`{0}` must stay clear")]
    Clearance(String),
    /// Against or inside a block.
    #[error("`{0}` is in the way")]
    Block(String),
    /// Over or too near another panel.
    #[error("a panel `{0}` hangs there or nearer than 20 mm")]
    Panel(String),
    /// Where somebody sits.
    #[error("the listener at `{0}` needs that space")]
    Seat(String),
    /// Where a loudspeaker, voice or instrument is.
    #[error("the source `{0}` needs that space")]
    Source(String),
    /// Where a microphone is.
    #[error("the microphone `{0}` needs that space")]
    Microphone(String),
    /// A diffuser too near a seat.
    #[error("it must keep its distance from the seat `{0}`")]
    TooNear(String),
    /// It is screwed on, and that surface must not be drilled.
    #[error("nothing may be screwed to `{0}`")]
    Drill(String),
    /// Too low overhead.
    #[error("under a clear height of 2.0 m somebody would hit it")]
    Headroom,
    /// Too heavy overhead.
    #[error("`{0}` is heavier than 10 kg, too heavy for a ceiling")]
    TooHeavy(String),
}
