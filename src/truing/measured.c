/* measured: what the sheets of a machine have shown so far, compared with the present profile. */
#include "drawtrue/sheet-log.h"
#include "truing/solve/solve.h"

#include <math.h>
#include <string.h>

/* What the position of ink depends on, in the order of listing if no sheet has measured it. */
static const DtErrorKind ink_kinds[] = {
    DT_ERROR_OF_SCALE,    DT_ERROR_OF_SQUARE,   DT_ERROR_OF_BACKLASH, DT_ERROR_OF_SCATTER,
    DT_ERROR_OF_POSITION, DT_ERROR_OF_STRAIGHT, DT_ERROR_OF_PULLEY,   DT_ERROR_OF_TWIST};

static gboolean knows(const DtFigures *f, DtErrorKind kind, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis && f->f[i].known)
            return TRUE;
    return FALSE;
}

/* For each kind and axis the newest result, combined with older ones that agree with it: `from`
 * is older than all of `to`. */
static gboolean take_older(DtFigures *to, const DtFigures *from)
{
    const size_t had = to->n;
    dt_figures_pool(to, from);
    const DtFigures newer = {.f = g_memdup2(to->f, had * sizeof *to->f), .n = had};
    for (size_t i = 0; i < from->n; i++)
        if (from->f[i].known && from->f[i].pen < 0 &&
            !knows(&newer, from->f[i].kind, from->f[i].axis))
            dt_figures_add(to, &from->f[i]);
    g_free(newer.f);
    return to->n > had;
}

/* Against the profile --------------------------------------------------------------------------- */

/* The largest difference between a table and one value that was found everywhere. */
static double most_off(const DtTable *t, double value)
{
    double most = t->n == 0 ? value : 0;
    for (gsize i = 0; i < t->n; i++)
        if (fabs(value - t->value[i]) > fabs(most))
            most = value - t->value[i];
    return most;
}

/* Difference between the profile and a figure, in its unit. */
static double off_by(const DtProfile *p, const DtFigure *f)
{
    const int a = MAX(f->axis, 0);
    const double at = f->at;
    switch (f->kind) {
    case DT_ERROR_OF_SCALE:
        return f->value - p->scale[a];
    case DT_ERROR_OF_SQUARE:
        return f->value - p->square;
    case DT_ERROR_OF_BACKLASH:
        return isnan(f->at) ? most_off(&p->backlash[a], f->value)
                            : f->value - dt_table_at(&p->backlash[a], at);
    case DT_ERROR_OF_POSITION:
        return f->value - dt_table_at(&p->position[a], at);
    case DT_ERROR_OF_STRAIGHT:
        return f->value - dt_table_at(&p->straight[a], at);
    case DT_ERROR_OF_TWIST:
        return isnan(f->at) ? most_off(&p->twist[a], f->value)
                            : f->value - dt_table_at(&p->twist[a], at);
    case DT_ERROR_OF_PULLEY:
        return hypot(f->value * cos(f->value_2) - p->pulley_error[a] * cos(p->pulley_phase[a]),
                     f->value * sin(f->value_2) - p->pulley_error[a] * sin(p->pulley_phase[a]));
    default:
        return 0;
    }
}

/* If the profile differs significantly from a figure or a curve as a whole, that difference is
 * an error of the ink as well. TRUE if it is worth reporting. */
static gboolean count_difference(const DtProfile *p, DtFigures *f, DtErrorKind kind, int axis)
{
    const double tellable = 2, negligible = 0.01;
    double off2 = 0, sd2 = 0, n = 0;
    gboolean proposed = FALSE;
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis) {
            off2 += pow(off_by(p, &f->f[i]), 2);
            sd2 += pow(f->f[i].sd, 2);
            proposed |= f->f[i].proposed;
            n++;
        }
    if (n == 0 || off2 <= tellable * tellable * sd2)
        return FALSE;
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis)
            f->f[i].sd = hypot(f->f[i].sd, off_by(p, &f->f[i]));
    return proposed || sqrt(off2 / n) > negligible;
}

/* "straightness of X", "straightness" of both axes. */
static void add_name(GPtrArray *names, DtErrorKind kind, const gboolean axes[2])
{
    const char *title = dt_error_title(kind);
    if (axes[0] && axes[1])
        g_ptr_array_add(names, g_strdup(title));
    else if (axes[0] || axes[1])
        g_ptr_array_add(names, g_strdup_printf(_("%s of %s"), title, axes[0] ? "X" : "Y"));
}

static void set_against(const DtProfile *p, DtMeasured *m)
{
    for (size_t i = 0; i < G_N_ELEMENTS(ink_kinds); i++) {
        const gboolean of_both = ink_kinds[i] == DT_ERROR_OF_SQUARE;
        gboolean unknown[2], different[2];
        for (int a = 0; a < (of_both ? 1 : 2); a++) {
            unknown[a] = !knows(m->figures, ink_kinds[i], of_both ? -1 : a);
            different[a] = count_difference(p, m->figures, ink_kinds[i], of_both ? -1 : a);
        }
        if (of_both) {
            unknown[1] = unknown[0];
            different[1] = different[0];
        }
        add_name(m->unknown, ink_kinds[i], unknown);
        add_name(m->different, ink_kinds[i], different);
    }
}

/* Reading --------------------------------------------------------------------------------------- */

static gboolean shows_place(const DtFigures *f)
{
    for (size_t i = 0; i < G_N_ELEMENTS(ink_kinds); i++)
        for (int axis = -1; axis < 2; axis++)
            if (knows(f, ink_kinds[i], axis))
                return TRUE;
    return FALSE;
}

static gboolean take_sheet(DtMeasured *m, const DtSheetRecord *r, GError **error)
{
    g_autoptr(DtFigures) f = dt_figures_from_json(r->figures, error);
    if (f == NULL)
        return FALSE;
    if (shows_place(f) && take_older(m->figures, f) && m->sheet == 0) {
        g_autoptr(DtTestSheet) s = dt_sheet_from_json(r->sheet, NULL);
        m->sheet = r->number;
        m->date = g_strdup(s ? s->date : "");
    }
    return TRUE;
}

DtMeasured *dt_truing_measured(const char *journal, const DtProfile *p, GError **error)
{
    g_autoptr(GArray) records = dt_sheet_log_read_all(journal, p->name, error);
    g_autofree char *sum = dt_truing_drive_sum(p);
    if (records == NULL)
        return NULL;
    g_autoptr(DtMeasured) m = g_new0(DtMeasured, 1);
    m->figures = g_new0(DtFigures, 1);
    m->unknown = g_ptr_array_new_with_free_func(g_free);
    m->different = g_ptr_array_new_with_free_func(g_free);
    for (guint i = records->len; i-- > 0;) {
        const DtSheetRecord *r = &g_array_index(records, DtSheetRecord, i);
        const gboolean same = *r->profile_sum == '\0' || strcmp(r->profile_sum, sum) == 0;
        if (*r->figures != '\0' && same && !take_sheet(m, r, error))
            return NULL;
    }
    set_against(p, m);
    return g_steal_pointer(&m);
}

void dt_measured_free(DtMeasured *m)
{
    if (m == NULL)
        return;
    dt_figures_free(m->figures);
    g_ptr_array_unref(m->unknown);
    g_ptr_array_unref(m->different);
    g_free(m->date);
    g_free(m);
}
