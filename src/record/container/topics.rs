//! The channels of a record: what each message holds, in which unit, and the same as JSON Schema (draft 2020-12).

use serde_json::{Value, json};

/// A channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::record) enum Topic {
    Commanded,
    Sent,
    Measured,
    Force,
    Timing,
    State,
    Operator,
    Audio,
    FarEnd,
    Finding,
    Margin,
    Events,
}

/// What a field holds.
#[derive(Debug, Clone, Copy)]
enum Kind {
    Number,
    /// Null where there is no number.
    NumberOrNull,
    /// One a leg or an axis; null where there is no number.
    Numbers,
    /// 0 or more.
    Whole,
    WholeOrNull,
    Word,
    WordOrNull,
    /// One of these.
    OneOf(&'static [&'static str]),
    Flag,
}

/// A field: its name, what it holds, what it means, and whether every message has it.
struct Field(&'static str, Kind, &'static str, bool);

use Kind::{Flag, Number, NumberOrNull, Numbers, OneOf, Whole, WholeOrNull, Word, WordOrNull};

const INPUT: Kind = OneOf(&["unknown", "open", "closed"]);

impl Topic {
    /// Every channel, in the order in which a container is told of them.
    pub(super) const ALL: [Topic; 12] = [
        Topic::Commanded,
        Topic::Sent,
        Topic::Measured,
        Topic::Force,
        Topic::Timing,
        Topic::State,
        Topic::Operator,
        Topic::Audio,
        Topic::FarEnd,
        Topic::Finding,
        Topic::Margin,
        Topic::Events,
    ];

    /// What the channel is called.
    pub(in crate::record) fn name(self) -> &'static str {
        match self {
            Topic::Commanded => "commanded",
            Topic::Sent => "sent",
            Topic::Measured => "measured",
            Topic::Force => "force",
            Topic::Timing => "timing",
            Topic::State => "state",
            Topic::Operator => "operator",
            Topic::Audio => "audio",
            Topic::FarEnd => "far_end",
            Topic::Finding => "findings",
            Topic::Margin => "margins",
            Topic::Events => "events",
        }
    }

    /// When a message comes, and of what.
    fn meaning(self) -> &'static str {
        match self {
            Topic::Commanded => "every cycle: what the path asks for",
            Topic::Sent => "every cycle: what went out",
            Topic::Measured => "every cycle: what came back, one number a leg",
            Topic::Force => "every cycle on drives: forces at the nuts, positive pushes the leg longer",
            Topic::Timing => "every cycle, the last of its messages",
            Topic::State => "on change: where the run is",
            Topic::Operator => "on change: the controller's inputs; presence also as held at this computer",
            Topic::Audio => "every cycle in which something is heard at this computer",
            Topic::FarEnd => {
                "on change, on drives: what the far end says of itself, and what was dropped on the way"
            }
            Topic::Finding => "at the begin: what the check of the scene found, and what it did not look at",
            Topic::Margin => "at the begin: how near the whole scene comes to each limit, by the check",
            Topic::Events => "as they come: what happened",
        }
    }

    fn fields(self) -> &'static [Field] {
        match self {
            Topic::Commanded => &[
                Field("path_s", Number, "how far the path is played, s", true),
                Field("gain", Number, "factor on the checked gain", true),
                Field("clock_rate", Number, "rate of the path's clock, 0..1", true),
                Field("platform", Numbers, "rad or m, in the order of the metadata's `axes`", true),
                Field("lengths_m", Numbers, "m, one a leg", true),
                Field("governor", Word, "`follows`, `tripped`, or what holds back", true),
            ],
            Topic::Sent => &[
                Field("lengths_m", Numbers, "m, one a leg", true),
                Field("force_limits_n", Numbers, "largest force allowed, N, one a leg", true),
            ],
            Topic::Measured => &[
                Field("lengths_m", Numbers, "m, one a leg", true),
                Field("report_age", Whole, "cycles since the report came", true),
                Field("speeds_m_s", Numbers, "m/s, one a leg", false),
            ],
            Topic::Force => &[
                Field("predicted_n", Numbers, "by the plan, N, one a leg", true),
                Field("reported_n", Numbers, "by the drives, N, one a leg", true),
                Field("temperatures_c", Numbers, "of motor or drive, degrees Celsius, one a leg", true),
            ],
            Topic::Timing => &[
                Field("tick", Whole, "cycle, from 0; one that is missing was lost", true),
                Field("late_us", Whole, "how late the cycle was served, microseconds", true),
                Field("round_trip_us", WholeOrNull, "from an order to its answer, microseconds", true),
            ],
            Topic::State => &[
                Field("path", Word, "state of the path", true),
                Field("run", Word, "on drives: state of the run", false),
                Field("cause", Word, "on drives: why", false),
                Field(
                    "category",
                    WholeOrNull,
                    "on drives: of the last stop, by IEC 60204-1: 0, 1 or 2",
                    false,
                ),
                Field("power", Flag, "on drives: torque is demanded", false),
                Field("brakes_released", Flag, "on drives: brakes are to be off", false),
                Field("warning", Flag, "on drives: the warning is to sound", false),
                Field("motion", Word, "on drives: what motion is demanded", false),
                Field("link", Flag, "on drives: the link is alive", false),
                Field("homed", Flag, "on drives: the far end knows where its legs are", false),
                Field("drives_on", Flag, "on drives: torque is reported on all legs", false),
                Field(
                    "brakes",
                    OneOf(&["unknown", "set", "released"]),
                    "on drives: as the controller reports",
                    false,
                ),
            ],
            Topic::Operator => &[
                Field("presence", INPUT, "closed while held", true),
                Field("gate", INPUT, "closed while every gate is", true),
                Field("mat", INPUT, "closed while nobody stands on a mat", true),
                Field("belt", INPUT, "closed while the belt is", true),
                Field("stop", INPUT, "closed while no stop device is actuated", true),
            ],
            Topic::Audio => &[Field("heard_s", Number, "what is heard, s of the scene", true)],
            Topic::FarEnd => &[
                Field(
                    "state",
                    OneOf(&["off", "hold", "follow", "home", "jog", "stop", "fault"]),
                    "the far end's own",
                    true,
                ),
                Field("moving", Flag, "it moves legs by itself", true),
                Field("fault", WordOrNull, "what it says is wrong", true),
                Field("leg", WordOrNull, "on which leg; null where it is no one leg's", true),
                Field("cause", WordOrNull, "the same more exactly, where the link knows", true),
                Field(
                    "rejected",
                    Whole,
                    "orders that the far end dropped since it began: damaged, stale, doubled, a stranger's",
                    true,
                ),
                Field("dropped", Whole, "reports that were dropped here: damaged, stale, a stranger's", true),
            ],
            Topic::Finding => &[
                Field(
                    "severity",
                    OneOf(&["error", "warning", "note", "not checked"]),
                    "how grave, or that the rig file lacks what the rule needs",
                    true,
                ),
                Field("rule", Word, "see `cueloom explain`", true),
                Field("words", Word, "what was found, or what is missing", true),
                Field("file", WordOrNull, "where", true),
                Field("line", WholeOrNull, "from 1", true),
                Field("part", WordOrNull, "leg or axis", true),
                Field("at_s", NumberOrNull, "when, s of the scene", true),
                Field("value", NumberOrNull, "found, in `unit`", true),
                Field("limit", NumberOrNull, "allowed, in `unit`", true),
                Field("unit", WordOrNull, "SI", true),
            ],
            Topic::Margin => &[
                Field("part", Word, "leg or axis", true),
                Field("quantity", Word, "what is measured; `*` where it is a model's", true),
                Field("peak", NumberOrNull, "largest value found, in `unit`", true),
                Field("bound", NumberOrNull, "what it cannot exceed between samples, in `unit`", true),
                Field("limit", NumberOrNull, "in `unit`", true),
                Field("used", NumberOrNull, "part of the way to the limit, 1 is at it", true),
                Field("unit", Word, "SI", true),
                Field("at_s", NumberOrNull, "when, s of the scene", true),
            ],
            Topic::Events => &[
                Field("words", Word, "what happened, as in the text log", true),
                Field("kind", Word, "of what kind", false),
                Field("rows_lost", Whole, "cycles that found no room on their way to the record", false),
            ],
        }
    }

    /// The JSON Schema of its messages.
    pub(super) fn schema(self) -> String {
        let properties: serde_json::Map<String, Value> = self
            .fields()
            .iter()
            .map(|Field(name, kind, meaning, _)| ((*name).to_string(), kind.schema(meaning)))
            .collect();
        let required: Vec<&str> =
            self.fields().iter().filter(|field| field.3).map(|Field(name, ..)| *name).collect();
        json!({
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": self.name(),
            "description": self.meaning(),
            "type": "object",
            "properties": properties,
            "required": required,
            // Of this record: another version of the program may know more.
            "additionalProperties": false,
        })
        .to_string()
    }
}

impl Kind {
    fn schema(self, meaning: &str) -> Value {
        let mut schema = match self {
            Number => json!({ "type": "number" }),
            NumberOrNull => json!({ "type": ["number", "null"] }),
            Numbers => json!({ "type": "array", "items": { "type": ["number", "null"] } }),
            Whole => json!({ "type": "integer", "minimum": 0 }),
            WholeOrNull => json!({ "type": ["integer", "null"], "minimum": 0 }),
            Word => json!({ "type": "string" }),
            WordOrNull => json!({ "type": ["string", "null"] }),
            OneOf(words) => json!({ "type": "string", "enum": words }),
            Flag => json!({ "type": "boolean" }),
        };
        if let Some(schema) = schema.as_object_mut() {
            schema.insert("description".to_string(), meaning.into());
        }
        schema
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_all_different_and_every_number_says_its_unit() {
        let mut names = Topic::ALL.map(Topic::name).to_vec();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), 12);
        let schema: Value = serde_json::from_str(&Topic::Measured.schema()).unwrap();
        let speeds = &schema["properties"]["speeds_m_s"];
        assert_eq!((&speeds["type"], &speeds["description"]), (&"array".into(), &"m/s, one a leg".into()));
        assert_eq!(schema["required"], json!(["lengths_m", "report_age"]));
        assert_eq!(Topic::ALL.map(|topic| topic as usize), std::array::from_fn(|at| at));
    }
}
