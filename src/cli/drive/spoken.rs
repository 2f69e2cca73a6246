//! What an operator types while a run is on.

use crate::player::Order;

/// What `line` says, where it is a word that is known.
pub(super) fn order(line: &str, legs: &[String]) -> Option<Order> {
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
            let is_all = words.next().is_none() && seconds > 0.0 && seconds <= 10.0;
            return is_all.then_some(Order::Jog { leg, part, longest_s: seconds });
        }
        _ => return None,
    };
    words.next().is_none().then_some(order)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_become_orders_and_nothing_else_does() {
        let legs = ["left".to_string(), "right".to_string()];
        assert_eq!(order("park", &legs), Some(Order::Park));
        let jog = Order::Jog { leg: Some(1), part: -1.0, longest_s: 2.0 };
        assert_eq!(order(" jog right - 2 ", &legs), Some(jog));
        assert!(order("jog all + 0.5", &legs).is_some());
        for wrong in [
            "",
            "parking",
            "park now",
            "jog",
            "jog middle + 1",
            "jog all + 60",
            "jog all up 1",
            "jog all + 1 2",
            "gain",
        ] {
            assert_eq!(order(wrong, &legs), None, "{wrong}");
        }
    }
}
