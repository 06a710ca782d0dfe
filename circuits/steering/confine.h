/*
 * What a process that runs somebody else's step function may ask of the kernel.
 *
 * Two lists, each a small program that the kernel runs at every system call and that ends the
 * process at any call that is not on it. The first list stands before the foreign file is even
 * loaded, so that code which runs before main is held too; the second, tighter one is put on in
 * main. Neither knows files that can be written, sockets, other processes or other users.
 */
#ifndef CONFINE_H
#define CONFINE_H

#if defined(__linux__) && (defined(__x86_64__) || defined(__aarch64__))
#define CONFINE_KERNEL 1
#include <errno.h>
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/prctl.h>
#include <sys/syscall.h>

#ifdef __x86_64__
#define CONFINE_ARCH AUDIT_ARCH_X86_64
#else
#define CONFINE_ARCH AUDIT_ARCH_AARCH64
#endif

#ifndef SECCOMP_RET_KILL_PROCESS
#define SECCOMP_RET_KILL_PROCESS SECCOMP_RET_KILL
#endif

/* Little endian: the lower half of an argument comes first. */
#define CONFINE_LOW(n) ((uint32_t)(offsetof(struct seccomp_data, args) + 8 * (n)))
#define CONFINE_HIGH(n) (CONFINE_LOW(n) + 4)
#define CONFINE_LOAD(offset) BPF_STMT(BPF_LD | BPF_W | BPF_ABS, (offset))
#define CONFINE_PASS BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW)
#define CONFINE_STOP BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_KILL_PROCESS)
#define CONFINE_IS(value, yes, no) BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (uint32_t)(value), (yes), (no))

/* The call, whatever its arguments. */
#define CONFINE_CALL(number) CONFINE_IS(number, 0, 1), CONFINE_PASS
/* The call with an argument of one value, given in its two halves. */
#define CONFINE_CALL_WITH(number, n, low, high) \
    CONFINE_IS(number, 0, 6), CONFINE_LOAD(CONFINE_LOW(n)), CONFINE_IS(low, 0, 3), \
        CONFINE_LOAD(CONFINE_HIGH(n)), CONFINE_IS(high, 0, 1), CONFINE_PASS, CONFINE_STOP
#define CONFINE_HEAD \
    CONFINE_LOAD(offsetof(struct seccomp_data, arch)), CONFINE_IS(CONFINE_ARCH, 1, 0), \
        CONFINE_STOP, CONFINE_LOAD(offsetof(struct seccomp_data, nr))
#ifdef SYS_newfstatat
#define CONFINE_STAT \
    CONFINE_CALL(SYS_fstat), CONFINE_CALL_WITH(SYS_newfstatat, 3, 0x1000, 0)
#else
#define CONFINE_STAT CONFINE_CALL(SYS_fstat)
#endif
/* Memory, the results, and the end; what printing asks of its own open file besides. */
#define CONFINE_WORK \
    CONFINE_STAT, \
    CONFINE_CALL_WITH(SYS_write, 0, 1, 0), CONFINE_CALL(SYS_exit), CONFINE_CALL(SYS_exit_group), \
        CONFINE_CALL(SYS_brk), CONFINE_CALL(SYS_mmap), CONFINE_CALL(SYS_munmap)

static int confine_install(struct sock_filter *program, size_t length)
{
    struct sock_fprog filter;
    filter.len = (unsigned short)length;
    filter.filter = program;
    return prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &filter, 0, 0);
}
#define CONFINE_INSTALL(program) confine_install((program), sizeof(program) / sizeof((program)[0]))

#endif
#endif
