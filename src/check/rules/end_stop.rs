//! What a mechanical end has to take when the power fails.

use crate::check::Quantity;
use crate::check::gauge::Extreme;
use crate::check::loads::{LoadGauge, LoadRule, Measure, Reading, Setup, Sight};
use crate::diag::{Rule, Severity, Span};
use crate::rig::Rig;
use crate::units::{Dimension, show};

pub(crate) const RULE: LoadRule = LoadRule {
    quantity: Quantity::EndStop,
    rule: Rule { slug: "end-stop", text: TEXT },
    severity: Severity::Error,
    dimension: Dimension::TORQUE,
    missing,
    gauges,
    measure: Measure::Sampled { every: 8, read },
    title,
    limit_span,
    help: &[
        "model only: drop a weight on the bumper, off the rig: mass x 9.81 x height is the energy that it took",
    ],
};

const TEXT: &str = "\
What it checks: whenever the power fails, a leg that its brake does not stop in time meets its mechanical end with no
more energy than the end stop takes, `energy` in [end_stop]. Every load, the weakest and the strongest brake, and as
little and as much of the platform's mass as the leg may feel count. The energy is that of all that moves and turns
with the leg at the speed it has left: half its apparent mass times the speed's square. *Model only*.

Why it matters: rubber that bottoms out is steel on steel, and the screw's nut, its bearing and the rod end take the
rest. The motor and screw turn fast, so they are much of the apparent mass: as heavy as a person, often.

Example: a swing at full speed towards a short leg, brakes that need 100 ms, and rubber that takes 3 J.

Write instead: less speed near the ends, or the gain that the finding names; in the rig, a larger bumper. A leg that
meets its end at all is a finding of power-off-travel too: an end stop is for what went wrong. To measure: take the
bumper off the rig and drop a weight on it from rising heights, everybody well away; mass x 9.81 x height is the
energy, and what it bore ten times without a mark is what may stand in the file.
";

fn missing(rig: &Rig) -> Option<&'static str> {
    let lacks = rig.actuators.iter().any(|leg| leg.parts.end_stop.is_none());
    if lacks { Some("[end_stop] for every actuator") } else { super::lacks_brake(rig) }
}

fn gauges(setup: &Setup<'_>) -> Vec<LoadGauge> {
    let limit = |leg: usize| {
        let parts = &setup.rig.actuators.get(leg)?.parts;
        parts.brake.and(parts.end_stop).map(|end| end.energy_j)
    };
    super::driven_pairs(setup).filter_map(|(leg, case)| Some(LoadGauge::of(leg, case, limit(leg)?))).collect()
}

fn read(sight: &Sight<'_>, gauge: &LoadGauge) -> Reading {
    let found = sight.stops(gauge).map(|stops| stops.end_j.value);
    Reading::plain(found.unwrap_or(0.0), gauge.limit)
}

/// The most mass that a leg feels, what turns with it included, kg.
fn mass_kg(setup: &Setup<'_>, gauge: &LoadGauge) -> Option<f64> {
    let ([_, heavy], _) = setup.unpowered(&setup.rest, gauge.leg?, gauge.case?)?;
    Some(2.0 * heavy.energy_j(1.0))
}

fn title(setup: &Setup<'_>, gauge: &LoadGauge, extreme: &Extreme) -> String {
    let joules = |value: f64| format!("{} J", show(value, Dimension::NUMBER));
    let like = mass_kg(setup, gauge).map_or(String::new(), |mass_kg| {
        let speed = show((2.0 * extreme.peak / mass_kg).sqrt(), Dimension::SPEED);
        format!(", as {} at {speed}", show(mass_kg, Dimension::MASS))
    });
    format!(
        "when power fails at {:.2} s, `{}` meets its mechanical end with {}{like}; its end stop takes {}",
        extreme.at_s,
        setup.leg_name(gauge.leg),
        joules(extreme.bound),
        joules(gauge.limit)
    )
}

fn limit_span(rig: &Rig, gauge: &LoadGauge) -> Option<Span> {
    Some(rig.actuators.get(gauge.leg?)?.parts.end_stop?.span)
}
