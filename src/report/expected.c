/* expected: the ink error to be expected of a drawing on this machine, from its test sheets. */
#include "report/expected.h"

static char *list_of(const GPtrArray *names)
{
    GString *s = g_string_new(NULL);
    for (guint i = 0; i < names->len; i++)
        g_string_append_printf(s, "%s%s", i ? ", " : "", (const char *)names->pdata[i]);
    return g_string_free(s, FALSE);
}

static void add_list(JsonBuilder *b, const char *name, const GPtrArray *names)
{
    dt_json_begin_array(b, name);
    for (guint i = 0; i < names->len; i++)
        json_builder_add_string_value(b, names->pdata[i]);
    json_builder_end_array(b);
}

static void add_json(JsonBuilder *b, const DtReportTrueness *t, const DtExpectation *e,
                     gboolean of_program)
{
    const DtMeasured *m = t->measured;
    json_builder_set_member_name(b, "expected_ink_error");
    json_builder_begin_object(b);
    dt_json_flag(b, "measured", e != NULL);
    if (e) {
        dt_json_number(b, "p95_mm", e->p95_mm);
        dt_json_number(b, "largest_mm", e->largest_mm);
        dt_json_numbers(b, "least_certain_at_mm", (const double[]){e->worst_at.x, e->worst_at.y},
                        2);
        dt_json_flag(b, "of_the_program_alone", of_program);
        dt_json_count(b, "sheet", (size_t)m->sheet);
        dt_json_text(b, "date", m->date);
        add_list(b, "not_measured", m->unknown);
        add_list(b, "not_corrected", m->different);
    } else if (t->why_not) {
        dt_json_text(b, "why_not", t->why_not);
    }
    json_builder_end_object(b);
}

static void add_text(GString *s, const DtReportTrueness *t, const DtExpectation *e,
                     gboolean of_program)
{
    const DtMeasured *m = t->measured;
    if (e == NULL && t->why_not) {
        g_string_append_printf(s, _("  expected ink error unknown: %s\n"), t->why_not);
        return;
    }
    if (e == NULL) {
        g_string_append(s, _("  expected ink error unknown: this machine has not been measured; "
                             "'drawtrue sheet' makes a test sheet\n"));
        return;
    }
    g_autofree char *unknown = list_of(m->unknown), *different = list_of(m->different);
    g_string_append_printf(
        s,
        _("  expected ink error%s %.3f mm (95 %% of the ink), largest %.3f mm; least "
          "certain at X %.0f, Y %.0f mm of the bed (sheet %" PRId64 ", %s)\n"),
        m->unknown->len ? _(" at least") : "", e->p95_mm, e->largest_mm, e->worst_at.x,
        e->worst_at.y, m->sheet, m->date);
    if (of_program)
        g_string_append(
            s, _("    against the program's own lines: how far those are off the drawing's "
                 "is not known, and not counted\n"));
    if (m->unknown->len > 0)
        g_string_append_printf(
            s,
            _("    not measured, and not counted: %s; 'drawtrue sheet scan' and two "
              "scans show it\n"),
            unknown);
    if (m->different->len > 0)
        g_string_append_printf(
            s,
            _("    the profile differs from what the sheets show, which is counted: "
              "%s; 'drawtrue true' corrects it\n"),
            different);
}

void dt_report_add_expected(GString *text, JsonBuilder *json, const DtReportTrueness *t,
                            const DtProfile *p, const DtSequence *q, const DtMoves *m)
{
    DtExpectation e;
    if (t == NULL)
        return;
    const DtExpectation *told = t->expected;
    if (told == NULL && t->measured && t->measured->sheet > 0 &&
        dt_truing_expect(p, t->measured->figures, q, m, &e))
        told = &e;
    const gboolean of_program = t->expected == NULL && (q == NULL || q->n_pts == 0);
    if (text)
        add_text(text, t, told, of_program);
    else
        add_json(json, t, told, of_program);
}
