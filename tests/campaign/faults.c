// Lets one call of one kind fail, or notes calls in order: preloaded before a program (LD_PRELOAD).
//
// FAULT_KIND  write, rename, fsync, open, ftruncate, close, alloc, thread; FAULT_AT  the call that fails, from 1; all
// before and after it succeed. FAULT_MARK  a file that exists afterwards if a call has failed. FAULT_LOG  a file that
// gets a line for each fsync and rename, in order. FAULT_COUNT  a file that gets the number of calls of each kind.
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

enum kind { none, kind_write, kind_rename, kind_fsync, kind_open, kind_ftruncate, kind_close, kind_alloc, kind_thread };

static enum kind wanted;
static long wanted_at;
static atomic_long calls[9];
static int counts;
static int log_descriptor = -1;
static int ready;

extern void *__libc_malloc(size_t);

static long raw(long number, long a, long b, long c, long d) { return syscall(number, a, b, c, d); }

__attribute__((constructor)) static void begin(void) {
    static const char *const names[] = {"", "write", "rename", "fsync", "open", "ftruncate", "close", "alloc", "thread"};
    const char *kind = getenv("FAULT_KIND");
    const char *at = getenv("FAULT_AT");
    const char *log = getenv("FAULT_LOG");
    for (int i = 1; kind && i < 9; ++i)
        if (strcmp(kind, names[i]) == 0) wanted = (enum kind)i;
    wanted_at = at ? atol(at) : 0;
    if (log) log_descriptor = (int)raw(SYS_openat, AT_FDCWD, (long)log, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    counts = getenv("FAULT_COUNT") != NULL;
    ready = 1;
}

__attribute__((destructor)) static void end(void) {
    const char *count = getenv("FAULT_COUNT");
    if (!count) return;
    char text[256];
    int length = 0;
    for (int i = 1; i < 9; ++i) length += snprintf(text + length, sizeof text - length, "%ld ", (long)atomic_load(&calls[i]));
    const int to = (int)raw(SYS_openat, AT_FDCWD, (long)count, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    raw(SYS_write, to, (long)text, length, 0);
    raw(SYS_close, to, 0, 0, 0);
}

static int fails(enum kind kind) {
    if (!ready || (kind != wanted && !counts)) return 0;
    const long now = atomic_fetch_add(&calls[kind], 1) + 1;
    if (kind != wanted || now != wanted_at) return 0;
    const char *mark = getenv("FAULT_MARK");
    if (mark) raw(SYS_close, raw(SYS_openat, AT_FDCWD, (long)mark, O_WRONLY | O_CREAT, 0600), 0, 0, 0);
    return 1;
}

// Standard output and error belong to whoever started the program.
static int ours(int descriptor) { return descriptor > 2; }

ssize_t write(int descriptor, const void *bytes, size_t count) {
    if (ours(descriptor) && fails(kind_write)) {
        errno = ENOSPC;
        return -1;
    }
    return raw(SYS_write, descriptor, (long)bytes, (long)count, 0);
}

ssize_t pwrite(int descriptor, const void *bytes, size_t count, off_t at) {
    if (ours(descriptor) && fails(kind_write)) {
        errno = ENOSPC;
        return -1;
    }
    return raw(SYS_pwrite64, descriptor, (long)bytes, (long)count, at);
}

ssize_t pwrite64(int descriptor, const void *bytes, size_t count, off64_t at) {
    return pwrite(descriptor, bytes, count, at);
}

static void note(const char *what, const char *name) {
    char line[1024];
    const int length = snprintf(line, sizeof line, "%s %s\n", what, name);
    if (log_descriptor >= 0) raw(SYS_write, log_descriptor, (long)line, length < 1024 ? length : 1023, 0);
}

int rename(const char *from, const char *to) {
    if (fails(kind_rename)) {
        errno = EIO;
        return -1;
    }
    note("rename", to);
    return (int)raw(SYS_rename, (long)from, (long)to, 0, 0);
}

static int synced(int descriptor, long number) {
    if (fails(kind_fsync)) {
        errno = EIO;
        return -1;
    }
    char link[64];
    char name[768] = "";
    snprintf(link, sizeof link, "/proc/self/fd/%d", descriptor);
    const ssize_t length = readlink(link, name, sizeof name - 1);
    if (length > 0) name[length] = 0;
    note("fsync", name);
    return (int)raw(number, descriptor, 0, 0, 0);
}

int fsync(int descriptor) { return synced(descriptor, SYS_fsync); }
int fdatasync(int descriptor) { return synced(descriptor, SYS_fdatasync); }

static int opened(const char *name, int flags, mode_t mode) {
    const int writes = (flags & (O_WRONLY | O_RDWR | O_CREAT)) != 0;
    if (writes && fails(kind_open)) {
        errno = EMFILE;
        return -1;
    }
    return (int)raw(SYS_openat, AT_FDCWD, (long)name, flags, mode);
}

int open(const char *name, int flags, ...) {
    va_list more;
    va_start(more, flags);
    const mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(more, mode_t) : 0;
    va_end(more);
    return opened(name, flags, mode);
}

int open64(const char *name, int flags, ...) {
    va_list more;
    va_start(more, flags);
    const mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(more, mode_t) : 0;
    va_end(more);
    return opened(name, flags, mode);
}

int ftruncate(int descriptor, off_t length) {
    if (fails(kind_ftruncate)) {
        errno = EIO;
        return -1;
    }
    return (int)raw(SYS_ftruncate, descriptor, length, 0, 0);
}

int close(int descriptor) {
    const int result = (int)raw(SYS_close, descriptor, 0, 0, 0);
    if (ours(descriptor) && fails(kind_close)) {
        errno = EIO;
        return -1;
    }
    return result;
}

void *malloc(size_t size) {
    if (fails(kind_alloc)) {
        errno = ENOMEM;
        return NULL;
    }
    return __libc_malloc(size);
}

typedef int (*create_thread)(pthread_t *, const pthread_attr_t *, void *(*)(void *), void *);

int pthread_create(pthread_t *thread, const pthread_attr_t *attributes, void *(*run)(void *), void *argument) {
    if (fails(kind_thread)) return EAGAIN;
    create_thread real = (create_thread)dlsym(RTLD_NEXT, "pthread_create");
    return real(thread, attributes, run, argument);
}
