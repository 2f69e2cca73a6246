"""Natural frequencies and twist of rigs, from potential and kinetic energy alone.

Reads cases as JSON from stdin, writes JSON. Nothing here comes from Cueloom's formulas: the stiffness is the second
difference of the potential, the mass matrix comes from differences of the pose, scipy.linalg.eigh does the rest.
"""

import json
import sys

import numpy as np
import scipy.linalg

G = 9.80665
STEP = 1e-3


def turn(axis, angle):
    c, s = np.cos(angle), np.sin(angle)
    p, r = (axis + 1) % 3, (axis + 2) % 3
    out = np.eye(3)
    out[p, p], out[p, r], out[r, p], out[r, r] = c, -s, s, c
    return out


AXES = {"roll": (True, 0), "pitch": (True, 1), "yaw": (True, 2), "surge": (False, 0), "sway": (False, 1), "heave": (False, 2)}


def pose(axes, q):
    """Rotations from the frame outwards in the axes' order; translations along the frame's axes (z down)."""
    rotation, translation = np.eye(3), np.zeros(3)
    for name, value in zip(axes, q):
        turns, index = AXES[name]
        if turns:
            rotation = rotation @ turn(index, value)
        else:
            translation[index] += value
    return rotation, translation


def slope(f, q):
    """First derivatives by the five-point rule, one row a coordinate."""
    rows = []
    for j in range(len(q)):
        e = np.zeros(len(q))
        e[j] = STEP
        rows.append((8 * (f(q + e) - f(q - e)) - (f(q + 2 * e) - f(q - 2 * e))) / (12 * STEP))
    return np.array(rows)


def solve(case):
    axes = case["axes"]
    q = np.array(case["q"] + [0.0] * (len(axes) - len(case["q"])))
    driven = len(case["q"])
    base, anchor = np.array(case["base"]), np.array(case["anchor"])
    centre, inertia, mass = np.array(case["centre"]), np.array(case["inertia"]), case["mass"]

    def lengths(q):
        rotation, translation = pose(axes, q)
        return np.linalg.norm(translation + anchor @ rotation.T - base, axis=1)

    def height(q):
        rotation, translation = pose(axes, q)
        return (translation + rotation @ centre)[2]

    # Static leg forces on the driven axes: the least of all that hold the weight.
    hold = -mass * G * slope(height, q)[:driven]
    force = np.linalg.lstsq(slope(lengths, q)[:driven], hold, rcond=None)[0]
    k, rest = np.array(case["legs"]), lengths(q)
    joint = np.array(case["joint"])

    def potential(x):
        stretch = lengths(x) - rest
        return (k * stretch**2 / 2 - force * stretch).sum() - mass * G * (height(x) - height(q)) + (joint * (x - q) ** 2 / 2).sum()

    stiffness = slope(lambda x: slope(potential, x), q)
    points = slope(lambda x: (lambda r: r[1] + r[0] @ centre)(pose(axes, x)), q)
    turns = slope(lambda x: pose(axes, x)[0].ravel(), q).reshape(-1, 3, 3)
    now = pose(axes, q)[0]
    spins = np.array([[m[2, 1], m[0, 2], m[1, 0]] for m in (now.T @ d for d in turns)])
    matrix = mass * points @ points.T + spins @ inertia @ spins.T
    point, load = np.array(case["point"]), np.array(case["load"])
    reach = slope(lambda x: (lambda r: r[1] + r[0] @ point)(pose(axes, x)), q)
    return {
        "squares": scipy.linalg.eigh(stiffness, matrix, eigvals_only=True).tolist(),
        "same_squares": scipy.linalg.eigh(np.array(case["stiffness"]), np.array(case["mass_matrix"]), eigvals_only=True).tolist(),
        "twist": np.linalg.solve(stiffness, reach @ load).tolist(),
    }


json.dump([solve(case) for case in json.load(sys.stdin)], sys.stdout)
