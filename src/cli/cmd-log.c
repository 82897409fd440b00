/* log: past runs: time, ink and travel per pen, before and after. */
#include "cli/cli.h"
#include "drawtrue/link.h"
#include "drawtrue/json.h"

#include <math.h>
#include <string.h>

static char *journal;
static gboolean as_json;

static const GOptionEntry entries[] = {
    {"journal", 0, 0, G_OPTION_ARG_FILENAME, &journal, "The journal to read", "FILE"},
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Report as JSON", NULL},
    G_OPTION_ENTRY_NULL,
};

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

/* How far the time told before was from the time it took; "" where the run was not whole, or drawn
 * by a machine whose clock runs faster than ours. */
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

static void print_run(const DtLogRun *r)
{
    g_autofree char *when = date_of(r->started), *time = clock_text(r->time_s);
    g_autofree char *told = clock_text(r->predicted_s), *off = off_by(r);
    g_autofree char *program = g_path_get_basename(r->program);
    g_autofree char *drawn = g_strdup_printf("%zu/%zu", r->drawn, r->strokes);
    printf("%4" G_GINT64_FORMAT "  %s  %-10s  %11s  %7.2f m  %9s  %9s  %8s  %s\n", r->id, when,
           r->status, drawn, r->ink_mm / 1000, told, time, off, program);
    if (*r->note)
        printf("      %s\n", r->note);
}

static void print_log(const DtLog *l)
{
    if (l->n_runs == 0) {
        puts("no run yet");
        return;
    }
    printf("%4s  %-16s  %-10s  %11s  %9s  %9s  %9s  %8s  %s\n", "run", "started", "state",
           "strokes", "ink", "told", "took", "error", "program");
    for (size_t i = 0; i < l->n_runs; i++)
        print_run(&l->runs[i]);
    g_autoptr(GArray) pens = sum_pens(l), machines = sum_machines(l);
    puts("\npen           strokes        ink     travel   (tips wear: compare a line's width now "
         "and "
         "then)");
    for (guint i = 0; i < pens->len; i++) {
        const Sum *s = &g_array_index(pens, Sum, i);
        printf("%-12s  %7zu  %7.2f m  %7.2f m\n", *s->name ? s->name : "(not named)", s->n,
               s->ink_mm / 1000, s->travel_mm / 1000);
    }
    puts("\nmachine          runs        ink     travel            time");
    for (guint i = 0; i < machines->len; i++) {
        const Sum *s = &g_array_index(machines, Sum, i);
        g_autofree char *time = dt_base_duration(s->time_s);
        printf("%-12s  %7zu  %7.2f m  %7.2f m  %14s\n", *s->name ? s->name : "(not named)", s->n,
               s->ink_mm / 1000, s->travel_mm / 1000, time);
    }
    for (size_t i = 0; i < l->n_notes; i++) {
        g_autofree char *when = date_of(l->notes[i].at);
        printf("%s%s  %-12s  %s: %s\n", i == 0 ? "\n" : "", when, l->notes[i].machine,
               l->notes[i].kind, l->notes[i].text);
    }
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
    json_builder_set_member_name(b, "pens");
    json_builder_begin_array(b);
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

static void print_json(const DtLog *l)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    json_builder_set_member_name(b, "runs");
    json_builder_begin_array(b);
    for (size_t i = 0; i < l->n_runs; i++)
        add_run(b, &l->runs[i]);
    json_builder_end_array(b);
    json_builder_set_member_name(b, "notes");
    json_builder_begin_array(b);
    for (size_t i = 0; i < l->n_notes; i++) {
        json_builder_begin_object(b);
        dt_json_number(b, "at", l->notes[i].at);
        dt_json_text(b, "machine", l->notes[i].machine);
        dt_json_text(b, "kind", l->notes[i].kind);
        dt_json_text(b, "text", l->notes[i].text);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, TRUE);
    puts(text);
}

static int run(int argc, char **argv, GError **error)
{
    if (!dt_cli_parse(&dt_command_log, entries, &argc, &argv, error))
        return 0;
    if (argc != 1) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "log takes no arguments");
        return DT_ERROR_USAGE;
    }
    g_auto(DtLog) log = {0};
    if (!dt_log_read(journal, &log, error))
        return DT_ERROR_IO;
    if (as_json)
        print_json(&log);
    else
        print_log(&log);
    return 0;
}

const DtCommand dt_command_log = {
    .name = "log",
    .usage = "[--journal FILE] [--json]",
    .summary = "past runs: time, ink and travel per pen",
    .run = run,
};
