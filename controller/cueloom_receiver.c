/* A small reference receiver: watchdog, interpolation, coordinated stop and brakes on silence, homing on command.
 *
 * It stops by itself whenever orders stay away; it never homes, parks or starts by itself. Torque comes before brakes
 * open, and brakes close before torque goes, but for an order of kind OFF, which is heeded at once. C99, no memory
 * allocated, no clock read: the caller says what time it is. It is an example to build on, not a certified part, and
 * not a safety function: end switches, a hard-wired stop and the drives' own limits must hold without it.
 */
#include "cueloom_motion.h"

#include <math.h>
#include <string.h>

/* Torque and brakes that were told and are not confirmed after this long are a fault. */
#define CONFIRMED_S 0.5

void cl_receiver_init(cl_receiver *r, const cl_config *config)
{
    memset(r, 0, sizeof *r);
    r->config = *config;
    r->fault_leg = 255;
}

void cl_receiver_know(cl_receiver *r, const int64_t *zero_nm)
{
    memcpy(r->zero_nm, zero_nm, sizeof r->zero_nm[0] * r->config.legs);
    r->homed = 1;
}

/* Counts and clocks that go round: less than half the circle ahead is newer. No casts of large values to signed types,
 * which are the compiler's own choice in C99. */
static int is_newer(uint32_t a, uint32_t b)
{
    return a != b && a - b < (uint32_t)1 << 31;
}

static double ahead_us(uint64_t a, uint64_t b)
{
    return a - b < (uint64_t)1 << 63 ? (double)(a - b) : -(double)(b - a);
}

static int at_rest(const cl_receiver *r)
{
    return r->state == CL_OFF || r->state == CL_FAULT;
}

size_t cl_receiver_take(cl_receiver *r, const uint8_t *bytes, size_t n, uint64_t now_us, uint8_t *answer)
{
    cl_frame f;
    if (!cl_read(&f, bytes, n)) {
        r->rejected++;
        return 0;
    }
    if (f.kind == CL_HELLO) {
        /* Answered whoever asks; nothing changes by it. */
        cl_frame id;
        memset(&id, 0, sizeof id);
        id.kind = CL_IDENTITY;
        id.legs = r->config.legs;
        id.session = f.session;
        id.sequence = f.sequence;
        id.time_us = f.time_us;
        id.u.identity = r->config.identity;
        return cl_write(&id, answer);
    }
    if (f.kind != CL_ORDER || f.legs != r->config.legs) {
        r->rejected++;
        return 0;
    }
    if (!r->have_session || f.session != r->session) {
        /* A new run begins with drives off, while nothing moves. */
        if (!at_rest(r) || f.u.order.kind != CL_OFF) {
            r->rejected++;
            return 0;
        }
        r->have_session = 1;
        r->session = f.session;
        r->have_order = 0;
        r->points = 0;
    }
    if (r->have_order && !is_newer(f.sequence, r->sequence)) {
        r->rejected++; /* twice, or overtaken */
        return 0;
    }
    uint64_t offset_us = now_us - f.time_us;
    if (!r->have_order || ahead_us(offset_us, r->offset_us) < 0.0) {
        r->offset_us = offset_us;
    } else if (r->offset_us != offset_us) {
        r->offset_us += 1; /* lets the clocks drift by a part in a thousand */
    }
    r->have_order = 1;
    r->sequence = f.sequence;
    r->order_time_us = f.time_us;
    r->order_came_us = now_us;
    r->order = f.u.order;
    if (f.u.order.kind == CL_FOLLOW) {
        double at_us = (double)(f.time_us + r->offset_us) + ahead_us(f.u.order.apply_at_us, f.time_us);
        if (r->points > 0 && at_us <= r->point[r->points - 1].at_us) {
            return 0;
        }
        if (r->points == CL_POINTS) {
            memmove(r->point, r->point + 1, (CL_POINTS - 1) * sizeof r->point[0]);
            r->points--;
        }
        r->point[r->points].at_us = at_us;
        for (int i = 0; i < r->config.legs; i++) {
            r->point[r->points].nm[i] = (double)f.u.order.leg[i].position_nm;
        }
        r->points++;
    } else {
        r->points = 0;
    }
    return 0;
}

static int has_power(const cl_receiver *r)
{
    return r->state != CL_OFF && r->state != CL_FAULT;
}

/* Whether a leg's drive holds it, as far as it says so. */
static int is_driven(const cl_receiver *r, int leg)
{
    return r->now.powered[leg] && !r->now.drive_fault[leg];
}

/* How far a leg may be from its reference: what the controller is built with, and less where the program says so. */
static double window_nm(const cl_receiver *r)
{
    double built_nm = (double)r->config.following_nm, ordered_nm = 1000.0 * (double)r->order.window_um;
    return r->have_order && ordered_nm < built_nm ? ordered_nm : built_nm;
}

static void look_at_leg(cl_receiver *r, int leg, int all_released)
{
    const cl_hardware *h = &r->now;
    if (h->drive_fault[leg]) cl_find_fault(r, CL_FAULT_DRIVE, leg);
    if (h->too_hot[leg]) cl_find_fault(r, CL_FAULT_HOT, leg);
    if (!has_power(r)) return;
    /* Torque that went, or never came, whether the drive calls it a fault or not. */
    if (!h->powered[leg] && (r->had_power[leg] || r->power_s > CONFIRMED_S)) cl_find_fault(r, CL_FAULT_DRIVE, leg);
    /* Homing looks for the short end's switch, and a jog is what brings a leg off either. */
    int ends = r->state == CL_FOLLOW && (h->short_end[leg] || h->long_end[leg]);
    if (ends || (r->state == CL_HOME && h->long_end[leg] && r->rate_nm_s[leg] > 0.0)) {
        cl_find_fault(r, CL_FAULT_END_SWITCH, leg);
    }
    int held = r->state != CL_HOLD || all_released;
    if (held && fabs(cl_length_nm(r, leg) - r->reference_nm[leg]) > window_nm(r)) {
        cl_find_fault(r, CL_FAULT_FOLLOWING, leg);
    }
    if (r->brake_s > CONFIRMED_S && !h->brake_released[leg]) cl_find_fault(r, CL_FAULT_BRAKE, leg);
}

static void look(cl_receiver *r, uint64_t now_us, int all_released)
{
    uint64_t silence_ms = r->config.longest_silence_ms;
    if (r->order.silence_ms != 0 && r->order.silence_ms < silence_ms) silence_ms = r->order.silence_ms;
    for (int i = 0; i < r->config.legs; i++) look_at_leg(r, i, all_released);
    if (has_power(r)) {
        if (now_us - r->order_came_us > 1000u * silence_ms) cl_find_fault(r, CL_FAULT_SILENCE, -1);
        if (r->now.input[CL_STOP] != CL_CLOSED) cl_find_fault(r, CL_FAULT_STOP, -1);
    }
}

/* What an order of this kind comes to: set-points only move with brakes confirmed off, whatever it says. */
static uint8_t heeded(cl_receiver *r, uint8_t kind, int all_released)
{
    uint8_t next = all_released && r->order.release ? kind : CL_HOLD;
    if (next == CL_HOME && !r->homing_begun) {
        r->homing_begun = 1;
        cl_begin_homing(r);
    }
    if (next == CL_HOME && r->homed) next = CL_HOLD;
    if (next == CL_FOLLOW && (!r->homed || r->points == 0)) next = CL_HOLD;
    if (next != CL_FOLLOW) r->points = 0;
    if (next == CL_FOLLOW && r->state != CL_FOLLOW) {
        /* The first set-point is hardly where the legs stand to a micrometre: no step of it. */
        for (int i = 0; i < r->config.legs; i++) {
            r->join_nm[i] = r->reference_nm[i] - r->point[0].nm[i];
            if (fabs(r->join_nm[i]) > window_nm(r)) {
                cl_find_fault(r, CL_FAULT_FOLLOWING, i);
                next = CL_HOLD;
            }
        }
    }
    return next;
}

/* From one state to the next by what is ordered and what is wrong. */
static void decide(cl_receiver *r, uint64_t now_us, int all_released)
{
    uint8_t kind = r->have_order ? r->order.kind : CL_OFF;
    /* Once for as long as it is asked for: a reference that was found is not looked for again. */
    if (kind != CL_HOME) r->homing_begun = 0;
    if (kind == CL_OFF && has_power(r)) {
        r->state = r->fault ? CL_FAULT : CL_OFF; /* at once: that is what it is for */
    } else if (kind == CL_OFF && r->fault != CL_NO_FAULT) {
        /* The program has seen it, or it came up while drives were off; it ends when its cause has. */
        r->fault = CL_NO_FAULT;
        r->fault_leg = 255;
        r->state = CL_OFF;
        look(r, now_us, all_released);
        if (r->fault != CL_NO_FAULT) r->state = CL_FAULT;
    } else if (r->state == CL_OFF && kind != CL_OFF && r->fault == CL_NO_FAULT) {
        int fresh = now_us - r->order_came_us < 1000u * (uint64_t)r->config.longest_silence_ms;
        /* Whatever was asked: first torque, where it stands. */
        if (fresh && r->now.input[CL_STOP] == CL_CLOSED) r->state = CL_HOLD;
    } else if (has_power(r) && r->state != CL_STOPPING) {
        r->state = r->fault ? CL_STOPPING : heeded(r, kind, all_released);
    }
}

static void move(cl_receiver *r, uint64_t now_us, double tick_s, int all_set)
{
    r->stands = 0;
    switch (r->state) {
    case CL_FOLLOW: cl_follow(r, (double)now_us, tick_s); break;
    case CL_JOG: cl_jog(r, tick_s); break;
    case CL_HOME: cl_home(r, tick_s); break;
    case CL_HOLD: cl_slow(r, tick_s); break;
    case CL_STOPPING:
        r->stands = (uint8_t)cl_slow(r, tick_s);
        /* Torque stays until the brakes hold; and where they do not, as long as the hardware lets it. */
        if (r->stands && all_set) r->state = CL_FAULT;
        break;
    default: cl_stand(r);
    }
}

void cl_receiver_tick(cl_receiver *r, const cl_hardware *hardware, uint64_t now_us, cl_command *command)
{
    double tick_s = r->tick_us == 0 ? 0.001 : (double)(now_us - r->tick_us) * 1e-6;
    if (tick_s <= 0.0) tick_s = 1e-6;
    r->tick_us = now_us;
    r->now = *hardware;
    int all_set = 1, all_released = 1, all_driven = 1;
    for (int i = 0; i < r->config.legs; i++) {
        all_set = all_set && hardware->brake_set[i];
        all_released = all_released && hardware->brake_released[i];
        all_driven = all_driven && is_driven(r, i);
    }
    r->power_s = has_power(r) ? r->power_s + tick_s : 0.0;
    r->brake_s = r->released ? r->brake_s + tick_s : 0.0;
    look(r, now_us, all_released);
    decide(r, now_us, all_released);
    move(r, now_us, tick_s, all_set);
    for (int i = 0; i < r->config.legs; i++) r->had_power[i] = has_power(r) && is_driven(r, i);
    /* A leg without torque is driven by its load: nothing stops it but its brake, whatever else was wrong first. */
    r->released = has_power(r) && r->order.release && all_driven && !r->stands;
    command->power = (uint8_t)has_power(r);
    command->release = r->released;
    command->warn = r->have_order && now_us - r->order_came_us < 500000u ? r->order.warn : 0;
    for (int i = 0; i < r->config.legs; i++) {
        command->reference_nm[i] = r->reference_nm[i] - (double)r->zero_nm[i];
        command->force_limit_mn[i] = r->order.leg[i].force_limit_mn;
    }
}

size_t cl_receiver_feedback(cl_receiver *r, uint64_t now_us, uint8_t *to)
{
    cl_frame f;
    cl_feedback *b = &f.u.feedback;
    memset(&f, 0, sizeof f);
    f.kind = CL_FEEDBACK;
    f.legs = r->config.legs;
    f.session = r->session;
    f.sequence = ++r->sent;
    f.time_us = now_us;
    b->echo_us = r->order_time_us;
    b->echo_sequence = r->sequence;
    b->state = r->state;
    b->homed = r->homed;
    b->fault = r->fault;
    b->fault_leg = r->fault_leg;
    b->rejected = r->rejected;
    memcpy(b->input, r->now.input, sizeof b->input);
    int set = 1, released = 1;
    for (int i = 0; i < r->config.legs; i++) {
        cl_leg_feedback *leg = &b->leg[i];
        leg->position_nm = r->now.count_nm[i] + r->zero_nm[i];
        leg->speed_um_s = r->now.speed_um_s[i];
        leg->force_mn = r->now.force_mn[i];
        leg->temperature_dc = r->now.temperature_dc[i];
        leg->flags = (uint16_t)((r->now.powered[i] ? CL_LEG_POWER : 0) | (r->now.brake_released[i] ? CL_LEG_RELEASED : 0) |
                                (r->now.brake_set[i] ? CL_LEG_SET : 0) | (r->now.short_end[i] ? CL_LEG_SHORT_END : 0) |
                                (r->now.long_end[i] ? CL_LEG_LONG_END : 0) | (r->now.drive_fault[i] ? CL_LEG_FAULT : 0));
        set = set && r->now.brake_set[i];
        released = released && r->now.brake_released[i];
        if (fabs(r->rate_nm_s[i]) > 0.0 && r->state != CL_FOLLOW) b->moving = 1;
    }
    b->brakes = set ? CL_BRAKES_SET : released ? CL_BRAKES_RELEASED : CL_BRAKES_UNKNOWN;
    return cl_write(&f, to);
}
