//! Every color and size of the viewer: paper, graphite, one accent.

use bevy_egui::egui::Color32;

/// The paper that everything lies on.
pub(crate) const PAPER: Color32 = Color32::from_rgb(0xf5, 0xf1, 0xe8);
/// A card on the paper: the stage, the plots.
pub(crate) const CARD: Color32 = Color32::from_rgb(0xfb, 0xf8, 0xf1);
/// Text and edges.
pub(crate) const INK: Color32 = Color32::from_rgb(0x2e, 0x2c, 0x29);
/// Text that can wait.
pub(crate) const SOFT: Color32 = Color32::from_rgb(0x8b, 0x85, 0x7a);
/// Rules and frames.
pub(crate) const LINE: Color32 = Color32::from_rgb(0xd8, 0xd1, 0xc2);
/// The one accent: what is chosen, what is wrong.
pub(crate) const ACCENT: Color32 = Color32::from_rgb(0xb5, 0x45, 0x1b);
/// A panel that hangs.
pub(crate) const PANEL: Color32 = Color32::from_rgb(0xe9, 0xdf, 0xc9);
