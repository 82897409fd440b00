/* asks: the questions that can be asked about a sheet by eye, found from its marks, and their
 * wording. */
#include "truing/eye/eye.h"
#include "truing/sheet/sheet-parts.h"

#include <math.h>
#include <string.h>

static const double vernier_sd = 0.29, rule_sd_mm = 0.06, ladder_sd = 0.5, tone_sd = 0.5;
static const double most_bow_mm = 2; /* between a line and a straight edge */
/* Space for numbers above and below, or beside upright text; names at the ends. */
enum { edge_every = 3 }; /* ticks along a line */
static const double around_mm = 3, beside_mm = 6.5, name_mm = 5.5, next_number_mm = 27;

DtPoint dt_sheet_turned_back(const DtTestSheet *s, DtPoint at)
{
    return dt_point(s->paper_at.x + (at.y - s->paper_at.y),
                    s->paper_at.y + s->paper_h - (at.x - s->paper_at.x));
}

/* Names ----------------------------------------------------------------------------------------- */

static void name_ask(DtAsk *a, int in_axis)
{
    static const char ladders[DT_SPEED_ROWS + 1] = "VAP"; /* P: on sheets of earlier versions */
    switch (a->part) {
    case DT_SHEET_SLACK:
        g_snprintf(a->name, sizeof a->name, "%s%c%d", a->row >= DT_SLACK_TWIST_ROW ? "T" : "",
                   "XY"[a->axis], in_axis + 1);
        break;
    case DT_SHEET_SCALE:
    case DT_SHEET_SCAN:
        if (a->row < DT_EYE_PLACES)
            g_snprintf(a->name, sizeof a->name, "L%c", "XY"[a->axis]);
        else
            g_snprintf(a->name, sizeof a->name, "%c%c%d", a->kind == DT_ASK_EDGE ? 'B' : 'L',
                       "XY"[a->axis], a -> row % DT_EYE_PLACES * 10);
        break;
    case DT_SHEET_SQUARE:
        g_snprintf(a->name, sizeof a->name, "S%d", a->row + 1);
        break;
    case DT_SHEET_SETTLE:
        g_snprintf(a->name, sizeof a->name, "%s",
                   a->row == 0   ? "drop"
                   : a->row == 1 ? "lift"
                                 : "height");
        break;
    case DT_SHEET_SPEED:
        g_snprintf(a->name, sizeof a->name, "%c%c", "XY"[a->row / DT_SPEED_ROWS % 2],
                   ladders[a->row % DT_SPEED_ROWS]);
        break;
    default:
        if (a->kind == DT_ASK_VERNIER)
            g_snprintf(a->name, sizeof a->name, "P%d%c", a->row / 2 + 1, "XY"[a->axis]);
        else if (a->kind == DT_ASK_TONE)
            g_snprintf(a->name, sizeof a->name, "T%d", a->row + 1);
        else
            g_snprintf(a->name, sizeof a->name, "W%d", a->row + 1);
    }
}

char *dt_eye_question(const DtAsk *a)
{
    switch (a->part) {
    case DT_SHEET_SLACK:
    case DT_SHEET_PENS:
        if (a->kind == DT_ASK_TONE)
            return g_strdup_printf(
                _("%s: hold the sheet at arm's length and half close your eyes, until the lines "
                  "run together. Which number of the upper strip is as dark as the bars below it?"),
                a->name);
        if (a->kind == DT_ASK_LADDER)
            return g_strdup_printf(
                _("%s: which is the first pair of lines with paper between them, counted "
                  "from the left?"),
                a->name);
        return g_strdup_printf(
            _("%s: which number of the upper comb (right-hand comb where they stand "
              "upright) lines up with the tick that it meets?"),
            a->name);
    case DT_SHEET_SQUARE:
        return g_strdup_printf(
            _("%s: turn the sheet until its numbers stand upright. Which number of the "
              "vernier lines up with the tick that it meets? Mind the minus. Long ticks are "
              "5 apart; where both combs' ticks at 0 are not nearest to each other, say "
              "which tick it meets as well: 6 at 7."),
            a->name);
    case DT_SHEET_SCALE:
    case DT_SHEET_SCAN:
        if (a->kind == DT_ASK_EDGE)
            return g_strdup_printf(
                a->axis == 0 ? _("%s: lay a straight edge along the long line, through the middle "
                                 "of the line at its first and its last "
                                 "tick. How many mm is the middle of the line above the edge at "
                                 "tick %d, to a tenth? Below it: with a minus.")
                             : _("%s: lay a straight edge along the long line, through the middle "
                                 "of the line at its first and its last "
                                 "tick. How many mm is the middle of the line to the right of the "
                                 "edge at tick %d, to a tenth? Left of it: with "
                                 "a minus."),
                a->name, a->row % DT_EYE_PLACES * 10);
        if (a->row >= DT_EYE_PLACES)
            return g_strdup_printf(
                _("%s: and how many mm to the middle of tick %d? Ticks are 10 apart, and every "
                  "fifth has its number. The rule may stay where it is."),
                a->name, a->row % DT_EYE_PLACES * 10);
        return g_strdup_printf(
            _("%s: how many mm from the middle of its first tick to the middle of its last, to "
              "a tenth? Lay the rule on anew each time, not from its end."),
            a->name);
    case DT_SHEET_SETTLE:
        if (a->row == 2)
            return g_strdup(_("height: which is the lowest number whose dash, and every one above "
                              "it, is drawn evenly from end to end?"));
        return a->row == 0
                   ? g_strdup(_("drop: which is the lowest number whose dash, and every one above "
                                "it, leaves no wider gap to the line than the top one does?"))
                   : g_strdup(_("lift: which is the lowest number whose dash, and every one above "
                                "it, ends without a hook?"));
    default:
        if (a->row % DT_SPEED_ROWS == DT_SPEED_SHARP)
            return g_strdup_printf(
                _("%s: start at number %d, which has the profile's own value, and go up. Which is "
                  "the first number whose three ticks no longer make one straight line? Where %d "
                  "itself does not, give it if the number below it does, or else 1. Say %g where "
                  "all of them do."),
                a->name, DT_SPEED_OWN_RUNG, DT_SPEED_OWN_RUNG, a->most);
        return g_strdup_printf(
            _("%s: which is the first number whose three ticks no longer make one straight "
              "line? Say %g where all of them do."),
            a->name, a->most);
    }
}

/* Finding ------------------------------------------------------------------------------------- */

/* The contents of the marks of one row. */
typedef struct {
    DtSheetKind part;
    int row, axis, least, most;
    gboolean vernier, comb, dash, gauge, tone;
    DtBox box;
} Row;

static int number_of(const DtMark *m)
{
    return m->kind == DT_MARK_GAUGE      ? m->axis
           : m->kind == DT_MARK_POSITION ? DT_EYE_PLACES * (1 + m->axis) + m->place
                                         : m->row;
}

static Row *row_of(GArray *rows, const DtMark *m, int number)
{
    const gboolean dash = m->kind == DT_MARK_DASH && m->part == DT_SHEET_PENS;
    const gboolean tone = m->kind == DT_MARK_TONE;
    for (guint i = 0; i < rows->len; i++) {
        Row *r = &g_array_index(rows, Row, i);
        if (r->part == m->part && r->row == number && r->dash == dash && r->tone == tone)
            return r;
    }
    const Row fresh = {.part = m->part,
                       .row = number,
                       .axis = -1,
                       .least = G_MAXINT,
                       .most = G_MININT,
                       .dash = dash,
                       .tone = tone,
                       .box = DT_BOX_EMPTY};
    g_array_append_val(rows, fresh);
    return &g_array_index(rows, Row, rows->len - 1);
}

/* Ticks along a line, read once each. */
static gboolean is_place(const DtMark *m)
{
    return m->kind == DT_MARK_POSITION && m->part == DT_SHEET_SCALE && m->axis >= 0 &&
           m->axis < 2 && m->place > 0 && m->place < DT_EYE_PLACES;
}

/* Of the part for scans one line along each axis is measured with a rule; nothing else of it is
 * read by eye. */
static gboolean is_read(const DtTestSheet *s, const DtMark *m)
{
    const gboolean gauge = m->kind == DT_MARK_GAUGE && m->axis >= 0 && m->place > 0;
    if (m->part == DT_SHEET_PENS && m->kind == DT_MARK_DASH && m->axis >= 0)
        return FALSE; /* for a scan */
    if (m->kind == DT_MARK_TONE)
        return !(s->kinds & DT_SHEET_SCAN);
    return gauge || is_place(m) ||
           (m->part != DT_SHEET_SCAN &&
            (m->kind == DT_MARK_COMB || m->kind == DT_MARK_VERNIER || m->kind == DT_MARK_DASH));
}

static void take_mark(GArray *rows, const DtTestSheet *s, const DtMark *m, int number,
                      gboolean turned)
{
    Row *r = row_of(rows, m, number);
    r->vernier |= m->kind == DT_MARK_VERNIER;
    r->gauge |= m->kind == DT_MARK_GAUGE || m->kind == DT_MARK_POSITION;
    r->comb |= m->kind == DT_MARK_COMB;
    const gboolean line = m->part == DT_SHEET_SETTLE && m->place < 0; /* reference for the dashes */
    const gboolean bar = m->kind == DT_MARK_TONE && m->place == 0;
    if (m->kind != DT_MARK_GAUGE && !line && !bar) {
        r->least = MIN(r->least, m->place);
        r->most = MAX(r->most, m->place);
    }
    if (m->kind != DT_MARK_COMB && m->kind != DT_MARK_DASH)
        r->axis = m->axis >= 0 ? m->axis : r->axis;
    r->box = dt_box_add_point(r->box, turned ? dt_sheet_turned_back(s, m->from) : m->from);
    r->box = dt_box_add_point(r->box, turned ? dt_sheet_turned_back(s, m->to) : m->to);
}

static DtAsk ask_of(const DtTestSheet *s, const Row *r, int in_axis)
{
    DtAsk a = {.part = r->part,
               .row = r->row,
               .axis = MAX(r->axis, 0),
               .times = 1,
               .least = r->least,
               .most = r->most};
    const gboolean wide = dt_box_width(r->box) > dt_box_height(r->box);
    const double ends_mm = r->tone ? name_mm + around_mm : name_mm; /* behind the last one */
    /* a tick alone could be any: its neighbours are seen as far as the next number */
    const gboolean tick = r->gauge && r->row >= DT_EYE_PLACES;
    const gboolean sideways = r->part == DT_SHEET_SQUARE && !r->gauge; /* so are its numbers */
    const double x = tick && r->axis == 0 ? next_number_mm
                     : wide || sideways   ? ends_mm
                                          : beside_mm,
                 y = tick && r->axis == 1 ? next_number_mm
                     : wide && !sideways  ? around_mm
                                          : name_mm;
    a.view = (DtBox){r->box.x0 - x, r->box.y0 - y, r->box.x1 + x, r->box.y1 + y};
    if (r->tone) {
        a.kind = DT_ASK_TONE;
        a.sd = tone_sd;
    } else if (r->part == DT_SHEET_SPEED || r->part == DT_SHEET_SETTLE || r->dash) {
        a.kind = DT_ASK_LADDER;
        a.sd = ladder_sd;
        a.most += r->part == DT_SHEET_SPEED; /* none of them */
    } else if (r->row >= DT_EYE_PLACES * 3) {
        a.kind = DT_ASK_EDGE;
        a.sd = rule_sd_mm;
        a.least = -most_bow_mm;
        a.most = most_bow_mm;
    } else if (r->gauge) {
        const gboolean place = r->row >= DT_EYE_PLACES;
        const double mm = place ? dt_eye_place_mm(s, r->axis, r->row % DT_EYE_PLACES)
                                : dt_eye_gauge_mm(s, r->axis);
        a.kind = DT_ASK_RULE;
        a.sd = rule_sd_mm;
        a.times = place ? 1 : DT_EYE_TIMES;
        a.least = 0.9 * mm;
        a.most = 1.1 * mm;
    } else {
        a.kind = DT_ASK_VERNIER;
        a.sd = vernier_sd;
    }
    name_ask(&a, in_axis);
    return a;
}

/* Slack first, since everything else depends on it. */
static int by_part(const void *a, const void *b)
{
    const Row *p = a, *q = b;
    const int part = (int)p->part - (int)q->part;
    const int sort = (p->dash + 2 * p->tone) - (q->dash + 2 * q->tone);
    return part != 0 ? part : sort != 0 ? sort : p->row - q->row;
}

DtAsk *dt_eye_asks(const DtTestSheet *s, size_t *n)
{
    g_autoptr(GArray) rows = g_array_new(FALSE, FALSE, sizeof(Row));
    gboolean turned = FALSE;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        turned |= m->kind == DT_MARK_PAUSE;
        if (!is_read(s, m))
            continue;
        take_mark(rows, s, m, number_of(m), turned);
        if (is_place(m) && m->place % edge_every == 0)
            take_mark(rows, s, m, DT_EYE_PLACES * (3 + m->axis) + m->place, turned);
    }
    g_array_sort(rows, by_part);
    DtAsk *asks = g_new0(DtAsk, MAX(rows->len, 1));
    int in_axis = 0;
    for (guint i = 0; i < rows->len; i++) {
        const Row *r = &g_array_index(rows, Row, i);
        const gboolean goes_on = i > 0 && r[-1].part == r->part && r[-1].axis == r->axis;
        in_axis = goes_on ? in_axis + 1 : 0;
        asks[i] = ask_of(s, r, in_axis);
    }
    *n = rows->len;
    return asks;
}

DtEyeChoice *dt_eye_choices(const DtTestSheet *s, const DtAsk *a, size_t *n)
{
    const DtMarkKind kind = a->kind == DT_ASK_TONE ? DT_MARK_TONE
                            : a->kind == DT_ASK_VERNIER || a->part == DT_SHEET_SPEED
                                ? DT_MARK_VERNIER
                                : DT_MARK_DASH;
    GArray *list = g_array_new(FALSE, FALSE, sizeof(DtEyeChoice));
    gboolean turned = FALSE;
    for (size_t i = 0; i < s->n && a->kind != DT_ASK_RULE; i++) {
        const DtMark *m = &s->marks[i];
        turned |= m->kind == DT_MARK_PAUSE;
        if (m->kind != kind || m->part != a->part || m->row != a->row || m->place < a->least ||
            m->place > a->most)
            continue;
        const DtEyeChoice c = {m->place, turned ? dt_sheet_turned_back(s, m->from) : m->from,
                               turned ? dt_sheet_turned_back(s, m->to) : m->to};
        g_array_append_val(list, c);
    }
    *n = list->len;
    return (DtEyeChoice *)(void *)g_array_free(list, FALSE);
}

/* Ticks --------------------------------------------------------------------------------------- */

static const DtMark *find_tick(const DtTestSheet *s, const DtAsk *a, DtMarkKind kind, int place)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind == kind && m->part == a->part && m->row == a->row && m->place == place)
            return m;
    }
    return NULL;
}

/* Between two ticks, or within one beyond the last: such a reading may be as uncertain as any. */
static gboolean tick_at(const DtTestSheet *s, const DtAsk *a, DtMarkKind kind, double k,
                        DtPoint *at)
{
    int low = (int)floor(k);
    if (find_tick(s, a, kind, low) == NULL)
        low++;
    else if (k > low && find_tick(s, a, kind, low + 1) == NULL)
        low--;
    const DtMark *m = find_tick(s, a, kind, low), *next = find_tick(s, a, kind, low + 1);
    if (m == NULL || (next == NULL && k > low))
        return FALSE;
    const DtPoint here = dt_point_lerp(m->from, m->to, 0.5);
    *at = next ? dt_point_lerp(here, dt_point_lerp(next->from, next->to, 0.5), k - low) : here;
    return TRUE;
}

gboolean dt_eye_ticks(const DtTestSheet *s, const DtAsk *a, double k, int shift, DtPoint *main,
                      DtPoint *vernier)
{
    return tick_at(s, a, DT_MARK_COMB, k + shift, main) &&
           tick_at(s, a, DT_MARK_VERNIER, k, vernier);
}

gboolean dt_eye_apart(const DtTestSheet *s, const DtAsk *a, const DtEyeAnswer *e, double scale,
                      double *at, double *mm, double *sd)
{
    DtPoint main, vernier, next_main, next;
    const double to = e->value + (e->value + 1 <= a->most ? 1 : -1);
    if (!dt_eye_ticks(s, a, e->value, e->shift, &main, &vernier) ||
        !dt_eye_ticks(s, a, to, e->shift, &next_main, &next))
        return FALSE;
    const double apart = a->axis == 0 ? main.x - vernier.x : main.y - vernier.y;
    const double after = a->axis == 0 ? next_main.x - next.x : next_main.y - next.y;
    *at = scale * (a->axis == 0 ? main.x : main.y);
    *mm = scale * apart;
    *sd = scale * fabs(after - apart) * e->sd;
    return TRUE;
}

double dt_eye_gauge_start(const DtTestSheet *s, int axis)
{
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == DT_MARK_GAUGE && s->marks[i].axis == axis && s->marks[i].place == 1)
            return axis == 0 ? s->marks[i].from.x : s->marks[i].from.y;
    return 0;
}

double dt_eye_gauge_mm(const DtTestSheet *s, int axis)
{
    double ends[2] = {NAN, NAN};
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind == DT_MARK_GAUGE && m->axis == axis && (m->place == 1 || m->place == 2))
            ends[m->place - 1] = axis == 0 ? m->from.x : m->from.y;
    }
    return isnan(ends[1] - ends[0]) ? 0 : ends[1] - ends[0];
}

double dt_eye_place_mm(const DtTestSheet *s, int axis, int place)
{
    double first = NAN, there = NAN;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        const double at = axis == 0 ? m->from.x : m->from.y;
        if (m->part != DT_SHEET_SCALE || m->axis != axis)
            continue;
        if (m->kind == DT_MARK_GAUGE && m->place == 1)
            first = at;
        else if (m->kind == DT_MARK_POSITION && m->place == place)
            there = at;
    }
    return isnan(there - first) ? 0 : there - first;
}

gboolean dt_eye_place_at(const DtTestSheet *s, const DtAsk *a, DtPoint *at)
{
    if (a->part != DT_SHEET_SCALE || a->row < DT_EYE_PLACES)
        return FALSE;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->part != DT_SHEET_SCALE || m->axis != a->axis || m->kind != DT_MARK_POSITION ||
            m->place != a->row % DT_EYE_PLACES)
            continue;
        *at = dt_point_lerp(m->from, m->to, 0.5);
        return TRUE;
    }
    return FALSE;
}
