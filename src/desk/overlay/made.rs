//! Whether a record was made of what is open: of this motion, on this rig, from these texts. What differs is said; legs
//! that are not as many cannot be laid over one another.

use super::Laid;

/// What is open, as far as a record can be held against it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Open {
    /// Hashes of the profile, its libraries, settings and rig.
    pub texts: Vec<String>,
    /// Hash of the rig file.
    pub rig: String,
    /// The scene's title.
    pub scene: String,
    /// Names of the legs.
    pub legs: Vec<String>,
    /// Hash of the motion at full gain; `None` until it is worked out.
    pub motion: Option<String>,
}

/// How a record stands to what is open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Made {
    /// It was made of it; what changed since without changing the motion, in words, or empty.
    OfThis(&'static str),
    /// That is being worked out.
    Working,
    /// It was made of something else: what, a sentence each.
    OfAnother(Vec<String>),
    /// It cannot be shown: why, and what to do.
    NotShown(String),
}

impl Made {
    /// One line for people; empty when there is nothing to say.
    pub fn words(&self) -> String {
        match self {
            Made::OfThis(changed) => (*changed).to_string(),
            Made::Working => "working out whether it was made of this motion".to_string(),
            Made::OfAnother(what) => format!("NOT of what is open: {}", what.join("; ")),
            Made::NotShown(why) => why.clone(),
        }
    }

    /// Whether the record may be drawn.
    pub fn is_shown(&self) -> bool {
        !matches!(self, Made::NotShown(_))
    }
}

/// Whether the texts alone say that the motion is the same; if not, it has to be worked out.
pub fn is_of_these_texts(laid: &Laid, open: &Open) -> bool {
    let same = |ours: &[String], theirs: &[String]| ours.iter().all(|hash| theirs.contains(hash));
    laid.head.scene == open.scene
        && !open.texts.is_empty()
        && same(&open.texts, &laid.head.texts)
        && same(&laid.head.texts, &open.texts)
}

/// Holds a record against what is open.
pub fn made(laid: &Laid, open: &Open) -> Made {
    let count = |legs: &[String]| format!("{} leg{}", legs.len(), if legs.len() == 1 { "" } else { "s" });
    if laid.legs.len() != open.legs.len() {
        return Made::NotShown(format!(
            "not shown: it has {} ({}), the open rig has {}; open the profile that it was made of, `{}`",
            count(&laid.legs),
            laid.legs.join(", "),
            count(&open.legs),
            laid.head.profile
        ));
    }
    if is_of_these_texts(laid, open) && laid.legs == open.legs {
        return Made::OfThis("");
    }
    let mut other = Vec::new();
    if laid.legs != open.legs {
        other.push(format!(
            "its legs {} lie over {}, in this order",
            laid.legs.join(", "),
            open.legs.join(", ")
        ));
    }
    if !laid.head.texts.contains(&open.rig) {
        other.push("the rig file is another".to_string());
    }
    match (&laid.head.motion, &open.motion) {
        (None, _) => other.push("it does not say which motion it was made of".to_string()),
        (Some(_), None) => return Made::Working,
        (Some(theirs), Some(ours)) if theirs != ours && laid.head.scene != open.scene => {
            other.push(format!("it was made of the scene `{}`", laid.head.scene));
        }
        (Some(theirs), Some(ours)) if theirs != ours => other.push("the motion is another".to_string()),
        _ => {}
    }
    if other.is_empty() {
        Made::OfThis("the text changed since, the motion did not")
    } else {
        Made::OfAnother(other)
    }
}

#[cfg(test)]
mod tests {
    use super::super::head::Head;
    use super::super::laying::Laying;
    use super::*;
    use crate::record::LoggedCycle;

    fn names(legs: &[&str]) -> Vec<String> {
        legs.iter().map(|leg| (*leg).to_string()).collect()
    }

    /// Made of the text `t` on the rig `r`, of the motion `m`.
    fn laid(legs: &[&str]) -> Laid {
        let head = Head {
            profile: "a/small.cues".to_string(),
            scene: "small".to_string(),
            motion: Some("m".to_string()),
            texts: names(&["t", "r"]),
            ..Head::default()
        };
        let mut laying = Laying::new(head, names(legs));
        laying.cycle(&LoggedCycle {
            path: "following".into(),
            platform: vec![0.0],
            ..LoggedCycle::default()
        });
        laying.end(false).unwrap()
    }

    fn open(text: &str, rig: &str, motion: Option<&str>) -> Open {
        Open {
            texts: names(&[text, rig]),
            rig: rig.to_string(),
            scene: "small".to_string(),
            legs: names(&["left", "right"]),
            motion: motion.map(String::from),
        }
    }

    #[test]
    fn the_same_texts_are_the_same_motion_and_others_may_be() {
        let laid = laid(&["left", "right"]);
        assert_eq!(made(&laid, &open("t", "r", None)), Made::OfThis(""));
        assert_eq!(made(&laid, &open("u", "r", None)), Made::Working, "only a hash of the motion tells");
        let changed = made(&laid, &open("u", "r", Some("m")));
        assert_eq!(changed.words(), "the text changed since, the motion did not");
        // The same texts and one more: a library, which may have changed everything.
        let mut more = open("t", "r", Some("m"));
        more.texts.push("library".to_string());
        assert_eq!(made(&laid, &more), changed);
    }

    #[test]
    fn what_is_another_is_named_and_shown_all_the_same() {
        let laid = laid(&["left", "right"]);
        let words = |open: &Open| {
            let made = made(&laid, open);
            assert!(made.is_shown());
            made.words()
        };
        assert_eq!(words(&open("u", "r", Some("n"))), "NOT of what is open: the motion is another");
        assert_eq!(words(&open("u", "s", Some("m"))), "NOT of what is open: the rig file is another");
        let both = words(&open("u", "s", Some("n")));
        assert_eq!(both, "NOT of what is open: the rig file is another; the motion is another");
        let scene = Open { scene: "big".to_string(), ..open("t", "r", Some("n")) };
        assert_eq!(words(&scene), "NOT of what is open: it was made of the scene `small`");
        let turned = Open { legs: names(&["right", "left"]), ..open("t", "r", Some("m")) };
        assert!(words(&turned).contains("its legs left, right lie over right, left, in this order"));
    }

    #[test]
    fn another_number_of_legs_is_not_shown_and_says_what_to_open() {
        let made = made(&laid(&["a"]), &open("t", "r", Some("m")));
        assert!(!made.is_shown());
        assert_eq!(
            made.words(),
            "not shown: it has 1 leg (a), the open rig has 2 legs; open the profile that it was made of, `a/small.cues`"
        );
    }

    #[test]
    fn a_record_that_does_not_say_its_motion_says_so() {
        let mut laid = laid(&["left", "right"]);
        laid.head.motion = None;
        assert!(made(&laid, &open("u", "r", None)).words().contains("does not say which motion"));
    }
}
