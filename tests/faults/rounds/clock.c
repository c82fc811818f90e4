// A clock that a test can move: what processes take for the time of day is off by the seconds in a file.
// Only the time of day: waits and deadlines go by the monotonic clock, as after a true jump.

#define _GNU_SOURCE
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static volatile int64_t *seconds_off;

__attribute__((constructor)) static void open_clock(void) {
    const char *path = getenv("TEST_CLOCK");
    int file = path ? open(path, O_RDONLY | O_CLOEXEC) : -1;
    if (file < 0) return;
    void *shared = mmap(NULL, sizeof(int64_t), PROT_READ, MAP_SHARED, file, 0);
    close(file);
    if (shared != MAP_FAILED) seconds_off = shared;
}

int clock_gettime(clockid_t clock, struct timespec *now) {
    int failed = (int)syscall(SYS_clock_gettime, clock, now);
    if (!failed && seconds_off && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE))
        now->tv_sec += *seconds_off;
    return failed;
}

int gettimeofday(struct timeval *restrict now, void *restrict zone) {
    struct timespec precise;
    (void)zone;
    if (clock_gettime(CLOCK_REALTIME, &precise)) return -1;
    now->tv_sec = precise.tv_sec;
    now->tv_usec = precise.tv_nsec / 1000;
    return 0;
}

time_t time(time_t *place) {
    struct timespec precise;
    if (clock_gettime(CLOCK_REALTIME, &precise)) return -1;
    if (place) *place = precise.tv_sec;
    return precise.tv_sec;
}
