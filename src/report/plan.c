/* plan: reports what was planned, on one sheet or several, and what a proof shows. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"
#include "report/expected.h"
#include "report/size.h"

#include <math.h>
#include <stdlib.h>

/* Colours, notes, one way ------------------------------------------------------------------- */

static char *hex_colour(DtColour c)
{
    return g_strdup_printf("#%02lx%02lx%02lx", lround(c.r * 255), lround(c.g * 255),
                           lround(c.b * 255));
}

static void add_colours(JsonBuilder *b, const DtProfile *p, const DtInkReport *colours)
{
    dt_json_begin_array(b, "colours");
    for (size_t i = 0; i < colours->n; i++) {
        const DtInkMatch *match = &colours->matches[i];
        g_autofree char *hex = hex_colour(match->colour);
        json_builder_begin_object(b);
        dt_json_text(b, "colour", hex);
        dt_json_text(b, "pen", match->pen >= 0 ? p->rack.pens[match->pen].name : NULL);
        dt_json_number(b, "coverage", match->coverage);
        dt_json_text(b, "across", match->across >= 0 ? p->rack.pens[match->across].name : NULL);
        dt_json_number(b, "across_coverage", match->across >= 0 ? match->across_coverage : 0);
        dt_json_number(b, "difference", match->distance);
        dt_json_number(b, "difference_dense", match->before);
        dt_json_number(b, "area_mm2", match->area_mm2);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    dt_json_number(b, "covered_mm", colours->lost_mm);
    dt_json_number(b, "unseen_mm", colours->unseen_mm);
}

/* Number of colours of one pen that are listed one by one, those with the largest areas. */
#define MOST_COLOURS 6

static char *share_text(double share)
{
    return share < 0.005 ? g_strdup(_("less than 1 %"))
                         : g_strdup_printf(_("%.0f %%"), 100 * share);
}

/* "pen terracotta at 45 %, green at 20 % across" */
static char *ink_text(const DtProfile *p, const DtInkMatch *m)
{
    if (m->pen < 0)
        return g_strdup(_("left to the paper"));
    const char *pen = p->rack.pens[m->pen].name;
    g_autofree char *share = share_text(m->coverage),
                    *across_share = share_text(m->across_coverage);
    g_autofree char *text = m->coverage < 1 ? g_strdup_printf(_("pen %s at %s"), pen, share)
                                            : g_strdup_printf(_("pen %s"), pen);
    return m->across < 0 ? g_steal_pointer(&text)
                         : g_strdup_printf(_("%s, %s at %s across"), text,
                                           p->rack.pens[m->across].name, across_share);
}

static int by_pen_then_area(const void *pa, const void *pb)
{
    const DtInkMatch *a = *(const DtInkMatch *const *)pa, *b = *(const DtInkMatch *const *)pb;
    if (a->pen != b->pen)
        return a->pen < 0 ? 1 : b->pen < 0 ? -1 : a->pen < b->pen ? -1 : 1;
    if (a->area_mm2 != b->area_mm2)
        return a->area_mm2 > b->area_mm2 ? -1 : 1;
    return (a > b) - (a < b);
}

/* Pen by pen, the largest areas first; the rest of a pen's colours on one line. */
static void append_colours(GString *s, const DtProfile *p, const DtInkReport *colours)
{
    g_autofree const DtInkMatch **sorted = g_new(const DtInkMatch *, colours->n + 1);
    for (size_t i = 0; i < colours->n; i++)
        sorted[i] = &colours->matches[i];
    qsort(sorted, colours->n, sizeof(const DtInkMatch *), by_pen_then_area);
    for (size_t i = 0, next; i < colours->n; i = next) {
        double worst = 0;
        for (next = i; next < colours->n && sorted[next]->pen == sorted[i]->pen; next++) {
            const DtInkMatch *m = sorted[next];
            g_autofree char *hex = hex_colour(m->colour), *ink = ink_text(p, m);
            if (next >= i + MOST_COLOURS)
                worst = MAX(worst, m->distance);
            else if (m->pen < 0)
                g_string_append_printf(s, _("  colour %s  %s\n"), hex, ink);
            else
                g_string_append_printf(s, _("  colour %s  %s, difference %.1f%s\n"), hex, ink,
                                       m->distance,
                                       m->distance > DT_REPORT_FAR_COLOUR
                                           ? _(": no pen of the rack is near this colour")
                                           : "");
        }
        if (next > i + MOST_COLOURS)
            g_string_append_printf(s, _("  and %zu colours more, difference up to %.1f\n"),
                                   next - i - MOST_COLOURS, worst);
    }
    if (colours->lost_mm >= 1)
        g_string_append_printf(s, _("  %.0f mm of lines are covered by the ink of other pens\n"),
                               colours->lost_mm);
}

static void add_note(JsonBuilder *b, const char *art_path, const char *note)
{
    g_autofree char *text = g_strdup_printf("%s: %s", art_path, note);
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    json_builder_add_string_value(b, valid);
}

static void add_notes(JsonBuilder *b, const DtDrawing *d, const DtAffine *placed,
                      const DtInkReport *colours, const char *art_path)
{
    char *note;
    dt_json_begin_array(b, "notes");
    for (size_t i = 0; (note = dt_report_caution(d, placed, colours, i)) != NULL; i++) {
        add_note(b, art_path, note);
        g_free(note);
    }
    for (size_t i = 0; i < d->n_notes; i++) {
        g_autofree char *text =
            g_strdup_printf("%s:%d: %s", art_path, d->notes[i].line, d->notes[i].text);
        g_autofree char *valid = g_utf8_make_valid(text, -1);
        json_builder_add_string_value(b, valid);
    }
    for (size_t i = 0; colours && (note = dt_ink_report_note(colours, i)) != NULL; i++) {
        add_note(b, art_path, note);
        g_free(note);
    }
    json_builder_end_array(b);
}

static void append_notes(GString *s, const DtDrawing *d, const DtAffine *placed,
                         const DtInkReport *colours, const char *art_path)
{
    char *note;
    for (size_t i = 0; (note = dt_report_caution(d, placed, colours, i)) != NULL; i++) {
        g_string_append_printf(s, "%s: %s\n", art_path, note);
        g_free(note);
    }
    for (size_t i = 0; colours && (note = dt_ink_report_note(colours, i)) != NULL; i++) {
        g_string_append_printf(s, "%s: %s\n", art_path, note);
        g_free(note);
    }
    for (size_t i = 0; i < d->n_notes; i++)
        g_string_append_printf(s, "%s:%d: %s\n", art_path, d->notes[i].line, d->notes[i].text);
}

static void add_one_way(JsonBuilder *b, const DtOneWay *w)
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

static void append_one_way(GString *s, const DtOneWay *w)
{
    const char axis = "XY"[w->axis];
    g_autofree char *one = dt_base_duration(w->time_s[1]), *both = dt_base_duration(w->time_s[0]);
    g_string_append_printf(s, _("  fills one way along %c: %s in place of %s (%+.0f %%)\n"), axis,
                           one, both, 100 * (w->time_s[1] / w->time_s[0] - 1));
    if (w->lost > 0)
        g_string_append_printf(
            s,
            _("    if the lost motion, up to %.2f mm, were not corrected: ink off "
              "along %c by %.3f mm in place of %.3f mm, on average\n"),
            w->lost, axis, w->error_mm[1], w->error_mm[0]);
    else
        g_string_append_printf(
            s,
            _("    no lost motion of %c is known: measure it to see what one way "
              "gains\n"),
            axis);
}

/* One sheet --------------------------------------------------------------------------------- */

static void add_times(JsonBuilder *b, const DtTimes *t)
{
    dt_json_number(b, "time_s", t->total_s);
    dt_json_number(b, "ink_s", t->ink_s);
    dt_json_number(b, "slack_s", t->slack_s);
    dt_json_number(b, "travel_s", t->travel_s - t->slack_s);
    dt_json_number(b, "lift_s", t->lift_s);
    dt_json_number(b, "home_s", t->home_s);
    dt_json_number(b, "change_s", t->change_s);
    dt_json_number(b, "held_up_s", t->held_up_s);
    dt_json_count(b, "starved", t->starved);
    dt_json_number(b, "ink_mm", t->ink_mm);
    dt_json_number(b, "travel_mm", t->travel_mm);
    dt_json_count(b, "lifts", t->lifts);
    dt_json_count(b, "pen_changes", t->changes);
}

static char *plan_json(const DtProfile *p, const DtJob *job, const DtReportTrueness *trueness,
                       const char *art_path, const char *output)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "art", art_path);
    dt_json_text(b, "program", output);
    dt_json_text(b, "machine", p->name);
    dt_json_text(b, "paper", p->paper_name);
    dt_report_add_size(NULL, b, job->drawing, &job->placed);
    add_times(b, &job->times);
    g_autofree char *unwaited = dt_report_unwaited(p);
    if (unwaited != NULL)
        dt_json_text(b, "unwaited", unwaited);
    dt_json_number(b, "retraced_mm", job->sequence.retraced_mm);
    if (job->budget.asked_s > 0)
        dt_report_add_budget(NULL, b, &job->budget);
    if (job->one_way.time_s[1] > 0)
        add_one_way(b, &job->one_way);
    dt_report_add_expected(NULL, b, trueness, p, &job->sequence, &job->moves);
    dt_json_count(b, "strokes", job->strokes.n);
    g_autofree DtProofPen *pens = g_new0(DtProofPen, p->rack.n);
    dt_proof_pens(p, &job->moves, &job->times, pens);
    g_autofree size_t *order = g_new(size_t, p->rack.n);
    const size_t n = dt_proof_pen_order(pens, p->rack.n, order);
    dt_json_begin_array(b, "pens");
    for (size_t i = 0; i < n; i++) {
        json_builder_begin_object(b);
        dt_json_text(b, "name", p->rack.pens[order[i]].name);
        dt_json_number(b, "ink_mm", pens[order[i]].ink_mm);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    add_colours(b, p, &job->colours);
    add_notes(b, job->drawing, &job->placed, &job->colours, art_path);
    return dt_json_end(b);
}

/* Whether everything that a pen draws is narrower than its tip. */
static gboolean is_too_wide(const DtJob *job, size_t pen)
{
    for (size_t i = 0; i < job->strokes.n; i++)
        if (job->strokes.strokes[i].pen == pen && job->strokes.strokes[i].kind != DT_INK_CENTRE)
            return FALSE;
    return TRUE;
}

static char *plan_text(const DtProfile *p, const DtJob *job, const DtReportTrueness *trueness,
                       const char *art_path, const char *output)
{
    const DtTimes *t = &job->times;
    GString *s = g_string_new(NULL);
    g_autofree char *time = dt_base_duration(t->total_s), *ink = dt_base_duration(t->ink_s);
    g_autofree char *travel = dt_base_duration(t->travel_s - t->slack_s);
    g_autofree char *slack = dt_base_duration(t->slack_s), *lift = dt_base_duration(t->lift_s);
    g_autofree char *home = dt_base_duration(t->home_s);
    g_string_append_printf(s, _("%s on %s (%s)\n"), art_path, p->paper_name, p->name);
    dt_report_add_size(s, NULL, job->drawing, &job->placed);
    g_string_append_printf(s, _("  time %s: ink %s, travel %s, lifts %s, slack %s, homing %s\n"),
                           time, ink, travel, lift, slack, home);
    g_autofree char *wire = dt_report_wire(p, t->held_up_s, t->starved, t->total_s);
    if (wire != NULL)
        g_string_append_printf(s, "  %s\n", wire);
    g_autofree char *unwaited = dt_report_unwaited(p);
    if (unwaited != NULL)
        g_string_append_printf(s, "  %s\n", unwaited);
    g_string_append_printf(s, P_("  plus %zu pen change\n", "  plus %zu pen changes\n", t->changes),
                           t->changes);
    if (job->budget.asked_s > 0)
        dt_report_add_budget(s, NULL, &job->budget);
    if (job->one_way.time_s[1] > 0)
        append_one_way(s, &job->one_way);
    g_string_append_printf(s, _("  ink %.2f m, travel %.2f m, %zu lifts\n"), t->ink_mm / 1000,
                           t->travel_mm / 1000, t->lifts);
    if (job->sequence.retraced > 0)
        g_string_append_printf(
            s, _("  %.2f m of the ink is drawn twice to save lifts (--no-retrace: never)\n"),
            job->sequence.retraced_mm / 1000);
    g_autofree DtProofPen *pens = g_new0(DtProofPen, p->rack.n);
    dt_proof_pens(p, &job->moves, t, pens);
    g_autofree size_t *order = g_new(size_t, p->rack.n);
    const size_t n = dt_proof_pen_order(pens, p->rack.n, order);
    for (size_t i = 0; i < n; i++)
        g_string_append_printf(
            s, _("  pen %s  %.2f m%s\n"), p->rack.pens[order[i]].name, pens[order[i]].ink_mm / 1000,
            is_too_wide(job, order[i]) ? _(": its tip is wider than all that it draws") : "");
    dt_report_add_expected(s, NULL, trueness, p, &job->sequence, &job->moves);
    append_colours(s, p, &job->colours);
    append_notes(s, job->drawing, &job->placed, &job->colours, art_path);
    if (output != NULL)
        g_string_append_printf(s, _("  written to %s\n"), output);
    return g_string_free(s, FALSE);
}

char *dt_report_plan(const DtProfile *p, const DtJob *job, const DtReportTrueness *trueness,
                     const char *art_path, const char *output, gboolean json)
{
    return (json ? plan_json : plan_text)(p, job, trueness, art_path, output);
}

/* Several sheets ---------------------------------------------------------------------------- */

char *dt_report_sheet_figures(const DtTimes *t)
{
    g_autofree char *time = dt_base_duration(t->total_s);
    return g_strdup_printf(P_("time %s, ink %.2f m, %zu lifts, %zu pen change",
                              "time %s, ink %.2f m, %zu lifts, %zu pen changes", t->changes),
                           time, t->ink_mm / 1000, t->lifts, t->changes);
}

static char *sheets_json(const DtProfile *p, const DtJobSheets *s, const DtReportTrueness *trueness,
                         const char *art_path, gboolean programs, const char *const *files)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "art", art_path);
    dt_json_text(b, "machine", p->name);
    dt_json_text(b, "paper", p->paper_name);
    dt_json_count(b, "columns", s->columns);
    dt_json_count(b, "rows", s->rows);
    if (!programs)
        dt_json_text(b, "picture", files[0]);
    dt_json_begin_array(b, "sheets");
    for (size_t i = 0; i < s->n; i++) {
        json_builder_begin_object(b);
        if (programs)
            dt_json_text(b, "program", files[i]);
        dt_json_count(b, "column", s->sheets[i].column);
        dt_json_count(b, "row", s->sheets[i].row);
        add_times(b, &s->sheets[i].job.times);
        dt_report_add_expected(NULL, b, trueness, p, &s->sheets[i].job.sequence,
                               &s->sheets[i].job.moves);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    add_colours(b, p, &s->colours);
    add_notes(b, s->drawing, NULL, &s->colours, art_path);
    return dt_json_end(b);
}

static char *sheets_text(const DtProfile *p, const DtJobSheets *sheets,
                         const DtReportTrueness *trueness, const char *art_path, gboolean programs,
                         const char *const *files)
{
    GString *s = g_string_new(NULL);
    g_string_append_printf(s, _("%s on %u by %u sheets of %s (%s)\n"), art_path, sheets->columns,
                           sheets->rows, p->paper_name, p->name);
    for (size_t i = 0; i < sheets->n; i++) {
        const DtJobSheet *sheet = &sheets->sheets[i];
        g_autofree char *text = dt_report_sheet_figures(&sheet->job.times);
        g_string_append_printf(s, _("  sheet %zu (column %u, row %u from above): %s\n"), i + 1,
                               sheet->column, sheet->row, text);
        /* the reason why it is unknown is given once */
        if (i == 0 || (trueness && trueness->measured && trueness->measured->sheet > 0))
            dt_report_add_expected(s, NULL, trueness, p, &sheet->job.sequence, &sheet->job.moves);
    }
    append_colours(s, p, &sheets->colours);
    append_notes(s, sheets->drawing, NULL, &sheets->colours, art_path);
    for (size_t i = 0; i < (programs ? sheets->n : 1); i++)
        g_string_append_printf(s, _("  written to %s\n"), files[i]);
    g_string_append(s, _("  align the sheets by their crosses\n"));
    return g_string_free(s, FALSE);
}

char *dt_report_sheets(const DtProfile *p, const DtJobSheets *s, const DtReportTrueness *trueness,
                       const char *art_path, gboolean programs, const char *const *files,
                       gboolean json)
{
    return (json ? sheets_json : sheets_text)(p, s, trueness, art_path, programs, files);
}

/* Proofs ------------------------------------------------------------------------------------ */

/* How much the ink differs from the artwork. */
static void add_look(JsonBuilder *b, const DtProofLook *look)
{
    json_builder_set_member_name(b, "look");
    json_builder_begin_object(b);
    dt_json_number(b, "difference_40_cm", look->near);
    dt_json_number(b, "difference_2_m", look->far);
    dt_json_number(b, "lightness_2_m", look->lightness);
    json_builder_end_object(b);
}

static void append_look(GString *s, const DtProofLook *look)
{
    g_string_append_printf(
        s,
        _("  difference to the artwork %.1f at 40 cm, %.1f at 2 m (CIEDE2000); L* "
          "differs by %.1f\n"),
        look->near, look->far, look->lightness);
}

static char *proof_json(const DtReportProof *r, const DtProofPen *pens)
{
    const DtProofInput *in = r->proof;
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "source", r->source);
    dt_json_text(b, "picture", r->picture);
    dt_json_text(b, "machine", in->profile->name);
    dt_json_text(b, "paper", in->profile->paper_name);
    if (in->drawing && r->placed)
        dt_report_add_size(NULL, b, in->drawing, r->placed);
    if (in->look)
        add_look(b, in->look);
    if (r->budget && r->budget->asked_s > 0)
        dt_report_add_budget(NULL, b, r->budget);
    add_times(b, in->times);
    if (in->before)
        dt_json_number(b, "time_in_drawing_order_s", in->before->total_s);
    dt_report_add_expected(NULL, b, r->trueness, in->profile, in->sequence, in->moves);
    if (in->one_way)
        add_one_way(b, in->one_way);
    if (r->inspection) {
        dt_json_count(b, "findings", r->inspection->n_findings);
        dt_json_count(b, "refused_lines", r->inspection->refused_lines);
    }
    dt_json_begin_array(b, "pens");
    g_autofree size_t *order = g_new(size_t, in->profile->rack.n);
    const size_t n = dt_proof_pen_order(pens, in->profile->rack.n, order);
    for (size_t k = 0; k < n; k++) {
        const size_t i = order[k];
        json_builder_begin_object(b);
        dt_json_text(b, "name", in->profile->rack.pens[i].name);
        dt_json_count(b, "strokes", pens[i].strokes);
        dt_json_number(b, "ink_mm", pens[i].ink_mm);
        dt_json_number(b, "ink_s", pens[i].ink_s);
        dt_json_number(b, "slack_s", pens[i].slack_s);
        dt_json_number(b, "travel_s", pens[i].travel_s);
        dt_json_number(b, "lift_s", pens[i].lift_s);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    if (r->colours)
        add_colours(b, in->profile, r->colours);
    if (in->drawing)
        add_notes(b, in->drawing, r->placed, r->colours, r->source);
    return dt_json_end(b);
}

static void append_inspection(GString *s, const DtInspection *i, const char *source)
{
    g_string_append_printf(s, P_("  %zu finding, ", "  %zu findings, ", i->n_findings),
                           i->n_findings);
    g_string_append_printf(s,
                           P_("%zu line refused: see 'drawtrue inspect %s'\n",
                              "%zu lines refused: see 'drawtrue inspect %s'\n", i->refused_lines),
                           i->refused_lines, source);
    g_autofree char *deleted = dt_report_deleted(i);
    if (deleted != NULL)
        g_string_append_printf(s, "  %s\n", deleted);
}

static char *proof_text(const DtReportProof *r, const DtProofPen *pens)
{
    const DtProofInput *in = r->proof;
    const DtTimes *t = in->times;
    const DtRack *rack = &in->profile->rack;
    GString *s = g_string_new(NULL);
    g_autofree char *total = dt_base_duration(t->total_s);
    g_string_append_printf(s, _("%s on %s (%s)\n"), r->source, in->profile->paper_name,
                           in->profile->name);
    if (in->drawing && r->placed)
        dt_report_add_size(s, NULL, in->drawing, r->placed);
    if (in->look)
        append_look(s, in->look);
    if (r->budget && r->budget->asked_s > 0)
        dt_report_add_budget(s, NULL, r->budget);
    g_string_append_printf(s, _("  time %s, ink %.2f m, lifts %zu, travel %.2f m\n"), total,
                           t->ink_mm / 1000, t->lifts, t->travel_mm / 1000);
    g_autofree char *wire = dt_report_wire(in->profile, t->held_up_s, t->starved, t->total_s);
    if (wire != NULL)
        g_string_append_printf(s, "  %s\n", wire);
    g_autofree size_t *order = g_new(size_t, rack->n);
    const size_t n = dt_proof_pen_order(pens, rack->n, order);
    for (size_t k = 0; k < n; k++) {
        const size_t i = order[k];
        g_autofree char *time =
            dt_base_duration(pens[i].ink_s + pens[i].slack_s + pens[i].travel_s + pens[i].lift_s);
        g_string_append_printf(s,
                               P_("  pen %-12s %7.2f m  %5zu stroke   %s\n",
                                  "  pen %-12s %7.2f m  %5zu strokes  %s\n", pens[i].strokes),
                               rack->pens[i].name, pens[i].ink_mm / 1000, pens[i].strokes, time);
    }
    dt_report_add_expected(s, NULL, r->trueness, in->profile, in->sequence, in->moves);
    if (r->colours)
        append_colours(s, in->profile, r->colours);
    if (in->before) {
        g_autofree char *before = dt_base_duration(in->before->total_s);
        g_string_append_printf(s, _("  in the drawing's own order it would take %s\n"), before);
    }
    if (in->one_way)
        append_one_way(s, in->one_way);
    const DtInspection *i = r->inspection;
    if (i && i->n_findings)
        append_inspection(s, i, r->source);
    g_string_append_printf(s, _("  picture in %s\n"), r->picture);
    if (in->drawing)
        append_notes(s, in->drawing, r->placed, r->colours, r->source);
    return g_string_free(s, FALSE);
}

char *dt_report_proof(const DtReportProof *r, gboolean json)
{
    const DtProofInput *in = r->proof;
    g_autofree DtProofPen *pens = g_new0(DtProofPen, in->profile->rack.n);
    dt_proof_pens(in->profile, in->moves, in->times, pens);
    return (json ? proof_json : proof_text)(r, pens);
}
