//! Tables of words and numbers whose rows can be chosen: columns as wide as they need; where there is no room heads take two lines, and columns of words give way.
//!
//! Heads follow the pages of the command line: `<` before a head makes a column of words, anything else is a column of numbers.

use std::sync::Arc;

use bevy_egui::egui::{Align2, Color32, CursorIcon, Galley, Rect, Sense, Stroke, Ui, WidgetInfo, WidgetType, pos2, vec2};

use super::tokens::{ACCENT, INK, LINE, QUIET, SHADE, table_letters};

/// Between two columns.
const BETWEEN: f32 = 10.0;
/// Above and below the text of a row.
const ROW: f32 = 2.5;
/// Beneath a table.
const AFTER: f32 = 5.0;
/// Narrowest a column of words is made.
const NARROW: f32 = 44.0;

/// One row.
pub(crate) struct Row {
    cells: Vec<String>,
    color: Color32,
    is_chosen: bool,
    hint: String,
}

impl Row {
    /// Draws it in another color.
    pub(crate) fn colored(&mut self, color: Color32) -> &mut Self {
        self.color = color;
        self
    }

    /// Marks it as chosen.
    pub(crate) fn chosen(&mut self, is_chosen: bool) -> &mut Self {
        self.is_chosen = is_chosen;
        self
    }

    /// Says more when it is pointed at.
    pub(crate) fn hint(&mut self, hint: impl Into<String>) -> &mut Self {
        self.hint = hint.into();
        self
    }
}

/// Rows under heads.
pub(crate) struct Table {
    heads: Vec<(String, bool)>,
    rows: Vec<Row>,
}

impl Table {
    /// An empty table.
    pub(crate) fn new<S: AsRef<str>>(heads: &[S]) -> Self {
        let head = |head: &S| match head.as_ref().strip_prefix('<') {
            Some(words) => (words.to_owned(), true),
            None => (head.as_ref().to_owned(), false),
        };
        Self { heads: heads.iter().map(head).collect(), rows: Vec::new() }
    }

    /// Adds a row; it has a cell for each head.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) -> &mut Row {
        let cells: Vec<String> = cells.into_iter().collect();
        debug_assert_eq!(cells.len(), self.heads.len(), "a row has a cell for each head");
        let index = self.rows.len();
        self.rows.push(Row { cells, color: INK, is_chosen: false, hint: String::new() });
        &mut self.rows[index]
    }

    /// Draws it.
    pub(crate) fn show(&self, ui: &mut Ui) {
        self.draw(ui, Sense::hover());
    }

    /// Draws it; the row that was clicked.
    pub(crate) fn choose(&self, ui: &mut Ui) -> Option<usize> {
        self.draw(ui, Sense::click())
    }

    fn draw(&self, ui: &mut Ui, sense: Sense) -> Option<usize> {
        let widths = self.widths(ui);
        let heads: Vec<String> = self.heads.iter().map(|(head, _)| head.clone()).collect();
        let spacing = std::mem::take(&mut ui.spacing_mut().item_spacing);
        if heads.iter().any(|head| !head.is_empty()) {
            let head = Row { cells: heads, color: QUIET, is_chosen: false, hint: String::new() };
            self.line(ui, &head, &widths, Sense::hover());
        }
        let mut clicked = None;
        for (index, row) in self.rows.iter().enumerate() {
            if self.line(ui, row, &widths, sense) {
                clicked = Some(index);
            }
        }
        ui.add_space(AFTER);
        ui.spacing_mut().item_spacing = spacing;
        clicked
    }

    /// Whether it was clicked.
    fn line(&self, ui: &mut Ui, row: &Row, widths: &[f32], sense: Sense) -> bool {
        let galleys: Vec<Arc<Galley>> = row
            .cells
            .iter()
            .zip(widths)
            .map(|(cell, &width)| ui.painter().layout(cell.clone(), table_letters(), row.color, width + 0.5))
            .collect();
        let height = galleys.iter().map(|galley| galley.size().y).fold(0.0, f32::max) + 2.0 * ROW;
        let (rect, mut response) = ui.allocate_exact_size(vec2(ui.available_width(), height), sense);
        let words = row.cells.iter().filter(|cell| !cell.trim().is_empty()).map(String::as_str).collect::<Vec<_>>().join(", ");
        let kind = if sense.senses_click() { WidgetType::SelectableLabel } else { WidgetType::Label };
        response.widget_info(|| WidgetInfo::selected(kind, true, row.is_chosen, &words));
        if !row.hint.is_empty() {
            response = response.on_hover_text(&row.hint);
        }
        if sense.senses_click() {
            response = response.on_hover_cursor(CursorIcon::PointingHand);
        }
        if ui.is_rect_visible(rect) {
            self.paint(ui, row, rect, &galleys, widths, sense.senses_click() && (response.hovered() || response.has_focus()));
        }
        response.clicked()
    }

    fn paint(&self, ui: &Ui, row: &Row, rect: Rect, galleys: &[Arc<Galley>], widths: &[f32], is_hovered: bool) {
        let painter = ui.painter();
        if row.is_chosen {
            painter.rect_filled(rect, 0.0, SHADE);
            painter.vline(rect.left() + 1.0, rect.y_range(), Stroke::new(2.0, ACCENT));
        }
        let edge = Stroke::new(1.0, if is_hovered { ACCENT } else { LINE });
        painter.hline(rect.x_range(), rect.bottom() - 0.5, edge);
        let mut left = rect.left() + 4.0;
        for (((_, is_words), galley), &width) in self.heads.iter().zip(galleys).zip(widths) {
            let from = if *is_words { left } else { left + width - galley.size().x };
            let place = Align2::LEFT_TOP.anchor_size(pos2(from, rect.top() + ROW), galley.size());
            painter.galley(place.min, galley.clone(), row.color);
            left += width + BETWEEN;
        }
    }

    /// Natural widths; where the row does not fit, heads of numbers take two lines first, then columns of words give way, the widest first.
    fn widths(&self, ui: &Ui) -> Vec<f32> {
        let width = |text: &str| ui.painter().layout_no_wrap(text.to_owned(), table_letters(), INK).size().x.ceil();
        let widest = |column: usize| self.rows.iter().map(|row| width(&row.cells[column])).fold(0.0, f32::max);
        let column = |(column, (head, is_words)): (usize, &(String, bool))| {
            let (cells, longest_word) = (widest(column), head.split(' ').map(width).fold(0.0, f32::max));
            let natural = cells.max(width(head));
            Column { width: natural, least: if *is_words { NARROW.min(natural) } else { cells.max(longest_word) }, is_words: *is_words }
        };
        let mut columns: Vec<Column> = self.heads.iter().enumerate().map(column).collect();
        let space = ui.available_width() - 8.0 - BETWEEN * columns.len().saturating_sub(1) as f32;
        loop {
            let excess = columns.iter().map(|column| column.width).sum::<f32>() - space;
            let wide = columns.iter_mut().filter(|column| column.width > column.least);
            let first = wide.max_by(|a, b| b.is_words.cmp(&a.is_words).then(a.width.total_cmp(&b.width)));
            let Some(widest) = first.filter(|_| excess > 0.0) else { return columns.iter().map(|column| column.width).collect() };
            widest.width = (widest.width - excess.clamp(1.0, 12.0)).max(widest.least);
        }
    }
}

/// How wide a column is, and how narrow it can be.
struct Column {
    width: f32,
    least: f32,
    is_words: bool,
}
