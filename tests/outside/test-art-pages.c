/* Outside checks of art: pages of PDF files, made here byte by byte as ISO 32000-1 says, are read as it says. */
#include "drawtrue/art.h"
#include "drawtrue/base.h"

#include <cairo.h>
#include <math.h>
#include <string.h>
#include <zlib.h>

#define MM_PER_PT (25.4 / 72)

static DtDrawing *read_bytes(const guchar *data, gsize len, const char *name, int page)
{
    g_autoptr(GError) error = NULL;
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.page = page;
    DtDrawing *d = dt_art_read_data((const char *)data, len, name, &o, &error);
    if (!d)
        g_error("%s", error->message);
    return d;
}

/* A PDF file of two pages; the second has these entries and this content. What else is given follows the
 * objects, which refer to nothing in it. */
static char *pdf_of(const char *content, const char *entries, const GString *extra, gsize *len)
{
    g_autofree char *objects[5] = {
        g_strdup("<</Type/Catalog/Pages 2 0 R>>"),
        g_strdup("<</Type/Pages/Kids[3 0 R 4 0 R]/Count 2>>"),
        g_strdup("<</Type/Page/Parent 2 0 R/MediaBox[0 0 99 99]>>"),
        g_strdup_printf("<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]/Contents 5 0 R%s>>",
                        entries),
        g_strdup_printf("<</Length %zu>>stream\n%sendstream", strlen(content), content)};
    GString *s = g_string_new("%PDF-1.6\n");
    gsize at[5];
    for (int i = 0; i < 5; i++) {
        at[i] = s->len;
        g_string_append_printf(s, "%d 0 obj\n%s\nendobj\n", i + 1, objects[i]);
        if (i > 0)
            g_free(objects[i]);
    }
    if (extra)
        g_string_append_len(s, extra->str, (gssize)extra->len);
    const gsize table = s->len;
    g_string_append(s, "xref\n0 6\n0000000000 65535 f \n");
    for (int i = 0; i < 5; i++)
        g_string_append_printf(s, "%010zu 00000 n \n", at[i]);
    g_string_append_printf(s, "trailer\n<</Size 6/Root 1 0 R>>\nstartxref\n%zu\n%%%%EOF\n", table);
    *len = s->len;
    return g_string_free(s, FALSE);
}

/* The same, with the content of one red rectangle. */
static char *pdf_with(const char *entries, const GString *extra, gsize *len)
{
    return pdf_of("1 0 0 rg 150 250 50 40 re f\n", entries, extra, len);
}

static char *pdf(const char *entries, gsize *len)
{
    return pdf_with(entries, NULL, len);
}

/* Page size and the rectangle's box, all in points. */
static void assert_page(const char *entries, double w, double h, DtBox box)
{
    gsize len = 0;
    g_autofree char *file = pdf(entries, &len);
    g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
    g_assert_cmpfloat_with_epsilon(d->width, w * MM_PER_PT, 0.01);
    g_assert_cmpfloat_with_epsilon(d->height, h * MM_PER_PT, 0.01);
    DtBox found = DT_BOX_EMPTY;
    for (gsize i = 0; i < d->n_shapes; i++)
        if (d->shapes[i].fill.colour.g < 0.5) /* the white of the page is no ink */
            found = dt_box_union(found, dt_lines_box(&d->shapes[i].outline));
    g_assert_cmpfloat_with_epsilon(found.x0, box.x0 * MM_PER_PT, 0.01);
    g_assert_cmpfloat_with_epsilon(found.y0, box.y0 * MM_PER_PT, 0.01);
    g_assert_cmpfloat_with_epsilon(found.x1, box.x1 * MM_PER_PT, 0.01);
    g_assert_cmpfloat_with_epsilon(found.y1, box.y1 * MM_PER_PT, 0.01);
}

/* ISO 32000-1, 14.11.2: the page that is shown is its crop box, by default its media box; 7.7.3.3:
 * turned clockwise by Rotate. */
static void test_page_boxes(void)
{
    assert_page("", 612, 792, (DtBox){150, 792 - 290, 200, 792 - 250});
    assert_page("/CropBox[100 200 300 500]", 200, 300, (DtBox){50, 210, 100, 250});
    assert_page("/CropBox[100 200 300 500]/Rotate 90", 300, 200, (DtBox){50, 50, 90, 100});
    assert_page("/CropBox[100 200 300 500]/Rotate 180", 200, 300, (DtBox){100, 50, 150, 90});
    assert_page("/CropBox[100 200 300 500]/Rotate 270", 300, 200, (DtBox){210, 100, 250, 150});
}

/* ISO 32000-1, 7.5.7: objects deflated together, after a list of their numbers and places. */
static GString *object_stream(const char *object)
{
    guchar packed[256];
    uLongf n = sizeof packed;
    g_autofree char *objects = g_strdup_printf("9 0 %s", object);
    g_assert_cmpint(compress(packed, &n, (const Bytef *)objects, strlen(objects)), ==, Z_OK);
    GString *s = g_string_new(NULL);
    g_string_printf(
        s, "8 0 obj\n<</Type/ObjStm/N 1/First 4/Filter/FlateDecode/Length %lu>>stream\r\n", n);
    g_string_append_len(s, (const char *)packed, (gssize)n);
    g_string_append(s, "\nendstream\nendobj\n");
    return s;
}

/* ISO 32000-1, table 30: the unit of a page, 1/72 inch by default, wherever its dictionary is. */
static void test_unit_of_a_page_is_noted(void)
{
    static const struct {
        const char *entry;
        gboolean noted;
    } cases[] = {{"/UserUnit 2", TRUE}, {"/UserUnit 1.0", FALSE}, {"/UserUnit\n.5", TRUE}};
    for (gsize i = 0; i < 2 * G_N_ELEMENTS(cases); i++) {
        const char *entry = cases[i / 2].entry;
        g_autofree char *page = g_strdup_printf("<</Type/Page/Rotate 0%s>>", entry);
        g_autoptr(GString) packed = object_stream(page);
        gsize len = 0;
        g_autofree char *file = i % 2 ? pdf_with("", packed, &len) : pdf(entry, &len);
        g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
        g_assert_cmpuint(d->n_notes, ==, cases[i / 2].noted ? 1 : 0);
        if (cases[i / 2].noted)
            g_assert_nonnull(strstr(d->notes[0].text, "UserUnit"));
    }
}

static void test_further_pages_are_noted(void)
{
    gsize len = 0;
    g_autofree char *file = pdf("", &len);
    g_autoptr(DtDrawing) second = read_bytes((const guchar *)file, len, "page.pdf", 2);
    g_assert_cmpuint(second->n_notes, ==, 0); /* somebody asked for it */
    g_autoptr(DtDrawing) first = read_bytes((const guchar *)file, len, "page.pdf", 1);
    g_assert_cmpuint(first->n_notes, ==, 1);
    g_assert_cmpstr(first->notes[0].text, ==,
                    "page 1 of 2 is drawn: the option page draws another");
}

/* An operator that ISO 32000-1 does not have: the converter leaves it out and goes on. */
static void test_damaged_page_is_noted(void)
{
    gsize len = 0;
    g_autofree char *file = pdf("", &len);
    char *paint = g_strstr_len(file, (gssize)len, " 40 re f");
    memcpy(paint, " 40 xx f", 8);
    g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
    g_assert_cmpuint(d->n_notes, ==, 1);
    g_assert_nonnull(strstr(d->notes[0].text, "may be incomplete"));
    g_assert_nonnull(strstr(d->notes[0].text, "xx"));
}

/* ISO 32000-1, 9.6.2.2: fourteen fonts are known to every reader; the text of others, where the file does
 * not hold them, is drawn in whatever there is. */
static void test_fonts_that_are_missing_are_noted(void)
{
    static const char *const fonts[] = {"Helvetica", "SeedDrawerSans", "Seed#20Drawer#20Sans"};
    static const char *const notes[] = {NULL, " font SeedDrawerSans: ", " font Seed Drawer Sans: "};
    for (gsize i = 0; i < G_N_ELEMENTS(fonts); i++) {
        g_autofree char *resources = g_strdup_printf(
            "/Resources<</Font<</F<</Type/Font/Subtype/TrueType/BaseFont/%s>>>>>>", fonts[i]);
        gsize len = 0;
        g_autofree char *file = pdf(resources, &len);
        g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
        g_assert_cmpuint(d->n_notes, ==, notes[i] ? 1 : 0);
        if (notes[i])
            g_assert_nonnull(strstr(d->notes[0].text, notes[i]));
    }
}

/* The colour of the drawing on white at a point of the page, pt from its lower left corner: 0xrrggbb. */
static guint32 colour_at(const DtDrawing *d, double x, double y)
{
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 1, 1);
    cairo_t *cr = cairo_create(s);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_paint(cr);
    cairo_translate(cr, 0.5 - x * MM_PER_PT, 0.5 - (792 - y) * MM_PER_PT);
    dt_art_paint(d, cr);
    cairo_surface_flush(s);
    const guint32 colour =
        *(const guint32 *)(const void *)cairo_image_surface_get_data(s) & 0xffffff;
    cairo_destroy(cr);
    cairo_surface_destroy(s);
    return colour;
}

/* ISO 32000-1, 11.3.5.2: Multiply gives the product of the colours, Screen what is left of it, and a clip is no
 * backdrop of its own (11.4.1 knows groups only). Green over red, over the paper, and cut off by the clip. */
static void test_blends_of_paints(void)
{
    static const struct {
        const char *mode;
        guint32 over_red, over_paper;
    } cases[] = {{"Normal", 0x00ff00, 0x00ff00},
                 {"Multiply", 0x000000, 0x00ff00},
                 {"Screen", 0xffff00, 0xffffff},
                 {"Darken", 0x000000, 0x00ff00},
                 {"Difference", 0xffff00, 0xff00ff}};
    static const char *const clips[] = {
        "", "q 50 50 300 300 re W n ",
        "q 40 40 320 320 re W n 50 50 m 350 50 l 350 350 l 50 350 l h W n "};
    for (gsize i = 0; i < 3 * G_N_ELEMENTS(cases); i++) {
        const char *clip = clips[i / G_N_ELEMENTS(cases)],
                   *mode = cases[i % G_N_ELEMENTS(cases)].mode;
        g_autofree char *content =
            g_strdup_printf("1 1 1 rg 0 0 612 792 re f 1 0 0 rg 100 100 150 200 re f /G gs\n%s"
                            "0 1 0 rg 200 200 200 200 re f %s\n",
                            clip, *clip ? "Q" : "");
        g_autofree char *resources =
            g_strdup_printf("/Resources<</ExtGState<</G<</BM/%s>>>>>>", mode);
        gsize len = 0;
        g_autofree char *file = pdf_of(content, resources, NULL, &len);
        g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
        for (gsize k = 0; k < d->n_notes; k++) {
            g_assert_null(strstr(d->notes[k].text, "comp-op"));
            g_assert_null(strstr(d->notes[k].text, "second reader"));
        }
        g_assert_cmphex(colour_at(d, 225, 250), ==, cases[i % G_N_ELEMENTS(cases)].over_red);
        g_assert_cmphex(colour_at(d, 300, 250), ==, cases[i % G_N_ELEMENTS(cases)].over_paper);
        g_assert_cmphex(colour_at(d, 375, 250), ==,
                        *clip ? 0xffffff : cases[i % G_N_ELEMENTS(cases)].over_paper);
    }
}

/* As single lines, words stand where those of the page do: widths of Helvetica by the Adobe Core 14 font
 * metrics (from memory). */
static void test_words_as_single_lines(void)
{
    static const double size = 24, x = 100, y = 600, seed = 0.667 + 3 * 0.556, space = 0.278,
                        bank = 3 * 0.556 + 0.5;
    gsize len = 0;
    g_autofree char *file = pdf_of(
        "BT /F 24 Tf 100 600 Td (Seed bank) Tj ET\n1 0 0 rg 150 250 50 40 re f\n",
        "/Resources<</Font<</F<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>>>", NULL, &len);
    g_autoptr(GError) error = NULL;
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.page = 2;
    o.single_line_text = TRUE;
    g_autoptr(DtDrawing) d = dt_art_read_data(file, len, "page.pdf", &o, &error);
    g_assert_no_error(error);
    const double from[2] = {x, x + (seed + space) * size}, width[2] = {seed * size, bank * size};
    guint words = 0, fills = 0;
    for (gsize i = 0; i < d->n_shapes; i++) {
        const DtShape *s = &d->shapes[i];
        fills += s->fill.kind != DT_PAINT_NONE && s->fill.colour.g < 0.5;
        if (s->fill.kind != DT_PAINT_NONE || s->stroke.paint.kind == DT_PAINT_NONE)
            continue;
        g_assert_cmpuint(words, <, 2);
        const DtBox box = dt_lines_box(&s->outline);
        g_assert_cmpfloat_with_epsilon(box.x0 / MM_PER_PT, from[words], 3);
        g_assert_cmpfloat_with_epsilon(box.x1 / MM_PER_PT, from[words] + width[words], 3);
        g_assert_cmpfloat_with_epsilon(box.y1 / MM_PER_PT, 792 - y, 2);
        for (gsize k = 0; k < s->outline.n; k++)
            g_assert_false(s->outline.closed[k]);
        words++;
    }
    g_assert_cmpuint(words, ==, 2);
    g_assert_cmpuint(fills, ==, 1); /* the rectangle, and no letter */
    g_assert_cmpuint(d->n_notes, >, 0);
    g_assert_nonnull(strstr(d->notes[d->n_notes - 1].text, "set upright and black"));
}

static void test_pages_that_are_not_there(void)
{
    gsize len = 0;
    g_autofree char *file = pdf("", &len);
    g_autoptr(GError) error = NULL;
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.page = 3;
    g_assert_null(dt_art_read_data(file, len, "page.pdf", &o, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_true(g_str_has_prefix(error->message, "page.pdf: "));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/pages/fonts", test_fonts_that_are_missing_are_noted);
    g_test_add_func("/outside/pages/blends", test_blends_of_paints);
    g_test_add_func("/outside/pages/words", test_words_as_single_lines);
    g_test_add_func("/outside/pages/page-boxes", test_page_boxes);
    g_test_add_func("/outside/pages/user-unit", test_unit_of_a_page_is_noted);
    g_test_add_func("/outside/pages/pages", test_further_pages_are_noted);
    g_test_add_func("/outside/pages/damaged", test_damaged_page_is_noted);
    g_test_add_func("/outside/pages/page-missing", test_pages_that_are_not_there);
    return g_test_run();
}
