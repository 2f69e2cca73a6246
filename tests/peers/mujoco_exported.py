"""Leg lengths, Jacobian and holding forces by MuJoCo from models that the program itself has exported.

Reads a JSON list of cases {xml, joints, legs, arms, q, rate, acceleration} on standard input, all values in the order of
the names given, and prints a JSON list of answers. Nothing here knows what a rig is: joints, tendons and motors are looked
up by name in the model, and MuJoCo does the rest.

A leg with an arm is a crank: a hinge "crank NAME", and a tendon "rod NAME" whose length must stay what it is in the model as
it was written. Its angle is found here, by MuJoCo's own lengths and slopes of that tendon, from there to the pose in steps;
its slopes follow from those of the rod by the implicit function theorem, and its coordinate is angle times arm.
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


def crank_answer(case):
    model = mujoco.MjModel.from_xml_string(case["xml"])
    # Rods are dealt with below; in inverse dynamics their constraints would count as forces.
    model.opt.disableflags |= mujoco.mjtDisableBit.mjDSBL_EQUALITY
    data = mujoco.MjData(model)
    at = [model.joint(name).qposadr[0] for name in case["joints"]]
    dof = [model.joint(name).dofadr[0] for name in case["joints"]]
    arms = case["arms"]
    tendons = [
        model.tendon(name if arm is None else "rod " + name).id for name, arm in zip(case["legs"], arms)
    ]
    hinges = [
        None if arm is None else (model.joint("crank " + name).qposadr[0], model.joint("crank " + name).dofadr[0])
        for name, arm in zip(case["legs"], arms)
    ]
    mujoco.mj_forward(model, data)
    rods = data.ten_length.copy()
    for step in np.linspace(0, 1, 41):
        data.qpos[at] = step * np.array(case["q"])
        for _ in range(30):
            mujoco.mj_forward(model, data)
            slopes, off = dense(model, data), 0.0
            for tendon, hinge in zip(tendons, hinges):
                if hinge is not None:
                    error = data.ten_length[tendon] - rods[tendon]
                    data.qpos[hinge[0]] -= error / slopes[tendon, hinge[1]]
                    off = max(off, abs(error))
            if off < 1e-14:
                break
    mujoco.mj_forward(model, data)
    slopes = dense(model, data)
    lengths, rows = [], []
    for tendon, hinge, arm in zip(tendons, hinges, arms):
        if hinge is None:
            lengths.append(data.ten_length[tendon])
            rows.append(slopes[tendon, dof])
        else:
            lengths.append(arm * data.qpos[hinge[0]])
            rows.append(-arm * slopes[tendon, dof] / slopes[tendon, hinge[1]])
    jacobian = np.array(rows)

    def forces(rate, acceleration):
        data.qvel[:], data.qacc[:] = 0, 0
        data.qvel[dof], data.qacc[dof] = rate, acceleration
        mujoco.mj_inverse(model, data)
        return np.linalg.solve(jacobian.T, data.qfrc_inverse[dof])

    zero = np.zeros(len(at))
    return {
        "lengths": lengths,
        "jacobian": jacobian.ravel().tolist(),
        "held": forces(zero, zero).tolist(),
        "moved": forces(case["rate"], case["acceleration"]).tolist(),
    }


def answer(case):
    if any(arm is not None for arm in case["arms"]):
        return crank_answer(case)
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
