/* ink: the ink on the paper, as polylines of few points: consecutive points that one straight
 * line passes within the merge distance become that line (the cone of Sklansky and Gonzalez
 * 1980). */
#include "inside.h"

#include <math.h>
#include <string.h>

/* Longest straight piece, so that a wavy rail remains visible. */
static const double longest = 2;

void dt_rig_ink_init(RigInk *k, double merge)
{
    *k = (RigInk){.merge = merge};
    k->xy = g_array_new(FALSE, FALSE, 2 * sizeof(double));
    k->strokes = g_array_new(FALSE, FALSE, sizeof(RigStroke));
    k->names = g_ptr_array_new_with_free_func(g_free);
}

void dt_rig_ink_clear(RigInk *k)
{
    g_array_unref(k->xy);
    g_array_unref(k->strokes);
    g_ptr_array_unref(k->names);
}

static void put(RigInk *k, const double p[2])
{
    g_array_append_vals(k->xy, p, 1);
    g_array_index(k->strokes, RigStroke, k->strokes->len - 1).n++;
}

static void set_anchor(RigInk *k, const double p[2])
{
    put(k, p);
    memcpy(k->anchor, p, sizeof k->anchor);
    k->narrowed = FALSE;
    k->reach = 0;
}

static unsigned name_index(RigInk *k, const char *pen)
{
    for (unsigned i = 0; i < k->names->len; i++)
        if (strcmp(g_ptr_array_index(k->names, i), pen) == 0)
            return i;
    g_ptr_array_add(k->names, g_strdup(pen));
    return k->names->len - 1;
}

void dt_rig_ink_begin(RigInk *k, const char *pen, double x, double y, double now_s)
{
    const double p[2] = {x, y};
    RigStroke s = {k->xy->len, 0, name_index(k, pen), now_s, now_s};
    g_array_append_val(k->strokes, s);
    k->open = TRUE;
    memcpy(k->last, p, sizeof k->last);
    set_anchor(k, p);
}

static double cross(const double a[2], const double b[2])
{
    return a[0] * b[1] - a[1] * b[0];
}

/* Narrows the cone to the directions that pass p within the merge distance; FALSE if p lies
 * outside it. */
static gboolean narrow(RigInk *k, const double v[2], double d)
{
    if (k->narrowed && (cross(k->right, v) < 0 || cross(v, k->left) < 0 ||
                        v[0] * (k->left[0] + k->right[0]) + v[1] * (k->left[1] + k->right[1]) < 0))
        return FALSE;
    double s = k->merge / d, c = sqrt(1 - s * s);
    const double left[2] = {(v[0] * c - v[1] * s) / d, (v[0] * s + v[1] * c) / d};
    const double right[2] = {(v[0] * c + v[1] * s) / d, (v[1] * c - v[0] * s) / d};
    if (!k->narrowed || cross(left, k->left) > 0)
        memcpy(k->left, left, sizeof left);
    if (!k->narrowed || cross(k->right, right) > 0)
        memcpy(k->right, right, sizeof right);
    k->narrowed = TRUE;
    return TRUE;
}

/* The end of the straight piece: the foot of its last point on the middle line of the cone,
 * which averages the staircase of the motor's steps. */
static void middle_end(const RigInk *k, double end[2])
{
    double u[2] = {k->left[0] + k->right[0], k->left[1] + k->right[1]};
    double length = hypot(u[0], u[1]);
    memcpy(end, k->last, sizeof k->last);
    if (!k->narrowed || length <= 0)
        return;
    const double v[2] = {k->last[0] - k->anchor[0], k->last[1] - k->anchor[1]};
    double along = (v[0] * u[0] + v[1] * u[1]) / length;
    end[0] = k->anchor[0] + u[0] / length * along;
    end[1] = k->anchor[1] + u[1] / length * along;
}

void dt_rig_ink_point(RigInk *k, double x, double y)
{
    const double p[2] = {x, y};
    if (p[0] == k->last[0] && p[1] == k->last[1])
        return;
    for (int again = 0; again < 2; again++) {
        const double v[2] = {p[0] - k->anchor[0], p[1] - k->anchor[1]};
        double d = sqrt(v[0] * v[0] + v[1] * v[1]);
        gboolean turns_back = d < k->reach - k->merge / 2;
        if (!turns_back && d <= longest && (d <= k->merge || narrow(k, v, d))) {
            k->reach = MAX(k->reach, d);
            break;
        }
        double end[2];
        middle_end(k, end);
        set_anchor(k, end);
    }
    memcpy(k->last, p, sizeof p);
}

void dt_rig_ink_end(RigInk *k, double now_s)
{
    RigStroke *s = &g_array_index(k->strokes, RigStroke, k->strokes->len - 1);
    if (k->last[0] != k->anchor[0] || k->last[1] != k->anchor[1])
        put(k, k->last);
    s->to_s = now_s;
    k->open = FALSE;
}
