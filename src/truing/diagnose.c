/* diagnose: from the errors of a machine to the parts that probably cause them. Each sort of
 * error has its usual cause in machines driven by motors over gears, pulleys and cords (common
 * practice, no source). */
#include "drawtrue/truing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Slack that varies along the axis by more than this share of its maximum grows towards one end. */
static const double grows_share = 0.4;

static const struct {
    const char *word, *title, *repair;
    gboolean corrected;
} parts[DT_PARTS] = {
    [DT_PART_GEAR_OR_TENSION] = {"gear-or-tension",
                                 N_("slack that is the same everywhere: play in the gear, or a "
                                    "cord that is not tight"),
                                 N_("tighten the cord; if that changes nothing, the gear has play"),
                                 TRUE},
    [DT_PART_RAILS_APART] =
        {"rails-apart", N_("slack that grows towards one end: the rails are not parallel"),
         N_("measure between the rails at both ends, and set the loose end closer"), TRUE},
    [DT_PART_PULLEY] =
        {"pulley", N_("an error that repeats with each turn of the pulley: it is bored off centre"),
         N_("turn or bore a new pulley"), TRUE},
    [DT_PART_GEAR_TEETH] =
        {"gear-teeth", N_("an error that repeats with each tooth of a gear: a worn or poor gear"),
         N_("replace the gear; it is too fine to be corrected"), FALSE},
    [DT_PART_CARRIAGE] =
        {"carriage",
         N_("the axis shifts where the other one turns round: its carriage twists on "
            "its rails"),
         N_("set the carriage's bearings closer, or farther apart along the rail"), TRUE},
    [DT_PART_FRICTION] =
        {"friction", N_("the slack differs from one reversal to the next: something binds or rubs"),
         N_("clean and grease the rails, and look for a cord that rubs or a knot that catches"),
         FALSE},
    [DT_PART_TORQUE] = {"torque",
                        N_("steps are lost above a speed: the motor has too little torque"),
                        N_("check the supply's voltage under load; until then drive slower"), TRUE},
    [DT_PART_SOFT_CORD] =
        {"soft-cord", N_("the carriage swings after a stop: the cord is soft"),
         N_("use a stiffer cord, or tighten it; a lower acceleration helps meanwhile"), FALSE},
    [DT_PART_HOLDER] = {"holder", N_("the tip has play in its holder"),
                        N_("clamp the pen, or line the holder"), FALSE},
    [DT_PART_RAIL_BENT] = {"rail-bent", N_("lines along the rail bow: it is not straight"),
                           N_("lay a straight edge on the rail and shim it"), TRUE},
    [DT_PART_CORD_UNEVEN] =
        {"cord-uneven",
         N_("the scale changes along the axis: the cord winds up unevenly, or it "
            "pulls at an angle"),
         N_("see that the cord winds side by side, and runs along the rail"), TRUE},
    [DT_PART_FRAME] = {"frame", N_("the axes are not square to each other"),
                       N_("square the frame by its diagonals"), TRUE},
    [DT_PART_DRIVE_NUMBERS] =
        {"drive-numbers",
         N_("all lengths are off by the same share: the profile's drive train "
            "is not quite the machine's"),
         N_("measure the pulley and the cord again; nothing is worn"), TRUE},
};

const char *dt_part_word(DtPart part)
{
    return parts[part].word;
}

const char *dt_part_title(DtPart part)
{
    return _(parts[part].title);
}

const char *dt_part_repair(DtPart part)
{
    return _(parts[part].repair);
}

gboolean dt_part_is_corrected(DtPart part)
{
    return parts[part].corrected;
}

/* Curves --------------------------------------------------------------------------------------- */

typedef struct {
    double low, high, mean, end_change,
        sd; /* end_change: from one end to the other by a straight line */
    size_t n;
} Shape;

static Shape shape_of(const DtFigures *f, DtErrorKind kind, int axis)
{
    double n = 0, x = 0, y = 0, xx = 0, xy = 0, first = NAN, last = NAN, sd = 0;
    Shape s = {.low = G_MAXDOUBLE, .high = -G_MAXDOUBLE};
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != kind || g->axis != axis || !g->known)
            continue;
        const double at = isnan(g->at) ? 0 : g->at;
        s.low = MIN(s.low, g->value);
        s.high = MAX(s.high, g->value);
        n++;
        x += at;
        y += g->value;
        xx += at * at;
        xy += at * g->value;
        sd += g->sd;
        first = isnan(first) ? at : first;
        last = at;
    }
    s.n = (size_t)n;
    if (n < 1)
        return s;
    const double spread = xx - x * x / n;
    s.mean = y / n;
    s.sd = sd / n;
    s.end_change = spread > 0 ? (xy - x * y / n) / spread * (last - first) : 0;
    return s;
}

/* Suspects ------------------------------------------------------------------------------------- */

typedef struct {
    const DtProfile *p;
    const DtFigures *f;
    GArray *found; /* DtSuspect */
} Search;

/* Ink errors below this say nothing of a part. Motors round every position by up to half a step, and so the lost
 * motion of a reversal, which lies between two positions, by up to a whole one: that looks like friction, and like
 * the teeth of a gear. */
static double least_mm(const DtProfile *p, DtPart part, int axis)
{
    const double least = 0.002;
    if ((part != DT_PART_FRICTION && part != DT_PART_GEAR_TEETH) || axis < 0)
        return least;
    return MAX(least, 1 / p->steps_per_mm[axis]);
}

static void suspect(Search *s, DtPart part, int axis, double ink_mm, double sd_mm)
{
    const double tellable = 2; /* standard uncertainties */
    const DtSuspect one = {part, axis, ink_mm, sd_mm, parts[part].corrected};
    if (ink_mm > least_mm(s->p, part, axis) && ink_mm > tellable * sd_mm)
        g_array_append_val(s->found, one);
}

/* For a whole curve; if each place has a gain of its own, the largest. */
static double gain_of(const DtFigures *f, DtErrorKind kind, int axis)
{
    double gain = 0;
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis && f->f[i].known)
            gain = MAX(gain, f->f[i].gain_mm);
    return gain;
}

/* Slack is one cause or the other, depending on whether it varies along the axis more than it is
 * anywhere. */
static void suspect_slack(Search *s, int axis, double gain)
{
    const Shape shape = shape_of(s->f, DT_ERROR_OF_BACKLASH, axis);
    if (shape.n == 0)
        return;
    const double highest =
        MAX(fabs(shape.mean + shape.end_change / 2), fabs(shape.mean - shape.end_change / 2));
    const gboolean grows = shape.n > 1 && fabs(shape.end_change) > grows_share * highest &&
                           fabs(shape.end_change) > 3 * shape.sd;
    suspect(s, grows ? DT_PART_RAILS_APART : DT_PART_GEAR_OR_TENSION, axis, gain, shape.sd);
}

/* The ink error due to a figure, if it has not been computed elsewhere: most of an amplitude;
 * for a scatter, the 95 % limit if half of all lines are driven that way, in all directions
 * alike; half of a play. */
static double ink_of(const DtFigures *f, const DtFigure *g)
{
    switch (g->kind) {
    case DT_ERROR_OF_GEAR:
    case DT_ERROR_OF_RINGING:
        return 0.8 * g->value;
    case DT_ERROR_OF_SCATTER:
        return 1.15 * g->value;
    case DT_ERROR_OF_TIP_PLAY:
        return 0.5 * g->value;
    default:
        return gain_of(f, g->kind, g->axis);
    }
}

static void suspect_figure(Search *s, const DtFigure *g)
{
    static const struct {
        DtErrorKind kind;
        DtPart part;
        gboolean is_length; /* so that its uncertainty is roughly that of the ink; otherwise it
                             * counts only if it is proposed */
    } causes[] = {{DT_ERROR_OF_PULLEY, DT_PART_PULLEY, TRUE},
                  {DT_ERROR_OF_GEAR, DT_PART_GEAR_TEETH, TRUE},
                  {DT_ERROR_OF_TWIST, DT_PART_CARRIAGE, TRUE},
                  {DT_ERROR_OF_SCATTER, DT_PART_FRICTION, TRUE},
                  {DT_ERROR_OF_RINGING, DT_PART_SOFT_CORD, TRUE},
                  {DT_ERROR_OF_TIP_PLAY, DT_PART_HOLDER, TRUE},
                  {DT_ERROR_OF_STRAIGHT, DT_PART_RAIL_BENT, TRUE},
                  {DT_ERROR_OF_POSITION, DT_PART_CORD_UNEVEN, TRUE},
                  {DT_ERROR_OF_SQUARE, DT_PART_FRAME, FALSE},
                  {DT_ERROR_OF_SCALE, DT_PART_DRIVE_NUMBERS, FALSE}};
    if (g->kind == DT_ERROR_OF_BACKLASH)
        suspect_slack(s, g->axis, gain_of(s->f, g->kind, g->axis));
    for (gsize i = 0; i < G_N_ELEMENTS(causes); i++)
        if (causes[i].kind == g->kind && (causes[i].is_length || g->proposed))
            suspect(s, causes[i].part, g->axis, ink_of(s->f, g), causes[i].is_length ? g->sd : 0);
}

static gboolean is_first_of_its_curve(const DtFigures *f, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (f->f[k].kind == f->f[i].kind && f->f[k].axis == f->f[i].axis &&
            f->f[k].pen == f->f[i].pen)
            return FALSE;
    return TRUE;
}

/* Lost steps do not blur the drawing but ruin it: they come first. */
static void suspect_torque(Search *s, const DtProfile *p, const DtFigure *g)
{
    const double lost_mm = 1;
    if (g->kind == DT_ERROR_OF_SPEED && g->known && g->axis >= 0 &&
        g->value < 0.95 * p->speed[g->axis])
        suspect(s, DT_PART_TORQUE, g->axis, lost_mm, 0);
}

static int larger_first(gconstpointer a, gconstpointer b)
{
    const double d = ((const DtSuspect *)b)->ink_mm - ((const DtSuspect *)a)->ink_mm;
    return (d > 0) - (d < 0);
}

DtSuspect *dt_truing_diagnose(const DtProfile *p, const DtFigures *f, size_t *n)
{
    Search s = {p, f, g_array_new(FALSE, FALSE, sizeof(DtSuspect))};
    for (size_t i = 0; i < f->n; i++) {
        if (!f->f[i].known || !is_first_of_its_curve(f, i))
            continue;
        suspect_figure(&s, &f->f[i]);
        suspect_torque(&s, p, &f->f[i]);
    }
    g_array_sort(s.found, larger_first);
    *n = s.found->len;
    return (DtSuspect *)(void *)g_array_free(s.found, FALSE);
}
