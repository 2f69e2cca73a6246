//! What to say about dimensions that do not fit, and which text would.

use super::value::{Misfit, Val};
use crate::diag::{Diagnostic, Span};
use crate::lang::tree::{Expr, ExprKind, Operator, UnitWord, Value, ValueKind};
use crate::units::{Dimension, compound};

/// The unit that a person would write for a dimension.
pub(super) fn everyday(dimension: Dimension) -> Option<&'static str> {
    const UNITS: &[(Dimension, &str)] = &[
        (Dimension::LENGTH, "m"),
        (Dimension::TIME, "s"),
        (Dimension::ANGLE, "deg"),
        (Dimension::FREQUENCY, "Hz"),
        (Dimension::SPEED, "m/s"),
        (Dimension::ACCELERATION, "m/s^2"),
        (Dimension::ANGULAR_RATE, "deg/s"),
        (Dimension::ANGULAR_ACCELERATION, "deg/s^2"),
        (Dimension::LEVEL, "dB"),
        (Dimension::MASS, "kg"),
        (Dimension::FORCE, "N"),
    ];
    UNITS.iter().find(|(known, _)| *known == dimension).map(|(_, unit)| *unit)
}

/// A literal, behind any minus signs, with its unit.
fn literal(expr: &Expr) -> Option<(&Expr, Option<&UnitWord>)> {
    match &expr.kind {
        ExprKind::Number(_, unit) => Some((expr, unit.as_ref())),
        ExprKind::Negative(inner) => literal(inner),
        _ => None,
    }
}

/// How `unit` would have to be written to measure `wanted`, if a `/s` more or less does it.
fn respelled(unit: &UnitWord, wanted: Dimension) -> Option<String> {
    let powers: Vec<(&str, i32)> = unit.powers.iter().map(|(word, power)| (&**word, *power)).collect();
    let kept: Vec<_> = powers.iter().copied().filter(|(word, power)| !(*word == "s" && *power < 0)).collect();
    if kept.iter().any(|(_, power)| *power != 1) {
        return None;
    }
    let base = kept.iter().map(|(word, _)| *word).collect::<Vec<_>>().join("*");
    for (seconds, tail) in [(0, ""), (-1, "/s"), (-2, "/s^2")] {
        let mut tried = kept.clone();
        if seconds != 0 {
            tried.push(("s", seconds));
        }
        if !base.is_empty() && compound(tried).is_ok_and(|unit| unit.dimension == wanted) {
            return Some(format!("{base}{tail}"));
        }
    }
    None
}

/// Adds what would turn `expr`, which measures `found`, into `wanted`.
pub(super) fn toward(diagnostic: Diagnostic, expr: &Expr, found: Dimension, wanted: Dimension) -> Diagnostic {
    if let Some((number, unit)) = literal(expr) {
        match unit {
            None => {
                if let Some(unit) = everyday(wanted) {
                    let end = Span { start: number.span.end, ..number.span };
                    return diagnostic.help(format!("give the number a unit, such as `{unit}`")).fix(
                        format!("add the unit `{unit}`"),
                        end,
                        format!(" {unit}"),
                    );
                }
            }
            Some(unit) => {
                if let Some(better) = respelled(unit, wanted) {
                    return diagnostic.help(format!("did you mean `{better}`?")).fix(
                        format!("write the unit `{better}`"),
                        unit.span,
                        better,
                    );
                }
            }
        }
    }
    let turns = Dimension { angle: 1, ..Dimension::FREQUENCY };
    if found == turns && wanted == Dimension::FREQUENCY {
        return diagnostic.help("Hz and rpm count turns: divide by `360 deg`");
    }
    if let Some(name) =
        wanted.over(found).filter(|ratio| *ratio != Dimension::NUMBER).and_then(Dimension::name)
    {
        return diagnostic.help(format!("multiply {} by {}", the(found), article(name)));
    }
    if let Some(name) =
        found.over(wanted).filter(|ratio| *ratio != Dimension::NUMBER).and_then(Dimension::name)
    {
        return diagnostic.help(format!("divide {} by {}", the(found), article(name)));
    }
    diagnostic
}

fn the(dimension: Dimension) -> String {
    match dimension.name() {
        Some(name) if dimension != Dimension::NUMBER => format!("the {name}"),
        _ => "it".to_string(),
    }
}

fn article(name: &str) -> String {
    let vowel = name.starts_with(['a', 'e', 'i', 'o', 'u']);
    format!("{} {name}", if vowel { "an" } else { "a" })
}

/// What is wrong with `a operator b`.
pub(super) fn misfit(
    misfit: Misfit,
    operator: Operator,
    (a, left): (&Expr, &Val),
    (b, right): (&Expr, &Val),
    whole: Span,
) -> Diagnostic {
    let sign = match operator {
        Operator::Add => "+",
        Operator::Subtract => "-",
        Operator::Multiply => "*",
        Operator::Divide => "/",
    };
    let sides = |rule, title: String| {
        Diagnostic::error(rule, a.span, title)
            .label(left.dimension.to_string())
            .also(b.span, right.dimension.to_string())
    };
    match misfit {
        Misfit::Dimension => {
            let title = match operator {
                Operator::Subtract => {
                    format!("{} cannot be taken from {}", right.dimension, left.dimension)
                }
                _ => format!("{} cannot be added to {}", right.dimension, left.dimension),
            };
            let diagnostic =
                sides("dimension", title).help(format!("both sides of `{sign}` must measure the same"));
            if right.dimension != Dimension::NUMBER && left.dimension == Dimension::NUMBER {
                toward(diagnostic, a, left.dimension, right.dimension)
            } else {
                toward(diagnostic, b, right.dimension, left.dimension)
            }
        }
        Misfit::Level => {
            let title =
                format!("{} {sign} {}: a level in dB adds to levels only", left.dimension, right.dimension);
            sides("dimension", title)
                .help("write a factor instead of the dB (`50 %` for -6 dB), or add dB to dB")
        }
        Misfit::Temperature => sides("dimension", "temperatures take no arithmetic".to_string()),
        Misfit::Instant => {
            Diagnostic::error("label", whole, "a label is an instant: it can be shifted, not scaled")
                .help("the length between two labels is `b - a`; that may be scaled")
        }
        Misfit::Exponent => Diagnostic::error(
            "dimension",
            whole,
            "the exponents of this value are too large to mean anything",
        ),
        Misfit::TooLarge => {
            Diagnostic::error("range", whole, "this value is too large to calculate with, or no number")
        }
        Misfit::Zero => {
            Diagnostic::error("range", whole, "this divides by zero").also(b.span, "this is zero")
        }
        Misfit::TooLong => {
            let title = format!("this value varies in more than {} terms", super::limit::VALUE_SIZE);
            Diagnostic::error("limit", whole, title)
        }
    }
}

/// [`toward`] for a value that may be a ramp: its first end that is a literal is respelled.
pub(super) fn value_toward(
    diagnostic: Diagnostic,
    value: &Value,
    found: Dimension,
    wanted: Dimension,
) -> Diagnostic {
    match &value.kind {
        ValueKind::Single(expr) => toward(diagnostic, expr, found, wanted),
        ValueKind::Ramp(..) | ValueKind::Range(..) => match everyday(wanted) {
            Some(unit) => diagnostic.help(format!("give both ends a unit such as `{unit}`")),
            None => diagnostic,
        },
    }
}

/// The unit that a spelled-out word means.
pub(super) fn spelled_out(word: &str) -> Option<&'static str> {
    const WORDS: &[(&str, &str)] = &[
        ("sec", "s"),
        ("second", "s"),
        ("minute", "min"),
        ("hour", "h"),
        ("metre", "m"),
        ("meter", "m"),
        ("foot", "ft"),
        ("feet", "ft"),
        ("inch", "in"),
        ("degree", "deg"),
        ("radian", "rad"),
        ("hertz", "Hz"),
        ("knot", "kt"),
        ("kts", "kt"),
        ("percent", "%"),
    ];
    let lower = word.to_ascii_lowercase();
    let word = WORDS.iter().find(|(long, _)| lower == *long || lower.strip_suffix('s') == Some(long));
    word.map(|(_, unit)| *unit)
}
