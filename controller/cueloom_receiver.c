/* A small reference receiver: watchdog, interpolation, coordinated stop and brakes on silence, homing on command.
 *
 * It stops by itself whenever orders stay away; it never homes, parks or starts by itself. Torque comes before brakes
 * open, and brakes close before torque goes, but for an order of kind OFF, which is heeded at once. C99, no memory
 * allocated, no clock read: the caller says what time it is. It is an example to build on, not a certified part, and
 * not a safety function: end switches, a hard-wired stop and the drives' own limits must hold without it.
 */
#include "cueloom_receiver.h"

#include <math.h>
#include <string.h>

/* Brakes that were told and are not confirmed after this long are a fault. */
#define BRAKE_US 500000u

void cl_receiver_init(cl_receiver *r, const cl_config *config)
{
    memset(r, 0, sizeof *r);
    r->config = *config;
    r->fault_leg = 255;
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
    if (r->have_order && (int32_t)(f.sequence - r->sequence) <= 0) {
        r->rejected++; /* twice, or overtaken */
        return 0;
    }
    int64_t offset = (int64_t)(now_us - f.time_us);
    if (!r->have_order || offset < r->offset_us) {
        r->offset_us = offset;
    } else if (r->offset_us < offset) {
        r->offset_us += 1; /* lets the clocks drift by a part in a thousand */
    }
    r->have_order = 1;
    r->sequence = f.sequence;
    r->order_time_us = f.time_us;
    r->order_came_us = now_us;
    r->order = f.u.order;
    if (f.u.order.kind == CL_FOLLOW) {
        double at_us = (double)((int64_t)f.u.order.apply_at_us + r->offset_us);
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

static void find_fault(cl_receiver *r, uint8_t fault, uint8_t leg)
{
    if (r->fault == CL_NO_FAULT) {
        r->fault = fault;
        r->fault_leg = leg;
    }
}

/* From here on all legs lose the same share of their speed, so that the platform stops along its line. */
static void begin_stop(cl_receiver *r)
{
    if (r->state == CL_STOPPING) {
        return;
    }
    r->stop_length_s = 0.0;
    r->stop_s = 0.0;
    for (int i = 0; i < r->config.legs; i++) {
        double needs_s = fabs(r->rate_nm_s[i]) / r->config.braking_nm_s2[i];
        r->stop_rate_nm_s[i] = r->rate_nm_s[i];
        if (needs_s > r->stop_length_s) {
            r->stop_length_s = needs_s;
        }
    }
    r->state = CL_STOPPING;
    r->brake_wait_us = 0;
}

static void go(cl_receiver *r, int leg, double rate_nm_s, double tick_s)
{
    double next = r->reference_nm[leg] + rate_nm_s * tick_s;
    /* Soft ends hold only where it is known where the legs are. */
    if (r->homed && next < (double)r->config.low_nm[leg]) {
        next = (double)r->config.low_nm[leg];
    }
    if (r->homed && next > (double)r->config.high_nm[leg]) {
        next = (double)r->config.high_nm[leg];
    }
    r->rate_nm_s[leg] = rate_nm_s;
    r->reference_nm[leg] = next;
}

/* Towards a wanted speed, no harder than the leg may be braked. */
static void creep(cl_receiver *r, int leg, double wanted_nm_s, double tick_s)
{
    double most = r->config.braking_nm_s2[leg] * tick_s;
    double limit = r->config.creep_nm_s;
    if (wanted_nm_s > limit) wanted_nm_s = limit;
    if (wanted_nm_s < -limit) wanted_nm_s = -limit;
    double change = wanted_nm_s - r->rate_nm_s[leg];
    if (change > most) change = most;
    if (change < -most) change = -most;
    go(r, leg, r->rate_nm_s[leg] + change, tick_s);
}

/* Set-points at a time between them: a straight line; beyond the last, on at the same rate until silence is noticed. */
static void follow(cl_receiver *r, double now_us, double tick_s)
{
    while (r->points > 2 && r->point[1].at_us <= now_us) {
        memmove(r->point, r->point + 1, (size_t)(r->points - 1) * sizeof r->point[0]);
        r->points--;
    }
    for (int i = 0; i < r->config.legs; i++) {
        double next = r->reference_nm[i];
        if (r->points == 1) {
            next = r->point[0].nm[i] + r->join_nm[i];
        } else if (r->points >= 2) {
            double length_us = r->point[1].at_us - r->point[0].at_us;
            double share = (now_us - r->point[0].at_us) / length_us;
            next = r->point[0].nm[i] + (share < 0.0 ? 0.0 : share) * (r->point[1].nm[i] - r->point[0].nm[i]);
            double fade = r->config.creep_nm_s * tick_s * 0.1;
            if (r->join_nm[i] > fade) r->join_nm[i] -= fade;
            else if (r->join_nm[i] < -fade) r->join_nm[i] += fade;
            else r->join_nm[i] = 0.0;
            next += r->join_nm[i];
        }
        go(r, i, (next - r->reference_nm[i]) / tick_s, tick_s);
    }
}

/* Towards the short ends at creep; each leg waits on its switch for the others, then all back off together. */
static void home(cl_receiver *r, double tick_s)
{
    int legs = r->config.legs, there = 1;
    if (r->homing_step == 0) {
        for (int i = 0; i < legs; i++) {
            creep(r, i, r->now.short_end[i] ? 0.0 : -r->config.creep_nm_s, tick_s);
            if (!r->now.short_end[i] || r->rate_nm_s[i] != 0.0) there = 0;
        }
        if (there) r->homing_step = 1;
        return;
    }
    for (int i = 0; i < legs; i++) {
        double left = r->config.home_nm - r->reference_nm[i];
        double speed = sqrt(r->config.braking_nm_s2[i] * fabs(left));
        if (fabs(left) < 1000.0) {
            creep(r, i, 0.0, tick_s);
        } else {
            creep(r, i, left > 0.0 ? speed : -speed, tick_s);
            there = 0;
        }
        if (r->rate_nm_s[i] != 0.0) there = 0;
    }
    if (there) r->homed = 1;
}

static void look(cl_receiver *r, uint64_t now_us)
{
    const cl_hardware *h = &r->now;
    int moves = r->state == CL_FOLLOW || r->state == CL_HOME || r->state == CL_JOG || r->state == CL_STOPPING;
    uint64_t silence_us = 1000u * (uint64_t)r->config.longest_silence_ms;
    if (r->order.silence_ms != 0 && r->order.silence_ms < r->config.longest_silence_ms) {
        silence_us = 1000u * (uint64_t)r->order.silence_ms;
    }
    for (int i = 0; i < r->config.legs; i++) {
        uint8_t leg = (uint8_t)i;
        if (h->drive_fault[i]) find_fault(r, CL_FAULT_DRIVE, leg);
        if (h->too_hot[i]) find_fault(r, CL_FAULT_HOT, leg);
        int homes = r->state == CL_HOME || !r->homed;
        if (((h->short_end[i] && !homes) || h->long_end[i]) && r->state != CL_JOG && moves) {
            find_fault(r, CL_FAULT_END_SWITCH, leg);
        }
        double off = (double)h->position_nm[i] - r->reference_nm[i];
        if (moves && fabs(off) > (double)r->config.following_nm) find_fault(r, CL_FAULT_FOLLOWING, leg);
        if (r->state != CL_OFF && r->state != CL_FAULT && r->order.release && !h->brake_released[i]) {
            if (r->brake_open_us > BRAKE_US) find_fault(r, CL_FAULT_BRAKE, leg);
        }
    }
    if (r->state != CL_OFF && r->state != CL_FAULT) {
        if (now_us - r->order_came_us > silence_us) find_fault(r, CL_FAULT_SILENCE, 255);
        if (h->input[CL_STOP] != CL_CLOSED) find_fault(r, CL_FAULT_STOP, 255);
    }
}

void cl_receiver_tick(cl_receiver *r, const cl_hardware *hardware, uint64_t now_us, cl_command *command)
{
    double tick_s = r->tick_us == 0 ? 0.001 : (double)(now_us - r->tick_us) * 1e-6;
    if (tick_s <= 0.0) tick_s = 1e-6;
    r->tick_us = now_us;
    r->now = *hardware;
    int legs = r->config.legs;
    int power = r->state != CL_OFF && r->state != CL_FAULT, release = 0, all_set = 1, all_released = 1;
    for (int i = 0; i < legs; i++) {
        all_set = all_set && hardware->brake_set[i];
        all_released = all_released && hardware->brake_released[i];
    }
    r->brake_open_us = r->order.release && power ? r->brake_open_us + (uint32_t)(tick_s * 1e6) : 0;
    look(r, now_us);
    if (r->fault != CL_NO_FAULT && power) begin_stop(r);

    uint8_t kind = r->have_order ? r->order.kind : CL_OFF;
    /* Once for as long as it is asked for: a reference that was found is not looked for again. */
    if (kind != CL_HOME) r->homing_begun = 0;
    if (kind == CL_OFF && power) {
        r->state = r->fault ? CL_FAULT : CL_OFF; /* at once: that is what it is for */
        power = 0;
    } else if (r->state == CL_OFF && kind != CL_OFF && r->fault == CL_NO_FAULT) {
        int fresh = now_us - r->order_came_us < 1000u * (uint64_t)r->config.longest_silence_ms;
        if (fresh && hardware->input[CL_STOP] == CL_CLOSED) {
            r->state = CL_HOLD; /* whatever was asked: first torque, where it stands */
            power = 1;
        }
    } else if (!power && kind == CL_OFF && r->fault != CL_NO_FAULT) {
        /* The program has seen it, or it came up while drives were off; it ends when its cause has. */
        r->fault = CL_NO_FAULT;
        r->fault_leg = 255;
        r->state = CL_OFF;
        look(r, now_us);
        if (r->fault != CL_NO_FAULT) r->state = CL_FAULT;
    } else if (power && r->state != CL_STOPPING) {
        /* Set-points only move with brakes confirmed off, whatever the order says. */
        uint8_t next = all_released && r->order.release ? kind : CL_HOLD;
        if (next == CL_FOLLOW && !r->homed) next = CL_HOLD;
        if (next == CL_HOME && !r->homing_begun) {
            r->homing_begun = 1;
            r->homing_step = 0;
            r->homed = 0;
        }
        if (next == CL_HOME && r->homed) next = CL_HOLD;
        if (next != CL_FOLLOW) r->points = 0;
        if (next == CL_FOLLOW && r->points == 0) next = CL_HOLD;
        if (next == CL_FOLLOW && r->state != CL_FOLLOW) {
            /* The first set-point is hardly where the legs stand to a micrometre: no step of it. */
            for (int i = 0; i < legs; i++) r->join_nm[i] = r->reference_nm[i] - r->point[0].nm[i];
        }
        r->state = next;
    }

    switch (r->state) {
    case CL_FOLLOW:
        follow(r, (double)now_us, tick_s);
        break;
    case CL_JOG:
        for (int i = 0; i < legs; i++) creep(r, i, 1000.0 * r->order.leg[i].speed_um_s, tick_s);
        break;
    case CL_HOME:
        home(r, tick_s);
        break;
    case CL_HOLD:
        for (int i = 0; i < legs; i++) creep(r, i, 0.0, tick_s);
        break;
    case CL_STOPPING: {
        r->stop_s += tick_s;
        double left = r->stop_s < r->stop_length_s ? 1.0 - r->stop_s / r->stop_length_s : 0.0;
        for (int i = 0; i < legs; i++) go(r, i, left * r->stop_rate_nm_s[i], tick_s);
        if (left == 0.0) {
            r->brake_wait_us += (uint32_t)(tick_s * 1e6);
            /* Torque stays until the brakes hold; and where they do not, as long as the hardware lets it. */
            if (all_set) {
                r->state = CL_FAULT;
                power = 0;
            }
        }
        break;
    }
    default:
        for (int i = 0; i < legs; i++) {
            r->reference_nm[i] = (double)hardware->position_nm[i];
            r->rate_nm_s[i] = 0.0;
        }
    }
    release = power && r->order.release && r->state != CL_OFF && r->state != CL_FAULT;
    if (r->state == CL_STOPPING && r->brake_wait_us > 0) release = 0;
    /* A leg without torque is driven by its load: nothing stops it but its brake. */
    if (r->fault == CL_FAULT_DRIVE) release = 0;
    command->power = (uint8_t)power;
    command->release = (uint8_t)release;
    command->warn = r->have_order && now_us - r->order_came_us < 500000u ? r->order.warn : 0;
    for (int i = 0; i < legs; i++) {
        command->reference_nm[i] = r->reference_nm[i];
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
        leg->position_nm = r->now.position_nm[i];
        leg->speed_um_s = r->now.speed_um_s[i];
        leg->force_mn = r->now.force_mn[i];
        leg->temperature_dc = r->now.temperature_dc[i];
        leg->flags = (uint16_t)((r->now.powered[i] ? CL_LEG_POWER : 0) | (r->now.brake_released[i] ? CL_LEG_RELEASED : 0) |
                                (r->now.brake_set[i] ? CL_LEG_SET : 0) | (r->now.short_end[i] ? CL_LEG_SHORT_END : 0) |
                                (r->now.long_end[i] ? CL_LEG_LONG_END : 0) | (r->now.drive_fault[i] ? CL_LEG_FAULT : 0));
        set = set && r->now.brake_set[i];
        released = released && r->now.brake_released[i];
        if (r->rate_nm_s[i] != 0.0 && r->state != CL_FOLLOW) b->moving = 1;
    }
    b->brakes = set ? CL_BRAKES_SET : released ? CL_BRAKES_RELEASED : CL_BRAKES_UNKNOWN;
    return cl_write(&f, to);
}
