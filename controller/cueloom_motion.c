/* How the receiver's references move: along set-points, in a jog, in homing, and to rest.
 *
 * Whatever is asked, a reference goes no faster than its leg may follow, its speed changes no harder than the leg may be
 * braked, and once it is known where the legs are nothing goes further out than the soft ends. So every stop, from
 * whatever moment, ends within the square of its speed over twice its braking.
 */
#include "cueloom_motion.h"

#include <math.h>
#include <string.h>

enum { OFF_THE_SWITCH, TO_THE_SWITCH, BACK_OFF };

/* Nearer than this is there, nm. */
#define NEAR_NM 1000.0

void cl_find_fault(cl_receiver *r, uint8_t fault, int leg)
{
    if (r->fault == CL_NO_FAULT) {
        r->fault = fault;
        r->fault_leg = leg < 0 ? 255 : (uint8_t)leg;
    }
}

double cl_length_nm(const cl_receiver *r, int leg)
{
    return (double)r->now.count_nm[leg] + (double)r->zero_nm[leg];
}

void cl_stand(cl_receiver *r)
{
    for (int i = 0; i < r->config.legs; i++) {
        r->reference_nm[i] = cl_length_nm(r, i);
        r->rate_nm_s[i] = 0.0;
    }
}

static double clamp(double value, double most)
{
    return value > most ? most : value < -most ? -most : value;
}

/* As much of a wanted speed as the leg may have: what it can be stopped from before its soft end. Where it stands
 * beyond one already it only goes inward, and not by itself. */
static double allowed_nm_s(const cl_receiver *r, int leg, double wanted_nm_s)
{
    double most = r->config.speed_nm_s[leg];
    if (r->homed) {
        double room = wanted_nm_s > 0.0 ? (double)r->config.high_nm[leg] - r->reference_nm[leg]
                                        : r->reference_nm[leg] - (double)r->config.low_nm[leg];
        double stops = room > 0.0 ? sqrt(2.0 * r->config.braking_nm_s2[leg] * room) : 0.0;
        if (stops < most) most = stops;
    }
    return clamp(wanted_nm_s, most);
}

/* Towards a wanted speed, no harder than the leg may be braked. */
static void go(cl_receiver *r, int leg, double wanted_nm_s, double tick_s)
{
    double wanted = allowed_nm_s(r, leg, wanted_nm_s), most = r->config.braking_nm_s2[leg] * tick_s;
    double change = wanted - r->rate_nm_s[leg];
    r->rate_nm_s[leg] = fabs(change) <= most ? wanted : r->rate_nm_s[leg] + clamp(change, most);
    r->reference_nm[leg] += r->rate_nm_s[leg] * tick_s;
}

int cl_slow(cl_receiver *r, double tick_s)
{
    double longest_s = 0.0;
    for (int i = 0; i < r->config.legs; i++) {
        double needs_s = fabs(r->rate_nm_s[i]) / r->config.braking_nm_s2[i];
        if (needs_s > longest_s) longest_s = needs_s;
    }
    double left = longest_s > tick_s ? 1.0 - tick_s / longest_s : 0.0;
    for (int i = 0; i < r->config.legs; i++) go(r, i, left * r->rate_nm_s[i], tick_s);
    return longest_s <= 0.0;
}

/* Where a leg should be at a time between two set-points, on a straight line, and how fast it goes there; beyond the
 * last, on at the same rate until silence is noticed. */
static double set_point_nm(const cl_receiver *r, int leg, double now_us, double *rate_nm_s)
{
    *rate_nm_s = 0.0;
    if (r->points < 2 || now_us <= r->point[0].at_us) return r->point[0].nm[leg];
    double length_us = r->point[1].at_us - r->point[0].at_us;
    double way_nm = r->point[1].nm[leg] - r->point[0].nm[leg];
    *rate_nm_s = way_nm / length_us * 1e6;
    return r->point[0].nm[leg] + (now_us - r->point[0].at_us) / length_us * way_nm;
}

/* Along the set-points exactly, as long as that is within what the leg may do; what jumps, or comes after a while in
 * which nothing came, is caught up with, at half of what the leg may do so that the path has the other half. Set-points
 * that lead further off than a leg may stray are a fault. */
void cl_follow(cl_receiver *r, double now_us, double tick_s)
{
    while (r->points > 2 && r->point[1].at_us <= now_us) {
        memmove(r->point, r->point + 1, (size_t)(r->points - 1) * sizeof r->point[0]);
        r->points--;
    }
    /* Between two set-points the rate is one, so it changes once a cycle for the whole of it. */
    double cycle_s = 1e-6 * (double)r->config.identity.cycle_us;
    for (int i = 0; i < r->config.legs; i++) {
        double braking = r->config.braking_nm_s2[i], rate_nm_s;
        r->join_nm[i] -= clamp(r->join_nm[i], 0.1 * r->config.creep_nm_s * tick_s);
        double away_nm = set_point_nm(r, i, now_us, &rate_nm_s) + r->join_nm[i] - r->reference_nm[i];
        double behind_nm = away_nm - rate_nm_s * tick_s;
        if (fabs(behind_nm) > (double)r->config.following_nm) cl_find_fault(r, CL_FAULT_FOLLOWING, i);
        double needed_nm_s = away_nm / tick_s;
        if (fabs(needed_nm_s - r->rate_nm_s[i]) <= braking * (tick_s + cycle_s) &&
            fabs(needed_nm_s) <= fabs(allowed_nm_s(r, i, needed_nm_s))) {
            r->rate_nm_s[i] = needed_nm_s;
            r->reference_nm[i] += away_nm;
        } else {
            double catch_up_nm_s = sqrt(braking * fabs(behind_nm));
            go(r, i, rate_nm_s + (behind_nm < 0.0 ? -catch_up_nm_s : catch_up_nm_s), tick_s);
        }
    }
}

/* Not further onto a switch or beyond a soft end, while the way back is free. A leg that may not go keeps the others
 * standing, too: legs that are jogged together stay as level as they are. */
void cl_jog(cl_receiver *r, double tick_s)
{
    double wanted_nm_s[CL_MAX_LEGS], share = 1.0;
    for (int i = 0; i < r->config.legs; i++) {
        double wanted = clamp(1000.0 * r->order.leg[i].speed_um_s, r->config.creep_nm_s);
        wanted_nm_s[i] = wanted;
        if (wanted > 0.0 || wanted < 0.0) {
            int ends = wanted < 0.0 ? r->now.short_end[i] : r->now.long_end[i];
            double may = ends ? 0.0 : allowed_nm_s(r, i, wanted) / wanted;
            if (may < share) share = may;
        }
    }
    for (int i = 0; i < r->config.legs; i++) go(r, i, share * wanted_nm_s[i], tick_s);
}

static void next_step(cl_receiver *r, uint8_t step)
{
    r->homing_step = step;
    for (int i = 0; i < r->config.legs; i++) r->homing_from_nm[i] = r->reference_nm[i];
}

void cl_begin_homing(cl_receiver *r)
{
    r->homed = 0;
    memset(r->homing_found, 0, sizeof r->homing_found);
    next_step(r, OFF_THE_SWITCH);
}

/* The count at which the switch closed is the length at which it stands. */
static void found(cl_receiver *r, int leg)
{
    int64_t zero_nm = r->config.switch_nm[leg] - r->now.count_nm[leg];
    r->reference_nm[leg] += (double)(zero_nm - r->zero_nm[leg]);
    r->zero_nm[leg] = zero_nm;
    r->homing_found[leg] = 1;
}

/* At creep: off the short ends' switches, onto them, each leg waiting there for the others, and all back off together. */
void cl_home(cl_receiver *r, double tick_s)
{
    const cl_config *c = &r->config;
    int there = 1;
    for (int i = 0; i < c->legs; i++) {
        double wanted_nm_s = 0.0, gone_nm = fabs(r->reference_nm[i] - r->homing_from_nm[i]);
        if (r->homing_step == OFF_THE_SWITCH) {
            /* A switch that does not open is broken, or its wire is. */
            if (r->now.short_end[i]) wanted_nm_s = c->creep_nm_s;
            if (gone_nm > (double)c->back_off_nm) cl_find_fault(r, CL_FAULT_HOMING, i);
        } else if (r->homing_step == TO_THE_SWITCH) {
            if (r->now.short_end[i] && !r->homing_found[i]) found(r, i);
            if (!r->homing_found[i]) {
                wanted_nm_s = -c->creep_nm_s;
                if (gone_nm > (double)c->stroke_nm) cl_find_fault(r, CL_FAULT_HOMING, i);
            }
        } else {
            double left_nm = (double)(c->switch_nm[i] + c->back_off_nm) - r->reference_nm[i];
            double speed_nm_s = sqrt(c->braking_nm_s2[i] * fabs(left_nm));
            if (fabs(left_nm) >= NEAR_NM) wanted_nm_s = left_nm < 0.0 ? -speed_nm_s : speed_nm_s;
        }
        go(r, i, clamp(wanted_nm_s, c->creep_nm_s), tick_s);
        if (fabs(wanted_nm_s) > 0.0 || fabs(r->rate_nm_s[i]) > 0.0) there = 0;
    }
    if (!there || r->fault != CL_NO_FAULT) return;
    if (r->homing_step == OFF_THE_SWITCH) {
        next_step(r, TO_THE_SWITCH);
    } else if (r->homing_step == TO_THE_SWITCH) {
        next_step(r, BACK_OFF);
    } else {
        for (int i = 0; i < c->legs; i++) {
            if (r->now.short_end[i]) cl_find_fault(r, CL_FAULT_HOMING, i);
        }
        r->homed = r->fault == CL_NO_FAULT;
    }
}
