/* drive: forks the rig, runs the program on it, and brings the rig's figures back through a pipe.
 */
#include "drive.h"
#include "support/drawing.h"
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/* How long a rig may take to report after a run that failed. */
enum { REPORT_AFTER_MS = 5000 };

typedef struct {
    char port[256];
    char failed[512]; /* why the rig could not start; "" where it did */
} Opening;

/* The rig's process: tells the port, serves one run, writes the ink, tells the figures. */
static void serve_rig(const char *rig_file, const char *folder, int to_parent)
{
    g_autoptr(GError) error = NULL;
    Opening opening = {"", ""};
    DtRig *rig = dt_rig_new(rig_file, &error);
    const char *port = rig ? dt_rig_open_port(rig, &error) : NULL;
    if (port)
        g_strlcpy(opening.port, port, sizeof opening.port);
    else
        g_strlcpy(opening.failed, error->message, sizeof opening.failed);
    if (write(to_parent, &opening, sizeof opening) != sizeof opening || !port)
        _exit(1);
    volatile int stop = 0;
    DtRigFigures figures = {0};
    const gboolean ok =
        dt_rig_serve(rig, FALSE, TRUE, &stop, &error) && dt_rig_write(rig, folder, &error);
    dt_rig_figures(rig, &figures);
    if (!ok)
        g_printerr("rig: %s\n", error->message);
    const gboolean told = write(to_parent, &figures, sizeof figures) == sizeof figures;
    _exit(ok && told ? 0 : 1);
}

static gboolean read_whole(int fd, void *to, size_t n)
{
    size_t got = 0;
    while (got < n) {
        const ssize_t now = read(fd, (char *)to + got, n - got);
        if (now < 0 && errno == EINTR)
            continue;
        if (now <= 0)
            return FALSE;
        got += (size_t)now;
    }
    return TRUE;
}

static gboolean run_on(const DtProfile *p, const char *program, const char *folder,
                       const char *port, GError **error)
{
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE};
    return drawing_program(p, port, program, &o, NULL, NULL, error);
}

gboolean drive_rig(const DtProfile *p, const char *program, const char *rig_file,
                   const char *folder, DtRigFigures *figures, GError **error)
{
    *figures = (DtRigFigures){0};
    int ends[2];
    if (pipe(ends) != 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "pipe: %s", g_strerror(errno));
        return FALSE;
    }
    const pid_t rig = fork();
    if (rig == 0) {
        close(ends[0]);
        serve_rig(rig_file, folder, ends[1]);
    }
    close(ends[1]);
    Opening opening = {"", "it did not start"};
    gboolean ok = FALSE;
    if (rig > 0 && read_whole(ends[0], &opening, sizeof opening) && *opening.port) {
        ok = run_on(p, program, folder, opening.port, error);
        /* A run that never opened the port leaves the rig waiting for it for ever. */
        struct pollfd report = {.fd = ends[0], .events = POLLIN};
        if (!ok && poll(&report, 1, REPORT_AFTER_MS) == 0)
            kill(rig, SIGTERM);
        if (!read_whole(ends[0], figures, sizeof *figures) && ok) {
            g_set_error_literal(error, DT_ERROR, DT_ERROR_IO,
                                "the rig died before it could report");
            ok = FALSE;
        }
    } else {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "the rig: %s", opening.failed);
    }
    close(ends[0]);
    if (rig > 0)
        waitpid(rig, NULL, 0);
    return ok;
}
