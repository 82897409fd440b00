/* telling: see telling.h. */
#include "desk/telling.h"

#include "drawtrue/json.h"

#include <math.h>

static const char *axis_name(int axis)
{
    return axis == 0 ? "X" : axis == 1 ? "Y" : NULL;
}

void dt_desk_add_what(JsonBuilder *b, const DtProfile *p, DtErrorKind kind, int axis, int pen)
{
    const DtRack *rack = &p->rack;
    dt_json_text(b, "title", dt_error_title(kind));
    dt_json_text(b, "word", dt_error_word(kind));
    dt_json_text(b, "axis", pen < 0 ? axis_name(axis) : NULL);
    dt_json_text(b, "pen", pen >= 0 && (size_t)pen < rack->n ? rack->pens[pen].name : NULL);
}

void dt_desk_add_value(JsonBuilder *b, const char *name, DtErrorKind kind, double value, double sd)
{
    enum { MOST_DECIMALS = 6 };
    double factor;
    const char *unit = dt_error_unit(kind, &factor);
    const double u = DT_DESK_TWO_SIDED_95 * sd * factor;
    const int decimals =
        u > 0 && isfinite(u) ? CLAMP(1 - (int)floor(log10(u)), 0, MOST_DECIMALS) : 3;
    g_autofree char *text = g_strdup_printf("%.*f", decimals, value * factor);
    g_autofree char *interval = g_strdup_printf("%.*f", decimals, u);
    json_builder_set_member_name(b, name);
    json_builder_begin_object(b);
    dt_json_text(b, "value", isfinite(value) ? text : NULL);
    dt_json_text(b, "interval", isfinite(value) && u > 0 ? interval : NULL);
    dt_json_text(b, "unit", unit);
    json_builder_end_object(b);
}

void dt_desk_add_causes(JsonBuilder *b, const DtProfile *p, const DtFigures *f)
{
    size_t n;
    g_autofree DtSuspect *s = dt_truing_diagnose(p, f, &n);
    dt_json_begin_array(b, "causes");
    for (size_t i = 0; i < n; i++) {
        const gboolean counted = s[i].part != DT_PART_TORQUE; /* it may cost the whole drawing */
        json_builder_begin_object(b);
        dt_json_text(b, "part", dt_part_word(s[i].part));
        dt_json_text(b, "axis", axis_name(s[i].axis));
        dt_json_number(b, "ink_mm", counted ? s[i].ink_mm : NAN);
        dt_json_number(b, "interval_mm",
                       counted && s[i].sd_mm > 0 ? DT_DESK_TWO_SIDED_95 * s[i].sd_mm : NAN);
        dt_json_flag(b, "corrected", s[i].corrected);
        dt_json_text(b, "shows", dt_part_title(s[i].part));
        dt_json_text(b, "repair", dt_part_repair(s[i].part));
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}
