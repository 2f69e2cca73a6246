//! What an operator types while a run is on.

use crate::player::Order;

/// What a line says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Spoken {
    /// An order, once.
    Once(Order),
    /// A jog: of which leg, at which part of the speed, for how long (s).
    Jog(Option<usize>, f64, f64),
}

/// What `line` says, where it is a word that is known.
pub(super) fn order(line: &str, legs: &[String]) -> Option<Spoken> {
    let mut words = line.split_whitespace();
    let order = match words.next()? {
        "start" => Order::Start,
        "pause" => Order::Pause,
        "resume" => Order::Resume,
        "park" => Order::Park,
        "home" => Order::Home,
        "stop" => Order::Stop,
        "emergency" => Order::EmergencyStop,
        "acknowledge" => Order::Reset,
        "end" => Order::End,
        "gain" => Order::Gain(words.next()?.parse().ok()?),
        "jog" => {
            let leg = words.next()?;
            let leg = if leg == "all" { None } else { Some(legs.iter().position(|name| name == leg)?) };
            let part = match words.next()? {
                "+" => 1.0,
                "-" => -1.0,
                _ => return None,
            };
            let seconds: f64 = words.next()?.parse().ok()?;
            return (seconds > 0.0 && seconds <= 10.0).then_some(Spoken::Jog(leg, part, seconds));
        }
        _ => return None,
    };
    words.next().is_none().then_some(Spoken::Once(order))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_become_orders_and_nothing_else_does() {
        let legs = ["left".to_string(), "right".to_string()];
        assert_eq!(order("park", &legs), Some(Spoken::Once(Order::Park)));
        assert_eq!(order(" jog right - 2 ", &legs), Some(Spoken::Jog(Some(1), -1.0, 2.0)));
        assert_eq!(order("jog all + 0.5", &legs), Some(Spoken::Jog(None, 1.0, 0.5)));
        for wrong in
            ["", "parking", "park now", "jog", "jog middle + 1", "jog all + 60", "jog all up 1", "gain"]
        {
            assert_eq!(order(wrong, &legs), None, "{wrong}");
        }
    }
}
