/* trace-options: whether a rack and options can be traced with. */
#include "ink/trace.h"

#include <math.h>

/* Pitches that a hatch may have (mm). */
#define FINEST 0.01
#define COARSEST 10000.0

static gboolean is_pen(const DtRack *rack, int pen)
{
    return pen >= 0 && (size_t)pen < rack->n;
}

static gboolean rules_are_right(const DtRack *rack, const DtInkOptions *o, GError **error)
{
    gboolean right = o->n_rules <= DT_INK_MOST_RULES && o->n_swaps <= DT_INK_MOST_RULES;
    for (size_t i = 0; right && i < o->n_rules; i++)
        right = is_pen(rack, o->rules[i].pen);
    for (size_t i = 0; right && i < o->n_swaps; i++)
        right = is_pen(rack, o->swaps[i].from) && is_pen(rack, o->swaps[i].to);
    if (!right)
        g_set_error_literal(
            error, DT_ERROR, DT_ERROR_INPUT,
            "a rule for colours or a swap names a pen that the rack lacks, or there "
            "are more than 16 of them");
    return right;
}

gboolean dt_trace_check_options(const DtRack *rack, const DtInkOptions *o, GError **error)
{
    if (!rack || rack->n == 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "the pen rack is empty: name at least one pen");
        return FALSE;
    }
    for (size_t i = 0; i < rack->n; i++)
        if (!(rack->pens[i].tip > 0) || !(rack->pens[i].tip <= 100)) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "pen %s: a tip of %g mm is not between 0 and 100 mm",
                        rack->pens[i].name ? rack->pens[i].name : "?", rack->pens[i].tip);
            return FALSE;
        }
    if (!rules_are_right(rack, o, error))
        return FALSE;
    if (!(o->spread >= 1 && o->spread <= COARSEST)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "hatches cannot be %g times as open: 1 to %g",
                    o->spread, COARSEST);
        return FALSE;
    }
    if (!(o->pitch == 0 || (o->pitch >= FINEST && o->pitch <= COARSEST)) || !isfinite(o->angle) ||
        !(o->tolerance > 0) || !isfinite(o->tolerance)) {
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "hatch pitch %g mm (0, or %g to %g), angle %g or tolerance %g mm is out of range",
            o->pitch, FINEST, COARSEST, o->angle, o->tolerance);
        return FALSE;
    }
    return TRUE;
}
