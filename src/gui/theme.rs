//! Colours and type. Ground is neutral; colour is kept for what matters, and is never the only sign.

use crate::desk::kept::Look;
use crate::desk::margins::Nearness;
use crate::diag::Severity;
use crate::lang::Paint;
use egui::{Color32, FontFamily, FontId, Stroke, TextStyle, Theme, ThemePreference, Visuals};

// Source: Okabe and Ito, "Color Universal Design" (2008): eight colours told apart with any colour vision.
const ORANGE: Color32 = Color32::from_rgb(0xE6, 0x9F, 0x00);
const SKY: Color32 = Color32::from_rgb(0x56, 0xB4, 0xE9);
const GREEN: Color32 = Color32::from_rgb(0x00, 0x9E, 0x73);
const YELLOW: Color32 = Color32::from_rgb(0xF0, 0xE4, 0x42);
const BLUE: Color32 = Color32::from_rgb(0x00, 0x72, 0xB2);
const VERMILLION: Color32 = Color32::from_rgb(0xD5, 0x5E, 0x00);
const PURPLE: Color32 = Color32::from_rgb(0xCC, 0x79, 0xA7);

/// The colours of one look.
#[derive(Debug, Clone, Copy)]
pub(super) struct Palette {
    /// Behind drawings.
    pub(super) ground: Color32,
    /// Behind blocks and bars.
    pub(super) raised: Color32,
    pub(super) text: Color32,
    pub(super) faint: Color32,
    pub(super) rule: Color32,
    /// What is selected.
    pub(super) accent: Color32,
    /// The frame of the window while rehearsing.
    pub(super) rehearsing: Color32,
    /// The frame of the window while a link to drives is engaged.
    pub(super) driving: Color32,
    /// Behind STOP, and behind what is overridden; white stands on it.
    pub(super) stop: Color32,
    pub(super) error: Color32,
    pub(super) warning: Color32,
    pub(super) note: Color32,
    /// Beyond a limit.
    pub(super) beyond: Color32,
    pub(super) sky: Color32,
    pub(super) land: Color32,
    traces: [Color32; 6],
}

const LIGHT: Palette = Palette {
    ground: Color32::from_rgb(0xFB, 0xFB, 0xFA),
    raised: Color32::from_rgb(0xE4, 0xE6, 0xE8),
    text: Color32::from_rgb(0x1E, 0x22, 0x26),
    faint: Color32::from_rgb(0x5C, 0x64, 0x6B),
    rule: Color32::from_rgb(0xC9, 0xCD, 0xD1),
    accent: BLUE,
    rehearsing: ORANGE,
    driving: VERMILLION,
    stop: Color32::from_rgb(0xB0, 0x1E, 0x14),
    error: Color32::from_rgb(0xB3, 0x4A, 0x00),
    warning: Color32::from_rgb(0x8A, 0x60, 0x00),
    note: BLUE,
    beyond: Color32::from_rgb(0xF6, 0xDF, 0xCF),
    sky: Color32::from_rgb(0xDC, 0xE9, 0xF2),
    land: Color32::from_rgb(0xDD, 0xDA, 0xD2),
    traces: [BLUE, VERMILLION, GREEN, PURPLE, ORANGE, SKY],
};

const DARK: Palette = Palette {
    ground: Color32::from_rgb(0x16, 0x19, 0x1C),
    raised: Color32::from_rgb(0x2D, 0x32, 0x37),
    text: Color32::from_rgb(0xE3, 0xE6, 0xE8),
    faint: Color32::from_rgb(0x9A, 0xA3, 0xAB),
    rule: Color32::from_rgb(0x3C, 0x42, 0x48),
    accent: SKY,
    rehearsing: ORANGE,
    driving: VERMILLION,
    stop: Color32::from_rgb(0xB0, 0x1E, 0x14),
    error: Color32::from_rgb(0xF0, 0x8A, 0x45),
    warning: YELLOW,
    note: SKY,
    beyond: Color32::from_rgb(0x45, 0x2A, 0x1A),
    sky: Color32::from_rgb(0x24, 0x34, 0x40),
    land: Color32::from_rgb(0x33, 0x31, 0x2B),
    traces: [SKY, ORANGE, GREEN, PURPLE, YELLOW, VERMILLION],
};

impl Palette {
    pub(super) fn of(ui: &egui::Ui) -> Self {
        if ui.visuals().dark_mode { DARK } else { LIGHT }
    }

    /// Of a channel by its place.
    pub(super) fn trace(&self, channel: usize) -> Color32 {
        self.traces[channel % self.traces.len()]
    }

    pub(super) fn severity(&self, severity: Severity) -> Color32 {
        match severity {
            Severity::Error => self.error,
            Severity::Warning => self.warning,
            Severity::Note => self.note,
        }
    }

    pub(super) fn nearness(&self, nearness: Nearness) -> Color32 {
        match nearness {
            Nearness::Clear => self.faint,
            Nearness::Near => self.warning,
            Nearness::Past => self.error,
        }
    }

    pub(super) fn paint(&self, paint: Paint) -> Color32 {
        match paint {
            Paint::Keyword => self.accent,
            Paint::Channel => self.traces[2],
            Paint::Call => self.traces[3],
            Paint::Number | Paint::Unit => self.traces[1],
            Paint::Comment | Paint::Mark => self.faint,
            Paint::Junk => self.error,
            Paint::Name | Paint::Text => self.text,
        }
    }
}

/// Small text on drawings.
pub(super) fn small() -> FontId {
    FontId::new(11.0, FontFamily::Proportional)
}

/// The editor's type.
pub(super) fn code() -> FontId {
    FontId::new(12.5, FontFamily::Monospace)
}

/// Puts type and colours on, for both looks.
pub(super) fn set(ctx: &egui::Context) {
    for (theme, palette) in [(Theme::Light, LIGHT), (Theme::Dark, DARK)] {
        let mut visuals = if theme == Theme::Dark { Visuals::dark() } else { Visuals::light() };
        visuals.panel_fill = mix(palette.ground, palette.raised, 0.35);
        visuals.window_fill = palette.ground;
        visuals.extreme_bg_color = palette.ground;
        visuals.override_text_color = Some(palette.text);
        visuals.weak_text_color = Some(palette.faint);
        visuals.selection.bg_fill = mix(palette.ground, palette.accent, 0.35);
        visuals.selection.stroke = Stroke::new(1.0, palette.accent);
        visuals.widgets.noninteractive.bg_stroke = Stroke::new(1.0, palette.rule);
        // A blinking cursor would paint the window twice a second for nothing.
        visuals.text_cursor.blink = false;
        visuals.hyperlink_color = palette.accent;
        ctx.set_visuals_of(theme, visuals);
    }
    ctx.all_styles_mut(|style| {
        style.text_styles.insert(TextStyle::Body, FontId::new(13.0, FontFamily::Proportional));
        style.text_styles.insert(TextStyle::Button, FontId::new(13.0, FontFamily::Proportional));
        style.text_styles.insert(TextStyle::Small, small());
        style.text_styles.insert(TextStyle::Monospace, code());
        style.spacing.item_spacing = egui::vec2(6.0, 4.0);
        style.animation_time = 0.0;
    });
}

/// Chooses the look.
pub(super) fn choose(ctx: &egui::Context, look: Look) {
    // Its keys for a larger print would take ours for the gain.
    ctx.options_mut(|options| options.zoom_with_keyboard = false);
    ctx.set_theme(match look {
        Look::System => ThemePreference::System,
        Look::Light => ThemePreference::Light,
        Look::Dark => ThemePreference::Dark,
    });
}

/// `part` of the way from one colour to another.
pub(super) fn mix(from: Color32, to: Color32, part: f32) -> Color32 {
    let one = |a: u8, b: u8| (f32::from(a) + (f32::from(b) - f32::from(a)) * part).round() as u8;
    Color32::from_rgb(one(from.r(), to.r()), one(from.g(), to.g()), one(from.b(), to.b()))
}
