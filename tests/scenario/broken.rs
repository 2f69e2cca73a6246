//! Broken scenes and what is said about them.

use super::desk::{page, run};
use cueloom::diag::{Diagnostic, Severity};
use cueloom::scenario::RULES;

#[test]
fn broken_scenes_are_explained() {
    insta::with_settings!({snapshot_path => "../cases/resolve/expected", prepend_module_to_snapshot => false, omit_expression => true}, {
        insta::glob!("../cases/resolve", "*.cues", |path| {
            let text = std::fs::read_to_string(path).unwrap();
            let (resolved, sources) = run(&text, None);
            insta::assert_snapshot!(page(&resolved.diagnostics, &sources));
        });
    });
}

fn cases() -> Vec<(String, String)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/cases/resolve");
    let mut found: Vec<_> = std::fs::read_dir(folder)
        .expect("the cases can be read")
        .map(|entry| entry.expect("the cases can be read").path())
        .filter(|path| path.extension().is_some_and(|kind| kind == "cues"))
        .map(|path| {
            (path.display().to_string(), std::fs::read_to_string(&path).expect("the cases can be read"))
        })
        .collect();
    found.sort();
    found
}

#[test]
fn every_case_has_a_mistake_and_every_mistake_a_rule() {
    let cases = cases();
    assert!(cases.len() >= 30);
    let mut seen = std::collections::BTreeSet::new();
    for (name, text) in cases {
        let (resolved, _) = run(&text, None);
        assert!(!resolved.diagnostics.is_empty(), "{name}");
        // The parser's own rules are its own affair.
        let own = |rule: &str| RULES.iter().any(|known| known.slug == rule);
        assert!(resolved.diagnostics.iter().any(|diagnostic| own(diagnostic.rule)), "{name}");
        for diagnostic in
            resolved.diagnostics.iter().filter(|d| !["syntax", "repeated-suffix"].contains(&d.rule))
        {
            assert!(RULES.iter().any(|rule| rule.slug == diagnostic.rule), "{name}: {}", diagnostic.rule);
            let title = &diagnostic.title;
            assert!(!title.ends_with('.') && !title.starts_with(char::is_uppercase), "{name}: {title}");
            seen.insert(diagnostic.rule);
        }
    }
    for rule in RULES {
        assert!(seen.contains(rule.slug), "no case breaks {}", rule.slug);
    }
}

#[test]
fn fixes_do_away_with_what_they_fix() {
    let mut fixed = 0;
    for (name, text) in cases() {
        let (resolved, _) = run(&text, None);
        for diagnostic in &resolved.diagnostics {
            for fix in diagnostic.fixes.iter().filter(|fix| fix.span.source.0 == 0) {
                let mut better = text.clone();
                better.replace_range(fix.span.start as usize..fix.span.end as usize, &fix.replacement);
                let (again, _) = run(&better, None);
                let same = |other: &&Diagnostic| {
                    other.rule == diagnostic.rule && other.primary.span.start == diagnostic.primary.span.start
                };
                assert!(again.diagnostics.iter().find(same).is_none(), "{name}: {}\n{better}", fix.title);
                let errors =
                    |all: &[Diagnostic]| all.iter().filter(|d| d.severity == Severity::Error).count();
                assert!(errors(&again.diagnostics) <= errors(&resolved.diagnostics), "{name}: {}", fix.title);
                fixed += 1;
            }
        }
    }
    assert!(fixed >= 15, "{fixed}");
}
