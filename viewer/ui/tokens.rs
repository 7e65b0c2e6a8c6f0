//! Every color, size and letter of the viewer: paper, graphite, one accent. The letters are those of the printed pages.

use std::collections::BTreeMap;
use std::sync::Arc;

use bevy_egui::egui::{
    Color32, Context, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Margin, RichText, Shadow, Stroke, Style, TextStyle,
    Theme, Vec2,
};
use roomwright::report::paper::{Color, Colormap};

/// The paper that everything lies on.
pub(crate) const PAPER: Color32 = Color32::from_rgb(0xf5, 0xf1, 0xe8);
/// A card on the paper: the stage, the plots.
pub(crate) const CARD: Color32 = Color32::from_rgb(0xfb, 0xf8, 0xf1);
/// Text and edges.
pub(crate) const INK: Color32 = Color32::from_rgb(0x2e, 0x2c, 0x29);
/// Lines of second rank.
pub(crate) const SOFT: Color32 = Color32::from_rgb(0x8b, 0x85, 0x7a);
/// Text that can wait.
pub(crate) const QUIET: Color32 = Color32::from_rgb(0x6f, 0x69, 0x60);
/// Rules and frames.
pub(crate) const LINE: Color32 = Color32::from_rgb(0xd8, 0xd1, 0xc2);
/// How things were before.
pub(crate) const PALE: Color32 = Color32::from_rgb(0xb9, 0xb1, 0xa1);
/// The one accent: what is chosen, what is wrong.
pub(crate) const ACCENT: Color32 = Color32::from_rgb(0xb5, 0x45, 0x1b);
/// The accent as a shade behind what is chosen.
pub(crate) const SHADE: Color32 = Color32::from_rgb(0xf3, 0xe3, 0xd8);
/// A panel that hangs.
pub(crate) const PANEL: Color32 = Color32::from_rgb(0xe9, 0xdf, 0xc9);

/// The color of a pressure with its sign, 0 the lowest, 1 the highest; the ends hold beyond.
pub(crate) fn swing(share: f64) -> Color32 {
    map_color(Colormap::Signed, share)
}

/// The color of a level of the low end, 0 the lowest, 1 the highest; the ends hold beyond.
pub(crate) fn loudness(share: f64) -> Color32 {
    map_color(Colormap::Cividis, share)
}

fn map_color(map: Colormap, share: f64) -> Color32 {
    let Color(red, green, blue) = map.color(share);
    Color32::from_rgb(red, green, blue)
}

/// Heading of a step.
const HEAD: f32 = 19.0;
/// Name of the room.
pub(crate) const TITLE: f32 = 13.0;
/// Running text.
const BODY: f32 = 12.5;
/// Tables, remarks.
const SMALL: f32 = 11.0;

/// Width of the path of steps.
pub(crate) const RAIL: f32 = 92.0;
/// Width of question and answer: narrowest, at first, widest.
pub(crate) const ANSWER: [f32; 3] = [360.0, 470.0, 720.0];
/// Height of the strip beneath the stage: lowest, at first with plots, with absorbers and with text, highest.
pub(crate) const STRIP: [f32; 5] = [150.0, 220.0, 390.0, 330.0, 560.0];
/// Height of the status line.
pub(crate) const STATUS: f32 = 26.0;
/// Height of one step of the path.
pub(crate) const STEP: f32 = 62.0;
/// Between things, and from the edge.
pub(crate) const GAP: f32 = 6.0;
/// Radius of a step's dot.
pub(crate) const DOT: f32 = 7.0;
/// Sizes of what a chart is drawn with.
pub(crate) struct Chart {
    /// Width of a line that carries values.
    pub(crate) line: f32,
    /// Radius of a point on it.
    pub(crate) point: f32,
    /// Side of a square of color in a key.
    pub(crate) swatch: f32,
    /// Length of a piece of line in a key.
    pub(crate) sample: f32,
    /// Room beyond the first and the last mark of an axis, as a share of all between them.
    pub(crate) rim: f64,
    /// Width of the figures along upright axes where frames stand over each other.
    pub(crate) figures: f32,
}

/// These sizes.
pub(crate) const CHART: Chart = Chart { line: 1.6, point: 2.6, swatch: 10.0, sample: 26.0, rim: 0.04, figures: 44.0 };
/// Sizes of what a floor plan with a map is drawn with.
pub(crate) struct FloorMap {
    /// About how many figures stand along a side.
    pub(crate) marks: usize,
    /// Room for the names of walls beside and above the plan, as shares of its longer side.
    pub(crate) margin: [f64; 2],
    /// Width of the figures beside it.
    pub(crate) figures: f32,
    /// Room left beside the list of what it may show.
    pub(crate) aside: f32,
    /// Least and greatest height.
    pub(crate) height: [f32; 2],
    /// Radius of a number and of the cross.
    pub(crate) mark: f32,
    /// Half the size of a source or a head.
    pub(crate) part: f32,
    /// Thickness of the scale of color.
    pub(crate) scale: f32,
    /// Steps of color on it.
    pub(crate) steps: u32,
    /// Within so many meters of a number a click means it.
    pub(crate) reach: f64,
}

/// These sizes.
pub(crate) const MAP: FloorMap = FloorMap {
    marks: 6,
    margin: [0.19, 0.07],
    figures: 44.0,
    aside: 40.0,
    height: [180.0, 520.0],
    mark: 7.0,
    part: 4.0,
    scale: 11.0,
    steps: 64,
    reach: 0.3,
};
/// Width of a page of text that stands alone.
pub(crate) const PAGE: f32 = 640.0;
/// Width of what stands beside it.
pub(crate) const PAGE_SIDE: f32 = 400.0;

/// Letters of headings.
pub(crate) fn bold() -> FontFamily {
    FontFamily::Name("bold".into())
}

/// Letters of running text.
pub(crate) fn body_letters() -> FontId {
    FontId::proportional(BODY)
}

/// Letters of tables.
pub(crate) fn table_letters() -> FontId {
    FontId::proportional(SMALL)
}

/// A heading.
pub(crate) fn heading(text: impl Into<String>) -> RichText {
    RichText::new(text).font(FontId::new(HEAD, bold()))
}

/// A heading of second rank.
pub(crate) fn subheading(text: impl Into<String>) -> RichText {
    RichText::new(text).font(FontId::new(BODY, bold()))
}

/// Text that can wait.
pub(crate) fn quiet(text: impl Into<String>) -> RichText {
    RichText::new(text).size(SMALL).color(QUIET)
}

/// Small text.
pub(crate) fn small(text: impl Into<String>) -> RichText {
    RichText::new(text).size(SMALL)
}

/// What is wrong.
pub(crate) fn wrong(text: impl Into<String>) -> RichText {
    RichText::new(text).color(ACCENT)
}

/// Puts paper, ink and letters in place. `false` while the letters are on their way: nothing can be drawn in this pass.
pub(crate) fn dress(ctx: &Context) -> bool {
    let is_ready = ctx.fonts(|fonts| fonts.definitions().families.contains_key(&bold()));
    if !is_ready {
        ctx.set_fonts(letters());
        ctx.set_theme(Theme::Light);
        ctx.all_styles_mut(set_style);
        ctx.request_repaint();
    }
    is_ready
}

fn letters() -> FontDefinitions {
    let mut letters = FontDefinitions::default();
    let files: [(&str, &'static [u8]); 2] = [
        ("plain", include_bytes!("../../sim/report/fonts/DejaVuSans.ttf")),
        ("bold", include_bytes!("../../sim/report/fonts/DejaVuSans-Bold.ttf")),
    ];
    for (name, bytes) in files {
        letters.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    letters.families.entry(FontFamily::Proportional).or_default().insert(0, "plain".to_owned());
    let mut after_bold = letters.families[&FontFamily::Proportional].clone();
    after_bold.insert(0, "bold".to_owned());
    letters.families.insert(bold(), after_bold);
    letters
}

fn set_style(style: &mut Style) {
    style.text_styles = BTreeMap::from([
        (TextStyle::Heading, FontId::new(HEAD, bold())),
        (TextStyle::Body, FontId::proportional(BODY)),
        (TextStyle::Button, FontId::proportional(BODY)),
        (TextStyle::Small, FontId::proportional(SMALL)),
        (TextStyle::Monospace, FontId::monospace(BODY)),
    ]);
    style.spacing.item_spacing = Vec2::splat(GAP);
    style.spacing.button_padding = Vec2::new(8.0, 3.0);
    style.spacing.interact_size.y = 22.0;
    style.spacing.combo_width = 60.0;
    style.spacing.scroll.floating = false;
    style.spacing.scroll.bar_width = 7.0;
    style.spacing.scroll.foreground_color = false;
    style.spacing.scroll.fade.strength = 0.0;
    style.animation_time = 0.0;
    let visuals = &mut style.visuals;
    visuals.override_text_color = None;
    // A caret that blinks asks for another look in half a second, which whoever draws the window takes for at once: it would never rest.
    visuals.text_cursor.blink = false;
    (visuals.panel_fill, visuals.window_fill, visuals.extreme_bg_color, visuals.faint_bg_color) = (PAPER, CARD, CARD, CARD);
    (visuals.window_stroke, visuals.window_shadow, visuals.popup_shadow) = (Stroke::new(1.0, SOFT), Shadow::NONE, Shadow::NONE);
    (visuals.weak_text_color, visuals.error_fg_color, visuals.warn_fg_color) = (Some(QUIET), ACCENT, ACCENT);
    (visuals.selection.bg_fill, visuals.selection.stroke) = (SHADE, Stroke::new(1.0, ACCENT));
    let corner = CornerRadius::same(2);
    (visuals.window_corner_radius, visuals.menu_corner_radius) = (corner, corner);
    let widgets = &mut visuals.widgets;
    // The first fill is that of handles and boxes, the second that of buttons.
    for (state, handle, fill, edge, ink) in [
        (&mut widgets.noninteractive, PAPER, PAPER, LINE, INK),
        (&mut widgets.inactive, LINE, CARD, PALE, INK),
        (&mut widgets.hovered, PALE, CARD, ACCENT, INK),
        (&mut widgets.active, PALE, SHADE, ACCENT, ACCENT),
        (&mut widgets.open, SHADE, SHADE, SOFT, INK),
    ] {
        (state.bg_fill, state.weak_bg_fill, state.bg_stroke, state.fg_stroke) =
            (handle, fill, Stroke::new(1.0, edge), Stroke::new(1.0, ink));
        (state.corner_radius, state.expansion) = (corner, 0.0);
    }
}

/// Margin of a panel.
pub(crate) const MARGIN: Margin = Margin { left: 12, right: 10, top: 10, bottom: 6 };
