//! A page of text, tables and pictures.

use super::ink::Hatch;
use super::svg::Svg;
use std::fmt::Write;

/// How a page looks, on a screen and on paper.
const STYLE: &str = "\
:root{color-scheme:light}\
body{font:15px/1.45 Helvetica,Arial,sans-serif;color:#000;background:#fff;max-width:56rem;margin:1.5rem auto;padding:0 1rem}\
h1{font-size:1.7rem;margin:0 0 .2rem}h2{font-size:1.25rem;margin:2rem 0 .4rem;border-bottom:1px solid #000}\
h3{font-size:1.05rem;margin:1.2rem 0 .3rem}\
p{margin:.4rem 0}ul{margin:.3rem 0;padding-left:1.3rem}li{margin:.2rem 0}\
table{border-collapse:collapse;margin:.6rem 0;font-size:.87rem}\
th,td{border:1px solid #999;padding:.15rem .45rem;text-align:right;vertical-align:top}\
th{background:#eee;font-weight:600}td{white-space:nowrap}td.w,th.w{text-align:left;white-space:normal}\
table.many{font-size:.68rem}\
figure{margin:.8rem 0}figcaption{font-size:.87rem;color:#222;max-width:48rem}\
svg{max-width:100%;height:auto}\
.again{border:3px solid #000;padding:.4rem .8rem;margin:.8rem 0}\
.model{border:1px solid #000;border-radius:.6rem;padding:0 .4rem;font-size:.8rem;font-style:italic;white-space:nowrap}\
.small{font-size:.82rem;color:#222;overflow-wrap:anywhere}pre{font-size:.8rem;overflow-x:auto;background:#f4f4f4;padding:.5rem}\
@page{size:A4;margin:14mm}\
@media print{body{font-size:10.5pt;margin:0;padding:0;max-width:none}h2{break-after:avoid}h3{break-after:avoid}\
figure,tr,.again,pre{break-inside:avoid}*{print-color-adjust:exact;-webkit-print-color-adjust:exact}}";

/// Text with what HTML and XML would take for markup written otherwise.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // No document may hold control characters.
            c if c.is_control() && c != '\n' && c != '\t' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// A page as it grows. All words are plain text; what is code stands between backquotes.
#[derive(Debug, Clone)]
pub(super) struct Page {
    title: String,
    body: String,
}

impl Page {
    pub(super) fn new(title: &str) -> Self {
        let mut page = Self { title: title.to_string(), body: String::new() };
        page.put(format_args!("<h1>{}</h1>\n", escaped(title)));
        page
    }

    fn put(&mut self, words: std::fmt::Arguments<'_>) {
        // Writing to a string cannot fail.
        let _ = self.body.write_fmt(words);
    }

    pub(super) fn section(&mut self, words: &str) {
        self.put(format_args!("<h2>{}</h2>\n", escaped(words)));
    }

    pub(super) fn part(&mut self, words: &str) {
        self.put(format_args!("<h3>{}</h3>\n", escaped(words)));
    }

    pub(super) fn paragraph(&mut self, words: &str) {
        self.put(format_args!("<p>{}</p>\n", with_code(words)));
    }

    pub(super) fn small(&mut self, words: &str) {
        self.put(format_args!("<p class=\"small\">{}</p>\n", with_code(words)));
    }

    /// What only a model says, and how to measure it.
    pub(super) fn model_only(&mut self, bench: &str) {
        self.put(format_args!(
            "<p><span class=\"model\">model only</span> On the bench: {}.</p>\n",
            with_code(bench)
        ));
    }

    /// A list; nothing when it is empty.
    pub(super) fn list<'a>(&mut self, lines: impl IntoIterator<Item = &'a str>) {
        let items: String = lines.into_iter().map(|line| format!("<li>{}</li>\n", with_code(line))).collect();
        if !items.is_empty() {
            self.put(format_args!("<ul>\n{items}</ul>\n"));
        }
    }

    /// A list in a heavy frame: what must not be overlooked.
    pub(super) fn heavy<'a>(&mut self, title: &str, lines: impl IntoIterator<Item = &'a str>) {
        self.put(format_args!("<div class=\"again\"><h3>{}</h3>\n", escaped(title)));
        self.list(lines);
        self.put(format_args!("</div>\n"));
    }

    /// Text as it stands, in letters of one width.
    pub(super) fn verbatim(&mut self, text: &str) {
        self.put(format_args!("<pre>{}</pre>\n", escaped(text)));
    }

    /// A table; the first column holds words, and so do those whose heads start with a `<`.
    pub(super) fn table<const N: usize>(&mut self, heads: [&str; N], rows: &[[String; N]]) {
        let rows: Vec<Vec<String>> = rows.iter().map(|row| row.to_vec()).collect();
        self.wide_table(&heads, &rows);
    }

    /// The same with as many columns as there are.
    pub(super) fn wide_table(&mut self, heads: &[&str], rows: &[Vec<String>]) {
        let is_words = |k: usize| k == 0 || heads.get(k).is_some_and(|head| head.starts_with('<'));
        let class = |k: usize| if is_words(k) { " class=\"w\"" } else { "" };
        let cells = |tag: &str, cells: &mut dyn Iterator<Item = String>| {
            cells.enumerate().fold(String::new(), |mut out, (k, cell)| {
                let _ = write!(out, "<{tag}{}>{cell}</{tag}>", class(k));
                out
            })
        };
        let head = cells("th", &mut heads.iter().map(|head| escaped(head.trim_start_matches('<'))));
        let many = if heads.len() > 8 { " class=\"many\"" } else { "" };
        self.put(format_args!("<table{many}><thead><tr>{head}</tr></thead><tbody>\n"));
        for row in rows {
            let row = cells("td", &mut row.iter().map(|cell| with_code(cell)));
            self.put(format_args!("<tr>{row}</tr>\n"));
        }
        self.put(format_args!("</tbody></table>\n"));
    }

    pub(super) fn figure(&mut self, svg: &Svg, caption: &str) {
        let caption = match caption {
            "" => String::new(),
            words => format!("<figcaption>{}</figcaption>", with_code(words)),
        };
        self.put(format_args!("<figure>{}{caption}</figure>\n", svg.finish()));
    }

    /// The whole document.
    pub(super) fn finish(self) -> String {
        let hatches: String = Hatch::ALL.into_iter().map(Hatch::definition).collect();
        format!(
            "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
             content=\"width=device-width\"><title>{}</title><style>{STYLE}</style></head><body>\n\
             <svg width=\"0\" height=\"0\" style=\"position:absolute\" aria-hidden=\"true\"><defs>{hatches}</defs></svg>\n\
             {}</body></html>\n",
            escaped(&self.title),
            self.body
        )
    }
}

/// Plain words with what stands between backquotes as code.
fn with_code(words: &str) -> String {
    let mut parts = words.split('`');
    let mut out = escaped(parts.next().unwrap_or(""));
    while let Some(code) = parts.next() {
        match parts.next() {
            Some(rest) => {
                let _ = write!(out, "<code>{}</code>{}", escaped(code), escaped(rest));
            }
            // A backquote without a partner is one.
            None => {
                let _ = write!(out, "`{}", escaped(code));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_words_stays_words() {
        let mut page = Page::new("<script>");
        page.paragraph("`a<b` and a lone ` & '\u{7}'");
        page.table(["leg", "<why", "N"], &[["`left`".into(), "<i>".into(), "3".into()]]);
        page.list([]);
        let text = page.finish();
        assert!(text.contains("<title>&lt;script&gt;</title>"), "{text}");
        assert!(text.contains("<p><code>a&lt;b</code> and a lone ` &amp; &#39;\u{fffd}&#39;</p>"), "{text}");
        assert!(text.contains("<th class=\"w\">why</th><th>N</th>"), "{text}");
        assert!(
            text.contains("<td class=\"w\"><code>left</code></td><td class=\"w\">&lt;i&gt;</td><td>3</td>")
        );
        assert!(!text.contains("<ul>") && !text.contains("http:") && !text.contains("<script"), "{text}");
    }
}
