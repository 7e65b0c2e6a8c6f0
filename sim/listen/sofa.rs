//! A measured head out of a file in the open format SOFA (Spatially Oriented Format for Acoustics).
//!
//! Read are files of the convention `SimpleFreeFieldHRIR`: filters `Data.IR` of two receivers for sources at `SourcePosition`, about
//! `ListenerPosition`, `ListenerView` and `ListenerUp`, at `Data.SamplingRate`, each later by `Data.Delay` samples. What is given once
//! stands for all measurements. Positions may be spherical (azimuth to the left, elevation, distance) or Cartesian. The receiver farther
//! to the left (`ReceiverPosition`) is the left ear; where both are at one place the first is. Of several distances the largest is taken.
//!
//! The container is HDF5, read by the crate `hdf5-pure`. Shapes are looked at before values are, so that a file cannot ask for more memory
//! than a set of filters takes.
//!
//! *References.* AES69-2022, "AES standard for file exchange - Spatial acoustic data file format" (from memory; the test file was written
//! and verified by a public implementation of it, `tests/cases/sofa`).
//!
//! *Limits.* No other convention: none of rooms, of headphones, of transfer functions or of second-order sections.

use glam::DVec3;
use hdf5_pure::File;

use super::filtered::{DIRECTIONS_MAX, Filters, FiltersError, SAMPLES_MAX, VALUES_MAX};

/// How HDF5 files begin.
const BEGIN: &[u8] = b"\x89HDF\r\n\x1a\n";
/// The one convention that is read.
const CONVENTION: &str = "SimpleFreeFieldHRIR";
/// The most letters of a title that are told.
const TITLE_MAX: usize = 80;
/// A distance that is within this share of the largest one counts as that.
const DISTANT: f64 = 0.9;

/// Why a file gives no head.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SofaError {
    /// Nothing in it.
    #[error("the file is empty: fetch it again")]
    Empty,
    /// Something else.
    #[error(
        "this is no SOFA file: it does not begin as an HDF5 file does; a set of filters for listening ends in .sofa and has some megabytes"
    )]
    Strange,
    /// HDF5 that is not SOFA.
    #[error("this HDF5 file does not call itself SOFA (its attribute Conventions)")]
    Other,
    /// SOFA of something else.
    #[error(
        "its convention is \"{found}\": only {CONVENTION} is read, the filters of two ears in the free field for directions round a head"
    )]
    Convention {
        /// The one that it has.
        found: String,
    },
    /// Its container is damaged.
    #[error("{what} cannot be read ({why}): the file is damaged or cut off; fetch it again")]
    Damaged {
        /// Which part.
        what: &'static str,
        /// What the reader says.
        why: String,
    },
    /// An array of the wrong shape.
    #[error("{what} has the shape {found}, not {expected}")]
    Shape {
        /// Which.
        what: &'static str,
        /// As it is.
        found: String,
        /// As it should be.
        expected: &'static str,
    },
    /// Not two ears.
    #[error("it has {count} receivers: a head has two, the left ear and the right ear")]
    Receivers {
        /// How many.
        count: u64,
    },
    /// Coordinates of no known kind.
    #[error("{what} is \"{found}\": positions are spherical in degrees and meters, or cartesian in meters")]
    Coordinates {
        /// Which.
        what: &'static str,
        /// As it calls itself.
        found: String,
    },
    /// A position or direction that is none.
    #[error("{what} of measurement {number} is no direction: it has no length, or a value that is no number")]
    NoDirection {
        /// Of what.
        what: &'static str,
        /// Counted from 1.
        number: usize,
    },
    /// Rates that differ.
    #[error("its filters have more than one rate: sets for listening have one")]
    Rates,
    /// Filters that make no head.
    #[error(transparent)]
    Filters(#[from] FiltersError),
}

/// The head in the bytes of a file.
///
/// # Errors
/// [`SofaError`], the first that is wrong.
pub fn read(bytes: &[u8]) -> Result<Filters, SofaError> {
    if bytes.is_empty() {
        return Err(SofaError::Empty);
    }
    if !bytes.starts_with(BEGIN) {
        return Err(SofaError::Strange);
    }
    let file = File::from_bytes(bytes.to_vec()).map_err(damaged("the container"))?;
    let attributes = file.root().attrs().map_err(damaged("the list of attributes"))?;
    let text = |name: &str| attributes.get(name).and_then(|value| value.as_str()).map_or("", trimmed);
    if text("Conventions") != "SOFA" {
        return Err(SofaError::Other);
    }
    if text("SOFAConventions") != CONVENTION {
        return Err(SofaError::Convention { found: shown(text("SOFAConventions")) });
    }
    let (count, samples) = size(&file)?;
    let values = numbers(&file, "Data.IR")?.values;
    if values.len() != 2 * count * samples {
        return Err(SofaError::Damaged { what: "Data.IR", why: "fewer values than its shape has".to_owned() });
    }
    let axes = Axes::read(&file, count)?;
    let sources = points(&file, "SourcePosition", count)?;
    let left = left(&file)?;
    let rates = numbers(&file, "Data.SamplingRate")?.values;
    let rate_hz = rates.first().copied().unwrap_or(f64::NAN);
    // A rate that is no number differs from itself.
    if rates.iter().any(|rate| rate.to_bits() != rate_hz.to_bits()) || !rate_hz.is_finite() {
        return Err(SofaError::Rates);
    }
    let delays = delays(&file, count)?;
    let seen: Vec<(f64, DVec3)> =
        sources.of(count).enumerate().map(|(index, source)| axes.seen(index, source)).collect::<Result<_, _>>()?;
    let farthest = seen.iter().map(|(distance, _)| *distance).fold(0.0, f64::max);
    let mut filters = Filters { title: shown(title(&text)), rate_hz, directions: Vec::new(), responses: Vec::new(), delays: Vec::new() };
    for (index, (_, direction)) in seen.into_iter().enumerate().filter(|(_, (distance, _))| *distance >= DISTANT * farthest) {
        let ear = |receiver: usize| values[(2 * index + receiver) * samples..][..samples].to_vec();
        let later = delays[index % delays.len()];
        filters.directions.push(direction);
        filters.responses.push([ear(left), ear(1 - left)]);
        filters.delays.push([later[left], later[1 - left]]);
    }
    filters.check()?;
    Ok(filters)
}

fn damaged(what: &'static str) -> impl Fn(hdf5_pure::Error) -> SofaError {
    move |why| SofaError::Damaged { what, why: why.to_string() }
}

fn trimmed(text: &str) -> &str {
    text.trim_matches(|letter: char| letter == '\0' || letter.is_whitespace())
}

/// Words of a file, fit to be shown: on one line and short.
fn shown(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).take(TITLE_MAX).collect::<String>().trim().to_owned()
}

/// What the set calls itself: its title, else the name of its listener or of its collection.
fn title<'a>(text: &impl Fn(&str) -> &'a str) -> &'a str {
    ["Title", "ListenerShortName", "DatabaseName"].into_iter().map(text).find(|text| !text.is_empty()).unwrap_or("without a title")
}

/// How many measurements there are and how long their filters, once they are known to be few enough.
fn size(file: &File) -> Result<(usize, usize), SofaError> {
    let shape = file.dataset("Data.IR").and_then(|data| data.shape()).map_err(damaged("Data.IR"))?;
    let [measurements, receivers, samples] = shape[..] else {
        return Err(SofaError::Shape { what: "Data.IR", found: of_shape(&shape), expected: "measurements x 2 receivers x samples" });
    };
    if receivers != 2 {
        return Err(SofaError::Receivers { count: receivers });
    }
    let whole = |value: u64| usize::try_from(value).unwrap_or(usize::MAX);
    let (count, samples) = (whole(measurements), whole(samples));
    if count > DIRECTIONS_MAX {
        return Err(FiltersError::Directions { count }.into());
    }
    if samples > SAMPLES_MAX || 2 * samples * count > VALUES_MAX {
        return Err(FiltersError::Long { samples, count }.into());
    }
    Ok((count, samples))
}

fn of_shape(shape: &[u64]) -> String {
    if shape.is_empty() { "of one value".to_owned() } else { shape.iter().map(u64::to_string).collect::<Vec<_>>().join(" x ") }
}

/// An array with its shape and the words for its coordinates.
struct Numbers {
    shape: Vec<u64>,
    values: Vec<f64>,
    kind: String,
}

/// An array that holds no more than what a set of filters has.
fn numbers(file: &File, what: &'static str) -> Result<Numbers, SofaError> {
    let data = file.dataset(what).map_err(damaged(what))?;
    let shape = data.shape().map_err(damaged(what))?;
    let many = shape.iter().fold(1_u64, |product, length| product.saturating_mul(*length));
    if many > VALUES_MAX as u64 {
        return Err(SofaError::Shape { what, found: of_shape(&shape), expected: "that of a set of filters" });
    }
    let values = data.read_f64().map_err(damaged(what))?;
    let attributes = data.attrs().map_err(damaged(what))?;
    let kind = attributes.get("Type").and_then(|value| value.as_str()).map_or("", trimmed).to_lowercase();
    Ok(Numbers { shape, values, kind })
}

/// Points or directions, once or for each measurement.
struct Points(Vec<DVec3>);

impl Points {
    fn at(&self, index: usize) -> DVec3 {
        self.0[index % self.0.len()]
    }

    fn of(&self, count: usize) -> impl Iterator<Item = DVec3> {
        (0..count).map(|index| self.at(index))
    }
}

/// Cartesian points of an array of rows of three, one for all or as many as there are measurements.
fn points(file: &File, what: &'static str, count: usize) -> Result<Points, SofaError> {
    let numbers = numbers(file, what)?;
    let rows = numbers.values.len() / 3;
    let is_rows = numbers.shape.len() == 2 && numbers.shape[1] == 3 && numbers.values.len() == 3 * rows;
    if !is_rows || !(rows == 1 || rows == count) {
        let expected = "3 numbers for all measurements, or for each";
        return Err(SofaError::Shape { what, found: of_shape(&numbers.shape), expected });
    }
    let rows = numbers.values.chunks_exact(3).map(|row| DVec3::new(row[0], row[1], row[2]));
    cartesian(what, &numbers.kind, rows)
}

fn cartesian(what: &'static str, kind: &str, rows: impl Iterator<Item = DVec3>) -> Result<Points, SofaError> {
    match kind {
        "cartesian" => Ok(Points(rows.collect())),
        "spherical" => Ok(Points(rows.map(from_sphere).collect())),
        found => Err(SofaError::Coordinates { what, found: shown(found) }),
    }
}

/// Of azimuth and elevation in degrees, and distance.
fn from_sphere(row: DVec3) -> DVec3 {
    let ((sine, cosine), (height, flat)) = (row.x.to_radians().sin_cos(), row.y.to_radians().sin_cos());
    row.z * DVec3::new(flat * cosine, flat * sine, height)
}

/// Where the head is and how it is held.
struct Axes {
    places: Points,
    ahead: Points,
    up: Points,
}

impl Axes {
    fn read(file: &File, count: usize) -> Result<Self, SofaError> {
        let place = points(file, "ListenerPosition", count)?;
        Ok(Self { places: place, ahead: points(file, "ListenerView", count)?, up: up(file, count)? })
    }

    /// Distance of a source and direction to it, as the head has them: x ahead, y to the left, z up.
    fn seen(&self, index: usize, source: DVec3) -> Result<(f64, DVec3), SofaError> {
        let no = |what: &'static str| move || SofaError::NoDirection { what, number: index + 1 };
        let ahead = self.ahead.at(index).try_normalize().ok_or_else(no("ListenerView"))?;
        let left = self.up.at(index).cross(ahead).try_normalize().ok_or_else(no("ListenerUp"))?;
        let from = source - self.places.at(index);
        let way = from.try_normalize().ok_or_else(no("SourcePosition"))?;
        let seen = DVec3::new(ahead.dot(way), left.dot(way), ahead.cross(left).dot(way));
        Ok((from.length(), seen.try_normalize().ok_or_else(no("SourcePosition"))?))
    }
}

/// `ListenerUp` has the coordinates of `ListenerView` where it does not name any.
fn up(file: &File, count: usize) -> Result<Points, SofaError> {
    match points(file, "ListenerUp", count) {
        Err(SofaError::Coordinates { found, .. }) if found.is_empty() => {
            let view = numbers(file, "ListenerView")?.kind;
            let rows = numbers(file, "ListenerUp")?.values;
            cartesian("ListenerUp", &view, rows.chunks_exact(3).map(|row| DVec3::new(row[0], row[1], row[2])))
        }
        read => read,
    }
}

/// Which receiver is the left ear.
fn left(file: &File) -> Result<usize, SofaError> {
    let what = "ReceiverPosition";
    let numbers = numbers(file, what)?;
    // Receivers x 3, and once more x 1 or x measurements: the first of these counts.
    let (is_two, each) = (numbers.shape.len() >= 2 && numbers.shape[..2] == [2, 3], numbers.values.len() / 6);
    if !is_two || each == 0 || numbers.values.len() != 6 * each {
        return Err(SofaError::Shape { what, found: of_shape(&numbers.shape), expected: "2 receivers x 3 numbers" });
    }
    let row = |receiver: usize| DVec3::from_array(std::array::from_fn(|axis| numbers.values[(3 * receiver + axis) * each]));
    let ears = cartesian(what, &numbers.kind, [row(0), row(1)].into_iter())?;
    Ok(usize::from(ears.at(1).y > ears.at(0).y))
}

/// Delays of both receivers in samples, for all or for each measurement.
fn delays(file: &File, count: usize) -> Result<Vec<[f64; 2]>, SofaError> {
    let what = "Data.Delay";
    let numbers = numbers(file, what)?;
    let rows: Vec<[f64; 2]> = numbers.values.chunks_exact(2).map(|row| [row[0], row[1]]).collect();
    let is_rows = numbers.shape.len() == 2 && numbers.shape[1] == 2 && (rows.len() == 1 || rows.len() == count);
    if is_rows {
        Ok(rows)
    } else {
        Err(SofaError::Shape { what, found: of_shape(&numbers.shape), expected: "2 numbers for all measurements, or for each" })
    }
}
