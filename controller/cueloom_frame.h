/* The open frame between Cueloom and a controller, in C: layout, reading, writing.
 *
 * Little-endian, every field at a fixed byte, CRC-32 at the end; the tables stand in docs/frame.md. Nothing here
 * depends on the byte order or the packing of the machine. C99, no memory allocated, no operating system needed.
 * Copy this file and cueloom_frame.c into your firmware.
 *
 * This protocol is not a safety function: your controller must stop the rig by itself, and a hard-wired stop must
 * hold without either.
 */
#ifndef CUELOOM_FRAME_H
#define CUELOOM_FRAME_H

#include <stddef.h>
#include <stdint.h>

#define CL_VERSION 2
#define CL_MAX_LEGS 12
#define CL_MAX_FRAME (48 + 20 * CL_MAX_LEGS + 4)
#define CL_MAX_STUFFED (CL_MAX_FRAME + CL_MAX_FRAME / 254 + 2)

enum { CL_HELLO = 1, CL_ORDER = 2, CL_FEEDBACK = 3, CL_IDENTITY = 4 };

/* cl_order.kind */
enum { CL_OFF = 0, CL_HOLD = 1, CL_FOLLOW = 2, CL_HOME = 3, CL_JOG = 4 };

/* cl_feedback.state; the first five as in cl_order.kind */
enum { CL_STOPPING = 5, CL_FAULT = 6 };

/* cl_feedback.brakes */
enum { CL_BRAKES_UNKNOWN = 0, CL_BRAKES_SET = 1, CL_BRAKES_RELEASED = 2 };

/* inputs, two bits each, presence lowest */
enum { CL_UNKNOWN = 0, CL_OPEN = 1, CL_CLOSED = 2 };
enum { CL_PRESENCE = 0, CL_GATE = 1, CL_MAT = 2, CL_BELT = 3, CL_STOP = 4, CL_INPUTS = 5 };

/* cl_feedback.fault */
enum {
    CL_NO_FAULT = 0, CL_FAULT_SILENCE = 1, CL_FAULT_DRIVE = 2, CL_FAULT_FOLLOWING = 3, CL_FAULT_END_SWITCH = 4,
    CL_FAULT_HOT = 5, CL_FAULT_BRAKE = 6, CL_FAULT_STOP = 7, CL_FAULT_HOMING = 8
};

/* cl_leg_feedback.flags */
enum {
    CL_LEG_POWER = 1, CL_LEG_RELEASED = 2, CL_LEG_SET = 4, CL_LEG_SHORT_END = 8, CL_LEG_LONG_END = 16,
    CL_LEG_FAULT = 32
};

typedef struct {
    int64_t position_nm;
    int32_t speed_um_s;
    uint32_t force_limit_mn;
} cl_leg_order;

typedef struct {
    uint64_t apply_at_us;
    uint8_t kind;
    uint8_t warn;
    uint8_t release;
    uint16_t silence_ms;
    uint32_t window_um; /* at least 1 */
    cl_leg_order leg[CL_MAX_LEGS];
} cl_order;

typedef struct {
    int64_t position_nm;
    int32_t speed_um_s;
    int32_t force_mn;
    int16_t temperature_dc;
    uint16_t flags;
} cl_leg_feedback;

typedef struct {
    uint64_t echo_us;
    uint32_t echo_sequence;
    uint8_t state;
    uint8_t brakes;
    uint8_t input[CL_INPUTS];
    uint8_t homed;
    uint8_t moving;
    uint8_t fault;
    uint8_t fault_leg; /* 255 where it is no one leg's */
    uint32_t rejected;
    cl_leg_feedback leg[CL_MAX_LEGS];
} cl_feedback;

typedef struct {
    uint32_t cycle_us;
    uint32_t firmware;
    uint64_t parameters;
    char name[32];
    uint64_t serial[CL_MAX_LEGS];
} cl_identity;

typedef struct {
    uint8_t kind;
    uint8_t legs;
    uint32_t session;
    uint32_t sequence;
    uint64_t time_us;
    union {
        cl_order order;
        cl_feedback feedback;
        cl_identity identity;
    } u;
} cl_frame;

/* Reads a frame that fills n bytes. 1 when it is one, 0 when it is to be dropped. */
int cl_read(cl_frame *frame, const uint8_t *bytes, size_t n);

/* Writes a frame; how many bytes it has, at most CL_MAX_FRAME. */
size_t cl_write(const cl_frame *frame, uint8_t *to);

uint32_t cl_crc32(const uint8_t *bytes, size_t n);

/* Consistent overhead byte stuffing, for serial lines: to a zero at the end, and back. cl_unstuff takes what stands
 * between two zeros; 0 when it is no stuffed frame. Both give lengths. */
size_t cl_stuff(const uint8_t *bytes, size_t n, uint8_t *to);
size_t cl_unstuff(const uint8_t *bytes, size_t n, uint8_t *to, size_t room);

#endif
