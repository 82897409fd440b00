/* part-speed: how fast may an axis go? Each rung homes, draws a tick, goes out and back five times, fast
 * one way and gently the other, and draws a tick that should go on where the first one ends. Where they part, the motor has lost steps.
 *
 * The controller's own limits must lie above all of this; ramps are made here, as chains of short pieces
 * of rising feed. Three ladders for each axis: speed with gentle ramps, acceleration up to the profile's
 * speed, and pull-in, a start without a ramp. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

enum {
    MOST_RUNGS = 14,
    ALL_RUNGS = 36,
    RUNS = 5,
    FAST_OUT = 3,
    LADDERS = 3,
    SPEED = 0,
    ACCELERATION = 1,
    PULL_IN = 2,
    PIECES = 20
};
static const double ratio = 1.15, lowest = 0.8, run_mm = 24, row_mm = 3, tick_mm = 1.3,
                    gentle = 0.5;

typedef struct {
    DtTestSheet *sheet;
    int axis, ladder, rung;
    DtPoint at;                 /* where its tick stands */
    double speed, acceleration; /* 0: without a ramp */
    double start;               /* mm/s at which the ramp begins */
    double slow;                /* mm/s at which any motor starts without a ramp */
} Rung;

static DtPoint place(const Rung *r, double along, double across)
{
    return r->axis == 0 ? dt_point(r->at.x + along, r->at.y + across)
                        : dt_point(r->at.x + across, r->at.y + along);
}

static void add_tick(const Rung *r, DtMarkKind kind)
{
    const double from = kind == DT_MARK_COMB ? tick_mm : 0.2;
    DtMark m = dt_sheet_mark(kind, DT_SHEET_SPEED, r->axis, place(r, 0, from),
                             place(r, 0, from - tick_mm));
    m.approach[r->axis] = 1;
    m.feed_mm_s = r->slow;
    m.row = r->axis * LADDERS + r->ladder;
    m.place = r->rung;
    dt_sheet_add(r->sheet, &m);
}

static void add_piece(const Rung *r, double from, double to, double feed)
{
    DtMark m = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_SPEED, -1, place(r, from, 0), place(r, to, 0));
    m.row = r->axis * LADDERS + r->ladder;
    m.place = r->rung;
    m.feed_mm_s = feed;
    dt_sheet_add(r->sheet, &m);
}

/* Speed at a way from the start of a ramp: v^2 = v0^2 + 2 a s. */
static double ramp_speed(const Rung *r, double way)
{
    if (r->acceleration <= 0)
        return r->speed;
    return MIN(r->speed, sqrt(r->start * r->start + 2 * r->acceleration * way));
}

/* Where piece `i` of a run begins: a ramp of PIECES, the whole speed, and the same ramp down. */
static double node(double ramp, int i)
{
    return i <= PIECES ? ramp * i / PIECES : run_mm - ramp * (2 * PIECES + 1 - i) / PIECES;
}

/* From one end of the run to the other or, where `back`, the other way. */
static void add_run(const Rung *r, gboolean back)
{
    const double a = 4, b = 4 + run_mm;
    const double whole = r->acceleration > 0 ? MAX(r->speed * r->speed - r->start * r->start, 0) /
                                                   (2 * r->acceleration)
                                             : 0;
    const double ramp = MIN(whole, run_mm / 2 - 0.5);
    if (ramp <= 0) {
        add_piece(r, back ? b : a, back ? a : b, r->speed);
        return;
    }
    for (int i = 0; i < 2 * PIECES + 1; i++) {
        const double from = node(ramp, i), to = node(ramp, i + 1);
        const double feed = ramp_speed(r, i < PIECES ? from : i == PIECES ? ramp : run_mm - to);
        add_piece(r, back ? b - from : a + from, back ? b - to : a + to, feed);
    }
}

/* A motor that stalls loses as much on the way back as on the way out, and nothing would show: three runs
 * are fast on the way out alone, two on the way back. */
static void add_rung(const Rung *r, const DtProfile *p)
{
    Rung gently = *r;
    gently.speed = gentle * p->speed[r->axis];
    gently.acceleration = gentle * p->acceleration[r->axis];
    const DtMark home =
        dt_sheet_mark(DT_MARK_HOME, DT_SHEET_SPEED, -1, dt_point(0, 0), dt_point(0, 0));
    dt_sheet_add(r->sheet, &home);
    add_tick(r, DT_MARK_COMB);
    for (int i = 0; i < RUNS; i++) {
        const gboolean out = i < FAST_OUT;
        add_run(out ? r : &gently, FALSE);
        add_run(out ? &gently : r, TRUE);
    }
    add_tick(r, DT_MARK_VERNIER);
}

static Rung rung_of(DtTestSheet *s, const DtProfile *p, int axis, int ladder, int i)
{
    const double k = lowest * pow(ratio, i);
    Rung r = {.sheet = s,
              .axis = axis,
              .ladder = ladder,
              .rung = i + 1,
              .start = p->pull_in[axis], /* as the controller does */
              .slow = MIN(p->pull_in[0], p->pull_in[1]) / 2};
    r.speed = ladder == SPEED          ? k * p->speed[axis]
              : ladder == ACCELERATION ? p->speed[axis]
                                       : k * p->pull_in[axis];
    r.acceleration = ladder == SPEED          ? gentle * p->acceleration[axis]
                     : ladder == ACCELERATION ? k * p->acceleration[axis]
                                              : 0;
    return r;
}

static gboolean add_name(DtTestSheet *s, const Rung *r, GError **error)
{
    static const char *const words[LADDERS] = {"V", "A", "P"};
    char text[8];
    g_snprintf(text, sizeof text, "%c%s%d", r->axis == 0 ? 'X' : 'Y', words[r->ladder], r->rung);
    const DtPoint at = r->axis == 0 ? place(r, -1.5, -0.8) : place(r, -2.5, 0.4);
    return r->rung % 3 != 1 ||
           dt_sheet_add_text(s, DT_SHEET_SPEED, text, at, 1.6, r->axis == 0 ? 1 : 0.5, error);
}

/* At the controller's own limits a usual feed would be a start without a ramp. */
static void draw_letters_slowly(DtTestSheet *s, const DtProfile *p)
{
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == DT_MARK_LETTER)
            s->marks[i].feed_mm_s = MIN(p->pull_in[0], p->pull_in[1]) / 2;
}

gboolean dt_sheet_add_speed(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    const double rows = ALL_RUNGS * row_mm, names = 12, along = run_mm + 6 + names;
    if (!dt_sheet_need_room(area, along + 6 + rows, MAX(rows, along), "speed", error))
        return FALSE;
    for (int axis = 0; axis < 2; axis++)
        for (int i = 0; i < ALL_RUNGS; i++) {
            const int ladder = i / MOST_RUNGS;
            Rung r = rung_of(s, p, axis, ladder, i % MOST_RUNGS);
            r.at = axis == 0 ? dt_point(area.x0 + names, area.y0 + i * row_mm)
                             : dt_point(area.x0 + along + 6 + i * row_mm, area.y0 + names);
            add_rung(&r, p);
            if (!add_name(s, &r, error))
                return FALSE;
        }
    draw_letters_slowly(s, p);
    return TRUE;
}
