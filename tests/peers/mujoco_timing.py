"""Nanoseconds of one mj_inverse on the rig that stands as JSON on standard input.

A model and its data as in mujoco_legs.py. The time of the Python loop and call is measured on mj_energyPos of an empty
model and taken off.
"""

import json
import sys
import time

import mujoco

import mujoco_legs

ROUNDS = 100_000


def clock(call):
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        for _ in range(ROUNDS):
            call()
        best = min(best, time.perf_counter() - start)
    return best / ROUNDS * 1e9


case = json.load(sys.stdin)
model, order = mujoco_legs.model(case)
data = mujoco.MjData(model)
data.qpos[:] = 0.05
data.qvel[:] = 0.3
data.qacc[:] = 2.0
empty = mujoco.MjModel.from_xml_string("<mujoco/>")
idle = mujoco.MjData(empty)
bare = clock(lambda: mujoco.mj_energyPos(empty, idle))
print(json.dumps(clock(lambda: mujoco.mj_inverse(model, data)) - bare))
