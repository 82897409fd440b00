/* planning: options to job options, and the report on a planned job. */
#include "cli/planning.h"
#include "drawtrue/json.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

/* Numbers that nobody asks for: the option was not given. */
#define NOT_GIVEN (-1e300)
#define NO_EFFORT G_MININT

static char *machine, *paper, *paper_at, *hatch, *sheets;
static double margin = NOT_GIVEN, angle = NOT_GIVEN, pitch = 0, tolerance = 0.01, join = NOT_GIVEN,
              overlap = 10;
static int seed = 1, effort = NO_EFFORT;
static gboolean true_size, no_turn, outlines, no_edge, no_hide, tone, single_line, keep_order,
    one_way, light_first, no_corrections;

const GOptionEntry dt_cli_planning_entries[] = {
    {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &machine, "The machine's profile", "FILE"},
    {"paper", 0, 0, G_OPTION_ARG_STRING, &paper, "Paper: A5, \"A5 landscape\", 120x80 (mm)",
     "SIZE"},
    {"paper-at", 0, 0, G_OPTION_ARG_STRING, &paper_at, "Lower left corner on the bed, mm", "X,Y"},
    {"margin", 0, 0, G_OPTION_ARG_DOUBLE, &margin, "Kept free along the paper's edge, mm", "MM"},
    {"true-size", 0, 0, G_OPTION_ARG_NONE, &true_size, "Do not scale to the paper", NULL},
    {"no-turn", 0, 0, G_OPTION_ARG_NONE, &no_turn, "Do not turn the drawing to fit better", NULL},
    {"sheets", 0, 0, G_OPTION_ARG_STRING, &sheets,
     "Over several sheets: 2x3 fills two side by side, three high; any: at true size", "GRID"},
    {"overlap", 0, 0, G_OPTION_ARG_DOUBLE, &overlap, "Of sheets side by side, mm (10)", "MM"},
    {"hatch", 0, 0, G_OPTION_ARG_STRING, &hatch,
     "Fills: serpentine (default), lines, crossed, rings", "KIND"},
    {"angle", 0, 0, G_OPTION_ARG_DOUBLE, &angle,
     "Of the hatch lines, degrees (the machine's fastest direction)", "DEG"},
    {"pitch", 0, 0, G_OPTION_ARG_DOUBLE, &pitch, "Between hatch lines, mm (the pen's width)", "MM"},
    {"outlines", 0, 0, G_OPTION_ARG_NONE, &outlines, "Outlines only, no fills", NULL},
    {"no-edge", 0, 0, G_OPTION_ARG_NONE, &no_edge, "No line along a fill's edge, hatch lines alone",
     NULL},
    {"tone", 0, 0, G_OPTION_ARG_NONE, &tone, "Lighter paints get a wider pitch", NULL},
    {"no-hide", 0, 0, G_OPTION_ARG_NONE, &no_hide, "Draw what lies beneath other shapes too", NULL},
    {"single-line", 0, 0, G_OPTION_ARG_NONE, &single_line, "Text in single-line letters", NULL},
    {"tolerance", 0, 0, G_OPTION_ARG_DOUBLE, &tolerance, "Of curves, mm (0.01)", "MM"},
    {"join", 0, 0, G_OPTION_ARG_DOUBLE, &join, "Longest gap drawn across, mm", "MM"},
    {"keep-order", 0, 0, G_OPTION_ARG_NONE, &keep_order, "Draw in the drawing's own order", NULL},
    {"one-way", 0, 0, G_OPTION_ARG_NONE, &one_way, "Draw fill lines in one direction only", NULL},
    {"light-first", 0, 0, G_OPTION_ARG_NONE, &light_first, "Pens from light to dark", NULL},
    {"seed", 0, 0, G_OPTION_ARG_INT, &seed, "Of the search for the best order", "N"},
    {"effort", 0, 0, G_OPTION_ARG_INT, &effort, "Kicks tried by that search; 0 for none", "N"},
    {"no-corrections", 0, 0, G_OPTION_ARG_NONE, &no_corrections,
     "Leave the machine's measured errors uncorrected", NULL},
    G_OPTION_ENTRY_NULL,
};

static gboolean usage_error(GError **error, const char *text)
{
    g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, text);
    return FALSE;
}

static gboolean read_hatch(DtHatch *out, GError **error)
{
    static const char *const names[] = {"lines", "crossed", "rings", "serpentine"};
    static const DtHatch values[] = {DT_HATCH_LINES, DT_HATCH_CROSSED, DT_HATCH_RINGS,
                                     DT_HATCH_SERPENTINE};
    for (size_t i = 0; hatch != NULL && i < G_N_ELEMENTS(names); i++)
        if (strcmp(hatch, names[i]) == 0) {
            *out = values[i];
            return TRUE;
        }
    return hatch == NULL || usage_error(error, "--hatch takes serpentine, lines, crossed or rings");
}

static gboolean read_paper(DtProfile *p, GError **error)
{
    if (paper != NULL) {
        if (!dt_machine_paper(paper, &p->paper_w, &p->paper_h, error))
            return FALSE;
        g_free(p->paper_name);
        p->paper_name = g_strdup(paper);
    }
    if (paper_at != NULL) {
        char *end = NULL;
        p->paper_at.x = g_ascii_strtod(paper_at, &end);
        gboolean good = end != paper_at && *end == ',';
        const char *second = good ? end + 1 : "";
        p->paper_at.y = g_ascii_strtod(second, &end);
        if (!good || end == second || *end != '\0' || !isfinite(p->paper_at.x) ||
            !isfinite(p->paper_at.y))
            return usage_error(error, "--paper-at takes two lengths in mm, such as 20,10");
    }
    if (margin != NOT_GIVEN && !(margin >= 0 && margin <= 1000))
        return usage_error(error, "--margin takes 0 to 1000 mm");
    if (margin != NOT_GIVEN)
        p->margin = margin;
    return TRUE;
}

gboolean dt_cli_tiling(DtJobTiling *tiling, gboolean *wanted, GError **error)
{
    *tiling = (DtJobTiling){0, 0, overlap};
    *wanted = sheets != NULL;
    if (sheets == NULL || strcmp(sheets, "any") == 0)
        return TRUE;
    char *end = NULL;
    guint64 columns = g_ascii_strtoull(sheets, &end, 10), rows = 0;
    if (*end == 'x' && g_ascii_isdigit(sheets[0]) && g_ascii_isdigit(end[1]))
        rows = g_ascii_strtoull(end + 1, &end, 10);
    if (*end != '\0' || columns < 1 || rows < 1 || columns > 100 || rows > 100)
        return usage_error(error, "--sheets takes columns x rows, such as 2x3, each 1 to 100, or "
                                  "'any' for as many as true size takes");
    tiling->columns = (unsigned)columns;
    tiling->rows = (unsigned)rows;
    return TRUE;
}

DtProfile *dt_cli_planning(DtJobOptions *o, GError **error)
{
    *o = DT_JOB_OPTIONS_DEFAULT;
    if ((join != NOT_GIVEN && !(join >= 0 && join <= 100)) || (effort != NO_EFFORT && effort < 0)) {
        usage_error(error, "--join takes 0 to 100 mm, --effort 0 kicks or more");
        return NULL;
    }
    if (!(tolerance >= 1e-4 && tolerance <= 1)) {
        usage_error(error, "--tolerance takes 0.0001 to 1 mm");
        return NULL;
    }
    if (!(pitch == 0 || (pitch >= 0.01 && pitch <= 1000)) || !isfinite(angle)) {
        usage_error(error, "--pitch takes 0.01 to 1000 mm, or 0 for the pen's width; --angle an "
                           "angle in degrees");
        return NULL;
    }
    if (!read_hatch(&o->ink.hatch, error))
        return NULL;
    o->art.tolerance = o->ink.tolerance = tolerance;
    o->art.single_line_text = single_line;
    o->own_angle = angle != NOT_GIVEN;
    if (o->own_angle)
        o->ink.angle = angle * G_PI / 180;
    o->ink.pitch = pitch;
    o->ink.fill = !outlines;
    o->ink.edge = !no_edge;
    o->ink.hide = !no_hide;
    o->ink.tone = tone;
    o->route.seed = (uint64_t)seed;
    if (effort != NO_EFFORT)
        o->route.iterations = (uint64_t)effort;
    if (join != NOT_GIVEN)
        o->route.join = join;
    o->route.keep_order = keep_order;
    o->route.one_way = one_way;
    o->route.light_first = light_first;
    o->placement.fit = true_size ? DT_FIT_TRUE_SIZE : DT_FIT_MARGINS;
    o->placement.turn = !no_turn;
    o->no_corrections = no_corrections;
    g_autoptr(DtProfile) p = dt_cli_profile(machine, error);
    if (p == NULL || !read_paper(p, error))
        return NULL;
    return g_steal_pointer(&p);
}

static void show_progress(const DtWorkState *state, void *user)
{
    (void)user;
    fprintf(stderr, "\r\033[K%s %3.0f %%", dt_stage_title(state->stage), state->done * 100);
}

/* On a terminal's standard error only. */
static DtWork *start_work(void)
{
    return dt_work_new(isatty(STDERR_FILENO) ? show_progress : NULL, NULL);
}

static void end_work(void)
{
    if (isatty(STDERR_FILENO))
        fputs("\r\033[K", stderr);
}

gboolean dt_cli_plan_sheets(const DtProfile *p, const char *art_path, const DtJobOptions *o,
                            const DtJobTiling *tiling, DtJobSheets *out, GError **error)
{
    g_autoptr(DtWork) work = start_work();
    const gboolean good = dt_job_plan_sheets(p, art_path, o, tiling, out, work, error);
    end_work();
    return good;
}

gboolean dt_cli_plan_job(const DtProfile *p, const char *art_path, const DtJobOptions *o, DtJob *job,
                         GError **error)
{
    g_autoptr(DtWork) work = start_work();
    const gboolean good = dt_job_plan(p, art_path, o, job, work, error);
    end_work();
    return good;
}

/* Ink and colour matches -------------------------------------------------------------------- */

/* From here on a pen is not what the eye takes for the artwork's colour; "clearly another colour"
 * in CIEDE2000 units, common practice, no source. */
#define FAR_COLOUR 20.0

static void add_pens_json(JsonBuilder *b, const DtProfile *p, const DtJob *job)
{
    json_builder_set_member_name(b, "pens");
    json_builder_begin_array(b);
    for (unsigned i = 0; i < p->rack.n; i++) {
        double ink = dt_job_pen_ink_mm(job, i);
        if (ink <= 0)
            continue;
        json_builder_begin_object(b);
        dt_json_text(b, "name", p->rack.pens[i].name);
        dt_json_number(b, "ink_mm", ink);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static char *hex_colour(DtColour c)
{
    return g_strdup_printf("#%02lx%02lx%02lx", lround(c.r * 255), lround(c.g * 255),
                           lround(c.b * 255));
}

void dt_cli_add_colours(JsonBuilder *b, const DtProfile *p, const DtInkReport *colours)
{
    json_builder_set_member_name(b, "colours");
    json_builder_begin_array(b);
    for (size_t i = 0; i < colours->n; i++) {
        const DtInkMatch *match = &colours->matches[i];
        g_autofree char *hex = hex_colour(match->colour);
        json_builder_begin_object(b);
        dt_json_text(b, "colour", hex);
        json_builder_set_member_name(b, "pen");
        if (match->pen >= 0)
            json_builder_add_string_value(b, p->rack.pens[match->pen].name);
        else
            json_builder_add_null_value(b);
        dt_json_number(b, "difference", match->distance);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

void dt_cli_add_one_way(JsonBuilder *b, const DtOneWay *w)
{
    json_builder_set_member_name(b, "one_way");
    json_builder_begin_object(b);
    dt_json_text(b, "axis", w->axis ? "Y" : "X");
    dt_json_number(b, "lost_mm", w->lost);
    dt_json_number(b, "time_s", w->time_s[1]);
    dt_json_number(b, "both_ways_time_s", w->time_s[0]);
    dt_json_number(b, "uncorrected_error_mm", w->error_mm[1]);
    dt_json_number(b, "both_ways_uncorrected_error_mm", w->error_mm[0]);
    json_builder_end_object(b);
}

void dt_cli_add_notes(JsonBuilder *b, const DtDrawing *d, const char *art_path)
{
    json_builder_set_member_name(b, "notes");
    json_builder_begin_array(b);
    for (size_t i = 0; i < d->n_notes; i++) {
        g_autofree char *text =
            g_strdup_printf("%s:%d: %s", art_path, d->notes[i].line, d->notes[i].text);
        json_builder_add_string_value(b, text);
    }
    json_builder_end_array(b);
}

static char *report_json(const DtProfile *p, const DtJob *job, const char *art_path)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "art", art_path);
    dt_json_text(b, "machine", p->name);
    dt_json_number(b, "time_s", job->times.total_s);
    dt_json_number(b, "ink_s", job->times.ink_s);
    dt_json_number(b, "travel_s", job->times.travel_s);
    dt_json_number(b, "lift_s", job->times.lift_s);
    dt_json_number(b, "ink_mm", job->times.ink_mm);
    dt_json_number(b, "travel_mm", job->times.travel_mm);
    if (job->one_way.time_s[1] > 0)
        dt_cli_add_one_way(b, &job->one_way);
    dt_json_count(b, "strokes", job->strokes.n);
    dt_json_count(b, "lifts", job->times.lifts);
    dt_json_count(b, "pen_changes", job->times.changes);
    add_pens_json(b, p, job);
    dt_cli_add_colours(b, p, &job->colours);
    dt_cli_add_notes(b, job->drawing, art_path);
    json_builder_end_object(b);
    return dt_json_write(b, TRUE);
}

char *dt_cli_notes(const DtDrawing *d, const char *art_path)
{
    GString *s = g_string_new(NULL);
    for (size_t i = 0; i < d->n_notes; i++)
        g_string_append_printf(s, "%s:%d: %s\n", art_path, d->notes[i].line, d->notes[i].text);
    return g_string_free(s, FALSE);
}

char *dt_cli_colours(const DtProfile *p, const DtInkReport *colours)
{
    GString *s = g_string_new(NULL);
    for (size_t i = 0; i < colours->n; i++) {
        const DtInkMatch *match = &colours->matches[i];
        g_autofree char *hex = hex_colour(match->colour);
        if (match->pen < 0)
            g_string_append_printf(s, "  colour %s  left to the paper\n", hex);
        else
            g_string_append_printf(
                s, "  colour %s  pen %s, difference %.1f%s\n", hex, p->rack.pens[match->pen].name,
                match->distance,
                match->distance > FAR_COLOUR ? ": no pen of the rack is near this colour" : "");
    }
    return g_string_free(s, FALSE);
}

/* Whether all that a pen draws is narrower than its tip. */
static gboolean is_too_wide(const DtJob *job, unsigned pen)
{
    for (size_t i = 0; i < job->strokes.n; i++)
        if (job->strokes.strokes[i].pen == pen && job->strokes.strokes[i].kind != DT_INK_CENTRE)
            return FALSE;
    return TRUE;
}

char *dt_cli_one_way(const DtOneWay *w)
{
    const char axis = "XY"[w->axis];
    g_autofree char *one = dt_base_duration(w->time_s[1]), *both = dt_base_duration(w->time_s[0]);
    g_autofree char *cost =
        g_strdup_printf("  fills one way along %c: %s in place of %s (%+.0f %%)\n", axis, one, both,
                        100 * (w->time_s[1] / w->time_s[0] - 1));
    if (w->lost > 0)
        return g_strdup_printf(
            "%s    if the lost motion, up to %.2f mm, were not corrected: ink off "
            "along %c by %.3f mm in place of %.3f mm, in the mean\n",
            cost, w->lost, axis, w->error_mm[1], w->error_mm[0]);
    return g_strdup_printf("%s    no lost motion of %c is known here: what it gains cannot be told "
                           "before that is measured\n",
                           cost, axis);
}

static char *report_text(const DtProfile *p, const DtJob *job, const char *art_path)
{
    GString *s = g_string_new(NULL);
    g_autofree char *time = dt_base_duration(job->times.total_s);
    g_autofree char *ink = dt_base_duration(job->times.ink_s);
    g_autofree char *travel = dt_base_duration(job->times.travel_s);
    g_autofree char *lift = dt_base_duration(job->times.lift_s);
    g_string_append_printf(s, "%s on %s (%s)\n", art_path, p->paper_name, p->name);
    g_string_append_printf(s, "  time %s: ink %s, travel %s, lifts %s; %zu pen change%s besides\n",
                           time, ink, travel, lift, job->times.changes,
                           job->times.changes == 1 ? "" : "s");
    g_autofree char *one_way_text =
        job->one_way.time_s[1] > 0 ? dt_cli_one_way(&job->one_way) : g_strdup("");
    g_string_append(s, one_way_text);
    g_string_append_printf(s, "  ink %.2f m, travel %.2f m, %zu lifts\n", job->times.ink_mm / 1000,
                           job->times.travel_mm / 1000, job->times.lifts);
    for (unsigned i = 0; i < p->rack.n; i++) {
        double pen_ink = dt_job_pen_ink_mm(job, i);
        if (pen_ink > 0)
            g_string_append_printf(s, "  pen %s  %.2f m%s\n", p->rack.pens[i].name, pen_ink / 1000,
                                   is_too_wide(job, i) ? ": its tip is wider than all that it draws"
                                                       : "");
    }
    g_autofree char *colours = dt_cli_colours(p, &job->colours);
    g_string_append(s, colours);
    g_autofree char *notes = dt_cli_notes(job->drawing, art_path);
    g_string_append(s, notes);
    return g_string_free(s, FALSE);
}

char *dt_cli_plan_report(const DtProfile *p, const DtJob *job, const char *art_path, gboolean json)
{
    return json ? report_json(p, job, art_path) : report_text(p, job, art_path);
}
