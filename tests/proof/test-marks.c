/* proof: names of marks stand where they hide least, and ink is pale where the order is shown. */
#include "job.h"
#include "proof/private.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { MOST_PLACES = 40 };

#define WIDE 12.0 /* of a name, picture units */
#define HIGH 8.0
#define STEP 0.02 /* mm, of the walk */

static const DtProofFrame frame = {{0, 0, 100, 100}, 30, 20, 4};

static gboolean overlap(DtBox a, DtBox b)
{
    return a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;
}

/* The places about a mark, the best liked first: each is what is taken where all before are. */
static int find_places(DtPoint mark, double k, DtBox *place)
{
    DtProofTrace bare = {.travels = g_array_new(FALSE, FALSE, sizeof(DtProofTravel))};
    int n = 0;
    for (; n < MOST_PLACES; n++) {
        g_autoptr(GArray) taken = g_array_new(FALSE, FALSE, sizeof(DtBox));
        for (int i = 0; i < n; i++) {
            /* its middle alone, which places that overlap it do not hold */
            const DtBox b = {place[i].x0 + WIDE / 2 - 1e-6, place[i].y0 + HIGH / 2 - 1e-6,
                             place[i].x0 + WIDE / 2 + 1e-6, place[i].y0 + HIGH / 2 + 1e-6};
            g_array_append_val(taken, b);
        }
        place[n] = dt_proof_clear_place(&frame, &bare, FALSE, mark, WIDE, HIGH, k, taken);
        g_assert_cmpfloat_with_epsilon(dt_box_width(place[n]), WIDE, 1e-9);
        g_assert_cmpfloat_with_epsilon(dt_box_height(place[n]), HIGH, 1e-9);
        for (guint i = 0; i < taken->len; i++)
            if (overlap(place[n], g_array_index(taken, DtBox, i)))
                goto out;
    }
out:
    g_array_unref(bare.travels);
    return n;
}

/* The length of a line, bed mm, within a box of the picture, in picture units. */
static double walked_in(DtBox b, DtPoint from, DtPoint to)
{
    const double length = dt_point_distance(from, to);
    const int n = (int)ceil(length / STEP);
    int in = 0;
    for (int i = 0; i < n; i++) {
        const DtPoint p = dt_proof_frame_at(&frame, dt_point_lerp(from, to, (i + 0.5) / n));
        in += p.x > b.x0 && p.x < b.x1 && p.y > b.y0 && p.y < b.y1;
    }
    return n > 0 ? length * frame.scale * in / n : 0;
}

static DtPoint any_point(void)
{
    return dt_point(g_test_rand_double_range(35, 65), g_test_rand_double_range(35, 65));
}

/* Where nothing is in the way a name stands beside its mark, at its height and on the right; what is farther away
 * comes after all that is nearer. */
static void test_names_stand_on_the_right(void)
{
    const DtPoint mark = dt_point(230, 220);
    DtBox place[MOST_PLACES];
    const int n = find_places(mark, 1.5, place);
    g_assert_cmpfloat(place[0].x0, >, mark.x);
    g_assert_cmpfloat_with_epsilon((place[0].y0 + place[0].y1) / 2, mark.y, 1e-9);
    for (int i = 0; i < n / 2; i++)
        for (int j = n / 2; j < n; j++) {
            const DtBox nearer = dt_box_grow(place[i], -1e-9);
            g_assert_cmpfloat(MAX(MAX(nearer.x0 - mark.x, mark.x - nearer.x1),
                                  MAX(nearer.y0 - mark.y, mark.y - nearer.y1)),
                              <,
                              MAX(MAX(place[j].x0 - mark.x, mark.x - place[j].x1),
                                  MAX(place[j].y0 - mark.y, mark.y - place[j].y1)));
        }
}

/* Random ink and travel about a mark: its name takes the place that hides least of them, what is pale counting a
 * fifth, and half a unit for each place that is liked better. */
static void test_names_hide_least(void)
{
    const DtPoint mark = dt_point(230, 220);
    const double k = 1.5;
    DtBox place[MOST_PLACES];
    const int n_places = find_places(mark, k, place);
    g_assert_cmpint(n_places, >=, 16);
    g_autoptr(GArray) nothing = g_array_new(FALSE, FALSE, sizeof(DtBox));
    unsigned first = 0;
    for (int round = 0; round < 200; round++) {
        const gboolean order = g_test_rand_bit();
        DtProofTrace t = {.travels = g_array_new(FALSE, FALSE, sizeof(DtProofTravel))};
        dt_lines_init(&t.ink);
        double hidden[MOST_PLACES] = {0};
        for (int i = 0, n = g_test_rand_int_range(1, 25); i < n; i++) {
            const DtPoint p[2] = {any_point(), any_point()};
            const gboolean travels = g_test_rand_bit();
            if (travels) {
                const DtProofTravel h = {.from = p[0], .to = p[1]};
                g_array_append_val(t.travels, h);
            } else {
                dt_lines_append(&t.ink, p, 2, FALSE);
            }
            for (int j = 0; j < n_places; j++)
                hidden[j] += (travels == order ? 1 : 0.2) * walked_in(place[j], p[0], p[1]);
        }
        const DtBox taken = dt_proof_clear_place(&frame, &t, order, mark, WIDE, HIGH, k, nothing);
        double least = G_MAXDOUBLE, own = G_MAXDOUBLE;
        for (int j = 0; j < n_places; j++) {
            hidden[j] += 0.5 * k * j;
            least = MIN(least, hidden[j]);
            if (fabs(place[j].x0 - taken.x0) + fabs(place[j].y0 - taken.y0) < 1e-6) {
                own = hidden[j];
                first += j == 0;
            }
        }
        g_assert_cmpfloat(own, <, least + 1);
        dt_lines_clear(&t.ink);
        g_array_unref(t.travels);
    }
    g_assert_cmpuint(first, >, 0);
    g_assert_cmpuint(first, <, 150);
}

/* A name is placed clear of another one, even where it then hides more ink. */
static void test_names_keep_apart(void)
{
    const DtPoint mark = dt_point(230, 220);
    for (int round = 0; round < 50; round++) {
        DtProofTrace t = {.travels = g_array_new(FALSE, FALSE, sizeof(DtProofTravel))};
        dt_lines_init(&t.ink);
        for (int i = 0; i < 20; i++) {
            const DtPoint p[2] = {any_point(), any_point()};
            dt_lines_append(&t.ink, p, 2, FALSE);
        }
        g_autoptr(GArray) taken = g_array_new(FALSE, FALSE, sizeof(DtBox));
        for (int i = 0; i < 3; i++) {
            const DtBox b = dt_proof_clear_place(&frame, &t, FALSE, mark, WIDE, HIGH, 1.5, taken);
            for (guint j = 0; j < taken->len; j++)
                g_assert_false(overlap(b, g_array_index(taken, DtBox, j)));
            g_array_append_val(taken, b);
        }
        dt_lines_clear(&t.ink);
        g_array_unref(t.travels);
    }
}

/* How much of a colour is in another, white being the rest; -1 where it is none such. */
static double share_of(const double *seen, DtColour c)
{
    const double own[3] = {1 - c.r, 1 - c.g, 1 - c.b};
    double share = -1;
    for (int i = 0; i < 3; i++)
        if (own[i] > 0.05 && share < 0)
            share = (1 - seen[i]) / own[i];
    for (int i = 0; i < 3; i++)
        if (fabs(1 - share * own[i] - seen[i]) > 0.004)
            return -1;
    return share;
}

/* The ink of each pen is pale in its own hue where the order is shown, and itself where not. */
static void test_ink_is_pale_beside_its_order(void)
{
    Job j;
    job_make(&j);
    g_autofree char *path = g_strdup_printf("%s/drawtrue-pale-%d.svg", g_get_tmp_dir(), getpid());
    j.p->rack.pens[0].colour = (DtColour){0.1, 0.3, 0.6, 1};
    j.p->rack.pens[1].colour = (DtColour){0.8, 0.2, 0.4, 1};
    j.p->rack.pens[2].colour = (DtColour){0.2, 0.5, 0.1, 1};
    for (int order = 0; order < 2; order++) {
        DtProofInput in = {
            .profile = j.p, .moves = &j.m, .times = &j.t, .order = order, .title = "pale"};
        g_autoptr(GError) error = NULL;
        g_assert_true(dt_proof_write(&in, path, 1200, &error));
        g_assert_no_error(error);
        g_autofree char *svg = NULL;
        g_assert_true(g_file_get_contents(path, &svg, NULL, NULL));
        double longest[3] = {0}, share[3] = {0}; /* of the ink, by pen */
        for (const char *at = svg; (at = strstr(at, "stroke:rgb(")) != NULL; at++) {
            double seen[3];
            const char *d = strstr(at, " d=\"");
            if (d == NULL ||
                sscanf(at, "stroke:rgb(%lf%%,%lf%%,%lf%%)", &seen[0], &seen[1], &seen[2]) != 3)
                continue;
            const double length = (double)strcspn(d + 4, "\"");
            for (int i = 0; i < 3; i++)
                seen[i] /= 100;
            for (int pen = 0; pen < 3; pen++) {
                const double s = share_of(seen, j.p->rack.pens[pen].colour);
                if (s > 0 && length > longest[pen]) {
                    longest[pen] = length;
                    share[pen] = s;
                }
            }
        }
        for (int pen = 0; pen < 3; pen++) {
            g_assert_cmpfloat(longest[pen], >, 0);
            g_assert_cmpfloat_with_epsilon(share[pen], order ? 0.28 : 1, 0.02);
        }
    }
    g_unlink(path);
    job_clear(&j);
}

/* Of a panel of 100 mm by 50: a dot, and a line of 30 mm, each in the ink of its pen and as wide as that. */
static void test_a_panel_has_dots_and_lines(void)
{
    Job j;
    job_make(&j);
    g_autofree char *path = g_strdup_printf("%s/drawtrue-dot-%d.png", g_get_tmp_dir(), getpid());
    double painted[2] = {0};
    j.s.n = 0;
    j.s.n_pts = 0;
    j.p->rack.pens[0].colour = (DtColour){1, 0, 1, 1};
    j.p->rack.pens[1].colour = (DtColour){0, 1, 1, 1};
    j.p->rack.pens[0].tip = j.p->rack.pens[1].tip = 6;
    dt_sequence_begin(&j.s, 0, 0);
    dt_sequence_point(&j.s, dt_point(40, 70));
    dt_sequence_begin(&j.s, 1, 1);
    dt_sequence_point(&j.s, dt_point(60, 70));
    dt_sequence_point(&j.s, dt_point(90, 70));
    const DtProofPanel panel = {.title = "Dot", .view = {10, 40, 110, 90}, .sequence = &j.s};
    const DtProofSheet sheet = {.title = "Dot", .profile = j.p, .panels = &panel, .n_panels = 1};
    g_assert_true(dt_proof_write_sheet(&sheet, path, 1000, NULL));
    cairo_surface_t *image = cairo_image_surface_create_from_png(path);
    const unsigned char *data = cairo_image_surface_get_data(image);
    const int stride = cairo_image_surface_get_stride(image);
    for (int y = 0; y < cairo_image_surface_get_height(image); y++)
        for (int x = 0; x < cairo_image_surface_get_width(image); x++) {
            const unsigned char *px = data + y * stride + 4 * x;
            painted[0] += px[2] > 250 && px[1] < 5 && px[0] > 250;
            painted[1] += px[2] < 5 && px[1] > 250 && px[0] > 250;
        }
    cairo_surface_destroy(image);
    g_unlink(path);
    g_assert_cmpfloat(painted[0], >, 300);
    const double dot = G_PI * 3 * 3;
    g_assert_cmpfloat_with_epsilon(painted[1] / painted[0], (dot + 30 * 6) / dot, 0.6);
    job_clear(&j);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/proof/marks/right", test_names_stand_on_the_right);
    g_test_add_func("/proof/marks/least", test_names_hide_least);
    g_test_add_func("/proof/marks/apart", test_names_keep_apart);
    g_test_add_func("/proof/marks/pale", test_ink_is_pale_beside_its_order);
    g_test_add_func("/proof/marks/panel", test_a_panel_has_dots_and_lines);
    return g_test_run();
}
