/* Lets Debian's user-mode kernel 6.1 run on processors with AMX.
 *
 * That kernel keeps the first 2696 bytes of a process's extended registers and puts them back with
 * PTRACE_SETREGSET. Since Linux 5.16 the host takes nothing but the whole set, which with AMX has 11
 * KiB, and answers EFAULT. Loaded before libc (LD_PRELOAD), this fills up what is missing with what
 * the process has now. No header is included, so that tcc alone can build it.
 */
typedef struct {
    void *base;
    unsigned long length;
} piece;

long syscall(long number, ...);
void *memcpy(void *to, const void *from, unsigned long size);

enum { SYS_PTRACE = 101, GETREGSET = 0x4204, SETREGSET = 0x4205, XSTATE = 0x202 };

long ptrace(long request, long pid, long address, long data)
{
    static char all[65536] __attribute__((aligned(64)));
    long word;

    if (request >= 1 && request <= 3) /* PEEKTEXT, PEEKDATA, PEEKUSER: libc returns the word */
        return syscall(SYS_PTRACE, request, pid, address, &word) < 0 ? -1 : word;
    if (request == SETREGSET && address == XSTATE) {
        piece *given = (piece *)data;
        piece whole;

        whole.base = all;
        whole.length = sizeof all;
        if (syscall(SYS_PTRACE, GETREGSET, pid, address, &whole) < 0)
            return -1;
        if (given->length < whole.length) {
            memcpy(all, given->base, given->length);
            return syscall(SYS_PTRACE, request, pid, address, &whole);
        }
    }
    return syscall(SYS_PTRACE, request, pid, address, data);
}
