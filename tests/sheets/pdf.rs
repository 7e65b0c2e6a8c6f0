//! The PDF: true to size, one page a drawing, letters embedded, the same bytes every time.

use super::{FEET, METERS, built};
use roomwright::report::build::shop_pages::{Job, pages};
use roomwright::report::pdf::{PdfError, pdf};

fn drawings(text: &str) -> Vec<String> {
    let built = built(text);
    pages(Job { scene: &built.scene, room: &built.room, build: &built.build, panels: &built.panels, sheets: &[] })
        .into_iter()
        .map(|page| page.1)
        .collect()
}

fn found(bytes: &[u8], text: &str) -> usize {
    bytes.windows(text.len()).filter(|window| *window == text.as_bytes()).count()
}

/// Media boxes in points.
fn boxes(bytes: &[u8]) -> Vec<[f64; 4]> {
    let text = String::from_utf8_lossy(bytes);
    text.split("/MediaBox [")
        .skip(1)
        .map(|rest| {
            let numbers: Vec<f64> = rest
                .split(']')
                .next()
                .unwrap_or_default()
                .split_whitespace()
                .map(|number| number.parse().expect("a number of points"))
                .collect();
            numbers.try_into().expect("a box has four numbers")
        })
        .collect()
}

#[test]
fn a_page_for_each_drawing_true_to_size() {
    for (text, size) in [(METERS, [210.0, 297.0]), (FEET, [215.9, 279.4])] {
        let drawings = drawings(text);
        let bytes = pdf("a title", &drawings).expect("a PDF");
        let boxes = boxes(&bytes);
        assert_eq!(boxes.len(), drawings.len());
        assert_eq!(found(&bytes, &format!("/Count {}", drawings.len())), 1);
        for [left, bottom, right, top] in boxes {
            assert_eq!([left, bottom], [0.0, 0.0]);
            // Within a thousandth of a millimeter of 72 points an inch.
            assert!((right - size[0] * 72.0 / 25.4).abs() < 0.003 && (top - size[1] * 72.0 / 25.4).abs() < 0.003, "{right} x {top}");
        }
    }
}

#[test]
fn sheets_of_other_sizes_keep_theirs() {
    let landscape = r##"<svg xmlns="http://www.w3.org/2000/svg" width="297mm" height="210mm" viewBox="0 0 297 210"><rect width="100" height="1" fill="#000"/></svg>"##;
    let mut drawings = drawings(METERS);
    drawings.insert(1, landscape.to_owned());
    let boxes = boxes(&pdf("a title", &drawings).expect("a PDF"));
    assert!((boxes[1][2] - 841.89).abs() < 0.01 && (boxes[1][3] - 595.276).abs() < 0.01, "{:?}", boxes[1]);
}

#[test]
fn letters_are_a_part_of_the_shipped_font_and_stay_text() {
    let bytes = pdf("a title", &drawings(METERS)).expect("a PDF");
    let text = String::from_utf8_lossy(&bytes);
    // A subset has six capitals and a plus before its name (ISO 32000-1, 9.6.4).
    let names: Vec<&str> = text.split("/FontName /").skip(1).map(|rest| rest.split_whitespace().next().unwrap()).collect();
    assert!(!names.is_empty());
    for name in names {
        let (tag, font) = name.split_once('+').expect("a subset");
        assert!(tag.len() == 6 && tag.bytes().all(|letter| letter.is_ascii_uppercase()) && font.starts_with("DejaVuSans"), "{name}");
    }
    assert!(found(&bytes, "/FontFile2") > 0 && found(&bytes, "/ToUnicode") > 0);
    // Far less than the font as a whole on every page.
    assert!(bytes.len() < 100_000 * drawings(METERS).len());
}

#[test]
fn the_same_pages_give_the_same_bytes() {
    let drawings = drawings(METERS);
    let first = pdf("a title", &drawings).expect("a PDF");
    for _ in 0..8 {
        assert_eq!(pdf("a title", &drawings).expect("a PDF"), first);
    }
    assert_eq!(found(&first, "/CreationDate") + found(&first, "/ModDate") + found(&first, "/ID"), 0);
}

/// Every entry of the table leads to the object that it says.
#[test]
fn the_table_leads_to_the_objects() {
    let bytes = pdf("braces (and) a back\\slash, 1 0 R, \u{e9}", &drawings(FEET)).expect("a PDF");
    let start = bytes.windows(5).rposition(|window| window == b"xref\n" || window == b"xref ").expect("a table");
    let last = bytes.windows(9).rposition(|window| window == b"startxref").expect("an end");
    let tail = String::from_utf8_lossy(&bytes[last..]);
    let at: usize = tail.lines().nth(1).unwrap().parse().unwrap();
    assert!(bytes[at..].starts_with(b"xref\n0 "));
    assert!(start >= at);
    let table = String::from_utf8_lossy(&bytes[at..last]).into_owned();
    let mut entries = 0;
    for (number, line) in table.lines().skip(2).take_while(|line| !line.starts_with("trailer")).enumerate() {
        if line.trim_end().ends_with('n') {
            let place: usize = line[..10].parse().unwrap();
            assert!(bytes[place..].starts_with(format!("{number} 0 obj").as_bytes()), "{line}");
            entries += 1;
        }
    }
    assert!(entries > 10);
    assert_eq!(found(&bytes, " 0 obj\n"), entries);
}

/// A color profile that every page has stands in the file once, and so does the font of pages that use the same letters.
#[test]
fn what_is_there_twice_is_written_once() {
    let one = drawings(METERS).remove(0);
    let bytes = pdf("a title", &vec![one; 10]).expect("a PDF");
    assert!(found(&bytes, "/ICCBased") >= 10);
    assert_eq!(found(&bytes, "/N 3"), 1);
    let text = String::from_utf8_lossy(&bytes);
    let mut fonts: Vec<&str> = text.split("/FontFile2 ").skip(1).map(|rest| rest.split(" R").next().unwrap()).collect();
    assert!(fonts.len() >= 20);
    fonts.sort_unstable();
    fonts.dedup();
    assert_eq!(fonts.len(), 2);
}

#[test]
fn what_is_no_drawing_is_told() {
    assert_eq!(pdf("a title", &[]), Err(PdfError::Empty));
    assert!(matches!(pdf("a title", &[drawings(METERS).remove(0), "no drawing".to_owned()]), Err(PdfError::Drawing { page: 2, .. })));
}
