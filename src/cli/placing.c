/* placing: jogs the pen to two corners of the sheet. */
#include "cli/placing.h"

#include "cli/running.h"

#include <gio/gio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

gboolean dt_cli_corners(const char *text, DtPoint corners[2], GError **error)
{
    double v[4];
    const char *c = text;
    for (int i = 0; i < 4; i++) {
        char *end;
        v[i] = g_ascii_strtod(c, &end);
        if (end == c || *end != (i < 3 ? ',' : '\0')) {
            g_set_error(
                error, DT_ERROR, DT_ERROR_USAGE,
                "corners are four numbers, x,y of the lower left and x,y of the lower right, "
                "not '%s'",
                text);
            return FALSE;
        }
        c = end + 1;
    }
    corners[0] = dt_point(v[0], v[1]);
    corners[1] = dt_point(v[2], v[3]);
    return TRUE;
}

/* A key: a letter, Enter, or an arrow as u d l r (ECMA-48 cursor keys). 0 at the end of input. */
static char read_key(void)
{
    char c;
    if (read(STDIN_FILENO, &c, 1) != 1)
        return 0;
    if (c != 0x1B)
        return c == '\r' ? '\n' : c;
    char rest[2];
    if (read(STDIN_FILENO, rest, 1) != 1 || read(STDIN_FILENO, rest + 1, 1) != 1)
        return 0;
    static const char arrows[] = "udrl"; /* A to D */
    return rest[1] >= 'A' && rest[1] <= 'D' ? arrows[rest[1] - 'A'] : '?';
}

static gboolean touch(DtRunner *r, const char *corner, DtPoint *at, GError **error)
{
    double step = 10;
    gboolean down = FALSE;
    for (;;) {
        const DtPoint now = dt_run_jog_at(r);
        printf("\r\033[K%s corner: X %.2f Y %.2f mm, step %g mm, pen %s", corner, now.x, now.y,
               step, down ? "down" : "up");
        fflush(stdout);
        const char key = read_key();
        DtPoint by = {0, 0};
        switch (key) {
        case 'u':
            by.y = step;
            break;
        case 'd':
            by.y = -step;
            break;
        case 'r':
            by.x = step;
            break;
        case 'l':
            by.x = -step;
            break;
        case '1':
        case '2':
        case '3':
            step = key == '1' ? 10 : key == '2' ? 1 : 0.1;
            break;
        case ' ':
            down = !down;
            if (!dt_run_jog_pen(r, down, error))
                return FALSE;
            break;
        case '\n':
            *at = now;
            putchar('\n');
            return !down || dt_run_jog_pen(r, FALSE, error);
        case 'q':
        case 0:
            putchar('\n');
            g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "placing was ended by hand");
            return FALSE;
        default:
            break;
        }
        if ((by.x != 0 || by.y != 0) && !dt_run_jog(r, by, error))
            return FALSE;
    }
}

static gboolean touch_both(DtRunner *r, DtPoint corners[2], GError **error)
{
    puts("Bring the pen to the corner with the arrow keys; 1, 2 and 3 step by 10, 1 and 0.1 mm, "
         "space\n"
         "lets the pen touch and lifts it, Enter takes the place, q ends.");
    return touch(r, "lower left", &corners[0], error) &&
           touch(r, "lower right", &corners[1], error);
}

gboolean dt_cli_touch_corners(const DtProfile *p, const char *program, DtPoint corners[2],
                              GError **error)
{
    struct termios before, raw;
    if (tcgetattr(STDIN_FILENO, &before) != 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "--place needs a terminal; --corners takes the places as numbers");
        return FALSE;
    }
    DtRunOptions o = dt_cli_running_options();
    o.other_machine = TRUE; /* the run itself will ask */
    g_autoptr(DtRunner) r = dt_run_new(p, program, &o, error);
    if (r == NULL || !dt_run_jog_begin(r, error))
        return FALSE;
    raw = before;
    raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    tcsetattr(STDIN_FILENO, TCSANOW, &raw);
    const gboolean good = touch_both(r, corners, error);
    tcsetattr(STDIN_FILENO, TCSANOW, &before);
    dt_run_jog_end(r);
    return good;
}
