/* A small reference receiver: what a controller must do with the frames of Cueloom. See cueloom_receiver.c. */
#ifndef CUELOOM_RECEIVER_H
#define CUELOOM_RECEIVER_H

#include "cueloom_frame.h"

/* What the controller is built for. Lengths are the rig's, between the ends' centres, nm; speeds nm/s, accelerations
 * nm/s^2. Speed and braking must be no less than the rig file's, or what fits that file is a fault here. */
typedef struct {
    uint8_t legs;
    cl_identity identity;
    uint16_t longest_silence_ms;       /* whatever an order says, never longer than this */
    int64_t low_nm[CL_MAX_LEGS];       /* soft ends: once a reference is known nothing goes further out */
    int64_t high_nm[CL_MAX_LEGS];
    double speed_nm_s[CL_MAX_LEGS];    /* how fast each leg may follow */
    double braking_nm_s2[CL_MAX_LEGS]; /* how hard each leg may be sped up, slowed and stopped */
    double creep_nm_s;                 /* jog and homing go no faster */
    int64_t switch_nm[CL_MAX_LEGS];    /* how long each leg is where its short end switch closes */
    int64_t back_off_nm;               /* homing ends this much longer */
    int64_t stroke_nm;                 /* homing goes no further than this to find the switch */
    int64_t following_nm;              /* further than this from where a leg should be is a fault; an order may say less */
} cl_config;

/* What the hardware says in a tick. */
typedef struct {
    int64_t count_nm[CL_MAX_LEGS]; /* what the encoder shows, from wherever it began to count */
    int32_t speed_um_s[CL_MAX_LEGS];
    int32_t force_mn[CL_MAX_LEGS];
    int16_t temperature_dc[CL_MAX_LEGS];
    uint8_t short_end[CL_MAX_LEGS], long_end[CL_MAX_LEGS];
    uint8_t drive_fault[CL_MAX_LEGS];
    uint8_t too_hot[CL_MAX_LEGS];
    uint8_t powered[CL_MAX_LEGS]; /* the drive says that it gives torque */
    uint8_t brake_set[CL_MAX_LEGS], brake_released[CL_MAX_LEGS]; /* confirmed, not commanded */
    uint8_t input[CL_INPUTS];
} cl_hardware;

/* What the hardware is told in a tick. */
typedef struct {
    uint8_t power, release, warn;
    double reference_nm[CL_MAX_LEGS]; /* as the encoder counts */
    uint32_t force_limit_mn[CL_MAX_LEGS];
} cl_command;

/* Set-points that wait for their time: the link's delay in cycles, and two. Lower it where memory is short. */
#ifndef CL_POINTS
#define CL_POINTS 64
#endif

typedef struct {
    cl_config config;
    cl_hardware now;
    /* orders */
    uint8_t have_session, have_order;
    uint32_t session, sequence, rejected, sent;
    uint64_t order_time_us, order_came_us;
    uint64_t offset_us; /* our clock less the sender's, by the quickest frames; counts round as clocks do */
    cl_order order;
    struct { double at_us; double nm[CL_MAX_LEGS]; } point[CL_POINTS];
    int points;
    /* what it does */
    uint8_t state, homed, homing_step, homing_begun;
    uint8_t fault, fault_leg;
    int64_t zero_nm[CL_MAX_LEGS];      /* how long a leg is where its encoder shows nothing */
    double reference_nm[CL_MAX_LEGS], rate_nm_s[CL_MAX_LEGS];
    double join_nm[CL_MAX_LEGS];       /* from the set-points to where the legs stood when following began; fades */
    double homing_from_nm[CL_MAX_LEGS];
    uint8_t homing_found[CL_MAX_LEGS], had_power[CL_MAX_LEGS];
    uint8_t released, stands;          /* brakes are told to be off; a stop has come to rest */
    double power_s, brake_s;           /* for how long torque has been on, and brakes have been told to be off */
    uint64_t tick_us;
} cl_receiver;

void cl_receiver_init(cl_receiver *r, const cl_config *config);

/* Encoders that keep their count need no homing: how long each leg is where its encoder shows nothing. */
void cl_receiver_know(cl_receiver *r, const int64_t *zero_nm);

/* A frame came in at now_us. How many bytes of an answer (an identity) were put into `answer`; 0 for none. */
size_t cl_receiver_take(cl_receiver *r, const uint8_t *bytes, size_t n, uint64_t now_us, uint8_t *answer);

/* To be called at a fixed beat, about every millisecond, whatever comes or does not come. */
void cl_receiver_tick(cl_receiver *r, const cl_hardware *hardware, uint64_t now_us, cl_command *command);

/* The feedback to send, at the program's cycle; how many bytes. */
size_t cl_receiver_feedback(cl_receiver *r, uint64_t now_us, uint8_t *to);

#endif
