/* dash: cuts lines into dashes, as SVG 1.1 section 11.4 says. */
#include "ink/outline.h"

#include <math.h>
#include <string.h>

/* Lengths of the elements in line widths: ISO 128-20:1996, table 3 (from memory). */
#define DOT 0.5
#define GAP 3
#define SHORT 6
#define DASH 12
#define SPACE 18
#define LONG 24

static const struct {
    const char *name;
    size_t n;
    double length[10];
} types[] = {
    {"dashed", 2, {DASH, GAP}},
    {"dashed-spaced", 2, {DASH, SPACE}},
    {"long-dashed-dotted", 4, {LONG, GAP, DOT, GAP}},
    {"long-dashed-double-dotted", 6, {LONG, GAP, DOT, GAP, DOT, GAP}},
    {"long-dashed-triplicate-dotted", 8, {LONG, GAP, DOT, GAP, DOT, GAP, DOT, GAP}},
    {"dotted", 2, {DOT, GAP}},
    {"long-dashed-short-dashed", 4, {LONG, GAP, SHORT, GAP}},
    {"long-dashed-double-short-dashed", 6, {LONG, GAP, SHORT, GAP, SHORT, GAP}},
    {"dashed-dotted", 4, {DASH, GAP, DOT, GAP}},
    {"double-dashed-dotted", 6, {DASH, GAP, DASH, GAP, DOT, GAP}},
    {"dashed-double-dotted", 6, {DASH, GAP, DOT, GAP, DOT, GAP}},
    {"double-dashed-double-dotted", 8, {DASH, GAP, DASH, GAP, DOT, GAP, DOT, GAP}},
    {"dashed-triplicate-dotted", 8, {DASH, GAP, DOT, GAP, DOT, GAP, DOT, GAP}},
    {"double-dashed-triplicate-dotted", 10, {DASH, GAP, DASH, GAP, DOT, GAP, DOT, GAP, DOT, GAP}},
};

const double *dt_dash_of_class(const char *classes, size_t *n)
{
    static const char space[] = " \t\r\n\f";
    for (const char *w = classes ? classes + strspn(classes, space) : ""; *w;) {
        size_t length = strcspn(w, space);
        for (size_t i = 0; i < G_N_ELEMENTS(types); i++)
            if (strlen(types[i].name) == length && memcmp(types[i].name, w, length) == 0) {
                *n = types[i].n;
                return types[i].length;
            }
        w += length;
        w += strspn(w, space);
    }
    *n = 0;
    return NULL;
}

#define MOST_DASHES 1e6

typedef struct {
    const double *dash;
    size_t n, at; /* the current dash or gap; even ones are inked */
    double left;  /* of it */
} Pattern;

static double total(const double *dash, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (!(dash[i] >= 0) || !isfinite(dash[i]))
            return 0;
        sum += dash[i];
    }
    return sum;
}

/* Merges dashes whose gap is too short to stay bare; the list then begins after the first gap
 * that stays. */
double *dt_dash_bridge(const double *dash, size_t n, double least, size_t *n_out, double *shift)
{
    const size_t all = n % 2 ? 2 * n : n; /* an odd list counts twice */
    double *out = g_new(double, all + 1);
    size_t k = 0, begin = 0;
    *shift = 0;
    while (begin < all && dash[(begin + 1) % n] < least) {
        *shift += dash[begin % n] + dash[(begin + 1) % n];
        begin += 2;
    }
    double ink = 0;
    for (size_t i = 0; i < all && begin < all; i += 2) {
        const size_t at = (begin + 2 + i) % all;
        const double gap = dash[(at + 1) % n];
        ink += dash[at % n] + (gap < least ? gap : 0);
        if (!(gap < least)) {
            out[k++] = ink;
            out[k++] = gap;
            ink = 0;
        }
    }
    if (begin < all)
        *shift += dash[begin % n] + dash[(begin + 1) % n];
    *n_out = k;
    return out;
}

/* An odd list counts twice, so that dashes and gaps alternate. */
static size_t entries(const Pattern *p)
{
    return p->n % 2 ? 2 * p->n : p->n;
}

static void advance(Pattern *p)
{
    p->at = (p->at + 1) % entries(p);
    p->left = p->dash[p->at % p->n];
}

static Pattern start_pattern(const double *dash, size_t n, double offset)
{
    Pattern p = {dash, n, 0, dash[0]};
    double whole = total(dash, n) * (n % 2 ? 2 : 1);
    double skip = isfinite(offset) ? fmod(offset, whole) : 0;
    if (skip < 0)
        skip += whole;
    while (skip >= p.left && skip > 0) {
        skip -= p.left;
        advance(&p);
    }
    p.left -= skip;
    return p;
}

static void dash_line(const DtPoint *pts, size_t n, gboolean closed, Pattern p, DtLines *out)
{
    gboolean down = FALSE;
    for (size_t i = 0; i + (closed ? 0 : 1) < n; i++) {
        DtPoint a = pts[i], b = pts[(i + 1) % n];
        double length = dt_point_distance(a, b), done = 0;
        while (length > 0) {
            gboolean inked = p.at % 2 == 0;
            double step = MIN(p.left, length - done);
            if (inked && !down) {
                dt_lines_begin(out);
                dt_lines_point(out, dt_point_lerp(a, b, done / length));
            }
            down = inked;
            done += step;
            p.left -= step;
            if (inked)
                dt_lines_point(out, dt_point_lerp(a, b, MIN(done / length, 1)));
            if (p.left > 0)
                break; /* the segment ends within this entry */
            advance(&p);
            down = FALSE;
            if (done >= length)
                break;
        }
    }
}

void dt_dash_lines(const DtLines *lines, const double *dash, size_t n, double offset, DtLines *out)
{
    double sum = n > 0 ? total(dash, n) : 0, length = dt_lines_total_length(lines);
    if (!(sum > 0) || !(length / sum * (double)n < MOST_DASHES)) {
        dt_lines_append_lines(out, lines);
        return;
    }
    Pattern p = start_pattern(dash, n, offset);
    for (size_t i = 0; i < lines->n; i++)
        dash_line(dt_lines_at(lines, i), dt_lines_count(lines, i), lines->closed[i] != 0, p, out);
}
