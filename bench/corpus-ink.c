/* corpus-ink: real drawings to ink on A4, held against librsvg: ./dev corpus --ink [N] [DIR]. */
#include "drawtrue/ink.h"
#include "corpus-ink-fills.h"
#include "support/files.h"
#include "support/pen-bound.h"
#include "support/witness.h"

#include <librsvg/rsvg.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TIP 0.4
#define MARGIN 10.0
#define BAR 0.85
#define FINE 20.0 /* px per mm, where a pen is told from what is narrower */

typedef struct {
    GArray *iou, *iou_raw, *time_s; /* double */
    size_t able, doing;             /* drawings that any plan could draw to BAR; that ours does */
    size_t done, refused;
    FillTotals fills;
} Totals;

static DtRack four_pens(void)
{
    static DtPen pens[4] = {
        {.name = "black", .colour = {0.1, 0.1, 0.1, 1}, .tip = TIP, .dot_gain = 1},
        {.name = "blue", .colour = {0.1, 0.2, 0.7, 1}, .tip = TIP, .dot_gain = 1},
        {.name = "red", .colour = {0.8, 0.1, 0.1, 1}, .tip = TIP, .dot_gain = 1},
        {.name = "green", .colour = {0.1, 0.5, 0.2, 1}, .tip = TIP, .dot_gain = 1}};
    return (DtRack){pens, 4};
}

/* CSS pixels per mm: a document without a viewBox is drawn by librsvg in these, whatever page it is
 * given. */
#define PX (96 / 25.4)

/* The page on A4, upright or turned to the larger scale, y up. */
static WitnessSheet lay_on_sheet(const DtDrawing *d)
{
    double w = 210, h = 297;
    if (d->width > d->height) {
        w = 297;
        h = 210;
    }
    double k = MIN((w - 2 * MARGIN) / d->width, (h - 2 * MARGIN) / d->height);
    DtAffine m = {k, 0, 0, -k, (w - k * d->width) / 2, (h + k * d->height) / 2};
    return (WitnessSheet){d->width * PX,
                          d->height * PX,
                          dt_affine_then(dt_affine_scale(1 / PX, 1 / PX), m),
                          {0, 0, w, h},
                          10};
}

static void to_witness(const DtStrokes *s, WitnessInk *ink)
{
    for (size_t i = 0; i < s->n; i++)
        witness_ink_add(ink, s->pts + s->strokes[i].first, s->strokes[i].n,
                        s->strokes[i].closed != 0, s->strokes[i].pen);
}

/* `raw` with all ink counted; c->iou without what no pen could avoid, which takes a finer raster to
 * tell and is looked for where anything is amiss. */
static gboolean cover(const char *path, WitnessSheet *sheet, const WitnessInk *ink,
                      const char *picture, double *raw, WitnessCoverage *c, GError **error)
{
    static const double tips[4] = {TIP, TIP, TIP, TIP};
    if (!witness_coverage(path, sheet, ink, tips, 4, picture, c, error))
        return FALSE;
    *raw = c->iou;
    WitnessCoverage fine;
    sheet->px_per_mm = FINE; /* at which librsvg fails on some large text */
    if (*raw < 0.95 && witness_coverage_by_pen(path, sheet, ink, tips, 4, TIP, NULL, &fine, NULL))
        *c = fine;
    return TRUE;
}

/* The best that any plan can reach, as pen_bound_iou() has it; 1 where ours is good enough, or
 * where librsvg fails on the finer raster. */
static double best_of_any(const char *path, WitnessSheet sheet, double raw)
{
    int w, h;
    sheet.px_per_mm = FINE;
    g_autofree uint8_t *mask = raw < BAR ? witness_painted(path, &sheet, &w, &h, NULL) : NULL;
    return mask ? pen_bound_iou(mask, w, h, TIP / 2 * FINE) : 1;
}

static gboolean judge(const char *path, Totals *t, const char *picture, GError **error)
{
    g_autoptr(DtDrawing) d = dt_art_read(path, &DT_ART_OPTIONS_DEFAULT, error);
    if (!d)
        return FALSE;
    WitnessSheet sheet = lay_on_sheet(d);
    dt_art_place(d, dt_affine_then(dt_affine_scale(PX, PX), sheet.page_to_bed));
    judge_fills(d, TIP, &t->fills);
    g_auto(DtStrokes) s;
    dt_strokes_init(&s);
    DtRack rack = four_pens();
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    o.solid = TRUE; /* what is judged here is where the ink lies, not how dark it looks */
    gint64 begin = g_get_monotonic_time();
    if (!dt_ink_trace(d, &rack, &o, &s, NULL, error))
        return FALSE;
    double took = (double)(g_get_monotonic_time() - begin) / 1e6;
    g_auto(WitnessInk) ink;
    witness_ink_init(&ink);
    to_witness(&s, &ink);
    WitnessCoverage c;
    double raw;
    if (!cover(path, &sheet, &ink, picture, &raw, &c, error))
        return FALSE;
    g_array_append_val(t->time_s, took);
    double best = 1;
    if (c.art_mm2 > 1) {
        best = best_of_any(path, sheet, raw);
        t->able += best >= BAR;
        t->doing += best >= BAR && raw >= BAR;
        g_array_append_val(t->iou_raw, raw);
        g_array_append_val(t->iou, c.iou);
    }
    double length = 0;
    for (size_t i = 0; i < s.n; i++)
        length += dt_strokes_length(&s, i);
    printf("%6.4f %6.4f %6.4f  %7.3f s  %6zu lifts %9.0f mm  %s\n", raw, c.iou, best, took, s.n,
           length, path);
    return TRUE;
}

static int by_value(const void *a, const void *b)
{
    double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

static double quantile(GArray *a, double q)
{
    g_array_sort(a, by_value);
    return a->len ? g_array_index(a, double, (guint)(q * (a->len - 1))) : 0;
}

static void print_iou(const char *what, GArray *iou)
{
    guint good = 0;
    for (guint i = 0; i < iou->len; i++)
        good += g_array_index(iou, double, i) >= BAR;
    printf(
        "mask IoU with librsvg, %s: median %.4f, 5 %% quantile %.4f, least %.4f; 0.85 or more in "
        "%u of %u\n",
        what, quantile(iou, 0.5), quantile(iou, 0.05), quantile(iou, 0), good, iou->len);
}

/* A run that is told to end still says what it found. */
static volatile sig_atomic_t told_to_end;

static void end_soon(int signal)
{
    (void)signal;
    told_to_end = 1;
}

int main(int argc, char **argv)
{
    signal(SIGTERM, end_soon);
    signal(SIGINT, end_soon);
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) files = files_for_corpus(argc, argv, 40, &error);
    if (!files) {
        fprintf(stderr, "corpus-ink: %s\n", error->message);
        return error->code;
    }
    G_GNUC_BEGIN_IGNORE_DEPRECATIONS
    rsvg_set_default_dpi(96); /* as CSS has it; librsvg's own default is 90 */
    G_GNUC_END_IGNORE_DEPRECATIONS
    const char *pictures = g_getenv("INK_PICTURES");
    Totals t = {.iou = g_array_new(FALSE, FALSE, sizeof(double)),
                .iou_raw = g_array_new(FALSE, FALSE, sizeof(double)),
                .time_s = g_array_new(FALSE, FALSE, sizeof(double))};
    fill_totals_init(&t.fills);
    for (guint i = 0; i < files->len && !told_to_end; i++) {
        g_autoptr(GError) why = NULL;
        g_autofree char *picture = pictures ? g_strdup_printf("%s/%04u.png", pictures, i) : NULL;
        if (judge(files->pdata[i], &t, picture, &why)) {
            t.done++;
        } else {
            t.refused++;
            printf("refused: %s\n", why->message);
        }
        fflush(stdout);
    }
    printf("drawings done %zu, refused %zu\n", t.done, t.refused);
    print_iou("all ink counted", t.iou_raw);
    print_iou("without what no pen could avoid", t.iou);
    printf("drawings that a plan with this pen could draw to %.2f, all ink counted (pen-bound.h): "
           "%zu; "
           "drawn so: %zu\n",
           BAR, t.able, t.doing);
    printf("time: median %.3f s, most %.3f s\n", quantile(t.time_s, 0.5), quantile(t.time_s, 1));
    print_fill_totals(&t.fills);
    fill_totals_clear(&t.fills);
    g_array_free(t.iou, TRUE);
    g_array_free(t.iou_raw, TRUE);
    g_array_free(t.time_s, TRUE);
    return 0;
}
