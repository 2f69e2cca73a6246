"""The waveforms written down again, and their derivatives by Cauchy's integral on a small circle in complex time (the
complex step for all orders at once; Lyness and Moler, SIAM J. Numer. Anal. 4, 1967)."""
import json
import sys

import numpy as np
from scipy import optimize, signal

ORDERS = {"value": 0, "rate": 1, "acceleration": 2}


def S(u):
    return u**4 * (35 - 84 * u + 70 * u**2 - 20 * u**3)


def edge(u):
    """S, constant beyond its ends; the real part says which piece."""
    real = np.real(u)
    return np.where(real <= 0, 0 * u, np.where(real >= 1, 1 + 0 * u, S(u)))


def ring(w, t):
    f, damping = w["frequency_hz"], w["damping"]
    half = 0.5 / f
    length = np.ceil(2 * np.log(100) / (2 * np.pi * damping) - 1e-9) * half
    omega = 2 * np.pi * f
    return np.exp(-damping * omega * t) * np.sin(omega * t) * edge(t / half) * edge((length - t) / half)


def pulse(w, t):
    return np.sin(np.pi * t / w["width_s"]) ** 4


def hold(w, t):
    return edge(t / w["ease_s"]) * edge((w["length_s"] - t) / w["back_s"])


def sine(w, t):
    f, slope = w["from_hz"], (w["to_hz"] - w["from_hz"]) / w["length_s"]
    now = f + slope * t
    value = np.sin(2 * np.pi * (f * t + slope * t**2 / 2 + w["phase_turns"]))
    return value / (2 * np.pi * now) ** ORDERS[w["order"]]


def sweep(w, t):
    ratio = w["to_hz"] / w["from_hz"]
    growth = ratio ** (t / w["length_s"])
    phase = w["from_hz"] * w["length_s"] / np.log(ratio) * (growth - 1)
    return np.sin(2 * np.pi * (phase + w["phase_turns"])) / (2 * np.pi * w["from_hz"] * growth) ** ORDERS[w["order"]]


def edges(w, t):
    out = 1.0
    if "rise_s" in w:
        out = out * edge(t / w["rise_s"]) * edge((w["length_s"] - t) / w["fall_s"])
    if "from_db" in w:
        out = out * 10 ** ((w["from_db"] + (w["to_db"] - w["from_db"]) * t / w["length_s"]) / 20)
    if "ease" in w:
        low, high = w["ease"]
        out = out * edge((t / w["length_s"] - low) / (high - low))
    return out


def derivatives(f, t, radius, points=64):
    circle = np.exp(2j * np.pi * np.arange(points) / points)
    values = f(t + radius * circle)
    terms = np.fft.fft(values) / points
    factorial = np.array([1, 1, 2, 6])
    return (terms[:4] * factorial / radius ** np.arange(4)).real


def peak(f, order, length, scale):
    at = np.linspace(0, length, 1001)[1:-1]
    size = lambda t: abs(f(np.asarray(t))) if order == 0 else abs(derivatives(f, t, scale)[order])
    sizes = np.array([size(t) for t in at])
    best = at[sizes.argmax()]
    step = at[1] - at[0]
    found = optimize.minimize_scalar(lambda t: -size(t), bounds=(best - step, best + step), method="bounded", options={"xatol": 1e-10 * length})
    return max(-found.fun, sizes.max())


SHAPES = {"ring": ring, "pulse": pulse, "hold": hold, "sine": sine, "sweep": sweep}
answers = []
for w in json.load(sys.stdin):
    if w["shape"] == "edge":
        # S and its derivatives as polynomials, their extremes from the roots of the next.
        p = np.poly1d([-20, 70, -84, 35, 0, 0, 0, 0])
        peaks = []
        for k in (1, 2, 3):
            at = p.deriv(k + 1).roots
            at = at.real[(abs(at.imag) < 1e-9) & (at.real > 0) & (at.real < 1)]
            peaks.append(float(abs(p.deriv(k)(at)).max()))
        answers.append(peaks)
        continue
    if w["shape"] == "chirp":
        t = np.array(w["at_s"])
        answers.append(
            signal.chirp(t, w["from_hz"], w["length_s"], w["to_hz"], method=w["method"], phi=-90).tolist()
        )
        continue
    shape = SHAPES[w["shape"]]
    f = lambda t: shape(w, t) * edges(w, t)
    scale = 1.0
    if w["shape"] in ("ring", "pulse", "hold"):
        scale = 1 / peak(f, ORDERS[w["order"]], w["peak_within_s"], w["radius_s"])
    answers.append([(scale * derivatives(f, t, w["radius_s"])).tolist() for t in w["at_s"]])
json.dump(answers, sys.stdout)
