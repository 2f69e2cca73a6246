//! What an operator says to a run: words on standard input, and Ctrl-C. Neither moves anything without the presence input held
//! after it; and neither waits for the terminal.

use super::spoken::order;
use super::telling::Teller;
use crate::cli::typed::{LONGEST, Typed, next};
use crate::drives::AT_ONCE;
use crate::link::{SimAct, SimHand};
use crate::player::{Order, stopwatch};
use crate::rig::Rig;
use std::sync::mpsc::Sender;
use std::time::Duration;

/// Ctrl-C sooner than this after another is the same one: a key that stays down (own choice, more than a keyboard waits
/// before it repeats).
const SAME: Duration = Duration::from_secs(1);

/// What a program says that was ended by Ctrl-C (common practice: 128 and the signal's number).
const INTERRUPTED: i32 = 130;

/// Words on standard input become orders, and so does Ctrl-C. To simulated drives more can be done by words.
pub(super) fn listen(orders: &Sender<Order>, rig: &Rig, mut hand: Option<SimHand>, teller: &Teller) {
    let (sender, words) = (orders.clone(), teller.clone());
    let mut interrupts = Interrupts { orders: sender, teller: words, last: None };
    let watch = stopwatch();
    #[allow(clippy::exit, reason = "nothing else ends a run that cannot come to rest")]
    let handled = ctrlc::set_handler(move || {
        if interrupts.ends_at_once(watch()) {
            std::process::exit(INTERRUPTED);
        }
    });
    if let Err(error) = handled {
        teller.tell(format!(
            "Ctrl-C will end this program at once, and the far end will stop by itself: {error}"
        ));
    }
    teller.tell(
        "words: start, pause, resume, park, home, jog all|LEG +|- SECONDS, stop, emergency, acknowledge, gain X, end",
    );
    if hand.is_some() {
        teller.tell(format!("what can be done to the simulated drives: {}", SimAct::WORDS));
    }
    let (orders, legs) = (orders.clone(), rig.actuators.iter().map(|a| a.name.clone()).collect::<Vec<_>>());
    let (words, listener) = (teller.clone(), std::thread::Builder::new().name("words".to_string()));
    let spawned = listener.spawn(move || {
        let mut from = std::io::stdin().lock();
        loop {
            let line = match next(&mut from) {
                Typed::Line(line) => line,
                Typed::TooLong => {
                    words.tell(format!("a line of more than {LONGEST} bytes is no word that is known here"));
                    continue;
                }
                Typed::Ended => {
                    words.tell("standard input has ended, and with it the words: the run ends on its path");
                    break;
                }
                Typed::Failed(error) => {
                    words.tell(format!(
                        "standard input cannot be read any more ({error}), and so no words: the run ends on its path"
                    ));
                    break;
                }
            };
            match order(&line, &legs) {
                Some(order) => _ = orders.send(order),
                None => words.tell(match (hand.as_mut(), SimAct::from_words(&line, &legs)) {
                    (Some(hand), Some(act)) => match hand.act(act) {
                        true => format!("done: {}", line.trim()),
                        false => format!("too late for `{}`: the run is over", line.trim()),
                    },
                    _ => format!("`{}` is not a word that is known here", line.trim()),
                }),
            }
        }
        // Nobody can speak any more: the run ends on its path.
        let _ = orders.send(Order::End);
    });
    if spawned.is_err() {
        teller.tell("words on standard input are not heard: only Ctrl-C and the inputs are");
    }
}

/// What Ctrl-C does: the first ends the run, one later on the program.
struct Interrupts {
    orders: Sender<Order>,
    teller: Teller,
    last: Option<Duration>,
}

impl Interrupts {
    /// One more at `now`. Whether the program is to end at once.
    fn ends_at_once(&mut self, now: Duration) -> bool {
        let before = self.last.replace(now);
        if let Some(before) = before {
            return now.saturating_sub(before) >= SAME;
        }
        let _ = self.orders.send(Order::End);
        self.teller.tell(format!(
            "\nslowing to a stop on the path, brakes on, then the end ...\nCtrl-C again, more than a second later, ends this \
             program at once: {AT_ONCE}"
        ));
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::{TryRecvError, channel};

    #[test]
    fn ctrl_c_orders_the_end_though_the_terminal_stands_still_and_a_later_one_ends_the_program() {
        let (orders, heard) = channel();
        let (stalled, never) = channel::<()>();
        let never = std::sync::Mutex::new(never);
        let teller = Teller::start(move |_| _ = never.lock().unwrap().recv()).unwrap();
        teller.tell("words that stay in the terminal");
        let mut interrupts = Interrupts { orders, teller, last: None };
        let mut at = |ms| interrupts.ends_at_once(Duration::from_millis(ms));
        assert!(!at(0));
        assert_eq!(heard.try_recv(), Ok(Order::End));
        // A key that stays down.
        assert!(![500, 540, 580, 1500, 2400].into_iter().any(&mut at));
        assert!(at(3400));
        assert_eq!(heard.try_recv(), Err(TryRecvError::Empty));
        drop(stalled);
    }
}
