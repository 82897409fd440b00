/* background: see background.h. */
#include "cli/background.h"

#include "cli/print.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

static void replace_fd(int fd, int by)
{
    if (dup2(by, fd) < 0)
        _exit(DT_ERROR_IO);
}

/* Ends the child's first message once it draws. */
#define IT_DRAWS '\0'

/* The parent stays until the run draws or has failed, and passes on its messages until then. */
static int watch_start(pid_t child, int from)
{
    g_autoptr(GString) text = g_string_new(NULL);
    char bytes[512];
    for (ssize_t n; (n = read(from, bytes, sizeof bytes)) > 0;)
        g_string_append_len(text, bytes, n);
    if (text->len > 0 && text->str[text->len - 1] == IT_DRAWS) {
        dt_cli_print(stdout, text->str);
        return 0;
    }
    dt_cli_print(stderr, text->str);
    int status = 0;
    waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : DT_ERROR_IO;
}

gboolean dt_cli_leave_terminal(int *code, GError **error)
{
    int ends[2];
    const int nothing = open("/dev/null", O_RDWR | O_CLOEXEC);
    fflush(NULL);
    const pid_t child = nothing < 0 || pipe(ends) != 0 ? -1 : fork();
    if (child < 0) {
        *code = DT_ERROR_IO;
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "cannot leave the terminal: %s",
                    g_strerror(errno));
        return FALSE;
    }
    if (child > 0) {
        close(ends[1]);
        *code = watch_start(child, ends[0]);
        close(ends[0]);
        return FALSE;
    }
    setsid();
    close(ends[0]);
    replace_fd(STDIN_FILENO, nothing);
    replace_fd(STDOUT_FILENO, nothing);
    replace_fd(STDERR_FILENO, ends[1]);
    close(ends[1]);
    return TRUE;
}

void dt_cli_tell_parent(gint64 id)
{
    dt_cli_printf(
        stderr,
        "background run %" PRId64 " draws as process %d; 'drawtrue log' shows it\n"
        "           kill -USR2 %d pauses it at the next lift, kill -USR1 %d goes on (after a\n"
        "           pen change too), kill %d ends it with the pen up\n",
        id, (int)getpid(), (int)getpid(), (int)getpid(), (int)getpid());
    fflush(stderr);
    const char draws = IT_DRAWS;
    ssize_t n;
    do /* if the parent is gone, nobody waits for it */
        n = write(STDERR_FILENO, &draws, 1);
    while (n < 0 && errno == EINTR);
    replace_fd(STDERR_FILENO, STDOUT_FILENO);
}
