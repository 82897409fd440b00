/* bench-truing-limits: random pens and motors, measured by the settle and speed sheets. Prints by how much
 * the times found exceed those that the pen takes, and what share of the true limits is proposed for the
 * motors, and whether random moves with these lose steps. The speed sheet is drawn again with what the last one
 * proposed until nothing changes.
 * The true limit of the speed follows from the motor. That of the acceleration, or of the jump of speed at a start or
 * a reversal ("pull-in"), is the greatest value up to which rows of equal teeth lose no step, the other one being as
 * proposed: a rotor that swings in their rhythm loses steps soonest, and a fine zigzag that is drawn without lifting the
 * pen is such a row. No pen word comes between: a rotor that waits for a pen comes to rest. Where friction is low, a row
 * may lose steps at one value and keep them at a higher one, and whether it does depends on how the rotor came to rest
 * before it. So every value is tried from the proposed one upwards, and the rows come once in a fixed order and then in
 * a random order with ways of random lengths between. Neither has the order or the ways of the speed sheet.
 * Usage: bench-truing-limits [N] [--seed S] [--settle] [--moves M] */
#include "support/eye-reader.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    double drop_s, lift_s;
    double torque[2], no_load[2], friction[2];
} Machine;

static double between(GRand *r, double a, double b)
{
    return g_rand_double_range(r, a, b);
}

static void draw_machine(Machine *m, guint32 seed)
{
    GRand *r = g_rand_new_with_seed(seed);
    m->drop_s = between(r, 0.03, 0.26);
    m->lift_s = between(r, 0.03, 0.2);
    for (int i = 0; i < 2; i++) {
        m->torque[i] = between(r, 1200, 4000);
        m->no_load[i] = between(r, 25, 45);
        m->friction[i] = between(r, 50, 300);
    }
    g_rand_free(r);
}

static char *rig_text(const Machine *m, gboolean motors)
{
    GString *s = g_string_new(NULL);
    g_string_append_printf(
        s,
        "[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0.2\nbacklash_y = 0.3\n"
        "wave = 0\n[pen]\ndrop_s = %.4f\nlift_s = %.4f\nmerge = 0.0005\n",
        m->drop_s, m->lift_s);
    if (motors)
        g_string_append(
            s, "[controller]\nhome_speed = 5\n"); /* it homes without a ramp at such limits */
    for (int i = 0; i < 2 && motors; i++)
        g_string_append_printf(s,
                               "[controller]\nspeed_%c = 200\nacceleration_%c = 50000\n"
                               "[truth]\ntorque_%c = %.2f\nno_load_%c = %.3f\nfriction_%c = %.2f\n",
                               "xy"[i], "xy"[i], "xy"[i], m -> torque[i], "xy"[i], m -> no_load[i],
                               "xy"[i], m -> friction[i]);
    return g_string_free(s, FALSE);
}

static DtProfile *profile(const char *more)
{
    g_autofree char *text =
        g_strdup_printf("[paper]\nsize = A5 landscape\nat = 5, 5 mm\nmargin = 8 mm\n%s", more);
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "bench", &error);
    g_assert_no_error(error);
    return p;
}

static DtFigures *measure(const Machine *m, const DtProfile *p, guint kind, double *seconds)
{
    DtRigFigures figures;
    g_autoptr(GError) error = NULL;
    gsize len = 0;
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, kind, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    g_autofree char *program = dt_sheet_write(s, p, &len, &error);
    g_assert_no_error(error);
    g_autofree char *truth = rig_text(m, kind == DT_SHEET_SPEED);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(truth, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    dt_rig_figures(rig, &figures);
    *seconds = figures.time_s;
    EyeReader e;
    eye_reader_init(&e, s, rig, 1);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    eye_reader_read(&e, r);
    eye_reader_clear(&e);
    DtFigures *f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    return f;
}

static const DtFigure *find(const DtFigures *f, DtErrorKind kind, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis && f->f[i].known)
            return &f->f[i];
    return NULL;
}

/* Wait beyond what the pen takes, s. */
static double waste(const DtFigures *f, DtErrorKind kind, double truth)
{
    const DtFigure *g = find(f, kind, -1);
    return g ? ceil(g->value * 1000) / 1000 - truth : NAN;
}

static void settle(guint n, guint32 seed)
{
    double least = G_MAXDOUBLE, most = -G_MAXDOUBLE;
    guint unknown = 0;
    for (guint i = 0; i < n; i++) {
        Machine m;
        draw_machine(&m, seed + i);
        g_autoptr(DtProfile) p = profile("");
        double seconds;
        g_autoptr(DtFigures) f = measure(&m, p, DT_SHEET_SETTLE, &seconds);
        const double w[2] = {waste(f, DT_ERROR_OF_DROP_TIME, m.drop_s),
                             waste(f, DT_ERROR_OF_LIFT_TIME, m.lift_s)};
        for (int k = 0; k < 2; k++) {
            unknown += isnan(w[k]);
            least = isnan(w[k]) ? least : MIN(least, w[k]);
            most = isnan(w[k]) ? most : MAX(most, w[k]);
        }
    }
    printf(
        "settle: %u pens; the times found exceed the true ones by %.0f to %.0f ms; %u not found\n",
        n, least * 1000, most * 1000, unknown);
}

/* True limits ---------------------------------------------------------------------------------- */

/* Steps lost on a machine whose controller has the profile's limits. */
static guint lost_steps(const Machine *m, const DtProfile *p, const char *program)
{
    g_autoptr(GString) truth = g_string_new(NULL);
    g_autofree char *machine = rig_text(m, TRUE);
    g_string_append(truth, machine);
    for (int i = 0; i < 2; i++)
        g_string_append_printf(
            truth, "[controller]\nspeed_%c = %.3f\nacceleration_%c = %.1f\npull_in_%c = %.2f\n",
            "xy"[i], p -> speed[i], "xy"[i], p -> acceleration[i], "xy"[i], p -> pull_in[i]);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(truth->str, "truth", NULL);
    dt_rig_run_text(rig, program, strlen(program));
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    return f.steps_slipped;
}

enum { MOST_STEPS = 30 }; /* of a tooth */

/* Random moves by one axis or both: long enough for the highest speed, short, and as tiny as those between the
 * points of fine curves, which turn an axis round before it has come to rest. */
static char *random_moves(guint n, guint32 seed)
{
    static const double reach[] = {40, 8, 0.3, 0.05};
    g_autoptr(GRand) r = g_rand_new_with_seed(seed);
    GString *s = g_string_new("G21G90\nM5\nG28\n");
    double at[2] = {50, 50};
    for (guint i = 0; i < n; i++) {
        const int which = g_rand_int_range(r, 1, 4);
        const double most = reach[g_rand_int_range(r, 0, G_N_ELEMENTS(reach))];
        for (int axis = 0; axis < 2; axis++) {
            const double to = at[axis] + between(r, -most, most);
            if (which >> axis & 1)
                at[axis] = CLAMP(to, 5, axis == 0 ? 205 : 155);
        }
        g_string_append_printf(s, "G0X%.2fY%.2f\n", at[0], at[1]);
    }
    return g_string_free(s, FALSE);
}

static void add_row(GString *s, int axis, double at, int steps)
{
    enum { TEETH = 12 };
    const double steps_per_mm = 100, tooth = steps / steps_per_mm;
    const char name = "XY"[axis];
    g_string_append_printf(s, "G0%c%.2f\n", name, at);
    for (int i = 0; i < TEETH; i++)
        g_string_append_printf(s, "G0%c%.2f\nG0%c%.2f\n", name, at + tooth, name, at);
}

enum { ORDERED, MIXED, ROWS }; /* programs of rows */

/* Each row once at either end of a long way, so that it sets out against its last tooth as well as along with it. */
static char *ordered_rows(int axis)
{
    static const double ends_mm[] = {40, 90};
    GString *s = g_string_new("G21G90\nM5\nG28\n");
    for (int row = 0; row < 2 * MOST_STEPS; row++)
        add_row(s, axis, ends_mm[row % 2], row / 2 + 1);
    return g_string_free(s, FALSE);
}

/* Rows of any number of steps one after the other, a way of any length to either side between them. */
static char *mixed_rows(int axis, guint32 seed)
{
    enum { N = 8 * MOST_STEPS };
    const double least_mm = 0.3, most_mm = 50, low_mm = 10, high_mm = 150;
    g_autoptr(GRand) r = g_rand_new_with_seed(seed);
    GString *s = g_string_new("G21G90\nM5\nG28\n");
    double at = (low_mm + high_mm) / 2;
    for (int row = 0; row < N; row++) {
        const double way = least_mm * pow(most_mm / least_mm, between(r, 0, 1));
        at += g_rand_boolean(r) ? way : -way;
        if (at < low_mm || at > high_mm)
            at = (low_mm + high_mm) / 2;
        add_row(s, axis, at, g_rand_int_range(r, 1, MOST_STEPS + 1));
    }
    return g_string_free(s, FALSE);
}

static gboolean loses(const Machine *m, DtProfile *p, double *limit, double to, const char *moves)
{
    const double proposed = *limit;
    *limit = to;
    const gboolean lost = lost_steps(m, p, moves) > 0;
    *limit = proposed;
    return lost;
}

/* How many times the proposed value of `limit`, one of the profile's, is the greatest up to which no program of
 * `rows` loses a step, the others being as proposed; to 1 %. */
static double reserve(const Machine *m, DtProfile *p, double *limit, char *const rows[ROWS])
{
    const double step = 1.02, most = 5;
    for (double by = step; by < most; by *= step)
        for (int k = 0; k < ROWS; k++)
            if (loses(m, p, limit, by * *limit, rows[k]))
                return by / sqrt(step);
    return most;
}

/* Above which speed the torque does not carry its friction. */
static double speed_limit(const Machine *m, int axis)
{
    return m->no_load[axis] * (1 - m->friction[axis] / m->torque[axis]);
}

/* Takes what a sheet proposes; FALSE where that is nothing. */
static gboolean correct(DtProfile *p, const DtFigures *f)
{
    gboolean changed = FALSE;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        const double to = dt_truing_limit_share(g->kind) * g->value;
        if (!g->proposed)
            continue;
        if (g->kind == DT_ERROR_OF_SPEED)
            p->speed[g->axis] = to;
        if (g->kind == DT_ERROR_OF_ACCELERATION)
            p->acceleration[g->axis] = to;
        if (g->kind == DT_ERROR_OF_PULL_IN)
            p->pull_in[g->axis] = to;
        changed = TRUE;
    }
    return changed;
}

/* Shares of the true limits. */
typedef struct {
    double least, most;
} Range;

static void widen(Range *r, double v)
{
    r->least = MIN(r->least, v);
    r->most = MAX(r->most, v);
}

enum { SPEED, ACCELERATION, PULL_IN, LIMITS };
static const char *const limit_names[LIMITS] = {"speed", "acceleration", "pull-in"};
static const double least_share = 0.6; /* a proposal below is too low */

typedef struct {
    Range share[LIMITS];
    guint low[LIMITS];
    guint machines, lossy_early, lossy, sheets, unsettled;
    double minutes; /* of the longest sheet */
} Tally;

/* The proposed limits of an axis as shares of the true ones. */
static void add_shares(Tally *t, const Machine *m, DtProfile *p, int axis, char *const rows[ROWS])
{
    const double share[LIMITS] = {
        [SPEED] = p->speed[axis] / speed_limit(m, axis),
        [ACCELERATION] = 1 / reserve(m, p, &p->acceleration[axis], rows),
        [PULL_IN] = 1 / reserve(m, p, &p->pull_in[axis], rows),
    };
    printf(" %c", "XY"[axis]);
    for (int i = 0; i < LIMITS; i++) {
        widen(&t->share[i], share[i]);
        t->low[i] += share[i] < least_share;
        printf(" %s %.2f", limit_names[i], share[i]);
    }
    printf(";");
}

enum { MOST_SHEETS = 8, EARLY_MOVES = 300 };

static void try_limits(Tally *t, guint32 seed, guint n_moves)
{
    Machine m;
    draw_machine(&m, seed);
    g_autoptr(DtProfile) p = profile("");
    p->drop_s = m.drop_s; /* the settle sheet comes first */
    p->lift_s = m.lift_s;
    guint early = 0, lost_in_rows = 0;
    int sheets = 0;
    gboolean goes_on = TRUE;
    for (; goes_on && sheets < MOST_SHEETS; sheets++) {
        double s;
        g_autofree char *moves = random_moves(EARLY_MOVES, seed + 100 * (guint32)sheets);
        g_autoptr(DtFigures) f = measure(&m, p, DT_SHEET_SPEED, &s);
        goes_on = correct(p, f);
        t->minutes = MAX(t->minutes, s / 60);
        early += goes_on ? lost_steps(&m, p, moves) : 0;
    }
    g_autofree char *moves = random_moves(n_moves, seed);
    const guint lost = lost_steps(&m, p, moves);
    printf("%u: %d sheets;", seed, sheets);
    for (int axis = 0; axis < 2; axis++) {
        g_autofree char *ordered = ordered_rows(axis), *mixed = mixed_rows(axis, seed);
        char *const rows[ROWS] = {ordered, mixed};
        for (int k = 0; k < ROWS; k++)
            lost_in_rows += lost_steps(&m, p, rows[k]);
        add_shares(t, &m, p, axis, rows);
    }
    t->machines++;
    t->lossy_early += early > 0;
    t->lossy += lost + lost_in_rows > 0;
    t->sheets += (guint)sheets;
    t->unsettled += goes_on;
    printf(" %u steps lost in %u moves, %u in rows of teeth, %u between sheets\n", lost, n_moves,
           lost_in_rows, early);
    fflush(stdout);
}

static void print_limits(const Tally *t)
{
    printf("limits: %u machines, %.1f sheets each, %.0f minutes at most; something still changed "
           "after %d sheets on %u\n",
           t->machines, t->sheets / (double)t->machines, t->minutes, MOST_SHEETS, t->unsettled);
    for (int i = 0; i < LIMITS; i++)
        printf("  %s: %.2f to %.2f of the true limit, below %.1f on %u of %u axes\n",
               limit_names[i], t->share[i].least, t->share[i].most, least_share, t->low[i],
               2 * t->machines);
    printf("  steps lost with the last proposal on %u machines, with an earlier one on %u\n",
           t->lossy, t->lossy_early);
    fflush(stdout);
}

static void limits(guint n, guint32 seed, guint n_moves)
{
    enum { BETWEEN = 10 }; /* machines: what there is so far, should it be broken off */
    Tally t = {0};
    for (int i = 0; i < LIMITS; i++)
        t.share[i].least = G_MAXDOUBLE;
    for (guint i = 0; i < n; i++) {
        try_limits(&t, seed + i, n_moves);
        if (i + 1 == n || (i + 1) % BETWEEN == 0)
            print_limits(&t);
    }
}

int main(int argc, char **argv)
{
    int n = 2, seed = 1, moves = 2000;
    gboolean settle_only = FALSE;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            seed = atoi(argv[++i]);
        else if (strcmp(argv[i], "--settle") == 0)
            settle_only = TRUE;
        else if (strcmp(argv[i], "--moves") == 0 && i + 1 < argc)
            moves = atoi(argv[++i]);
        else
            n = atoi(argv[i]);
    }
    settle((guint)n, (guint32)seed);
    if (!settle_only)
        limits((guint)n, (guint32)seed, (guint)moves);
    return 0;
}
