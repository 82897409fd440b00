/* fake: see fake.h. Shares no code with the program but the CRC, which tests/code checks. */
#include "fake.h"

#include "drawtrue/code.h"

#include <fcntl.h>
#include <glib/gstdio.h>
#include <poll.h>
#include <pty.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

struct Fake {
    FakeFaults faults;
    int master, slave;
    char *folder, *port;
    GThread *thread;
    int stop, plug, restart;
    GPtrArray *executed;
    GString *line;
    unsigned received, last_n, count, most;
    double x, y;
    unsigned stopped_n;
    char *refused;
    unsigned drawn;  /* moves since the pen went down */
    gboolean lifted; /* in silence */
    gboolean down, silent, held, stopped, unhomed, tripped, unplugged;
};

static void say(Fake *f, const char *format, ...) G_GNUC_PRINTF(2, 3);

static void say(Fake *f, const char *format, ...)
{
    if (f->silent)
        return;
    va_list list;
    va_start(list, format);
    g_autofree char *text = g_strdup_vprintf(format, list);
    va_end(list);
    g_autofree char *line = g_strdup_printf("%s\n", text);
    if (write(f->master, line, strlen(line)) < 0)
        f->stop = TRUE;
}

static void reset(Fake *f)
{
    f->last_n = f->count = 0;
    f->unhomed = TRUE;
    f->held = f->faults.held;
    g_string_truncate(f->line, 0);
    if (f->faults.noise_only) {
        const char noise[] = "\xf0\x80\xff\x01\xfe\xe0\x83\x9c\xf8\x02\x81";
        if (write(f->master, noise, sizeof noise - 1) < 0)
            f->stop = TRUE;
    } else if (f->faults.greeting != NULL) {
        say(f, "%s", f->faults.greeting);
    }
}

static void answer(Fake *f, const char *text)
{
    const unsigned i = f->received;
    if (f->faults.slow_ms)
        g_usleep(f->faults.slow_ms * 1000);
    if (i == f->faults.drop_reply)
        return;
    if (i == f->faults.garble_reply) {
        g_autofree char *garbled = g_strdup(text);
        garbled[strlen(garbled) / 2] ^= 0x15;
        say(f, "%s", garbled);
        return;
    }
    if (i == f->faults.late_reply)
        g_usleep(900000);
    say(f, "%s", text);
    if (i == f->faults.double_reply)
        say(f, "%s", text);
}

static void answer_number(Fake *f, const char *word, unsigned n, const char *rest)
{
    g_autofree char *text = g_strdup_printf("%s %u%s", word, n, rest);
    answer(f, text);
}

static unsigned next_number(const Fake *f)
{
    return f->last_n % 99999 + 1;
}

static gboolean has_gaps(const char *body)
{
    for (const char *c = body; *c != '\0'; c++)
        if (c > body && g_ascii_isalpha(*c) && c[-1] != ' ')
            return FALSE;
    return TRUE;
}

static void execute(Fake *f, const char *body, unsigned n)
{
    while (*body == ' ')
        body++;
    const gboolean refused = f->received == f->faults.refuse_at || strstr(body, "G61") != NULL ||
                             (f->faults.gaps && !has_gaps(body)) ||
                             g_strcmp0(body, f->refused) == 0;
    if (refused && f->faults.own_refusal != NULL) {
        g_free(f->refused);
        f->refused = g_strdup(body);
        answer(f, f->faults.own_refusal);
        return;
    }
    if (refused) {
        answer_number(f, "refused", n, " word G61 is not taken");
        return;
    }
    if (f->tripped) {
        answer_number(f, "refused", n, " X switch hit");
        return;
    }
    if (f->received == f->faults.skip_at) {
        f->last_n = n;
        answer_number(f, "taken", n, "");
        return;
    }
    const char *x = strchr(body, 'X'), *y = strchr(body, 'Y');
    f->drawn = f->down && (x || y) ? f->drawn + 1 : 0;
    if (f->faults.resets != NULL && *f->faults.resets != 0 && f->drawn == *f->faults.resets) {
        f->faults.resets++;
        reset(f);
        return;
    }
    f->lifted = f->lifted && x == NULL && y == NULL;
    if (strncmp(body, "G28", 3) == 0) {
        g_usleep(f->faults.home_ms * 1000);
        f->unhomed = FALSE;
        f->x = f->faults.homes_at[0];
        f->y = f->faults.homes_at[1];
    }
    f->x = x ? g_ascii_strtod(x + 1, NULL) : f->x;
    f->y = y ? g_ascii_strtod(y + 1, NULL) : f->y;
    f->down = strncmp(body, "M3", 2) == 0 || (f->down && strncmp(body, "M5", 2) != 0);
    g_ptr_array_add(f->executed, g_strdup(body));
    if (f->faults.stops && strcmp(body, "M0") == 0) {
        f->stopped = TRUE;
        f->stopped_n = n;
        return;
    }
    f->last_n = n;
    answer_number(f, "taken", n, "");
}

/* With the number that it expects. */
static void refuse_order(Fake *f, unsigned n)
{
    g_autofree char *reason = g_strdup_printf(" order %u", next_number(f));
    answer_number(f, "refused", n, reason);
}

/* A line without its end. */
static void take_line(Fake *f, char *line)
{
    f->received++;
    f->count++;
    if (f->received == f->faults.silent_from)
        f->silent = TRUE;
    if (f->received == f->faults.reset_at) {
        reset(f);
        return;
    }
    if (f->received == f->faults.hang_up_at) {
        f->unplugged = TRUE;
        return;
    }
    if (f->received == f->faults.trip_at)
        f->tripped = f->unhomed = TRUE;
    if (f->received == f->faults.count_from_start_at)
        f->last_n = 0;
    if (f->received == f->faults.count_back_at)
        f->last_n -= 5;
    if (f->received == f->faults.hold_at)
        f->held = TRUE;
    if (f->received == f->faults.garble_line)
        line[strlen(line) / 2] ^= 0x01;
    if (!f->faults.check) {
        execute(f, line, f->count);
        return;
    }
    char *check = strstr(line, "(*");
    unsigned crc = 0;
    if (check != NULL)
        crc = (unsigned)g_ascii_strtoull(check + 2, NULL, 16);
    if (check == NULL || dt_code_crc16(line, (gsize)(check - line)) != crc) {
        answer_number(f, "refused", next_number(f), " check");
        return;
    }
    *check = '\0';
    char *body;
    unsigned n = (unsigned)g_ascii_strtoull(line + 1, &body, 10);
    if (n == f->last_n)
        answer_number(f, "taken", n, "");
    else if (n != next_number(f))
        refuse_order(f, n);
    else
        execute(f, body, n);
}

static void take_byte(Fake *f, char byte)
{
    if (byte == 0x05) {
        if (!f->faults.deaf_to_ask)
            say(f, "state %s x %.3f y %.3f pen %s line %u switch %s",
                f->held      ? "held"
                : f->stopped ? "stopped"
                : f->unhomed ? "unhomed"
                             : "still",
                f->x, f->y, f->down && !f->lifted ? "down" : "up", f->last_n,
                f->faults.at_switch ? f->faults.at_switch
                : !f->tripped       ? "--"
                : f->faults.trips   ? f->faults.trips
                                    : "x-");
    } else if (byte == 0x13) {
        f->held = TRUE;
    } else if (byte == 0x11) {
        f->held = FALSE;
        if (f->stopped) {
            f->stopped = FALSE;
            f->last_n = f->stopped_n;
            answer_number(f, "taken", f->stopped_n, "");
        }
    } else if (byte == '\n') {
        if (f->received + 1 == f->faults.lose_line_end) {
            f->faults.lose_line_end = 0;
            return;
        }
        g_autofree char *line = g_strdup(f->line->str);
        g_string_truncate(f->line, 0);
        take_line(f, line);
    } else if (byte != 0x18) {
        g_string_append_c(f->line, byte);
    }
}

static void open_pty(Fake *f)
{
    char name[64];
    struct termios raw;
    cfmakeraw(&raw);
    g_assert_cmpint(openpty(&f->master, &f->slave, name, &raw, NULL), ==, 0);
    g_unlink(f->port);
    g_assert_cmpint(symlink(name, f->port), ==, 0);
}

static void unplug(Fake *f)
{
    close(f->master);
    close(f->slave);
    f->master = f->slave = -1;
    if (!f->faults.leaves_link)
        g_unlink(f->port);
    while (!g_atomic_int_get(&f->plug) && !g_atomic_int_get(&f->stop))
        g_usleep(10000);
    f->unplugged = FALSE;
    open_pty(f);
    reset(f);
}

static gpointer play(gpointer data)
{
    Fake *f = data;
    GString *waiting = g_string_new(NULL);
    if (!f->faults.resumes_silently)
        reset(f);
    while (!g_atomic_int_get(&f->stop)) {
        if (g_atomic_int_compare_and_exchange(&f->restart, TRUE, FALSE))
            reset(f);
        struct pollfd p = {f->master, POLLIN, 0};
        if (poll(&p, 1, 20) > 0) {
            char bytes[512];
            ssize_t n = read(f->master, bytes, sizeof bytes);
            if (n > 0)
                g_string_append_len(waiting, bytes, n);
        } else {
            f->lifted = f->faults.lifts;
        }
        f->most = MAX(f->most, (unsigned)waiting->len);
        while (waiting->len > 0 && !f->unplugged) {
            char byte = waiting->str[0];
            const gboolean waits = f->held || f->stopped;
            if (waits && byte != 0x05 && byte != 0x11 && strpbrk(waiting->str, "\x05\x11")) {
                char *urgent = strpbrk(waiting->str, "\x05\x11");
                byte = *urgent;
                g_string_erase(waiting, urgent - waiting->str, 1);
            } else if (waits && byte != 0x05 && byte != 0x11) {
                break;
            } else {
                g_string_erase(waiting, 0, 1);
            }
            take_byte(f, byte);
        }
        if (f->unplugged) {
            g_string_truncate(waiting, 0);
            unplug(f);
        }
    }
    g_string_free(waiting, TRUE);
    return NULL;
}

Fake *fake_new(const FakeFaults *faults)
{
    Fake *f = g_new0(Fake, 1);
    f->faults = *faults;
    f->executed = g_ptr_array_new_with_free_func(g_free);
    f->line = g_string_new(NULL);
    f->folder = g_dir_make_tmp("drawtrue-port-XXXXXX", NULL);
    f->port = g_build_filename(f->folder, "plotter", NULL);
    open_pty(f);
    f->thread = g_thread_new("fake", play, f);
    return f;
}

const char *fake_port(const Fake *f)
{
    return f->port;
}

void fake_stop(Fake *f)
{
    if (f->thread == NULL)
        return;
    g_atomic_int_set(&f->stop, TRUE);
    g_thread_join(f->thread);
    f->thread = NULL;
}

void fake_free(Fake *f)
{
    fake_stop(f);
    close(f->master);
    close(f->slave);
    g_unlink(f->port);
    g_rmdir(f->folder);
    g_free(f->port);
    g_free(f->folder);
    g_ptr_array_unref(f->executed);
    g_string_free(f->line, TRUE);
    g_free(f->refused);
    g_free(f);
}

GPtrArray *fake_executed(Fake *f)
{
    return f->executed;
}

unsigned fake_most_unanswered(Fake *f)
{
    return f->most;
}

void fake_restart(Fake *f)
{
    g_atomic_int_set(&f->restart, TRUE);
}

void fake_plug_in_again(Fake *f)
{
    g_atomic_int_set(&f->plug, TRUE);
}
