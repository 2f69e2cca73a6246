//! The editor: the text with its colours, findings underlined, line numbers, find, and words that can stand here.

use super::theme::{self, Palette};
use crate::desk::findings;
use crate::desk::studio::Studio;
use crate::desk::writing::{self, Candidate};
use crate::diag::Severity;
use crate::lang::{Paint, highlight};
use egui::text::{CCursor, CCursorRange, LayoutJob, TextFormat};
use egui::text_edit::TextEditState;
use egui::{Color32, Galley, Id, Key, ScrollArea, Stroke, TextBuffer, TextEdit};
use std::ops::Range;
use std::sync::Arc;

/// Longest text that is coloured, bytes. Own choice: ten thousand lines; longer ones stay plain and quick.
const MOST_COLOURED: usize = 400_000;

/// What the editor knows between frames.
#[derive(Default)]
pub(super) struct State {
    find: Option<Find>,
    words: Option<Words>,
    painted: Option<Painted>,
    changed: bool,
    /// Where the cursor should go in this frame.
    pub(super) jump: Option<Range<usize>>,
}

/// Words that could stand at the cursor, listed below it.
struct Words {
    /// What one of them would replace; it ends at the cursor.
    range: Range<usize>,
    list: Vec<Candidate>,
    /// The one that Enter takes.
    chosen: usize,
    /// The choice was moved by a key, so it has to be in view.
    moved: bool,
}

struct Find {
    wanted: String,
    fresh: bool,
}

/// A text with its colours, kept while neither changes.
struct Painted {
    text: String,
    marks: Vec<(Range<usize>, Severity)>,
    dark: bool,
    job: LayoutJob,
}

impl State {
    pub(super) fn open_find(&mut self) {
        self.find =
            Some(Find { wanted: self.find.take().map_or(String::new(), |find| find.wanted), fresh: true });
    }

    pub(super) fn complete(&mut self, studio: &Studio) {
        let (range, list) = studio.candidates();
        self.words = (!list.is_empty()).then_some(Words { range, list, chosen: 0, moved: true });
    }

    /// Whether Escape closes something here first.
    pub(super) fn wants_escape(&self) -> bool {
        self.find.is_some() || self.words.is_some()
    }

    /// Whether the text was changed since asked last.
    pub(super) fn take_changed(&mut self) -> bool {
        std::mem::take(&mut self.changed)
    }
}

pub(super) fn show(ui: &mut egui::Ui, studio: &mut Studio, state: &mut State, palette: &Palette) {
    if state.wants_escape() && ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, Key::Escape)) {
        // The list alone where both are open: it is the one in front.
        if state.words.take().is_none() {
            state.find = None;
        }
        // Escape took the keys from the text, which was not meant.
        ui.memory_mut(|memory| memory.request_focus(text_id(studio)));
    }
    words_keys(ui, studio, state);
    find_bar(ui, studio, state, palette);
    let id = text_id(studio);
    let jump = state.jump.take();
    if let Some(range) = &jump {
        put_cursor(ui.ctx(), id, &studio.document().text, range);
        ui.memory_mut(|memory| memory.request_focus(id));
    }
    let marks =
        studio.understood().map(|known| findings::marks(studio.rows(), known.profile)).unwrap_or_default();
    let stale = studio.motion_is_old() && studio.rows().iter().any(|row| row.at_s.is_some());
    let marks = if stale { Vec::new() } else { marks };
    let name = format!("Text of {}", studio.document().name());
    let lines = studio.document().text.lines().count().max(1) + 1;
    let digits = lines.to_string().len().max(2);
    let gutter = 9.0 + 7.6 * digits as f32;
    ScrollArea::both().id_salt("text").auto_shrink(false).show(ui, |ui| {
        let before = studio.document().text.len();
        let painted = &mut state.painted;
        let mut layouter = |ui: &egui::Ui, text: &dyn TextBuffer, _: f32| -> Arc<Galley> {
            let mut job = coloured(painted, text.as_str(), &marks, palette, ui.visuals().dark_mode);
            job.wrap.max_width = f32::INFINITY;
            ui.fonts_mut(|fonts| fonts.layout_job(job))
        };
        let output = TextEdit::multiline(studio.text_mut())
            .id(id)
            .code_editor()
            .font(theme::code())
            .frame(egui::Frame::NONE.inner_margin(egui::Margin {
                left: gutter as i8,
                right: 4,
                top: 2,
                bottom: 2,
            }))
            .desired_width(f32::INFINITY)
            .desired_rows(12)
            .lock_focus(true)
            .layouter(&mut layouter)
            .show(ui);
        output.response.response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::MultilineTextInput, true, &name)
        });
        line_numbers(ui, &output, gutter, palette);
        let text = &studio.document().text;
        let cursor = output.cursor_range.map(|range| byte_of(text, range.primary.index.0));
        let changed = output.response.response.changed() || text.len() != before;
        if changed {
            state.changed = true;
            studio.edited();
        }
        if let Some(cursor) = cursor {
            studio.set_cursor(cursor);
        }
        match &state.words {
            // What is typed on narrows the list.
            Some(_) if changed => state.complete(studio),
            Some(words) if cursor.is_some_and(|cursor| cursor != words.range.end) => state.words = None,
            _ => {}
        }
        if let Some(range) = jump {
            let at = CCursor::new(char_of(&studio.document().text, range.start));
            let rect = output.galley.pos_from_cursor(at).translate(output.galley_pos.to_vec2());
            ui.scroll_to_rect(rect.expand2(egui::vec2(40.0, 60.0)), None);
        }
        let at = output.cursor_range.map(|range| {
            output.galley.pos_from_cursor(range.primary).translate(output.galley_pos.to_vec2()).left_bottom()
        });
        words_list(ui, studio, state, at);
    });
}

fn text_id(studio: &Studio) -> Id {
    Id::unique(("text", studio.document().path().to_path_buf()))
}

fn line_numbers(ui: &egui::Ui, output: &egui::text_edit::TextEditOutput, gutter: f32, palette: &Palette) {
    let clip = ui.clip_rect();
    let left = output.galley_pos.x - gutter;
    let mut line = 1;
    let mut starts = true;
    for row in &output.galley.rows {
        let y = output.galley_pos.y + row.rect().center().y;
        if starts && y > clip.top() - 20.0 && y < clip.bottom() + 20.0 {
            let at = egui::pos2(left + gutter - 9.0, y);
            ui.painter().text(at, egui::Align2::RIGHT_CENTER, line, theme::small(), palette.faint);
        }
        starts = row.ends_with_newline;
        line += usize::from(starts);
    }
}

fn coloured(
    kept: &mut Option<Painted>,
    text: &str,
    marks: &[(Range<usize>, Severity)],
    palette: &Palette,
    dark: bool,
) -> LayoutJob {
    if let Some(kept) = kept
        && kept.dark == dark
        && kept.marks == marks
        && kept.text == text
    {
        return kept.job.clone();
    }
    let job = if text.len() > MOST_COLOURED {
        LayoutJob::simple(text.to_string(), theme::code(), palette.text, f32::INFINITY)
    } else {
        colours(text, marks, palette)
    };
    *kept = Some(Painted { text: text.to_string(), marks: marks.to_vec(), dark, job: job.clone() });
    job
}

fn colours(text: &str, marks: &[(Range<usize>, Severity)], palette: &Palette) -> LayoutJob {
    let painted = highlight(text);
    let mut edges: Vec<usize> = vec![0, text.len()];
    edges.extend(painted.iter().flat_map(|(range, _)| [range.start, range.end]));
    edges.extend(marks.iter().flat_map(|(range, _)| [range.start, range.end]));
    edges.retain(|edge| *edge <= text.len() && text.is_char_boundary(*edge));
    edges.sort_unstable();
    edges.dedup();
    let mut job = LayoutJob::default();
    let mut next = 0;
    for pair in edges.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        while painted.get(next).is_some_and(|(range, _)| range.end <= from) {
            next += 1;
        }
        let paint = painted.get(next).filter(|(range, _)| range.start <= from).map(|(_, paint)| *paint);
        let colour = paint.map_or(palette.text, |paint: Paint| palette.paint(paint));
        // An empty mark (a line's end) shows on the character after it.
        let holds = |range: &Range<usize>| range.start <= from && (range.end > from || range.start == from);
        let mark = marks.iter().rev().find(|(range, _)| holds(range)).map(|(_, severity)| *severity);
        let underline = mark.map_or(Stroke::NONE, |severity| Stroke::new(1.6, palette.severity(severity)));
        let background = match mark {
            Some(Severity::Error) => palette.beyond,
            _ => Color32::TRANSPARENT,
        };
        let format =
            TextFormat { font_id: theme::code(), color: colour, underline, background, ..Default::default() };
        job.append(&text[from..to], 0.0, format);
    }
    job
}

fn find_bar(ui: &mut egui::Ui, studio: &mut Studio, state: &mut State, palette: &Palette) {
    let Some(find) = &mut state.find else { return };
    let mut close = false;
    ui.horizontal(|ui| {
        let label = ui.label("Find");
        let field = ui.add(TextEdit::singleline(&mut find.wanted).desired_width(150.0)).labelled_by(label.id);
        if std::mem::take(&mut find.fresh) {
            field.request_focus();
        }
        let places = writing::occurrences(&studio.document().text, &find.wanted);
        let enter = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        let back = ui.input(|input| input.modifiers.shift);
        let next = ui.button("Next").clicked() || (enter && !back);
        let before = ui.button("Before").clicked() || (enter && back);
        let cursor = cursor_of(ui.ctx(), studio);
        let found = match (next, before) {
            (true, _) => writing::next_place(&places, cursor + 1),
            (_, true) => writing::place_before(&places, cursor),
            _ => None,
        };
        if let Some((place, _)) = found {
            studio.jump_to(place);
        }
        let words = match places.len() {
            0 if find.wanted.is_empty() => String::new(),
            0 => "nowhere".to_string(),
            count => format!("{count} places"),
        };
        ui.colored_label(palette.faint, words);
        close = ui.small_button("×").on_hover_text("Close find").clicked();
    });
    if close {
        state.find = None;
    }
}

fn cursor_of(ctx: &egui::Context, studio: &Studio) -> usize {
    let id = text_id(studio);
    let range = TextEditState::load(ctx, id).and_then(|state| state.cursor.char_range());
    range.map_or(0, |range| {
        byte_of(&studio.document().text, range.primary.index.0.min(range.secondary.index.0))
    })
}

/// The list's keys, taken before the text sees them: arrows choose, Enter or Tab takes.
fn words_keys(ui: &egui::Ui, studio: &mut Studio, state: &mut State) {
    let Some(words) = &mut state.words else { return };
    let pressed = |key| ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key));
    let count = words.list.len();
    let step = match (pressed(Key::ArrowDown), pressed(Key::ArrowUp)) {
        (true, false) => 1,
        (false, true) => count - 1,
        _ => 0,
    };
    words.chosen = (words.chosen + step) % count;
    words.moved |= step > 0;
    // Both are asked, so that neither goes on to the text.
    let (enter, tab) = (pressed(Key::Enter), pressed(Key::Tab));
    if enter || tab {
        take_word(ui, studio, state);
    }
}

/// Puts the chosen word into the text.
fn take_word(ui: &egui::Ui, studio: &mut Studio, state: &mut State) {
    let Some(words) = state.words.take() else { return };
    let Some(word) = words.list.get(words.chosen) else { return };
    let (id, mut text) = (text_id(studio), studio.document().text.clone());
    if text.get(words.range.clone()).is_some() {
        text.replace_range(words.range.clone(), &word.text);
        studio.replace_text(text);
        state.changed = true;
        let end = words.range.start + word.text.len();
        studio.set_cursor(end);
        put_cursor(ui.ctx(), id, &studio.document().text, &(end..end));
        ui.memory_mut(|memory| memory.request_focus(id));
    }
}

fn words_list(ui: &egui::Ui, studio: &mut Studio, state: &mut State, at: Option<egui::Pos2>) {
    let (Some(at), Some(words)) = (at, &mut state.words) else { return };
    let mut taken = None;
    egui::Area::new(Id::unique("words")).fixed_pos(at).order(egui::Order::Foreground).show(ui.ctx(), |ui| {
        egui::Frame::popup(ui.style()).show(ui, |ui| {
            ScrollArea::vertical().max_height(200.0).show(ui, |ui| {
                for (at, word) in words.list.iter().enumerate() {
                    let line = format!("{}   {}", word.text.trim_end(), word.help);
                    let row = ui.selectable_label(at == words.chosen, line);
                    if at == words.chosen && std::mem::take(&mut words.moved) {
                        row.scroll_to_me(None);
                    }
                    if row.clicked() {
                        taken = Some(at);
                    }
                }
            });
            ui.weak("Up, Down: choose   Enter, Tab: take   Esc: close");
        });
    });
    if let Some(at) = taken {
        words.chosen = at;
        take_word(ui, studio, state);
    }
}

fn put_cursor(ctx: &egui::Context, id: Id, text: &str, range: &Range<usize>) {
    let mut state = TextEditState::load(ctx, id).unwrap_or_default();
    let (from, to) = (char_of(text, range.start), char_of(text, range.end));
    state.cursor.set_char_range(Some(CCursorRange::two(CCursor::new(from), CCursor::new(to))));
    state.store(ctx, id);
}

fn char_of(text: &str, byte: usize) -> usize {
    let byte = text.floor_char_boundary(byte.min(text.len()));
    text.get(..byte).map_or(0, |before| before.chars().count())
}

fn byte_of(text: &str, at: usize) -> usize {
    text.char_indices().nth(at).map_or(text.len(), |(byte, _)| byte)
}
