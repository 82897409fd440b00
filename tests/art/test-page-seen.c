/* Whether a drawing looks as a second reader has painted its page. */
#include "art/source/raster.h"

#include <stdlib.h>
#include <string.h>

enum { SIDE = 200 };

/* A page of 100 px with a black square of 40 px, and a thin line. */
static DtDrawing *page(void)
{
    static const char svg[] = "<svg xmlns='http://www.w3.org/2000/svg' width='100' "
                              "height='100'><rect x='20' y='30' width='40' height='40' "
                              "fill='#000'/><path d='M10,90 H90' stroke='#000'/></svg>";
    g_autoptr(GError) error = NULL;
    DtDrawing *d = dt_art_read_data(svg, strlen(svg), "page", NULL, &error);
    g_assert_no_error(error);
    return d;
}

static void fill(ArtPageSeen *s, int x0, int y0, int x1, int y1, guint colour)
{
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            for (int c = 0; c < 3; c++)
                s->rgb[(y * s->w + x) * 3 + c] = (guchar)(colour >> (16 - 8 * c));
}

/* The same at two pixels a px: the square in `colour` and `moved` aside, the line a pixel aside then. */
static ArtPageSeen seen_as(int moved, guint colour)
{
    ArtPageSeen s = {g_malloc(SIDE * SIDE * 3), SIDE, SIDE};
    fill(&s, 0, 0, SIDE, SIDE, 0xffffff);
    fill(&s, 40 + moved, 60, 120 + moved, 140, colour);
    fill(&s, 20, 179 + (moved > 0), 180, 181 + (moved > 0), 0);
    return s;
}

/* The square covers 6400 pixels and the line 320; both reach two farther, as colours are averaged. What is half a
 * pixel aside or a little paler is a matter of smoothing. */
static void test_differences_are_told(void)
{
    static const struct {
        int moved;
        guint colour;
        int least, most; /* per cent */
    } cases[] = {{0, 0x000000, 0, 0},   {1, 0x000000, 0, 0},   {0, 0x181818, 0, 0},
                 {0, 0xffffff, 80, 90}, {0, 0x20c040, 80, 90}, {20, 0x000000, 30, 42}};
    g_autoptr(DtDrawing) d = page();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        ArtPageSeen seen = seen_as(cases[i].moved, cases[i].colour);
        g_autofree char *note = dt_art_pdf_difference(d, &seen);
        g_test_message("%s", note ? note : "alike");
        if (cases[i].most == 0) {
            g_assert_null(note);
        } else {
            const int percent = atoi(note);
            g_assert_cmpint(percent, >=, cases[i].least);
            g_assert_cmpint(percent, <=, cases[i].most);
        }
        dt_art_page_seen_clear(&seen);
        g_assert_null(seen.rgb);
    }
    g_assert_null(dt_art_pdf_difference(d, &(ArtPageSeen){0}));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/page-seen/differences", test_differences_are_told);
    return g_test_run();
}
