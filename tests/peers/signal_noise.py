"""Welch's estimate of a noise against the density it was asked for: f**slope in the band, with unit power."""
import json
import sys

import numpy as np
from scipy import signal


def compare(asked):
    rate, low, high, slope = asked["rate_hz"], asked["low_hz"], asked["high_hz"], asked["slope"]
    x = np.array(asked["samples"])
    segment = int(round(rate * asked["segment_s"]))
    window = signal.get_window("blackmanharris", segment)
    f, density = signal.welch(x, fs=rate, window=window, nperseg=segment, noverlap=segment // 2, detrend=False)

    # What the estimate should be: the ideal density seen through the window.
    fine = np.linspace(low, high, 4001)
    ideal = fine**slope
    ideal /= np.trapezoid(ideal, fine)
    response = np.abs(np.fft.fft(window, 64 * segment)) ** 2
    response /= response.sum() * rate / (64 * segment)
    spread = np.fft.fftshift(response)
    offset = np.fft.fftshift(np.fft.fftfreq(64 * segment, 1 / rate))
    expected = np.array([np.trapezoid(ideal * np.interp(fine - at, offset, spread), fine) for at in f])

    width = 4 / asked["segment_s"]
    inside = (f > low + width / 2) & (f < high - width / 2)
    outside = (f < low - width) | (f > high + width)
    ratio = density[inside] / expected[inside]
    thirds = np.geomspace(low, high, 4)
    parts = []
    for a, b in zip(thirds, thirds[1:]):
        pick = (fine >= a) & (fine <= b)
        # A long transform splits the power by frequency with hardly any leak.
        parts.append(float(np.trapezoid(ideal[pick], fine[pick])))
    spectrum = np.abs(np.fft.rfft(x * signal.windows.hann(len(x)))) ** 2
    at = np.fft.rfftfreq(len(x), 1 / rate)
    shares = [float(spectrum[(at >= a) & (at < b)].sum() / spectrum.sum()) for a, b in zip(thirds, thirds[1:])]
    return {
        "bins": int(inside.sum()),
        "least": float(ratio.min()),
        "most": float(ratio.max()),
        "mean": float(ratio.mean()),
        "leak": float(density[outside].max() / density.max()),
        "power": float(np.trapezoid(density, f)),
        "rms": float(np.sqrt(np.mean(x**2))),
        "shares": shares,
        "expected_shares": parts,
    }


json.dump([compare(asked) for asked in json.load(sys.stdin)], sys.stdout)
