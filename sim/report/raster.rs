//! Turns a drawing into a PNG picture, with letters from the font that the program ships, so that a machine without fonts draws the same.
//!
//! *References.* PNG (ISO/IEC 15948); rendering by `resvg`.
//!
//! *Limits.* Letters that `DejaVu Sans` lacks come out as boxes.

use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{self, fontdb};

/// Why a drawing could not become a picture.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RasterError {
    /// The text is not a drawing.
    #[error("the drawing cannot be read: {0}")]
    Drawing(String),
    /// The picture would be too small or too large.
    #[error("a picture of {0} x {1} pixels cannot be made")]
    Size(u32, u32),
    /// The picture could not be packed.
    #[error("the picture cannot be packed: {0}")]
    Packing(String),
}

/// Letters of the shipped font, read once.
fn letters() -> Arc<fontdb::Database> {
    static LETTERS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    LETTERS
        .get_or_init(|| {
            let mut letters = fontdb::Database::new();
            letters.load_font_data(include_bytes!("fonts/DejaVuSans.ttf").to_vec());
            letters.load_font_data(include_bytes!("fonts/DejaVuSans-Bold.ttf").to_vec());
            letters.set_sans_serif_family("DejaVu Sans");
            letters.set_serif_family("DejaVu Sans");
            Arc::new(letters)
        })
        .clone()
}

/// An SVG document with its texts laid out.
///
/// # Errors
/// [`RasterError::Drawing`] if it is none.
pub fn lay_out(svg: &str) -> Result<usvg::Tree, RasterError> {
    let options = usvg::Options { fontdb: letters(), font_family: "DejaVu Sans".to_owned(), ..usvg::Options::default() };
    usvg::Tree::from_str(svg, &options).map_err(|error| RasterError::Drawing(error.to_string()))
}

/// An SVG document as PNG bytes, `width` pixels wide.
///
/// # Errors
/// [`RasterError`].
pub fn png(svg: &str, width: u32) -> Result<Vec<u8>, RasterError> {
    let tree = lay_out(svg)?;
    let zoom = width as f32 / tree.size().width();
    let height = (tree.size().height() * zoom).round().clamp(1.0, 16_384.0) as u32;
    let mut picture = Pixmap::new(width, height).ok_or(RasterError::Size(width, height))?;
    resvg::render(&tree, Transform::from_scale(zoom, zoom), &mut picture.as_mut());
    picture.encode_png().map_err(|error| RasterError::Packing(error.to_string()))
}
