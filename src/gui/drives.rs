//! The drives in the window: STOP and presence before anything else, and the page while a link is engaged. No editor, no
//! files; what stands there moves or stops the rig, or says how it stands.

mod acts;
mod commission;
mod ladder;
mod setup;

pub(super) use setup::show as setup;

use super::app::Cueloom;
use super::theme::{self, Palette};
use super::{rig, time};
use crate::desk::drives::HOLD;
use crate::desk::studio::Mode;
use crate::drives::{AT_ONCE, CAUTIONS};
use egui::{
    Align2, Area, Button, Color32, Event, Frame, Id, Key, LayerId, Margin, Order, Panel, Rect, RichText,
    ScrollArea, Sense, Stroke, StrokeKind, vec2,
};
use std::time::Duration;

/// Narrower than this the controls have the window to themselves, points.
const WIDE: f32 = 860.0;

/// While a link is engaged the window looks this often whether presence is held; a hand is missed after 250 ms.
const LOOK: Duration = Duration::from_millis(30);

/// Closing wanted sooner than this after it was wanted before is the same wish, s (own choice, more than a double click).
const SAME_S: f64 = 1.0;

/// What only the window knows of the drives.
#[derive(Default)]
pub(super) struct State {
    /// The page of the drives is there in place of the text.
    pub(super) open: bool,
    /// The area to hold was pressed and is still under the pointer, as of the last frame.
    pressed: bool,
    /// STOP is down, so that one press is one stop.
    stopping: bool,
    /// Which leg is jogged; all where `None`.
    leg: Option<usize>,
    /// Somebody wanted the window closed: it goes when the run has come to rest.
    pub(super) closing: bool,
    /// When that was wanted last, s of the window's clock.
    closing_s: f64,
}

/// STOP by its key, and presence: before the text, a dialog or anything else sees a key.
pub(super) fn tend(app: &mut Cueloom, ctx: &egui::Context) {
    if !app.studio().drives.is_engaged() {
        app.view.drives.pressed = false;
        return;
    }
    let mut stops = 0;
    ctx.input_mut(|input| {
        input.events.retain(|event| {
            let Event::Key { key: Key::Escape, pressed: true, repeat, .. } = event else { return true };
            // A key that stays down is one stop.
            stops += u32::from(!repeat);
            false
        });
    });
    for _ in 0..stops {
        app.studio_mut().drives.stop();
        // What stood before the words of the state goes too.
        app.view.dialog = None;
    }
    let hold = Key::from_name(HOLD);
    let (down, focused) = ctx.input(|input| (hold.is_some_and(|hold| input.key_down(hold)), input.focused));
    // Taken: the area says it anew in every frame that it is drawn in.
    let pressed = std::mem::take(&mut app.view.drives.pressed);
    app.studio_mut().drives.tend(down || pressed, focused);
    ctx.request_repaint_after(LOOK);
}

/// The whole window below the top bar.
pub(super) fn show(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    Panel::top("stop and state").resizable(false).show(ui, |ui| strip(ui, app, palette));
    Panel::top("cautions").resizable(false).show(ui, |ui| cautions(ui, app, palette));
    Panel::bottom("hold").resizable(false).show(ui, |ui| hold(ui, app, palette));
    if ui.available_width() < WIDE {
        egui::CentralPanel::default().show(ui, |ui| controls(ui, app, palette));
        return;
    }
    let width = (ui.available_width() * 0.46).clamp(380.0, 620.0);
    Panel::left("controls").resizable(false).exact_size(width).show(ui, |ui| controls(ui, app, palette));
    let upper = (ui.available_height() * 0.5).clamp(120.0, 600.0);
    let studio_view = &mut app.view;
    let studio = &mut app.studio;
    Panel::top("driven rig").exact_size(upper).resizable(false).show(ui, |ui| {
        rig::show(ui, studio, studio_view, palette);
    });
    egui::CentralPanel::default().show(ui, |ui| {
        // To look at: what is chosen on it changes what is rehearsed, which is not what is played.
        ui.visuals_mut().disabled_alpha = 1.0;
        ui.disable();
        time::show(ui, studio, &mut studio_view.traces, palette);
    });
}

fn controls(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    ScrollArea::vertical().id_salt("drives").auto_shrink(false).show(ui, |ui| {
        acts::show(ui, app, palette);
        // What keeps the scene back comes first.
        let drives = &app.studio().drives;
        let void = drives.answered().is_some_and(|answered| answered.vouched.void.is_some());
        if void {
            commission::show(ui, app, palette);
        }
        ladder::show(ui, app, palette);
        acts::link(ui, app);
        if !void {
            commission::show(ui, app, palette);
        }
    });
}

/// STOP in its one place, and beside it where the run is, why, and what is to be done.
fn strip(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    ui.add_space(6.0);
    ui.horizontal_top(|ui| {
        let (place, _) = ui.allocate_exact_size(vec2(150.0, 76.0), Sense::hover());
        stop(ui.ctx(), app, place, palette);
        ui.vertical(|ui| {
            ui.set_min_height(76.0);
            let state = app.studio().drives.state().unwrap_or_default();
            let shown = app.studio().drives.shown();
            let moving = shown.as_ref().is_some_and(|shown| shown.moving);
            let colour = match &shown {
                Some(shown) if shown.latched => palette.error,
                _ if moving => palette.warning,
                _ => palette.text,
            };
            ui.add(egui::Label::new(RichText::new(state).size(18.0).strong().color(colour)).wrap());
            if let Some(shown) = &shown {
                ui.add(egui::Label::new(format!("Because: {}", shown.cause)).wrap());
                if !shown.look.is_empty() {
                    ui.add(egui::Label::new(format!("Look: {}", shown.look)).wrap());
                }
                ui.add(egui::Label::new(RichText::new(&shown.now).strong()).wrap());
                if let Some(refused) = &shown.refused {
                    ui.add(egui::Label::new(RichText::new(refused).color(palette.error)).wrap());
                }
                if let Some(why) = shown.no_start {
                    let words = format!("The scene cannot be played: {why}");
                    ui.add(egui::Label::new(RichText::new(words).color(palette.error)).wrap());
                }
            }
            if app.view.drives.closing {
                let words = format!(
                    "The window closes when the run has come to rest. Closed once more it goes at once: {AT_ONCE}"
                );
                ui.add(egui::Label::new(RichText::new(words).strong()).wrap());
            }
        });
    });
    ui.add_space(4.0);
}

/// Above everything, dialogs too, and it acts when it is pressed, not when it is let go.
fn stop(ctx: &egui::Context, app: &mut Cueloom, place: Rect, palette: &Palette) {
    let id = Id::unique("STOP");
    let area = Area::new(id).order(Order::Tooltip).fixed_pos(place.min).movable(false).constrain(true);
    let response = area.show(ctx, |ui| {
        let words = RichText::new("STOP").size(30.0).strong().color(Color32::WHITE);
        let button = Button::new(words).fill(palette.stop).stroke(Stroke::new(3.0, palette.text));
        ui.add_sized(place.size(), button)
    });
    ctx.move_to_top(LayerId::new(Order::Tooltip, id));
    let button = response.inner;
    let down = button.is_pointer_button_down_on() || button.clicked();
    if down && !app.view.drives.stopping {
        app.studio_mut().drives.stop();
    }
    app.view.drives.stopping = button.is_pointer_button_down_on();
    let painter = ctx.layer_painter(LayerId::new(Order::Tooltip, id));
    let at = place.center_bottom() - vec2(0.0, 5.0);
    painter.text(at, Align2::CENTER_BOTTOM, "Escape; twice: at once", theme::small(), Color32::WHITE);
}

/// What is said while a link is engaged.
fn cautions(ui: &mut egui::Ui, app: &Cueloom, palette: &Palette) {
    if let Some(reason) =
        app.studio().drives.answered().and_then(|answered| answered.vouched.overridden.clone())
    {
        Frame::new().fill(palette.stop).inner_margin(Margin::symmetric(8, 3)).show(ui, |ui| {
            let words =
                format!("OVERRIDE: the audition ladder does not let this be played; overridden: {reason}");
            ui.add(egui::Label::new(RichText::new(words).color(Color32::WHITE).strong()).wrap());
        });
    }
    let [first, rest @ ..] = CAUTIONS;
    let words = format!("CAUTION: {first}. {}.", rest.join(". "));
    ui.add(egui::Label::new(RichText::new(words).color(palette.warning)).wrap());
}

/// The area to hold: as wide as the window, pressed for as long as legs are to move.
fn hold(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    ui.add_space(4.0);
    let size = vec2(ui.available_width(), 54.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    // A pointer that slides off has let go.
    app.view.drives.pressed = response.is_pointer_button_down_on() && response.contains_pointer();
    let holds = app.studio().drives.holds();
    let (fill, words) = match holds {
        true => (palette.driving, format!("HELD: let go of {HOLD} or this area to stop")),
        false if app.studio().drives.is_spent() => {
            (palette.raised, "What is down does not count any more: let go first".to_string())
        }
        false => (palette.raised, format!("HOLD {HOLD}, or press and hold here")),
    };
    let colour = if holds { Color32::BLACK } else { palette.text };
    ui.painter().rect(rect, 3.0, fill, Stroke::new(2.0, palette.driving), StrokeKind::Inside);
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, &words, egui::FontId::proportional(18.0), colour);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, "Hold"));
    ui.add_space(4.0);
}

/// What is asked of the window to close while a run is under way: stop, rest, then close. Asked for once more, after it was
/// said what comes of that, it closes at once: where brakes are not confirmed rest may never come.
pub(super) fn hold_back_closing(app: &mut Cueloom, ctx: &egui::Context) {
    let now_s = ctx.input(|input| input.time);
    let before_s = std::mem::replace(&mut app.view.drives.closing_s, now_s);
    if app.view.drives.closing && now_s - before_s >= SAME_S {
        app.studio_mut().drives.forsake();
        return;
    }
    ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
    app.studio_mut().drives.leave();
    app.view.drives.closing = true;
}

/// Whether the run that held the window back has ended.
pub(super) fn may_close(app: &mut Cueloom) -> bool {
    app.studio().mode() != Mode::OnDrives && std::mem::take(&mut app.view.drives.closing)
}
