/* corpus-photos: how near photographs look once drawn: ./dev corpus --photos [N] [DIR].
 *
 * N photographs (of the Debian package mate-backgrounds, or JPEG and PNG files of DIR), 50 mm wide, are drawn
 * by a black pen in crossed hatch and in 20,000 dots, and blurred as from 2 m beside the blurred photograph:
 * mean |dL*|. On either side of them stand an ordered dither (Bayer 1973, 8 by 8) and an error diffusion (Floyd
 * and Steinberg 1976) of dots as wide as the pen, and what the pen could reach if every tone between the paper
 * and its ink were exact. SSIM (Wang et al. 2004) is of L*, blurred as from 40 cm. PHOTO_PICTURES names a folder for
 * pictures: photograph, crossed, dots, ordered, diffused. */
#include "drawtrue/job.h"
#include "ink/paint/colour-difference.h"
#include "support/look.h"
#include "support/ssim.h"

#include <gdk-pixbuf/gdk-pixbuf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define PROFILE "examples/workshop.ini"
#define PACKAGE "mate-backgrounds"
#define WIDTH 50.0 /* mm */
#define PX 600     /* of the photograph's width */
#define POINTS 20000
#define INK 0x1c1c1c
#define PX_PER_MM 20 /* halved once it is painted */

enum { CROSSED, DOTS, ORDERED, DIFFUSED, EXACT, N_WAYS };
static const char *const ways[N_WAYS] = {"crossed", "dots", "ordered", "diffused", "exact"};

typedef struct {
    double lightness, ssim, cpu_s, time_s;
} Figures;

/* Files ------------------------------------------------------------------------------------------ */

static gboolean is_photo(const char *name)
{
    return g_str_has_suffix(name, ".jpg") || g_str_has_suffix(name, ".jpeg") ||
           g_str_has_suffix(name, ".png");
}

static void add_folder(GPtrArray *out, const char *folder, int depth)
{
    g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
    const char *name;
    while (dir && (name = g_dir_read_name(dir))) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        if (g_file_test(path, G_FILE_TEST_IS_DIR) && depth > 0)
            add_folder(out, path, depth - 1);
        else if (is_photo(name))
            g_ptr_array_add(out, g_steal_pointer(&path));
    }
}

static void add_package(GPtrArray *out)
{
    g_autofree char *text = NULL;
    int status = 0;
    const char *const argv[] = {"dpkg", "-L", PACKAGE, NULL};
    if (!g_spawn_sync(NULL, (char **)(void *)argv, NULL,
                      G_SPAWN_SEARCH_PATH | G_SPAWN_STDERR_TO_DEV_NULL, NULL, NULL, &text, NULL,
                      &status, NULL) ||
        status != 0)
        return;
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (char **line = lines; *line; line++)
        if (is_photo(*line))
            g_ptr_array_add(out, g_strdup(*line));
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* An SVG of the photograph, WIDTH mm wide. */
static gboolean write_svg(const char *photo, const char *svg, GError **error)
{
    g_autoptr(GdkPixbuf) full = gdk_pixbuf_new_from_file(photo, error);
    if (!full)
        return FALSE;
    const int h =
        MAX(1, (int)lround((double)PX * gdk_pixbuf_get_height(full) / gdk_pixbuf_get_width(full)));
    g_autoptr(GdkPixbuf) small = gdk_pixbuf_scale_simple(full, PX, h, GDK_INTERP_BILINEAR);
    g_autofree char *bytes = NULL;
    gsize n = 0;
    if (!gdk_pixbuf_save_to_buffer(small, &bytes, &n, "png", error, NULL))
        return FALSE;
    g_autofree char *data = g_base64_encode((const guchar *)bytes, n);
    const double mm = WIDTH * h / PX;
    g_autofree char *text = g_strdup_printf(
        "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' "
        "width='%.4fmm' height='%.4fmm' viewBox='0 0 %d %d'><image width='%d' height='%d' "
        "xlink:href='data:image/png;base64,%s'/></svg>",
        WIDTH, mm, PX, h, PX, h, data);
    return g_file_set_contents(svg, text, -1, error);
}

/* Pictures --------------------------------------------------------------------------------------- */

static DtColour ink_colour(void)
{
    return (DtColour){(INK >> 16) / 255.0, (INK >> 8 & 255) / 255.0, (INK & 255) / 255.0, 1};
}

static double luminance(const LookPicture *p, size_t i)
{
    const size_t n = (size_t)p->w * (size_t)p->h;
    return 0.2126 * p->rgb[i] + 0.7152 * p->rgb[n + i] + 0.0722 * p->rgb[2 * n + i];
}

/* The share of the paper that ink must cover at a pixel. */
static double share_at(const LookPicture *art, size_t i)
{
    const double ink = dt_colour_linear(ink_colour().r);
    return CLAMP((1 - luminance(art, i)) / (1 - ink), 0, 1);
}

static LookPicture paper_like(const LookPicture *art)
{
    const size_t n = 3 * (size_t)art->w * (size_t)art->h;
    LookPicture p = {art->w, art->h, art->px_per_mm, g_new(float, n), NULL};
    for (size_t i = 0; i < n; i++)
        p.rgb[i] = 1;
    return p;
}

static void lay(LookPicture *p, size_t i, double share)
{
    const size_t n = (size_t)p->w * (size_t)p->h;
    for (size_t c = 0; c < 3; c++)
        p->rgb[c * n + i] = (float)(1 - share * (1 - dt_colour_linear(ink_colour().r)));
}

static void make_exact(const LookPicture *art, LookPicture *out)
{
    *out = paper_like(art);
    for (size_t i = 0; i < (size_t)art->w * (size_t)art->h; i++)
        if (art->painted[i])
            lay(out, i, share_at(art, i));
}

/* Square dots of `cell` pixels, each black or bare. */
typedef struct {
    int w, h, cell;
    double *share; /* of each cell, -1 outside of the photograph */
} Cells;

static Cells cells_of(const LookPicture *art, double tip)
{
    Cells c = {.cell = (int)lround(tip * art->px_per_mm)};
    c.w = art->w / c.cell;
    c.h = art->h / c.cell;
    c.share = g_new(double, (size_t)c.w *(size_t)c.h + 1);
    for (int y = 0; y < c.h; y++)
        for (int x = 0; x < c.w; x++) {
            double sum = 0;
            int n = 0;
            for (int k = 0; k < c.cell * c.cell; k++) {
                const size_t i = (size_t)(y * c.cell + k / c.cell) * (size_t)art->w +
                                 (size_t)(x * c.cell + k % c.cell);
                if (art->painted[i]) {
                    sum += share_at(art, i);
                    n++;
                }
            }
            c.share[y * c.w + x] = 2 * n >= c.cell * c.cell ? sum / n : -1;
        }
    return c;
}

static void ink_cell(LookPicture *p, const Cells *c, int x, int y)
{
    for (int k = 0; k < c->cell * c->cell; k++)
        lay(p,
            (size_t)(y * c->cell + k / c->cell) * (size_t)p->w +
                (size_t)(x * c->cell + k % c->cell),
            1);
}

/* Bayer's order of 8 by 8 thresholds, by interleaving the bits of x ^ y and y. */
static double bayer(int x, int y)
{
    int v = 0;
    for (int bit = 0; bit < 3; bit++)
        v = v << 2 | ((((x ^ y) >> bit & 1) << 1) | (y >> bit & 1));
    return (v + 0.5) / 64;
}

static void make_ordered(const LookPicture *art, double tip, LookPicture *out)
{
    Cells c = cells_of(art, tip);
    *out = paper_like(art);
    for (int y = 0; y < c.h; y++)
        for (int x = 0; x < c.w; x++)
            if (c.share[y * c.w + x] > bayer(x & 7, y & 7))
                ink_cell(out, &c, x, y);
    g_free(c.share);
}

static void make_diffused(const LookPicture *art, double tip, LookPicture *out)
{
    static const struct {
        int dx, dy, of16;
    } to[] = {{1, 0, 7}, {-1, 1, 3}, {0, 1, 5}, {1, 1, 1}};
    Cells c = cells_of(art, tip);
    g_autofree double *owed = g_new0(double, (size_t)c.w *(size_t)c.h + 1);
    *out = paper_like(art);
    for (int y = 0; y < c.h; y++)
        for (int x = 0; x < c.w; x++) {
            if (c.share[y * c.w + x] < 0)
                continue;
            const double want = c.share[y * c.w + x] + owed[y * c.w + x];
            const gboolean dot = want >= 0.5;
            if (dot)
                ink_cell(out, &c, x, y);
            for (size_t k = 0; k < G_N_ELEMENTS(to); k++) {
                const int u = x + to[k].dx, v = y + to[k].dy;
                if (u >= 0 && u < c.w && v < c.h)
                    owed[v * c.w + u] += (want - dot) * to[k].of16 / 16;
            }
        }
    g_free(c.share);
}

/* Judging ---------------------------------------------------------------------------------------- */

typedef struct {
    DtProfile *profile;
    const char *svg;
    double tip;
    WitnessSheet sheet;
    LookPicture art;
} Photo;

static gboolean draw(Photo *p, DtPicture kind, LookPicture *out, Figures *f, GError **error)
{
    DtPen pen = {
        .name = (char *)(gsize) "black", .colour = ink_colour(), .tip = p->tip, .dot_gain = 1};
    const LookPen look = {{pen.colour.r, pen.colour.g, pen.colour.b}, p->tip};
    g_auto(DtJob) job = {0};
    g_auto(WitnessInk) ink = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    const DtRack own = p->profile->rack;
    o.route.iterations = 0;
    o.ink.picture = kind;
    o.ink.points = POINTS;
    o.placement.fit = DT_FIT_TRUE_SIZE;
    p->profile->rack = (DtRack){&pen, 1};
    const clock_t begin = clock();
    const gboolean good = dt_job_plan(p->profile, p->svg, &o, &job, NULL, error);
    f->cpu_s = (double)(clock() - begin) / CLOCKS_PER_SEC;
    p->profile->rack = own;
    if (!good)
        return FALSE;
    f->time_s = job.times.total_s;
    const double px = 96 / 25.4;
    p->sheet = (WitnessSheet){job.drawing->width * px, job.drawing->height * px,
                              dt_affine_then(dt_affine_scale(1 / px, 1 / px), job.placed),
                              dt_box_grow(dt_art_box(job.drawing), 4 * LOOK_FAR), PX_PER_MM};
    if (!p->art.rgb && !look_of_art(p->svg, &p->sheet, &p->art, error))
        return FALSE;
    witness_ink_init(&ink);
    for (size_t i = 0; i < job.strokes.n; i++)
        witness_ink_add(&ink, job.strokes.pts + job.strokes.strokes[i].first,
                        job.strokes.strokes[i].n, job.strokes.strokes[i].closed != 0, 0);
    look_of_ink(&ink, &look, 1, &p->sheet, out);
    return TRUE;
}

/* L* of a picture where the photograph is, cropped to its box. */
static float *lightness_of(const LookPicture *p, const LookPicture *art, int *w, int *h)
{
    int x0 = art->w, y0 = art->h, x1 = 0, y1 = 0;
    const size_t n = (size_t)art->w * (size_t)art->h;
    for (int y = 0; y < art->h; y++)
        for (int x = 0; x < art->w; x++)
            if (art->painted[(size_t)y * (size_t)art->w + (size_t)x]) {
                x0 = MIN(x0, x);
                x1 = MAX(x1, x + 1);
                y0 = MIN(y0, y);
                y1 = MAX(y1, y + 1);
            }
    *w = MAX(x1 - x0, 0);
    *h = MAX(y1 - y0, 0);
    float *out = g_new(float, (size_t)*w *(size_t)*h + 1);
    for (int y = 0; y < *h; y++)
        for (int x = 0; x < *w; x++) {
            const size_t i = (size_t)(y + y0) * (size_t)art->w + (size_t)(x + x0);
            out[y * *w + x] =
                (float)dt_colour_lab_linear(p->rgb[i], p->rgb[n + i], p->rgb[2 * n + i]).l;
        }
    return out;
}

static void judge(const Photo *p, const LookPicture *ink, Figures *f)
{
    g_auto(LookPicture) art = {0}, seen = {0}, art_near = {0}, near = {0};
    int w, h;
    look_blur(&p->art, LOOK_FAR, &art);
    look_blur(ink, LOOK_FAR, &seen);
    look_blur(&p->art, LOOK_NEAR, &art_near);
    look_blur(ink, LOOK_NEAR, &near);
    f->lightness = look_compare(&art, &seen, p->art.painted).lightness;
    g_autofree float *a = lightness_of(&art_near, &p->art, &w, &h);
    g_autofree float *b = lightness_of(&near, &p->art, &w, &h);
    f->ssim = ssim_mean(a, b, w, h, 100);
}

static gboolean try_photo(Photo *p, const char *picture, Figures *f, GError **error)
{
    LookPicture ink[N_WAYS] = {{0}};
    gboolean good = draw(p, DT_PICTURE_CROSSED, &ink[CROSSED], &f[CROSSED], error) &&
                    draw(p, DT_PICTURE_STIPPLE, &ink[DOTS], &f[DOTS], error);
    if (good) {
        make_ordered(&p->art, p->tip, &ink[ORDERED]);
        make_diffused(&p->art, p->tip, &ink[DIFFUSED]);
        make_exact(&p->art, &ink[EXACT]);
        for (int way = 0; way < N_WAYS; way++)
            judge(p, &ink[way], &f[way]);
        const LookPicture *all[5] = {&p->art, &ink[CROSSED], &ink[DOTS], &ink[ORDERED],
                                     &ink[DIFFUSED]};
        if (picture)
            look_write_png(all, 5, picture);
    }
    for (int way = 0; way < N_WAYS; way++)
        look_clear(&ink[way]);
    look_clear(&p->art);
    return good;
}

static void print_row(const char *name, const Figures *f)
{
    printf("%-28.28s", name);
    for (int way = 0; way < N_WAYS; way++)
        printf(" | %5.2f %5.2f", f[way].lightness, f[way].ssim);
    printf(" | %4.0f min %4.0f min | %5.2f s %5.2f s\n", f[CROSSED].time_s / 60,
           f[DOTS].time_s / 60, f[CROSSED].cpu_s, f[DOTS].cpu_s);
    fflush(stdout);
}

static void try_all(const GPtrArray *files, size_t n, double tip, const char *svg)
{
    Figures sum[N_WAYS] = {{0}};
    size_t good = 0;
    printf("\npen of %.2f mm; |dL*| from 2 m and SSIM from 40 cm\n%-28s", tip, "");
    for (int way = 0; way < N_WAYS; way++)
        printf(" | %-11s", ways[way]);
    printf(" | machine, crossed and dots | processor\n");
    for (size_t i = 0; i < n; i++) {
        g_autoptr(GError) error = NULL;
        const char *photo = files->pdata[i * files->len / n];
        g_autoptr(DtProfile) profile = dt_profile_load(PROFILE, &error);
        g_autofree char *name = g_path_get_basename(photo);
        g_autofree char *picture =
            g_getenv("PHOTO_PICTURES")
                ? g_strdup_printf("%s/%02zu-%.0f.png", g_getenv("PHOTO_PICTURES"), i, 100 * tip)
                : NULL;
        Figures f[N_WAYS] = {{0}};
        Photo p = {.profile = profile, .svg = svg, .tip = tip};
        if (!profile || !write_svg(photo, svg, &error) || !try_photo(&p, picture, f, &error)) {
            printf("%-28.28s left out: %s\n", name, error ? error->message : "?");
            continue;
        }
        print_row(name, f);
        for (int way = 0; way < N_WAYS; way++) {
            sum[way].lightness += f[way].lightness;
            sum[way].ssim += f[way].ssim;
            sum[way].cpu_s += f[way].cpu_s;
            sum[way].time_s += f[way].time_s;
        }
        good++;
    }
    for (int way = 0; way < N_WAYS && good > 0; way++) {
        sum[way].lightness /= (double)good;
        sum[way].ssim /= (double)good;
        sum[way].cpu_s /= (double)good;
        sum[way].time_s /= (double)good;
    }
    print_row("mean", sum);
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) files = g_ptr_array_new_with_free_func(g_free);
    const size_t wanted = argc > 1 ? (size_t)strtoul(argv[1], NULL, 10) : 20;
    if (argc > 3 || wanted == 0) {
        fprintf(stderr, "corpus-photos: it takes a count and a folder\n");
        return 2;
    }
    if (argc > 2)
        add_folder(files, argv[2], 8);
    else
        add_package(files);
    if (files->len == 0) {
        fprintf(stderr, "corpus-photos: there is no photograph in %s\n",
                argc > 2 ? argv[2] : PACKAGE);
        return 1;
    }
    g_ptr_array_sort(files, by_name);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", &error);
    if (!folder) {
        fprintf(stderr, "corpus-photos: %s\n", error->message);
        return 3;
    }
    g_autofree char *svg = g_build_filename(folder, "photo.svg", NULL);
    printf("%u photographs, %.0f mm wide; at most %d dots\n", files->len, WIDTH, POINTS);
    try_all(files, MIN(wanted, files->len), 0.4, svg);
    try_all(files, MIN(wanted, files->len), 0.3, svg);
    unlink(svg);
    rmdir(folder);
    return 0;
}
