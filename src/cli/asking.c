/* asking: see asking.h. */
#include "cli/asking.h"

#include "cli/print.h"
#include "drawtrue/sheet-log.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>

/* A question; `i` counts repetitions of one that is asked several times. */
typedef struct {
    size_t ask, i;
} Step;

static char *read_line(void)
{
    char *line = NULL;
    size_t room = 0;
    const gssize n = getline(&line, &room, stdin);
    char *copy = n >= 0 ? g_strdup(g_strstrip(line)) : NULL;
    free(line);
    return copy;
}

/* Pictures help but are not required: if one cannot be written, the question is asked without
 * it. */
static void show_picture(const DtAsking *a, const DtAsk *ask)
{
    g_autofree char *name = g_strdup_printf("%s.png", ask->name);
    g_autofree char *path = g_build_filename(a->pictures, name, NULL);
    g_autoptr(GError) error = NULL;
    if (g_mkdir_with_parents(a->pictures, 0755) == 0 &&
        dt_eye_picture(a->sheet, a->profile, ask, path, 1200, &error))
        dt_cli_printf(stderr, "  picture: %s\n", path);
    else
        dt_cli_printf(stderr, "  (no picture: %s)\n", error ? error->message : g_strerror(errno));
}

static void put_question(const DtAsking *a, const DtEyeReadings *r, Step s)
{
    const DtAsk *ask = &r->asks[s.ask];
    const char *had = r->answers[s.ask].text[s.i];
    if (s.i == 0) {
        g_autofree char *question = dt_eye_question(ask);
        dt_cli_printf(stderr, "\n[%zu of %zu] %s\n", s.ask + 1, r->n, question);
        show_picture(a, ask);
    }
    if (ask->times > 1)
        dt_cli_printf(stderr, "  reading %zu of %zu", s.i + 1, ask->times);
    dt_cli_printf(stderr, "  %s%s%s> ", had ? "[" : "", had ? had : "", had ? "] " : "");
    fflush(stderr);
}

/* The first question from this one on that is to be asked. */
static Step open_from(const gboolean *settled, size_t n, size_t ask)
{
    while (ask < n && settled[ask])
        ask++;
    return (Step){ask, 0};
}

static void next(const gboolean *settled, const DtEyeReadings *r, Step *s)
{
    if (++s->i == r->asks[s->ask].times)
        *s = open_from(settled, r->n, s->ask + 1);
}

static void back(const DtEyeReadings *r, Step *s)
{
    if (s->i > 0)
        s->i--;
    else if (s->ask > 0)
        *s = (Step){s->ask - 1, r->asks[s->ask - 1].times - 1};
}

/* FALSE if the text is not an answer: the question is asked again. */
static gboolean take(const DtAsking *a, DtEyeReadings *r, Step s, const char *line)
{
    g_autoptr(GError) error = NULL;
    if (*line == '\0' && r->answers[s.ask].text[s.i] != NULL)
        return TRUE;
    if (!dt_eye_readings_set(r, s.ask, s.i, *line ? line : "?", &error)) {
        dt_cli_printf(stderr, "  %s\n", error->message);
        return FALSE;
    }
    g_autofree char *json = dt_eye_readings_to_json(r);
    if (!dt_sheet_log_keep(a->journal, a->sheet->machine, a->sheet->number, json, NULL, &error))
        dt_cli_printf(stderr, "  this answer is not kept: %s\n", error->message);
    return TRUE;
}

gboolean dt_cli_ask_readings(const DtAsking *a, DtEyeReadings *r, GError **error)
{
    dt_cli_print(
        stderr,
        "Read the sheet in good light, with a magnifying glass if you have one. Answer with a "
        "number, 'between 6 and 7', ? where you cannot tell, or 'back'.\n");
    g_autofree gboolean *settled = g_new(gboolean, r->n + 1);
    for (size_t i = 0; i < r->n; i++)
        settled[i] = !a->all && r->answers[i].n > 0;
    for (Step s = open_from(settled, r->n, 0); s.ask < r->n;) {
        put_question(a, r, s);
        g_autofree char *line = read_line();
        if (line == NULL) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "the answers end at %s; what was answered is kept, and 'drawtrue true' "
                        "goes on with "
                        "it",
                        r->asks[s.ask].name);
            return FALSE;
        }
        if (g_ascii_strcasecmp(line, "back") == 0)
            back(r, &s);
        else if (take(a, r, s, line))
            next(settled, r, &s);
    }
    return TRUE;
}
