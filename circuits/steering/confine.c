/*
 * Starts a foreign program with hard limits and, where the kernel can, with a list of the few
 * system calls that it may make.
 *
 *   confine PROGRAM SECONDS BYTES OUTPUT static|dynamic|limits
 *
 * Exit code 97: the program could not be started; 98: the kernel does not offer the list.
 */
#define _GNU_SOURCE
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "confine.h"

#define NOT_STARTED 97
#define NOT_OFFERED 98

static int limit(int what, rlim_t most)
{
    struct rlimit both;
    both.rlim_cur = most;
    both.rlim_max = most;
    return setrlimit(what, &both);
}

#ifdef CONFINE_KERNEL
static int install(const char *program, int dynamic)
{
    const uint64_t path = (uint64_t)(uintptr_t)program;
    struct sock_filter loaded_at_once[] = {
        CONFINE_HEAD,
        CONFINE_CALL_WITH(SYS_execve, 0, path, path >> 32),
        CONFINE_WORK,
        CONFINE_CALL_WITH(SYS_read, 0, 0, 0),
        CONFINE_CALL_WITH(SYS_prctl, 0, PR_SET_SECCOMP, 0),
        CONFINE_CALL_WITH(SYS_prlimit64, 2, 0, 0),
        CONFINE_CALL(SYS_set_tid_address),
        CONFINE_CALL(SYS_set_robust_list),
#ifdef SYS_rseq
        CONFINE_CALL(SYS_rseq),
#else
        CONFINE_CALL(334),
#endif
#ifdef SYS_arch_prctl
        CONFINE_CALL(SYS_arch_prctl),
#endif
#ifdef SYS_readlink
        CONFINE_CALL(SYS_readlink),
#endif
        CONFINE_CALL(SYS_readlinkat),
        CONFINE_CALL(SYS_getrandom),
        CONFINE_CALL(SYS_mprotect),
        CONFINE_STOP,
    };
    struct sock_filter with_loader[] = {
        CONFINE_HEAD,
        CONFINE_CALL_WITH(SYS_execve, 0, path, path >> 32),
        CONFINE_WORK,
        CONFINE_CALL(SYS_read),
        CONFINE_CALL_WITH(SYS_prctl, 0, PR_SET_SECCOMP, 0),
        CONFINE_CALL_WITH(SYS_prlimit64, 2, 0, 0),
        CONFINE_CALL(SYS_set_tid_address),
        CONFINE_CALL(SYS_set_robust_list),
#ifdef SYS_rseq
        CONFINE_CALL(SYS_rseq),
#else
        CONFINE_CALL(334),
#endif
#ifdef SYS_arch_prctl
        CONFINE_CALL(SYS_arch_prctl),
#endif
#ifdef SYS_access
        CONFINE_CALL(SYS_access),
#endif
#ifdef SYS_readlink
        CONFINE_CALL(SYS_readlink),
#endif
        CONFINE_CALL(SYS_readlinkat),
        CONFINE_CALL(SYS_faccessat),
        CONFINE_CALL(SYS_getrandom),
        CONFINE_CALL(SYS_mprotect),
        CONFINE_CALL(SYS_newfstatat),
        CONFINE_CALL(SYS_fstat),
        CONFINE_CALL(SYS_pread64),
        CONFINE_CALL(SYS_close),
        /* Opening to read and close on exec, as the loader does; nothing that writes. */
        CONFINE_CALL_WITH(SYS_openat, 2, 02000000, 0),
        CONFINE_STOP,
    };

    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0) {
        return -1;
    }
    return dynamic ? CONFINE_INSTALL(with_loader) : CONFINE_INSTALL(loaded_at_once);
}
#endif

int main(int argc, char **argv)
{
    char *arguments[2] = {NULL, NULL};
    char *nothing[1] = {NULL};
    int number;

    if (argc != 6) {
        return NOT_STARTED;
    }
    arguments[0] = argv[1];
    for (number = 3; number < 256; ++number) {
        close(number);
    }
    limit(RLIMIT_CORE, 0);
    limit(RLIMIT_NOFILE, 8);
#ifdef RLIMIT_NPROC
    limit(RLIMIT_NPROC, 0);
#endif
#ifdef RLIMIT_MEMLOCK
    limit(RLIMIT_MEMLOCK, 0);
#endif
    if (limit(RLIMIT_FSIZE, (rlim_t)atol(argv[4])) != 0
        || limit(RLIMIT_CPU, (rlim_t)atol(argv[2])) != 0) {
        return NOT_STARTED;
    }
#ifdef RLIMIT_AS
    limit(RLIMIT_AS, (rlim_t)atol(argv[3]));
#endif
    if (strcmp(argv[5], "limits") != 0) {
#ifdef CONFINE_KERNEL
        if (install(argv[1], strcmp(argv[5], "dynamic") == 0) != 0) {
            return NOT_OFFERED;
        }
#else
        return NOT_OFFERED;
#endif
    }
    execve(argv[1], arguments, nothing);
    return NOT_STARTED;
}
