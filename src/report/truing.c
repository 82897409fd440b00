/* truing: test sheets and what they showed. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"

#include <string.h>

/* The parts of a sheet, one after the other; 0 after the last. */
static DtSheetKind next_kind(guint kinds, guint after)
{
    const guint rest = after == 0 ? kinds : kinds & ~(after | (after - 1));
    return (DtSheetKind)(rest & -rest);
}

static size_t count_pauses(const DtTestSheet *s)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++)
        n += s->marks[i].kind == DT_MARK_PAUSE;
    return n;
}

static char *test_sheet_json(const DtTestSheet *s, const DtTimes *t, const char *output)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_count(b, "sheet", (size_t)s->number);
    dt_json_text(b, "machine", s->machine);
    dt_json_text(b, "date", s->date);
    dt_json_text(b, "program", output);
    dt_json_begin_array(b, "parts");
    for (DtSheetKind k = next_kind(s->kinds, 0); k; k = next_kind(s->kinds, k))
        json_builder_add_string_value(b, dt_sheet_kind_name(k));
    json_builder_end_array(b);
    dt_json_count(b, "marks", s->n);
    dt_json_count(b, "pauses", count_pauses(s));
    dt_json_number(b, "time_s", t->total_s);
    dt_json_number(b, "ink_mm", t->ink_mm);
    return dt_json_end(b);
}

char *dt_report_test_sheet(const DtProfile *p, const DtTestSheet *s, const DtTimes *times,
                           const char *output, gboolean json)
{
    if (json)
        return test_sheet_json(s, times, output);
    g_autofree char *time = dt_base_duration(times->total_s);
    GString *t = g_string_new(NULL);
    g_string_append_printf(t, "sheet %" G_GINT64_FORMAT " of %s, %s: %s\n", s->number, s->machine,
                           s->date, output);
    for (DtSheetKind k = next_kind(s->kinds, 0); k; k = next_kind(s->kinds, k))
        g_string_append_printf(t, "  %-8s %s\n", dt_sheet_kind_name(k), dt_sheet_kind_help(k));
    g_string_append_printf(t, "drawing          %s, homing included; paper %s at %g, %g mm\n", time,
                           p->paper_name, s->paper_at.x, s->paper_at.y);
    if (s->kinds & DT_SHEET_SQUARE)
        g_string_append(
            t, "turning          the machine stops once. Turn the paper a quarter turn "
               "counter-clockwise, lay its lower left corner where that was before, and let "
               "it go on\n");
    if (s->kinds & DT_SHEET_SPEED)
        g_string_append(
            t, "limits           set the controller's own speed, acceleration and pull-in above "
               "three times the profile's first: a limit of its own hides the machine's\n"
               "caution          this sheet makes the motors lose steps. Stay with the machine, "
               "hands clear, and the switch within reach\n");
    g_string_append_printf(
        t,
        "then             drawtrue run %s --port PORT, and 'drawtrue true' for the "
        "readings\n",
        output);
    return g_string_free(t, FALSE);
}
