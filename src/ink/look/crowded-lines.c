/* crowded-lines: thins out crowded lines.
 *
 * A grid holds what the lines cover in the artwork and in ink, by direction. Line after line, samples along it are
 * kept if no sample already kept of a line of about the same direction is nearer than the pitch that is wanted there. */
#include "ink/look/crowded-lines.h"

#include "drawtrue/work.h"
#include "ink/look/cells.h"
#include "ink/look/crowd.h"

#include <math.h>

/* Only lines up to this many tips wide are left out: wider ones darken little. */
#define THIN_TIPS 0.6
/* Samples along a line are this many tips apart. */
#define STEP_TIPS 0.5
/* Lines whose directions differ by less than this lie side by side. */
#define ONE_WAY (G_PI / 6)
/* A line is taken apart where it turns by more than this at once, or by more than the other since: its own turns may lie
 * side by side. */
#define CORNER (G_PI / 6)
#define MOST_TURN (G_PI / 2)
/* A line is kept where its neighbours are as far as this share of the pitch that is wanted, and goes on from there while
 * they are as far as the other share of that (Jobard and Lefer 1997, "Creating evenly-spaced streamlines of arbitrary
 * density", section 3). Since the pitch of parallel lines is a multiple of theirs in the artwork, it is right on average with the
 * first. Where few are left out it differs from line to line by up to half of JITTER each way, so that not every other
 * one ends in the same place. */
#define BEGIN_PITCH 0.8
#define GO_ON 0.7
#define JITTER 0.4
/* Kept runs shorter than this many tips are left out, and gaps shorter than the other drawn over. */
#define LEAST_RUN_TIPS 10.0
#define LEAST_GAP_TIPS 4.0

/* Sampling ------------------------------------------------------------------------------------- */

static DtPoint point_of(const DtLines *l, size_t line, size_t i)
{
    return dt_lines_at(l, line)[i % dt_lines_count(l, line)];
}

static size_t n_segments(const DtLines *l, size_t line)
{
    return dt_lines_count(l, line) - (l->closed[line] ? 0 : 1);
}

static double angle_of(DtPoint way)
{
    const double angle = atan2(way.y, way.x);
    return angle < 0 ? angle + G_PI : angle >= G_PI ? angle - G_PI : angle;
}

/* Samples of a line's segments from number `from` up to `to`, `length` mm together. */
static void add_stretch(DtCrowd *c, const DtLines *l, size_t line, size_t from, size_t to,
                        double begin, double length, gboolean thin, double width)
{
    const size_t n = (size_t)MAX(1, lround(MIN(length / (STEP_TIPS * c->tip), 1e6)));
    const DtCrowdStretch s = {line, c->samples->len, n, begin, length / (double)n, thin, width};
    double done = 0;
    size_t k = 0;
    for (size_t i = from; i < to; i++) {
        const DtPoint a = point_of(l, line, i), b = point_of(l, line, i + 1);
        const double mm = dt_point_distance(a, b);
        for (; k < n && ((double)k + 0.5) * s.step <= done + mm + 1e-9; k++) {
            const double u = mm > 0 ? (((double)k + 0.5) * s.step - done) / mm : 0;
            const DtCrowdSample p = {dt_point_lerp(a, b, CLAMP(u, 0, 1)),
                                     angle_of(dt_point_sub(b, a)),
                                     c->stretches->len,
                                     -1,
                                     0,
                                     TRUE};
            g_array_append_val(c->samples, p);
        }
        done += mm;
    }
    g_array_append_val(c->stretches, s);
}

static double turn_at(DtPoint a, DtPoint b, DtPoint d)
{
    const DtPoint in = dt_point_sub(b, a), out = dt_point_sub(d, b);
    return atan2(dt_point_cross(in, out), dt_point_dot(in, out));
}

static void add_line(DtCrowd *c, const DtLines *l, size_t line, gboolean thin, double width)
{
    const size_t n = n_segments(l, line);
    double begin = 0, length = 0, turned = 0;
    size_t from = 0;
    for (size_t i = 0; i < n; i++) {
        length += dt_point_distance(point_of(l, line, i), point_of(l, line, i + 1));
        if (i + 1 < n) {
            const double turn =
                turn_at(point_of(l, line, i), point_of(l, line, i + 1), point_of(l, line, i + 2));
            turned += turn;
            if (fabs(turn) <= CORNER && fabs(turned) <= MOST_TURN)
                continue;
        }
        if (length > 0)
            add_stretch(c, l, line, from, i + 1, begin, length, thin, width);
        begin += length;
        length = turned = 0;
        from = i + 1;
    }
}

/* Choosing ------------------------------------------------------------------------------------- */

/* How far aside of a sample a kept one is; G_MAXDOUBLE if it is not beside it. */
static double distance_aside(const DtCrowd *c, const DtCrowdSample *p, const DtCrowdSample *kept)
{
    double turn = fabs(p->angle - kept->angle);
    turn = MIN(turn, G_PI - turn);
    if (turn > ONE_WAY)
        return G_MAXDOUBLE;
    const DtPoint way = {cos(p->angle), sin(p->angle)}, by = dt_point_sub(kept->at, p->at);
    const double along = fabs(dt_point_dot(way, by)), aside = fabs(dt_point_cross(way, by));
    if (along > MAX(STEP_TIPS * c->tip, aside))
        return G_MAXDOUBLE;
    return aside;
}

/* The distance of the nearest kept line beside a sample, in pitches of what is wanted there, up to 1. */
static float find_free(const DtCrowd *c, const DtCrowdSample *p)
{
    const double pitch = dt_crowd_pitch(c, p);
    if (pitch <= 0)
        return 1;
    const int reach = (int)ceil(M_SQRT2 * pitch / c->cell);
    const size_t cell = dt_crowd_cell(c, p->at);
    const int cx = (int)(cell % (size_t)c->w), cy = (int)(cell / (size_t)c->w);
    double least = pitch;
    for (int y = MAX(cy - reach, 0); y <= MIN(cy + reach, c->h - 1); y++)
        for (int x = MAX(cx - reach, 0); x <= MIN(cx + reach, c->w - 1); x++)
            for (int i = c->head[(size_t)y * (size_t)c->w + (size_t)x]; i >= 0;
                 i = dt_crowd_sample(c, (size_t)i)->next)
                least = MIN(least, distance_aside(c, p, dt_crowd_sample(c, (size_t)i)));
    return (float)(least / pitch);
}

/* How far the neighbours of a line must be, in pitches; by its number, in a sequence that fills an interval evenly (Weyl 1916:
 * multiples of an irrational number, here the golden ratio). */
static double least_free(const DtCrowd *c, const DtCrowdSample *p)
{
    const double turn = p->stretch * 0.6180339887498949, part = turn - floor(turn);
    return BEGIN_PITCH + (part - 0.5) * JITTER * c->left[dt_crowd_cell(c, p->at)];
}

/* Keeps samples that are free, and from there on both ways those that are nearly. */
static void keep_free(const DtCrowd *c, const DtCrowdStretch *s)
{
    for (size_t i = 0; i < s->n; i++) {
        DtCrowdSample *p = dt_crowd_sample(c, s->first + i);
        const double least = least_free(c, p);
        p->free = (float)(find_free(c, p) / least);
        p->kept = p->free >= 1 || (i > 0 && p[-1].kept && p->free >= GO_ON);
    }
    for (size_t i = s->n; i-- > 1;) {
        DtCrowdSample *p = dt_crowd_sample(c, s->first + i);
        p[-1].kept |= p->kept && p[-1].free >= GO_ON;
    }
}

/* Turns runs of samples that are kept or not, `kept`, and shorter than `least` mm, into the other; with `inside`, only
 * those that both ends of the stretch are not in. */
static void turn_short_runs(const DtCrowd *c, const DtCrowdStretch *s, gboolean kept, double least,
                            gboolean inside)
{
    for (size_t i = 0, end; i < s->n; i = end) {
        for (end = i; end < s->n && dt_crowd_sample(c, s->first + end)->kept ==
                                        dt_crowd_sample(c, s->first + i)->kept;)
            end++;
        const gboolean all = i == 0 && end == s->n;
        if (dt_crowd_sample(c, s->first + i)->kept != kept || all ||
            (double)(end - i) * s->step >= least || (inside && (i == 0 || end == s->n)))
            continue;
        for (size_t k = i; k < end; k++)
            dt_crowd_sample(c, s->first + k)->kept = !kept;
    }
}

static void keep(const DtCrowd *c, size_t i)
{
    int *head = &c->head[dt_crowd_cell(c, dt_crowd_sample(c, i)->at)];
    dt_crowd_sample(c, i)->next = *head;
    *head = (int)i;
}

static void choose(const DtCrowd *c, const DtCrowdStretch *s)
{
    if (s->thin) {
        keep_free(c, s);
        turn_short_runs(c, s, FALSE, LEAST_GAP_TIPS * c->tip, TRUE);
        turn_short_runs(c, s, TRUE, LEAST_RUN_TIPS * c->tip, FALSE);
    }
    for (size_t i = 0; i < s->n; i++)
        if (dt_crowd_sample(c, s->first + i)->kept)
            keep(c, s->first + i);
}

typedef struct {
    int width, length;
    guint number;
} Turn;

static int by_rank(const void *a, const void *b)
{
    const Turn *p = a, *q = b;
    if (p->width != q->width)
        return p->width > q->width ? -1 : 1;
    if (p->length != q->length)
        return p->length > q->length ? -1 : 1;
    return p->number < q->number ? -1 : 1;
}

/* Heavy lines first, then long ones, both by factors of two, and those as the artwork has them: neighbours come one after
 * the other there, which gives an even pitch. */
static gboolean choose_all(const DtCrowd *c, GError **error)
{
    g_autofree Turn *turns = g_new(Turn, c->stretches->len + 1);
    for (guint i = 0; i < c->stretches->len; i++) {
        const DtCrowdStretch *s = &g_array_index(c->stretches, DtCrowdStretch, i);
        turns[i] = (Turn){s->thin ? ilogb(MAX(s->width / c->tip, 1e-6)) : INT_MAX,
                          ilogb(MAX((double)s->n * s->step, 1e-6)), i};
    }
    qsort(turns, c->stretches->len, sizeof *turns, by_rank);
    for (guint i = 0; i < c->stretches->len; i++) {
        if (i % 1024 == 0 && !dt_work_check(error))
            return FALSE;
        choose(c, &g_array_index(c->stretches, DtCrowdStretch, turns[i].number));
    }
    return TRUE;
}

/* Results -------------------------------------------------------------------------------------- */

/* Appends the part of a line between two places, mm along it. */
static void append_part(const DtLines *l, size_t line, double from, double to, DtLines *out)
{
    double done = 0;
    dt_lines_begin(out);
    for (size_t i = 0; i < n_segments(l, line) && done < to; i++) {
        const DtPoint a = point_of(l, line, i), b = point_of(l, line, i + 1);
        const double mm = dt_point_distance(a, b);
        if (done + mm > from && mm > 0) {
            if (out->first[out->n - 1] == out->n_pts)
                dt_lines_point(out, dt_point_lerp(a, b, MAX(from - done, 0) / mm));
            dt_lines_point(out, dt_point_lerp(a, b, MIN(to - done, mm) / mm));
        }
        done += mm;
    }
}

/* Appends what is kept of a line, whose stretches begin with number *s, to `out`, and the rest to `dropped`. */
static void part_line(const DtCrowd *c, const DtLines *l, size_t line, guint *s, DtLines *out,
                      DtLines *dropped)
{
    double from = 0, to = 0;
    gboolean kept = TRUE, whole = TRUE;
    for (; *s < c->stretches->len && g_array_index(c->stretches, DtCrowdStretch, *s).line == line;
         ++*s) {
        const DtCrowdStretch *own = &g_array_index(c->stretches, DtCrowdStretch, *s);
        for (size_t i = 0; i < own->n; i++) {
            const gboolean next = dt_crowd_sample(c, own->first + i)->kept;
            if (next != kept && to > from)
                append_part(l, line, from, to, kept ? out : dropped);
            if (next != kept) {
                from = to;
                whole = FALSE;
            }
            kept = next;
            to = own->begin + (double)(i + 1) * own->step;
        }
    }
    if (whole)
        dt_lines_append(out, dt_lines_at(l, line), dt_lines_count(l, line), l->closed[line] != 0);
    else
        append_part(l, line, from, to, kept ? out : dropped);
}

static void part_all(const DtCrowd *c, DtPenLines *l, DtLines *dropped)
{
    DtPenLines left = {.owners = g_array_new(FALSE, FALSE, sizeof(int))};
    dt_lines_init(&left.lines);
    guint s = 0;
    for (size_t i = 0; i < l->lines.n; i++) {
        part_line(c, &l->lines, i, &s, &left.lines, dropped);
        while (left.owners->len < left.lines.n)
            g_array_append_val(left.owners, g_array_index(l->owners, int, i));
    }
    dt_lines_clear(&l->lines);
    g_array_free(l->owners, TRUE);
    *l = left;
}

static double luminance(DtColour colour)
{
    return pow((MAX(dt_colour_lab(colour).l, 8) + 16) / 116, 3);
}

/* The width of a line of ink that takes as much light from the paper as a line of the artwork. */
static double width_in_ink(const DtTrace *t, int owner)
{
    const DtStrokeStyle *st = &t->d->shapes[owner / (int)t->rack->n].stroke;
    const DtPen *pen = &t->rack->pens[owner % (int)t->rack->n];
    const double paper = luminance(t->o->paper), ink = luminance(pen->colour),
                 art = luminance(dt_colour_over(st->paint.colour, t->o->paper));
    const double share = paper > ink ? CLAMP((paper - art) / (paper - ink), 0.2, 1) : 1;
    return share * MIN(dt_art_stroke_width_mm(st), pen->tip);
}

static gboolean is_thin(const DtTrace *t, int owner)
{
    return dt_art_stroke_width_mm(&t->d->shapes[owner / (int)t->rack->n].stroke) <=
           THIN_TIPS * t->rack->pens[owner % (int)t->rack->n].tip;
}

static gboolean has_thin(const DtTrace *t, const DtPenLines *l)
{
    for (guint i = 0; i < l->owners->len; i++)
        if (is_thin(t, g_array_index(l->owners, int, i)))
            return TRUE;
    return FALSE;
}

/* By how much the lines exceed what would cover as much as they do in the artwork, mm. */
static double surplus(const DtCrowd *c)
{
    double mm = 0;
    for (guint i = 0; i < c->stretches->len; i++) {
        const DtCrowdStretch *s = &g_array_index(c->stretches, DtCrowdStretch, i);
        for (size_t k = 0; s->thin && k < s->n; k++)
            mm += s->step * (1 - c->left[dt_crowd_cell(c, dt_crowd_sample(c, s->first + k)->at)]);
    }
    return mm;
}

/* What is left out goes to `dropped`; without t->o->thin_out only its length is estimated. */
static gboolean thin_out_pen(DtTrace *t, int pen, DtPenLines *l, DtLines *dropped, GError **error)
{
    if (!has_thin(t, l))
        return TRUE;
    DtCrowd c = {.tip = t->rack->pens[pen].tip,
                 .stretches = g_array_new(FALSE, FALSE, sizeof(DtCrowdStretch)),
                 .samples = g_array_new(FALSE, FALSE, sizeof(DtCrowdSample))};
    dt_crowd_init(&c, &l->lines);
    for (size_t i = 0; i < l->lines.n; i++)
        add_line(&c, &l->lines, i, is_thin(t, g_array_index(l->owners, int, i)),
                 width_in_ink(t, g_array_index(l->owners, int, i)));
    dt_crowd_cover(&c);
    const gboolean good = !t->o->thin_out || choose_all(&c, error);
    if (!t->o->thin_out)
        t->crowded_mm += surplus(&c);
    else if (good)
        part_all(&c, l, dropped);
    dt_crowd_clear(&c);
    return good;
}

/* A place this near (mm) to a line that is left out is on it. */
#define SAME_PLACE 0.02

/* What is left out need not show: its thin places are dropped. */
static void drop_places(DtTrace *t, const DtLines *dropped)
{
    g_autoptr(DtCells) cells = dt_cells_new(SAME_PLACE);
    for (size_t i = 0; i < dropped->n; i++)
        for (size_t k = 0; k + 1 < dt_lines_count(dropped, i); k++)
            dt_cells_add(cells, dt_lines_at(dropped, i)[k], dt_lines_at(dropped, i)[k + 1], i);
    guint n = 0;
    for (guint i = 0; i < t->thin->len; i++) {
        const DtThinPlace p = g_array_index(t->thin, DtThinPlace, i);
        const GArray *near = p.line ? dt_cells_near(cells, p.at) : NULL;
        gboolean gone = FALSE;
        for (guint k = 0; near && k < near->len && !gone; k++) {
            const DtCellStretch *s = &g_array_index(near, DtCellStretch, k);
            gone = dt_point_segment_distance(p.at, s->a, s->b) < SAME_PLACE;
        }
        if (!gone)
            g_array_index(t->thin, DtThinPlace, n++) = p;
    }
    g_array_set_size(t->thin, n);
}

gboolean dt_look_thin_out(DtTrace *t, DtPenLines *all, GError **error)
{
    g_auto(DtLines) dropped;
    dt_lines_init(&dropped);
    for (int pen = 0; pen < (int)t->rack->n; pen++)
        if (!thin_out_pen(t, pen, &all[pen], &dropped, error))
            return FALSE;
    t->crowded_mm += dt_lines_total_length(&dropped);
    if (dropped.n > 0)
        drop_places(t, &dropped);
    return TRUE;
}
