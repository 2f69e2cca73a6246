#!/usr/bin/env python3
"""Render an hour of motion cues the way a NumPy script would: a bench peer.

The same work as the Rust bench, on whole arrays in float64: synthesise pitch
and roll at 1 kHz from a list of cues, follow the two legs of a platform on a
universal joint, estimate the motors' torque, and find the peaks with their
times. It stands beside the bench to show what the obvious script costs; it is
not a reference for any number.

    numpy_render.py                     3600 s from the default cues
    numpy_render.py --seconds 600
    numpy_render.py --write-cues FILE   also write the default cues as JSON
    numpy_render.py --cues FILE         render these cues instead

Prints one line of JSON:

    wall_s       seconds for the work: from the parsed cues to the peaks;
                 imports and reading the file are outside
    parts_s      the same, split into synthesis, kinematics, torque and peaks
    peak_rss_mb  the process's largest resident set, and rss_before_mb what it
                 was with the imports done; in 1e6 bytes
    samples, rate_hz, cues   how much was rendered
    peaks        NAME: {value, time_s}; by magnitude, and for leg length also
                 the least and the greatest

The cue file
------------
A JSON list of objects, in any order. Cues add up, also where they overlap.
Angles are radians, times seconds, frequencies hertz. Every cue has

    channel      "pitch" or "roll"
    kind         "ring", "pulse", "hold" or "noise"
    start_s      when it begins; it is zero before

and, with t counted from its start and E(u) = u^4 (35 - 84u + 70u^2 - 20u^3)
on 0..1 (0 before, 1 after; three derivatives vanish at both ends):

    ring    amplitude_rad, frequency_hz, decay_per_s, rise_s, fall_s, duration_s
            amplitude E(t/rise) E((duration-t)/fall) exp(-decay t) sin(2 pi f t)
    pulse   amplitude_rad, duration_s
            amplitude sin(pi t/duration)^4
    hold    amplitude_rad, rise_s, hold_s, fall_s
            amplitude E(t/rise) E((rise+hold+fall-t)/fall)
    noise   rms_rad, low_hz, high_hz, edge_s, duration_s, seed
            rms sqrt(2/48) E(t/edge) E((duration-t)/edge)
              sum over k = 0..47 of sin(2 pi (f_k t + p_k))
            f_k = low + (high-low) (k + 1/2) / 48
            p_k = fractional part of k (k + seed) g, g = (sqrt(5)-1)/2

Each is zero again after its duration (ring, pulse, noise) or after
rise + hold + fall (hold). Times of 0 for rise_s, fall_s and edge_s mean a step.

Axes: x forward, y right, z down; pitch positive nose up, roll positive right
wing down; R = Ry(pitch) Rx(roll) turns platform into base coordinates.
"""

import argparse
import json
import math
import resource
import sys
import time
from pathlib import Path

import numpy as np

RATE_HZ = 1000
CHANNELS = ("pitch", "roll")

# An invented rig. Points in metres, from the centre of the universal joint;
# the legs stand behind it, left and right, on the floor (z down).
BASE_POINTS = ((-0.42, -0.30, 0.55), (-0.42, 0.30, 0.55))
PLATFORM_POINTS = ((-0.45, -0.32, 0.04), (-0.45, 0.32, 0.04))
MOVING_MASS_KG = 145.0
# The centre of mass, on the platform: a little ahead of and above the joint.
CENTRE_OF_MASS = (0.05, 0.0, -0.28)
# About the joint's pitch and roll axes.
INERTIA_PITCH_KG_M2 = 41.0
INERTIA_ROLL_KG_M2 = 27.0
GRAVITY_M_S2 = 9.80665
# Ball screw and motor of each leg.
SCREW_LEAD_M = 0.010
SCREW_EFFICIENCY = 0.90
ROTOR_INERTIA_KG_M2 = 1.1e-4

NOISE_LINES = 48
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0

PARAMETERS = {
    "ring": ("amplitude_rad", "frequency_hz", "decay_per_s", "rise_s", "fall_s", "duration_s"),
    "pulse": ("amplitude_rad", "duration_s"),
    "hold": ("amplitude_rad", "rise_s", "hold_s", "fall_s"),
    "noise": ("rms_rad", "low_hz", "high_hz", "edge_s", "duration_s", "seed"),
}


# --- cues ---------------------------------------------------------------------


def default_cues(seconds):
    """One cue every 5 s, and of every six one a 2 s noise; no random numbers."""
    cues = []
    for slot in range(int(seconds // 5.0)):

        def spread(low, high, salt):
            """A value that changes from slot to slot, the same on every run."""
            return round(low + (high - low) * ((slot + 1) * GOLDEN * salt % 1.0), 6)

        kind = ("ring", "pulse", "hold", "ring", "pulse", "noise")[slot % 6]
        sign = 1.0 if slot % 4 < 2 else -1.0
        channel = CHANNELS[(slot + slot // 6) % 2]
        # Roll reaches the legs over a shorter arm: larger, so that the two
        # legs do not find all their peaks in the same pitch cue.
        size = sign * (1.6 if channel == "roll" else 1.0)
        cue = {
            "channel": channel,
            "kind": kind,
            # Not on the beat, and not on a sample.
            "start_s": round(5.0 * slot + spread(0.1, 0.9, 1) + 0.000437, 6),
        }
        if kind == "ring":
            cue |= {
                "amplitude_rad": round(size * spread(0.01, 0.05, 2), 6),
                "frequency_hz": spread(0.8, 2.5, 3),
                "decay_per_s": spread(0.8, 2.0, 5),
                "rise_s": 0.4,
                "fall_s": 0.5,
                "duration_s": 4.0,
            }
        elif kind == "pulse":
            cue |= {
                "amplitude_rad": round(size * spread(0.02, 0.08, 2), 6),
                "duration_s": spread(1.0, 3.0, 3),
            }
        elif kind == "hold":
            cue |= {
                "amplitude_rad": round(size * spread(0.03, 0.10, 2), 6),
                "rise_s": spread(0.8, 1.5, 3),
                "hold_s": spread(1.0, 2.0, 5),
                "fall_s": spread(1.0, 2.0, 7),
            }
        else:
            cue |= {
                "rms_rad": round(abs(size) * spread(0.001, 0.003, 2), 6),
                "low_hz": 3.0,
                "high_hz": 9.0,
                "edge_s": 0.3,
                "duration_s": 2.0,
                "seed": slot,
            }
        if cue["start_s"] + length_of(cue) <= seconds:
            cues.append(cue)
    return cues


def length_of(cue):
    if cue["kind"] == "hold":
        return cue["rise_s"] + cue["hold_s"] + cue["fall_s"]
    return cue["duration_s"]


class CueError(Exception):
    """The cue file is not what the docstring says."""


def read_cues(path):
    try:
        cues = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise CueError(f"{path.name}: {error}") from None
    if not isinstance(cues, list):
        raise CueError(f"{path.name}: not a list of cues")
    for number, cue in enumerate(cues):
        where = f"{path.name}: cue {number}"
        if not isinstance(cue, dict) or cue.get("kind") not in PARAMETERS:
            raise CueError(f"{where}: kind is none of {', '.join(PARAMETERS)}")
        if cue.get("channel") not in CHANNELS:
            raise CueError(f"{where}: channel is none of {', '.join(CHANNELS)}")
        for key in ("start_s", *PARAMETERS[cue["kind"]]):
            value = cue.get(key)
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise CueError(f"{where}: {key} is missing or not a number")
            if not math.isfinite(value):
                raise CueError(f"{where}: {key} is not finite")
            if key != "start_s" and key.endswith("_s") and value < 0.0:
                raise CueError(f"{where}: {key} is negative")
            if key == "duration_s" and value == 0.0:
                raise CueError(f"{where}: {key} is zero")
    return cues


# --- synthesis ------------------------------------------------------------------


def edge(t, length):
    """E(t/length)."""
    if length <= 0.0:
        return (t >= 0.0).astype(float)
    u = np.clip(t / length, 0.0, 1.0)
    # Products: NumPy's power is far slower for whole exponents above 2.
    u2 = u * u
    return u2 * u2 * (35.0 + u * (-84.0 + u * (70.0 - 20.0 * u)))


def ring(t, cue):
    return (
        cue["amplitude_rad"]
        * edge(t, cue["rise_s"])
        * edge(cue["duration_s"] - t, cue["fall_s"])
        * np.exp(-cue["decay_per_s"] * t)
        * np.sin(2.0 * np.pi * cue["frequency_hz"] * t)
    )


def pulse(t, cue):
    squared = np.sin(np.pi / cue["duration_s"] * t) ** 2
    return cue["amplitude_rad"] * squared * squared


def hold(t, cue):
    return (
        cue["amplitude_rad"]
        * edge(t, cue["rise_s"])
        * edge(length_of(cue) - t, cue["fall_s"])
    )


def noise(t, cue):
    k = np.arange(NOISE_LINES)
    freqs = cue["low_hz"] + (cue["high_hz"] - cue["low_hz"]) * (k + 0.5) / NOISE_LINES
    phases = k * (k + cue["seed"]) * GOLDEN % 1.0
    lines = np.sin(2.0 * np.pi * (freqs[:, None] * t + phases[:, None]))
    envelope = edge(t, cue["edge_s"]) * edge(cue["duration_s"] - t, cue["edge_s"])
    return cue["rms_rad"] * math.sqrt(2.0 / NOISE_LINES) * envelope * lines.sum(axis=0)


SHAPES = {"ring": ring, "pulse": pulse, "hold": hold, "noise": noise}


def synthesise(cues, samples):
    """Pitch and roll. Each cue touches only the samples that it lasts."""
    out = {channel: np.zeros(samples) for channel in CHANNELS}
    for cue in cues:
        first = max(math.ceil(cue["start_s"] * RATE_HZ), 0)
        last = min(math.floor((cue["start_s"] + length_of(cue)) * RATE_HZ), samples - 1)
        if last < first:
            continue
        t = np.arange(first, last + 1) / RATE_HZ - cue["start_s"]
        out[cue["channel"]][first : last + 1] += SHAPES[cue["kind"]](t, cue)
    return out["pitch"], out["roll"]


# --- the rig ----------------------------------------------------------------------


def kinematics(pitch, roll):
    """Per leg: length, speed, acceleration, and how length follows each angle."""
    sp, cp, sr, cr = np.sin(pitch), np.cos(pitch), np.sin(roll), np.cos(roll)
    legs = []
    for (bx, by, bz), (px, py, pz) in zip(BASE_POINTS, PLATFORM_POINTS):
        # R p in components: far cheaper than a 3 x 3 matrix per sample.
        turned_z = py * sr + pz * cr
        x = cp * px + sp * turned_z
        y = cr * py - sr * pz
        z = cp * turned_z - sp * px
        lx, ly, lz = x - bx, y - by, z - bz
        length = np.sqrt(lx * lx + ly * ly + lz * lz)
        # d(R p)/d(pitch) = (z, 0, -x);  d(R p)/d(roll) = Ry (0, -w, y), w = turned_z.
        by_pitch = (lx * z - lz * x) / length
        by_roll = (lx * sp * y - ly * turned_z + lz * cp * y) / length
        speed = np.gradient(length, 1.0 / RATE_HZ)
        acceleration = np.gradient(speed, 1.0 / RATE_HZ)
        legs.append((length, speed, acceleration, by_pitch, by_roll))
    return legs


def torques(pitch, roll, legs):
    """Motor torque of each leg: rigid-body estimate, no velocity terms.

    Virtual work: the two leg forces f answer the moments that gravity and
    inertia ask for, sum_i f_i d(length_i)/d(angle) = moment(angle).
    """
    sp, cp, sr, cr = np.sin(pitch), np.cos(pitch), np.sin(roll), np.cos(roll)
    cx, cy, cz = CENTRE_OF_MASS
    weight = MOVING_MASS_KG * GRAVITY_M_S2
    # Potential energy is -weight * z (z down), z of the turned centre of mass.
    turned_z = cy * sr + cz * cr
    gravity_pitch = weight * (sp * turned_z + cp * cx)
    gravity_roll = -weight * cp * (cy * cr - cz * sr)
    dt = 1.0 / RATE_HZ
    pitch_moment = INERTIA_PITCH_KG_M2 * np.gradient(np.gradient(pitch, dt), dt) + gravity_pitch
    roll_moment = INERTIA_ROLL_KG_M2 * np.gradient(np.gradient(roll, dt), dt) + gravity_roll

    (_, _, acc_1, a, c), (_, _, acc_2, b, d) = legs
    det = a * d - b * c
    force_1 = (pitch_moment * d - roll_moment * b) / det
    force_2 = (roll_moment * a - pitch_moment * c) / det
    per_force = SCREW_LEAD_M / (2.0 * np.pi * SCREW_EFFICIENCY)
    per_acc = ROTOR_INERTIA_KG_M2 * 2.0 * np.pi / SCREW_LEAD_M
    return force_1 * per_force + acc_1 * per_acc, force_2 * per_force + acc_2 * per_acc


def peaks_of(pitch, roll, legs, motor):
    peaks = {}

    def note(name, values, at):
        peaks[name] = {"value": float(values[at]), "time_s": float(at / RATE_HZ)}

    def largest(name, values):
        note(name, values, np.argmax(np.abs(values)))

    largest("pitch_rad", pitch)
    largest("roll_rad", roll)
    for number, ((length, speed, acceleration, _, _), torque) in enumerate(zip(legs, motor), 1):
        note(f"leg{number}_shortest_m", length, np.argmin(length))
        note(f"leg{number}_longest_m", length, np.argmax(length))
        largest(f"leg{number}_speed_m_s", speed)
        largest(f"leg{number}_acceleration_m_s2", acceleration)
        largest(f"leg{number}_torque_n_m", torque)
    return peaks


# --- the bench ------------------------------------------------------------------


def peak_rss_mb():
    # Linux counts in KiB, macOS in bytes.
    unit = 1 if sys.platform == "darwin" else 1024
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6, 1)


def positive(text):
    value = float(text)
    if not (math.isfinite(value) and value * RATE_HZ >= 2.0):
        raise argparse.ArgumentTypeError("must be a positive number of seconds")
    return value


def main():
    parser = argparse.ArgumentParser(description="Render motion cues with NumPy, as a bench peer.")
    parser.add_argument("--seconds", type=positive, default=3600.0, help="how long (default 3600)")
    source = parser.add_mutually_exclusive_group()
    source.add_argument("--cues", type=Path, metavar="FILE", help="cue list in JSON")
    source.add_argument("--write-cues", type=Path, metavar="FILE", help="write the default cues")
    args = parser.parse_args()
    try:
        cues = read_cues(args.cues) if args.cues else default_cues(args.seconds)
    except CueError as error:
        print(f"numpy_render: {error}", file=sys.stderr)
        return 1
    if args.write_cues:
        lines = ",\n".join("  " + json.dumps(cue) for cue in cues)
        args.write_cues.write_text(f"[\n{lines}\n]\n", encoding="utf-8")
    samples = round(args.seconds * RATE_HZ)
    before_mb = peak_rss_mb()

    clock = [time.perf_counter()]
    pitch, roll = synthesise(cues, samples)
    clock.append(time.perf_counter())
    legs = kinematics(pitch, roll)
    clock.append(time.perf_counter())
    motor = torques(pitch, roll, legs)
    clock.append(time.perf_counter())
    peaks = peaks_of(pitch, roll, legs, motor)
    clock.append(time.perf_counter())

    names = ("synthesis", "kinematics", "torque", "peaks")
    parts = dict(zip(names, np.diff(clock).round(4).tolist()))
    print(
        json.dumps(
            {
                "wall_s": round(clock[-1] - clock[0], 4),
                "parts_s": parts,
                "peak_rss_mb": peak_rss_mb(),
                "rss_before_mb": before_mb,
                "samples": samples,
                "rate_hz": RATE_HZ,
                "cues": len(cues),
                "peaks": peaks,
            }
        )
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
