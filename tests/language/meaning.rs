//! What tree a text gives, written out in brackets.

use cueloom::diag::SourceId;
use cueloom::lang::parse;
use cueloom::lang::tree::{
    ArgValue, Call, Expr, ExprKind, Group, Item, Line, Operator, Play, Repeat, Statement, SuffixKind, Value,
    ValueKind, What, When,
};

fn let_value(text: &str) -> Value {
    let parsed = parse(SourceId(0), &format!("let x = {text}"));
    assert!(parsed.errors.is_empty(), "{text}: {:?}", parsed.errors);
    match parsed.file.items.into_iter().next() {
        Some(Item::Let(item)) => item.value,
        other => panic!("{other:?}"),
    }
}

fn play(text: &str) -> Play {
    let parsed = parse(SourceId(0), &format!("scene \"a\" {{\n    {text}\n}}\n"));
    assert!(parsed.errors.is_empty(), "{text}: {:?}", parsed.errors);
    let Some(Item::Scene(scene)) = parsed.file.items.into_iter().next() else { panic!("no scene") };
    match scene.body.statements.into_iter().next() {
        Some(Statement::Play(play)) => play,
        other => panic!("{other:?}"),
    }
}

fn value(value: &Value) -> String {
    match &value.kind {
        ValueKind::Single(one) => expr(one),
        ValueKind::Ramp(ends) => format!("{} -> {}", expr(&ends[0]), expr(&ends[1])),
        ValueKind::Range(ends) => format!("{} .. {}", expr(&ends[0]), expr(&ends[1])),
    }
}

fn expr(expr_: &Expr) -> String {
    match &expr_.kind {
        ExprKind::Number(number, None) => format!("{number}"),
        ExprKind::Number(number, Some(unit)) => {
            let powers: Vec<String> =
                unit.powers.iter().map(|(word, power)| format!("{word}^{power}")).collect();
            format!("{number} {}", powers.join(" "))
        }
        ExprKind::Clock(seconds) => format!("clock {seconds}"),
        ExprKind::Call(inner) => call(inner),
        ExprKind::Name(name) => name.text.to_string(),
        ExprKind::End(name) => format!("end of {}", name.text),
        ExprKind::Group(inner) => format!("<{}>", value(inner)),
        ExprKind::Negative(inner) => format!("(minus {})", expr(inner)),
        ExprKind::Binary(operator, operands) => {
            let [a, b] = &**operands;
            let sign = match operator {
                Operator::Add => '+',
                Operator::Subtract => '-',
                Operator::Multiply => '*',
                Operator::Divide => '/',
            };
            format!("({} {sign} {})", expr(a), expr(b))
        }
        ExprKind::Power(base, exponent) => format!("({} ^ {exponent})", expr(base)),
    }
}

fn call(call: &Call) -> String {
    let args: Vec<String> = call
        .args
        .iter()
        .map(|arg| {
            let name = arg.name.as_ref().map_or(String::new(), |name| format!("{}: ", name.text));
            match &arg.value {
                ArgValue::Text(text) => format!("{name}{:?}", text.text),
                ArgValue::Value(inner) => name + &value(inner),
            }
        })
        .collect();
    format!("{}[{}]", call.name.text, args.join("; "))
}

#[test]
fn values_group_as_written() {
    for (text, meaning) in [
        ("1 + 2 * 3 - 4", "((1 + (2 * 3)) - 4)"),
        ("8 / 4 / 2", "((8 / 4) / 2)"),
        ("1 + 2 + 3", "((1 + 2) + 3)"),
        ("-a^2 * 3", "((minus (a ^ 2)) * 3)"),
        ("a * -b", "(a * (minus b))"),
        ("2^-3", "(2 ^ -3)"),
        ("speed / 60 kt", "(speed / 60 kt^1)"),
        ("9000 N*m/rad", "9000 N^1 m^1 rad^-1"),
        ("3 m/s^2 * 2", "(3 m^1 s^-2 * 2)"),
        ("3 kg*m^2/s/A^-1", "3 kg^1 m^2 s^-1 A^1"),
        ("50 % * near", "(50 %^1 * near)"),
        ("5deg", "5 deg^1"),
        ("2e-3 m", "0.002 m^1"),
        ("8 Hz..14 Hz", "8 Hz^1 .. 14 Hz^1"),
        ("0..1", "0 .. 1"),
        ("a / 20 m..a / 1 m", "(a / 20 m^1) .. (a / 1 m^1)"),
        ("5 kt -> 60 kt", "5 kt^1 -> 60 kt^1"),
        ("(1 -> 2) * 3", "(<1 -> 2> * 3)"),
        ("1:24.5", "clock 84.5"),
        ("1:02:03", "clock 3723"),
        ("turn.end - 2 s", "(end of turn - 2 s^1)"),
        ("min(1, max(2, b: 3))", "min[1; max[2; b: 3]]"),
        ("f()", "f[]"),
        ("1 +\n  2", "(1 + 2)"),
        ("(1\n+ 2)", "<(1 + 2)>"),
    ] {
        assert_eq!(value(&let_value(text)), meaning, "{text}");
    }
}

#[test]
fn a_reserved_or_called_word_after_a_number_is_not_its_unit() {
    let placed = play("at 5  joint()  for 14  fall 3 s  as x");
    assert!(matches!(&placed.when, Some(When::At(at)) if expr(at) == "5"));
    let suffixes: Vec<String> = placed
        .suffixes
        .iter()
        .map(|suffix| match &suffix.kind {
            SuffixKind::For(time) => format!("for {}", value(time)),
            SuffixKind::Rise(time) => format!("rise {}", value(time)),
            SuffixKind::Fall(time) => format!("fall {}", value(time)),
            SuffixKind::Gain(gain) => format!("gain {}", value(gain)),
            SuffixKind::As(name) => format!("as {}", name.text),
        })
        .collect();
    assert_eq!(suffixes, ["for 14", "fall 3 s^1", "as x"]);
    assert!(matches!(&play("at 5 joint()").what, What::Cue(cue) if call(cue) == "joint[]"));
    assert!(matches!(&play("at 5 s joint()").when, Some(When::At(at)) if expr(at) == "5 s^1"));
}

#[test]
fn every_part_of_a_repetition_finds_its_place() {
    let placed = play(
        "during a .. b.end every 5 m after 2 m at 3 kt -> 9 kt  seat.heave trace(1 g, \"a.csv\", below: 4 Hz)",
    );
    let Some(When::Every(repeat)) = &placed.when else { panic!("{:?}", placed.when) };
    let Repeat { during: Some(during), every, after: Some(after), at: Some(at) } = &**repeat else {
        panic!("{:?}", placed.when)
    };
    assert_eq!((expr(&during.from), expr(during.to.as_ref().unwrap())), ("a".into(), "end of b".into()));
    assert_eq!(
        (expr(every), expr(after), value(at)),
        ("5 m^1".into(), "2 m^1".into(), "3 kt^1 -> 9 kt^1".into())
    );
    let What::Layer(channel, waveform) = &placed.what else { panic!("{:?}", placed.what) };
    assert_eq!((channel.group, channel.line), (Group::Seat, Line::Heave));
    assert_eq!(call(waveform), "trace[1 g^1; \"a.csv\"; below: 4 Hz^1]");
}

#[test]
fn spans_cover_what_was_written() {
    let text = "scene \"a\" {\n    at 0 s  pitch ring(0.2 deg / 3, 7 Hz)  for 1 s # c\n}\n";
    let parsed = parse(SourceId(7), text);
    let Some(Item::Scene(scene)) = parsed.file.items.first() else { panic!("no scene") };
    let Some(Statement::Play(play)) = scene.body.statements.first() else { panic!("no play") };
    let under = |span: cueloom::diag::Span| {
        assert_eq!(span.source, SourceId(7));
        &text[span.start as usize..span.end as usize]
    };
    assert_eq!(under(scene.span), text.trim_end());
    assert_eq!(under(scene.title.span), "\"a\"");
    assert_eq!(under(play.span), "at 0 s  pitch ring(0.2 deg / 3, 7 Hz)  for 1 s");
    let What::Layer(channel, waveform) = &play.what else { panic!("no layer") };
    assert_eq!((under(channel.span), under(waveform.span)), ("pitch", "ring(0.2 deg / 3, 7 Hz)"));
    assert_eq!((under(waveform.args[0].span), under(play.suffixes[0].span)), ("0.2 deg / 3", "for 1 s"));
    let ArgValue::Value(Value { kind: ValueKind::Single(size), .. }) = &waveform.args[0].value else {
        panic!("no value")
    };
    let ExprKind::Binary(_, operands) = &size.kind else { panic!("no division") };
    let [left, _] = &**operands;
    let ExprKind::Number(_, Some(unit)) = &left.kind else { panic!("no unit") };
    assert_eq!((under(left.span), under(unit.span)), ("0.2 deg", "deg"));
}
