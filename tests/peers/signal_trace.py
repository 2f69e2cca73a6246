"""Filter taps, a filtered trace and a quintic spline by SciPy."""
import json
import sys

import numpy as np
from scipy import interpolate, signal

asked = json.load(sys.stdin)
out = {}
if "taps" in asked:
    want = asked["taps"]
    beta = signal.kaiser_beta(80.0)
    out["beta"] = float(beta)
    out["taps"] = [
        signal.firwin(w["count"], w["below_hz"], window=("kaiser", beta), fs=w["rate_hz"]).tolist() for w in want
    ]
    out["response"] = []
    for w, taps in zip(want, out["taps"]):
        below = w["below_hz"]
        at = [0.0, 0.75 * below, below, 1.25 * below]
        _, h = signal.freqz(taps, worN=at, fs=w["rate_hz"])
        out["response"].append(np.abs(h).tolist())
if "filter" in asked:
    want = asked["filter"]
    x = np.array(want["value"])
    taps = signal.firwin(want["count"], want["below_hz"], window=("kaiser", signal.kaiser_beta(80.0)), fs=want["rate_hz"])
    half = len(taps) // 2
    every = want["every"]
    padded = np.pad(x, (half, half + every), mode="edge")
    out["filtered"] = signal.lfilter(taps, 1.0, padded)[2 * half :][::every].tolist()
if "spline" in asked:
    want = asked["spline"]
    y = np.array(want["value"])
    t = want["start_s"] + want["step_s"] * np.arange(len(y))
    rest = [(3, 0.0), (4, 0.0)]
    spline = interpolate.make_interp_spline(t, y, k=5, bc_type=(rest, rest))
    at = np.array(want["at_s"])
    out["jets"] = [spline(at, nu=k).tolist() for k in range(4)]
json.dump(out, sys.stdout)
