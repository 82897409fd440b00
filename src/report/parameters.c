/* parameters: the board's settings compared with the profile's. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"

static const char *result_of(const DtBoardSetting *s)
{
    return s->written ? N_("written") : s->differs ? N_("differs") : N_("the same");
}

static char *as_json(const GArray *all)
{
    JsonBuilder *b = dt_json_begin();
    gboolean same = TRUE;
    dt_json_begin_array(b, "settings");
    for (guint i = 0; i < all->len; i++) {
        const DtBoardSetting *s = &g_array_index(all, DtBoardSetting, i);
        json_builder_begin_object(b);
        dt_json_text(b, "name", s->name);
        dt_json_count(b, "parameter", s->parameter);
        dt_json_text(b, "unit", s->unit);
        dt_json_number(b, "profile", s->profile);
        dt_json_number(b, "board", s->board);
        dt_json_text(b, "result", result_of(s));
        json_builder_end_object(b);
        same &= !s->differs || s->written;
    }
    json_builder_end_array(b);
    dt_json_flag(b, "same", same);
    return dt_json_end(b);
}

char *dt_report_settings(const GArray *all, gboolean json)
{
    if (json)
        return as_json(all);
    GString *text = g_string_new(NULL);
    g_string_append(text, _("setting           parameter      profile        board  unit\n"));
    for (guint i = 0; i < all->len; i++) {
        const DtBoardSetting *s = &g_array_index(all, DtBoardSetting, i);
        g_string_append_printf(text, "%-16s %10u %12.4f %12.4f  %-14s %s\n", s->name, s->parameter,
                               s->profile, s->board, s->unit, _(result_of(s)));
    }
    return g_string_free(text, FALSE);
}
