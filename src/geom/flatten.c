/* flatten: turns curves into polylines with a proven bound on the error and almost the fewest
 * segments.
 *
 * A piece of a cubic over [t, t+h] is again a cubic; its signed distance from the chord's line
 * is the Bernstein form 3s(1-s)[d1(1-s) + d2 s], where d1 and d2 are the distances of its inner
 * control points. Its maximum is a root of a quadratic, so the error of a chord is known
 * exactly, not sampled. From each vertex the chord is drawn as far as the tolerance allows: for
 * a curve that keeps turning in one direction no polyline with its vertices on the curve has
 * fewer segments. */
#include "drawtrue/geom.h"

#include <math.h>

typedef struct {
    DtPoint a, b, c, d; /* a t^3 + b t^2 + c t + d */
} Cubic;

static Cubic cubic_from(DtPoint p0, DtPoint p1, DtPoint p2, DtPoint p3)
{
    return (Cubic){.a = {p3.x - p0.x + 3 * (p1.x - p2.x), p3.y - p0.y + 3 * (p1.y - p2.y)},
                   .b = {3 * (p0.x - 2 * p1.x + p2.x), 3 * (p0.y - 2 * p1.y + p2.y)},
                   .c = {3 * (p1.x - p0.x), 3 * (p1.y - p0.y)},
                   .d = p0};
}

static inline DtPoint cubic_at(const Cubic *q, double t)
{
    return (DtPoint){((q->a.x * t + q->b.x) * t + q->c.x) * t + q->d.x,
                     ((q->a.y * t + q->b.y) * t + q->c.y) * t + q->d.y};
}

static inline DtPoint cubic_slope(const Cubic *q, double t)
{
    return (DtPoint){(3 * q->a.x * t + 2 * q->b.x) * t + q->c.x,
                     (3 * q->a.y * t + 2 * q->b.y) * t + q->c.y};
}

static inline double bow_at(double d1, double d2, double s)
{
    return fabs(3 * s * (1 - s) * (d1 * (1 - s) + d2 * s));
}

/* Maximum of |3s(1-s)[d1(1-s) + d2 s]| for 0 <= s <= 1. */
static double greatest_bow(double d1, double d2)
{
    double a = 3 * (d1 - d2), half_b = d2 - 2 * d1, c = d1;
    double root = sqrt(MAX(half_b * half_b - a * c, 0));
    /* The stable pair of roots: q/a and c/q. */
    double q = half_b > 0 ? -(half_b + root) : root - half_b;
    double best = 0;
    if (q != 0) {
        double s = c / q;
        if (s > 0 && s < 1)
            best = bow_at(d1, d2, s);
    }
    if (a != 0) {
        double s = q / a;
        if (s > 0 && s < 1)
            best = MAX(best, bow_at(d1, d2, s));
    }
    return best;
}

/* An upper bound for the distance of the piece from its chord; exact if its control points
 * project onto the chord. v0 and v1 are the inner control points minus the piece's two ends. The
 * bound 3/4 max(|d1|, |d2|) is used instead if it is enough, as it mostly is. */
static inline double chord_error(DtPoint chord, DtPoint v0, DtPoint v1, double enough)
{
    double length = sqrt(dt_point_dot(chord, chord));
    if (!(length > 0)) {
        double far2 = MAX(dt_point_dot(v0, v0), dt_point_dot(v1, v1));
        return 0.75 * sqrt(far2);
    }
    double inverse = 1 / length;
    double d1 = dt_point_cross(chord, v0) * inverse, d2 = dt_point_cross(chord, v1) * inverse;
    double bow = 0.75 * MAX(fabs(d1), fabs(d2));
    if (bow > enough)
        bow = greatest_bow(d1, d2);
    double p1 = dt_point_dot(chord, v0) * inverse;
    double p2 = length + dt_point_dot(chord, v1) * inverse;
    double before = -MIN(p1, p2), beyond = MAX(p1, p2) - length;
    double over = MAX(before, beyond);
    /* Beyond an end of the chord that end is the nearest point; the curve overshoots it by at
     * most 3/4 of the overshoot of its control points. */
    return over > 0 ? sqrt(bow * bow + 0.5625 * over * over) : bow;
}

/* The chord error of a piece grows nearly as its length squared. A step is accepted if the error
 * lies between this share of the tolerance and the tolerance. */
#define GOOD_ENOUGH 0.80
#define AIM 0.975
#define ROUNDS 40
/* A step that is always short enough: the tolerance is never below LEAST of the curve's size,
 * and its second derivative is at most 34 times that size, so that 34 step^2 / 8 is below LEAST.
 * It also bounds the number of segments of a curve, whatever rounding does. */
#define LEAST 1e-9
#define SHORTEST 1.5e-5

/* Whether the piece's error is clearly at most the tolerance and at least `least` of it, decided
 * without a root or a division; FALSE also if it is not clear. With both inner control points on
 * one side, at distances m + e and m - e, and x = 1 - 2s, the sagitta is 3/4 (m + e x)(1 - x^2),
 * which is at most 3/4 e^2 / 4m above 3/4 m, its value at x = 0. */
static inline gboolean plainly_good(DtPoint chord, DtPoint v0, DtPoint v1, double tolerance,
                                    double least)
{
    double length2 = dt_point_dot(chord, chord), most2 = tolerance * tolerance * length2;
    double c1 = dt_point_cross(chord, v0), c2 = dt_point_cross(chord, v1);
    double along1 = dt_point_dot(chord, v0), along2 = -dt_point_dot(chord, v1);
    double m = 0.5 * (c1 + c2), e = 0.5 * (c1 - c2);
    double m2 = 0.5625 * m * m, bow_m = 0.75 * (m * m + 0.25 * e * e);
    return c1 * c2 > 0 && bow_m * bow_m <= most2 * m * m && m2 >= least * least * most2 &&
           along1 >= 0 && along2 >= 0 && along1 <= length2 && along2 <= length2;
}

/* The step whose chord error is AIM of the tolerance by the curvature halfway along the last step's
 * length: error = |slope x bend| step^2 / (8 |slope|). */
static inline double step_by_curvature(const Cubic *q, double t, double last, double tolerance)
{
    double m = MIN(t + last / 2, 1);
    DtPoint slope = cubic_slope(q, m);
    DtPoint bend = {6 * q->a.x * m + 2 * q->b.x, 6 * q->a.y * m + 2 * q->b.y};
    double turn = fabs(dt_point_cross(slope, bend));
    double speed = sqrt(dt_point_dot(slope, slope));
    double step2 = 8 * AIM * tolerance * speed / MAX(turn, 1e-300);
    /* Not far from the last one: the estimate is useless at a cusp or an inflection. */
    return CLAMP(sqrt(step2), last / 2, last * 2);
}

/* Adds a point; only end_line() records where the polyline ends. */
static inline void put(DtLines *out, DtPoint p)
{
    if (G_LIKELY(out->n_pts < out->cap_pts))
        out->pts[out->n_pts++] = p;
    else
        dt_lines_point(out, p);
}

static inline void end_line(DtLines *out)
{
    if (out->n > 0)
        out->first[out->n] = out->n_pts;
}

static void flatten_cubic(DtPoint p0, DtPoint p1, DtPoint p2, DtPoint p3, double tolerance,
                          DtLines *out)
{
    double whole =
        chord_error(dt_point_sub(p3, p0), dt_point_sub(p1, p0), dt_point_sub(p2, p3), tolerance);
    if (whole <= tolerance) {
        put(out, p3);
        return;
    }
    Cubic q = cubic_from(p0, p1, p2, p3);
    double t = 0, step = MIN(sqrt(AIM * tolerance / whole), 1);
    DtPoint at = p0, slope = q.c;
    for (;;) {
        step = step_by_curvature(&q, t, step, tolerance);
        double h = MIN(step, 1 - t), low = 0, high = 2;
        DtPoint to = p3, slope_to = slope;
        for (int round = 0; round < ROUNDS; round++) {
            gboolean last = t + h >= 1;
            to = last ? p3 : cubic_at(&q, t + h);
            slope_to = cubic_slope(&q, last ? 1 : t + h);
            DtPoint v0 = dt_point_scale(slope, h / 3), v1 = dt_point_scale(slope_to, -h / 3);
            if (plainly_good(dt_point_sub(to, at), v0, v1, tolerance, last ? 0 : GOOD_ENOUGH))
                break;
            double error = chord_error(dt_point_sub(to, at), v0, v1, tolerance);
            if (error <= tolerance) {
                if (last || error >= GOOD_ENOUGH * tolerance || round >= 6)
                    break;
                low = h;
            } else {
                high = h;
            }
            double guess = h * sqrt(AIM * tolerance / MAX(error, tolerance * 1e-4));
            if (!(guess > low && guess < high))
                guess = high <= 1 ? (low + high) / 2 : 1 - t;
            if (low > 0 && round >= 5)
                guess = low; /* use the longest step known to be good */
            h = MIN(guess, 1 - t);
        }
        if (!(h > SHORTEST)) {
            h = MIN(SHORTEST, 1 - t);
            to = t + h >= 1 ? p3 : cubic_at(&q, t + h);
            slope_to = cubic_slope(&q, t + h);
        }
        put(out, to);
        if (t + h >= 1)
            return;
        t += h;
        at = to;
        slope = slope_to;
        step = h;
    }
}

/* Beyond this a product of coordinates overflows. */
#define LARGEST 1e100

static inline gboolean sound(DtPoint p)
{
    return fabs(p.x) < LARGEST && fabs(p.y) < LARGEST;
}

/* No curve is flattened more finely than 1e-9 of its own size: beyond that double precision and
 * memory would both be exhausted. */
static double fair_tolerance(double tolerance, DtPoint p0, DtPoint p1, DtPoint p2, DtPoint p3)
{
    double size = MAX(
        MAX(fabs(p1.x - p0.x), fabs(p1.y - p0.y)),
        MAX(MAX(fabs(p2.x - p0.x), fabs(p2.y - p0.y)), MAX(fabs(p3.x - p0.x), fabs(p3.y - p0.y))));
    return MAX(tolerance, size * LEAST);
}

/* A closed polyline does not repeat its first point. */
static void close_line(DtLines *out)
{
    end_line(out);
    DtPoint *p = dt_lines_at(out, out->n - 1);
    size_t n = dt_lines_count(out, out->n - 1);
    if (n > 1 && p[n - 1].x == p[0].x && p[n - 1].y == p[0].y) {
        out->n_pts--;
        out->first[out->n] = out->n_pts;
    }
    dt_lines_close(out);
}

gboolean dt_path_flatten_at_most(const DtPath *p, DtAffine m, double tolerance, size_t most,
                                 DtLines *out)
{
    const DtPoint *q = p->pts;
    DtPoint start = {0, 0}, at = {0, 0};
    gboolean open = FALSE; /* a polyline is being drawn */
    for (size_t i = 0; i < p->n_verb && out->n_pts <= most; i++) {
        if (p->verb[i] != DT_PATH_MOVE && p->verb[i] != DT_PATH_CLOSE && !open) {
            dt_lines_begin(out);
            put(out, start);
            at = start;
            open = TRUE;
        }
        switch ((DtPathVerb)p->verb[i]) {
        case DT_PATH_MOVE:
            at = start = dt_affine_apply(m, *q++);
            dt_lines_begin(out);
            put(out, start);
            open = TRUE;
            break;
        case DT_PATH_LINE: {
            DtPoint to = dt_affine_apply(m, *q++);
            if (to.x != at.x || to.y != at.y)
                put(out, to);
            at = to;
            break;
        }
        case DT_PATH_CUBIC: {
            DtPoint c1 = dt_affine_apply(m, q[0]), c2 = dt_affine_apply(m, q[1]);
            DtPoint to = dt_affine_apply(m, q[2]);
            q += 3;
            if (!sound(at) || !sound(c1) || !sound(c2) || !sound(to))
                put(out, to);
            else if (at.x != to.x || at.y != to.y || at.x != c1.x || at.y != c1.y || at.x != c2.x ||
                     at.y != c2.y)
                flatten_cubic(at, c1, c2, to, fair_tolerance(tolerance, at, c1, c2, to), out);
            at = to;
            break;
        }
        case DT_PATH_CLOSE:
            if (open)
                close_line(out);
            open = FALSE;
            break;
        }
    }
    end_line(out);
    return out->n_pts <= most;
}

void dt_path_flatten(const DtPath *p, DtAffine m, double tolerance, DtLines *out)
{
    dt_path_flatten_at_most(p, m, tolerance, SIZE_MAX, out);
}
