/* view: see view.h. */
#include "cli/view.h"

#include "cli/print.h"

#include "drawtrue/report.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
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
    dt_cli_printf(stdout, "%s\n", text);
    fflush(stdout);
}

static void show_bar(DtRunView *v, const DtSnapshot *s)
{
    g_autofree char *left = dt_base_duration(s->left_s);
    g_autofree char *rest =
        g_strdup_printf(_(" %3.0f %%  %s%s%.0f mm of ink, %s left"), floor(s->done * 100),
                        s->pen_name, *s->pen_name ? ", " : "", s->ink_mm, left);
    g_autoptr(GString) line = g_string_new(NULL);
    const int bar = CLAMP((int)dt_cli_width(stdout) - (int)strlen(rest) - 3, 0, 40);
    if (bar >= 8) {
        g_string_append_c(line, '[');
        for (int i = 0; i < bar; i++)
            g_string_append_c(line, i < (int)(s->done * bar) ? '#' : '.');
        g_string_append_c(line, ']');
    }
    g_string_append(line, rest);
    dt_cli_show_line(stdout, line->str);
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
    dt_cli_printf(stdout, "%9.0f %%  %.0f mm of ink, stroke %zu of %zu, %s left\n",
                  floor(s->done * 100), s->ink_mm, s->stroke, s->strokes, left);
    fflush(stdout);
}

/* How to make the run continue. */
static char *go_on_by(const DtRunView *v)
{
    return v->keys ? g_strdup(_("Enter goes on"))
                   : g_strdup_printf(_("kill -USR1 %d goes on"), (int)getpid());
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
        dt_cli_print(stdout,
                     "           a and Enter parks it out of the way, q and Enter ends the run\n");
    fflush(stdout);
}

void dt_run_view_show(DtRunView *v, const DtEvent *e)
{
    if (v->json) {
        g_autofree char *text = dt_report_event_json(e);
        dt_cli_print_report(text, TRUE);
        dt_cli_print_report("\n", TRUE);
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
