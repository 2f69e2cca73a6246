//! `wear`: what legs and brakes have done in all runs on drives.

use super::args::Format;
use super::json;
use super::output::{Failure, Outcome, say};
use super::report::table;
use crate::drives::Records;
use crate::record::Wear;
use std::path::Path;

/// Shows what was counted.
///
/// # Errors
/// When the file is there and cannot be read.
pub(super) fn run(records: &Path, format: Format) -> Result<Outcome, Failure> {
    let wear = Records::at(records).wear()?;
    say(&match format {
        Format::Json => json::wear(&wear),
        _ if wear.runs == 0 => {
            format!(
                "nothing was counted yet in `{}`: runs on drives are (--records names another folder)\n",
                records.display()
            )
        }
        _ => human(&wear),
    })?;
    Ok(Outcome::Clean)
}

fn human(wear: &Wear) -> String {
    let mut rows = vec![["leg", "way", "reversals"].map(String::from)];
    for leg in &wear.legs {
        let way = if leg.travel_m < 1000.0 {
            format!("{:.1} m", leg.travel_m)
        } else {
            format!("{:.3} km", leg.travel_m / 1000.0)
        };
        rows.push([leg.leg.clone(), way, leg.reversals.to_string()]);
    }
    format!(
        "runs on drives  {}\nbrakes closed   {} times, {} of them on what still moved\n\n{}",
        wear.runs,
        wear.brake_closings,
        wear.brake_stops,
        table(&rows, "lrr")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::LegWear;

    #[test]
    fn says_how_much_in_words() {
        let leg = |leg: &str, travel_m| LegWear { leg: leg.to_string(), travel_m, reversals: 77 };
        let wear = Wear {
            runs: 12,
            brake_closings: 30,
            brake_stops: 2,
            legs: vec![leg("left", 12.34), leg("right", 12_345.6)],
        };
        let text = human(&wear);
        for words in ["runs on drives  12", "30 times, 2 of them", "12.3 m", "12.346 km", "77"] {
            assert!(text.contains(words), "{words} in {text}");
        }
    }
}
