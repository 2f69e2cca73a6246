//! `explain`: the text of a rule.

use super::output::{Failure, Outcome, say, width};
use crate::diag::{Rule, nearest};

/// Every rule of every phase, in the order of the phases.
pub fn rules() -> Vec<&'static Rule> {
    let phases: [&'static [Rule]; 6] = [
        crate::lang::RULES,
        crate::scenario::RULES,
        crate::rig::explain::RULES,
        crate::rig::advice::RULES,
        crate::check::RULES,
        crate::files::RULES,
    ];
    phases.into_iter().flatten().collect()
}

/// Prints one rule's text, or the list of rules.
///
/// # Errors
/// When there is no such rule.
pub(super) fn run(slug: Option<&str>) -> Result<Outcome, Failure> {
    let rules = rules();
    let Some(slug) = slug else {
        let slugs = rules.iter().map(|rule| rule.slug.len()).max().unwrap_or(0);
        let room = width().saturating_sub(slugs + 4);
        let lines = rules.iter().map(|rule| {
            let words = shortened(&first_sentence(rule.text), room);
            format!("  {:<slugs$}  {words}\n", rule.slug)
        });
        say(&format!("rules; `cueloom explain RULE` says more\n\n{}", lines.collect::<String>()))?;
        return Ok(Outcome::Clean);
    };
    // People paste what they see: `error[speed]`, `[speed]`.
    let word = slug.trim().trim_end_matches([']', ':']).rsplit('[').next().unwrap_or(slug);
    let Some(rule) = rules.iter().find(|rule| rule.slug == word) else {
        let hint = match nearest(word, rules.iter().map(|rule| rule.slug)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "`cueloom explain` lists all".to_string(),
        };
        return Err(Failure(format!("there is no rule `{word}`; {hint}")));
    };
    say(&page(rule))?;
    Ok(Outcome::Clean)
}

/// What the sections of a rule's text are headed, in order.
const HEADINGS: [&str; 4] = ["What it checks", "Why it matters", "Example", "Write instead"];

/// The four sections of a rule's text, however their headings are set (`## X`, `X:`, `X` alone).
fn sections(text: &str) -> [String; 4] {
    let mut sections = [const { String::new() }; 4];
    let mut current = 0;
    for line in text.lines() {
        let bare = line.trim_start_matches('#').trim_start();
        let heading = HEADINGS.iter().enumerate().find_map(|(at, heading)| {
            let rest = bare.strip_prefix(heading)?;
            let rest = rest.strip_prefix(':').or_else(|| rest.trim().is_empty().then_some(""))?;
            (at >= current).then_some((at, rest))
        });
        let (at, rest) = heading.unwrap_or((current, line));
        current = at;
        if heading.is_none() || !rest.trim().is_empty() {
            sections[at].push_str(rest);
            sections[at].push('\n');
        }
    }
    sections.map(|section| unindented(&section))
}

/// The same lines, moved left as far as all of them go, without empty ones around them.
fn unindented(text: &str) -> String {
    let lines: Vec<&str> = text.lines().collect();
    let full = |line: &&&str| !line.trim().is_empty();
    let indent = |line: &&str| line.len() - line.trim_start_matches(' ').len();
    // The first line may stand behind its heading, where its own indent says nothing.
    let least = lines.iter().skip(1).filter(full).map(indent).min().unwrap_or(usize::MAX);
    let moved = lines.iter().map(|line| &line[least.min(indent(line))..]);
    moved.collect::<Vec<_>>().join("\n").trim_matches('\n').to_string()
}

/// A rule's text, its sections one under the other.
fn page(rule: &Rule) -> String {
    let mut page = format!("{}\n", rule.slug);
    for (heading, section) in HEADINGS.iter().zip(sections(rule.text)) {
        page.push_str(&format!("\n{heading}\n"));
        for line in section.lines() {
            page.push_str(format!("  {line}").trim_end());
            page.push('\n');
        }
    }
    page
}

/// What a rule checks, in its first sentence.
fn first_sentence(text: &str) -> String {
    let [checks, ..] = sections(text);
    let body = checks.lines().take_while(|line| !line.trim().is_empty()).map(str::trim);
    let body = body.collect::<Vec<_>>().join(" ");
    // `r.m.s. value` goes on, `. Then` does not.
    let starts_anew = |at: &usize| body[at + 2..].starts_with(char::is_uppercase);
    let end = body.match_indices(". ").map(|(at, _)| at).find(starts_anew);
    body[..end.unwrap_or(body.len())].trim_end_matches('.').to_string()
}

/// Words cut to what fits on a line, with a mark where they go on.
fn shortened(words: &str, room: usize) -> String {
    if words.chars().count() <= room {
        return words.to_string();
    }
    let cut: String = words.chars().take(room.saturating_sub(3)).collect();
    let whole = cut.rsplit_once(' ').map_or(cut.as_str(), |(whole, _)| whole);
    format!("{} ...", whole.trim_end_matches([',', ';', ':']))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_may_be_set_in_three_ways() {
        let expected = ["a thing\n  and more", "b", "c\n\nd", "e"].map(String::from);
        for text in [
            "What it checks: a thing\n  and more\n\nWhy it matters: b\n\nExample: c\n\nd\n\nWrite instead: e\n",
            "## What it checks\na thing\n  and more\n## Why it matters\nb\n## Example\n    c\n\n    d\n## Write instead\n  e",
            "What it checks\n  a thing\n    and more\n\nWhy it matters\n  b\n\nExample\n  c\n\n  d\n\nWrite instead\n  e",
        ] {
            let found = sections(text);
            assert_eq!(found.map(|s| s.replace(' ', "")), expected.clone().map(|s| s.replace(' ', "")));
        }
    }

    #[test]
    fn every_rule_has_one_text_under_four_headings() {
        let rules = rules();
        for (k, rule) in rules.iter().enumerate() {
            assert!(rules[..k].iter().all(|other| other.slug != rule.slug), "{} twice", rule.slug);
            for (heading, section) in HEADINGS.iter().zip(sections(rule.text)) {
                assert!(section.len() >= 8, "{}: {heading}: {section:?}", rule.slug);
            }
            assert!(first_sentence(rule.text).len() > 20, "{}: {}", rule.slug, first_sentence(rule.text));
        }
    }
}
