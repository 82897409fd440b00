/* truing: scans as they come from people: turned, mirrored, cut off, stained, folded, photographed. One sheet
 * of one machine, scanned once and spoilt in each of these ways. */
#include "drawtrue/art.h"
#include "drawtrue/truing.h"
#include "support/truing-machine.h"
#include "truing/solve/model.h"

#include <cairo.h>
#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <jpeglib.h>
#include <png.h>

typedef struct {
    int w, h;
    uint8_t *grey;
} Picture;

static struct {
    TruthMachine machine;
    DtProfile *profile;
    DtTestSheet *sheet;
    DtRig *rig;
    char *folder, *path;
    Picture scan;
} it;

static Picture blank(int w, int h)
{
    Picture p = {w, h, g_malloc((gsize)w * h)};
    memset(p.grey, 240, (gsize)w * h);
    return p;
}

static uint8_t grey_at(const Picture *p, double x, double y)
{
    if (x < 0 || y < 0 || x > p->w - 1 || y > p->h - 1)
        return 200;
    const int i = MIN((int)x, p->w - 2), j = MIN((int)y, p->h - 2);
    const double fx = x - i, fy = y - j;
    const uint8_t *a = p->grey + (gsize)j * p->w + i, *b = a + p->w;
    return (uint8_t)((a[0] * (1 - fx) + a[1] * fx) * (1 - fy) + (b[0] * (1 - fx) + b[1] * fx) * fy +
                     0.5);
}

static void save(const Picture *p)
{
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, p->w, p->h);
    const int stride = cairo_image_surface_get_stride(s) / 4;
    uint32_t *to = (uint32_t *)(void *)cairo_image_surface_get_data(s);
    cairo_surface_flush(s);
    for (int y = 0; y < p->h; y++)
        for (int x = 0; x < p->w; x++)
            to[(gsize)y * stride + x] = p->grey[(gsize)y * p->w + x] * 0x010101u;
    cairo_surface_mark_dirty(s);
    g_assert_cmpint(cairo_surface_write_to_png(s, it.path), ==, CAIRO_STATUS_SUCCESS);
    cairo_surface_destroy(s);
}

/* Scans the sheet with these keys of the rig's [scan] section and keeps the picture. */
static Picture scan_with(int turn, double dpi)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *keys = truth_scan_text(&it.machine, turn, 0.8, dpi), *data = NULL, *why = NULL;
    Picture p = {0};
    gsize len;
    g_assert_true(dt_rig_set_scan(it.rig, keys, "scan", &error));
    g_assert_true(dt_rig_scan(it.rig, it.path, &error));
    g_assert_true(g_file_get_contents(it.path, &data, &len, NULL));
    p.grey = dt_art_read_grey(data, len, &p.w, &p.h, NULL, &why);
    g_assert_null(why);
    return p;
}

static DtScan *read_back(const char *says)
{
    g_autoptr(GError) error = NULL;
    DtScan *scan = dt_scan_read(it.path, it.sheet, NULL, &error);
    if (says == NULL) {
        g_assert_no_error(error);
        return scan;
    }
    g_assert_null(scan);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, it.path));
    if (strstr(error->message, says) == NULL)
        g_error("'%s' does not say '%s'", error->message, says);
    return NULL;
}

static DtFigures *solve(const DtScan *a, const DtScan *b, GError **error)
{
    const DtScan *scans[2] = {a, b};
    const DtEvidence e = {.sheet = it.sheet, .scans = scans, .n_scans = b ? 2 : 1};
    return dt_truing_solve(it.profile, &e, NULL, error);
}

/* The largest error of the slack that is known, mm. */
static double slack_error(const DtFigures *f)
{
    double worst = 0, known = 0;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != DT_ERROR_OF_BACKLASH || !g->known)
            continue;
        worst = MAX(worst, fabs(g->value - truth_table_at(&it.machine.slack[g->axis], g->at)));
        known++;
    }
    g_assert_cmpfloat(known, >, 10);
    return worst;
}

static const DtFigure *figure(const DtFigures *f, DtErrorKind kind)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind)
            return &f->f[i];
    g_assert_not_reached();
}

static void test_any_turn(void)
{
    for (int turn = 0; turn < 4; turn++) {
        g_autofree uint8_t *grey = scan_with(turn, 200).grey;
        g_autoptr(DtScan) scan = read_back(NULL);
        g_assert_cmpint(scan->turn, ==, (4 - turn) % 4);
        g_assert_cmpfloat(scan->dpi, ==, 200);
        g_assert_false(scan->photograph);
        g_assert_cmpstr(scan->notes, ==, NULL);
        g_assert_cmpuint(scan->n, >, 400);
    }
}

static void test_mirrored_is_refused(void)
{
    Picture p = blank(it.scan.w, it.scan.h);
    for (int y = 0; y < p.h; y++)
        for (int x = 0; x < p.w; x++)
            p.grey[(gsize)y * p.w + x] = it.scan.grey[(gsize)y * p.w + p.w - 1 - x];
    save(&p);
    read_back("mirrored; scan it again without mirroring. If the letters on the paper are mirrored "
              "too, swap the machine's axes X and Y");
    g_free(p.grey);
}

static void test_blank_is_refused(void)
{
    Picture p = blank(1000, 700);
    save(&p);
    read_back("blank");
    g_free(p.grey);
}

/* There are too many specks for each guess to look at all of them: that took minutes. */
static void test_noise_is_refused(void)
{
    Picture p = blank(2600, 1850);
    g_autoptr(GRand) r = g_rand_new_with_seed(5);
    for (gsize i = 0; i < (gsize)p.w * p.h; i++)
        p.grey[i] = (uint8_t)g_rand_int_range(r, 0, 256);
    save(&p);
    read_back("where they should be");
    g_free(p.grey);
}

static void test_no_picture_is_refused(void)
{
    g_assert_true(g_file_set_contents(it.path, "G21 G90", -1, NULL));
    read_back("not a picture");
    g_assert_true(g_file_set_contents(it.path, "\x89PNG\r\n\x1a\n0123456789abcdef", -1, NULL));
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_scan_read(it.path, it.sheet, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

/* A pipe without a writer must not keep us waiting. */
static void test_what_is_no_file_is_refused(void)
{
    static const char *const names[] = {"pipe.png", "none.png"};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
        g_autofree char *path = g_build_filename(it.folder, names[i], NULL);
        g_autoptr(GError) error = NULL;
        if (i == 0)
            g_assert_cmpint(mkfifo(path, 0600), ==, 0);
        g_assert_null(dt_scan_read(path, it.sheet, NULL, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_unlink(path);
    }
}

static void test_cut_off(void)
{
    for (int part = 0; part < 2; part++) { /* a little, and most of it */
        Picture p = blank(part ? it.scan.w * 2 / 5 : it.scan.w * 85 / 100, it.scan.h);
        for (int y = 0; y < p.h; y++)
            memcpy(p.grey + (gsize)y * p.w, it.scan.grey + (gsize)y * it.scan.w, p.w);
        save(&p);
        g_autoptr(DtScan) scan = part ? NULL : read_back(NULL);
        if (part == 0)
            g_assert_nonnull(strstr(scan->notes, "beyond the picture's edge"));
        else
            read_back("");
        g_free(p.grey);
    }
}

static void test_another_sheet_is_refused(void)
{
    save(&it.scan);
    it.sheet->number++;
    read_back("it shows sheet");
    it.sheet->number--;
}

/* Said at once, whatever the picture shows. */
static void test_a_sheet_for_the_eye_is_refused(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SLACK, "2026-03-14", 31, NULL);
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_scan_read("no-such-file.png", s, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "sheet 31 is read by eye"));
    g_assert_nonnull(strstr(error->message, "'drawtrue sheet scan'"));
}

/* Half of the sheet lies 0.8 mm nearer: a fold across it, seen by both scans. */
static void test_a_fold_is_refused(void)
{
    const double shift = 0.8 / 25.4 * 300;
    g_autoptr(GError) error = NULL;
    Picture p = blank(it.scan.w, it.scan.h);
    for (int y = 0; y < p.h; y++)
        for (int x = 0; x < p.w; x++) {
            const gboolean beyond = x - 0.3 * y > p.w * 0.35;
            p.grey[(gsize)y * p.w + x] = grey_at(&it.scan, beyond ? x + shift : x, y);
        }
    save(&p);
    g_autoptr(DtScan) scan = dt_scan_read(it.path, it.sheet, NULL, &error);
    g_autoptr(DtFigures) f = scan ? solve(scan, NULL, &error) : NULL;
    g_assert_null(f);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "fold"));
    g_free(p.grey);
}

/* Coffee over a third: darker paper, with an edge. */
static void test_a_stain_widens(void)
{
    Picture p = blank(it.scan.w, it.scan.h);
    for (int y = 0; y < p.h; y++)
        for (int x = 0; x < p.w; x++) {
            const double d = hypot(x - 0.3 * p.w, y - 0.5 * p.h) / (0.32 * p.w);
            const double tone = d < 0.97 ? 0.72 : d < 1 ? 0.5 : 1;
            p.grey[(gsize)y * p.w + x] = (uint8_t)(it.scan.grey[(gsize)y * p.w + x] * tone);
        }
    save(&p);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtScan) scan = read_back(NULL);
    g_autoptr(DtFigures) f = solve(scan, NULL, &error);
    g_assert_no_error(error);
    g_assert_cmpfloat(slack_error(f), <, 0.04);
    g_free(p.grey);
}

/* A phone held at a slant: lines towards the far side shrink. */
static void photograph(double along, double across)
{
    Picture p = blank(it.scan.w, it.scan.h);
    for (int y = 0; y < p.h; y++)
        for (int x = 0; x < p.w; x++) {
            const double u = x - p.w / 2.0, v = y - p.h / 2.0,
                         k = 1 + along * v / p.h + across * u / p.w;
            p.grey[(gsize)y * p.w + x] = grey_at(&it.scan, p.w / 2.0 + u * k, p.h / 2.0 + v * k);
        }
    save(&p);
    g_free(p.grey);
}

static void test_a_photograph_tells_slack_alone(void)
{
    photograph(0.05, 0.02);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtScan) scan = read_back(NULL);
    g_assert_true(scan->photograph);
    g_assert_nonnull(strstr(scan->notes, "photograph"));
    g_autoptr(DtFigures) f = solve(scan, NULL, &error);
    g_assert_no_error(error);
    g_assert_false(figure(f, DT_ERROR_OF_SCALE)->known);
    g_assert_false(figure(f, DT_ERROR_OF_SQUARE)->known);
    g_assert_false(figure(f, DT_ERROR_OF_STRAIGHT)->known);
    g_assert_cmpfloat(slack_error(f), <, 0.05);
    g_assert_nonnull(strstr(f->notes, "photographs"));
}

/* So much that the strokes of its number are not where they should be. */
static void test_a_photograph_is_no_other_sheet(void)
{
    photograph(0.2, 0);
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_scan_read(it.path, it.sheet, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_test_message("%s", error->message);
    g_assert_nonnull(strstr(error->message, "as a camera does that is held at a slant"));
    g_assert_null(strstr(error->message, "it shows sheet"));
}

/* 68 million of them, all white. */
static void test_too_many_pixels(void)
{
    enum { SIDE = 8240 };
    FILE *file = fopen(it.path, "wb");
    uint8_t row[SIDE / 8];
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png_create_info_struct(png);
    memset(row, 0xff, sizeof row);
    png_init_io(png, file);
    png_set_IHDR(png, info, SIDE, SIDE, 1, PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info(png, info);
    for (int y = 0; y < SIDE; y++)
        png_write_row(png, row);
    png_write_end(png, NULL);
    png_destroy_write_struct(&png, &info);
    fclose(file);
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_scan_read(it.path, it.sheet, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "scan it at 300 dpi"));
}

/* 100 dpi, by a scanner and a machine that together make it 97 dpi of the commanded lengths: what the file says counts, if
 * it can be so. */
static void test_the_file_says_its_resolution(void)
{
    g_autofree char *path = it.path, *jpeg = g_strconcat(path, ".jpg", NULL);
    const double scale[2] = {it.machine.scan_scale[0], it.machine.scan_scale[1]};
    for (int axis = 0; axis < 2; axis++)
        it.machine.scan_scale[axis] = 0.97 / it.machine.scale[axis];
    it.path = jpeg;
    g_autofree uint8_t *grey = scan_with(0, 100).grey;
    g_autoptr(DtScan) scan = read_back(NULL);
    g_assert_cmpfloat(scan->dpi, ==, 100);
    g_autofree char *data = NULL;
    gsize len;
    g_assert_true(g_file_get_contents(jpeg, &data, &len, NULL));
    data[15] = 0x48; /* JFIF 1.02 (Hamilton 1992): the horizontal density, low byte: 72 dpi */
    data[17] = 0x48;
    g_assert_true(g_file_set_contents(jpeg, data, (gssize)len, NULL));
    g_autoptr(DtScan) wrong = read_back(NULL);
    g_assert_cmpfloat(wrong->dpi, ==, 96); /* the nearest */
    it.path = g_steal_pointer(&path);
    memcpy(it.machine.scan_scale, scale, sizeof scale);
    g_remove(jpeg);
}

static void test_few_pixels(void)
{
    g_autofree uint8_t *grey = scan_with(0, 100).grey;
    g_autoptr(GError) error = NULL;
    g_autoptr(DtScan) scan = read_back(NULL);
    g_assert_nonnull(strstr(scan->notes, "few pixels"));
    g_autoptr(DtFigures) f = solve(scan, NULL, &error);
    g_assert_no_error(error);
    g_assert_cmpfloat(slack_error(f), <, 0.05);
    g_autofree uint8_t *fewer = scan_with(0, 60).grey;
    read_back("");
}

static void test_sixteen_bits(void)
{
    FILE *file = fopen(it.path, "wb");
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png_create_info_struct(png);
    g_autofree uint8_t *row = g_malloc((gsize)it.scan.w * 2);
    png_init_io(png, file);
    png_set_IHDR(png, info, it.scan.w, it.scan.h, 16, PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info(png, info);
    for (int y = 0; y < it.scan.h; y++) {
        for (int x = 0; x < it.scan.w; x++)
            row[2 * x] = row[2 * x + 1] = it.scan.grey[(gsize)y * it.scan.w + x];
        png_write_row(png, row);
    }
    png_write_end(png, NULL);
    png_destroy_write_struct(&png, &info);
    fclose(file);
    g_autoptr(DtScan) scan = read_back(NULL);
    g_assert_cmpuint(scan->n, >, 400);
}

/* Inverted, as the files of a well-known trade program are and as Adobe's marker says. */
static void test_four_inks(void)
{
    struct jpeg_compress_struct c;
    struct jpeg_error_mgr e;
    FILE *file = fopen(it.path, "wb");
    g_autofree uint8_t *row = g_malloc((gsize)it.scan.w * 4);
    c.err = jpeg_std_error(&e);
    jpeg_create_compress(&c);
    jpeg_stdio_dest(&c, file);
    c.image_width = it.scan.w;
    c.image_height = it.scan.h;
    c.input_components = 4;
    c.in_color_space = JCS_CMYK;
    jpeg_set_defaults(&c);
    c.write_Adobe_marker = TRUE;
    jpeg_start_compress(&c, TRUE);
    for (int y = 0; y < it.scan.h; y++) {
        for (int x = 0; x < it.scan.w; x++) {
            memset(row + 4 * x, 255, 3);
            row[4 * x + 3] = it.scan.grey[(gsize)y * it.scan.w + x];
        }
        JSAMPROW rows[1] = {row};
        jpeg_write_scanlines(&c, rows, 1);
    }
    jpeg_finish_compress(&c);
    jpeg_destroy_compress(&c);
    fclose(file);
    g_autoptr(DtScan) scan = read_back(NULL);
    g_assert_cmpuint(scan->n, >, 400);
}

/* Two scans a quarter turn apart tell squareness; one cannot. */
static void test_reversal(void)
{
    g_autoptr(GError) error = NULL;
    g_autofree uint8_t *grey_a = scan_with(0, 200).grey;
    g_autoptr(DtScan) a = read_back(NULL);
    g_autofree uint8_t *grey_b = scan_with(1, 200).grey;
    g_autoptr(DtScan) b = read_back(NULL);
    g_autoptr(DtFigures) one = solve(a, NULL, &error), two = solve(a, b, &error);
    g_assert_no_error(error);
    g_assert_false(figure(one, DT_ERROR_OF_SQUARE)->known);
    g_assert_nonnull(strstr(one->notes, "turned by 90 degrees"));
    const DtFigure *square = figure(two, DT_ERROR_OF_SQUARE);
    g_assert_true(square->known);
    /* The lines through the true rails tilt by up to 0.1 degrees against the rig's own angle. */
    g_assert_cmpfloat_with_epsilon(square->value, it.machine.square_deg * G_PI / 180, 0.002);
    g_assert_cmpfloat(square->sd, <, 1e-4);
    g_assert_cmpfloat(slack_error(two), <, 0.045); /* scatter of 0.02 mm, at the very ends */
    g_assert_false(figure(two, DT_ERROR_OF_SCALE)->known); /* no rule was laid on it */
    g_assert_nonnull(strstr(two->notes, "ratio is known"));
}

/* The gauge line of X by a rule, for a single scan: a length and what is made of it. */
static DtFigures *solve_with_rule(const DtScan *scan, double mm, GError **error)
{
    const DtEvidence e = {
        .sheet = it.sheet, .scans = &scan, .n_scans = 1, .rule_mm = {&mm, NULL}, .n_rule = {1, 0}};
    return dt_truing_solve(it.profile, &e, NULL, error);
}

static void test_a_rule_that_the_scan_contradicts_is_refused(void)
{
    g_autoptr(GError) error = NULL;
    g_autofree uint8_t *grey = scan_with(0, 200).grey;
    g_autoptr(DtScan) scan = read_back(NULL);
    DtPoint ticks[2];
    g_assert_true(dt_model_gauge_ticks(it.sheet, 0, ticks));
    const double true_mm = dt_point_distance(ticks[0], ticks[1]) * it.machine.scale[0];
    g_autoptr(DtFigures) sound = solve_with_rule(scan, true_mm, &error);
    g_assert_no_error(error);
    g_assert_true(figure(sound, DT_ERROR_OF_SCALE)->known);
    g_assert_null(solve_with_rule(scan, true_mm * 0.97, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "by the rule"));
}

/* Scans with a card of these sizes beside the sheet. */
static DtScan *scan_with_card(int turn, double rotation, double w, double h, double grey,
                              const char *says)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *keys = truth_scan_text(&it.machine, turn, 0.8, 200);
    g_autofree char *all = g_strdup_printf(
        "%sborder = 64\ncard = %g\ncard_x = %g\ncard_y = %g\ncard_turn = %g\ncard_w = "
        "%g\ncard_h = %g\n",
        keys, grey, turn % 2 ? 34.0 : 120.0, turn % 2 ? 120.0 : 34.0,
        rotation + (turn % 2 ? 90 : 0), w, h);
    g_assert_true(dt_rig_set_scan(it.rig, all, "scan", &error));
    g_assert_no_error(error);
    g_assert_true(dt_rig_scan(it.rig, it.path, &error));
    DtScan *scan = read_back(NULL);
    const gboolean is_there = dt_scan_measure_card(scan, it.sheet, &error);
    if (says == NULL) {
        g_assert_no_error(error);
        g_assert_true(is_there && scan->has_card);
    } else {
        g_assert_false(is_there || scan->has_card);
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, it.path));
        if (strstr(error->message, says) == NULL)
            g_error("'%s' does not say '%s'", error->message, says);
    }
    return scan;
}

/* ISO/IEC 7810, ID-1: 85.60 x 53.98 mm. The rig's scanner is off by up to 0.8 %, each way by another share. */
static void test_a_card_is_a_measure_of_length(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtScan) a = scan_with_card(0, 3, 85.60, 53.98, 0.35, NULL);
    g_autoptr(DtScan) b = scan_with_card(1, -7, 85.60, 53.98, 0.6, NULL);
    const double sx = it.machine.scan_scale[0], sy = it.machine.scan_scale[1];
    g_assert_cmpfloat_with_epsilon(a->card_mm[0], 85.60 * sx, 0.1);
    g_assert_cmpfloat_with_epsilon(a->card_mm[1], 53.98 * sy, 0.1);
    g_assert_cmpfloat_with_epsilon(b->card_mm[0], 85.60 * sy, 0.1);
    g_autoptr(DtFigures) f = solve(a, b, &error);
    g_assert_no_error(error);
    int known = 0;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != DT_ERROR_OF_SCALE)
            continue;
        g_assert_true(g->known);
        g_assert_cmpfloat(g->sd, >, 5e-4); /* cards are not all alike */
        /* the straight line through a rail's position errors tilts its scale by up to 0.3 mm over it */
        g_assert_cmpfloat_with_epsilon(g->value, it.machine.scale[g->axis], 0.004);
        known++;
    }
    g_assert_cmpint(known, ==, 2);
    g_assert_null(strstr(f->notes ? f->notes : "", "scales are unknown"));
    /* one scan: the card's sides lie along both of the scanner's axes */
    g_autoptr(DtFigures) one = solve(a, NULL, &error);
    g_assert_no_error(error);
    g_assert_true(figure(one, DT_ERROR_OF_SCALE)->known);
    g_assert_false(figure(one, DT_ERROR_OF_SQUARE)->known);
}

static void test_what_is_no_card_is_refused(void)
{
    g_autoptr(DtScan) none = scan_with_card(0, 0, 85.60, 53.98, -1, "no card of the size ID-1");
    g_autoptr(DtScan) small = scan_with_card(0, 0, 80, 53.98, 0.4, "nearest is about 8");
    g_autoptr(DtScan) near = scan_with_card(0, 0, 88.6, 53.98, 0.4, "85.60 x 53.98");
    g_autoptr(DtScan) pale = scan_with_card(0, 0, 85.60, 53.98, 0.8, "no card of the size ID-1");
}

static void set_up(void)
{
    g_autoptr(GError) error = NULL;
    gsize len;
    truth_draw(&it.machine, 42, 210, 148);
    it.profile = truth_profile(&it.machine);
    it.sheet = dt_sheet_new_blank(it.profile, DT_SHEET_SCAN, "2026-01-01", 42);
    g_assert_true(dt_sheet_add_scan_part(it.sheet, it.profile, &error));
    g_autofree char *text = dt_sheet_write(it.sheet, it.profile, &len, &error);
    g_autofree char *truth = truth_rig_text(&it.machine);
    g_assert_no_error(error);
    it.rig = dt_rig_new_from_text(truth, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(it.rig, text, len);
    it.folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    it.path = g_build_filename(it.folder, "scan.png", NULL);
    it.scan = scan_with(0, 300);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    set_up();
    g_test_add_func("/scan/any-turn", test_any_turn);
    g_test_add_func("/scan/mirrored", test_mirrored_is_refused);
    g_test_add_func("/scan/blank", test_blank_is_refused);
    g_test_add_func("/scan/noise", test_noise_is_refused);
    g_test_add_func("/scan/no-picture", test_no_picture_is_refused);
    g_test_add_func("/scan/no-file", test_what_is_no_file_is_refused);
    g_test_add_func("/scan/cut-off", test_cut_off);
    g_test_add_func("/scan/another-sheet", test_another_sheet_is_refused);
    g_test_add_func("/scan/for-the-eye", test_a_sheet_for_the_eye_is_refused);
    g_test_add_func("/scan/fold", test_a_fold_is_refused);
    g_test_add_func("/scan/stain", test_a_stain_widens);
    g_test_add_func("/scan/photograph", test_a_photograph_tells_slack_alone);
    g_test_add_func("/scan/says-dpi", test_the_file_says_its_resolution);
    g_test_add_func("/scan/slant", test_a_photograph_is_no_other_sheet);
    g_test_add_func("/scan/large", test_too_many_pixels);
    g_test_add_func("/scan/few-pixels", test_few_pixels);
    g_test_add_func("/scan/sixteen-bits", test_sixteen_bits);
    g_test_add_func("/scan/four-inks", test_four_inks);
    g_test_add_func("/scan/reversal", test_reversal);
    g_test_add_func("/scan/rule", test_a_rule_that_the_scan_contradicts_is_refused);
    g_test_add_func("/scan/card", test_a_card_is_a_measure_of_length);
    g_test_add_func("/scan/no-card", test_what_is_no_card_is_refused);
    const int status = g_test_run();
    g_unlink(it.path);
    g_rmdir(it.folder);
    g_free(it.scan.grey);
    g_free(it.path);
    g_free(it.folder);
    dt_rig_free(it.rig);
    dt_sheet_free(it.sheet);
    dt_profile_free(it.profile);
    return status;
}
