//! What can be typed: commands, options and their help.

use super::gain::Gain;
use crate::files::{SETTINGS_NAME, records_folder};
use crate::time::SampleRate;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::{Path, PathBuf};

/// Write motion cues down, check them against the rig, play them the same way twice.
#[derive(Debug, Parser)]
#[command(name = "cueloom", version, propagate_version = true, max_term_width = 100)]
#[command(after_help = "\
A profile (`*.cues`) says what a motion platform does and when; a rig file (`*.toml`) says what the platform can.

  cueloom check profiles/evening-circuit.cues      does it fit the rig file?
  cueloom render profiles/evening-circuit.cues -o out/evening.csv
  cueloom play profiles/evening-circuit.cues       check it, then play it on the simulated rig

Exit codes: 0 clean, 1 findings, 2 could not run.
A profile that fits the rig file is not thereby harmless: stops, drive limits and watchdogs must hold without this program.")]
pub(super) struct Cli {
    #[command(subcommand)]
    pub(super) command: Command,
    /// How results are written
    #[arg(long, global = true, value_enum, default_value_t = Format::Human, value_name = "FORM")]
    pub(super) format: Format,
}

/// The forms that results can take.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For people, with the source lines
    Human,
    /// One JSON object, its shape documented in docs/report-json.md
    Json,
    /// One line a finding: `file:line:column: error[rule]: words`
    Short,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Check profiles against the rig file: limits, margins, and who is to blame
    #[command(after_help = "\
  cueloom check evening.cues --rig rigs/club-two-axis.toml
  cueloom check evening.cues --gain -6dB           would it fit at half strength?
  cueloom check *.cues --format short              one line a finding, for editors and scripts

Without --rig, the nearest cueloom.toml in or above the profile's folder names the rig file:
  rig = \"rigs/club-two-axis.toml\"")]
    Check {
        /// Profiles to check
        #[arg(required = true, value_name = "PROFILE")]
        profiles: Vec<PathBuf>,
        #[command(flatten)]
        checked: CheckedArgs,
        /// Count warnings as findings
        #[arg(long)]
        strict: bool,
    },
    /// Render a profile to a file of samples, without checking it
    #[command(after_help = "\
  cueloom render evening.cues -o evening.csv       a column for every platform axis and leg, units in the names
  cueloom render evening.cues -o evening.wav       the same as 32-bit float channels, SI numbers unscaled
                                                   (evening.channels.csv says which channel is what)")]
    Render {
        /// The profile
        profile: PathBuf,
        /// Where to: a `.csv` or a `.wav` file
        #[arg(short, long, value_name = "FILE")]
        output: PathBuf,
        #[command(flatten)]
        scene: SceneArgs,
    },
    /// Check a profile, then play it on the simulated rig or on drives
    #[command(after_help = "\
  cueloom play evening.cues                        in real time; Ctrl-C slows it to a stop on its own path
  cueloom play evening.cues --fast                 as fast as it can
  cueloom play evening.cues --gain 50%             everything at half strength
  cueloom play evening.cues --link sim --seat vacant --level -12dB
                                                   all that drives ask for, on simulated ones; faults at will
  cueloom play evening.cues --link udp --to 192.168.7.2:7750 --seat vacant --level -12dB
                                                   on drives: read docs/first-motion.md before
  cueloom play evening.cues --link can --to /dev/ttyACM0 --seat vacant --level -12dB
                                                   on CiA 402 drives: read docs/can.md too

Leaves a render and a log of the run in out/ under the current folder; of a run on drives a record, numbered, in place of
both. What does not fit the rig file is not played.
Exit code 1 also for a run that was stopped before its end; 2 for one that ended in a fault.")]
    Play {
        /// The profile
        profile: PathBuf,
        #[command(flatten)]
        checked: CheckedArgs,
        /// Do not wait for the clock
        #[arg(long)]
        fast: bool,
        /// Where the log of the run goes; out/PROFILE.log.csv when not given, on drives out/PROFILE-1.mcap and so on:
        /// a record of drives is never written over
        #[arg(long, value_name = "FILE")]
        log: Option<PathBuf>,
        /// Leave no render behind
        #[arg(long)]
        no_render: bool,
        #[command(flatten)]
        drives: DriveArgs,
        /// On drives: how far below full gain, a level of the audition ladder: -12dB, -6dB, -3dB or 0dB where
        /// cueloom.toml names no others [default: the lowest]
        #[arg(long, value_name = "LEVEL", allow_hyphen_values = true, value_parser = level)]
        level: Option<i32>,
        /// On drives: what sits in the seat
        #[arg(long, value_enum)]
        seat: Option<SeatLoad>,
        /// On drives: play although the ladder does not let it; the reason goes into every record
        #[arg(long, value_name = "REASON", value_parser = words)]
        r#override: Option<String>,
    },
    /// Open the desktop program: write, look, listen, rehearse, play on drives
    #[cfg(feature = "gui")]
    #[command(after_help = "\
  cueloom open                                     what was open last; the demo at first
  cueloom open evening.cues                        this profile

Nothing moves but a drawing until you connect to drives: read docs/first-motion.md before. F1 lists the keys.")]
    Open {
        /// The profile
        profile: Option<PathBuf>,
    },
    /// Commission a rig: guided steps, seat empty, before anything follows a profile on it
    #[command(after_help = "\
  cueloom commission rigs/club.toml --link udp --to 192.168.7.2:7750 --by Ada
  cueloom commission rigs/club.toml --link udp --to 192.168.7.2:7750 --by Ada --brakes
                                                   every day: what does each brake hold?")]
    Commission {
        /// The rig file
        rig: PathBuf,
        #[command(flatten)]
        drives: DriveArgs,
        #[command(flatten)]
        records: RecordsArgs,
        /// Who does it
        #[arg(long, value_name = "NAME", value_parser = words)]
        by: String,
        /// Only ask of the brakes, every day: with what load each was tested, which counts for today (UTC)
        #[arg(long)]
        brakes: bool,
    },
    /// The audition ladder: what was played and signed off; sign off the last run
    #[command(after_help = "\
  cueloom audition                                 what is in the ladder's file
  cueloom audition --sign \"knock in the left rod end, else fine\"
  cueloom audition --maintenance \"new rod end\"    back to the lowest level

How many levels there are: `levels = [\"-12 dB\", \"-6 dB\", \"-3 dB\", \"0 dB\"]` in cueloom.toml; `cueloom explain settings`")]
    Audition {
        /// Sign the last run off, with a remark
        #[arg(long, value_name = "REMARK", value_parser = words)]
        sign: Option<String>,
        /// Note that the rig was worked on: every sign-off before is void. Not while a run is under way
        #[arg(long, value_name = "REMARK", conflicts_with = "sign", value_parser = words)]
        maintenance: Option<String>,
        #[command(flatten)]
        records: RecordsArgs,
    },
    /// What legs and brakes have done in all runs on drives: way, reversals, stops by the brakes alone
    #[command(after_help = "\
  cueloom wear
  cueloom wear --records records/simulated         of simulated drives

Counted from what the drives report, while this program runs them. Moved away, records/wear.json begins anew.")]
    Wear {
        #[command(flatten)]
        records: RecordsArgs,
    },
    /// What a slow sweep of the legs tells of friction, play and stiffness, against the first one that was kept
    #[command(after_help = "\
  cueloom play daily-sweep.cues --link udp --to 192.168.7.2:7750 --seat vacant --level 0dB
  cueloom sweep out/daily-sweep-1.mcap --keep      the first is what others are held against
  cueloom sweep out/daily-sweep-2.mcap             (records/runs/daily-sweep-2.mcap from the desktop program, which also
                                                   sounds the call to knock)

Exit code 1 when something is not as it was. Moved away, records/sweeps.jsonl begins anew.")]
    Sweep {
        /// The record of the run
        file: PathBuf,
        /// Keep what it tells
        #[arg(long)]
        keep: bool,
        #[command(flatten)]
        records: RecordsArgs,
    },
    /// Summarise the record of a run, or turn it into CSV
    #[command(after_help = "\
  cueloom log out/evening-circuit-1.mcap
  cueloom log out/evening-circuit-1.mcap --csv evening.csv
  cueloom log out/evening-circuit-1.mcap --mend whole.mcap
                                                   after a kill or a power cut, for readers that want a whole file")]
    Log {
        /// The record: MCAP, or the text log of a simulated run
        file: PathBuf,
        /// Write every cycle to this file
        #[arg(long, value_name = "FILE")]
        csv: Option<PathBuf>,
        /// Write what can be read of a container that was cut off to this file, whole, with an index
        #[arg(long, value_name = "OUT", conflicts_with = "csv")]
        mend: Option<PathBuf>,
    },
    /// Read a rig file and say what it describes, on the terminal or as a page to print
    #[command(
        args_conflicts_with_subcommands = true,
        subcommand_negates_reqs = true,
        disable_help_subcommand = true,
        after_help = "\
  cueloom rig rigs/club-two-axis.toml              limits, numbers, advice
  cueloom rig rigs/club-two-axis.toml --html rig.html
                                                   drawing, reach map, forces and advice on one page
  cueloom rig rigs/club-two-axis.toml --mjcf rig.xml
                                                   the same mechanics for MuJoCo, to check this program with
  cueloom rig rigs/club-two-axis.toml --mjcf rig.xml --load \"heavy pilot\"
  cueloom rig new my-rig.toml                      a commented rig file to fill in"
    )]
    Rig {
        #[command(subcommand)]
        what: Option<RigCommand>,
        /// The rig file
        #[arg(required = true)]
        file: Option<PathBuf>,
        /// Also write a page to print: one HTML file with its pictures inside
        #[arg(long, value_name = "FILE")]
        html: Option<PathBuf>,
        /// For the page: hold this profile's torques against the motors' curves
        #[arg(long, value_name = "FILE", requires = "html")]
        profile: Option<PathBuf>,
        /// Also write the rig as an MJCF model
        #[arg(long, value_name = "FILE")]
        mjcf: Option<PathBuf>,
        /// For the model: which load of the file it carries; else the payload, or the first load
        #[arg(long, value_name = "NAME", requires = "mjcf")]
        load: Option<String>,
    },
    /// Check a profile and write the report as a page to print
    #[command(after_help = "\
  cueloom report evening.cues -o evening.html      margins, findings, traces, spectra; one file, nothing fetched
  cueloom report evening.cues -o half.html --gain 50%")]
    Report {
        /// The profile
        profile: PathBuf,
        /// Where to: an `.html` file
        #[arg(short, long, value_name = "FILE")]
        output: PathBuf,
        #[command(flatten)]
        checked: CheckedArgs,
    },
    /// Turn readings of tape, scales and gauges into lines of a rig file, with their uncertainty
    #[command(disable_help_subcommand = true)]
    Measure {
        #[command(subcommand)]
        what: super::measure::Measured,
    },
    /// Put profiles into the one layout, comments kept
    #[command(after_help = "\
  cueloom fmt profiles/*.cues                      rewrites them; a file with mistakes is left as it is
  cueloom fmt --check profiles/*.cues              says which would change, changes nothing
  cueloom fmt - < in.cues > out.cues               from input to output")]
    Fmt {
        /// Profiles, or `-` for standard input
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        /// Change nothing; findings are the files that would change
        #[arg(long)]
        check: bool,
    },
    /// Say what a rule checks, why, and what to write instead
    #[command(
        after_help = "  cueloom explain speed\n  cueloom explain                                  lists all rules"
    )]
    Explain {
        /// The word in brackets of a message: `error[speed]`
        rule: Option<String>,
    },
    /// Print the JSON Schema of a kind of file, for editors
    #[command(after_help = "\
  cueloom schema rig > rig.schema.json             then, at the top of a rig file, for editors that read it:
                                                   #:schema ./rig.schema.json")]
    Schema {
        /// Which kind
        #[arg(value_enum)]
        kind: SchemaKind,
    },
    /// Print completions for a shell
    #[command(after_help = "  cueloom completions bash > ~/.local/share/bash-completion/completions/cueloom")]
    Completions {
        /// Which shell
        #[arg(value_enum)]
        shell: clap_complete::Shell,
    },
    /// Print the manual page
    #[command(after_help = "  cueloom man | man -l -\n  cueloom man check > cueloom-check.1")]
    Man {
        /// Of one command
        command: Option<String>,
    },
}

/// Where the drives are.
#[derive(Debug, Clone, Args)]
pub(super) struct DriveArgs {
    /// What carries set-points to drives
    #[arg(long, value_enum, default_value_t = LinkKind::Sim)]
    pub(super) link: LinkKind,
    /// Where the far end is: HOST:PORT for udp, PORT or PORT@BAUD for serial and can, or an interface
    /// as can0
    #[arg(long, value_name = "ADDRESS")]
    pub(super) to: Option<String>,
}

/// What carries set-points to drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum LinkKind {
    /// The simulated rig; nothing real moves, nothing is asked for. With --seat: simulated drives, with everything that
    /// is asked for on real ones, and faults at will
    Sim,
    /// The open frame over a network (docs/frame.md)
    Udp,
    /// The open frame over a serial line
    Serial,
    /// CiA 402 drives over CANopen, through an slcan adapter or an interface of the system (docs/can.md)
    Can,
}

/// What sits in the seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SeatLoad {
    /// Nothing
    Vacant,
    /// Dead weight, belted, about a person's
    Ballasted,
    /// A person
    Occupied,
}

/// What `rig` does besides reading a file.
#[derive(Debug, Subcommand)]
pub(super) enum RigCommand {
    /// Write a commented rig file to fill in: what to measure, and how
    #[command(
        after_help = "  cueloom rig new my-rig.toml\n  cueloom rig new                                  prints it"
    )]
    New {
        /// Where to; printed when not given. A file that is there is left as it is
        #[arg(value_name = "FILE")]
        output: Option<PathBuf>,
    },
}

/// The kinds of file that have a schema.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SchemaKind {
    /// Rig files
    Rig,
}

/// Which scene, on which rig, how.
#[derive(Debug, Clone, Args)]
pub(super) struct SceneArgs {
    /// The rig file; else the one that cueloom.toml names
    #[arg(long, value_name = "FILE")]
    pub(super) rig: Option<PathBuf>,
    /// Which scene, where a profile has several
    #[arg(long, value_name = "TITLE")]
    pub(super) scene: Option<String>,
    /// Strength of all motion: a factor (0.5), a percentage (50%) or a level (-6dB)
    #[arg(long, value_name = "GAIN", default_value = "1", allow_hyphen_values = true)]
    pub(super) gain: Gain,
    /// Samples a second
    #[arg(long, value_name = "HZ", default_value = "1000", value_parser = rate)]
    pub(super) rate: SampleRate,
    /// How many threads check; all of the machine's when not given
    #[arg(long, value_name = "N", value_parser = threads)]
    pub(super) threads: Option<std::num::NonZeroUsize>,
}

/// What is known of a rig besides its file.
#[derive(Debug, Clone, Args)]
pub(super) struct RecordsArgs {
    /// Where commissioning, audition, sweeps, and what legs strayed and went are kept; else records/ beside the nearest
    /// cueloom.toml in or above the folder, or in the folder itself
    #[arg(long, value_name = "FOLDER")]
    records: Option<PathBuf>,
}

impl RecordsArgs {
    /// The folder, for a profile or a rig file.
    pub(super) fn of(&self, file: &Path) -> PathBuf {
        self.records.clone().unwrap_or_else(|| records_folder(file))
    }

    /// The folder, for where the command is given.
    pub(super) fn here(&self) -> PathBuf {
        self.of(Path::new(SETTINGS_NAME))
    }
}

/// Which scene of a profile, and what is known of the rig besides its file.
#[derive(Debug, Clone, Args)]
pub(super) struct CheckedArgs {
    #[command(flatten)]
    pub(super) scene: SceneArgs,
    #[command(flatten)]
    pub(super) records: RecordsArgs,
}

fn level(text: &str) -> Result<i32, String> {
    let text = text.trim();
    let number = text.strip_suffix("dB").unwrap_or(text).trim();
    number.parse().map_err(|_| "expected a level of the ladder, a whole number of dB, as -12dB".to_string())
}

/// What is kept for good, without the space around it.
fn words(text: &str) -> Result<String, String> {
    match text.trim() {
        "" => Err("it is empty, and is kept for good: say it in a few words".to_string()),
        words => Ok(words.to_string()),
    }
}

/// Most samples a second: four times what audio hardware commonly offers. Own choice.
const MAX_RATE_HZ: u32 = 192_000;

fn rate(text: &str) -> Result<SampleRate, String> {
    let number = text.strip_suffix("Hz").unwrap_or(text).trim();
    let wrong = || format!("expected a whole number of Hz from 1 to {MAX_RATE_HZ}");
    let hz: u32 = number.parse().map_err(|_| wrong())?;
    SampleRate::new(hz).filter(|_| hz <= MAX_RATE_HZ).ok_or_else(wrong)
}

/// Most threads: more than most machines run at once, and few enough to be had. Own choice.
const MOST_THREADS: usize = 256;

fn threads(text: &str) -> Result<std::num::NonZeroUsize, String> {
    let count: Option<std::num::NonZeroUsize> = text.trim().parse().ok();
    count
        .filter(|count| count.get() <= MOST_THREADS)
        .ok_or_else(|| format!("expected a whole number from 1 to {MOST_THREADS}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_commands_hang_together() {
        Cli::command().debug_assert();
    }

    #[test]
    fn what_is_kept_for_good_is_not_empty() {
        let link = ["--link", "sim"];
        for command in [
            &["play", "a.cues", "--seat", "vacant", "--override"][..],
            &["audition", "--sign"],
            &["audition", "--maintenance"],
            &["commission", "r.toml", link[0], link[1], "--by"],
        ] {
            let typed = |last| Cli::try_parse_from(["cueloom"].iter().chain(command).copied().chain([last]));
            for empty in ["", " ", "\t\n"] {
                let refused = typed(empty).unwrap_err().to_string();
                assert!(refused.contains("it is empty"), "{command:?}: {refused}");
            }
            assert!(typed("a knock").is_ok(), "{command:?}");
        }
        let cli = Cli::try_parse_from(["cueloom", "audition", "--sign", " a knock "]).unwrap();
        assert!(matches!(&cli.command, Command::Audition { sign: Some(words), .. } if words == "a knock"));
    }

    #[test]
    fn gains_rates_and_scenes_are_read() {
        let cli = Cli::try_parse_from([
            "cueloom", "check", "a.cues", "b.cues", "--gain", "-6 dB", "--rate", "500 Hz", "--format",
            "short",
        ]);
        let Ok(Cli { command: Command::Check { profiles, checked, .. }, format: Format::Short }) = cli else {
            panic!("{cli:?}");
        };
        assert_eq!((profiles.len(), checked.scene.rate.hz()), (2, 500));
        assert!((checked.scene.gain.factor() - 0.501_187).abs() < 1e-6);
        assert!(Cli::try_parse_from(["cueloom", "check", "a", "--rate", "0"]).is_err());
        assert!(Cli::try_parse_from(["cueloom", "check"]).is_err());
    }
}
