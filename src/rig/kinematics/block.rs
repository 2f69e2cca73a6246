//! Legs of whole blocks of samples: the fast path of rendering.

use super::pin::Pin;
use super::timed::{Timed, Turn, root};
use crate::rig::lanes::{LANES, Lane, Lanes};
use crate::rig::{Actuator, Axis, MAX_LEGS, Rig};
use crate::signal::{BLOCK, JetBlock, widest};

const _: () = assert!(BLOCK.is_multiple_of(LANES), "a block is whole groups of lanes");

/// A leg's length with its time derivatives, for any axes: L = |x - b|.
#[inline(always)]
pub(super) fn leg<T: Lane>(rig: &Rig, actuator: &Actuator, q: impl Fn(usize) -> Timed<T>) -> Timed<T> {
    let x = anchor(rig, actuator, q);
    let base = &actuator.base_r_m;
    let [x, y, z] =
        [x[0] - Timed::constant(base.x), x[1] - Timed::constant(base.y), x[2] - Timed::constant(base.z)];
    (x * x + y * y + z * z).sqrt()
}

/// A leg's anchor with its time derivatives, rig frame, for any axes: x = t + R a.
#[inline(always)]
pub(super) fn anchor<T: Lane>(
    rig: &Rig,
    actuator: &Actuator,
    q: impl Fn(usize) -> Timed<T>,
) -> [Timed<T>; 3] {
    let anchor = &actuator.anchor_p_m;
    let mut x = [Timed::constant(anchor.x), Timed::constant(anchor.y), Timed::constant(anchor.z)];
    for (j, limits) in rig.axes.iter().enumerate().rev().filter(|(_, limits)| limits.axis.is_rotation()) {
        let (sin, cos) = q(j).sin_cos();
        let (p, r) = ((limits.axis.index() + 1) % 3, (limits.axis.index() + 2) % 3);
        (x[p], x[r]) = (cos * x[p] - sin * x[r], sin * x[p] + cos * x[r]);
    }
    for (j, limits) in rig.axes.iter().enumerate().filter(|(_, limits)| !limits.axis.is_rotation()) {
        let along = &mut x[limits.axis.index()];
        *along = *along + q(j);
    }
    x
}

/// Leg coordinates with time derivatives for the first `count` samples of a block: `q` one block a coordinate, `legs` one
/// block a leg. What stands beyond `count` up to the next multiple of eight is overwritten. No allocation.
///
/// The same to about 1e-13 of a length as [`super::leg_jet`].
pub fn leg_block(rig: &Rig, q: &[JetBlock], count: usize, legs: &mut [JetBlock]) {
    let groups = count.min(BLOCK).div_ceil(LANES);
    if q.len() < rig.axes.len() {
        return;
    }
    // Once a block: a rig without cranks goes the way that knows none.
    if rig.has_cranks() {
        return with_cranks(rig, q, groups, legs);
    }
    widest(
        #[inline(always)]
        || match rig.axes.as_slice() {
            [outer, inner]
                if outer.axis.is_rotation()
                    && inner.axis.is_rotation()
                    && outer.axis != inner.axis
                    && rig.actuators.len() <= MAX_LEGS =>
            {
                universal(rig, [outer.axis, inner.axis], q, groups, legs);
            }
            _ => general(rig, q, groups, legs),
        },
    );
}

#[inline(always)]
fn load(block: &JetBlock, group: usize) -> Timed<Lanes> {
    Timed([0, 1, 2, 3].map(|k| Lanes(block.0[k].as_chunks::<LANES>().0[group])))
}

#[inline(always)]
fn store(block: &mut JetBlock, group: usize, value: Timed<Lanes>) {
    for (row, lanes) in block.0.iter_mut().zip(value.0) {
        row.as_chunks_mut::<LANES>().0[group] = lanes.0;
    }
}

#[inline(always)]
fn general(rig: &Rig, q: &[JetBlock], groups: usize, legs: &mut [JetBlock]) {
    for group in 0..groups {
        for (actuator, block) in rig.actuators.iter().zip(legs.iter_mut()) {
            store(block, group, leg(rig, actuator, |j| load(&q[j], group)));
        }
    }
}

/// Screws and cranks on one rig.
fn with_cranks(rig: &Rig, q: &[JetBlock], groups: usize, legs: &mut [JetBlock]) {
    for (actuator, block) in rig.actuators.iter().zip(legs.iter_mut()) {
        let pin = actuator.crank.as_ref().map(Pin::new);
        for group in 0..groups {
            let coordinate = |j: usize| load(&q[j], group);
            let value = match &pin {
                None => leg(rig, actuator, coordinate),
                Some(pin) => pin.coordinate(anchor(rig, actuator, coordinate)),
            };
            store(block, group, value);
        }
    }
}

/// What a leg on a universal joint has of constants.
///
/// With R = Ro Ri, L^2 = |a|^2 + |b|^2 - 2 (Ro^T b) . (Ri a): each component of `Ro^T b` and of `Ri a` is a constant
/// or a cos + b sin of one angle, so that a leg needs one product of jets only.
#[derive(Debug, Clone, Copy, Default)]
struct UniversalLeg {
    /// (|a|^2 + |b|^2) / 2.
    half: f64,
    /// Cosine and sine coefficients: outer angle alone, inner angle alone, and the two factors of their product.
    outer: [f64; 2],
    inner: [f64; 2],
    outer_factor: [f64; 2],
    inner_factor: [f64; 2],
}

impl UniversalLeg {
    #[inline(always)]
    fn new(actuator: &Actuator, [outer, inner]: [Axis; 2]) -> Self {
        let (a, b) = (actuator.anchor_p_m, actuator.base_r_m);
        let (o, i) = (outer.index(), inner.index());
        let third = 3 - o - i;
        let turned_a = inner.unit().cross(&a);
        let turned_b = outer.unit().cross(&b);
        Self {
            half: 0.5 * (a.norm_squared() + b.norm_squared()),
            outer: [a[i] * b[i], -a[i] * turned_b[i]],
            inner: [b[o] * a[o], b[o] * turned_a[o]],
            outer_factor: [b[third], -turned_b[third]],
            inner_factor: [a[third], turned_a[third]],
        }
    }

    #[inline(always)]
    fn length(&self, outer: &Turn<Lanes>, inner: &Turn<Lanes>) -> Timed<Lanes> {
        let mix = |turn: &Turn<Lanes>, [a, b]: [f64; 2]| turn.mix(Lanes::splat(a), Lanes::splat(b));
        let dot = mix(outer, self.outer)
            + mix(inner, self.inner)
            + mix(outer, self.outer_factor) * mix(inner, self.inner_factor);
        let [u0, u1, u2, u3] = dot.0;
        let square = Lanes::splat(2.0) * (Lanes::splat(self.half) - u0);
        root(square.sqrt(), [-u1, -u2, -u3])
    }
}

#[inline(always)]
fn universal(rig: &Rig, axes: [Axis; 2], q: &[JetBlock], groups: usize, legs: &mut [JetBlock]) {
    let [outer, inner, ..] = q else { return };
    // Constants of as many legs as a rig may have, on the stack.
    let mut constants = [UniversalLeg::default(); MAX_LEGS];
    for (constant, actuator) in constants.iter_mut().zip(&rig.actuators) {
        *constant = UniversalLeg::new(actuator, axes);
    }
    for group in 0..groups {
        let (outer, inner) = (Turn::of(load(outer, group)), Turn::of(load(inner, group)));
        for (constant, block) in constants.iter().take(rig.actuators.len()).zip(legs.iter_mut()) {
            store(block, group, constant.length(&outer, &inner));
        }
    }
}
