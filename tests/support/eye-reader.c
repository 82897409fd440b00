/* eye-reader: see eye-reader.h. It looks at ink alone and shares nothing with the readings' solver. */
#include "support/eye-reader.h"

#include <math.h>
#include <string.h>

typedef struct {
    gboolean there;
    DtPoint from, to; /* true mm on the bed, as the paper lies at last */
} EyeLine;

static double sideways(DtPoint a, DtPoint b)
{
    return fabs(a.y - b.y);
}

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
    return dt_point(corner.x + e->moved.x + x - e->turned * y,
                    corner.y + e->moved.y + y + e->turned * x);
}

static EyeLine line_of(const DtRigStroke *s)
{
    return (EyeLine){TRUE, {s->xy[0], s->xy[1]}, {s->xy[2 * s->n - 2], s->xy[2 * s->n - 1]}};
}

static DtPoint share_at(const DtRigStroke *s, double share)
{
    double length = 0, left;
    for (size_t i = 1; i < s->n; i++)
        length += hypot(s->xy[2 * i] - s->xy[2 * i - 2], s->xy[2 * i + 1] - s->xy[2 * i - 1]);
    left = share * length;
    for (size_t i = 1; i < s->n; i++) {
        const DtPoint a = {s->xy[2 * i - 2], s->xy[2 * i - 1]},
                      b = {s->xy[2 * i], s->xy[2 * i + 1]};
        const double d = dt_point_distance(a, b);
        if (left <= d && d > 0)
            return dt_point_lerp(a, b, left / d);
        left -= d;
    }
    return dt_point(s->xy[2 * s->n - 2], s->xy[2 * s->n - 1]);
}

/* A tick as it is seen: the line through its longer part; a carriage that twists leaves a small hook at the
 * beginning. */
static EyeLine tick_of(const DtRigStroke *s)
{
    const double a = 0.4, b = 0.95;
    const DtPoint p = share_at(s, a), q = share_at(s, b);
    return (EyeLine){TRUE, dt_point_lerp(p, q, -a / (b - a)),
                     dt_point_lerp(p, q, (1 - a) / (b - a))};
}

/* A line of a tone step, or a bar of several: past the hook at its beginning, and its end. */
static EyeLine tone_of(const DtMark *m, const DtRigStroke *s)
{
    double length = 0;
    for (size_t i = 1; i < s->n; i++)
        length += hypot(s->xy[2 * i] - s->xy[2 * i - 2], s->xy[2 * i + 1] - s->xy[2 * i - 1]);
    return (EyeLine){TRUE,
                     share_at(s, 0.8 * dt_point_distance(m->from, m->to) / length),
                     {s->xy[2 * s->n - 2], s->xy[2 * s->n - 1]}};
}

/* Whether a stroke of ink may be that of a mark: it begins there, or on a dash, and is no dot. */
static gboolean may_be(const DtMark *m, const DtRigStroke *s)
{
    const double dash_mm = 0.9, tick_mm = 0.5;
    const double near_mm = m->part == DT_SHEET_SETTLE ? dash_mm : tick_mm;
    const double length = hypot(s->xy[2 * s->n - 2] - s->xy[0], s->xy[2 * s->n - 1] - s->xy[1]);
    const double middle = (m->from.x + m->to.x) / 2;
    const double along = m->part == DT_SHEET_SETTLE
                             ? fabs(s->xy[0] - middle) - fabs(m->to.x - middle)
                             : fabs(s->xy[0] - m->from.x);
    return length > 0.4 && along < near_mm && fabs(s->xy[1] - m->from.y) < near_mm;
}

/* Dashes and ticks of these tests are found by where they lie: letters may be missing where the pen falls
 * late. The machine's scale is right. */
static void find_by_place(EyeReader *e)
{
    for (size_t i = 0; i < e->sheet->n; i++) {
        const DtMark *m = &e->sheet->marks[i];
        EyeLine *l = &g_array_index(e->lines, EyeLine, i);
        const gboolean dash = m->part == DT_SHEET_SETTLE && m->kind == DT_MARK_DASH;
        const gboolean tick =
            m->part == DT_SHEET_SPEED && (m->kind == DT_MARK_COMB || m->kind == DT_MARK_VERNIER);
        if (!dash && !tick)
            continue;
        double nearest = G_MAXDOUBLE; /* a part of a letter may be near, too */
        *l = (EyeLine){0};
        for (size_t k = 0; k < dt_rig_stroke_count(e->rig) && (tick || !l->there); k++) {
            const DtRigStroke s = dt_rig_stroke(e->rig, k);
            const double off = hypot(s.xy[0] - m->from.x, s.xy[1] - m->from.y);
            if (!may_be(m, &s) || off >= nearest)
                continue;
            *l = line_of(&s);
            nearest = off;
        }
    }
}

/* Strokes in the order in which they were drawn; those of joined marks are skipped but for the first. */
void eye_reader_init(EyeReader *e, const DtTestSheet *s, const DtRig *rig, guint32 seed)
{
    *e = (EyeReader){.sheet = s,
                     .rig = rig,
                     .vernier_error = 0.5,
                     .rule_error_mm = 0.1,
                     .seen_mm = 0.1,
                     .writes_from = 25,
                     .dot_gain = 1,
                     .tip_mm = 0.4,
                     .ink = 0.0116};
    e->rand = g_rand_new_with_seed(seed);
    e->lines = g_array_new(FALSE, TRUE, sizeof(EyeLine));
    g_array_set_size(e->lines, (guint)s->n);
    e->corner = s->paper_at;
    e->moved =
        dt_point(g_rand_double_range(e->rand, -0.4, 0.4), g_rand_double_range(e->rand, -0.4, 0.4));
    e->turned = g_rand_double_range(e->rand, -0.003, 0.003);
    size_t at = 0, pause = s->n;
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == DT_MARK_PAUSE)
            pause = i;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (!dt_mark_is_stroke(m) || (i > 0 && goes_on(m - 1, m)) ||
            (m->drop_word > 0 && m->drop_word < e->writes_from))
            continue;
        if (at >= dt_rig_stroke_count(rig))
            break;
        const DtRigStroke stroke = dt_rig_stroke(rig, at++);
        const gboolean tick = m->kind == DT_MARK_COMB || m->kind == DT_MARK_VERNIER;
        EyeLine line = tick                      ? tick_of(&stroke)
                       : m->kind == DT_MARK_TONE ? tone_of(m, &stroke)
                                                 : line_of(&stroke);
        if (pause < s->n && i < pause) {
            line.from = turn(e, line.from);
            line.to = turn(e, line.to);
        }
        g_array_index(e->lines, EyeLine, i) = line;
    }
    find_by_place(e);
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
        if (m->part == a->part && m->kind == kind && m->row == a->row && m->place == place &&
            l->there)
            return l;
    }
    return NULL;
}

static double across(const DtAsk *a, DtPoint p)
{
    return a->axis == 0 ? p.y : p.x;
}

static double along(const DtAsk *a, DtPoint p)
{
    return a->axis == 0 ? p.x : p.y;
}

/* How far the vernier's tick k stands beyond the main comb's k + shift, where the two meet. */
static gboolean apart(const EyeReader *e, const DtAsk *a, int k, int shift, double *mm)
{
    const EyeLine *main = find(e, a, DT_MARK_COMB, k + shift),
                  *vernier = find(e, a, DT_MARK_VERNIER, k);
    if (main == NULL || vernier == NULL)
        return FALSE;
    const DtPoint m[2] = {main->from, main->to}, v[2] = {vernier->from, vernier->to};
    double nearest = G_MAXDOUBLE;
    *mm = 0;
    for (int i = 0; i < 2; i++)
        for (int j = 0; j < 2; j++)
            if (fabs(across(a, m[i]) - across(a, v[j])) < nearest) {
                nearest = fabs(across(a, m[i]) - across(a, v[j]));
                *mm = along(a, v[j]) - along(a, m[i]);
            }
    return TRUE;
}

/* The number at which the combs meet, between the two ticks beside which they cross. */
static gboolean crossing(const EyeReader *e, const DtAsk *a, int shift, double *at)
{
    double before = 0, here = 0;
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
        at = CLAMP(round(10 * at) / 10, a->least, a->most);
        if (order[i] != 0)
            return g_strdup_printf("%.1f at %.1f", at, at + order[i]);
        return g_strdup_printf("%.1f", at);
    }
    return g_strdup("?");
}

/* The ticks at both ends of a long line and the one that is asked for; a question's row is 100 times what is read of
 * it, plus the tick's place. */
static void find_ticks(const EyeReader *e, const DtAsk *a, const EyeLine *ends[2],
                       const EyeLine **tick)
{
    for (size_t i = 0; i < e->sheet->n; i++) {
        const DtMark *m = &e->sheet->marks[i];
        const EyeLine *l = &g_array_index(e->lines, EyeLine, i);
        if (m->axis != a->axis || m->part != a->part)
            continue;
        if (m->kind == DT_MARK_GAUGE && (m->place == 1 || m->place == 2))
            ends[m->place - 1] = l;
        else if (m->kind == DT_MARK_POSITION && a->row >= 100 && m->place == a->row % 100)
            *tick = l;
    }
}

/* How far the tick meets the long line from the straight line through both ends, upwards or to the right. */
static char *answer_edge(EyeReader *e, const DtAsk *a)
{
    const EyeLine *ends[2] = {NULL, NULL}, *tick = NULL;
    find_ticks(e, a, ends, &tick);
    if (ends[0] == NULL || ends[1] == NULL || tick == NULL)
        return g_strdup("?");
    const DtPoint way = dt_point_sub(ends[1]->to, ends[0]->to);
    const double off =
        dt_point_cross(way, dt_point_sub(tick->to, ends[0]->to)) / hypot(way.x, way.y);
    return g_strdup_printf("%.2f",
                           (a->axis == 0 ? off : -off) +
                               g_rand_double_range(e->rand, -e->rule_error_mm, e->rule_error_mm));
}

static char *answer_rule(EyeReader *e, const DtAsk *a)
{
    const EyeLine *ends[2] = {NULL, NULL}, *tick = NULL;
    find_ticks(e, a, ends, &tick);
    if (a->row >= 100)
        ends[1] = tick;
    if (ends[0] == NULL || ends[1] == NULL)
        return g_strdup("?");
    /* the rule lies along the line at which the ticks begin or end, across them */
    const double mm = dt_point_distance(ends[0]->to, ends[1]->to);
    return g_strdup_printf("%.2f",
                           mm + g_rand_double_range(e->rand, -e->rule_error_mm, e->rule_error_mm));
}

/* Of the drop ladder: the width of paper between the upright line's ink and that of a dash. */
static double paper_between(const EyeReader *e, const EyeLine *line, const EyeLine *dash)
{
    const double f = (dash->from.y - line->from.y) / (line->to.y - line->from.y);
    const double x = line->from.x + f * (line->to.x - line->from.x);
    return MAX(dash->from.x - x - e->tip_mm, 0);
}

/* How much wider than the top dash's the gap of a dash to the line is, or how long its hook is. */
static double flaw(const EyeReader *e, const DtAsk *a, int i)
{
    const EyeLine *dash = find(e, a, DT_MARK_DASH, i), *line = find(e, a, DT_MARK_DASH, -1),
                  *top = find(e, a, DT_MARK_DASH, (int)a->most);
    if (dash == NULL || top == NULL)
        return G_MAXDOUBLE;
    if (line == NULL) /* the lift ladder has no line */
        return sideways(dash->from, dash->to);
    return paper_between(e, line, dash) - paper_between(e, line, top);
}

static char *answer_settle(const EyeReader *e, const DtAsk *a)
{
    int lowest = (int)a->most + 1;
    while (lowest > a->least && flaw(e, a, lowest - 1) <= e->seen_mm)
        lowest--;
    return lowest > a->most ? g_strdup("?") : g_strdup_printf("%d", lowest);
}

/* How far apart the ticks of a rung stand along the axis; infinite where one is missing. */
static double spread(const EyeReader *e, const DtAsk *a, int rung)
{
    const int axis = a->row / 3;
    double low = G_MAXDOUBLE, high = -G_MAXDOUBLE;
    for (size_t i = 0; i < e->sheet->n; i++) {
        const DtMark *m = &e->sheet->marks[i];
        const EyeLine *l = &g_array_index(e->lines, EyeLine, i);
        if (m->part != a->part || m->row != a->row || m->place != rung ||
            (m->kind != DT_MARK_COMB && m->kind != DT_MARK_VERNIER))
            continue;
        if (!l->there)
            return G_MAXDOUBLE;
        const double at = axis == 0 ? l->from.x : l->from.y;
        low = MIN(low, at);
        high = MAX(high, at);
    }
    return high - low;
}

/* From rung `from` on upwards, the first whose ticks part; one more than there are where none does. */
static int first_parted(const EyeReader *e, const DtAsk *a, int from)
{
    const double parted_mm = 0.05;
    while (from < a->most && spread(e, a, from) <= parted_mm)
        from++;
    return from;
}

/* As the question has it: from the rung of the profile's own value upwards, or else downwards. A ladder of speeds is read
 * from its first rung. */
static char *answer_speed(const EyeReader *e, const DtAsk *a)
{
    const int own = a->row % 3 == 1 ? 2 : 1;
    int parted = first_parted(e, a, own);
    while (parted <= own && parted > 1 && first_parted(e, a, parted - 1) == parted - 1)
        parted--;
    return g_strdup_printf("%d", parted);
}

/* The share that the lines of a tone step cover, where they landed: even lines, or bars of them. */
static double covered(const EyeReader *e, const DtAsk *a, int place)
{
    double before = NAN, sum = 0, all = 0, widest = 0;
    for (size_t i = 0; i < e->sheet->n; i++) {
        const DtMark *m = &e->sheet->marks[i];
        const EyeLine *l = &g_array_index(e->lines, EyeLine, i);
        if (m->kind != DT_MARK_TONE || m->row != a->row || m->place != place || !l->there)
            continue;
        /* the lines of a bar are one stroke: it reaches from its first line to its last */
        const double low = MIN(l->from.x, l->to.x), high = MAX(l->from.x, l->to.x);
        if (!isnan(before)) {
            all += low - before;
            widest = MAX(widest, low - before);
            sum += e->tip_mm;
        }
        if (place == 0) {
            sum += high - low;
            all += high - low;
        }
        before = place == 0 ? high : low;
    }
    return (sum + e->tip_mm) / (all + widest);
}

/* The step that reflects as much light as the bars do (Murray 1936), by Yule and Nielsen 1951. */
static char *answer_tone(EyeReader *e, const DtAsk *a)
{
    const double wanted = 1 - covered(e, a, 0) * (1 - e->ink), n = e->dot_gain;
    double before = 0;
    for (int k = 1; k <= (int)a->most; k++) {
        const double light = pow(1 - covered(e, a, k) * (1 - pow(e->ink, 1 / n)), n);
        if (light <= wanted) {
            double at = k == 1 ? 1 : k - (wanted - light) / (before - light);
            at += g_rand_double_range(e->rand, -0.5, 0.5);
            return g_strdup_printf("%.1f", CLAMP(at, a->least, a->most));
        }
        before = light;
    }
    return g_strdup_printf("%g", a->most);
}

char *eye_reader_answer(EyeReader *e, const DtAsk *a)
{
    return a->kind == DT_ASK_VERNIER    ? answer_vernier(e, a)
           : a->kind == DT_ASK_RULE     ? answer_rule(e, a)
           : a->kind == DT_ASK_EDGE     ? answer_edge(e, a)
           : a->kind == DT_ASK_TONE     ? answer_tone(e, a)
           : a->part == DT_SHEET_SETTLE ? answer_settle(e, a)
           : a->part == DT_SHEET_SPEED  ? answer_speed(e, a)
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
