//! The scene that `roomwright new` writes: a rectangular room, who sounds and who listens in it, some panels and the cautions.
//!
//! For mixing two loudspeakers stand before the middle of a shorter wall and look at the seat; all three make a triangle of equal sides. For
//! rehearsals and lessons an instrument or a voice is in their middle. For a voice someone sits off the room's middle, looks along its
//! longer way and talks or plays into a microphone.
//!
//! *Limits.* It is a start to be measured over, not a recommendation.

use toml_edit::Value;

use super::Activity;
use crate::units::{Length, LengthError, LengthUnit};

/// Size of a rectangular room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoomSize {
    /// Along x.
    pub length: Length,
    /// Along y.
    pub width: Length,
    /// Floor to ceiling.
    pub height: Length,
    /// Unit it was written in.
    pub unit: LengthUnit,
}

/// Why a text is not the size of a room.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RoomSizeError {
    /// Not three lengths.
    #[error("expected length x width x height, like 3.6x2.9x2.4m or 12ftx9ft6inx8ft, found {0} measures")]
    Count(usize),
    /// No unit.
    #[error("expected the unit after the last measure, like 3.6x2.9x2.4m, 360x290x240cm or 12x9x8ft")]
    Unit,
    /// One of them is no length.
    #[error("`{0}` is not a length: {1}")]
    Length(String, LengthError),
    /// One of them is no size for a room.
    #[error("`{0}` is out of range: sides from 1.5 m to 30 m and heights from 1.6 m to 10 m make a room to start from")]
    Range(String),
}

/// Least and greatest side and height, meters.
const SIDE: std::ops::RangeInclusive<f64> = 1.5..=30.0;
const HEIGHT: std::ops::RangeInclusive<f64> = 1.6..=10.0;

impl RoomSize {
    /// Reads `3.6x2.9x2.4m`, `360 x 290 x 240 cm`, `12ftx9ft6inx8ft`; a part without a unit takes the last part's.
    ///
    /// # Errors
    /// If it is not three lengths that make a room.
    pub fn read(text: &str) -> Result<Self, RoomSizeError> {
        let parts: Vec<&str> = text.split(['x', 'X', '\u{d7}', '*']).map(str::trim).collect();
        let [_, _, last] = parts[..] else { return Err(RoomSizeError::Count(parts.len())) };
        let symbol: String = last
            .chars()
            .skip_while(|c| !(c.is_alphabetic() || "'\"\u{2032}\u{2033}".contains(*c)))
            .take_while(|c| !c.is_ascii_digit())
            .collect();
        let unit = LengthUnit::named(symbol.trim()).filter(|unit| LengthUnit::ALL.contains(unit));
        let unit = if symbol.is_empty() { Err(RoomSizeError::Unit) } else { Ok(unit.unwrap_or(LengthUnit::Meter)) }?;
        let mut lengths = [Length(0.0); 3];
        for (index, (length, part)) in lengths.iter_mut().zip(&parts).enumerate() {
            *length = if index == 2 { Self::read_height(part, unit) } else { Self::read_side(part, unit) }?;
        }
        let [length, width, height] = lengths;
        Ok(Self { length, width, height, unit })
    }

    /// Reads length or width alone; a bare number is in `unit`.
    ///
    /// # Errors
    /// If it is no length, or none of a room to start from.
    pub fn read_side(text: &str, unit: LengthUnit) -> Result<Length, RoomSizeError> {
        Self::measure(text, unit, &SIDE)
    }

    /// Reads the height alone; a bare number is in `unit`.
    ///
    /// # Errors
    /// If it is no length, or none of a room to start from.
    pub fn read_height(text: &str, unit: LengthUnit) -> Result<Length, RoomSizeError> {
        Self::measure(text, unit, &HEIGHT)
    }

    fn measure(text: &str, unit: LengthUnit, range: &std::ops::RangeInclusive<f64>) -> Result<Length, RoomSizeError> {
        let length = Length::read(text, unit).map_err(|reason| RoomSizeError::Length(text.to_owned(), reason))?;
        if range.contains(&length.0) { Ok(length) } else { Err(RoomSizeError::Range(text.to_owned())) }
    }
}

/// The scene text for a new room of this name and size, for mixing; it reads without a diagnostic.
#[must_use]
pub fn starter(name: &str, size: &RoomSize) -> String {
    starter_for(name, size, Activity::Mixing)
}

/// The scene text for a new room that is for this; it reads without a diagnostic.
#[must_use]
pub fn starter_for(name: &str, size: &RoomSize, activity: Activity) -> String {
    let name: String = name.chars().map(|c| if c.is_control() { ' ' } else { c }).take(80).collect();
    let name = if name.trim().is_empty() { "Room" } else { name.trim() };
    let feet = matches!(size.unit, LengthUnit::Foot | LengthUnit::Inch);
    let length = |meters: f64| -> String {
        let text = Length(meters).print(size.unit);
        let bare = text.strip_suffix(size.unit.symbol()).map(str::trim).filter(|number| number.parse::<f64>().is_ok());
        bare.map_or_else(|| format!("\"{text}\""), str::to_owned)
    };
    let places = Places::of(size, if feet { 0.0254 } else { 0.01 });
    let point = |point: [f64; 3]| format!("[{}]", point.map(length).join(", "));
    // What is sold: 600 x 1200 mm here, 2 x 4 ft there.
    let panel = if feet { [0.6096, 1.2192, 0.0508, 0.1016] } else { [0.6, 1.2, 0.05, 0.1] }.map(length);
    let [wide, high, thin, thick] = &panel;
    let people = match activity {
        Activity::Mixing => LOUDSPEAKERS.to_owned() + SEAT,
        Activity::Voice => MICROPHONE.to_owned(),
        Activity::Rehearsal => INSTRUMENT.to_owned() + SEAT,
        Activity::Lesson => VOICE.to_owned() + SEAT,
    };
    let others = Activity::ALL.into_iter().filter(|other| *other != activity).map(|other| format!("\"{}\"", other.word()));
    let used = format!("\"{}\"", activity.word());
    let lines = [
        ("@NAME", Value::from(name).to_string()),
        ("@USE", format!("{used:<22} # or {}", others.collect::<Vec<_>>().join(", "))),
        ("@UNIT", size.unit.symbol().to_owned()),
        ("@ROOM", point([size.length.0, size.width.0, size.height.0])),
        ("@LEFT", point(places.left)),
        ("@RIGHT", point(places.right)),
        ("@FRONT", point(places.front)),
        ("@EAR", point(places.ear)),
        ("@MOUTH", point(places.mouth)),
        ("@PICKUP", point(places.pickup)),
        ("@PANEL", format!("[{wide}, {high}]")),
        ("@THIN", thin.clone()),
        ("@THICK", thick.clone()),
    ];
    // The name last, so that nothing in it is taken for a place holder.
    lines.iter().rev().fold(STARTER.replace("@PEOPLE\n", &people), |text, (holder, value)| text.replace(holder, value.trim()))
}

/// Where things stand.
struct Places {
    left: [f64; 3],
    right: [f64; 3],
    /// Between the two.
    front: [f64; 3],
    ear: [f64; 3],
    mouth: [f64; 3],
    /// The microphone before the mouth.
    pickup: [f64; 3],
}

/// From mouth to microphone, meters.
const TALKING_DISTANCE: f64 = 0.25;

/// How far along the longer way the mouth is: neither in the middle, where the lowest mode has its node, nor near a wall.
const MOUTH_ALONG: f64 = 0.6;

impl Places {
    /// On the middle line between the longer walls, rounded to `step` in meters.
    fn of(size: &RoomSize, step: f64) -> Self {
        let round = |meters: f64| (meters / step).round() * step;
        let (length, width) = (size.length.0, size.width.0);
        let (along, across) = (length.max(width), length.min(width));
        let front = round((0.15 * along).clamp(0.3, 0.6));
        let half = round((0.45 * across).min(0.6 * along).clamp(0.6, 1.5) / 2.0);
        let seat = round(front + half * 3.0_f64.sqrt());
        let ear = round((size.height.0 - 0.4).min(1.2));
        let place = |ahead: f64, aside: f64| {
            let middle = across / 2.0 + aside;
            // Looking along +x left is +y; looking along +y left is -x.
            if length >= width { [size.length.0 - ahead, middle, ear] } else { [across / 2.0 - aside, width - ahead, ear] }
        };
        let mouth = round(MOUTH_ALONG * along);
        Self {
            left: place(front, half),
            right: place(front, -half),
            front: place(front, 0.0),
            ear: place(seat, 0.0),
            mouth: place(mouth, 0.0),
            pickup: place(mouth - round(TALKING_DISTANCE), 0.0),
        }
    }
}

/// The text, with place holders.
const STARTER: &str = include_str!("starter.toml");

const LOUDSPEAKERS: &str = r#"[[loudspeaker]]
name = "left"
position = @LEFT
toward = "seat"

[[loudspeaker]]
name = "right"
position = @RIGHT
toward = "seat"

"#;

const INSTRUMENT: &str = r#"[[instrument]]
name = "instrument"
position = @FRONT

"#;

const VOICE: &str = r#"[[voice]]
name = "voice"
position = @FRONT
toward = "seat"

"#;

const SEAT: &str = r#"[[seat]]
name = "seat"
ear = @EAR
"#;

const MICROPHONE: &str = r#"[[voice]]
name = "voice"
position = @MOUTH
toward = "microphone"

[[microphone]]
name = "microphone"
position = @PICKUP
toward = "voice"
pattern = "cardioid"
"#;
