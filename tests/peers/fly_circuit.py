#!/usr/bin/env python3
"""Fly one evening circuit in JSBSim and keep what the seat went through.

The aircraft is a light trainer flown by JSBSim's c172x model. The pilot is
the small controller below: proportional-derivative loops with a slow
integrator on elevator and aileron, a yaw damper and slip loop on the rudder.
The air is a light breeze with gusts, and the pilot's hands are never quite
still, so pitch and roll keep moving between the manoeuvres. Gusts and hands
are sums of fixed sinusoids: no random numbers, so a second flight writes the
same bytes.

    fly_circuit.py             fly and write profiles/traces/evening-circuit.csv
    fly_circuit.py --check     fly again and compare with the file that is there
    fly_circuit.py --out FILE  fly and write somewhere else

Exit status: 0 done or equal; 1 the flight is not the circuit it should be,
or differs from the file; 2 wrong arguments.

Source of the numbers: JSBSim (package `jsbsim`, the version pinned in
requirements.txt) with the c172x aircraft that the package ships.
"""

import argparse
import csv
import math
import os
import shutil
import sys
import tempfile
from pathlib import Path
from xml.etree import ElementTree

# JSBSim greets on standard output while it is being constructed, before
# set_debug_level() can be called; this is read at that moment.
os.environ["JSBSIM_DEBUG"] = "0"

import jsbsim  # noqa: E402
import numpy as np  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
TRACE = ROOT / "profiles" / "traces" / "evening-circuit.csv"

STEP_HZ = 200
ROW_HZ = 50
STEPS_PER_ROW = STEP_HZ // ROW_HZ
FLIGHT_S = 262.0

G_FT_S2 = 32.17405  # standard gravity in JSBSim's own length unit
FPS_PER_KT = 1.68781
FIELD_FT = 620.0
# No leg of the circuit points near north, where the heading would flicker
# between 0 and 360.
RUNWAY_DEG = 250.0

# The circuit on the map, in feet from the start of the take-off run: to the
# left of the centre line, and back against the take-off direction.
CIRCUIT_HEIGHT_FT = 850.0
LEVEL_OFF_FT = 700.0
DOWNWIND_LEFT_FT = 2100.0
BASE_BACK_FT = 5200.0
FINAL_LEFT_FT = 1400.0

SIN_RUNWAY = math.sin(math.radians(RUNWAY_DEG))
COS_RUNWAY = math.cos(math.radians(RUNWAY_DEG))

# name, decimals, lowest and highest plausible value, tolerance of --check.
# Four decimals of a degree keep the quantisation small once a reader
# differentiates twice at 50 Hz (0.0001 deg becomes 0.25 deg/s^2).
# The tolerances leave room for another processor's last floating-point bit:
# a change of leg may then come one step earlier or later.
COLUMNS = (
    ("time_s", 2, 0.0, FLIGHT_S, 0.0),
    ("pitch_deg", 4, -12.0, 18.0, 0.02),
    ("roll_deg", 4, -40.0, 40.0, 0.02),
    ("heading_deg", 3, 0.0, 360.0, 0.05),
    ("airspeed_kt", 2, 0.0, 120.0, 0.05),
    ("altitude_ft", 1, FIELD_FT - 5.0, FIELD_FT + 1500.0, 0.2),
    ("nz_minus_1_g", 4, -1.0, 1.5, 0.01),
)


class FlightError(Exception):
    """The flight did not go as this script promises."""


def clip(value, low, high):
    return min(max(value, low), high)


def turn_to(target_deg, heading_deg):
    """Shortest way round, in degrees, positive to the right."""
    return (target_deg - heading_deg + 180.0) % 360.0 - 180.0


class Restless:
    """A fixed sum of sinusoids, evenly spread in log frequency.

    The phases follow the golden ratio: spread out like random ones, the same
    on every machine.
    """

    def __init__(self, rms, low_hz, high_hz, count, salt, slope):
        step = (high_hz / low_hz) ** (1.0 / (count - 1))
        freqs = [low_hz * step**k for k in range(count)]
        # Gusts lose strength towards high frequency: amplitude ~ f^-slope.
        amps = [(f / low_hz) ** -slope for f in freqs]
        scale = rms / math.sqrt(sum(a * a for a in amps) / 2.0)
        golden = (math.sqrt(5.0) - 1.0) / 2.0
        self.parts = [
            (a * scale, 2.0 * math.pi * f, 2.0 * math.pi * ((salt + k) * golden % 1.0))
            for k, (f, a) in enumerate(zip(freqs, amps))
        ]

    def __call__(self, t):
        return sum(a * math.sin(w * t + p) for a, w, p in self.parts)


class Pilot:
    """Flies the legs of the circuit one after the other."""

    def __init__(self, sim):
        self.sim = sim
        self.leg = "roll"
        self.pitch_target = 0.0
        self.bank_target = 0.0
        self.pitch_sum = 0.0
        self.roll_sum = 0.0
        self.throttle = 0.0
        self.path_sum = 2.0
        self.level = False
        self.legs = [("roll", 0.0)]
        self.hand_pitch = Restless(0.9, 0.06, 0.45, 9, 3, 0.4)
        self.hand_bank = Restless(1.6, 0.05, 0.40, 9, 31, 0.4)
        self.hand_elevator = Restless(0.016, 0.5, 1.9, 9, 57, 0.3)
        self.hand_aileron = Restless(0.030, 0.5, 1.9, 9, 83, 0.3)

    def enter(self, leg, t):
        self.leg = leg
        self.legs.append((leg, t))

    def fly(self, t, dt, left_ft, back_ft):
        sim = self.sim
        speed = sim["velocities/vc-kts"]
        agl = sim["position/h-sl-ft"] - FIELD_FT
        climb_fps = sim["velocities/h-dot-fps"]
        heading = sim["attitude/psi-deg"]
        pitch = sim["attitude/theta-deg"]
        bank = sim["attitude/phi-deg"]
        roll_rate = math.degrees(sim["velocities/p-rad_sec"])
        pitch_rate = math.degrees(sim["velocities/q-rad_sec"])
        yaw_rate = math.degrees(sim["velocities/r-rad_sec"])
        fast_fps = FPS_PER_KT * max(speed, 40.0)

        # --- which leg ---------------------------------------------------
        if self.leg == "roll" and speed > 52.0:
            self.enter("rotate", t)
        elif self.leg == "rotate" and agl > 60.0:
            self.enter("climb", t)
        elif self.leg == "climb" and agl > 400.0:
            self.enter("crosswind", t)
        elif self.leg == "crosswind" and left_ft > DOWNWIND_LEFT_FT:
            self.enter("downwind", t)
        elif self.leg == "downwind" and back_ft > BASE_BACK_FT:
            self.enter("base", t)
        elif self.leg == "base" and left_ft < FINAL_LEFT_FT:
            self.enter("final", t)

        # --- what this leg wants -----------------------------------------
        course = RUNWAY_DEG
        climb_want = None
        speed_want = 72.0
        flaps = 0.0
        if self.leg == "roll":
            pitch_want = 0.5
        elif self.leg == "rotate":
            pitch_want = 8.0
        elif self.leg == "climb":
            pitch_want = 7.0 + 0.35 * (speed - 72.0)
        elif self.leg in ("crosswind", "downwind"):
            course = RUNWAY_DEG - (90.0 if self.leg == "crosswind" else 180.0)
            pitch_want = 6.0 + 0.35 * (speed - 72.0)
            self.level = self.level or agl > LEVEL_OFF_FT
            if self.level:
                climb_want = clip(0.10 * (CIRCUIT_HEIGHT_FT - agl), -8.0, 12.0)
                speed_want = 85.0
        elif self.leg == "base":
            course = RUNWAY_DEG - 270.0
            climb_want = -6.0
            speed_want = 70.0
            flaps = 1.0 / 3.0
        else:
            # Come back to the centre line; the last degrees are flown on it.
            course = RUNWAY_DEG + clip(0.04 * left_ft, -25.0, 25.0)
            climb_want = -7.0
            speed_want = 66.0
            flaps = 2.0 / 3.0

        # --- pitch -------------------------------------------------------
        if climb_want is not None:
            # Vertical speed over true speed is the path; add what the wing needs.
            path = math.degrees(math.asin(clip(climb_want / fast_fps, -0.3, 0.3)))
            pitch_want = path + 0.35 * (climb_want - climb_fps) + self.path_sum
            self.path_sum = clip(self.path_sum + 0.10 * (climb_want - climb_fps) * dt, -8.0, 8.0)
        airborne = clip((agl - 8.0) / 40.0, 0.0, 1.0)
        pitch_want = clip(pitch_want, -7.0, 11.0) + airborne * self.hand_pitch(t)
        self.pitch_target += clip(pitch_want - self.pitch_target, -3.5 * dt, 3.5 * dt)
        error = self.pitch_target - pitch
        loose = 0.25 if self.leg == "roll" else 1.0
        self.pitch_sum = clip(self.pitch_sum + loose * 0.030 * error * dt, -0.6, 0.6)
        # JSBSim counts elevator positive trailing edge down, i.e. nose down.
        elevator = -(0.045 * error - 0.022 * pitch_rate + self.pitch_sum)
        elevator += airborne * self.hand_elevator(t)

        # --- bank --------------------------------------------------------
        off_course = turn_to(course, heading)
        bank_want = clip(1.1 * off_course, -23.0, 23.0) * airborne + airborne * self.hand_bank(t)
        self.bank_target += clip(bank_want - self.bank_target, -11.0 * dt, 11.0 * dt)
        error = self.bank_target - bank
        self.roll_sum = clip(self.roll_sum + 0.010 * error * dt, -0.3, 0.3)
        aileron = 0.026 * error - 0.010 * roll_rate + self.roll_sum
        aileron += airborne * self.hand_aileron(t)

        # --- rudder: steer on the ground, keep the ball centred in the air -
        slip = sim["aero/beta-deg"] if speed > 30.0 else 0.0
        # In a steady turn the nose must yaw; damp only what is beyond that.
        turn_rate = math.degrees(math.tan(math.radians(bank)) * G_FT_S2 / fast_fps)
        steer = 0.05 * off_course - 0.03 * yaw_rate
        ball = 0.03 * slip - 0.02 * (yaw_rate - turn_rate * math.cos(math.radians(bank)))
        # JSBSim counts rudder positive trailing edge left, i.e. nose left.
        rudder = -((1.0 - airborne) * steer + airborne * ball)

        # --- throttle ----------------------------------------------------
        if climb_want is None:
            throttle = 1.0
        else:
            base = {"base": 0.30, "final": 0.36}.get(self.leg, 0.62)
            throttle = clip(base + 0.03 * (speed_want - speed), 0.05, 1.0)
        self.throttle += clip(throttle - self.throttle, -0.25 * dt, 0.5 * dt)

        sim["fcs/elevator-cmd-norm"] = clip(elevator, -1.0, 1.0)
        sim["fcs/aileron-cmd-norm"] = clip(aileron, -1.0, 1.0)
        sim["fcs/rudder-cmd-norm"] = clip(rudder, -1.0, 1.0)
        sim["fcs/throttle-cmd-norm"] = self.throttle
        sim["fcs/flap-cmd-norm"] = flaps


class Air:
    """A light breeze down the runway, a little from the left, with gusts."""

    def __init__(self):
        self.along = Restless(2.2, 0.05, 1.6, 14, 5, 0.5)
        self.across = Restless(2.0, 0.05, 1.9, 14, 19, 0.45)
        self.up = Restless(1.7, 0.06, 1.9, 14, 43, 0.4)

    def blow(self, sim, t, agl_ft):
        height = clip(0.3 + agl_ft / 150.0, 0.3, 1.0)
        back = height * (9.0 + self.along(t))
        right = height * (2.0 + self.across(t))
        sim["atmosphere/wind-north-fps"] = -back * COS_RUNWAY - right * SIN_RUNWAY
        sim["atmosphere/wind-east-fps"] = -back * SIN_RUNWAY + right * COS_RUNWAY
        # Air cannot blow through the ground.
        sim["atmosphere/wind-down-fps"] = clip(agl_ft / 80.0, 0.0, 1.0) * self.up(t)


def load_silent_model(sim, name):
    """Load one of JSBSim's own aircraft without its outputs.

    The c172x asks for a log file in the current directory and for sockets;
    JSBSim opens them during run_ic(), disable_output() or not. So a copy of
    the model without its <output> elements is loaded instead.
    """
    shipped = Path(sim.get_root_dir()) / "aircraft" / name
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / name
        shutil.copytree(shipped, copy)
        model = ElementTree.parse(shipped / f"{name}.xml")
        for output in model.getroot().findall("output"):
            model.getroot().remove(output)
        model.write(copy / f"{name}.xml", encoding="utf-8", xml_declaration=True)
        sim.set_aircraft_path(scratch)
        if not sim.load_model(name):
            raise FlightError(f"JSBSim could not load its {name} model")


def fly():
    """Fly the circuit; returns the rows, and the legs with their start times."""
    sim = jsbsim.FGFDMExec(None)
    sim.set_debug_level(0)
    sim.set_dt(1.0 / STEP_HZ)
    load_silent_model(sim, "c172x")

    sim["ic/lat-geod-deg"] = 47.0
    sim["ic/long-gc-deg"] = 9.0
    sim["ic/terrain-elevation-ft"] = FIELD_FT
    sim["ic/h-agl-ft"] = 4.43
    sim["ic/psi-true-deg"] = RUNWAY_DEG
    sim["ic/theta-deg"] = 0.0
    sim["ic/phi-deg"] = 0.0
    sim["ic/vc-kts"] = 0.0
    if not sim.run_ic():
        raise FlightError("JSBSim refused the starting point on the runway")
    # Two in front, fuel, and nothing else: the model's default load adds two
    # in the back, luggage, and an odd mass far out on the right wing.
    for index in (2, 3, 4, 5):
        sim[f"inertia/pointmass-weight-lbs[{index}]"] = 0.0
    sim["propulsion/set-running"] = -1
    pilot = Pilot(sim)
    air = Air()
    # Stand with brakes on until the gear has settled and the breeze is felt.
    air.blow(sim, 0.0, 0.0)
    for brake in ("left", "right"):
        sim[f"fcs/{brake}-brake-cmd-norm"] = 1.0
    for _ in range(4 * STEP_HZ):
        sim.run()
    for brake in ("left", "right"):
        sim[f"fcs/{brake}-brake-cmd-norm"] = 0.0

    dt = 1.0 / STEP_HZ
    left_ft = back_ft = 0.0
    rows = []
    for step in range(round(FLIGHT_S * STEP_HZ) + 1):
        t = step / STEP_HZ
        if step % STEPS_PER_ROW == 0:
            # a-pilot is what an accelerometer at the seat reads, z down: about
            # -1 g standing still. Turned round so that being pressed into the
            # seat counts positive.
            nz = -sim["accelerations/a-pilot-z-ft_sec2"] / G_FT_S2 - 1.0
            row = (
                t,
                sim["attitude/theta-deg"],
                sim["attitude/phi-deg"],
                # Rounded here, so that 359.9999 is written as 0 and not as 360.
                round(sim["attitude/psi-deg"], 3) % 360.0,
                sim["velocities/vc-kts"],
                sim["position/h-sl-ft"],
                nz,
            )
            # A diverging run yields 1e100 and then NaN without any exception:
            # stop at the first row that no light aircraft can produce.
            check_row(row)
            rows.append(row)
        air.blow(sim, t, sim["position/h-sl-ft"] - FIELD_FT)
        pilot.fly(t, dt, left_ft, back_ft)
        if not sim.run():
            raise FlightError(f"JSBSim stopped at {t:.2f} s")
        north = sim["velocities/v-north-fps"]
        east = sim["velocities/v-east-fps"]
        left_ft += (north * SIN_RUNWAY - east * COS_RUNWAY) * dt
        back_ft -= (north * COS_RUNWAY + east * SIN_RUNWAY) * dt
    return rows, pilot.legs


def check_row(row):
    """Every value finite and within what a light aircraft can do."""
    for (name, _, low, high, _), value in zip(COLUMNS, row):
        # Written so that NaN fails: every comparison with it is false.
        if not low <= value <= high:
            raise FlightError(f"at {row[0]:.2f} s {name} is {value!r}, outside {low} to {high}")


def band_rms(signal, low_hz, high_hz):
    """RMS of the part of a signal between two frequencies."""
    spectrum = np.fft.rfft(signal - np.mean(signal))
    freqs = np.fft.rfftfreq(len(signal), 1.0 / ROW_HZ)
    spectrum[(freqs < low_hz) | (freqs > high_hz)] = 0.0
    return float(np.sqrt(np.mean(np.fft.irfft(spectrum, len(signal)) ** 2)))


def check_flight(rows, legs):
    """The recorded flight is a circuit, with all its manoeuvres and some life."""

    def must(true, words):
        if not true:
            raise FlightError(f"this is not the evening circuit: {words}")

    table = np.array(rows)
    must(bool(np.isfinite(table).all()), "a value is not finite")
    for row in rows:
        check_row(row)
    t, pitch, roll, heading, speed, altitude, nz = table.T
    must(
        len(rows) == round(FLIGHT_S * ROW_HZ) + 1 and np.allclose(np.diff(t), 1.0 / ROW_HZ),
        "the rows are not one every 1/50 s",
    )
    if legs is not None:
        names = [name for name, _ in legs]
        wanted = ["roll", "rotate", "climb", "crosswind", "downwind", "base", "final"]
        must(names == wanted, f"the legs flown were {' '.join(names)}")
    must(pitch.min() >= -12.0 and pitch.max() <= 18.0, "pitch leaves -12 to 18 deg")
    must(pitch.max() >= 8.0, "the nose never rises to 8 deg")
    must(roll.min() <= -20.0, "no left turn with 20 deg of bank")
    turned = np.degrees(np.unwrap(np.radians(heading)))
    must(turned.max() - turned.min() > 250.0, "the heading changes by less than 250 deg")
    must(turned[-1] < turned[0] - 250.0, "the turns are not to the left")
    height = altitude - FIELD_FT
    must(height[0] < 10.0, "it does not start on the runway")
    must(height.max() > 700.0, "it does not reach circuit height")
    must(20.0 < height[-1] < 150.0, "it does not end low on the approach")
    must(abs(nz[: 2 * ROW_HZ]).max() < 0.05, "standing still is not 1 g")
    # Airborne and away from the turns' own slow swing: 0.05 to 2 Hz is the
    # part a motion base can show.
    flying = height > 60.0
    for name, column in (("pitch", pitch), ("roll", roll)):
        life = band_rms(column[flying], 0.05, 2.0)
        must(life >= 0.5, f"{name} moves by only {life:.2f} deg rms between 0.05 and 2 Hz")


def as_text(rows):
    """The CSV, byte for byte."""
    lines = [",".join(name for name, *_ in COLUMNS)]
    for row in rows:
        # + 0.0 turns a rounded -0.0 into 0.0.
        lines.append(
            ",".join(
                f"{round(value, places) + 0.0:.{places}f}"
                for (_, places, *_), value in zip(COLUMNS, row)
            )
        )
    return "\n".join(lines) + "\n"


def read_trace(path):
    with open(path, newline="", encoding="utf-8") as file:
        reader = csv.reader(file)
        header = next(reader, [])
        if header != [name for name, *_ in COLUMNS]:
            raise FlightError(f"{path.name}: unexpected columns {','.join(header)}")
        try:
            rows = [tuple(map(float, line)) for line in reader]
        except ValueError as error:
            raise FlightError(f"{path.name}, line {reader.line_num}: {error}") from None
    for number, row in enumerate(rows, start=2):
        if len(row) != len(COLUMNS):
            raise FlightError(f"{path.name}, line {number}: {len(row)} values, not {len(COLUMNS)}")
    return rows


def compare(shipped, flown):
    """Complain about the first place where the two flights part."""
    if len(shipped) != len(flown):
        raise FlightError(f"the file has {len(shipped)} rows, the flight {len(flown)}")
    for old, new in zip(shipped, flown):
        for (name, places, _, _, tolerance), a, b in zip(COLUMNS, old, new):
            apart = abs(a - b)
            if name == "heading_deg":
                apart = min(apart, 360.0 - apart)
            # Half a unit of the last place is the file's rounding. Negated so
            # that a NaN counts as apart.
            if not apart <= tolerance + 0.5 * 10.0**-places + 1e-9:
                raise FlightError(
                    f"at {old[0]:.2f} s {name} is {a:.{places}f} in the file "
                    f"and {b:.{places}f} when flown again (tolerance {tolerance})"
                )


def summary(rows):
    table = np.array(rows)
    return ", ".join(
        f"{name} {low:.{places}f}..{high:.{places}f}"
        for (name, places, *_), low, high in zip(COLUMNS, table.min(0), table.max(0))
    )


def main():
    parser = argparse.ArgumentParser(description="Fly the evening circuit in JSBSim.")
    parser.add_argument("--check", action="store_true", help="compare with the file, write nothing")
    parser.add_argument("--out", type=Path, default=TRACE, metavar="FILE", help="the CSV file")
    args = parser.parse_args()
    try:
        rows, legs = fly()
        check_flight(rows, legs)
        if args.check:
            if not args.out.is_file():
                raise FlightError(f"{args.out.name} is not there; run without --check to fly it")
            shipped = read_trace(args.out)
            check_flight(shipped, None)
            compare(shipped, rows)
            print(f"fly_circuit: {args.out.name} is the flight flown again, {len(rows)} rows")
        else:
            args.out.parent.mkdir(parents=True, exist_ok=True)
            args.out.write_text(as_text(rows), encoding="utf-8", newline="\n")
            print(f"fly_circuit: {len(rows)} rows; {summary(rows)}")
    except FlightError as error:
        print(f"fly_circuit: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
