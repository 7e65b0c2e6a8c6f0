//! Draws: a small writer of SVG in millimeters of paper, so that a printed page is true to scale.
//!
//! Every text leaves its box behind ([`Drawing::labels`]); whoever places the next one asks [`Drawing::is_free`] first, so nothing overlaps.
//! Numbers are rounded to 0.001 mm and names are escaped: the same values give the same bytes, whatever the user called things.
//!
//! *References.* SVG 1.1 (2nd edition), chapters 7 (units), 9 (shapes), 10 (text). Advance widths: the shipped font's own `hmtx` table.
//!
//! *Limits.* Text boxes use the advance widths of ASCII letters; any other letter counts as wide as `m`. Kerning is not counted.

use std::fmt::Write as _;

use glam::DVec2;

use super::paper::{self, Color};

/// How a shape is filled and drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Color of the inside.
    pub fill: Option<Color>,
    /// Opacity of the inside, 0 to 1.
    pub opacity: f64,
    /// Color of the line.
    pub stroke: Option<Color>,
    /// Width of the line in mm.
    pub width: f64,
    /// Dash and gap in mm; both 0: solid.
    pub dash: [f64; 2],
}

impl Look {
    /// Filled, no line.
    #[must_use]
    pub const fn fill(color: Color) -> Self {
        Self { fill: Some(color), opacity: 1.0, stroke: None, width: 0.0, dash: [0.0; 2] }
    }

    /// A line of this width in mm, not filled.
    #[must_use]
    pub const fn line(color: Color, width: f64) -> Self {
        Self { fill: None, opacity: 1.0, stroke: Some(color), width, dash: [0.0; 2] }
    }

    /// The same with a line of this width in mm.
    #[must_use]
    pub const fn edged(mut self, color: Color, width: f64) -> Self {
        self.stroke = Some(color);
        self.width = width;
        self
    }

    /// The same with a dashed line, dash and gap in mm.
    #[must_use]
    pub const fn dashed(mut self, dash: f64, gap: f64) -> Self {
        self.dash = [dash, gap];
        self
    }

    /// The same with an inside that lets what lies below shine through.
    #[must_use]
    pub const fn opacity(mut self, opacity: f64) -> Self {
        self.opacity = opacity;
        self
    }
}

/// Which end of a text its position is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// It begins there.
    Start,
    /// It is centered there.
    Middle,
    /// It ends there.
    End,
}

/// How a text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lettering {
    /// Size of the letters (em) in mm.
    pub size: f64,
    /// Color.
    pub color: Color,
    /// Bold or not.
    pub bold: bool,
    /// Which end its position is.
    pub anchor: Anchor,
    /// Turned a quarter counterclockwise: reads from bottom to top.
    pub upright: bool,
    /// Color of a thin rim that keeps it legible over lines.
    pub rim: Option<Color>,
}

impl Lettering {
    /// Regular letters of this size in mm and color, beginning at their position.
    #[must_use]
    pub const fn new(size: f64, color: Color) -> Self {
        Self { size, color, bold: false, anchor: Anchor::Start, upright: false, rim: None }
    }

    /// The same in bold.
    #[must_use]
    pub const fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    /// The same, centered.
    #[must_use]
    pub const fn middle(mut self) -> Self {
        self.anchor = Anchor::Middle;
        self
    }

    /// The same, ending at its position.
    #[must_use]
    pub const fn end(mut self) -> Self {
        self.anchor = Anchor::End;
        self
    }

    /// The same, reading from bottom to top.
    #[must_use]
    pub const fn upright(mut self) -> Self {
        self.upright = true;
        self
    }

    /// The same with a rim.
    #[must_use]
    pub const fn rim(mut self, color: Color) -> Self {
        self.rim = Some(color);
        self
    }

    /// How long a text is in these letters, mm.
    #[must_use]
    pub fn length(&self, text: &str) -> f64 {
        paper::text_width(text, self.bold) * self.size
    }

    /// The box of a text at a position (of its base line), mm.
    #[must_use]
    pub fn area(&self, at: DVec2, text: &str) -> Area {
        let length = self.length(text);
        let start = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -0.5 * length,
            Anchor::End => -length,
        };
        let (rise, fall) = (0.76 * self.size, 0.22 * self.size);
        if self.upright {
            Area { low: DVec2::new(at.x - rise, at.y - start - length), high: DVec2::new(at.x + fall, at.y - start) }
        } else {
            Area { low: DVec2::new(at.x + start, at.y - rise), high: DVec2::new(at.x + start + length, at.y + fall) }
        }
    }

    /// The text, cut with three dots so that it is no longer than `room` mm.
    #[must_use]
    pub fn fit(&self, text: &str, room: f64) -> String {
        if self.length(text) <= room {
            return text.to_owned();
        }
        let mut letters: Vec<char> = text.chars().collect();
        while !letters.is_empty() {
            letters.pop();
            let cut: String = letters.iter().collect::<String>().trim_end().to_owned() + "...";
            if self.length(&cut) <= room {
                return cut;
            }
        }
        String::new()
    }

    /// The text in lines no longer than `room` mm, broken at spaces, those that may not break left whole.
    #[must_use]
    pub fn wrap(&self, text: &str, room: f64) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for word in text.split([' ', '\n']).filter(|word| !word.is_empty()) {
            match lines.last_mut() {
                Some(line) if self.length(&format!("{line} {word}")) <= room => {
                    line.push(' ');
                    line.push_str(word);
                }
                _ => lines.push(self.fit(word, room)),
            }
        }
        lines
    }
}

/// A rectangle on the paper, mm, y downward.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Upper left corner.
    pub low: DVec2,
    /// Lower right corner.
    pub high: DVec2,
}

impl Area {
    /// The rectangle at this corner with this size.
    #[must_use]
    pub fn new(x: f64, y: f64, width: f64, height: f64) -> Self {
        Self { low: DVec2::new(x, y), high: DVec2::new(x + width, y + height) }
    }

    /// The smallest rectangle round these points; empty at the origin without any.
    #[must_use]
    pub fn round(points: &[DVec2]) -> Self {
        let Some(first) = points.first() else { return Self::new(0.0, 0.0, 0.0, 0.0) };
        points
            .iter()
            .fold(Self { low: *first, high: *first }, |area, point| Self { low: area.low.min(*point), high: area.high.max(*point) })
    }

    /// Whether the two share more than `margin` mm (negative: come nearer than that) in both directions.
    #[must_use]
    pub fn overlaps(&self, other: &Self, margin: f64) -> bool {
        let low = self.low.max(other.low);
        let high = self.high.min(other.high);
        high.x - low.x > margin && high.y - low.y > margin
    }

    /// Whether the other lies inside.
    #[must_use]
    pub fn holds(&self, other: &Self) -> bool {
        self.low.cmple(other.low).all() && self.high.cmpge(other.high).all()
    }

    /// Its middle.
    #[must_use]
    pub fn middle(&self) -> DVec2 {
        0.5 * (self.low + self.high)
    }

    /// Its width and height.
    #[must_use]
    pub fn size(&self) -> DVec2 {
        self.high - self.low
    }
}

/// A text and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// The text.
    pub text: String,
    /// Its box in mm.
    pub area: Area,
}

/// A page in the making; positions and sizes in mm, y downward.
#[derive(Clone, Debug)]
pub struct Drawing {
    /// Width and height of the page in mm.
    pub size: DVec2,
    /// Texts set so far.
    pub labels: Vec<Label>,
    /// Boxes that texts which look for a place stay out of.
    kept: Vec<Area>,
    body: String,
    clips: usize,
}

impl Drawing {
    /// An empty page of this size in mm on this color.
    #[must_use]
    pub fn new(width: f64, height: f64, paper: Color) -> Self {
        let mut page = Self { size: DVec2::new(width, height), labels: Vec::new(), kept: Vec::new(), body: String::new(), clips: 0 };
        page.rect(Area::new(0.0, 0.0, width, height), Look::fill(paper));
        page
    }

    /// A rectangle.
    pub fn rect(&mut self, area: Area, look: Look) {
        let size = area.size();
        let (x, y, w, h) = (number(area.low.x), number(area.low.y), number(size.x.max(0.0)), number(size.y.max(0.0)));
        self.shape(&format!(r#"<rect x="{x}" y="{y}" width="{w}" height="{h}""#), look);
    }

    /// A straight line.
    pub fn line(&mut self, from: DVec2, to: DVec2, look: Look) {
        let (x1, y1, x2, y2) = (number(from.x), number(from.y), number(to.x), number(to.y));
        self.shape(&format!(r#"<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}""#), look);
    }

    /// A circle of this radius in mm.
    pub fn circle(&mut self, center: DVec2, radius: f64, look: Look) {
        let (x, y, r) = (number(center.x), number(center.y), number(radius.max(0.0)));
        self.shape(&format!(r#"<circle cx="{x}" cy="{y}" r="{r}""#), look);
    }

    /// A closed shape with straight sides.
    pub fn polygon(&mut self, corners: &[DVec2], look: Look) {
        let points = points(corners);
        self.shape(&format!(r#"<polygon points="{points}""#), look);
    }

    /// An open line through these points.
    pub fn polyline(&mut self, corners: &[DVec2], look: Look) {
        let points = points(corners);
        self.shape(&format!(r#"<polyline stroke-linejoin="round" points="{points}""#), look);
    }

    /// Many closed shapes of one look in one element, drawn with hard edges so that neighbors show no seam.
    pub fn cells(&mut self, shapes: &[Vec<DVec2>], look: Look) {
        let mut path = String::new();
        for shape in shapes {
            for (index, corner) in shape.iter().enumerate() {
                let letter = if index == 0 { 'M' } else { 'L' };
                let (x, y) = (number(corner.x), number(corner.y));
                write!(path, "{letter}{x} {y}").expect("writing to a string cannot fail");
            }
            path.push('Z');
        }
        self.shape(&format!(r#"<path shape-rendering="crispEdges" d="{path}""#), look);
    }

    /// A line with a head at its end.
    pub fn arrow(&mut self, from: DVec2, to: DVec2, color: Color, width: f64) {
        self.line(from, to, Look::line(color, width));
        if let Some(along) = (to - from).try_normalize() {
            let (back, side) = (to - along * (6.0 * width).max(1.6), along.perp() * (2.2 * width).max(0.6));
            self.polygon(&[to, back + side, back - side], Look::fill(color));
        }
    }

    /// The oblique stroke that ends a dimension.
    pub fn tick(&mut self, at: DVec2) {
        let half = DVec2::new(0.8, -0.8);
        self.line(at - half, at + half, Look::line(paper::INK, 0.26));
    }

    /// A text; its position is on the base line. Nothing for an empty one.
    pub fn text(&mut self, at: DVec2, text: &str, lettering: Lettering) {
        // On paper a line of a scene stands between quotes.
        let text = clean(text).replace('`', "'");
        if text.trim().is_empty() {
            return;
        }
        let (x, y, size) = (number(at.x), number(at.y), number(lettering.size));
        let anchor = match lettering.anchor {
            Anchor::Start => "",
            Anchor::Middle => r#" text-anchor="middle""#,
            Anchor::End => r#" text-anchor="end""#,
        };
        let weight = if lettering.bold { r#" font-weight="bold""# } else { "" };
        let turn = if lettering.upright { format!(r#" transform="rotate(-90 {x} {y})""#) } else { String::new() };
        let rim = lettering.rim.map_or_else(String::new, |color| {
            format!(r#" stroke="{color}" stroke-width="{}" stroke-linejoin="round" paint-order="stroke""#, number(0.3 * lettering.size))
        });
        let color = lettering.color;
        let escaped = escape(&text);
        writeln!(self.body, r#"<text x="{x}" y="{y}" font-size="{size}" fill="{color}"{anchor}{weight}{turn}{rim}>{escaped}</text>"#)
            .expect("writing to a string cannot fail");
        self.labels.push(Label { area: lettering.area(at, &text), text });
    }

    /// Has texts that look for a place stay out of this box.
    pub fn keep_free(&mut self, area: Area) {
        self.kept.push(area);
    }

    /// Whether no text stands within `gap` mm of this box, and nothing that is kept free.
    #[must_use]
    pub fn is_free(&self, area: &Area, gap: f64) -> bool {
        self.labels.iter().map(|label| &label.area).chain(&self.kept).all(|taken| !taken.overlaps(area, -gap))
    }

    /// Sets a text at the first of these positions that is free and on the page, else over what is kept free, but on no text; false if none is.
    pub fn text_where_free(&mut self, places: &[DVec2], text: &str, lettering: Lettering) -> bool {
        let page = Area { low: DVec2::ZERO, high: self.size };
        let on_page = |at: &&DVec2| page.holds(&lettering.area(**at, text));
        let is_bare = |at: &&DVec2| self.labels.iter().all(|label| !label.area.overlaps(&lettering.area(**at, text), -0.3));
        let is_free = |at: &&DVec2| self.is_free(&lettering.area(**at, text), 0.3);
        let on_no_text: Vec<&DVec2> = places.iter().filter(on_page).filter(is_bare).collect();
        let free = on_no_text.iter().copied().find(|at| is_free(at)).or(on_no_text.first().copied());
        if let Some(at) = free {
            self.text(*at, text, lettering);
        }
        free.is_some()
    }

    /// Draws what `inside` draws only within a polygon.
    pub fn clipped(&mut self, corners: &[DVec2], inside: impl FnOnce(&mut Self)) {
        self.clips += 1;
        let id = self.clips;
        let points = points(corners);
        writeln!(self.body, r##"<clipPath id="c{id}"><polygon points="{points}"/></clipPath><g clip-path="url(#c{id})">"##)
            .expect("writing to a string cannot fail");
        inside(self);
        self.body.push_str("</g>\n");
    }

    /// Another drawing within this area, as large as it fits, in its middle.
    pub fn inlay(&mut self, document: &str, area: Area) {
        let Some(size) = size_of(document) else { return };
        self.clips += 1;
        let own = isolated(document, &format!("i{}-", self.clips));
        let Some(inner) = own.split_once('>').map(|(_, rest)| rest.trim_end().trim_end_matches("</svg>")) else { return };
        let scale = (area.size() / size).min_element();
        let at = area.middle() - 0.5 * scale * size;
        let (x, y, scale) = (number(at.x), number(at.y), format!("{scale:.6}"));
        writeln!(self.body, r#"<g transform="translate({x} {y}) scale({scale})">{inner}</g>"#).expect("writing to a string cannot fail");
    }

    /// The page as an SVG document, in mm of paper.
    #[must_use]
    pub fn finish(self) -> String {
        let (width, height) = (number(self.size.x), number(self.size.y));
        let family = paper::FONT_FAMILY;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\" \
             font-family=\"{family}\">\n{}</svg>\n",
            self.body
        )
    }

    /// One element, from its opening to its look.
    fn shape(&mut self, opening: &str, look: Look) {
        self.body.push_str(opening);
        match look.fill {
            Some(color) => write!(self.body, r#" fill="{color}""#),
            None => write!(self.body, r#" fill="none""#),
        }
        .expect("writing to a string cannot fail");
        if look.opacity < 1.0 {
            write!(self.body, r#" fill-opacity="{}""#, number(look.opacity)).expect("writing to a string cannot fail");
        }
        if let Some(color) = look.stroke {
            write!(self.body, r#" stroke="{color}" stroke-width="{}""#, number(look.width)).expect("writing to a string cannot fail");
            if look.dash[0] > 0.0 {
                write!(self.body, r#" stroke-dasharray="{} {}""#, number(look.dash[0]), number(look.dash[1]))
                    .expect("writing to a string cannot fail");
            }
        }
        self.body.push_str("/>\n");
    }
}

/// Width and height in mm of a document of [`Drawing::finish`].
#[must_use]
pub fn size_of(document: &str) -> Option<DVec2> {
    let (_, rest) = document.split_once("viewBox=\"0 0 ")?;
    let (width, height) = rest.split_once('"')?.0.split_once(' ')?;
    let size = DVec2::new(width.parse().ok()?, height.parse().ok()?);
    (size.min_element() > 0.0).then_some(size)
}

/// The same document with names of its own, so that several can stand in one page.
#[must_use]
pub fn isolated(document: &str, prefix: &str) -> String {
    document.replace(r#"<clipPath id="c"#, &format!(r#"<clipPath id="{prefix}c"#)).replace("url(#c", &format!("url(#{prefix}c"))
}

/// A number as written: rounded to 0.001, without trailing zeros; what is no number is 0.
#[must_use]
pub fn number(value: f64) -> String {
    let rounded = (value * 1000.0).round() / 1000.0;
    if !rounded.is_finite() || rounded == 0.0 {
        return "0".to_owned();
    }
    format!("{rounded}")
}

/// Text as it may stand in XML and HTML.
#[must_use]
pub fn escape(text: &str) -> String {
    clean(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// Without the characters that XML cannot hold even escaped.
fn clean(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() || matches!(letter, '\u{fffe}' | '\u{ffff}') { ' ' } else { letter }).collect()
}

/// Corners as an attribute.
fn points(corners: &[DVec2]) -> String {
    corners.iter().map(|corner| format!("{},{}", number(corner.x), number(corner.y))).collect::<Vec<_>>().join(" ")
}
