/* art: clips, masks, patterns, markers, tones, images and groups. */
#include "art-test.h"

#include <cairo.h>

static DtBox shape_box(const DtDrawing *d, gsize i)
{
    return dt_lines_box(&d->shapes[i].outline);
}

static gboolean region_holds(const DtDrawing *d, const DtClip *c, DtPoint p);

static gboolean clip_holds(const DtDrawing *d, int clip, DtPoint p)
{
    for (; clip >= 0; clip = d->clips[clip].parent)
        if (!region_holds(d, &d->clips[clip], p))
            return FALSE;
    return TRUE;
}

static gboolean region_holds(const DtDrawing *d, const DtClip *c, DtPoint p)
{
    for (gsize i = 0; i < c->n_regions; i++)
        if (dt_lines_inside(&c->regions[i].outline, c->regions[i].rule, p) &&
            clip_holds(d, c->regions[i].clip, p))
            return TRUE;
    return FALSE;
}

static void test_clip_is_union_with_inner_clips(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<clipPath id='half'><rect width='100' height='30'/></clipPath>"
                  "<clipPath id='c'><circle cx='30' cy='30' r='20' clip-path='url(#half)'/>"
                  "<rect x='60' y='60' width='20' height='20'/></clipPath>"
                  "<g clip-path='url(#c)'><rect width='100' height='100'/></g>");
    int clip = d->shapes[0].clip;
    g_assert_true(clip_holds(d, clip, dt_point(30, 20)));
    g_assert_false(clip_holds(d, clip, dt_point(30, 40)));
    g_assert_true(clip_holds(d, clip, dt_point(70, 70)));
    g_assert_false(clip_holds(d, clip, dt_point(90, 90)));
}

/* Placing moves outlines, all regions of all clips, and tones alike. */
static void test_placing_moves_everything(void)
{
    static const char content[] =
        "<linearGradient id='g' gradientUnits='userSpaceOnUse' x2='100'><stop stop-color='red'/>"
        "<stop offset='1' stop-color='blue'/></linearGradient>"
        "<linearGradient id='h' gradientUnits='userSpaceOnUse' y2='100' x2='0'><stop "
        "stop-color='lime'/><stop offset='1'/></linearGradient>"
        "<clipPath id='a'><rect width='30' height='30'/><rect x='50' width='40' height='90'/>"
        "</clipPath><clipPath id='b'><circle cx='60' cy='60' r='30'/></clipPath>"
        "<clipPath id='c'><rect y='40' width='90' height='30' clip-path='url(#b)'/></clipPath>"
        "<rect width='90' height='90' fill='url(#g)' clip-path='url(#a)'/>"
        "<rect x='5' width='90' height='90' fill='url(#h)' clip-path='url(#b)'/>"
        "<g clip-path='url(#a)'><rect y='5' width='90' height='90' fill='url(#g)' "
        "clip-path='url(#c)'/></g>";
    const DtAffine m = {0.3, 0.4, -0.5, 0.6, 20, -7};
    g_autoptr(DtDrawing) d = read_page(content), placed = read_page(content);
    g_assert_cmpuint(d->n_shapes, ==, 3);
    g_assert_cmpuint(d->n_clips, >=, 4);
    dt_art_place(placed, m);
    for (int k = 0; k < 400; k++) {
        const DtPoint p = dt_point(k % 20 * 5 + 1.3, k / 20 * 5 + 1.7), q = dt_affine_apply(m, p);
        for (int i = 0; i < (int)d->n_clips; i++)
            g_assert_cmpint(clip_holds(placed, i, q), ==, clip_holds(d, i, p));
        for (gsize i = 0; i < d->n_shapes; i++) {
            const DtShape *s = &d->shapes[i], *t = &placed->shapes[i];
            g_assert_cmpint(dt_lines_inside(&t->outline, t->rule, q), ==,
                            dt_lines_inside(&s->outline, s->rule, p));
            const DtColour was = dt_art_tone_at(s->fill.tone, p),
                           is = dt_art_tone_at(t->fill.tone, q);
            assert_colour(is, was.r, was.g, was.b, was.alpha);
        }
    }
}

static void test_mask_is_traced_at_half(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<linearGradient id='g'><stop stop-color='black'/><stop offset='1' stop-color='white'/>"
        "</linearGradient><mask id='m' maskUnits='userSpaceOnUse' x='0' y='0' width='100' "
        "height='100'><rect width='100' height='100' fill='url(#g)'/>"
        "<circle cx='75' cy='50' r='10' fill='black'/></mask>"
        "<rect width='100' height='100' mask='url(#m)'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    int clip = d->shapes[0].clip;
    g_assert_false(clip_holds(d, clip, dt_point(49.7, 10)));
    g_assert_true(clip_holds(d, clip, dt_point(50.3, 10)));
    g_assert_true(clip_holds(d, clip, dt_point(64.8, 50)));
    g_assert_false(clip_holds(d, clip, dt_point(65.2, 50)));
    g_assert_true(clip_holds(d, clip, dt_point(99.9, 99.9)));
    g_assert_nonnull(strstr(d->notes[0].text, "mask"));
}

/* A mask's region is turned with its element: of a square of 40 by 40 at 45 degrees the corners of the box about it
 * are not seen. */
static void test_mask_regions_turn(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<mask id='m' maskUnits='userSpaceOnUse' x='30' y='30' width='40' height='40'>"
                  "<rect width='100' height='100' fill='white'/></mask>"
                  "<rect transform='rotate(45 50 50)' width='100' height='100' mask='url(#m)'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    const double reach = 20 * G_SQRT2; /* of a corner from the middle */
    for (int i = 0; i < 4; i++) {
        const double x = i & 1 ? 1 : -1, y = i & 2 ? 1 : -1;
        g_assert_true(clip_holds(d, d->shapes[0].clip, dt_point(50 + 13 * x, 50 + 13 * y)));
        g_assert_false(clip_holds(d, d->shapes[0].clip, dt_point(50 + 16 * x, 50 + 16 * y)));
        g_assert_true(clip_holds(
            d, d->shapes[0].clip,
            dt_point(50 + (reach - 1) * (i / 2 ? x : 0), 50 + (reach - 1) * (i / 2 ? 0 : x))));
    }
}

static void test_pattern_tiles_lie_within_the_shape(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<pattern id='p' width='10' height='10' patternUnits='userSpaceOnUse'>"
                  "<rect x='2' y='2' width='3' height='3' fill='red'/></pattern>"
                  "<rect x='10' y='10' width='30' height='20' fill='url(#p)' stroke='blue'/>");
    g_assert_cmpuint(d->n_shapes, ==, 7);
    assert_box(shape_box(d, 0), 12, 12, 15, 15);
    assert_box(shape_box(d, 5), 32, 22, 35, 25);
    g_assert_cmpint(d->shapes[6].fill.kind, ==, DT_PAINT_NONE);
    g_assert_cmpint(d->shapes[6].stroke.paint.kind, ==, DT_PAINT_FLAT);
}

/* SVG 2, 14.2.3: with the focus outside the circle there is colour within the cone of both circles alone; here with a
 * half angle whose sine is 8/50, and its tip at x = 7.5. */
static void test_a_cone_ends_at_its_sides(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<radialGradient id='g' gradientUnits='userSpaceOnUse' cx='70' cy='50' r='10' fx='20' "
        "fy='50' fr='2'><stop stop-color='red'/><stop offset='1' stop-color='blue'/>"
        "</radialGradient><rect width='100' height='100' fill='url(#g)'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    const DtTone *tone = d->shapes[0].fill.tone;
    const double slope = 8 / sqrt(50 * 50 - 8 * 8);
    for (int x = 12; x < 100; x += 8)
        for (int side = -1; side <= 1; side += 2) {
            const double reach = (x - 7.5) * slope;
            g_assert_cmpfloat(dt_art_tone_at(tone, dt_point(x, 50 + side * 0.95 * reach)).alpha, ==,
                              1);
            g_assert_cmpfloat(dt_art_tone_at(tone, dt_point(x, 50 + side * 1.05 * reach)).alpha, ==,
                              0);
        }
    g_assert_cmpfloat(dt_art_tone_at(tone, dt_point(3, 50)).alpha, ==, 0);
}

/* The mean of one tile, wherever it lies and however it is turned. */
static void test_too_fine_a_pattern_becomes_its_mean(void)
{
    static const char *const places[] = {"", "patternTransform='translate(40 30) rotate(30)'",
                                         "patternTransform='rotate(-80) scale(.5 .7)'"};
    for (gsize i = 0; i < G_N_ELEMENTS(places); i++) {
        g_autofree char *content = g_strdup_printf(
            "<pattern id='p' width='.01' height='.01' patternUnits='userSpaceOnUse' %s>"
            "<rect width='.01' height='.005' fill='red'/><rect y='.005' width='.01' height='.005' "
            "fill='blue'/></pattern><rect width='90' height='90' fill='url(#p)'/>",
            places[i]);
        g_autoptr(DtDrawing) d = read_page(content);
        g_assert_cmpuint(d->n_shapes, ==, 1);
        assert_colour(d->shapes[0].fill.colour, .5, 0, .5, 1);
        g_assert_cmpuint(d->n_notes, ==, 1);
    }
}

static void test_pattern_on_a_stroke(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<pattern id='p' width='50' height='100' patternUnits='userSpaceOnUse'>"
        "<rect width='50' height='100' fill='red'/></pattern>"
        "<circle cx='50' cy='50' r='30' fill='none' stroke='url(#p)' stroke-width='10'/>");
    g_assert_cmpuint(d->n_shapes, ==, 2);
    int clip = d->shapes[0].clip;
    g_assert_true(clip_holds(d, clip, dt_point(20, 50)) != FALSE);
    g_assert_false(clip_holds(d, clip, dt_point(14.8, 50)));
    g_assert_true(clip_holds(d, clip, dt_point(15.2, 50)));
    g_assert_false(clip_holds(d, clip, dt_point(25.2, 50)));
}

/* Alpha of our picture at a point of a page of 100 by 100 px, 0 to 255. */
static int alpha_at(const DtDrawing *d, int x, int y)
{
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, 100, 100);
    cairo_t *cr = cairo_create(s);
    dt_art_paint(d, cr);
    cairo_destroy(cr);
    cairo_surface_flush(s);
    guint32 v;
    memcpy(&v, cairo_image_surface_get_data(s) + y * cairo_image_surface_get_stride(s) + 4 * x, 4);
    cairo_surface_destroy(s);
    return (int)(v >> 24);
}

#define FADE                                                                                       \
    "<linearGradient id='g'><stop stop-color='black'/><stop offset='1' stop-color='white'/>"       \
    "</linearGradient><mask id='m' maskUnits='userSpaceOnUse' x='0' y='0' width='100' "            \
    "height='100'><rect width='100' height='100' fill='url(#g)'/></mask>"

/* What a mask lets through where it is no clip: in tones, in the picture, and after placing. */
static void test_mask_goes_on_as_opacity(void)
{
    g_autoptr(DtDrawing) d =
        read_page(FADE "<g mask='url(#m)'><rect width='100' height='100' fill='red'/>"
                       "<rect y='50' width='100' height='50' fill='red' opacity='.5'/></g>");
    g_assert_cmpuint(d->n_shapes, ==, 2);
    g_assert_cmpint(d->shapes[0].fill.kind, ==, DT_PAINT_TONE);
    for (int x = 52; x < 100; x += 6) {
        const DtTone *whole = d->shapes[0].fill.tone, *half = d->shapes[1].fill.tone;
        g_assert_cmpfloat_with_epsilon(dt_art_tone_at(whole, dt_point(x, 20)).alpha, x / 100.0,
                                       0.01);
        g_assert_cmpfloat_with_epsilon(dt_art_tone_at(half, dt_point(x, 70)).alpha, x / 200.0,
                                       0.01);
        g_assert_cmpint(abs(alpha_at(d, x, 20) - x * 255 / 100), <=, 4);
        g_assert_cmpint(abs(alpha_at(d, x, 70) - x * 255 / 100), <=, 4); /* one over the other */
    }
    g_assert_cmpint(alpha_at(d, 48, 20), ==, 0);
    dt_art_place(d, (DtAffine){0, 2, -2, 0, 300, 0}); /* a quarter turn, twice the size */
    assert_colour(dt_art_tone_at(d->shapes[0].fill.tone, dt_point(260, 160)), 1, 0, 0, .8);
}

static void test_even_masks_leave_paints_flat(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<mask id='w' maskContentUnits='objectBoundingBox'><circle cx='.5' cy='.5' r='.5' "
        "fill='white'/></mask><mask id='s' maskContentUnits='objectBoundingBox'>"
        "<rect width='1' height='1' fill='white' opacity='.7'/></mask>"
        "<rect width='40' height='40' fill='red' mask='url(#w)'/>"
        "<rect x='50' width='40' height='40' fill='red' mask='url(#s)'/>");
    assert_colour(d->shapes[0].fill.colour, 1, 0, 0, 1);
    g_assert_cmpint(d->shapes[0].fill.kind, ==, DT_PAINT_FLAT);
    g_assert_cmpint(d->shapes[1].fill.kind, ==, DT_PAINT_FLAT);
    assert_colour(d->shapes[1].fill.colour, 1, 0, 0, .7);
    g_assert_cmpint(abs(alpha_at(d, 70, 20) - 178), <=, 2);
}

/* Where a fading mask is even across a shape, the shape's paint stays flat; the picture is the
 * same. */
static void test_small_shapes_behind_a_fading_mask(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<linearGradient id='g'><stop offset='.3' stop-color='white'/>"
                  "<stop offset='1' stop-color='gray'/></linearGradient>"
                  "<mask id='m' maskUnits='userSpaceOnUse' x='0' y='0' width='100' height='100'>"
                  "<rect width='100' height='100' fill='url(#g)'/></mask>"
                  "<g mask='url(#m)'><rect x='5' y='5' width='20' height='20'/>"
                  "<rect x='40' y='5' width='50' height='20'/></g>");
    g_assert_cmpint(d->shapes[0].fill.kind, ==, DT_PAINT_FLAT);
    assert_colour(d->shapes[0].fill.colour, 0, 0, 0, 1);
    g_assert_cmpint(d->shapes[1].fill.kind, ==, DT_PAINT_TONE);
    g_assert_cmpint(alpha_at(d, 15, 15), >=, 253);
    g_assert_cmpint(abs(alpha_at(d, 65, 15) - 191), <=, 3);
}

/* 11.7.1 and 14.4: luminance of linear colours where the mask asks for them. Grey of .5 is .214 of
 * white then, and grey of .8 is .604 (IEC 61966-2-1). */
static void test_mask_of_linear_colours(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<mask id='m' color-interpolation='linearRGB' maskUnits='userSpaceOnUse' x='0' y='0' "
        "width='100' height='100'><rect width='50' height='100' fill='#808080'/>"
        "<rect x='50' width='50' height='100' fill='#ccc'/></mask>"
        "<rect width='100' height='100' mask='url(#m)'/>");
    g_assert_cmpint(alpha_at(d, 25, 50), ==, 0);
    g_assert_cmpint(abs(alpha_at(d, 75, 50) - 154), <=, 2);
}

/* Masks within masks multiply, for the picture as for the tones. */
static void test_masks_multiply(void)
{
    g_autoptr(DtDrawing) d = read_page(
        FADE "<linearGradient id='v' x2='0' y2='1'><stop stop-color='white'/>"
             "<stop offset='1' stop-color='#999'/></linearGradient>"
             "<mask id='n' maskUnits='userSpaceOnUse' x='0' y='0' width='100' height='100'>"
             "<rect width='100' height='100' fill='url(#v)'/></mask>"
             "<g mask='url(#m)'><g mask='url(#n)'><rect width='100' height='100'/>"
             "</g></g>");
    double want = .9 * (1 - .4 * .5);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(d->shapes[0].fill.tone, dt_point(90, 50)).alpha,
                                   want, 0.015);
    g_assert_cmpint(abs(alpha_at(d, 90, 50) - (int)(255 * want)), <=, 4);
}

/* A pattern is seen through the stroke alone: where dashes of no length leave nothing of it, nothing is drawn. */
static void test_a_pattern_on_a_stroke_of_nothing(void)
{
    static const char *const dashes[] = {"0 5", "5 0"};
    for (int i = 0; i < 2; i++) {
        g_autofree char *content = g_strdup_printf(
            "<pattern id='p' width='10' height='10' patternUnits='userSpaceOnUse'><rect width='5' "
            "height='10' fill='red'/></pattern><path d='M10 10H90' fill='none' stroke='url(#p)' "
            "stroke-width='6' stroke-dasharray='%s'/>",
            dashes[i]);
        g_autoptr(DtDrawing) d = read_page(content);
        g_assert_true((d->n_shapes > 0) == (i == 1));
    }
}

static void test_markers_stand_on_vertices(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<marker id='m' markerWidth='4' markerHeight='2' refX='0' refY='1' orient='auto' "
                  "markerUnits='userSpaceOnUse'><rect width='4' height='2'/></marker>"
                  "<path d='M10 10H30V50' fill='none' stroke='red' marker-start='url(#m)' "
                  "marker-end='url(#m)'/>");
    g_assert_cmpuint(d->n_shapes, ==, 3);
    assert_box(shape_box(d, 1), 10, 9, 14, 11);
    assert_box(shape_box(d, 2), 29, 50, 31, 54); /* turned to run down */
}

/* SVG 2, 13.2: of the shape that the marker stands on, or of the use; a gradient over its box. */
static void test_paints_of_the_context(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<marker id='m' markerWidth='2' markerHeight='2' markerUnits='userSpaceOnUse'>"
        "<rect width='2' height='2' fill='context-stroke' stroke='context-fill'/></marker>"
        "<path d='M10 10H90' fill='lime' stroke='red' marker-start='url(#m)'/>"
        "<linearGradient id='g'><stop stop-color='red'/><stop offset='1' stop-color='blue'/>"
        "</linearGradient><path d='M0 50h100v10' stroke='url(#g)' fill='none' "
        "marker-mid='url(#m)'/><defs><path id='p' d='M0 80h9v9z' fill='context-fill'/></defs>"
        "<use href='#p' fill='blue'/><rect width='9' height='9' fill='context-fill'/>");
    g_assert_cmpuint(d->n_shapes, ==, 5);
    assert_colour(d->shapes[1].fill.colour, 1, 0, 0, 1);
    assert_colour(d->shapes[1].stroke.paint.colour, 0, 1, 0, 1);
    g_assert_cmpint(d->shapes[3].fill.kind, ==, DT_PAINT_TONE);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(d->shapes[3].fill.tone, dt_point(25, 50)).b, .25,
                                   0.01);
    g_assert_cmpint(d->shapes[3].stroke.paint.kind, ==, DT_PAINT_NONE);
    assert_colour(d->shapes[4].fill.colour, 0, 0, 1, 1);
}

/* SVG 2, 9.6.1 and 13.5.6: dashes are of units along the path. */
static void test_dashes_of_path_length(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<g stroke='red' stroke-dasharray='1 2' stroke-dashoffset='.5' transform='scale(2)'>"
        "<path d='M0 0H30' pathLength='6'/><path d='M0 0H30' pathLength='0'/>"
        "<path d='M0 0H30' pathLength='-1'/></g>");
    const DtStrokeStyle *s = &d->shapes[0].stroke;
    g_assert_cmpuint(s->n_dash, ==, 2);
    g_assert_cmpfloat_with_epsilon(s->dash[0], 5, 1e-9);
    g_assert_cmpfloat_with_epsilon(s->dash[1], 10, 1e-9);
    g_assert_cmpfloat_with_epsilon(s->dash_offset, 2.5, 1e-9);
    g_assert_cmpuint(d->shapes[1].stroke.n_dash, ==, 0);
    g_assert_cmpfloat_with_epsilon(d->shapes[2].stroke.dash[1], 2, 1e-9);
}

/* SVG 2, 5.5: a symbol has a place and a size of its own. */
static void test_symbol_has_a_place(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<symbol id='s' x='3' y='4' width='10' height='10' viewBox='0 0 5 5'>"
                  "<rect width='5' height='5'/></symbol><use href='#s' x='20' y='20'/>"
                  "<use href='#s' y='50' width='20' height='20'/>");
    assert_box(shape_box(d, 0), 23, 24, 33, 34);
    assert_box(shape_box(d, 1), 3, 54, 23, 74);
}

static void test_see_through_group_is_one(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<g opacity='.4'><rect width='20' height='20'/><rect width='20' height='20'/></g>");
    assert_colour(d->shapes[0].fill.colour, 0, 0, 0, .4);
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, 20, 20);
    cairo_t *cr = cairo_create(s);
    dt_art_paint(d, cr);
    cairo_destroy(cr);
    cairo_surface_flush(s);
    guint32 v;
    memcpy(&v, cairo_image_surface_get_data(s), 4);
    g_assert_cmpint(abs((int)(v >> 24) - 102), <=, 1); /* not .64 */
    cairo_surface_destroy(s);
}

static void test_image_is_a_tone(void)
{
    /* One red pixel; PNG. */
    g_autoptr(DtDrawing) d =
        read_page("<image x='10' y='20' width='30' height='30' href='data:image/png;base64,"
                  "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAIAAACQd1PeAAAADElEQVR4nGP4z8AAAAMBAQDJ/"
                  "pLvAAAAAElFTkSuQmCC"
                  "'/><image href='other.png' width='9' height='9'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    assert_box(shape_box(d, 0), 10, 20, 40, 50);
    DtColour c = dt_art_tone_at(d->shapes[0].fill.tone, dt_point(25, 35));
    assert_colour(c, 1, 0, 0, 1);
    g_assert_cmpfloat(dt_art_tone_at(d->shapes[0].fill.tone, dt_point(45, 35)).alpha, ==, 0);
    g_assert_cmpuint(d->n_notes, ==, 1); /* the other file is not fetched */
}

static void test_radial_tone_with_focus(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<radialGradient id='g' gradientUnits='userSpaceOnUse' cx='50' cy='50' r='40' fx='30' "
        "fy='50'><stop stop-color='white'/><stop offset='1' stop-color='black'/></radialGradient>"
        "<rect width='100' height='100' fill='url(#g)'/>");
    const DtTone *t = d->shapes[0].fill.tone;
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(t, dt_point(30, 50)).r, 1, 0.01);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(t, dt_point(60, 50)).r, .5, 0.01);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(t, dt_point(20, 50)).r, .5, 0.01);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(t, dt_point(95, 95)).r, 0, 0.01);
}

static void test_spread_methods(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<linearGradient id='g' gradientUnits='userSpaceOnUse' x1='0' x2='10' "
        "spreadMethod='reflect'><stop stop-color='white'/><stop offset='1' stop-color='black'/>"
        "</linearGradient><linearGradient id='h' href='#g' spreadMethod='repeat'/>"
        "<rect width='90' height='9' fill='url(#g)'/><rect width='90' height='9' fill='url(#h)'/>");
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(d->shapes[0].fill.tone, dt_point(12.5, 5)).r, .25,
                                   0.01);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(d->shapes[1].fill.tone, dt_point(12.5, 5)).r, .75,
                                   0.01);
}

static void test_conditions_choose(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<switch><g requiredExtensions='http://example.org/x'><rect width='9' height='9'/></g>"
        "<rect width='5' height='5' requiredFeatures='http://www.w3.org/TR/SVG11/feature#Shape'/>"
        "<rect width='7' height='7'/></switch>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    assert_box(shape_box(d, 0), 0, 0, 5, 5);
}

static void test_nested_svg_and_fixed_stroke(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<svg x='10' y='10' width='50%' height='20' viewBox='0 0 5 2'><rect width='5' height='2' "
        "stroke='red' vector-effect='non-scaling-stroke' stroke-width='2'/></svg>");
    assert_box(shape_box(d, 0), 10, 10, 60, 30);
    g_assert_cmpfloat_with_epsilon(dt_art_stroke_width_mm(&d->shapes[0].stroke), 2 * 25.4 / 96,
                                   1e-9);
    g_assert_cmpint(d->shapes[0].clip, >=, 0); /* the stroke reaches out of the viewport */
}

static void test_hidden_and_unshown_things(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<g visibility='hidden'><rect width='9' height='9'/><rect width='5' height='5' "
        "visibility='visible'/></g><g display='none'><rect width='9' height='9'/></g>"
        "<rect width='9' height='9' fill='none'/><rect width='9' height='9' opacity='0'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
}

/* The matrices of SVG 1.1, 15.10; colours by hand. */
static void test_filter_of_colours_alone(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<filter id='grey' color-interpolation-filters='sRGB'>"
        "<feColorMatrix type='saturate' values='0'/></filter>"
        "<filter id='linear'><feColorMatrix type='saturate' values='0'/></filter>"
        "<filter id='turned' style='color-interpolation-filters:sRGB'>"
        "<feColorMatrix values='-1 0 0 0 1  0 -1 0 0 1  0 0 -1 0 1  0 0 0 1 0' result='a'/>"
        "<feColorMatrix in='a' type='hueRotate' values='0'/></filter>"
        "<linearGradient id='g' gradientUnits='userSpaceOnUse' x2='10'><stop stop-color='red'/>"
        "<stop offset='1' stop-color='red'/></linearGradient>"
        "<rect width='9' height='9' fill='red' filter='url(#grey)'/>"
        "<g filter='url(#linear)'><rect width='9' height='9' fill='red' opacity='0.5'/></g>"
        "<rect width='9' height='9' fill='#f00' stroke='#00ff80' filter='url(#turned)'/>"
        "<rect width='9' height='9' fill='url(#g)' filter='url(#grey)'/>"
        "<rect width='9' height='9' fill='red'/>");
    g_assert_cmpuint(d->n_notes, ==, 0);
    DtColour c = d->shapes[0].fill.colour;
    g_assert_cmpfloat_with_epsilon(c.r, 0.213, 1e-9);
    g_assert_cmpfloat_with_epsilon(c.b, 0.213, 1e-9);
    c = d->shapes[1].fill.colour;
    g_assert_cmpfloat_with_epsilon(c.g, 1.055 * pow(0.213, 1 / 2.4) - 0.055, 1e-9);
    g_assert_cmpfloat_with_epsilon(c.alpha, 0.5, 1e-9);
    c = d->shapes[2].fill.colour;
    g_assert_cmpfloat_with_epsilon(c.r, 0, 1e-9);
    g_assert_cmpfloat_with_epsilon(c.g, 1, 1e-9);
    c = d->shapes[2].stroke.paint.colour;
    g_assert_cmpfloat_with_epsilon(c.r, 1, 1e-9);
    g_assert_cmpfloat_with_epsilon(c.b, 127.0 / 255, 1e-9);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(d->shapes[3].fill.tone, dt_point(1, 1)).g, 0.213,
                                   1e-9);
    g_assert_cmpfloat(d->shapes[4].fill.colour.r, ==, 1);
}

/* Filter Effects 1, 9.6: each sort of opacity() is a factor of alpha. */
static void test_filter_opacity(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<rect width='9' height='9' fill='red' filter='opacity(.25)'/>"
                  "<rect width='9' height='9' fill='red' filter='opacity(40%)'/>"
                  "<rect width='9' height='9' fill='red' filter='opacity(7)'/>");
    const double alpha[] = {0.25, 0.4, 1};
    g_assert_cmpuint(d->n_shapes, ==, 3);
    for (gsize i = 0; i < 3; i++) {
        const DtPaint *p = &d->shapes[i].fill;
        DtColour c = p->kind == DT_PAINT_TONE ? dt_art_tone_at(p->tone, dt_point(4, 4)) : p->colour;
        g_assert_cmpfloat_with_epsilon(c.alpha, alpha[i], 0.005);
        g_assert_cmpfloat_with_epsilon(c.r, 1, 0.005);
    }
}

/* What moves, blurs or makes see-through is a picture of what it makes; what is not drawn leaves the
 * element as it is. Both are said. */
static void test_filter_of_more_is_noted(void)
{
    static const struct {
        const char *primitive;
        gboolean drawn;
    } cases[] = {{"<feGaussianBlur stdDeviation='1'/>", TRUE},
                 {"<feColorMatrix type='luminanceToAlpha'/>", TRUE},
                 {"<feOffset in='SourceAlpha' dx='5'/>", TRUE},
                 {"<feColorMatrix values='1 0 0 0 0 0 1 0 0 0 0 0 1 0 0 0 0 0 .5 0'/>", TRUE},
                 {"<feColorMatrix values='1 0 0'/>", FALSE},
                 {"<feTurbulence baseFrequency='1'/>", FALSE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *page =
            g_strdup_printf("<filter id='f'>%s</filter><rect x='20' y='20' width='30' height='30' "
                            "fill='red' filter='url(#f)'/>",
                            cases[i].primitive);
        g_autoptr(DtDrawing) d = read_page(page);
        g_assert_cmpuint(d->n_notes, ==, 1);
        g_assert_cmpuint(d->n_shapes, ==, 1);
        g_assert_cmpint(d->shapes[0].fill.kind, ==, cases[i].drawn ? DT_PAINT_TONE : DT_PAINT_FLAT);
    }
}

/* Filter Effects 1, 9.14: half way across the edge of a blurred area half of it is left. */
static void test_blur_goes_through_levels(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<rect x='20' y='20' width='60' height='60' style='filter:blur(4px)'/>");
    const DtTone *t = d->shapes[0].fill.tone;
    g_assert_nonnull(t);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(t, (DtPoint){50, 50}).alpha, 1, 0.01);
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(t, (DtPoint){20, 50}).alpha, 0.5, 0.03);
    /* the normal distribution one deviation outside: 15.87 % */
    g_assert_cmpfloat_with_epsilon(dt_art_tone_at(t, (DtPoint){16, 50}).alpha, 0.1587, 0.03);
}

/* Compositing 1, 10.1.2: multiply. */
static void test_blend_is_a_picture(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<rect width='100' height='100' fill='#ff8000'/><rect x='20' y='20' width='40' "
                  "height='40' fill='#80ff80' style='mix-blend-mode:multiply'/>");
    g_assert_cmpuint(d->n_shapes, ==, 2);
    DtColour c = dt_art_tone_at(d->shapes[1].fill.tone, (DtPoint){40, 40});
    g_assert_cmpfloat_with_epsilon(c.r, 128 / 255.0, 0.01);
    g_assert_cmpfloat_with_epsilon(c.g, 128 / 255.0, 0.01);
    g_assert_cmpfloat_with_epsilon(c.b, 0, 0.01);
}

static void test_tile_that_touches_is_none(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<pattern id='p' patternUnits='userSpaceOnUse' width='10' height='10' "
        "patternTransform='translate(20.0000001,20)'><rect width='9' height='9'/></pattern>"
        "<rect x='20' y='20' width='10' height='10' fill='url(#p)'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/paint/clip-union", test_clip_is_union_with_inner_clips);
    g_test_add_func("/art/paint/cone", test_a_cone_ends_at_its_sides);
    g_test_add_func("/art/paint/placed", test_placing_moves_everything);
    g_test_add_func("/art/paint/mask-at-half", test_mask_is_traced_at_half);
    g_test_add_func("/art/paint/mask-turned", test_mask_regions_turn);
    g_test_add_func("/art/paint/mask-as-opacity", test_mask_goes_on_as_opacity);
    g_test_add_func("/art/paint/even-masks", test_even_masks_leave_paints_flat);
    g_test_add_func("/art/paint/mask-and-small-shapes", test_small_shapes_behind_a_fading_mask);
    g_test_add_func("/art/paint/mask-of-linear-colours", test_mask_of_linear_colours);
    g_test_add_func("/art/paint/masks-multiply", test_masks_multiply);
    g_test_add_func("/art/paint/context", test_paints_of_the_context);
    g_test_add_func("/art/paint/path-length", test_dashes_of_path_length);
    g_test_add_func("/art/paint/symbol-place", test_symbol_has_a_place);
    g_test_add_func("/art/paint/pattern-tiles", test_pattern_tiles_lie_within_the_shape);
    g_test_add_func("/art/paint/pattern-too-fine", test_too_fine_a_pattern_becomes_its_mean);
    g_test_add_func("/art/paint/pattern-on-stroke", test_pattern_on_a_stroke);
    g_test_add_func("/art/paint/pattern-on-nothing", test_a_pattern_on_a_stroke_of_nothing);
    g_test_add_func("/art/paint/markers", test_markers_stand_on_vertices);
    g_test_add_func("/art/paint/see-through-group", test_see_through_group_is_one);
    g_test_add_func("/art/paint/image", test_image_is_a_tone);
    g_test_add_func("/art/paint/radial-tone", test_radial_tone_with_focus);
    g_test_add_func("/art/paint/spread", test_spread_methods);
    g_test_add_func("/art/paint/conditions", test_conditions_choose);
    g_test_add_func("/art/paint/nested-svg", test_nested_svg_and_fixed_stroke);
    g_test_add_func("/art/paint/filter-of-colours", test_filter_of_colours_alone);
    g_test_add_func("/art/paint/filter-opacity", test_filter_opacity);
    g_test_add_func("/art/paint/filter-of-more", test_filter_of_more_is_noted);
    g_test_add_func("/art/paint/blur", test_blur_goes_through_levels);
    g_test_add_func("/art/paint/blend", test_blend_is_a_picture);
    g_test_add_func("/art/paint/tile-that-touches", test_tile_that_touches_is_none);
    g_test_add_func("/art/paint/hidden", test_hidden_and_unshown_things);
    return g_test_run();
}
