/* A wall clock that is set an hour forth and back while a program runs, for LD_PRELOAD: noon of today at the first
 * question, then every 0.7 s an hour later, right, an hour earlier, and so on. The monotonic clock is left alone. When the
 * program ends, how often the wall clock was asked goes into the file that CUELOOM_TEST_CLOCK names.
 */
#define _GNU_SOURCE
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static int64_t first_us;
static unsigned long asked;

static int64_t real_us(clockid_t which)
{
    struct timespec t;
    syscall(SYS_clock_gettime, which, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

static int64_t wall_us(void)
{
    const int64_t day_us = 86400000000, hour_us = 3600000000;
    int64_t none = 0, now_us = real_us(CLOCK_MONOTONIC);
    __atomic_fetch_add(&asked, 1, __ATOMIC_SEQ_CST);
    __atomic_compare_exchange_n(&first_us, &none, now_us, 0, __ATOMIC_SEQ_CST, __ATOMIC_SEQ_CST);
    int64_t since_us = now_us - first_us;
    int64_t noon_us = real_us(CLOCK_REALTIME) / day_us * day_us + day_us / 2;
    return noon_us + since_us + hour_us * (1 - since_us / 700000 % 3);
}

int clock_gettime(clockid_t which, struct timespec *t)
{
    if (which != CLOCK_REALTIME && which != CLOCK_REALTIME_COARSE) return (int)syscall(SYS_clock_gettime, which, t);
    int64_t us = wall_us();
    t->tv_sec = us / 1000000;
    t->tv_nsec = us % 1000000 * 1000;
    return 0;
}

int gettimeofday(struct timeval *restrict t, void *restrict zone)
{
    (void)zone;
    int64_t us = wall_us();
    t->tv_sec = us / 1000000;
    t->tv_usec = us % 1000000;
    return 0;
}

time_t time(time_t *to)
{
    time_t seconds = wall_us() / 1000000;
    if (to) *to = seconds;
    return seconds;
}

__attribute__((destructor)) static void tell(void)
{
    const char *path = getenv("CUELOOM_TEST_CLOCK");
    FILE *file = path ? fopen(path, "w") : NULL;
    if (file) {
        fprintf(file, "%lu\n", asked);
        fclose(file);
    }
}
