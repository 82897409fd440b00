/* corpus-features: drawings of one feature each, as we draw them and as a web browser does.
 *
 *   corpus-features [--browser PROGRAM] [--pictures FOLDER] [--all] [--write-references]
 *                   [FOLDER ...]
 *
 * Each drawing is one of three: drawn (what is painted agrees by intersection over union, and its
 * colours agree), noted (it does not, but a note or a refusal says so), silent (it does not, and
 * nothing says so), unseen (the browser made no picture of it). A folder holds tables of drawings or drawings; without one it takes
 * tests/art/features. --write-references keeps the browser's pictures and what was noted there, for
 * the test that has no browser. */
#include "browser.h"
#include "drawtrue/base.h"
#include "support/feature-table.h"

#include <gio/gio.h>
#include <stdio.h>
#include <string.h>

#define BATCH 36
#define REFERENCE_COLUMNS 32
#define MM_PER_PX (25.4 / 96)
#define CLOSER 4 /* times the size at which what does not agree is looked at again */

static char *browser = (char *)"chromium", *pictures;
static gboolean list_all, write_references;

typedef enum { DRAWN, NOTED, UNSEEN, SILENT, N_VERDICTS } Verdict;
static const char *const words[N_VERDICTS] = {"drawn", "noted", "unseen", "silent"};

typedef struct {
    const Feature *feature;
    char *text; /* the drawing, unpacked: browsers take compressed files from servers only */
    gsize len;
    DtDrawing *drawing;
    char *refusal;
    cairo_surface_t *theirs;
    FeatureMatch match;
    Verdict verdict;
} Case;

/* A copy of the drawing, without its gzip (RFC 1952) wrapping. */
static void unpack(Case *c)
{
    const Feature *f = c->feature;
    if (f->len < 2 || (guchar)f->svg[0] != 0x1f || (guchar)f->svg[1] != 0x8b) {
        c->text = g_memdup2(f->svg, f->len);
        c->len = f->len;
        return;
    }
    g_autoptr(GConverter) gunzip =
        G_CONVERTER(g_zlib_decompressor_new(G_ZLIB_COMPRESSOR_FORMAT_GZIP));
    g_autoptr(GInputStream) packed =
        g_memory_input_stream_new_from_data(f->svg, (gssize)f->len, NULL);
    g_autoptr(GInputStream) in = g_converter_input_stream_new(packed, gunzip);
    g_autoptr(GOutputStream) out = g_memory_output_stream_new_resizable();
    g_output_stream_splice(out, in, G_OUTPUT_STREAM_SPLICE_CLOSE_TARGET, NULL, NULL);
    GMemoryOutputStream *memory = G_MEMORY_OUTPUT_STREAM(out);
    c->len = g_memory_output_stream_get_data_size(memory);
    c->text = g_memory_output_stream_steal_data(memory);
}

static void read_case(Case *c)
{
    g_autoptr(GError) error = NULL;
    unpack(c);
    c->drawing = dt_art_read_data(c->feature->svg, c->feature->len, c->feature->name, NULL, &error);
    if (!c->drawing)
        c->refusal = g_strdup(error->message);
}

static void save_pictures(const Case *c, cairo_surface_t *ours)
{
    if (!pictures)
        return;
    g_mkdir_with_parents(pictures, 0777);
    int w = cairo_image_surface_get_width(c->theirs), h = cairo_image_surface_get_height(c->theirs);
    cairo_surface_t *both = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 2 * w + 10, h);
    cairo_t *cr = cairo_create(both);
    cairo_set_source_rgb(cr, 0.8, 0.85, 0.9);
    cairo_paint(cr);
    if (ours) {
        cairo_set_source_surface(cr, ours, 0, 0);
        cairo_paint(cr);
    }
    cairo_set_source_surface(cr, c->theirs, w + 10, 0);
    cairo_paint(cr);
    cairo_set_source_rgb(cr, 1, 0, 0);
    cairo_rectangle(cr, w, 0, 10, h);
    cairo_fill(cr);
    g_autofree char *name = g_strdup_printf("%s/%s.png", pictures, c->feature->name);
    cairo_surface_write_to_png(both, name);
    cairo_destroy(cr);
    cairo_surface_destroy(both);
}

static void judge(Case *c)
{
    if (!c->theirs) {
        c->verdict = c->refusal ? NOTED : UNSEEN;
        return;
    }
    cairo_surface_t *ours =
        c->drawing ? features_paint(c->drawing, FEATURE_SIDE, CAIRO_ANTIALIAS_DEFAULT) : NULL;
    if (ours)
        c->match = features_match(ours, c->theirs);
    gboolean said = c->refusal || (c->drawing && c->drawing->n_notes > 0);
    c->verdict = c->match.same ? DRAWN : said ? NOTED : SILENT;
    if (c->verdict != DRAWN)
        save_pictures(c, ours);
    if (ours)
        cairo_surface_destroy(ours);
}

/* What the browser is asked to paint, at most `side` px wide and high. */
static BrowserPicture picture_of(const Case *c, int side)
{
    const DtDrawing *d = c->drawing;
    BrowserPicture p = {.data = c->text,
                        .len = c->len,
                        .page_w = d ? d->width / MM_PER_PX : 100,
                        .page_h = d ? d->height / MM_PER_PX : 100};
    features_size(d, side, &p.w, &p.h);
    return p;
}

/* Two renderers spread lines of about a pixel over their neighbours differently, and tiles that meet show
 * a seam in one. What differs by more
 * than that differs at a larger size too, where the tolerance of a pixel is a smaller part. */
static void look_closer(Case *c)
{
    BrowserPicture p = picture_of(c, CLOSER * FEATURE_SIDE);
    browser_paint_many(browser, &p, 1, CLOSER * FEATURE_SIDE);
    if (!p.picture)
        return;
    cairo_surface_t *ours = features_paint(c->drawing, CLOSER * FEATURE_SIDE, CAIRO_ANTIALIAS_NONE);
    FeatureMatch closer = features_match(ours, p.picture);
    if (closer.same) {
        c->match = closer;
        c->verdict = DRAWN;
    }
    cairo_surface_destroy(ours);
    cairo_surface_destroy(p.picture);
}

static void run_batch(Case *cases, guint n)
{
    BrowserPicture wanted[BATCH];
    for (guint i = 0; i < n; i++) {
        read_case(&cases[i]);
        wanted[i] = picture_of(&cases[i], FEATURE_SIDE);
    }
    browser_paint_many(browser, wanted, n, FEATURE_SIDE);
    /* One drawing on which the browser hangs leaves its whole batch without pictures. */
    for (guint i = 0; i < n; i++)
        if (!wanted[i].picture)
            browser_paint_many(browser, &wanted[i], 1, FEATURE_SIDE);
    for (guint i = 0; i < n; i++) {
        cases[i].theirs = wanted[i].picture;
        judge(&cases[i]);
        if (cases[i].verdict == SILENT && cases[i].drawing)
            look_closer(&cases[i]);
    }
}

/* What is kept of every drawing and every picture of the browser, in the order of the features. */
static void keep_references(const char *folder, Case *cases, guint n)
{
    int rows = ((int)n + REFERENCE_COLUMNS - 1) / REFERENCE_COLUMNS;
    cairo_surface_t *s = cairo_image_surface_create(
        CAIRO_FORMAT_ARGB32, REFERENCE_COLUMNS * FEATURE_TILE, rows * FEATURE_TILE);
    int stride = cairo_image_surface_get_stride(s) / 4;
    GString *verdicts = g_string_new(NULL);
    for (guint i = 0; i < n; i++) {
        int x = (int)i % REFERENCE_COLUMNS * FEATURE_TILE, y = (int)i / REFERENCE_COLUMNS;
        guint32 *pixels = (guint32 *)(void *)cairo_image_surface_get_data(s);
        guint32 *tile = pixels + y * FEATURE_TILE * stride + x;
        const Case *c = &cases[i];
        if (c->theirs)
            features_tile(c->theirs, FEATURE_SIDE, tile, stride);
        const double distance = c->drawing ? features_distance(c->drawing, tile, stride) : 0;
        g_autofree char *row =
            features_verdict(c->feature, words[c->verdict], c->drawing, distance, c->refusal);
        g_string_append_printf(verdicts, "%s\n", row);
    }
    cairo_surface_mark_dirty(s);
    g_autofree char *picture = g_build_filename(folder, "browser.png", NULL);
    g_autofree char *table = g_build_filename(folder, "verdicts.tsv", NULL);
    cairo_surface_write_to_png(s, picture);
    g_file_set_contents(table, verdicts->str, -1, NULL);
    g_string_free(verdicts, TRUE);
    cairo_surface_destroy(s);
}

static void print_case(const Case *c)
{
    printf("  %-6s  IoU %.3f  faint %.3f  colour %.3f  %s", words[c->verdict], c->match.iou,
           c->match.faint, c->match.colour, c->feature->name);
    if (c->refusal)
        printf("  refused: %s", c->refusal);
    for (gsize i = 0; c->drawing && i < MIN(c->drawing->n_notes, 3); i++)
        printf("  [%s]", c->drawing->notes[i].text);
    printf("\n");
}

/* A folder may bring a setting of its own fonts, for the browser and for us. */
static void use_fonts_of(const char *folder)
{
    g_autofree char *name = g_build_filename(folder, "fonts.conf", NULL);
    if (g_file_test(name, G_FILE_TEST_EXISTS)) {
        g_autofree char *whole = g_canonicalize_filename(name, NULL);
        g_setenv("FONTCONFIG_FILE", whole, TRUE);
    }
}

static gsize run(const char *folder, GError **error)
{
    use_fonts_of(folder);
    g_autoptr(GPtrArray) features = features_read(folder, error);
    if (!features)
        return 1;
    gsize counts[N_VERDICTS] = {0}, needless = 0;
    g_autofree Case *cases = g_new0(Case, features->len);
    for (guint i = 0; i < features->len; i++)
        cases[i].feature = features->pdata[i];
    for (guint i = 0; i < features->len; i += BATCH)
        run_batch(cases + i, MIN(BATCH, features->len - i));
    for (Verdict v = N_VERDICTS; v-- > 0;)
        for (guint i = 0; i < features->len; i++) {
            counts[v] += cases[i].verdict == v;
            needless += v == DRAWN && cases[i].verdict == v && cases[i].drawing->n_notes > 0;
            if (cases[i].verdict == v && (v >= UNSEEN || list_all))
                print_case(&cases[i]);
        }
    printf("%s: %u drawings: drawn %zu (%zu of them with a note), noted %zu, unseen %zu, silent "
           "%zu\n",
           folder, features->len, counts[DRAWN], needless, counts[NOTED], counts[UNSEEN],
           counts[SILENT]);
    if (write_references)
        keep_references(folder, cases, features->len);
    for (guint i = 0; i < features->len; i++) {
        dt_drawing_free(cases[i].drawing);
        g_free(cases[i].refusal);
        g_free(cases[i].text);
        if (cases[i].theirs)
            cairo_surface_destroy(cases[i].theirs);
    }
    return counts[SILENT];
}

int main(int argc, char **argv)
{
    GOptionEntry entries[] = {{"browser", 0, 0, G_OPTION_ARG_STRING, &browser,
                               "The browser to ask (chromium)", "PROGRAM"},
                              {"pictures", 0, 0, G_OPTION_ARG_FILENAME, &pictures,
                               "Write what is not drawn alike there: ours left", "FOLDER"},
                              {"all", 0, 0, G_OPTION_ARG_NONE, &list_all,
                               "List every drawing, not only the silent ones", NULL},
                              {"write-references", 0, 0, G_OPTION_ARG_NONE, &write_references,
                               "Keep the browser's pictures and the verdicts in the folder", NULL},
                              {NULL}};
    g_autoptr(GOptionContext) context = g_option_context_new("[FOLDER ...]");
    g_option_context_add_main_entries(context, entries, NULL);
    g_autoptr(GError) error = NULL;
    if (!g_option_context_parse(context, &argc, &argv, &error)) {
        fprintf(stderr, "corpus-features: %s\n", error->message);
        return 2;
    }
    gsize silent = 0;
    if (argc < 2)
        silent = run("tests/art/features", &error);
    for (int i = 1; i < argc && !error; i++)
        silent += run(argv[i], &error);
    if (error) {
        fprintf(stderr, "corpus-features: %s\n", error->message);
        return 3;
    }
    return silent > 0;
}
