/* inspection: what a program would do on a machine, and what mending it changed. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"

static const struct {
    const char *word, *title;
} ranks[] = {
    [DT_FINDING_NO_INK] = {"will-not-draw", N_("Will not draw")},
    [DT_FINDING_HARM] = {"will-harm", N_("Will harm the machine, the pen or the paper")},
    [DT_FINDING_WRONG] = {"will-look-wrong", N_("Will look wrong")},
    [DT_FINDING_WASTE] = {"wasteful", N_("Takes longer than necessary")},
};

enum { LISTED = 12 }; /* findings of one kind that the short report lists */

char *dt_report_inspection_figures(const DtInspection *i)
{
    g_autofree char *time = dt_base_duration(i->time_s);
    g_autofree char *lines = g_strdup_printf(P_("%zu line", "%zu lines", i->lines), i->lines);
    return g_strdup_printf(P_("%s, %zu refused · ink %.0f mm in %zu stroke · travel %.0f mm · %s",
                              "%s, %zu refused · ink %.0f mm in %zu strokes · travel %.0f mm · %s",
                              i->lifts),
                           lines, i->refused_lines, i->ink_mm, i->lifts, i->travel_mm, time);
}

char *dt_report_wire(const DtProfile *p, double held_up_s, size_t starved, double total_s)
{
    const double least_share = 0.01, least_s = 0.05; /* below that it would read 0.0 s */
    if (starved == 0 && (held_up_s <= least_share * total_s || held_up_s < least_s))
        return NULL;
    g_autofree char *more = dt_base_duration(held_up_s);
    g_autofree char *stops = starved > 0
                                 ? g_strdup_printf(P_(", with %zu stop in mid-stroke",
                                                      ", with %zu stops in mid-stroke", starved),
                                                   starved)
                                 : g_strdup("");
    return g_strdup_printf(
        _("the wire at %d bit/s, not the motors, sets the pace: %s of the time%s"), p->dialect.baud,
        more, stops);
}

char *dt_report_unwaited(const DtProfile *p)
{
    if (!dt_code_cannot_wait(p))
        return NULL;
    return g_strdup_printf(
        _("the controller's words lack a dwell (G4), so the program does not wait for the pen, "
          "which takes up to "
          "%g s: ink is missing where strokes begin unless the controller waits by itself"),
        MAX(p->drop_s, p->lift_s));
}

char *dt_report_off_paper(const DtProfile *p, const DtInspection *i)
{
    const DtStatedPaper *own = &i->paper;
    const DtPoint at = own->stated ? own->at : p->paper_at;
    const double least = 0.5; /* mm: less reads as 0 */
    if (i->off_paper_mm < least)
        return NULL;
    return g_strdup_printf(_("%.0f of %.0f mm of the ink lie beside the paper, %s at %g, %g mm"),
                           i->off_paper_mm, i->ink_mm, own->stated ? own->name : p->paper_name,
                           at.x, at.y);
}

char *dt_report_deleted(const DtInspection *i)
{
    if (i->deleted_lines == 0)
        return NULL;
    return g_strdup_printf(
        P_("%zu line begins with a slash (/): it is not sent, and what it says is not drawn",
           "%zu lines begin with a slash (/): they are not sent, and what they say is not drawn",
           i->deleted_lines),
        i->deleted_lines);
}

/* The number of findings of the same kind from `at` on. */
static size_t same_kind(const DtInspection *i, size_t at)
{
    size_t n = 0;
    for (size_t k = 0; k < i->n_findings; k++)
        n += i->findings[k].kind == i->findings[at].kind;
    return n;
}

static void add_findings(GString *s, const DtInspection *i, const char *program)
{
    GHashTable *listed = g_hash_table_new(g_direct_hash, g_direct_equal);
    int rank = -1;
    for (size_t k = 0; k < i->n_findings; k++) {
        const DtFinding *f = &i->findings[k];
        if ((int)f->rank != rank)
            g_string_append_printf(s, "\n%s:\n", _(ranks[rank = (int)f->rank].title));
        int before = GPOINTER_TO_INT(g_hash_table_lookup(listed, f->kind));
        g_hash_table_insert(listed, (gpointer)f->kind, GINT_TO_POINTER(before + 1));
        if (before < LISTED)
            g_string_append_printf(s, "  %s:%d:%d: %s\n", program, f->line, f->column, f->text);
        else if (before == LISTED)
            g_string_append_printf(s, _("  and %zu more like it (%s)\n"), same_kind(i, k) - LISTED,
                                   f->kind);
    }
    g_hash_table_unref(listed);
    if (i->omitted > 0)
        g_string_append_printf(s, _("\n%zu further findings are counted and not kept\n"),
                               i->omitted);
}

/* How the pen words were read, and what else they might mean. */
static void put_readings(GString *s, const DtMending *m, const char *program)
{
    if (m->n_readings == 0)
        return;
    const DtPenReading *taken = &m->readings[0];
    g_string_append_printf(s,
                           P_("%s: %s (--pen-by '%s'): %.4g mm of ink in %zu stroke\n",
                              "%s: %s (--pen-by '%s'): %.4g mm of ink in %zu strokes\n",
                              taken->strokes),
                           program, taken->text, taken->option, taken->ink_mm, taken->strokes);
    for (size_t i = 1; i < m->n_readings; i++)
        g_string_append_printf(s, _("  less likely by %.1f points: %s (--pen-by '%s'), %.4g mm\n"),
                               m->readings[0].score - m->readings[i].score, m->readings[i].text,
                               m->readings[i].option, m->readings[i].ink_mm);
}

/* How mending would interpret the pen words, if it would change them. */
static void put_mending(GString *s, const DtMending *m, const char *program)
{
    if (m == NULL || m->n_readings == 0)
        return;
    g_string_append(s, m->in_doubt > 0 ? _("\nit is not clear to mend how the program controls its "
                                           "pen; the next are as likely as the first:\n")
                                       : _("\nhow mend reads its pen:\n"));
    put_readings(s, m, program);
}

static char *inspection_text(const DtProfile *p, const DtInspection *i, const DtMending *m,
                             const char *program)
{
    GString *s = g_string_new(NULL);
    g_autofree char *figures = dt_report_inspection_figures(i);
    g_string_append_printf(s, "%s: %s\n", program, figures);
    g_autofree char *wire = dt_report_wire(p, i->held_up_s, i->starved, i->time_s);
    if (wire != NULL)
        g_string_append_printf(s, "%s\n", wire);
    g_autofree char *unwaited = i->lifts > 0 ? dt_report_unwaited(p) : NULL;
    if (unwaited != NULL)
        g_string_append_printf(s, "%s\n", unwaited);
    if (!dt_box_is_empty(i->ink_box))
        g_string_append_printf(s, _("ink from X %.2f, Y %.2f to X %.2f, Y %.2f mm\n"),
                               i->ink_box.x0, i->ink_box.y0, i->ink_box.x1, i->ink_box.y1);
    else
        g_string_append(s, _("no ink lands\n"));
    g_autofree char *beside = dt_report_off_paper(p, i);
    if (beside != NULL)
        g_string_append_printf(s, "%s\n", beside);
    g_autofree char *deleted = dt_report_deleted(i);
    if (deleted != NULL)
        g_string_append_printf(s, "%s\n", deleted);
    if (i->n_findings == 0)
        g_string_append(s, beside ? _("nothing else is wrong with it on this machine\n")
                                  : _("nothing is wrong with it on this machine\n"));
    add_findings(s, i, program);
    put_mending(s, m, program);
    return g_string_free(s, FALSE);
}

static void add_readings(JsonBuilder *b, const DtMending *m)
{
    dt_json_begin_array(b, "readings");
    for (size_t i = 0; m != NULL && i < m->n_readings; i++) {
        json_builder_begin_object(b);
        dt_json_text(b, "pen_by", m->readings[i].option);
        dt_json_text(b, "text", m->readings[i].text);
        dt_json_number(b, "points_behind", m->readings[0].score - m->readings[i].score);
        dt_json_number(b, "ink_mm", m->readings[i].ink_mm);
        dt_json_count(b, "strokes", m->readings[i].strokes);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static char *inspection_json(const DtProfile *p, const DtInspection *i, const DtMending *m,
                             const char *program)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "program", program);
    dt_json_count(b, "lines", i->lines);
    dt_json_count(b, "refused_lines", i->refused_lines);
    dt_json_count(b, "deleted_lines", i->deleted_lines);
    dt_json_count(b, "strokes", i->lifts);
    dt_json_number(b, "ink_mm", i->ink_mm);
    dt_json_number(b, "off_paper_mm", i->off_paper_mm);
    dt_json_number(b, "travel_mm", i->travel_mm);
    dt_json_number(b, "time_s", i->time_s);
    dt_json_number(b, "held_up_s", i->held_up_s);
    dt_json_count(b, "starved", i->starved);
    g_autofree char *unwaited = i->lifts > 0 ? dt_report_unwaited(p) : NULL;
    if (unwaited != NULL)
        dt_json_text(b, "unwaited", unwaited);
    const double box[] = {i->ink_box.x0, i->ink_box.y0, i->ink_box.x1, i->ink_box.y1};
    if (dt_box_is_empty(i->ink_box))
        dt_json_text(b, "ink_box", NULL);
    else
        dt_json_numbers(b, "ink_box", box, G_N_ELEMENTS(box));
    dt_json_count(b, "findings_omitted", i->omitted);
    dt_json_begin_array(b, "findings");
    for (size_t k = 0; k < i->n_findings; k++) {
        const DtFinding *f = &i->findings[k];
        json_builder_begin_object(b);
        dt_json_count(b, "line", (size_t)f->line);
        dt_json_count(b, "column", (size_t)f->column);
        dt_json_text(b, "kind", f->kind);
        dt_json_text(b, "rank", ranks[f->rank].word);
        dt_json_text(b, "text", f->text);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    add_readings(b, m);
    dt_json_flag(b, "pen_in_doubt", m != NULL && m->in_doubt > 0);
    return dt_json_end(b);
}

char *dt_report_inspection(const DtProfile *p, const DtInspection *i, const DtMending *m,
                           const char *program, gboolean json)
{
    g_autofree char *shown = dt_base_show_text(program, -1);
    return json ? inspection_json(p, i, m, program) : inspection_text(p, i, m, shown);
}

/* Mending ------------------------------------------------------------------------------------ */

enum { CHANGES_LISTED = 40 }; /* changes that the short report lists */

static void put_changes(GString *s, const DtMending *m, const char *program, size_t from, size_t to)
{
    for (size_t i = from; i < to; i++)
        g_string_append_printf(s, "%s:%d: %s\n", program, m->changes[i].line, m->changes[i].text);
}

static char *mending_text(const DtMending *m, const char *program, const char *output,
                          gboolean corrected)
{
    GString *s = g_string_new(NULL);
    if (m->n_changes == 0) {
        g_string_append_printf(s,
                               corrected
                                   ? _("%s already fits this machine; %s has its corrections too\n")
                                   : _("%s already fits this machine; %s is a copy\n"),
                               program, output);
        return g_string_free(s, FALSE);
    }
    put_readings(s, m, program);
    const size_t kept = m->n_changes - m->n_doubts, n = kept + m->omitted;
    const size_t shown = MIN(kept, CHANGES_LISTED);
    put_changes(s, m, program, 0, shown);
    if (n > shown)
        g_string_append_printf(s,
                               P_("and %zu more change (--json lists it)\n",
                                  "and %zu more changes (--json lists them)\n", n - shown),
                               n - shown);
    put_changes(s, m, program, kept, MIN(m->n_changes, kept + CHANGES_LISTED));
    g_string_append_printf(
        s, P_("%s: %zu change; written to %s\n", "%s: %zu changes; written to %s\n", n), program, n,
        output);
    if (corrected)
        g_string_append(s, _("with this machine's corrections\n"));
    return g_string_free(s, FALSE);
}

static char *mending_json(const DtMending *m, const char *program, const char *output,
                          gboolean corrected)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "program", program);
    dt_json_text(b, "output", output);
    dt_json_flag(b, "corrected", corrected);
    add_readings(b, m);
    dt_json_count(b, "changes_omitted", m->omitted);
    dt_json_count(b, "doubts", m->n_doubts);
    dt_json_begin_array(b, "changes");
    for (size_t i = 0; i < m->n_changes; i++) {
        json_builder_begin_object(b);
        dt_json_count(b, "line", (size_t)m->changes[i].line);
        dt_json_text(b, "text", m->changes[i].text);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    return dt_json_end(b);
}

char *dt_report_mending(const DtMending *m, const char *program, const char *output,
                        gboolean corrected, gboolean json)
{
    g_autofree char *shown = dt_base_show_text(program, -1),
                    *shown_output = dt_base_show_text(output, -1);
    return json ? mending_json(m, program, output, corrected)
                : mending_text(m, shown, shown_output, corrected);
}
