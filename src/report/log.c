/* log: past runs: time, ink and travel per pen, before and after. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"

#include <math.h>
#include <string.h>

static char *date_of(double seconds)
{
    g_autoptr(GDateTime) t = g_date_time_new_from_unix_local((gint64)seconds);
    return t ? g_date_time_format(t, "%Y-%m-%d %H:%M") : g_strdup("-");
}

/* Sums of ink, by pen or by machine --------------------------------------------------------- */

typedef struct {
    const char *name;
    size_t n;
    double ink_mm, travel_mm, time_s, estimate_s;
} Sum;

static Sum *sum_of(GArray *sums, const char *name)
{
    for (guint i = 0; i < sums->len; i++)
        if (strcmp(g_array_index(sums, Sum, i).name, name) == 0)
            return &g_array_index(sums, Sum, i);
    const Sum empty = {.name = name};
    g_array_append_val(sums, empty);
    return &g_array_index(sums, Sum, sums->len - 1);
}

static GArray *sum_pens(const DtLog *l)
{
    GArray *sums = g_array_new(FALSE, FALSE, sizeof(Sum));
    for (size_t i = 0; i < l->n_runs; i++)
        for (size_t k = 0; k < l->runs[i].n_pens; k++) {
            const DtLogPen *p = &l->runs[i].pens[k];
            Sum *s = sum_of(sums, p->name);
            s->n += p->strokes;
            s->ink_mm += p->ink_mm;
            s->travel_mm += p->travel_mm;
        }
    return sums;
}

static GArray *sum_machines(const DtLog *l)
{
    GArray *sums = g_array_new(FALSE, FALSE, sizeof(Sum));
    for (size_t i = 0; i < l->n_runs; i++) {
        const DtLogRun *r = &l->runs[i];
        Sum *s = sum_of(sums, r->machine);
        s->n++;
        s->ink_mm += r->ink_mm;
        s->travel_mm += r->travel_mm;
        s->time_s += r->time_s;
    }
    return sums;
}

/* For people -------------------------------------------------------------------------------- */

/* The difference between the predicted time and the time it took; "" if the run was not
 * complete, or was drawn by a machine whose clock runs faster than ours. */
static char *off_by(const DtLogRun *r)
{
    if (strcmp(r->status, "done") != 0 || r->time_s < r->predicted_s / 3)
        return g_strdup("");
    return g_strdup_printf("%+.1f %%", (r->predicted_s / r->time_s - 1) * 100);
}

/* "1:02:03": hours, minutes and seconds, for the columns of a table. */
static char *clock_text(double seconds)
{
    const long whole = lround(seconds);
    return g_strdup_printf("%ld:%02ld:%02ld", whole / 3600, whole / 60 % 60, whole % 60);
}

/* The journal's words for a run's state. */
static const char *state_text(const char *status)
{
    static const char *const words[] = {N_("running"), N_("done"), N_("stopped"), N_("broken off")};
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
        if (strcmp(status, words[i]) == 0)
            return _(words[i]);
    return status;
}

static void add_run_text(GString *s, const DtLogRun *r)
{
    g_autofree char *when = date_of(r->started), *time = clock_text(r->time_s);
    g_autofree char *predicted = clock_text(r->predicted_s), *off = off_by(r);
    g_autofree char *program = g_path_get_basename(r->program);
    g_autofree char *drawn = g_strdup_printf("%zu/%zu", r->drawn, r->strokes);
    g_autofree char *state = dt_base_column(state_text(r->status), 10);
    g_string_append_printf(s, "%4" PRId64 "  %s  %s  %11s  %7.2f m  %9s  %9s  %8s  %s\n", r->id,
                           when, state, drawn, r->ink_mm / 1000, predicted, time, off, program);
    if (*r->note)
        g_string_append_printf(s, "      %s\n", dt_messages_find(r->note));
}

static char *log_text(const DtLog *l)
{
    GString *s = g_string_new(NULL);
    if (l->n_runs == 0) {
        g_string_append(s, _("no run yet\n"));
        return g_string_free(s, FALSE);
    }
    g_string_append(s, _(" run  started           state           strokes        ink  predicted"
                         "       took     error  program\n"));
    for (size_t i = 0; i < l->n_runs; i++)
        add_run_text(s, &l->runs[i]);
    g_autoptr(GArray) pens = sum_pens(l), machines = sum_machines(l);
    g_string_append(
        s, _("\npen           strokes        ink     travel   (tips wear: compare a line's "
             "width now and then)\n"));
    for (guint i = 0; i < pens->len; i++) {
        const Sum *sum = &g_array_index(pens, Sum, i);
        g_string_append_printf(s, "%-12s  %7zu  %7.2f m  %7.2f m\n",
                               *sum->name ? sum->name : _("(not named)"), sum->n,
                               sum->ink_mm / 1000, sum->travel_mm / 1000);
    }
    g_string_append(s, _("\nmachine          runs        ink     travel            time\n"));
    for (guint i = 0; i < machines->len; i++) {
        const Sum *sum = &g_array_index(machines, Sum, i);
        g_autofree char *time = dt_base_duration(sum->time_s);
        g_string_append_printf(s, "%-12s  %7zu  %7.2f m  %7.2f m  %14s\n",
                               *sum->name ? sum->name : _("(not named)"), sum->n,
                               sum->ink_mm / 1000, sum->travel_mm / 1000, time);
    }
    for (size_t i = 0; i < l->n_notes; i++) {
        g_autofree char *when = date_of(l->notes[i].at);
        g_string_append_printf(s, "%s%s  %-12s  %s: %s\n", i == 0 ? "\n" : "", when,
                               l->notes[i].machine, l->notes[i].kind, l->notes[i].text);
    }
    return g_string_free(s, FALSE);
}

/* For programs ------------------------------------------------------------------------------ */

static void add_run(JsonBuilder *b, const DtLogRun *r)
{
    json_builder_begin_object(b);
    dt_json_count(b, "run", (size_t)r->id);
    dt_json_number(b, "started", r->started);
    dt_json_number(b, "ended", r->ended);
    dt_json_text(b, "machine", r->machine);
    dt_json_text(b, "program", r->program);
    dt_json_text(b, "port", r->port);
    dt_json_text(b, "state", r->status);
    dt_json_text(b, "note", r->note);
    dt_json_count(b, "strokes", r->strokes);
    dt_json_count(b, "drawn", r->drawn);
    dt_json_number(b, "estimate_s", r->estimate_s);
    dt_json_number(b, "predicted_s", r->predicted_s);
    dt_json_number(b, "time_s", r->time_s);
    dt_json_number(b, "ink_mm", r->ink_mm);
    dt_json_number(b, "travel_mm", r->travel_mm);
    dt_json_begin_array(b, "pens");
    for (size_t i = 0; i < r->n_pens; i++) {
        json_builder_begin_object(b);
        dt_json_text(b, "pen", r->pens[i].name);
        dt_json_count(b, "strokes", r->pens[i].strokes);
        dt_json_number(b, "ink_mm", r->pens[i].ink_mm);
        dt_json_number(b, "travel_mm", r->pens[i].travel_mm);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    json_builder_end_object(b);
}

static char *log_json(const DtLog *l)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_begin_array(b, "runs");
    for (size_t i = 0; i < l->n_runs; i++)
        add_run(b, &l->runs[i]);
    json_builder_end_array(b);
    dt_json_begin_array(b, "notes");
    for (size_t i = 0; i < l->n_notes; i++) {
        json_builder_begin_object(b);
        dt_json_number(b, "at", l->notes[i].at);
        dt_json_text(b, "machine", l->notes[i].machine);
        dt_json_text(b, "kind", l->notes[i].kind);
        dt_json_text(b, "text", l->notes[i].text);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    return dt_json_end(b);
}

char *dt_report_log(const DtLog *log, gboolean json)
{
    return json ? log_json(log) : log_text(log);
}
