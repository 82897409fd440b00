/* view: see view.h. */
#include "cli/view.h"

#include "drawtrue/report.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { PLAIN_EVERY_US = 10 * G_USEC_PER_SEC };

DtRunView dt_run_view(const DtProfile *p, gboolean json, gboolean keys)
{
    return (DtRunView){.profile = p,
                       .json = json,
                       .terminal = isatty(STDOUT_FILENO) != 0,
                       .keys = keys,
                       .shown_tenth = -1};
}

static int terminal_width(void)
{
    struct winsize w;
    return ioctl(STDOUT_FILENO, TIOCGWINSZ, &w) == 0 && w.ws_col > 20 ? w.ws_col : 80;
}

void dt_run_view_close(DtRunView *v)
{
    if (v->line_open)
        putchar('\n');
    v->line_open = FALSE;
    fflush(stdout);
}

void dt_run_view_say(DtRunView *v, const char *text)
{
    if (v->json)
        return;
    dt_run_view_close(v);
    puts(text);
    fflush(stdout);
}

static void show_bar(DtRunView *v, const DtSnapshot *s)
{
    g_autofree char *left = dt_base_duration(s->left_s);
    g_autofree char *rest =
        g_strdup_printf(" %3.0f %%  %s%s%.0f mm of ink, %s left", floor(s->done * 100),
                        s->pen_name, *s->pen_name ? ", " : "", s->ink_mm, left);
    const int room = terminal_width() - 1;
    const int bar = CLAMP(room - (int)g_utf8_strlen(rest, -1) - 2, 0, 40);
    fputs("\r\033[K", stdout);
    if (bar >= 8) {
        const int full = (int)(s->done * bar);
        putchar('[');
        for (int i = 0; i < bar; i++)
            putchar(i < full ? '#' : '.');
        putchar(']');
    }
    const char *end = g_utf8_validate(rest, -1, NULL) && g_utf8_strlen(rest, -1) > room
                          ? g_utf8_offset_to_pointer(rest, room)
                          : rest + strlen(rest);
    fwrite(rest, 1, (size_t)(end - rest), stdout);
    fflush(stdout);
    v->line_open = TRUE;
}

static void show_plain(DtRunView *v, const DtSnapshot *s)
{
    const gint64 now = g_get_monotonic_time();
    const int tenth = (int)(s->done * 10);
    if (tenth == v->shown_tenth && now - v->shown_us < PLAIN_EVERY_US)
        return;
    v->shown_tenth = tenth;
    v->shown_us = now;
    g_autofree char *left = dt_base_duration(s->left_s);
    printf("%9.0f %%  %.0f mm of ink, stroke %zu of %zu, %s left\n", floor(s->done * 100),
           s->ink_mm, s->stroke, s->strokes, left);
    fflush(stdout);
}

/* What makes the run go on. */
static char *go_on_by(const DtRunView *v)
{
    return v->keys ? g_strdup("Enter goes on")
                   : g_strdup_printf("kill -USR1 %d goes on", (int)getpid());
}

static void show_text(DtRunView *v, const DtEvent *e)
{
    g_autofree char *text = dt_report_event_text(e, v->profile);
    if (text == NULL)
        return;
    const gboolean waits = e->at.waits == DT_WAITS_FOR_PERSON;
    g_autofree char *by = waits ? go_on_by(v) : NULL;
    g_autofree char *whole = waits ? g_strdup_printf("%s; %s", text, by) : g_strdup(text);
    dt_run_view_say(v, whole);
    if (waits && v->keys && (e->at.may & 1u << DT_REQUEST_PARK))
        puts("           a and Enter parks it out of the way, q and Enter ends the run");
    fflush(stdout);
}

void dt_run_view_show(DtRunView *v, const DtEvent *e)
{
    if (v->json) {
        g_autofree char *text = dt_report_event_json(e);
        puts(text);
        fflush(stdout);
        return;
    }
    const gboolean done = e->kind == DT_EVENT_ENDED && e->error == NULL;
    if ((e->kind == DT_EVENT_PROGRESS || done) && v->terminal)
        show_bar(v, &e->at);
    else if (e->kind == DT_EVENT_PROGRESS)
        show_plain(v, &e->at);
    if (e->kind != DT_EVENT_PROGRESS)
        show_text(v, e);
}
