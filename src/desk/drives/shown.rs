//! Where a run on drives stands, as it is shown: its state and reason, what is to be done now, and what can be asked for.

use crate::drives::{AT_ONCE, Standing, Waits, refused, waits};
use crate::player::{Order, Progress};
use crate::safety::operation::{Input, Inputs, Operation, Phase, Refusal, Request, State};

/// What can be asked for with a button of its own, in the order of the buttons.
pub const OFFERS: [(Request, Order, &str); 6] = [
    (Request::Home, Order::Home, "Home"),
    (Request::Start, Order::Start, "Play the scene"),
    (Request::Resume, Order::Resume, "Go on"),
    (Request::Park, Order::Park, "Park"),
    (Request::Pause, Order::Pause, "Pause"),
    (Request::Acknowledge, Order::Reset, "Acknowledge"),
];

/// Something that can be asked for, or why not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offer {
    /// What is sent.
    pub order: Order,
    /// The words on its button.
    pub words: &'static str,
    /// Why it would do nothing now.
    pub refused: Option<&'static str>,
}

/// A run's standing for people.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// `following: MOVING`
    pub state: String,
    /// Why it is there.
    pub cause: String,
    /// What to look at before anything else; empty where there is nothing.
    pub look: &'static str,
    /// What is to be done now.
    pub now: String,
    /// The inputs as they are: `gate closed, mat open`. Presence is the rig's own and this computer's together.
    pub inputs: String,
    /// What can be asked for.
    pub offers: Vec<Offer>,
    /// Why there is no jog of all legs now.
    pub no_jog: Option<&'static str>,
    /// Why there is none of one leg alone.
    pub no_jog_of_one: Option<&'static str>,
    /// Whether legs move, or are about to.
    pub moving: bool,
    /// Whether it waits to be acknowledged.
    pub latched: bool,
    /// Whether the scene was asked for and cannot be had: why, where it stands parked.
    pub no_start: Option<&'static str>,
    /// What was asked for last and came to nothing, and why.
    pub refused: Option<String>,
}

impl Shown {
    /// Of a run; `holds` is whether presence is held at this computer, `hold` the name of the key for that.
    pub fn of(
        run: &Operation,
        progress: &Progress,
        legs: &[String],
        holds: bool,
        hold: &str,
    ) -> Option<Self> {
        let standing = Standing::of(progress)?;
        // Presence is taken hold of after the choice, so that it lacks is no reason against it.
        let words = |why: Option<Refusal>| why.filter(|why| *why != Refusal::Presence).map(Refusal::words);
        let why_not = |request| words(progress.ready.refusal(run, request));
        let one_leg = Order::Jog { leg: Some(0), part: 1.0, longest_s: f64::INFINITY };
        let offer = |(request, order, words)| Offer { order, words, refused: why_not(request) };
        let cause = match progress.cause {
            Some(cause) => format!("{}; {}", standing.cause, cause.words(legs)),
            None => standing.cause.to_string(),
        };
        Some(Self {
            state: format!("{}: {}", standing.state, standing.phase),
            cause,
            look: standing.look,
            now: now(progress, &standing, holds, hold).unwrap_or_default(),
            inputs: inputs(&run.seen().inputs),
            offers: OFFERS.map(offer).to_vec(),
            no_jog: why_not(Request::Jog),
            no_jog_of_one: words(progress.ready.refusal_of(run, one_leg, progress.legs_m.len())),
            moving: !matches!(run.phase(), Phase::Rest | Phase::Standing | Phase::Setting { .. }),
            latched: run.is_latched(),
            no_start: standing
                .not_now
                .filter(|(request, _)| *request == Request::Start)
                .map(|(_, why)| why.words()),
            refused: refused(progress, legs).map(|(_, words)| words),
        })
    }
}

fn inputs(inputs: &Inputs) -> String {
    let all = [
        ("presence", inputs.presence),
        ("gate", inputs.gate),
        ("mat", inputs.mat),
        ("belt", inputs.belt),
        ("stop", inputs.stop),
    ];
    let word = |input| match input {
        Input::Closed => "closed",
        Input::Open => "OPEN",
        Input::Unknown => "NOT KNOWN",
    };
    all.map(|(name, input)| format!("{name} {}", word(input))).join(", ")
}

/// The words of an act that was chosen.
pub fn act(order: Order) -> &'static str {
    match order {
        Order::Jog { .. } => "Jog",
        order => OFFERS.iter().find(|(_, own, _)| *own == order).map_or("", |(_, _, words)| *words),
    }
}

fn now(progress: &Progress, standing: &Standing, holds: bool, hold: &str) -> Option<String> {
    let run = progress.run.as_ref()?;
    let propped = run.is_propped();
    Some(match (run.phase(), waits(progress)) {
        (Phase::Warning { .. } | Phase::Releasing { .. } | Phase::Moving, _) => {
            format!("Keep holding {hold} or the button: letting go stops, in place")
        }
        (Phase::Stopping { .. } | Phase::Setting { .. }, _) => "Wait: it comes to rest".to_string(),
        _ if propped => {
            let instead = standing.instead;
            format!("Here {instead}. Closing the window twice ends this program at once: {AT_ONCE}")
        }
        (_, Some((order, Waits::For(why)))) => format!("{}: cannot begin: {}", act(order), why.words()),
        (_, Some((order, Waits::LetGo))) => format!("{}: let go first, then take hold", act(order)),
        (_, Some((order, Waits::TakeHold))) if holds => {
            format!("{}: the rig's own presence input is open; hold that too", act(order))
        }
        (_, Some((order, Waits::TakeHold))) => {
            format!("{}: take hold of {hold} or the button; a warning sounds, then legs move", act(order))
        }
        (_, None) if run.is_latched() && run.refusal(Request::Acknowledge).is_some() => {
            "Mend the cause; then acknowledge it, which moves nothing".to_string()
        }
        (_, None) if run.is_latched() => "Acknowledge it, which moves nothing".to_string(),
        (_, None) if run.state() == State::NotConnected => "Wait for the far end".to_string(),
        (_, None) => "Choose what to do, then take hold: nothing moves before both".to_string(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::player::sample;
    use crate::safety::operation::{Brakes, Event, Permit, Seen, Timing, step};

    const HELD: Inputs = Inputs::CLOSED;
    const FREE: Inputs = Inputs { presence: Input::Open, ..Inputs::CLOSED };

    fn seen(inputs: Inputs) -> Seen {
        Seen { link: true, inputs, brakes: Brakes::Set, homed: true, at_park: true, ..Seen::default() }
    }

    fn parked(permit: Permit) -> Operation {
        let events = [Event::Permit(permit), Event::Cycle(seen(FREE)), Event::Ask(Request::Connect)];
        events.into_iter().fold(Operation::new(Timing::of(2000)), |run, event| step(run, event).0)
    }

    fn shown(run: &Operation, wanted: Option<Order>, holds: bool) -> Shown {
        let progress = Progress { wanted, ..sample::progress(*run) };
        Shown::of(run, &progress, &[], holds, "F2").unwrap()
    }

    const ALL: Permit = Permit { commissioned: true, audition: true, vacant: true };

    #[test]
    fn an_act_is_offered_before_presence_is_held_and_the_next_step_stands_beside_it() {
        let run = parked(ALL);
        let before = shown(&run, None, false);
        assert_eq!((before.state.as_str(), before.moving), ("parked: brakes on", false));
        let refused = |shown: &Shown, words: &str| {
            shown.offers.iter().find(|offer| offer.words == words).unwrap().refused
        };
        assert_eq!(refused(&before, "Play the scene"), None);
        assert_eq!(refused(&before, "Park"), Some("it is there"));
        assert_eq!((before.no_jog, before.no_jog_of_one, before.no_start), (None, None, None));
        assert!(before.now.starts_with("Choose what to do"), "{}", before.now);
        let wanted = shown(&run, Some(Order::Start), false);
        assert!(wanted.now.starts_with("Play the scene: take hold of F2"), "{}", wanted.now);
        assert!(
            shown(&run, Some(Order::Jog { leg: None, part: 1.0, longest_s: f64::INFINITY }), true)
                .now
                .contains("rig's own presence input")
        );
        let held = step(run, Event::Cycle(seen(HELD))).0;
        assert!(shown(&held, Some(Order::Start), true).now.contains("let go first"));
        let begun = step(held, Event::Ask(Request::Start)).0;
        let warned = shown(&begun, None, true);
        assert!(warned.moving && warned.now.contains("letting go stops"), "{warned:?}");
    }

    #[test]
    fn with_somebody_in_the_seat_legs_are_offered_together_only() {
        let run = parked(Permit { vacant: false, ..ALL });
        let occupied = shown(&run, None, false);
        assert_eq!(occupied.no_jog, None);
        let why = occupied.no_jog_of_one.unwrap();
        assert!(why.contains("legs go together") && why.contains("`all legs`"), "{why}");
        let jog = |leg| shown(&run, Some(Order::Jog { leg, part: 1.0, longest_s: 1.0 }), false).now;
        assert!(jog(Some(0)).starts_with("Jog: cannot begin: one leg alone"), "{}", jog(Some(0)));
        assert!(jog(None).starts_with("Jog: take hold"), "{}", jog(None));
    }

    #[test]
    fn what_keeps_the_scene_back_is_said_and_a_stop_device_must_be_acknowledged() {
        let run = parked(Permit { audition: false, ..ALL });
        let why = "the audition ladder does not let this level be played";
        assert_eq!(shown(&run, None, false).no_start, Some(why));
        let pressed = step(run, Event::Cycle(seen(Inputs { stop: Input::Open, ..FREE }))).0;
        let shown_pressed = shown(&pressed, None, false);
        assert!(
            shown_pressed.latched && shown_pressed.now.starts_with("Mend the cause"),
            "{shown_pressed:?}"
        );
        assert_eq!(shown_pressed.cause, "a stop device is actuated or not known to be free");
        let what = crate::record::What::NotNow { request: Request::Park, why: Refusal::There };
        let refused = crate::player::Refused { number: 1, what: Some(what) };
        let progress = Progress { refused, ..sample::progress(pressed) };
        let words = Shown::of(&pressed, &progress, &[], false, "F2").unwrap().refused;
        assert_eq!(words.as_deref(), Some("refused: park: it is there"));
        let released = step(pressed, Event::Cycle(seen(FREE))).0;
        assert_eq!(shown(&released, None, false).now, "Acknowledge it, which moves nothing");
    }
}
