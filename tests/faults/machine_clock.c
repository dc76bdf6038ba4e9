/* Lets a test set the wall clock that one process sees, as a person or a time server may; monotonic time goes on.
   Loaded with LD_PRELOAD; the file that STORM_CLOCK names holds the seconds (int64) by which the clock is ahead. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <semaphore.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static volatile int64_t *ahead;

__attribute__((constructor)) static void begin(void) {
    const char *path = getenv("STORM_CLOCK");
    int file = path ? open(path, O_RDONLY) : -1;
    if (file < 0) return;
    void *shared = mmap(0, sizeof *ahead, PROT_READ, MAP_SHARED, file, 0);
    if (shared != MAP_FAILED) ahead = shared;
    close(file);
}

static int64_t ahead_s(void) { return ahead ? *ahead : 0; }

int clock_gettime(clockid_t id, struct timespec *now) {
    int failed = (int)syscall(SYS_clock_gettime, id, now);
    if (!failed && (id == CLOCK_REALTIME || id == CLOCK_REALTIME_COARSE)) now->tv_sec += ahead_s();
    return failed;
}

int gettimeofday(struct timeval *restrict now, void *restrict zone) {
    int failed = (int)syscall(SYS_gettimeofday, now, zone);
    if (!failed) now->tv_sec += ahead_s();
    return failed;
}

time_t time(time_t *out) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    if (out) *out = now.tv_sec;
    return now.tv_sec;
}

/* Some Pythons wait for a moment of the wall clock: the kernel's is not the one that they saw. */
int sem_timedwait(sem_t *restrict semaphore, const struct timespec *restrict until) {
    static int (*real)(sem_t *, const struct timespec *);
    if (!real) real = (int (*)(sem_t *, const struct timespec *))dlsym(RTLD_NEXT, "sem_timedwait");
    struct timespec moved = *until;
    moved.tv_sec -= ahead_s();
    return real(semaphore, &moved);
}
