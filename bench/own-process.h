/* own-process: work in a process of its own, so that what never ends, or dies, costs itself alone. */
#pragma once

#include <glib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/* Calls `work` in a child, which has limit_s seconds, and takes over the `size` bytes of `result` that it fills
 * in there; they hold no pointers. FALSE where the child died, or took too long. */
static inline gboolean in_own_process(void (*work)(void *data, void *result), void *data,
                                      void *result, size_t size, unsigned limit_s)
{
    int ends[2];
    if (pipe(ends) != 0)
        return FALSE;
    const pid_t pid = fork();
    if (pid == 0) {
        alarm(limit_s);
        work(data, result);
        _exit(write(ends[1], result, size) == (ssize_t)size ? 0 : 1);
    }
    close(ends[1]);
    const gboolean good = pid > 0 && read(ends[0], result, size) == (ssize_t)size;
    close(ends[0]);
    if (pid > 0)
        waitpid(pid, NULL, 0);
    return good;
}

/* What is to be found out of one drawing: its file and its number in the run. */
typedef void DrawingWork(const char *svg, unsigned number, void *result);

typedef struct {
    const char *svg;
    unsigned number;
    DrawingWork *work;
} DrawingJob;

static inline void do_drawing(void *data, void *result)
{
    const DrawingJob *j = data;
    j->work(j->svg, j->number, result);
}

/* The same of one drawing, with a result that is cleared first. */
static inline gboolean drawing_in_own_process(const char *svg, unsigned number, DrawingWork *work,
                                              void *result, size_t size, unsigned limit_s)
{
    DrawingJob j = {svg, number, work};
    memset(result, 0, size);
    return in_own_process(do_drawing, &j, result, size, limit_s);
}
