//! `explain`: the text of a rule.

use super::output::{Failure, Outcome, say, width};
use crate::diag::{Rule, nearest};

/// Every rule of every phase, in the order of the phases.
pub fn rules() -> Vec<&'static Rule> {
    let phases: [&'static [Rule]; 2] = [crate::check::RULES, crate::files::RULES];
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
    say(&format!("{}\n\n{}\n", rule.slug, rule.text.trim_end()))?;
    Ok(Outcome::Clean)
}

/// What a rule checks, in its first sentence.
fn first_sentence(text: &str) -> String {
    let text = text.trim();
    let body = text.strip_prefix(HEADINGS[0]).map_or(text, |rest| rest.trim_start_matches(':'));
    let body = body.trim().lines().take_while(|line| !line.trim().is_empty()).map(str::trim);
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

/// What the paragraphs of a rule's text start with.
const HEADINGS: [&str; 4] = ["What it checks", "Why it matters", "Example", "Write instead"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_has_one_text_under_four_headings() {
        let rules = rules();
        for (k, rule) in rules.iter().enumerate() {
            assert!(rules[..k].iter().all(|other| other.slug != rule.slug), "{} twice", rule.slug);
            let starts: Vec<usize> = HEADINGS
                .iter()
                .map(|heading| {
                    rule.text.find(heading).unwrap_or_else(|| panic!("{}: no {heading}", rule.slug))
                })
                .collect();
            assert!(starts.is_sorted() && starts[0] == 0, "{}: {starts:?}", rule.slug);
            assert!(first_sentence(rule.text).len() > 20, "{}: {}", rule.slug, first_sentence(rule.text));
        }
    }
}
