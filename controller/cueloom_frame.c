/* The open frame in C: see cueloom_frame.h and docs/frame.md. */
#include "cueloom_frame.h"

#include <string.h>

uint32_t cl_crc32(const uint8_t *bytes, size_t n)
{
    uint32_t c = 0xFFFFFFFFu;
    for (size_t i = 0; i < n; i++) {
        c ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) {
            c = (c & 1u) ? 0xEDB88320u ^ (c >> 1) : c >> 1;
        }
    }
    return ~c;
}

static uint64_t get(const uint8_t *at, int bytes)
{
    uint64_t value = 0;
    for (int i = bytes - 1; i >= 0; i--) {
        value = value << 8 | at[i];
    }
    return value;
}

static void put(uint8_t *at, int bytes, uint64_t value)
{
    for (int i = 0; i < bytes; i++) {
        at[i] = (uint8_t)(value >> (8 * i));
    }
}

/* Two's complement by hand: a plain cast of a large unsigned value is the compiler's own choice in C99. */
static int64_t get_signed(const uint8_t *at, int bytes)
{
    uint64_t raw = get(at, bytes);
    uint64_t sign = (uint64_t)1 << (8 * bytes - 1);
    if ((raw & sign) == 0) {
        return (int64_t)raw;
    }
    uint64_t mask = bytes == 8 ? UINT64_MAX : (sign << 1) - 1;
    return -(int64_t)((~raw) & mask) - 1;
}

static size_t length_of(uint8_t kind, uint8_t legs)
{
    switch (kind) {
    case CL_HELLO: return 24 + 4;
    case CL_ORDER: return 40 + 16u * legs + 4;
    case CL_FEEDBACK: return 48 + 20u * legs + 4;
    case CL_IDENTITY: return 72 + 8u * legs + 4;
    default: return 0;
    }
}

int cl_read(cl_frame *frame, const uint8_t *b, size_t n)
{
    if (n < 28 || b[0] != 'C' || b[1] != 'u' || b[2] != CL_VERSION || b[7] != 0 || b[6] > CL_MAX_LEGS) {
        return 0;
    }
    size_t length = length_of(b[3], b[6]);
    if (length == 0 || n != length || get(b + 4, 2) != length) {
        return 0;
    }
    if (get(b + length - 4, 4) != cl_crc32(b, length - 4)) {
        return 0;
    }
    if (b[3] == CL_HELLO && b[6] != 0) {
        return 0;
    }
    memset(frame, 0, sizeof *frame);
    frame->kind = b[3];
    frame->legs = b[6];
    frame->session = (uint32_t)get(b + 8, 4);
    frame->sequence = (uint32_t)get(b + 12, 4);
    frame->time_us = get(b + 16, 8);
    if (frame->kind == CL_ORDER) {
        cl_order *o = &frame->u.order;
        o->apply_at_us = get(b + 24, 8);
        o->kind = b[32];
        o->warn = b[33] & 1;
        o->release = b[33] >> 1 & 1;
        o->silence_ms = (uint16_t)get(b + 34, 2);
        o->window_um = (uint32_t)get(b + 36, 4);
        if (o->kind > CL_JOG || b[33] > 3 || o->window_um == 0) {
            return 0;
        }
        for (int i = 0; i < frame->legs; i++) {
            const uint8_t *at = b + 40 + 16 * i;
            o->leg[i].position_nm = get_signed(at, 8);
            o->leg[i].speed_um_s = (int32_t)get_signed(at + 8, 4);
            o->leg[i].force_limit_mn = (uint32_t)get(at + 12, 4);
        }
    } else if (frame->kind == CL_FEEDBACK) {
        cl_feedback *f = &frame->u.feedback;
        uint16_t inputs = (uint16_t)get(b + 38, 2);
        f->echo_us = get(b + 24, 8);
        f->echo_sequence = (uint32_t)get(b + 32, 4);
        f->state = b[36];
        f->brakes = b[37];
        if (f->state > CL_FAULT || f->brakes > CL_BRAKES_RELEASED || inputs >> (2 * CL_INPUTS) != 0 || b[40] > 3 ||
            b[41] > CL_FAULT_HOMING || (b[42] >= frame->legs && b[42] != 255) || b[43] != 0) {
            return 0;
        }
        for (int i = 0; i < CL_INPUTS; i++) {
            f->input[i] = inputs >> (2 * i) & 3;
            if (f->input[i] > CL_CLOSED) {
                return 0;
            }
        }
        f->homed = b[40] & 1;
        f->moving = b[40] >> 1 & 1;
        f->fault = b[41];
        f->fault_leg = b[42];
        f->rejected = (uint32_t)get(b + 44, 4);
        for (int i = 0; i < frame->legs; i++) {
            const uint8_t *at = b + 48 + 20 * i;
            f->leg[i].position_nm = get_signed(at, 8);
            f->leg[i].speed_um_s = (int32_t)get_signed(at + 8, 4);
            f->leg[i].force_mn = (int32_t)get_signed(at + 12, 4);
            f->leg[i].temperature_dc = (int16_t)get_signed(at + 16, 2);
            f->leg[i].flags = (uint16_t)get(at + 18, 2);
            if (f->leg[i].flags >= 2 * CL_LEG_FAULT) {
                return 0;
            }
        }
    } else if (frame->kind == CL_IDENTITY) {
        cl_identity *id = &frame->u.identity;
        id->cycle_us = (uint32_t)get(b + 24, 4);
        id->firmware = (uint32_t)get(b + 28, 4);
        id->parameters = get(b + 32, 8);
        memcpy(id->name, b + 40, 32);
        for (int i = 0; i < frame->legs; i++) {
            id->serial[i] = get(b + 72 + 8 * i, 8);
        }
    }
    return 1;
}

size_t cl_write(const cl_frame *frame, uint8_t *b)
{
    size_t length = length_of(frame->kind, frame->legs);
    if (length == 0 || frame->legs > CL_MAX_LEGS) {
        return 0;
    }
    memset(b, 0, length);
    b[0] = 'C';
    b[1] = 'u';
    b[2] = CL_VERSION;
    b[3] = frame->kind;
    put(b + 4, 2, length);
    b[6] = frame->legs;
    put(b + 8, 4, frame->session);
    put(b + 12, 4, frame->sequence);
    put(b + 16, 8, frame->time_us);
    if (frame->kind == CL_ORDER) {
        const cl_order *o = &frame->u.order;
        put(b + 24, 8, o->apply_at_us);
        b[32] = o->kind;
        b[33] = (uint8_t)((o->warn ? 1 : 0) | (o->release ? 2 : 0));
        put(b + 34, 2, o->silence_ms);
        put(b + 36, 4, o->window_um);
        for (int i = 0; i < frame->legs; i++) {
            uint8_t *at = b + 40 + 16 * i;
            put(at, 8, (uint64_t)o->leg[i].position_nm);
            put(at + 8, 4, (uint32_t)o->leg[i].speed_um_s);
            put(at + 12, 4, o->leg[i].force_limit_mn);
        }
    } else if (frame->kind == CL_FEEDBACK) {
        const cl_feedback *f = &frame->u.feedback;
        uint16_t inputs = 0;
        for (int i = 0; i < CL_INPUTS; i++) {
            inputs |= (uint16_t)((f->input[i] & 3u) << (2 * i));
        }
        put(b + 24, 8, f->echo_us);
        put(b + 32, 4, f->echo_sequence);
        b[36] = f->state;
        b[37] = f->brakes;
        put(b + 38, 2, inputs);
        b[40] = (uint8_t)((f->homed ? 1 : 0) | (f->moving ? 2 : 0));
        b[41] = f->fault;
        b[42] = f->fault_leg;
        put(b + 44, 4, f->rejected);
        for (int i = 0; i < frame->legs; i++) {
            uint8_t *at = b + 48 + 20 * i;
            put(at, 8, (uint64_t)f->leg[i].position_nm);
            put(at + 8, 4, (uint32_t)f->leg[i].speed_um_s);
            put(at + 12, 4, (uint32_t)f->leg[i].force_mn);
            put(at + 16, 2, (uint16_t)f->leg[i].temperature_dc);
            put(at + 18, 2, f->leg[i].flags);
        }
    } else if (frame->kind == CL_IDENTITY) {
        const cl_identity *id = &frame->u.identity;
        put(b + 24, 4, id->cycle_us);
        put(b + 28, 4, id->firmware);
        put(b + 32, 8, id->parameters);
        memcpy(b + 40, id->name, 32);
        for (int i = 0; i < frame->legs; i++) {
            put(b + 72 + 8 * i, 8, id->serial[i]);
        }
    }
    put(b + length - 4, 4, cl_crc32(b, length - 4));
    return length;
}

size_t cl_stuff(const uint8_t *bytes, size_t n, uint8_t *to)
{
    size_t code_at = 0, at = 1;
    uint8_t code = 1;
    for (size_t i = 0; i < n; i++) {
        if (bytes[i] != 0) {
            to[at++] = bytes[i];
            code++;
        }
        if (bytes[i] == 0 || code == 0xFF) {
            to[code_at] = code;
            code_at = at++;
            code = 1;
        }
    }
    to[code_at] = code;
    to[at++] = 0;
    return at;
}

size_t cl_unstuff(const uint8_t *bytes, size_t n, uint8_t *to, size_t room)
{
    size_t at = 0, i = 0;
    while (i < n) {
        uint8_t code = bytes[i++];
        if (code == 0 || i + code - 1 > n || at + code - 1u > room) {
            return 0;
        }
        memcpy(to + at, bytes + i, code - 1u);
        at += code - 1u;
        i += code - 1u;
        if (code != 0xFF && i < n) {
            if (at == room) {
                return 0;
            }
            to[at++] = 0;
        }
    }
    return at;
}
