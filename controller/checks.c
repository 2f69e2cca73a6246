/* Checks of the reference receiver, cranked by hand: no clock, no link, legs that are where they are told to be.
 *
 *   cc -std=c99 -g -fsanitize=address,undefined -o checks checks.c cueloom_receiver.c cueloom_motion.c cueloom_frame.c -lm
 *   ./checks                     says what holds, and ends with 1 when something does not
 */
#include "cueloom_receiver.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define LEGS 2
#define LOW_NM 430000000.0
#define HIGH_NM 730000000.0
#define SPEED_NM_S 250e6
#define BRAKING_NM_S2 4e9
#define TICK_US 1000u
#define CYCLE_US 2000u

/* A rig with true lengths; its encoders began to count at `zero_nm`. */
static struct {
    cl_receiver receiver;
    cl_hardware hardware;
    cl_command command;
    double true_nm[LEGS], zero_nm[LEGS];
    int no_torque[LEGS], dead_switch[LEGS], stuck_switch[LEGS], slips_nm[LEGS], braked;
    uint64_t now_us, clock_us; /* the sender's clock runs beside ours */
    uint32_t sequence;
    cl_order order;
    double fastest_nm_s, hardest_nm_s2, before_nm[LEGS], before_rate[LEGS];
} t;

static int failed;

static void check(int holds, const char *what)
{
    printf("%s: %s\n", holds ? "holds" : "DOES NOT HOLD", what);
    if (!holds) failed = 1;
}

static void begin(double at_nm, int known)
{
    cl_config config;
    memset(&t, 0, sizeof t);
    memset(&config, 0, sizeof config);
    config.legs = LEGS;
    t.order.window_um = 1000000;
    config.identity.cycle_us = CYCLE_US;
    config.longest_silence_ms = 100;
    config.creep_nm_s = 20e6;
    config.back_off_nm = 11500000;
    config.stroke_nm = 310000000;
    config.following_nm = 12000000;
    for (int i = 0; i < LEGS; i++) {
        config.low_nm[i] = 435000000;
        config.high_nm[i] = 725000000;
        config.speed_nm_s[i] = SPEED_NM_S;
        config.braking_nm_s2[i] = BRAKING_NM_S2;
        config.switch_nm[i] = 430500000;
        t.true_nm[i] = t.zero_nm[i] = at_nm;
    }
    for (int i = 0; i < CL_INPUTS; i++) t.hardware.input[i] = CL_CLOSED;
    cl_receiver_init(&t.receiver, &config);
    int64_t zero[LEGS] = {(int64_t)at_nm, (int64_t)at_nm};
    if (known) cl_receiver_know(&t.receiver, zero);
    t.now_us = 50000000;
    t.braked = 1;
}

static void send_order(void)
{
    cl_frame f;
    uint8_t bytes[CL_MAX_FRAME], answer[CL_MAX_FRAME];
    memset(&f, 0, sizeof f);
    f.kind = CL_ORDER;
    f.legs = LEGS;
    f.session = 7;
    f.sequence = ++t.sequence;
    f.time_us = t.clock_us + t.now_us;
    f.u.order = t.order;
    f.u.order.apply_at_us = f.time_us + CYCLE_US;
    cl_receiver_take(&t.receiver, bytes, cl_write(&f, bytes), t.now_us, answer);
}

/* One tick; legs with torque are where they are told, others fall; a brake holds at once. */
static void tick_of(uint64_t us)
{
    double s = 1e-6 * (double)us;
    t.now_us += us;
    for (int i = 0; i < LEGS; i++) {
        int driven = t.command.power && !t.no_torque[i];
        if (driven && !t.braked) t.true_nm[i] = t.command.reference_nm[i] + t.zero_nm[i];
        t.hardware.powered[i] = (uint8_t)driven;
        t.hardware.count_nm[i] = (int64_t)llround(t.true_nm[i] - t.zero_nm[i]) + t.slips_nm[i];
        t.hardware.short_end[i] = t.stuck_switch[i] || (t.true_nm[i] <= 430500000.0 && !t.dead_switch[i]);
        t.hardware.long_end[i] = t.true_nm[i] >= HIGH_NM - 500000.0;
        t.hardware.brake_set[i] = (uint8_t)t.braked;
        t.hardware.brake_released[i] = (uint8_t)!t.braked;
    }
    cl_receiver_tick(&t.receiver, &t.hardware, t.now_us, &t.command);
    t.braked = !t.command.release;
    for (int i = 0; i < LEGS; i++) {
        double at = t.command.reference_nm[i], rate = (at - t.before_nm[i]) / s;
        if (t.command.power && t.receiver.state != CL_OFF) {
            if (fabs(rate) > t.fastest_nm_s) t.fastest_nm_s = fabs(rate);
            double change = fabs(rate - t.before_rate[i]) / (s + 1e-6 * CYCLE_US);
            if (change > t.hardest_nm_s2) t.hardest_nm_s2 = change;
        }
        t.before_nm[i] = at;
        t.before_rate[i] = rate;
    }
}

static void tick(void)
{
    tick_of(TICK_US);
}

/* Orders of one kind, one a cycle, for a while. */
static void order_for(uint8_t kind, int release, double left_um_s, double right_um_s, int ms)
{
    for (int i = 0; i < ms; i++) {
        t.order.kind = kind;
        t.order.release = (uint8_t)release;
        t.order.leg[0].speed_um_s = (int32_t)left_um_s;
        t.order.leg[1].speed_um_s = (int32_t)right_um_s;
        if (i % 2 == 0) send_order();
        tick();
    }
}

static void ready(void)
{
    order_for(CL_OFF, 0, 0, 0, 10);
    order_for(CL_HOLD, 1, 0, 0, 50);
    t.fastest_nm_s = t.hardest_nm_s2 = 0.0;
}

/* Set-points of a swing: leg 2 goes half as far as leg 1. 20 mm each way, 4 rad/s: 80 mm/s. */
static double swing_nm(int leg, double s)
{
    return 540e6 + (leg ? 0.5 : 1.0) * 20e6 * (1.0 - cos(4.0 * s));
}

static double swung_s;

static void swing(int ms, double jump_nm, int heard)
{
    for (int i = 0; i < ms; i++) {
        t.order.kind = CL_FOLLOW;
        t.order.release = 1;
        for (int leg = 0; leg < LEGS; leg++) t.order.leg[leg].position_nm = (int64_t)(swing_nm(leg, swung_s) + jump_nm);
        if (i % 2 == 0 && heard) send_order();
        tick();
        swung_s += 1e-3;
    }
}

/* Speed and acceleration within the configuration, but for what a double cannot tell. */
static int bounded(void)
{
    return t.fastest_nm_s <= SPEED_NM_S * 1.0001 && t.hardest_nm_s2 <= BRAKING_NM_S2 * 1.001;
}

/* Until brakes are on; how far leg 1 went. The share of speed of both legs stays as it was. */
static double stop_nm(int *on_line)
{
    double from = t.command.reference_nm[0], speeds = t.receiver.rate_nm_s[1] / t.receiver.rate_nm_s[0];
    *on_line = 1;
    for (int i = 0; i < 200 && t.command.release; i++) {
        tick();
        double rate = t.receiver.rate_nm_s[0];
        if (fabs(rate) > 1e3 && fabs(t.receiver.rate_nm_s[1] / rate - speeds) > 1e-6) *on_line = 0;
    }
    return fabs(t.command.reference_nm[0] - from);
}

static void set_points_that_jump(void)
{
    begin(540e6, 1);
    ready();
    swung_s = 0.0;
    swing(300, 0.0, 1);
    check(t.receiver.state == CL_FOLLOW && fabs(t.true_nm[0] - swing_nm(0, swung_s)) < 1e6, "follows a swing");
    check(bounded(), "follows a swing within speed and acceleration");
    swing(300, 8e6, 1);
    check(t.receiver.fault == CL_NO_FAULT && fabs(t.true_nm[0] - swing_nm(0, swung_s) - 8e6) < 1e6, "8 mm are caught up");
    check(bounded(), "a jump of 8 mm is caught up within speed and acceleration");
    swing(20, 8e6, 1);
    double rate = fabs(t.receiver.rate_nm_s[0]), most = rate * rate / (2.0 * BRAKING_NM_S2);
    for (int i = 0; i < 10 && t.receiver.state != CL_STOPPING; i++) swing(1, 28e6, i % 2 == 0);
    check(t.receiver.state == CL_STOPPING && t.receiver.fault == CL_FAULT_FOLLOWING, "a jump of 20 mm is a fault");
    int on_line;
    double way = stop_nm(&on_line);
    check(bounded() && rate > 20e6 && way <= most + 1e6, "and ends within the square of the speed over twice the braking");
    check(on_line, "all legs losing the same share of their speed");
    swing(20, 0.0, 1);
    check(t.receiver.state == CL_FAULT && !t.command.power && t.braked, "braked and off");
}

static void orders_that_are_lost(void)
{
    begin(540e6, 1);
    ready();
    swung_s = 0.0;
    swing(700, 0.0, 1);
    double before = fabs(t.receiver.rate_nm_s[0]);
    swing(80, 0.0, 0);
    swing(300, 0.0, 1);
    check(before > 20e6 && t.receiver.fault == CL_NO_FAULT && bounded(), "80 ms without orders are ridden through");
    check(fabs(t.true_nm[0] - swing_nm(0, swung_s)) < 1e6, "and made up for");
    swing(250, 0.0, 0);
    check(t.receiver.fault == CL_FAULT_SILENCE && t.braked && bounded(), "100 ms are silence");
    begin(540e6, 1);
    ready();
    t.order.leg[0].position_nm = t.order.leg[1].position_nm = 560000000;
    order_for(CL_FOLLOW, 1, 0, 0, 50);
    check(t.receiver.fault == CL_FAULT_FOLLOWING && fabs(t.true_nm[0] - 540e6) < 1.0, "nor does one begin 20 mm away");
}

static void soft_ends(void)
{
    begin(436e6, 1);
    ready();
    for (int i = 0; i < 400; i++) {
        double at = 436e6 - fmin(4.0 * i * 1e-3, 0.2) * 1e6 * i;
        for (int leg = 0; leg < LEGS; leg++) t.order.leg[leg].position_nm = (int64_t)at;
        order_for(CL_FOLLOW, 1, 0, 0, 1);
        if (i % 2) send_order();
    }
    check(t.true_nm[0] > 435e6 - 1e5 && t.braked && bounded(), "set-points beyond a soft end are not followed there");
    begin(433e6, 1);
    order_for(CL_OFF, 0, 0, 0, 10);
    order_for(CL_HOLD, 0, 0, 0, 100);
    double apart = fabs(t.command.reference_nm[0] + t.zero_nm[0] - 433e6);
    order_for(CL_HOLD, 1, 0, 0, 100);
    check(apart < 1.0 && fabs(t.true_nm[0] - 433e6) < 1.0, "torque that comes on beyond a soft end moves nothing");
    order_for(CL_JOG, 1, -10000, -10000, 300);
    check(fabs(t.true_nm[0] - 433e6) < 1.0 && t.receiver.fault == CL_NO_FAULT, "nor does a jog further out");
    order_for(CL_JOG, 1, 10000, 10000, 300);
    check(t.true_nm[0] > 435.5e6 && bounded(), "and a jog inward goes");
}

static void homing(void)
{
    begin(612345678.0, 0);
    ready();
    order_for(CL_HOME, 1, 0, 0, 12000);
    check(t.receiver.homed && t.receiver.fault == CL_NO_FAULT && bounded(), "homing finds a reference wherever counting began");
    check(fabs(t.true_nm[0] - 442e6) < 1e5 && fabs(t.true_nm[1] - 442e6) < 1e5, "and ends 11.5 mm from the switch");
    cl_frame f;
    uint8_t bytes[CL_MAX_FRAME];
    size_t n = cl_receiver_feedback(&t.receiver, t.now_us, bytes);
    int read = cl_read(&f, bytes, n);
    check(read && fabs((double)f.u.feedback.leg[1].position_nm - t.true_nm[1]) < 1e5, "lengths are the rig's from there on");
    order_for(CL_HOLD, 1, 0, 0, 10);
    for (int leg = 0; leg < LEGS; leg++) t.order.leg[leg].position_nm = 443000000;
    order_for(CL_FOLLOW, 1, 0, 0, 1500);
    check(fabs(t.true_nm[0] - 443e6) < 1e5, "and so are set-points");

    begin(430200000.0, 0);
    ready();
    order_for(CL_HOME, 1, 0, 0, 3000);
    check(t.receiver.homed && fabs(t.true_nm[0] - 442e6) < 1e5, "from on the switch it goes off it first");
    begin(HIGH_NM - 100000.0, 0);
    ready();
    order_for(CL_HOME, 1, 0, 0, 20000);
    check(t.receiver.homed && fabs(t.true_nm[0] - 442e6) < 1e5, "from on the long end's switch, too");
    begin(540e6, 0);
    t.stuck_switch[1] = 1;
    ready();
    order_for(CL_HOME, 1, 0, 0, 8000);
    check(!t.receiver.homed && t.receiver.fault == CL_FAULT_HOMING && t.receiver.fault_leg == 1 && t.braked, "a switch that never opens is no reference");
    begin(540e6, 0);
    ready();
    order_for(CL_HOME, 1, 0, 0, 1000);
    t.stuck_switch[1] = 1;
    order_for(CL_HOME, 1, 0, 0, 8000);
    check(!t.receiver.homed && t.receiver.fault == CL_FAULT_HOMING && t.receiver.fault_leg == 1, "nor is one that closes under way for good");
    begin(540e6, 0);
    t.dead_switch[0] = 1;
    ready();
    order_for(CL_HOME, 1, 0, 0, 18000);
    check(!t.receiver.homed && t.receiver.fault == CL_FAULT_HOMING && t.true_nm[0] > 540e6 - 312e6, "without a switch it ends, too");
}

static void jogs_on_switches(void)
{
    begin(430300000.0, 0);
    ready();
    order_for(CL_JOG, 1, -10000, -10000, 200);
    check(fabs(t.true_nm[0] - 430.3e6) < 1.0 && t.receiver.fault == CL_NO_FAULT, "a jog goes no further onto a switch");
    order_for(CL_JOG, 1, 10000, 0, 400);
    check(t.true_nm[0] > 433e6 && fabs(t.true_nm[1] - 430.3e6) < 1.0, "but off it");
    order_for(CL_JOG, 1, -10000, -10000, 200);
    check(t.true_nm[0] > 433e6, "a leg that may not go keeps the others standing");
    begin(HIGH_NM - 1e6, 0);
    ready();
    order_for(CL_JOG, 1, 10000, 10000, 400);
    check(t.true_nm[0] < HIGH_NM - 4e5 && t.receiver.fault == CL_NO_FAULT, "a jog ends at the long end's switch");
    order_for(CL_JOG, 1, -10000, -10000, 200);
    check(t.true_nm[0] < HIGH_NM - 1e6, "and comes back from it");
}

/* 12 mm are what it is built with. */
static void windows(void)
{
    static const struct { uint32_t window_um; int slip_nm; uint8_t trips; } all[] = {
        {100000, 11000000, 0}, {100000, 13000000, 1}, {3000, 2000000, 0}, {3000, 4000000, 1}};
    int good = 1;
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
        begin(540e6, 1);
        t.order.window_um = all[i].window_um;
        ready();
        t.slips_nm[0] = all[i].slip_nm;
        tick();
        tick();
        good = good && (t.receiver.fault == CL_FAULT_FOLLOWING) == all[i].trips;
    }
    check(good, "an order may say a narrower window, and not a wider one");
}

static void torque_that_goes(void)
{
    begin(540e6, 1);
    ready();
    swung_s = 0.0;
    swing(1100, 0.0, 1);
    t.slips_nm[0] = 20000000;
    tick();
    tick();
    check(t.receiver.fault == CL_FAULT_FOLLOWING && t.command.release, "a stop after a following error, brakes off");
    t.no_torque[1] = 1;
    tick();
    check(!t.command.release && t.receiver.fault == CL_FAULT_FOLLOWING, "a leg that loses its torque then is braked at once");
    begin(540e6, 1);
    ready();
    t.no_torque[1] = 1;
    tick();
    check(!t.command.release && t.receiver.fault == CL_FAULT_DRIVE && t.receiver.fault_leg == 1, "torque that goes without a word is a drive's fault");
    begin(540e6, 1);
    t.no_torque[1] = 1;
    order_for(CL_OFF, 0, 0, 0, 10);
    order_for(CL_HOLD, 1, 0, 0, 400);
    check(!t.command.release && t.braked, "brakes stay on until all legs have torque");
    order_for(CL_HOLD, 1, 0, 0, 300);
    check(t.receiver.fault == CL_FAULT_DRIVE && t.braked, "which is waited for half a second");
}

static void clocks_and_counts_that_go_round(void)
{
    begin(540e6, 1);
    t.sequence = UINT32_MAX - 100;
    t.clock_us = UINT64_MAX - t.now_us - 500000; /* goes round half a second later */
    ready();
    swung_s = 0.0;
    swing(1000, 0.0, 1);
    check(t.receiver.rejected == 0 && t.receiver.fault == CL_NO_FAULT, "sequences and clocks may go round");
    check(fabs(t.true_nm[0] - swing_nm(0, swung_s)) < 1e6 && bounded(), "and legs follow all the while");
    begin(540e6, 1);
    t.clock_us = ((uint64_t)1 << 63) - t.now_us - 300000;
    ready();
    swung_s = 0.0;
    swing(1000, 0.0, 1);
    check(t.receiver.fault == CL_NO_FAULT && fabs(t.true_nm[0] - swing_nm(0, swung_s)) < 1e6, "half way round, too");
    begin(540e6, 1);
    ready();
    for (uint64_t us = 0; us < 4295100000u; us += 50000u) {
        t.order.kind = CL_HOLD;
        t.order.release = 1;
        send_order();
        tick_of(50000u);
    }
    check(t.receiver.fault == CL_NO_FAULT, "brakes may be off for 71.6 minutes");
    t.hardware.brake_released[0] = 0;
    t.braked = 1;
    send_order();
    tick();
    check(t.receiver.fault == CL_FAULT_BRAKE, "and one that closes then is seen as before");
}

static int is_read(cl_frame *frame, size_t at, uint8_t value)
{
    uint8_t bytes[CL_MAX_FRAME];
    cl_frame out;
    size_t n = cl_write(frame, bytes);
    bytes[at] = value;
    uint32_t sum = cl_crc32(bytes, n - 4);
    for (int i = 0; i < 4; i++) bytes[n - 4 + (size_t)i] = (uint8_t)(sum >> (8 * i));
    return cl_read(&out, bytes, n);
}

static void frames(void)
{
    static const uint8_t order[][2] = {{32, 5}, {33, 4}, {36, 0}};
    static const uint8_t feedback[][2] = {{36, 7}, {37, 3}, {38, 3}, {39, 4}, {40, 4}, {41, 9}, {42, 2}, {43, 1}, {48 + 18, 64}};
    cl_frame f;
    memset(&f, 0, sizeof f);
    f.legs = LEGS;
    int taken = 0, plain = 1;
    f.kind = CL_ORDER;
    f.u.order.window_um = 1;
    plain = plain && is_read(&f, 33, 0);
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) taken += is_read(&f, order[i][0], order[i][1]);
    f.kind = CL_FEEDBACK;
    plain = plain && is_read(&f, 42, 255);
    for (size_t i = 0; i < sizeof feedback / sizeof feedback[0]; i++) taken += is_read(&f, feedback[i][0], feedback[i][1]);
    f.kind = CL_HELLO;
    f.legs = 0;
    plain = plain && is_read(&f, 6, 0);
    taken += is_read(&f, 6, 1);
    check(plain && taken == 0, "a frame with anything that the tables do not name is dropped");
}

/* Whatever is ordered and whatever the hardware shows. */
static void anything(void)
{
    uint32_t seed = 1;
    int good = 1;
    for (int run = 0; run < 300; run++) {
        begin(540e6, run % 3 != 0);
        ready();
        for (int i = 0; i < 400; i++) {
            seed = seed * 1664525u + 1013904223u;
            uint32_t chance = seed >> 8;
            if (chance % 40 == 0) t.order.kind = (uint8_t)(1u + (chance >> 8) % 4u);
            if (chance % 97 == 0) t.stuck_switch[chance >> 10 & 1] ^= 1;
            t.order.release = 1;
            for (int leg = 0; leg < LEGS; leg++) {
                int64_t step = (int64_t)((chance >> (4 * leg)) % 4000000u) - 2000000;
                t.order.leg[leg].position_nm = (int64_t)(t.true_nm[leg]) + (chance % 13 == 0 ? 6 * step : step / 8);
                t.order.leg[leg].speed_um_s = (int32_t)(step / 20);
            }
            if (chance % 7 != 0) send_order();
            tick();
            for (int leg = 0; leg < LEGS; leg++) good = good && isfinite(t.command.reference_nm[leg]);
        }
        good = good && bounded();
    }
    check(good, "whatever comes, references keep to speed and acceleration");
}

/* A frame fits where there is just room for it, and nothing is written beyond that. */
static void room(void)
{
    uint8_t bytes[40], stuffed[CL_MAX_STUFFED], back[sizeof bytes + 1];
    int fits = 1, refused = 1, kept = 1;
    for (size_t n = 1; n <= sizeof bytes; n++) {
        for (int zeros = 0; zeros < 3; zeros++) {
            for (size_t i = 0; i < n; i++) bytes[i] = (uint8_t)(zeros == 2 || (zeros && i % 3 == 0) ? 0 : i + 1);
            size_t length = cl_stuff(bytes, n, stuffed) - 1;
            memset(back, 0xA5, sizeof back);
            fits = fits && cl_unstuff(stuffed, length, back, n) == n && memcmp(bytes, back, n) == 0;
            kept = kept && back[n] == 0xA5;
            memset(back, 0xA5, sizeof back);
            refused = refused && cl_unstuff(stuffed, length, back, n - 1) == 0;
            kept = kept && back[n - 1] == 0xA5;
        }
    }
    check(fits, "a stuffed frame is read into a place that is just large enough");
    check(refused && kept, "one that is a byte too small is refused, and nothing is written behind it");
}

int main(void)
{
    set_points_that_jump();
    orders_that_are_lost();
    soft_ends();
    homing();
    jogs_on_switches();
    windows();
    torque_that_goes();
    clocks_and_counts_that_go_round();
    frames();
    room();
    anything();
    return failed;
}
