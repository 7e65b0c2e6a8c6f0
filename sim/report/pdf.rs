//! Binds drawings into one PDF: a page for each, true to size, letters embedded, the same bytes every time.
//!
//! A page of `w x h` mm has a media box of `72 w / 25.4 x 72 h / 25.4` points, so that 100 mm of the drawing are 100 mm of paper. Texts stay texts, in the part of
//! the shipped font that the page uses.
//!
//! *References.* ISO 32000-1:2008, 7.7.3.3 (media box), 8.3.2.3 (user space: 1/72 in), 14.3.3 (information dictionary). CSS 2.1, 4.3.2: 96 px are an inch.
//! Conversion of drawings by `svg2pdf`.
//!
//! *Limits.* No date and no identifier stand in the file, since both would differ from run to run.

use std::collections::HashMap;

use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, TextStr};
use svg2pdf::{ConversionOptions, to_chunk};

use super::raster::{self, RasterError};

use super::pdf_order::{self, OrderError};

/// Points in a px of the drawing.
const POINTS: f32 = 72.0 / 96.0;

/// Why drawings could not become a PDF.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PdfError {
    /// There is none.
    #[error("a PDF without pages cannot be written")]
    Empty,
    /// One of them is no drawing.
    #[error("page {page}: {error}")]
    Drawing {
        /// Which, from 1.
        page: usize,
        /// Why.
        error: RasterError,
    },
    /// One of them could not be converted.
    #[error("page {page} cannot be converted: {error}")]
    Page {
        /// Which, from 1.
        page: usize,
        /// Why.
        error: String,
    },
    /// The file could not be put in order.
    #[error("the pages cannot be bound: {0}")]
    Order(#[from] OrderError),
}

/// Drawings (SVG documents of ours, sizes in mm) as one PDF with this title.
///
/// # Errors
/// [`PdfError`].
pub fn pdf(title: &str, pages: &[String]) -> Result<Vec<u8>, PdfError> {
    if pages.is_empty() {
        return Err(PdfError::Empty);
    }
    let mut file = Pdf::new();
    let mut free = Ref::new(1);
    let (catalog, tree, info) = (free.bump(), free.bump(), free.bump());
    let mut kids = Vec::new();
    for (index, page) in pages.iter().enumerate() {
        let number = index + 1;
        let drawing = raster::lay_out(page).map_err(|error| PdfError::Drawing { page: number, error })?;
        let (chunk, picture) =
            to_chunk(&drawing, ConversionOptions::default()).map_err(|error| PdfError::Page { page: number, error: error.to_string() })?;
        let mut renumbered: HashMap<Ref, Ref> = HashMap::new();
        chunk.renumber_into(&mut file, |old| *renumbered.entry(old).or_insert_with(|| free.bump()));
        let picture = renumbered[&picture];
        let (width, height) = (drawing.size().width() * POINTS, drawing.size().height() * POINTS);
        let (leaf, content) = (free.bump(), free.bump());
        // The picture is a square of 1 x 1.
        let mut paint = Content::new();
        paint.transform([width, 0.0, 0.0, height, 0.0, 0.0]).x_object(Name(b"P"));
        file.stream(content, &paint.finish());
        let mut written = file.page(leaf);
        written.parent(tree).media_box(Rect::new(0.0, 0.0, width, height)).contents(content);
        written.resources().x_objects().pair(Name(b"P"), picture);
        written.finish();
        kids.push(leaf);
    }
    file.pages(tree).count(i32::try_from(kids.len()).unwrap_or(i32::MAX)).kids(kids);
    file.catalog(catalog).pages(tree);
    file.document_info(info).title(TextStr(title)).producer(TextStr("roomwright"));
    Ok(pdf_order::ordered(&file.finish())?)
}
