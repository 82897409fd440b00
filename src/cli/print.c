/* print: see print.h. */
#include "cli/print.h"

#include <errno.h>
#include <stdarg.h>
#include <sys/ioctl.h>
#include <unistd.h>

static int failure; /* errno of the first write that failed */

unsigned dt_cli_width(FILE *to)
{
    struct winsize w;
    const int fd = fileno(to);
    if (!isatty(fd))
        return 0;
    return ioctl(fd, TIOCGWINSZ, &w) == 0 && w.ws_col > 0 ? w.ws_col : 80;
}

static void put(FILE *to, const char *text, unsigned width)
{
    g_autofree char *shown = dt_base_lay_out(text, width);
    if (fputs(shown, to) == EOF && to == stdout && failure == 0)
        failure = errno;
}

void dt_cli_print(FILE *to, const char *text)
{
    put(to, dt_messages_find(text), dt_cli_width(to));
}

void dt_cli_printf(FILE *to, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *text = g_strdup_vprintf(_(format), list);
    va_end(list);
    dt_cli_print(to, text);
}

void dt_cli_print_report(const char *text, gboolean json)
{
    put(stdout, text, json ? 0 : dt_cli_width(stdout));
}

void dt_cli_show_line(FILE *to, const char *text)
{
    g_autofree char *shown = dt_base_show_text(text, -1);
    const int room = MAX((int)dt_cli_width(to), 20) - 1;
    if (g_utf8_strlen(shown, -1) > room)
        *g_utf8_offset_to_pointer(shown, room) = '\0';
    fputs("\r\033[K", to); /* CR and EL, ECMA-48, 8.3.15 and 8.3.41 */
    fputs(shown, to);
    fflush(to);
}

gboolean dt_cli_close_output(GError **error)
{
    errno = 0;
    if (fflush(stdout) != 0 && failure == 0)
        failure = errno;
    if (fclose(stdout) != 0 && failure == 0)
        failure = errno;
    if (failure == 0 || failure == EPIPE || failure == EIO)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "the standard output: %s", g_strerror(failure));
    return FALSE;
}
