/* tidy: prepares the path of the carriage through one run for motors with backlash. */
#include "machine/tidy.h"

/* Whether a point is farther from the line between two others, without the root of a distance: most
 * points are tested many times. */
static gboolean is_off(const DtCarriagePoint *p, const DtCarriagePoint *a, const DtCarriagePoint *b,
                       double within)
{
    const DtPoint line = dt_point(b->at[0] - a->at[0], b->at[1] - a->at[1]);
    const DtPoint to = dt_point(p->at[0] - a->at[0], p->at[1] - a->at[1]);
    const double length2 = dt_point_dot(line, line);
    const double f = length2 > 0 ? CLAMP(dt_point_dot(to, line) / length2, 0, 1) : 0;
    const DtPoint away = dt_point_sub(to, dt_point_scale(line, f));
    return dt_point_dot(away, away) > within * within;
}

static gboolean is_straight(const DtCarriagePoint *c, size_t from, size_t to, double within)
{
    for (size_t i = from + 1; i < to; i++)
        if (is_off(&c[i], &c[from], &c[to], within))
            return FALSE;
    return TRUE;
}

void dt_tidy_straighten(const DtProfile *p, double thin, GArray *points)
{
    enum { LONGEST = 60 }; /* how many points the search goes back, so that the work stays linear */
    DtCarriagePoint *c = (DtCarriagePoint *)(void *)points->data;
    const double within = MAX(thin, 0.25 / MAX(p->steps_per_mm[0], p->steps_per_mm[1]));
    const size_t n = points->len;
    size_t kept = MIN(n, 1), anchor = 0;
    for (size_t i = 1; i < n; i++) {
        const gboolean last = i + 1 == n;
        if (!last && i + 1 - anchor < LONGEST && is_straight(c, anchor, i + 1, within))
            continue;
        c[kept++] = c[i];
        anchor = i;
    }
    g_array_set_size(points, (guint)kept);
    for (size_t i = 0; i < kept; i++)
        c[i].way = (double)i;
}

DtCarriagePoint dt_tidy_between(const DtCarriagePoint *a, const DtCarriagePoint *b, double f)
{
    DtCarriagePoint at = *a;
    at.way += f * (b->way - a->way);
    for (int i = 0; i < 2; i++) {
        const double before = a->turn[i] == b->turn[i] ? a->taken[i] : 0;
        at.at[i] = a->at[i] == b->at[i] ? a->at[i] : a->at[i] + f * (b->at[i] - a->at[i]);
        at.turn[i] = b->turn[i];
        at.taken[i] = b->turn[i] ? before + f * (b->taken[i] - before) : 0;
    }
    return at;
}

double dt_tidy_off2(const GArray *given, const DtCarriagePoint *c)
{
    const guint k = (guint)MIN(c->way, (double)given->len - 1), next = MIN(k + 1, given->len - 1);
    const DtCarriagePoint *a = &g_array_index(given, DtCarriagePoint, k);
    const DtCarriagePoint *b = &g_array_index(given, DtCarriagePoint, next);
    const double f = c->way - k;
    double sum = 0;
    for (int i = 0; i < 2; i++) {
        const double off = c->at[i] - (a->at[i] + f * (b->at[i] - a->at[i]));
        sum += off * off;
    }
    return sum;
}

/* Shares of the tolerance: a reversal and a wait may deviate at the same place, each along its
 * own axis. */
static const double reversal_share = 0.7;

size_t dt_tidy_rules(const DtProfile *p, double thin, DtWayRule rules[DT_TIDY_RULES])
{
    const double step = 1 / MIN(p->steps_per_mm[0], p->steps_per_mm[1]);
    const double most = p->ink_tolerance / MAX(p->scale[0], p->scale[1]) - MAX(thin, 0.25 * step);
    rules[0] =
        (DtWayRule){.most = 1.2 * step, .reversal = 0.25 * step, .depth = step, .least_way = 0.5};
    if (most < rules[0].most)
        return 1;
    rules[1] = (DtWayRule){.most = most,
                           .reversal = reversal_share * most,
                           .corner = thin > 0 ? 0 : most, /* each one adds a line */
                           .depth = most};
    return 2;
}

void dt_tidy_run(const DtProfile *p, const GArray *given, const DtWayRule *rule, GArray *out,
                 GArray *spare)
{
    g_array_set_size(out, 0);
    g_array_append_vals(out, given->data, given->len);
    for (int i = 0; i < 2; i++)
        if (p->backlash[i].n > 0)
            dt_legs_straighten((DtCarriagePoint *)(void *)out->data, out->len, i, rule->reversal);
    if (rule->corner > 0) {
        dt_corners_cut(p, given, rule, out, spare);
        g_array_set_size(out, 0);
        g_array_append_vals(out, spare->data, spare->len);
    }
    for (int i = 0; i < 2; i++) {
        if (p->backlash[i].n == 0)
            continue;
        dt_waits_put(p, given, rule, i, out, spare);
        g_array_set_size(out, 0);
        g_array_append_vals(out, spare->data, spare->len);
    }
}
