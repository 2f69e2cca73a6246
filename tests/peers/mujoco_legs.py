"""Leg lengths, their Jacobian and leg forces of many rigs by MuJoCo.

Reads a JSON list of cases on standard input and prints a JSON list of answers. A case holds data alone: axes, anchors,
payload, coordinates with rates and accelerations, in the program's frame (x forward, y right, z down). Nothing here
knows a formula for a leg: each is a spatial tendon between two sites, the platform is one body with one joint an axis.
"""

import json
import sys

import mujoco
import numpy as np

# MuJoCo's world here is x forward, y left, z up: half a turn about x from the program's frame.
TURN = np.diag([1.0, -1.0, -1.0])
AXES = {
    "roll": ("hinge", [1, 0, 0]),
    "pitch": ("hinge", [0, 1, 0]),
    "yaw": ("hinge", [0, 0, 1]),
    "surge": ("slide", [1, 0, 0]),
    "sway": ("slide", [0, 1, 0]),
    "heave": ("slide", [0, 0, 1]),
}


def words(values):
    return " ".join(repr(float(value)) for value in values)


def model(case):
    # Slides first: the program's translations run along the frame's axes whatever their place in the order.
    order = sorted(range(len(case["axes"])), key=lambda j: AXES[case["axes"][j]][0] == "hinge")
    joints = ""
    for j in order:
        kind, axis = AXES[case["axes"][j]]
        joints += f'<joint type="{kind}" axis="{words(TURN @ axis)}"/>'
    inertia = TURN @ np.array(case["inertia"]).reshape(3, 3) @ TURN
    full = [inertia[0, 0], inertia[1, 1], inertia[2, 2], inertia[0, 1], inertia[0, 2], inertia[1, 2]]
    bases = anchors = tendons = ""
    for k, (base, anchor) in enumerate(zip(case["base"], case["anchor"])):
        bases += f'<site name="b{k}" pos="{words(TURN @ base)}"/>'
        anchors += f'<site name="a{k}" pos="{words(TURN @ anchor)}"/>'
        tendons += f'<spatial><site site="b{k}"/><site site="a{k}"/></spatial>'
    xml = (
        f'<mujoco><compiler angle="radian" balanceinertia="false" autolimits="false"/>'
        f'<option gravity="0 0 {-case["gravity"]!r}"/><worldbody>{bases}<body>{joints}'
        f'<inertial pos="{words(TURN @ case["centre"])}" mass="{case["mass"]!r}" fullinertia="{words(full)}"/>'
        f"{anchors}</body></worldbody><tendon>{tendons}</tendon></mujoco>"
    )
    return mujoco.MjModel.from_xml_string(xml), order


def dense(model, data):
    """ten_J as rows: MuJoCo 4 keeps it sparse."""
    rows = np.zeros((model.ntendon, model.nv))
    values = np.asarray(data.ten_J).ravel()
    for k in range(model.ntendon):
        start, count = model.ten_J_rowadr[k], model.ten_J_rownnz[k]
        rows[k, model.ten_J_colind[start : start + count]] = values[start : start + count]
    return rows


def answer(case):
    compiled, order = model(case)
    data = mujoco.MjData(compiled)
    back = np.argsort(order)

    def inverse(rate, acceleration):
        data.qpos[:] = np.array(case["q"])[order]
        data.qvel[:] = np.array(rate)[order]
        data.qacc[:] = np.array(acceleration)[order]
        mujoco.mj_inverse(compiled, data)
        return np.linalg.solve(dense(compiled, data).T, data.qfrc_inverse)

    zero = np.zeros(len(order))
    held = inverse(zero, zero)
    moved = inverse(case["rate"], case["acceleration"])
    return {
        "lengths": data.ten_length.tolist(),
        "jacobian": dense(compiled, data)[:, back].ravel().tolist(),
        "held": held.tolist(),
        "moved": moved.tolist(),
    }


if __name__ == "__main__":
    print(json.dumps([answer(case) for case in json.load(sys.stdin)]))
