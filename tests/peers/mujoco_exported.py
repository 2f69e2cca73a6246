"""Leg lengths, Jacobian and holding forces by MuJoCo from models that the program itself has exported.

Reads a JSON list of cases {xml, joints, legs, q, rate, acceleration} on standard input, all values in the order of the
names given, and prints a JSON list of answers. Nothing here knows what a rig is: joints, tendons and motors are looked
up by name in the model, and MuJoCo does the rest.
"""

import json
import sys

import mujoco
import numpy as np


def dense(model, data):
    """ten_J as rows: MuJoCo 4 keeps it sparse."""
    rows = np.zeros((model.ntendon, model.nv))
    values = np.asarray(data.ten_J).ravel()
    for k in range(model.ntendon):
        start, count = model.ten_J_rowadr[k], model.ten_J_rownnz[k]
        rows[k, model.ten_J_colind[start : start + count]] = values[start : start + count]
    return rows


def answer(case):
    model = mujoco.MjModel.from_xml_string(case["xml"])
    data = mujoco.MjData(model)
    at = [model.joint(name).qposadr[0] for name in case["joints"]]
    dof = [model.joint(name).dofadr[0] for name in case["joints"]]
    legs = [model.tendon(name).id for name in case["legs"]]
    motors = [model.actuator(name).id for name in case["legs"]]

    def inverse(rate, acceleration):
        data.qpos[at] = case["q"]
        data.qvel[dof] = rate
        data.qacc[dof] = acceleration
        mujoco.mj_inverse(model, data)
        jacobian = dense(model, data)[legs][:, dof]
        return jacobian, np.linalg.solve(jacobian.T, data.qfrc_inverse[dof])

    zero = np.zeros(len(at))
    jacobian, held = inverse(zero, zero)
    lengths = data.ten_length[legs].tolist()
    _, moved = inverse(case["rate"], case["acceleration"])
    # The other way round: with these forces on the motors nothing accelerates.
    model.actuator_ctrllimited[:] = 0
    data.qpos[at], data.qvel[dof], data.ctrl[motors] = case["q"], zero, held
    mujoco.mj_forward(model, data)
    return {
        "lengths": lengths,
        "jacobian": jacobian.ravel().tolist(),
        "held": held.tolist(),
        "moved": moved.tolist(),
        "left": float(np.abs(data.qacc).max()),
    }


print(json.dumps([answer(case) for case in json.load(sys.stdin)]))
