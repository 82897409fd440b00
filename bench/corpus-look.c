/* corpus-look: how real drawings look once drawn: ./dev corpus --look [N] [DIR].
 *
 * Each drawing is planned for the workshop's machine with four racks, densely filled (--solid) and as
 * it is by default, side by side. The planned ink, painted at tip width, is held against librsvg's
 * picture, both blurred as from 40 cm and from 2 m (look.h), beside the ideal of one pen's mean
 * colours. LOOK_PICTURES names a folder for pictures of each drawing: artwork, dense, default.
 * LOOK_RACKS limits the racks, such as 3 for the third. */
#include "drawtrue/job.h"
#include "own-process.h"
#include "support/files.h"
#include "support/look.h"
#include "support/pen-mask.h"

#include <librsvg/rsvg.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PROFILE "examples/workshop.ini"
#define PX_PER_MM 10
#define TIP 0.4
#define LIMIT_S 120 /* for one drawing */
#define N_RACKS 4
#define MOST_PENS 12
#define WORSE 0.5 /* more than this is counted as worse than dense */

typedef struct {
    const char *name;
    unsigned n;
    struct {
        const char *name;
        unsigned rgb;
    } pens[MOST_PENS];
} Rack;

static const Rack racks[N_RACKS] = {
    {"black", 1, {{"black", 0x1c1c1c}}},
    {"black, red", 2, {{"black", 0x1c1c1c}, {"red", 0xc62828}}},
    {"black, green, terracotta",
     3,
     {{"black", 0x1c1c1c}, {"green", 0x2e7d32}, {"terracotta", 0xb5482f}}},
    {"twelve felt pens",
     12,
     {{"black", 0x1c1c1c},
      {"grey", 0x8a8d8f},
      {"brown", 0x7a4a2b},
      {"red", 0xc62828},
      {"orange", 0xef7d1a},
      {"yellow", 0xf5d018},
      {"light green", 0x7cb342},
      {"green", 0x2e7d32},
      {"light blue", 0x4fa8dc},
      {"blue", 0x1f4fa3},
      {"violet", 0x6a3d9a},
      {"pink", 0xe88bb0}}},
};

typedef struct {
    double near, far,
        lightness; /* mean CIEDE2000 from 40 cm and from 2 m; |L* difference| from 2 m */
    double edges;  /* share of the artwork's that the ink shows */
    double time_s, cpu_s;
} Look;

/* Two ways of planning, and the ideal of one pen's mean colours. */
enum { SOLID, LOOKED, N_WAYS, IDEAL = N_WAYS, N_LOOKS };

typedef struct {
    int good;
    double thick;
    char text[200];
    Look look[N_RACKS][N_LOOKS];
} Result;

/* One drawing ---------------------------------------------------------------------------------- */

static DtColour colour_of(unsigned rgb)
{
    return (DtColour){(rgb >> 16) / 255.0, (rgb >> 8 & 255) / 255.0, (rgb & 255) / 255.0, 1};
}

static void set_rack(DtProfile *p, const Rack *r, DtPen *pens, LookPen *look)
{
    for (unsigned i = 0; i < r->n; i++) {
        DtColour c = colour_of(r->pens[i].rgb);
        pens[i] =
            (DtPen){.name = (char *)(gsize)r->pens[i].name, .colour = c, .tip = TIP, .dot_gain = 1};
        look[i] = (LookPen){{c.r, c.g, c.b}, TIP};
    }
    p->rack = (DtRack){pens, r->n};
}

static void to_witness(const DtStrokes *s, WitnessInk *ink)
{
    witness_ink_init(ink);
    for (size_t i = 0; i < s->n; i++)
        witness_ink_add(ink, s->pts + s->strokes[i].first, s->strokes[i].n,
                        s->strokes[i].closed != 0, s->strokes[i].pen);
}

/* CSS pixels per mm. */
#define PX (96 / 25.4)

typedef struct {
    DtProfile *profile;
    const char *svg;
    WitnessSheet sheet;
    LookPicture art, art_near, art_far; /* `art.rgb` is NULL before the first plan */
    uint8_t *edges;
    double thick; /* share of what is painted that is half a tip or more from its edge */
} Drawing;

/* Of drawings that are all lines thinner than the tip nothing is so far inside. */
static double thick_share(const LookPicture *art)
{
    const size_t n = (size_t)art->w * (size_t)art->h;
    g_autofree uint8_t *bare = g_new(uint8_t, n);
    g_autofree float *far = g_new(float, n);
    for (size_t i = 0; i < n; i++)
        bare[i] = !art->painted[i];
    pen_mask_squared_distance(bare, 1, art->w, art->h, far);
    const double least = TIP / 2 * art->px_per_mm + PEN_MASK_RASTER;
    size_t all = 0, thick = 0;
    for (size_t i = 0; i < n; i++) {
        all += art->painted[i];
        thick += art->painted[i] && far[i] >= least * least;
    }
    return all > 0 ? (double)thick / (double)all : 0;
}

static gboolean look_at_art(Drawing *d, const DtJob *job, GError **error)
{
    const DtProfile *p = d->profile;
    d->sheet = (WitnessSheet){
        job->drawing->width * PX,
        job->drawing->height * PX,
        dt_affine_then(dt_affine_scale(1 / PX, 1 / PX), job->placed),
        {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w, p->paper_at.y + p->paper_h},
        PX_PER_MM};
    if (!look_of_art(d->svg, &d->sheet, &d->art, error))
        return FALSE;
    look_blur(&d->art, LOOK_NEAR, &d->art_near);
    look_blur(&d->art, LOOK_FAR, &d->art_far);
    d->edges = look_edges(&d->art_near);
    d->thick = thick_share(&d->art);
    return TRUE;
}

/* LOOK_PICTURE names a way of drawing photographs, by its number. */
static DtPicture picture_kind(void)
{
    const char *kind = g_getenv("LOOK_PICTURE");
    return kind ? (DtPicture)atoi(kind) : DT_PICTURE_CROSSED;
}

static gboolean compare(const Drawing *d, const LookPicture *picture, Look *out)
{
    g_auto(LookPicture) near = {0}, far = {0};
    look_blur(picture, LOOK_NEAR, &near);
    look_blur(picture, LOOK_FAR, &far);
    const LookFigures n = look_compare(&d->art_near, &near, d->art.painted);
    const LookFigures f = look_compare(&d->art_far, &far, d->art.painted);
    g_autofree uint8_t *edges = look_edges(&near);
    out->near = n.difference;
    out->far = f.difference;
    out->lightness = f.lightness;
    out->edges = look_edges_kept(d->edges, edges, &d->art, TIP);
    return n.n > 0;
}

static gboolean judge(Drawing *d, const Rack *rack, int way, Look *out, LookPicture *ink_out,
                      GError **error)
{
    DtPen pens[MOST_PENS];
    LookPen look_pens[MOST_PENS];
    const DtRack own = d->profile->rack;
    g_auto(DtJob) job = {0};
    g_auto(WitnessInk) ink = {0};
    g_auto(LookPicture) ideal = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.iterations = 0;
    o.ink.solid = way == SOLID;
    o.ink.picture = picture_kind();
    const clock_t begin = clock();
    set_rack(d->profile, rack, pens, look_pens);
    const gboolean good = dt_job_plan(d->profile, d->svg, &o, &job, NULL, error);
    d->profile->rack = own;
    if (!good || (!d->art.rgb && !look_at_art(d, &job, error)))
        return FALSE;
    out[way].cpu_s = (double)(clock() - begin) / CLOCKS_PER_SEC;
    out[way].time_s = job.times.total_s;
    to_witness(&job.strokes, &ink);
    look_of_ink(&ink, look_pens, rack->n, &d->sheet, ink_out);
    if (way == LOOKED) {
        look_of_ideal(&d->art, look_pens, rack->n, &ideal);
        compare(d, &ideal, &out[IDEAL]);
    }
    return compare(d, ink_out, &out[way]);
}

static gboolean rack_is_wanted(int r)
{
    const char *wanted = g_getenv("LOOK_RACKS");
    return wanted == NULL || strchr(wanted, '1' + r) != NULL;
}

static void try_drawing(const char *svg, unsigned number, void *filled)
{
    Result *result = filled;
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_load(PROFILE, &error);
    const char *folder = g_getenv("LOOK_PICTURES");
    Drawing d = {.profile = p, .svg = svg};
    result->good = p != NULL;
    for (int r = 0; r < N_RACKS && result->good; r++) {
        LookPicture ink[N_WAYS] = {{0}, {0}};
        for (int way = 0; way < N_WAYS && result->good && rack_is_wanted(r); way++)
            result->good = judge(&d, &racks[r], way, result->look[r], &ink[way], &error);
        if (result->good && rack_is_wanted(r) && folder) {
            const LookPicture *three[3] = {&d.art, &ink[SOLID], &ink[LOOKED]};
            g_autofree char *path = g_strdup_printf("%s/%04u-%d.png", folder, number, r + 1);
            look_write_png(three, 3, path);
        }
        look_clear(&ink[SOLID]);
        look_clear(&ink[LOOKED]);
    }
    result->thick = d.thick;
    if (error)
        g_strlcpy(result->text, error->message, sizeof result->text);
    look_clear(&d.art);
    look_clear(&d.art_near);
    look_clear(&d.art_far);
    g_free(d.edges);
}

static void try_apart(const char *svg, unsigned number, Result *result)
{
    if (!drawing_in_own_process(svg, number, try_drawing, result, sizeof *result, LIMIT_S))
        g_strlcpy(result->text, "died, or took too long", sizeof result->text);
}

/* Table ---------------------------------------------------------------------------------------- */

static void print_row(const char *svg, unsigned number, const Result *r)
{
    g_autofree char *name = g_path_get_basename(svg);
    printf("%4u %-24.24s", number, name);
    if (!r->good)
        printf(" left out: %s", r->text[0] ? r->text : "nothing is painted");
    for (int i = 0; i < N_RACKS && r->good; i++)
        if (rack_is_wanted(i)) {
            const Look *s = &r->look[i][SOLID], *l = &r->look[i][LOOKED], *b = &r->look[i][IDEAL];
            printf(" | %4.1f/%4.1f %4.1f/%4.1f %4.1f/%4.1f%s |dL*| %4.1f %4.1f %3.0f%% x%4.2f",
                   b->near, b->far, s->near, s->far, l->near, l->far,
                   l->far > s->far + WORSE || l->near > s->near + WORSE ? "!" : " ", b->lightness,
                   l->lightness, 100 * l->edges, l->time_s / s->time_s);
        }
    printf("\n");
    fflush(stdout);
}

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *v, size_t n)
{
    qsort(v, n, sizeof *v, by_size);
    return n == 0 ? 0 : v[n / 2];
}

static void print_mean(const char *name, const Look *sum, double n)
{
    printf("   %s %4.1f / %4.1f, |dL*| %4.2f", name, sum->near / n, sum->far / n,
           sum->lightness / n);
}

/* Over all drawings, or over those alone of which half or more is thicker than the tip. */
static void print_rack(const Result *results, size_t n, int rack, double thick)
{
    Look sum[N_LOOKS];
    memset(sum, 0, sizeof sum);
    g_autofree double *edges = g_new(double, n + 1);
    g_autofree double *ratio = g_new(double, n + 1);
    size_t good = 0, worse = 0;
    for (size_t i = 0; i < n; i++) {
        const Look *look = results[i].look[rack], *s = &look[SOLID], *l = &look[LOOKED];
        if (!results[i].good || results[i].thick < thick)
            continue;
        for (int k = 0; k < N_LOOKS; k++) {
            sum[k].near += look[k].near;
            sum[k].far += look[k].far;
            sum[k].lightness += look[k].lightness;
            sum[k].time_s += look[k].time_s;
            sum[k].cpu_s += look[k].cpu_s;
        }
        worse += l->near > s->near + WORSE || l->far > s->far + WORSE;
        ratio[good] = l->time_s / s->time_s;
        edges[good++] = l->edges;
    }
    const double k = good ? (double)good : 1;
    printf("%-26s", racks[rack].name);
    print_mean("ideal", &sum[IDEAL], k);
    print_mean("dense", &sum[SOLID], k);
    print_mean("default", &sum[LOOKED], k);
    printf(" (x %.2f / %.2f of the ideal); edges %3.0f %%; worse %zu; machine time x %.2f "
           "(median %.2f); processor %.2f s, %.2f s\n",
           sum[LOOKED].near / sum[IDEAL].near, sum[LOOKED].far / sum[IDEAL].far,
           100 * median(edges, good), worse, sum[LOOKED].time_s / sum[SOLID].time_s,
           median(ratio, good), sum[SOLID].cpu_s / k, sum[LOOKED].cpu_s / k);
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) files = files_for_corpus(argc, argv, 60, &error);
    if (!files) {
        fprintf(stderr, "corpus-look: %s\n", error->message);
        return error->code;
    }
    printf("rows: for each rack, mean CIEDE2000 from 40 cm / 2 m: the ideal of one pen, dense and "
           "default; |dL*| from 2 m: the ideal and default; the edges kept and the machine time's "
           "ratio; '!': worse than dense by more than %.1f\n",
           WORSE);
    g_autofree Result *results = g_new0(Result, files->len);
    size_t left_out = 0;
    for (guint i = 0; i < files->len; i++) {
        try_apart(files->pdata[i], i, &results[i]);
        print_row(files->pdata[i], i, &results[i]);
        left_out += !results[i].good;
    }
    printf("\n%u drawings, %zu left out; edges: median\n", files->len, left_out);
    for (int part = 0; part < 2; part++) {
        printf("\n%s\n", part ? "drawings of which half or more lies farther than half a tip from "
                                "its edge:"
                              : "all drawings:");
        for (int r = 0; r < N_RACKS; r++)
            if (rack_is_wanted(r))
                print_rack(results, files->len, r, part ? 0.5 : -1);
    }
    return 0;
}
