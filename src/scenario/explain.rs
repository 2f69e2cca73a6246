//! The long texts of the resolver's rules.

use crate::diag::Rule;

/// Every rule that resolving a scene can break, by slug.
pub const RULES: &[Rule] = &[
    Rule {
        slug: "argument",
        text: "\
## What it checks
Every call has the arguments that its waveform, function or cue takes: those without a name first and in order, then
those with one; none missing, none twice, none too many; a text where a text is meant, a band where a band is.

## Why it matters
An argument in the wrong place is a motion of the wrong size.

## Example
    roll  noise(0.1 deg, 3 Hz)              # a noise needs a band
    pitch ring(0.2 deg, 7 Hz, dampng: 0.3)

## Write instead
    roll  noise(0.1 deg, 3 Hz..9 Hz)
    pitch ring(0.2 deg, 7 Hz, damping: 0.3)
",
    },
    Rule {
        slug: "cycle",
        text: "\
## What it checks
Nothing needs itself: no label whose time depends on that label, no `let` in terms of itself, no cue that plays
itself, no file that uses itself, over however many others.

## Why it matters
Such a thing has no value, and no amount of calculating gives it one.

## Example
    at b + 1 s  pitch ring(0.2 deg, 7 Hz)  as a
    at a + 1 s  pitch ring(0.2 deg, 7 Hz)  as b

## Write instead
    at 4 s      pitch ring(0.2 deg, 7 Hz)  as a
    at a + 1 s  pitch ring(0.2 deg, 7 Hz)  as b
",
    },
    Rule {
        slug: "dimension",
        text: "\
## What it checks
Values measure what their place asks for: angles on `pitch` and `roll`, times after `at` and `for`, the same on both
sides of `+`. Angle is a dimension of its own; Hz and rpm count turns; dB adds to dB only; degC takes no arithmetic.

## Why it matters
Degrees that pass for radians, or a rate that passes for an angle, move a platform fifty times too far.

## Example
    pitch hold(5 deg + 1 deg/s, ease: 2 s) for 8 s

## Write instead
    pitch hold(5 deg + 1 deg/s * 2 s, ease: 2 s) for 8 s
",
    },
    Rule {
        slug: "distance",
        text: "\
## What it checks
The speed of `every LENGTH at SPEED` is never negative, and is not zero all the time.

## Why it matters
The firing times solve the integral of the speed. Backwards, joints would be crossed twice; at rest, never.

## Example
    during 0 s .. 10 s every 5 m at 20 kt -> -5 kt  joint()

## Write instead
    during 0 s .. 8 s every 5 m at 20 kt -> 0 kt  joint()
",
    },
    Rule {
        slug: "duplicate",
        text: "\
## What it checks
A name is defined once in a body, and once at the top level of a profile and all files that it uses; a scene's title
stands once in a file; a suffix stands once on a statement. A parameter, `let` or label may have the name of
something outside its own body, and then means what stands nearer.

## Why it matters
With two of them a reader cannot tell which one plays.

## Example
    let depth = 0.1 deg
    let depth = 0.2 deg

## Write instead
    let depth = 0.1 deg
    let deep = 0.2 deg
",
    },
    Rule {
        slug: "expectation",
        text: "\
## What it checks
`expect` measures `peak` or `rms` of one channel, or `margin` of the whole rig.

## Why it matters
An expectation that measures nothing would always hold.

## Example
    expect max roll <= 10 deg

## Write instead
    expect peak roll <= 10 deg
",
    },
    Rule {
        slug: "file",
        text: "\
## What it checks
Files that are named by `use`, `trace`, `file` and `loop` are there and can be read.

## Why it matters
A scene without its recording is another scene.

## Example
    use \"libary/all.cues\"

## Write instead
    use \"library/all.cues\"
Names are paths from the file that they stand in.
",
    },
    Rule {
        slug: "label",
        text: "\
## What it checks
Labels are instants. `touch + 2 s` is an instant, `b - a` a length of time; `at` and `during` take both (a length
counts from the body's start), everything else takes lengths only. `.end` goes with labels, and so does a stretch
without `..`.

## Why it matters
An instant that passes for a length is right in a scene that starts at zero and wrong everywhere else.

## Example
    at 0 s  roll sine(1 deg, 0.5 Hz) for touch

## Write instead
    at 0 s  roll sine(1 deg, 0.5 Hz) for touch - run
",
    },
    Rule {
        slug: "length",
        text: "\
## What it checks
`for` stands on things that last as long as they are told: `sine`, `sweep`, `noise`, `hold`, `loop`, and cues and
blocks that hold one of them (or an `every` without `during`). It also cuts a `trace`.

## Why it matters
A `ring` or a `pulse` has its own length. A `for` on it would look as if it did something.

## Example
    at 3 s  pitch pulse(0.5 deg, 0.4 s) for 2 s

## Write instead
    at 3 s  pitch pulse(0.5 deg, 2 s)
",
    },
    Rule {
        slug: "limit",
        text: "\
## What it checks
A scene lasts 48 h at most, has 200,000 layers at most (20,000 of them noise), and values, labels and bodies do not
stand in one another beyond any need.

## Why it matters
A slip such as `every 1e-6 s` must end in a message, not in a full memory.

## Example
    during 0 s .. 60 s every 0.0001 s  { pitch ring(0.01 deg, 9 Hz) }

## Write instead
    during 0 s .. 60 s every 0.1 s  { pitch ring(0.01 deg, 9 Hz) }
",
    },
    Rule {
        slug: "never-plays",
        text: "\
## What it checks
Everything starts before what it stands in has ended.

## Why it matters
What starts later never plays; a body that was made shorter may have lost its last part.

## Example
    { roll noise(0.1 deg, 3 Hz..9 Hz)
      at 12 s  pitch ring(0.2 deg, 7 Hz) }  for 10 s

## Write instead
    { roll noise(0.1 deg, 3 Hz..9 Hz)
      at 8 s  pitch ring(0.2 deg, 7 Hz) }  for 10 s
",
    },
    Rule {
        slug: "not-yet",
        text: "\
## What it checks
The scene keeps to what this version understands: bare axes, `sound` and `shaker`, dated by `at`, `during` and
`every`. `seat.*`, `vehicle.*`, and `input` with `on`, are read but not understood yet.

## Why it matters
A layer that is left out in silence would be a check of another scene.

## Example
    at 1 s  seat.heave pulse(0.08 g, 0.16 s)

## Write instead
    at 1 s  pitch pulse(0.3 deg, 0.4 s)
",
    },
    Rule {
        slug: "open-length",
        text: "\
## What it checks
`sine`, `sweep`, `noise`, `hold` and `loop`, a cue or block that holds one of them, and `every` without `during`
last as long as what they stand in. A scene has no end, so there they need `for`; what is repeated needs it too.

## Why it matters
Nothing is made up: a noise without a length could be a second or an hour.

## Example
    at 2 s  roll noise(0.1 deg, 3 Hz..9 Hz)

## Write instead
    at 2 s  roll noise(0.1 deg, 3 Hz..9 Hz) for 10 s
",
    },
    Rule {
        slug: "overlap",
        text: "\
## What it checks
No noise plays twice at once with one seed. Seeds come from labels (or cue names) from the scene down to the layer,
the number of the repetition, the channel, and the place on that channel.

## Why it matters
Two noises with one seed are one noise, twice as strong, where two independent ones were meant.

## Example
    at 0 s   gusts() for 60 s
    at 50 s  gusts() for 60 s

## Write instead
    at 0 s   gusts() for 60 s
    at 50 s  gusts() for 60 s  as second
",
    },
    Rule {
        slug: "range",
        text: "\
## What it checks
Lengths, widths and frequencies are above zero, a stretch ends after it starts, nothing starts before what it stands
in, edges fit into what they stand on, divisors stay away from zero, and no value grows beyond all bounds.

## Why it matters
Beyond these, a waveform has no meaning or no bound, and cannot be checked.

## Example
    at 2 s  roll sine(0.5 deg, 0.4 Hz) for 3 s  rise 5 s

## Write instead
    at 2 s  roll sine(0.5 deg, 0.4 Hz) for 8 s  rise 5 s
",
    },
    Rule {
        slug: "scene",
        text: "\
## What it checks
A run plays one scene of a file: the only one, or the one that is named.

## Why it matters
Which of several was meant is not for a program to guess.

## Example
A file with the scenes \"calm\" and \"gusty\", run without naming one.

## Write instead
Name the scene in the command.
",
    },
    Rule {
        slug: "trace",
        text: "\
## What it checks
A recording has a time column that rises, and numbers in the column that is played; it lasts as long as it is asked
for. Rows count from 1, the header being row 1.

## Why it matters
A gap or a repeated time in a recording is a kick in the platform.

## Example
    at 0 s  pitch trace(0.5 deg, \"flight.csv\", \"pitch\", from: 120 s) for 10 min      # of a recording of 8 minutes

## Write instead
    at 0 s  pitch trace(0.5 deg, \"flight.csv\", \"pitch\", from: 120 s) for 5 min
",
    },
    Rule {
        slug: "unknown-cue",
        text: "\
## What it checks
A call that stands alone in a statement is a cue, defined in this file or in one named by `use`.

## Why it matters
Waveforms need a channel; only cues bring their own.

## Example
    at 2 s  ring(0.2 deg, 7 Hz)

## Write instead
    at 2 s  pitch ring(0.2 deg, 7 Hz)
",
    },
    Rule {
        slug: "unknown-name",
        text: "\
## What it checks
A name in a value is a parameter of the cue, a `let`, or a label of this body or one around it. A cue does not see
the labels of where it is played: hand them over as arguments.

## Why it matters
A name that means nothing here may mean something elsewhere.

## Example
    cue thump(size: deg) { pitch ring(siez, 7 Hz) }

## Write instead
    cue thump(size: deg) { pitch ring(size, 7 Hz) }
",
    },
    Rule {
        slug: "unknown-unit",
        text: "\
## What it checks
A word after a number is a unit: s ms min h, m mm cm km ft in nmi, deg rad, Hz rpm, kt, g, kg lb, N kN lbf, J W kW,
V A, Pa, degC, dB, %; joined as `m/s^2`.

## Why it matters
A number without its unit can mean anything.

## Example
    at 2 sec  pitch ring(0.2 degrees, 7 Hz)

## Write instead
    at 2 s  pitch ring(0.2 deg, 7 Hz)
",
    },
    Rule {
        slug: "unknown-waveform",
        text: "\
## What it checks
After a channel stands one of the waveforms: sine, sweep, noise, ring, pulse, hold, trace, file, loop.

## Why it matters
A cue brings its own channels and stands without one.

## Example
    at 2 s  pitch rnig(0.2 deg, 7 Hz)

## Write instead
    at 2 s  pitch ring(0.2 deg, 7 Hz)
",
    },
    Rule {
        slug: "varying",
        text: "\
## What it checks
Amplitudes, gains and levels may vary in any way; speeds and frequencies as sums and products of straight ramps;
nothing else may vary. The ends of a ramp are constants.

## Why it matters
Lengths that varied would make every ramp depend on itself. A frequency or a speed that is a polynomial in time has
an exact phase and distance.

## Example
    at 2 s  roll hold(2 deg, ease: 1 s -> 3 s) for 8 s

## Write instead
    at 2 s  roll hold(2 deg, ease: 1 s, back: 3 s) for 8 s
",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_has_its_four_headings_and_the_slugs_are_sorted() {
        for rule in RULES {
            for heading in
                ["## What it checks\n", "## Why it matters\n", "## Example\n", "## Write instead\n"]
            {
                assert_eq!(rule.text.matches(heading).count(), 1, "{} {heading}", rule.slug);
            }
        }
        assert!(RULES.windows(2).all(|pair| pair[0].slug < pair[1].slug));
    }
}
