//! What was found, as rows for a list, marks in a text and marks on the time axis.

use super::understand::Understood;
use crate::check::Finding;
use crate::diag::{Diagnostic, Fix, Severity, SourceId, Sources, Span};
use crate::time::clock;

/// Something that can be done about a finding with one press.
#[derive(Debug, Clone, PartialEq)]
pub enum Remedy {
    /// Replace text.
    Edit(Fix),
    /// Rehearse at another gain.
    Gain(f64),
}

impl Remedy {
    /// Its words for a button.
    pub fn words(&self) -> String {
        match self {
            Remedy::Edit(fix) => sentence(&fix.title),
            Remedy::Gain(gain) => format!("Use gain {}", super::margins::gain_percent(*gain)),
        }
    }
}

/// One finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// How much it matters.
    pub severity: Severity,
    /// The rule's slug.
    pub rule: &'static str,
    /// What was found.
    pub title: String,
    /// `evening.cues:44`
    pub place: String,
    /// Where, for a jump.
    pub span: Span,
    /// When, scene seconds, for what was measured.
    pub at_s: Option<f64>,
    /// What to do, one line each.
    pub help: Vec<String>,
    /// Who is to blame, largest share first: layer index and share.
    pub blame: Vec<(usize, f64)>,
    /// What one press would do, best first.
    pub remedies: Vec<Remedy>,
}

impl Row {
    /// Everything as text, for the clipboard.
    pub fn text(&self) -> String {
        let mut text =
            format!("{}[{}]: {}\n  at {}", self.severity.word(), self.rule, self.title, self.place);
        if let Some(at_s) = self.at_s {
            text.push_str(&format!(", {}", clock(at_s)));
        }
        for line in &self.help {
            text.push_str(&format!("\n  help: {line}"));
        }
        text
    }
}

/// Mistakes of a text.
pub fn of_mistakes(mistakes: &[Diagnostic], sources: &Sources) -> Vec<Row> {
    mistakes.iter().map(|mistake| row(mistake, sources)).collect()
}

/// Findings of a check; `fits_gain` is what the whole variant would fit at. `tempo`: scene seconds in a second.
pub fn of_check(
    findings: &[Finding],
    fits_gain: Option<f64>,
    understood: &Understood,
    tempo: f64,
) -> Vec<Row> {
    findings
        .iter()
        .map(|finding| {
            let mut row = row(&finding.diagnostic, &understood.sources);
            row.at_s = finding.at_s.map(|at_s| at_s * tempo);
            row.blame = finding.blame.iter().map(|blame| (blame.layer, blame.share)).collect();
            // A gain mends what a gain can: a rule that passes at one, and then the one at which all pass.
            if let (Some(_), Some(gain)) = (finding.fits_gain, fits_gain) {
                row.remedies.insert(0, Remedy::Gain(gain));
            }
            row
        })
        .collect()
}

fn row(diagnostic: &Diagnostic, sources: &Sources) -> Row {
    let (name, at) = sources.place(diagnostic.primary.span);
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    Row {
        severity: diagnostic.severity,
        rule: diagnostic.rule,
        title: diagnostic.title.clone(),
        place: format!("{file}:{}", at.line),
        span: diagnostic.primary.span,
        at_s: None,
        help: diagnostic.help.clone(),
        blame: Vec::new(),
        remedies: diagnostic.fixes.iter().cloned().map(Remedy::Edit).collect(),
    }
}

/// Marks in one text: where, and how grave; the graver last, so that they are drawn on top.
pub fn marks(rows: &[Row], source: SourceId) -> Vec<(std::ops::Range<usize>, Severity)> {
    let mut marks: Vec<_> = rows
        .iter()
        .filter(|row| row.span.source == source)
        .map(|row| (row.span.start as usize..row.span.end as usize, row.severity))
        .collect();
    marks.sort_by_key(|(range, severity)| (*severity, range.start));
    marks
}

/// `1 error, 2 warnings`; `no findings` when there are none.
pub fn summary(rows: &[Row]) -> String {
    let count = |severity| rows.iter().filter(|row| row.severity == severity).count();
    let words: Vec<String> = [Severity::Error, Severity::Warning, Severity::Note]
        .into_iter()
        .map(|severity| (count(severity), severity.word()))
        .filter(|(count, _)| *count > 0)
        .map(|(count, word)| format!("{count} {word}{}", if count == 1 { "" } else { "s" }))
        .collect();
    if words.is_empty() { "no findings".to_string() } else { words.join(", ") }
}

/// A text with a replacement made; `None` when the place is not in the text.
pub fn applied(text: &str, fix: &Fix) -> Option<String> {
    let (start, end) = (fix.span.start as usize, fix.span.end as usize);
    text.get(start..end)?;
    Some(format!("{}{}{}", &text[..start], fix.replacement, &text[end..]))
}

/// With a capital first letter.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;
    use crate::desk::sample::scene;
    use crate::desk::variant::Variant;
    use crate::motion::Serial;
    use crate::time::SampleRate;

    #[test]
    fn a_misspelt_cue_is_mended_by_its_own_fix() {
        let understood = scene("at 1 s  pitch pulze(1 deg, 1 s)");
        let rows = of_mistakes(&understood.mistakes, &understood.sources);
        assert_eq!((summary(&rows).as_str(), rows[0].place.as_str()), ("1 error", "bench.cues:2"));
        let Some(Remedy::Edit(fix)) = rows[0].remedies.first() else { panic!("{rows:?}") };
        let text = understood.sources.get(understood.profile).text();
        assert!(applied(text, fix).unwrap().contains("pulse(1 deg, 1 s)"), "{fix:?}");
        assert_eq!(applied("short", fix), None);
        let marks = marks(&rows, understood.profile);
        assert_eq!(&text[marks[0].0.clone()], "pulze");
    }

    #[test]
    fn what_is_too_much_offers_the_gain_that_fits_and_the_number_that_fits() {
        let understood = scene("at 1 s  pitch hold(12 deg, ease: 3 s) for 8 s");
        let (scenario, rig) = (understood.scenario.clone().unwrap(), understood.rig.clone().unwrap());
        let plan = Variant::default().plan(&scenario, &rig, SampleRate::new(1000).unwrap()).unwrap();
        let report = check::run(&plan, &understood.sources, &Serial, &|_| {});
        let rows = of_check(&report.findings, report.fits_gain, &understood, 1.0);
        let row = rows.first().unwrap();
        assert_eq!(row.remedies.first(), report.fits_gain.map(Remedy::Gain).as_ref());
        assert!(row.remedies.iter().any(|remedy| matches!(remedy, Remedy::Edit(_))), "{row:?}");
        assert!(row.at_s.is_some() && row.blame[0].1 > 0.99 && row.text().contains("help:"), "{row:?}");
        // And it does fit there.
        let gain = report.fits_gain.unwrap();
        let fits = Variant { gain, ..Variant::default() }.plan(&scenario, &rig, plan.rate()).unwrap();
        assert!(check::run(&fits, &understood.sources, &Serial, &|_| {}).clear().is_some());
    }

    #[test]
    fn buttons_are_sentences() {
        assert_eq!(Remedy::Gain(0.584).words(), "Use gain 58.4 %");
        assert_eq!(sentence("write 2 deg"), "Write 2 deg");
    }
}
