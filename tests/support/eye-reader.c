/* eye-reader: see eye-reader.h. It looks at ink alone and shares nothing with the readings' solver. */
#include "support/eye-reader.h"

#include <math.h>
#include <string.h>

typedef struct {
    gboolean there;
    DtPoint from, to; /* true mm on the bed, as the paper lies at last */
} EyeLine;

/* Ink to marks -------------------------------------------------------------------------------- */

static gboolean goes_on(const DtMark *before, const DtMark *m)
{
    return before->kind == m->kind && before->part == m->part && before->row == m->row &&
           before->pen == m->pen && m->approach[0] == 0 && m->approach[1] == 0 &&
           before->to.x == m->from.x && before->to.y == m->from.y;
}

/* Where ink drawn before the paper was turned lies afterwards. */
static DtPoint turn(const EyeReader *e, DtPoint p)
{
    const DtPoint corner = e->corner;
    const double x = e->sheet->paper_h - (p.y - corner.y), y = p.x - corner.x;
    return dt_point(corner.x + e->moved.x + x - e->turned * y, corner.y + e->moved.y + y + e->turned * x);
}

static EyeLine line_of(const DtRigStroke *s)
{
    return (EyeLine){TRUE, {s->xy[0], s->xy[1]}, {s->xy[2 * s->n - 2], s->xy[2 * s->n - 1]}};
}

/* Strokes in the order in which they were drawn; those of joined marks are skipped but for the first. */
void eye_reader_init(EyeReader *e, const DtTestSheet *s, const DtRig *rig, guint32 seed)
{
    *e = (EyeReader){.sheet = s, .rig = rig, .vernier_error = 0.5, .rule_error_mm = 0.1, .seen_mm = 0.1};
    e->rand = g_rand_new_with_seed(seed);
    e->lines = g_array_new(FALSE, TRUE, sizeof(EyeLine));
    g_array_set_size(e->lines, (guint)s->n);
    e->corner = s->paper_at;
    e->moved = dt_point(g_rand_double_range(e->rand, -0.4, 0.4), g_rand_double_range(e->rand, -0.4, 0.4));
    e->turned = g_rand_double_range(e->rand, -0.003, 0.003);
    size_t at = 0, pause = s->n;
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == DT_MARK_PAUSE)
            pause = i;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind == DT_MARK_PAUSE || m->kind == DT_MARK_HOME || (i > 0 && goes_on(m - 1, m)))
            continue;
        if (at >= dt_rig_stroke_count(rig))
            break;
        const DtRigStroke stroke = dt_rig_stroke(rig, at++);
        EyeLine line = line_of(&stroke);
        if (pause < s->n && i < pause) {
            line.from = turn(e, line.from);
            line.to = turn(e, line.to);
        }
        g_array_index(e->lines, EyeLine, i) = line;
    }
}

void eye_reader_clear(EyeReader *e)
{
    g_rand_free(e->rand);
    g_array_unref(e->lines);
}

/* Reading ------------------------------------------------------------------------------------- */

static const EyeLine *find(const EyeReader *e, const DtAsk *a, DtMarkKind kind, int place)
{
    for (size_t i = 0; i < e->sheet->n; i++) {
        const DtMark *m = &e->sheet->marks[i];
        const EyeLine *l = &g_array_index(e->lines, EyeLine, i);
        if (m->part == a->part && m->kind == kind && m->row == a->row && m->place == place && l->there)
            return l;
    }
    return NULL;
}

/* Where a tick stands along the axis of its vernier. */
static double along(const DtAsk *a, const EyeLine *l)
{
    return a->axis == 0 ? (l->from.x + l->to.x) / 2 : (l->from.y + l->to.y) / 2;
}

/* How far the vernier's tick k stands beyond the main comb's k + shift. */
static gboolean apart(const EyeReader *e, const DtAsk *a, int k, int shift, double *mm)
{
    const EyeLine *main = find(e, a, DT_MARK_COMB, k + shift), *vernier = find(e, a, DT_MARK_VERNIER, k);
    if (main == NULL || vernier == NULL)
        return FALSE;
    *mm = along(a, vernier) - along(a, main);
    return TRUE;
}

/* The number at which the combs meet, between the two ticks beside which they cross. */
static gboolean crossing(const EyeReader *e, const DtAsk *a, int shift, double *at)
{
    double before, here;
    gboolean had = FALSE;
    for (int k = (int)a->least; k <= (int)a->most; k++) {
        if (!apart(e, a, k, shift, &here)) {
            had = FALSE;
            continue;
        }
        if (had && (before <= 0) != (here <= 0)) {
            *at = k - 1 + before / (before - here);
            return TRUE;
        }
        before = here;
        had = TRUE;
    }
    return FALSE;
}

static char *answer_vernier(EyeReader *e, const DtAsk *a)
{
    static const int order[] = {0, 1, -1, 2, -2};
    for (gsize i = 0; i < G_N_ELEMENTS(order); i++) {
        double at;
        if (!crossing(e, a, order[i], &at))
            continue;
        at += g_rand_double_range(e->rand, -e->vernier_error, e->vernier_error);
        at = CLAMP(round(2 * at) / 2, a->least, a->most);
        if (order[i] != 0)
            return g_strdup_printf("%g at %g", at, at + order[i]);
        return at == floor(at) ? g_strdup_printf("%g", at)
                               : g_strdup_printf("between %g and %g", floor(at), ceil(at));
    }
    return g_strdup("?");
}

static char *answer_rule(EyeReader *e, const DtAsk *a)
{
    const EyeLine *ends[2] = {NULL, NULL};
    for (size_t i = 0; i < e->sheet->n; i++) {
        const DtMark *m = &e->sheet->marks[i];
        if (m->kind == DT_MARK_GAUGE && m->axis == a->axis && m->place > 0)
            ends[m->place - 1] = &g_array_index(e->lines, EyeLine, i);
    }
    if (ends[0] == NULL || ends[1] == NULL)
        return g_strdup("?");
    /* the rule lies along the line at which the ticks begin or end, across them */
    const double mm = dt_point_distance(ends[0]->to, ends[1]->to);
    return g_strdup_printf("%.2f", mm + g_rand_double_range(e->rand, -e->rule_error_mm, e->rule_error_mm));
}

char *eye_reader_answer(EyeReader *e, const DtAsk *a)
{
    return a->kind == DT_ASK_VERNIER ? answer_vernier(e, a)
           : a->kind == DT_ASK_RULE  ? answer_rule(e, a)
                                     : g_strdup("?");
}

void eye_reader_read(EyeReader *e, DtEyeReadings *r)
{
    for (size_t i = 0; i < r->n; i++)
        for (size_t k = 0; k < r->asks[i].times; k++) {
            g_autofree char *text = eye_reader_answer(e, &r->asks[i]);
            g_autoptr(GError) error = NULL;
            if (!dt_eye_readings_set(r, i, k, text, &error))
                g_warning("%s", error->message);
        }
}
