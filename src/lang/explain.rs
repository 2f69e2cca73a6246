//! The long texts of this phase's rules.

use crate::diag::Rule;

/// Every rule that reading a profile can break, by slug.
pub const RULES: &[Rule] = &[
    Rule {
        slug: "nesting",
        text: "\
## What it checks
Brackets and blocks nest at most 64 deep, and one expression has at most 100 operators or brackets in a row.

## Why it matters
Nobody can read such a line, and a program that reads it must keep every level in memory.

## Example
    pitch ring(((((((((((((0.2 deg)))))))))))), 7 Hz)      # and fifty more

## Write instead
    let size = 0.2 deg
    pitch ring(size, 7 Hz)
",
    },
    Rule {
        slug: "number",
        text: "\
## What it checks
A number has digits on both sides of its one point, an exponent is written with a small `e`, and its value is one
that the machine can hold. A time on the clock is minutes and two digits of seconds, with hours before them if need
be: `1:24.5`, `1:02:03`. An exponent after `^` is a whole number below 100.

## Why it matters
`1.` may be half of `1.5`, and `1:5` may mean 1:05 or 1:50. A guess here would be motion at the wrong time.

## Example
    at 1:5  pitch ring(.2 deg, 7. Hz)

## Write instead
    at 1:05  pitch ring(0.2 deg, 7 Hz)
",
    },
    Rule {
        slug: "operator-space",
        text: "\
## What it checks
`+ - * / ->` between two values have a space on both sides. A minus sign, `^`, units, channels, `x.end` and the
bracket of a call have none inside.

## Why it matters
Spaces tell a unit from a division and a sign from a difference: `9000 N*m/rad` is one value, `speed / 60 kt`
divides by 60 kt, and `touch -3 s` would be two values side by side.

## Example
    at touch -3 s  roll_out(speed/2)

## Write instead
    at touch - 3 s  roll_out(speed / 2)
",
    },
    Rule {
        slug: "repeated-suffix",
        text: "\
## What it checks
`for`, `rise`, `fall`, `gain` and `as` each stand at most once behind a statement.

## Why it matters
Two lengths cannot both hold, and taking one of them would be a guess.

## Example
    at 2 s  rumble(20 kt)  for 8 s  rise 1 s  for 12 s

## Write instead
    at 2 s  rumble(20 kt)  for 12 s  rise 1 s
",
    },
    Rule {
        slug: "reserved-word",
        text: "\
## What it checks
A name that you choose (of a value, cue, parameter, input or label) is not one of the language's own words, such as
`at`, `rise`, `end` or `pitch`.

## Why it matters
`at end` or `for rise` would read two ways. Units are not reserved: a value may be called `m` or `g`. The name of an
argument in a call may be reserved, because its colon tells: `trace(…, below: 4 Hz)`.

## Example
    at 3 s  touchdown(sink: 1.4 m/s)  as end

## Write instead
    at 3 s  touchdown(sink: 1.4 m/s)  as touch
",
    },
    Rule {
        slug: "scene-only",
        text: "\
## What it checks
`on` and `expect` stand right in a scene, not in a cue and not in a block inside the scene.

## Why it matters
They are about the scene as a whole: it has one set of inputs and one motion to judge. A cue may be placed many
times, and a block repeated.

## Example
    cue joint(size = 0.2 deg) {
        pitch ring(size, 7 Hz)
        expect peak pitch <= 1 deg
    }

## Write instead
    scene \"joints\" {
        at 1 s  joint()
        expect peak pitch <= 1 deg
    }
",
    },
    Rule {
        slug: "syntax",
        text: "\
## What it checks
Every statement has the form that the grammar gives it. The message says what was found and what would have gone on.
A broken statement is one error; the rest of the file is read.

## Why it matters
Nothing is played that was not understood.

## Example
    scene \"evening\" {
        at 3 s  picth ring(0.2 deg 7 Hz)
    }

## Write instead
    scene \"evening\" {
        at 3 s  pitch ring(0.2 deg, 7 Hz)
    }
",
    },
    Rule {
        slug: "unclosed-block",
        text: "\
## What it checks
Every `{` has its `}` before the next `cue`, `scene`, `use` or `input` at the left edge, and before the file ends.

## Why it matters
Without it nobody can tell what belongs to the cue or scene and what follows it. Where the braces of a block do not
stand under each other, the message points at that block, because the missing brace is usually there.

## Example
    scene \"a\" {
        at 1 s  {
            pitch ring(0.2 deg, 7 Hz)
    }

## Write instead
    scene \"a\" {
        at 1 s  {
            pitch ring(0.2 deg, 7 Hz)
        }
    }
",
    },
];
