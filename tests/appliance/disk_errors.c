/* Preloaded into the installed service by the proof: while the file is there, the card gives errors when it is asked
   whether it has what was written. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <unistd.h>

static int broken(void) { return access("/srv/eio", F_OK) == 0; }

int fsync(int file) {
    if (broken()) { errno = EIO; return -1; }
    return ((int (*)(int))dlsym(RTLD_NEXT, "fsync"))(file);
}

int fdatasync(int file) {
    if (broken()) { errno = EIO; return -1; }
    return ((int (*)(int))dlsym(RTLD_NEXT, "fdatasync"))(file);
}
