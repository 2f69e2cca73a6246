//! The desk: what the desktop program knows and decides, without a window. Panels and tests look at it alike.
//!
//! Cannot: name a window library; draw; decide anything about motion.

pub mod axis;
pub mod change;
pub mod close_up;
pub mod compare;
pub mod compiler;
pub mod demo;
pub mod document;
pub mod drives;
pub mod findings;
pub mod kept;
pub mod keys;
pub mod lanes;
pub mod margins;
pub mod overlay;
pub mod recovery;
pub mod rehearsal;
pub mod rig_view;
#[cfg(test)]
mod sample;
pub mod studio;
pub mod traces;
pub mod transport;
pub mod understand;
pub mod variant;
pub mod workers;
pub mod world;
pub mod writing;

/// A time of the scene as people read it: `4:50.837`, trailing zeros left out.
pub fn clock(time_s: f64) -> String {
    let ms = (time_s.max(0.0) * 1000.0).round() as u64;
    let (minutes, seconds, rest) = (ms / 60_000, ms / 1000 % 60, ms % 1000);
    let text = format!("{minutes}:{seconds:02}.{rest:03}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

#[cfg(test)]
mod tests {
    use super::clock;

    #[test]
    fn times_read_like_those_of_the_report() {
        let said: Vec<String> = [0.0, 2.5, 61.0, 290.837, 3600.0].map(clock).to_vec();
        assert_eq!(said, ["0:00", "0:02.5", "1:01", "4:50.837", "60:00"]);
    }
}
