/* A bench for the reference receiver on a desktop computer: simulated legs, a UDP port or a pseudo-terminal, and
 * faults at will by words on standard input. POSIX. Model only: real legs have real friction.
 *
 *   cc -std=c99 -O1 -o bench bench.c cueloom_receiver.c cueloom_motion.c cueloom_frame.c -lm
 *   ./bench --udp 7750            or  ./bench --pty
 *   ./bench --vectors vectors.txt reads and writes the published frames and compares
 *
 * Words: presence|gate|mat|belt|stop 1/0, mute 1 (answers nothing), deaf 1 (hears nothing), late MS, double 1, swap 1,
 * corrupt 1 (these four on what it hears), slow MS (what it answers), fault LEG (and its torque goes), torque LEG (goes,
 * and no fault is told), switch LEG (at the short end), long LEG (the other), hot LEG, stick 1 (brakes), slip LEG UM,
 * snag LEG N, push LEG UM (by hand, brakes on), forget 1 (the encoders' count), clear, name TEXT, quit.
 *
 * Encoders count from 0 where the legs stand at the start: --start-mm, and each --apart-mm further out than the one before
 * it. Without --not-homed it is known where that is.
 */
#define _POSIX_C_SOURCE 200809L
#define _XOPEN_SOURCE 700

#include "cueloom_receiver.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <math.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define LEGS 2
#define DELAYED 1024

typedef struct {
    double at_m, rate_m_s, brake_s, slip_m, zero_m;
    int braked, unpowered;
} leg_state;

/* Frames on their way. */
typedef struct {
    struct { uint64_t at_us; size_t n; uint8_t bytes[CL_MAX_STUFFED]; struct sockaddr_in peer; } frame[DELAYED];
    int waiting;
} queue;

static struct {
    cl_receiver receiver;
    cl_hardware hardware;
    cl_command command;
    leg_state leg[LEGS];
    double low_m, high_m, load_n, snag_n[LEGS];
    int mute, deaf, twice, swap, corrupt, stick, socket, pty, have_peer;
    uint64_t late_us, slow_us;
    struct sockaddr_in peer;
    FILE *truth;
    queue heard, answered;
    unsigned words;
    uint8_t line[2048];
    size_t line_n;
} b;

static uint64_t now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (uint64_t)t.tv_sec * 1000000u + (uint64_t)t.tv_nsec / 1000u;
}

/* A position loop of 25 Hz, well damped, with a brake that takes 30 ms either way and a load that pulls down. */
static void move_legs(double h, const double *reference_nm)
{
    const double w = 6.283185307 * 25.0, z = 0.9;
    for (int i = 0; i < LEGS; i++) {
        leg_state *l = &b.leg[i];
        int want = !b.command.release || b.stick;
        l->brake_s = want == l->braked ? 0.0 : l->brake_s + h;
        if (l->brake_s > 0.030) {
            l->braked = want;
            l->brake_s = 0.0;
        }
        double a = 0.0;
        int driven = b.command.power && !b.hardware.drive_fault[i] && !l->unpowered;
        if (driven) {
            double most = b.command.force_limit_mn[i] == 0 ? 8.0 : 1e-3 * b.command.force_limit_mn[i] / 60.0;
            a = w * w * (1e-9 * reference_nm[i] + l->zero_m - l->at_m) - 2.0 * z * w * l->rate_m_s;
            if (a > most) a = most;
            if (a < -most) a = -most;
        } else if (!l->braked) {
            a = -3.0; /* what back-drives the screw, nobody holding it */
        }
        if (l->braked) {
            double brake = 20.0 * h; /* a closed brake takes 20 m/s^2 */
            l->rate_m_s = fabs(l->rate_m_s) <= brake ? 0.0 : l->rate_m_s - (l->rate_m_s > 0 ? brake : -brake);
        } else {
            l->rate_m_s += a * h;
        }
        l->at_m += l->rate_m_s * h;
        if (l->at_m < b.low_m || l->at_m > b.high_m) {
            l->at_m = l->at_m < b.low_m ? b.low_m : b.high_m;
            l->rate_m_s = 0.0;
        }
        b.hardware.count_nm[i] = (int64_t)llround(1e9 * (l->at_m + l->slip_m - l->zero_m));
        b.hardware.speed_um_s[i] = (int32_t)lround(1e6 * l->rate_m_s);
        double inertia = l->braked ? 0.0 : 60.0 * a;
        b.hardware.force_mn[i] = b.command.power ? (int32_t)lround(1e3 * (b.load_n + inertia + b.snag_n[i])) : 0;
        b.hardware.powered[i] = (uint8_t)driven;
        b.hardware.brake_set[i] = !b.stick && l->braked && !b.command.release;
        b.hardware.brake_released[i] = !b.stick && !l->braked && b.command.release;
        if (b.hardware.short_end[i] < 2) b.hardware.short_end[i] = l->at_m <= b.low_m + 0.0005;
        if (b.hardware.long_end[i] < 2) b.hardware.long_end[i] = l->at_m >= b.high_m - 0.0005;
    }
}

/* Puts a frame off; 0 where there is no room for it. */
static int put_off(queue *q, uint64_t by_us, const uint8_t *bytes, size_t n, const struct sockaddr_in *peer)
{
    if (q->waiting == DELAYED) return 0;
    int at = q->waiting++;
    q->frame[at].at_us = now_us() + by_us;
    q->frame[at].n = n;
    memcpy(q->frame[at].bytes, bytes, n);
    if (peer) q->frame[at].peer = *peer;
    return 1;
}

static int is_due(const queue *q)
{
    return q->waiting > 0 && q->frame[0].at_us <= now_us();
}

static void drop_first(queue *q)
{
    memmove(q->frame, q->frame + 1, (size_t)(--q->waiting) * sizeof q->frame[0]);
}

static void answer_now(const uint8_t *bytes, size_t n, const struct sockaddr_in *to)
{
    if (b.pty >= 0) {
        uint8_t stuffed[CL_MAX_STUFFED];
        size_t length = cl_stuff(bytes, n, stuffed);
        if (write(b.pty, stuffed, length) < 0) return;
    } else if (to) {
        sendto(b.socket, bytes, n, 0, (const struct sockaddr *)to, sizeof *to);
    }
}

/* From tick to tick a reference goes straight, also where this computer was busy and a tick was long. */
static void go_on(double h, const double *from_nm)
{
    int steps = 20 + (int)(h / 0.0002);
    for (int step = 1; step <= steps; step++) {
        double reference_nm[LEGS];
        for (int i = 0; i < LEGS; i++) {
            reference_nm[i] = from_nm[i] + (b.command.reference_nm[i] - from_nm[i]) * step / steps;
        }
        move_legs(h / steps, reference_nm);
    }
}

static void answer(const uint8_t *bytes, size_t n, const struct sockaddr_in *to)
{
    if (b.mute || n == 0) return;
    if (b.slow_us && put_off(&b.answered, b.slow_us, bytes, n, to)) return;
    answer_now(bytes, n, to);
}

static void hear_now(const uint8_t *bytes, size_t n, const struct sockaddr_in *from)
{
    uint8_t out[CL_MAX_FRAME];
    uint32_t rejected = b.receiver.rejected;
    size_t length = cl_receiver_take(&b.receiver, bytes, n, now_us(), out);
    if (length) {
        answer(out, length, from);
    } else if (rejected == b.receiver.rejected && from) {
        b.peer = *from; /* whose order was taken gets the feedback */
        b.have_peer = 1;
    }
}

static void hear(const uint8_t *bytes, size_t n, const struct sockaddr_in *from)
{
    uint8_t copy[CL_MAX_STUFFED];
    static uint8_t held[CL_MAX_STUFFED];
    static size_t held_n;
    if (b.deaf || n > sizeof copy) return;
    memcpy(copy, bytes, n);
    if (b.corrupt) copy[n / 2] ^= 0x10;
    if (b.swap) {
        /* Every second frame comes after the one that followed it. */
        if (held_n == 0) {
            memcpy(held, copy, n);
            held_n = n;
            return;
        }
        hear_now(copy, n, from);
        hear_now(held, held_n, from);
        held_n = 0;
        return;
    }
    held_n = 0;
    if (b.late_us && put_off(&b.heard, b.late_us, copy, n, from)) return;
    hear_now(copy, n, from);
    if (b.twice) hear_now(copy, n, from);
}

static void pass_delayed(void)
{
    for (; is_due(&b.heard); drop_first(&b.heard)) {
        hear_now(b.heard.frame[0].bytes, b.heard.frame[0].n, b.pty >= 0 ? NULL : &b.heard.frame[0].peer);
    }
    for (; is_due(&b.answered); drop_first(&b.answered)) {
        answer_now(b.answered.frame[0].bytes, b.answered.frame[0].n, &b.answered.frame[0].peer);
    }
}

static void listen_link(void)
{
    uint8_t bytes[4096];
    if (b.pty >= 0) {
        ssize_t n;
        while ((n = read(b.pty, bytes, sizeof bytes)) > 0) {
            for (ssize_t i = 0; i < n; i++) {
                if (bytes[i] != 0) {
                    if (b.line_n < sizeof b.line) b.line[b.line_n++] = bytes[i];
                    continue;
                }
                uint8_t frame[CL_MAX_FRAME + 8];
                size_t length = cl_unstuff(b.line, b.line_n, frame, sizeof frame);
                b.line_n = 0;
                if (length) hear(frame, length, NULL);
            }
        }
        return;
    }
    struct sockaddr_in from;
    socklen_t size = sizeof from;
    ssize_t n;
    while ((n = recvfrom(b.socket, bytes, sizeof bytes, MSG_DONTWAIT, (struct sockaddr *)&from, &size)) >= 0) {
        hear(bytes, (size_t)n, &from);
        size = sizeof from;
    }
}

static void word(char *line)
{
    b.words++;
    static const char *inputs[CL_INPUTS] = {"presence", "gate", "mat", "belt", "stop"};
    char name[32] = "", rest[64] = "";
    long first = 0, second = 0;
    sscanf(line, "%31s %63[^\n]", name, rest);
    sscanf(rest, "%ld %ld", &first, &second);
    int leg = first >= 1 && first <= LEGS ? (int)first - 1 : 0;
    for (int i = 0; i < CL_INPUTS; i++) {
        if (!strcmp(name, inputs[i])) b.hardware.input[i] = first ? CL_CLOSED : CL_OPEN;
    }
    if (!strcmp(name, "mute")) b.mute = (int)first;
    if (!strcmp(name, "deaf")) b.deaf = (int)first;
    if (!strcmp(name, "late")) b.late_us = (uint64_t)(1000 * first);
    if (!strcmp(name, "slow")) b.slow_us = (uint64_t)(1000 * first);
    if (!strcmp(name, "double")) b.twice = (int)first;
    if (!strcmp(name, "swap")) b.swap = (int)first;
    if (!strcmp(name, "corrupt")) b.corrupt = (int)first;
    if (!strcmp(name, "stick")) b.stick = (int)first;
    if (!strcmp(name, "fault")) b.hardware.drive_fault[leg] = 1;
    if (!strcmp(name, "hot")) {
        b.hardware.too_hot[leg] = 1;
        b.hardware.temperature_dc[leg] = 950;
    }
    if (!strcmp(name, "torque")) b.leg[leg].unpowered = 1;
    if (!strcmp(name, "switch")) b.hardware.short_end[leg] = 2;
    if (!strcmp(name, "long")) b.hardware.long_end[leg] = 2;
    if (!strcmp(name, "slip")) b.leg[leg].slip_m += 1e-6 * (double)second;
    if (!strcmp(name, "push")) b.leg[leg].at_m += 1e-6 * (double)second;
    if (!strcmp(name, "snag")) b.snag_n[leg] = (double)second;
    if (!strcmp(name, "forget")) {
        for (int i = 0; i < LEGS; i++) { /* the drives themselves stay where they are */
            b.receiver.reference_nm[i] -= 1e9 * (b.leg[i].at_m - b.leg[i].zero_m);
            b.leg[i].zero_m = b.leg[i].at_m;
        }
        b.receiver.homed = 0;
    }
    if (!strcmp(name, "name")) {
        memset(b.receiver.config.identity.name, 0, 32);
        memcpy(b.receiver.config.identity.name, rest, strlen(rest) < 32 ? strlen(rest) : 32);
        b.receiver.config.identity.serial[0] ^= 1;
    }
    if (!strcmp(name, "clear")) {
        for (int i = 0; i < LEGS; i++) {
            b.hardware.drive_fault[i] = b.hardware.too_hot[i] = 0;
            b.hardware.short_end[i] = b.hardware.long_end[i] = 0;
            b.leg[i].unpowered = 0;
            b.hardware.temperature_dc[i] = 300;
            b.snag_n[i] = 0.0;
            b.leg[i].slip_m = 0.0;
        }
        b.mute = b.deaf = b.twice = b.swap = b.corrupt = b.stick = 0;
        b.late_us = b.slow_us = 0;
    }
    if (!strcmp(name, "quit")) {
        if (b.truth) fclose(b.truth);
        exit(0);
    }
    printf("ok %s\n", name);
    fflush(stdout);
}

static void listen_words(void)
{
    static char text[256];
    static size_t n;
    char c;
    struct pollfd p = {0, POLLIN, 0};
    while (poll(&p, 1, 0) > 0 && p.revents & (POLLIN | POLLHUP)) {
        if (read(0, &c, 1) <= 0) { /* nobody there any more */
            if (b.truth) fclose(b.truth);
            exit(0);
        }
        if (c == '\n') {
            text[n] = 0;
            n = 0;
            word(text);
        } else if (n + 1 < sizeof text) {
            text[n++] = c;
        }
    }
}

static int vectors(const char *path)
{
    FILE *file = fopen(path, "r");
    char line[2048];
    int checked = 0;
    if (!file) return 2;
    while (fgets(line, sizeof line, file)) {
        char name[32], hex[1024];
        uint8_t bytes[CL_MAX_FRAME], again[CL_MAX_FRAME], stuffed[CL_MAX_STUFFED], back[CL_MAX_FRAME];
        if (line[0] == '#' || sscanf(line, "%31s %1023s", name, hex) != 2) continue;
        size_t n = strlen(hex) / 2;
        if (n > sizeof bytes) {
            printf("%s is longer than any frame: %zu bytes, at most %zu\n", name, n, sizeof bytes);
            return 1;
        }
        for (size_t i = 0; i < n; i++) {
            unsigned value;
            sscanf(hex + 2 * i, "%2x", &value);
            bytes[i] = (uint8_t)value;
        }
        cl_frame frame;
        int good = cl_read(&frame, bytes, n) && cl_write(&frame, again) == n && memcmp(bytes, again, n) == 0;
        size_t length = cl_stuff(bytes, n, stuffed);
        good = good && cl_unstuff(stuffed, length - 1, back, sizeof back) == n && memcmp(bytes, back, n) == 0;
        bytes[n / 2] ^= 4;
        good = good && !cl_read(&frame, bytes, n);
        printf("%s %s\n", name, good ? "agrees" : "DIFFERS");
        if (!good) return 1;
        checked++;
    }
    fclose(file);
    return checked == 4 ? 0 : 1;
}

int main(int count, char **args)
{
    cl_config config;
    long cycle_us = 2000, port = 0;
    double start_m = 0.540, apart_m = 0.0;
    int homed = 1, use_pty = 0;
    long silence_ms = 100;
    memset(&config, 0, sizeof config);
    b.low_m = 0.430;
    b.high_m = 0.730;
    b.load_n = 300.0;
    b.pty = b.socket = -1;
    for (int i = 1; i < count; i++) {
        const char *next = i + 1 < count ? args[i + 1] : "";
        if (!strcmp(args[i], "--vectors")) return vectors(next);
        if (!strcmp(args[i], "--udp")) port = atol(next);
        if (!strcmp(args[i], "--pty")) use_pty = 1;
        if (!strcmp(args[i], "--cycle-us")) cycle_us = atol(next);
        if (!strcmp(args[i], "--start-mm")) start_m = 1e-3 * atof(next);
        if (!strcmp(args[i], "--apart-mm")) apart_m = 1e-3 * atof(next);
        if (!strcmp(args[i], "--load-n")) b.load_n = atof(next);
        if (!strcmp(args[i], "--silence-ms")) silence_ms = atol(next);
        if (!strcmp(args[i], "--not-homed")) homed = 0;
        if (!strcmp(args[i], "--truth")) b.truth = fopen(next, "w");
    }
    /* Some minutes of it: nothing waits for a disk while it plays. */
    if (b.truth) setvbuf(b.truth, NULL, _IOFBF, (size_t)1 << 25);
    config.legs = LEGS;
    config.longest_silence_ms = (uint16_t)silence_ms;
    config.creep_nm_s = 20e6;
    config.back_off_nm = 11500000;
    config.stroke_nm = 1000000000;
    config.following_nm = 12000000;
    config.identity.cycle_us = (uint32_t)cycle_us;
    config.identity.firmware = 0x00010000;
    config.identity.parameters = 0x5EED;
    memcpy(config.identity.name, "bench", 5);
    for (int i = 0; i < LEGS; i++) {
        config.low_nm[i] = (int64_t)(1e9 * (b.low_m + 0.005));
        config.high_nm[i] = (int64_t)(1e9 * (b.high_m - 0.005));
        config.switch_nm[i] = (int64_t)(1e9 * (b.low_m + 0.0005));
        config.speed_nm_s[i] = 250e6;
        config.braking_nm_s2[i] = 4e9;
        config.identity.serial[i] = 1000u + (uint64_t)i;
        b.leg[i].at_m = b.leg[i].zero_m = start_m + i * apart_m;
        b.leg[i].braked = 1;
        b.hardware.temperature_dc[i] = 300;
    }
    for (int i = 0; i < CL_INPUTS; i++) b.hardware.input[i] = CL_CLOSED;
    b.hardware.input[CL_PRESENCE] = CL_OPEN;
    cl_receiver_init(&b.receiver, &config);
    int64_t zero_nm[LEGS];
    for (int i = 0; i < LEGS; i++) zero_nm[i] = (int64_t)llround(1e9 * b.leg[i].zero_m);
    if (homed) cl_receiver_know(&b.receiver, zero_nm);
    if (use_pty) {
        b.pty = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
        if (b.pty < 0 || grantpt(b.pty) || unlockpt(b.pty)) return 2;
        int other = open(ptsname(b.pty), O_RDWR | O_NOCTTY); /* held open, so that a closed line is no end of file */
        struct termios raw;
        if (other >= 0 && tcgetattr(other, &raw) == 0) {
            raw.c_iflag = raw.c_oflag = raw.c_lflag = 0;
            tcsetattr(other, TCSANOW, &raw);
        }
        printf("pty %s\n", ptsname(b.pty));
    } else {
        struct sockaddr_in own;
        socklen_t size = sizeof own;
        memset(&own, 0, sizeof own);
        own.sin_family = AF_INET;
        own.sin_port = htons((uint16_t)port);
        own.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        b.socket = socket(AF_INET, SOCK_DGRAM, 0);
        if (bind(b.socket, (struct sockaddr *)&own, sizeof own)) return 2;
        getsockname(b.socket, (struct sockaddr *)&own, &size);
        printf("port %d\n", ntohs(own.sin_port));
    }
    fflush(stdout);

    uint64_t next = now_us(), feedback_at = next, before = next;
    for (;;) {
        uint64_t wait = next + 1000;
        next = wait;
        uint64_t now = now_us();
        if (wait > now) {
            struct pollfd p = {b.pty >= 0 ? b.pty : b.socket, POLLIN, 0};
            struct timespec t = {0, (long)(wait - now) * 1000};
            (void)p;
            nanosleep(&t, NULL);
        } else if (now > wait + 20000) {
            next = now; /* this computer was busy; simulated time goes on from here */
        }
        listen_link();
        pass_delayed();
        listen_words();
        now = now_us();
        double from_nm[LEGS];
        memcpy(from_nm, b.command.reference_nm, sizeof from_nm);
        cl_receiver_tick(&b.receiver, &b.hardware, now, &b.command);
        double h = 1e-6 * (double)(now - before);
        before = now;
        go_on(h, from_nm);
        if (b.truth) {
            fprintf(b.truth, "%llu,%u,%d,%d,%d,%d,%d", (unsigned long long)now, b.words, b.receiver.state, b.command.power,
                    b.leg[0].braked && b.leg[1].braked, b.command.warn, b.receiver.fault);
            for (int i = 0; i < LEGS; i++) fprintf(b.truth, ",%.9f,%.6f", b.leg[i].at_m, b.leg[i].rate_m_s);
            for (int i = 0; i < LEGS; i++) fprintf(b.truth, ",%d", b.leg[i].braked);
            fputc('\n', b.truth);
        }
        if (now >= feedback_at) {
            uint8_t out[CL_MAX_FRAME];
            size_t length = cl_receiver_feedback(&b.receiver, now, out);
            if (b.have_peer || b.pty >= 0) answer(out, length, &b.peer);
            feedback_at = now > feedback_at + 20000 ? now : feedback_at + (uint64_t)cycle_us;
        }
    }
}
