/* host: see host.h. */
#include "host.h"

#include "controller.h"
#include "drawtrue/base.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <string.h>
#include <unistd.h>

gpointer host_serve(gpointer user)
{
    Host *h = user;
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_rig_serve(h->rig, h->real_time, h->once, &h->stop, &error));
    g_assert_no_error(error);
    return NULL;
}

void host_start(Host *h, const char *rig_text, gboolean real_time, gboolean once)
{
    g_autoptr(GError) error = NULL;
    *h = (Host){.real_time = real_time, .once = once, .fd = -1};
    h->rig = dt_rig_new_from_text(rig_text, "test", &error);
    g_assert_no_error(error);
    h->port = g_strdup(dt_rig_open_port(h->rig, &error));
    g_assert_no_error(error);
    h->heard = g_string_new(NULL);
    h->thread = g_thread_new("rig", host_serve, h);
}

void host_plug_in(Host *h)
{
    h->fd = open(h->port, O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
    g_assert_cmpint(h->fd, >=, 0);
}

void host_hang_up(Host *h)
{
    close(h->fd);
    h->fd = -1;
}

void host_finish(Host *h)
{
    if (h->fd >= 0)
        host_hang_up(h);
    if (!h->once)
        h->stop = 1;
    g_thread_join(h->thread);
}

void host_clear(Host *h)
{
    dt_rig_free(h->rig);
    g_free(h->port);
    g_string_free(h->heard, TRUE);
}

char *host_hear(Host *h, int ms)
{
    for (;;) {
        char *end = strchr(h->heard->str, '\n');
        if (end) {
            char *line = g_strndup(h->heard->str, (gsize)(end - h->heard->str));
            g_string_erase(h->heard, 0, end - h->heard->str + 1);
            return line;
        }
        struct pollfd p = {h->fd, POLLIN, 0};
        if (poll(&p, 1, ms) == 0)
            return NULL;
        char bytes[512];
        ssize_t n = read(h->fd, bytes, sizeof bytes);
        if (n == 0 || (n < 0 && errno != EAGAIN && errno != EINTR))
            return NULL;
        if (n > 0)
            g_string_append_len(h->heard, bytes, n);
    }
}

void host_say(Host *h, const char *text)
{
    gsize n = strlen(text);
    while (n > 0) {
        ssize_t now = write(h->fd, text, n);
        g_assert_true(now > 0 || errno == EAGAIN);
        if (now > 0) {
            text += now;
            n -= (gsize)now;
        }
    }
}

void host_expect(Host *h, const char *line)
{
    g_autofree char *heard = host_hear(h, 10000);
    g_assert_cmpstr(heard, ==, line);
}

void host_stream(Host *h, const char *program, unsigned window)
{
    g_auto(GStrv) lines = g_strsplit(program, "\n", -1);
    unsigned n = g_strv_length(lines) - 1, sent = 0, done = 0, waiting = 0;
    while (done < n) {
        while (sent < n && waiting + strlen(lines[sent]) + 1 < window) {
            g_autofree char *line = g_strconcat(lines[sent], "\n", NULL);
            host_say(h, line);
            waiting += (unsigned)strlen(line);
            sent++;
        }
        g_autofree char *reply = host_hear(h, 20000);
        g_assert_nonnull(reply);
        if (g_str_has_prefix(reply, "state stopped"))
            host_say(h, "\x11\x11");
        if (!g_str_has_prefix(reply, "taken "))
            continue;
        waiting -= (unsigned)strlen(lines[done]) + 1;
        done++;
    }
}

void host_start_at(Host *h, const char *link, const char *rig_text, gboolean once)
{
    g_autoptr(GError) error = NULL;
    *h = (Host){.once = once, .fd = -1};
    h->rig = dt_rig_new_from_text(rig_text, "test", &error);
    g_assert_nonnull(dt_rig_open_port(h->rig, &error));
    g_assert_true(dt_rig_link_port(h->rig, link, &error));
    h->port = g_strdup(link);
    h->heard = g_string_new(NULL);
    h->thread = g_thread_new("rig", host_serve, h);
}

void host_say_checked(Host *h, const char *body)
{
    uint16_t crc = 0;
    for (const char *p = body; *p; p++)
        crc = dt_controller_crc(crc, (uint8_t)*p);
    g_autofree char *line = g_strdup_printf("%s(*%04X)\n", body, crc);
    host_say(h, line);
}
