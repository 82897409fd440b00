/* art: what each filter primitive, filter function and blend mode makes of colours and places, by the
 * formulas of Filter Effects 1 and Compositing and Blending 1, worked out here apart from the code. */
#include "art-test.h"

#define RECT "x='20' y='20' width='40' height='40' fill='#336699'"

typedef struct {
    double r, g, b, alpha;
} Expected;

static const double source[3] = {0.2, 0.4, 0.6};

static DtColour look(const DtDrawing *d, double x, double y)
{
    g_assert_cmpuint(d->n_shapes, >, 0);
    const DtShape *s = &d->shapes[d->n_shapes - 1];
    g_assert_nonnull(s->fill.tone);
    return dt_art_tone_at(s->fill.tone, dt_point(x, y));
}

static void assert_near(DtColour c, Expected e, double slip, const char *what)
{
    const gboolean same = fabs(c.alpha - e.alpha) <= slip &&
                          (e.alpha < 0.01 || (fabs(c.r - e.r) <= slip && fabs(c.g - e.g) <= slip &&
                                              fabs(c.b - e.b) <= slip));
    if (!same)
        g_error("%s: %.3f %.3f %.3f, %.3f and not %.3f %.3f %.3f, %.3f", what, c.r, c.g, c.b,
                c.alpha, e.r, e.g, e.b, e.alpha);
}

static DtDrawing *filtered(const char *steps, const char *space)
{
    g_autofree char *content = g_strdup_printf(
        "<filter id='f' filterUnits='userSpaceOnUse' x='0' y='0' width='100' height='100' "
        "color-interpolation-filters='%s'>%s</filter><rect " RECT " filter='url(#f)'/>",
        space, steps);
    return read_page(content);
}

static void check(const char *steps, double x, double y, Expected e)
{
    g_autoptr(DtDrawing) d = filtered(steps, "sRGB");
    g_autofree char *what = g_strdup_printf("%s at %g, %g", steps, x, y);
    assert_near(look(d, x, y), e, 0.012, what);
}

#define FLOOD "<feFlood flood-color='#ff8000' flood-opacity='.5' result='flood'/>"
#define FULL "<feFlood flood-color='#ff8000' result='flood'/>"
#define CLEAR                                                                                      \
    {                                                                                              \
        0, 0, 0, 0                                                                                 \
    }
#define SOURCE                                                                                     \
    {                                                                                              \
        0.2, 0.4, 0.6, 1                                                                           \
    }
static const double half_orange = 128 / 255.0;

static void test_moved_flooded_and_merged(void)
{
    check("<feOffset dx='30' dy='10'/>", 85, 65, (Expected)SOURCE);
    check("<feOffset dx='30' dy='10'/>", 50.7, 31, (Expected)SOURCE);
    check("<feOffset dx='30' dy='10'/>", 49.3, 40, (Expected)CLEAR);
    check("<feOffset dx='30' dy='10'/>", 60, 29.3, (Expected)CLEAR);
    check("<feOffset dx='-15' dy='-5'/>", 6, 16, (Expected)SOURCE);
    check("<feOffset dx='-15' dy='-5'/>", 46, 40, (Expected)CLEAR);
    check(FLOOD, 80, 80, (Expected){1, half_orange, 0, 0.5});
    check(FULL "<feMerge><feMergeNode in='flood'/><feMergeNode in='SourceGraphic'/></feMerge>", 80,
          80, (Expected){1, half_orange, 0, 1});
    check(FULL "<feMerge><feMergeNode in='flood'/><feMergeNode in='SourceGraphic'/></feMerge>", 40,
          40, (Expected)SOURCE);
    check("<feMerge><feMergeNode in='SourceAlpha'/></feMerge>", 40, 40, (Expected){0, 0, 0, 1});
    /* an input is a result by name, the last one that has it, else the step before */
    check("<feFlood flood-color='red' result='a'/><feFlood flood-color='lime' result='b'/>"
          "<feOffset in='a'/>",
          80, 80, (Expected){1, 0, 0, 1});
    check("<feFlood flood-color='red' result='a'/><feFlood flood-color='lime' result='a'/>"
          "<feFlood flood-color='blue'/><feOffset in='a'/>",
          80, 80, (Expected){0, 1, 0, 1});
    check("<feFlood flood-color='red' result='a'/><feFlood flood-color='lime'/><feOffset/>", 80, 80,
          (Expected){0, 1, 0, 1});
}

/* Filter Effects 1, 9.2: a name that no step before has is as no name. */
static void test_names_that_nothing_has(void)
{
    check("<feOffset in='nothing' dx='30'/>", 85, 40, (Expected)SOURCE);
    check("<feFlood flood-color='red' result='a'/><feFlood flood-color='lime'/>"
          "<feOffset in='later'/><feFlood flood-color='blue' result='later'/>"
          "<feMerge><feMergeNode in='none'/></feMerge>",
          80, 80, (Expected){0, 0, 1, 1});
    check(FULL "<feMerge><feMergeNode in='none'/><feMergeNode in='SourceGraphic'/></feMerge>", 80,
          80, (Expected){1, half_orange, 0, 1});
}

/* Half of white over black is 188 of 255 in linear light, as in Chromium 2026, and 128 in sRGB: IEC 61966-2-1. */
static void test_light_in_which_steps_mix(void)
{
    static const char merged[] = "<feFlood flood-color='white' flood-opacity='.5' result='a'/>"
                                 "<feFlood flood-color='black'/><feMerge><feMergeNode/>"
                                 "<feMergeNode in='a'/></feMerge>";
    static const char shadow[] = "<feFlood flood-color='white' flood-opacity='.5'/>"
                                 "<feDropShadow dx='0' dy='0' stdDeviation='0' "
                                 "flood-color='black'/>";
    const double linear = 188 / 255.0;
    check(merged, 80, 80, (Expected){0.5, 0.5, 0.5, 1});
    check(shadow, 80, 80, (Expected){2 / 3.0, 2 / 3.0, 2 / 3.0, 0.75});
    g_autoptr(DtDrawing) m = filtered(merged, "linearRGB");
    assert_near(look(m, 80, 80), (Expected){linear, linear, linear, 1}, 0.012, merged);
    /* 0.5 of light 1 over half of black: 2/3 of the light that 0.75 of alpha holds */
    g_autoptr(DtDrawing) d = filtered(shadow, "linearRGB");
    const double two_thirds = 1.055 * pow(2 / 3.0, 1 / 2.4) - 0.055;
    assert_near(look(d, 80, 80), (Expected){two_thirds, two_thirds, two_thirds, 0.75}, 0.012,
                shadow);
    static const char alone[] = "<feDropShadow dx='30' dy='0' stdDeviation='0' "
                                "flood-color='#ff8000'/>";
    g_autoptr(DtDrawing) e = filtered(alone, "linearRGB"); /* a colour stays what it is */
    assert_near(look(e, 85, 40), (Expected){1, half_orange, 0, 1}, 0.012, alone);
}

/* A table may have any number of values. */
static void test_tables_of_many_values(void)
{
    g_autoptr(GString) table = g_string_new(NULL);
    for (int i = 0; i < 300; i++)
        g_string_append_printf(table, "%g ", i < 150 ? 0.25 : 0.75);
    static const char *const kinds[] = {"discrete", "table"};
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++) {
        g_autofree char *steps = g_strdup_printf(
            "<feComponentTransfer><feFuncG type='%s' tableValues='%s'/><feFuncB type='%s' "
            "tableValues='%s'/></feComponentTransfer>",
            kinds[i], table->str, kinds[i], table->str);
        check(steps, 40, 40, (Expected){0.2, 0.25, 0.75, 1});
    }
}

/* Filter Effects 1, 5: what is filtered is not clipped before, but what comes of it: of two squares beyond a clip, moved
 * into it, both are seen. */
static void test_clips_come_after_filters(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<filter id='f' filterUnits='userSpaceOnUse' x='0' y='0' width='100' "
                  "height='100'><feOffset dx='-40'/></filter><clipPath id='c'><rect width='45' "
                  "height='100'/></clipPath><g clip-path='url(#c)'><g filter='url(#f)'>"
                  "<rect x='60' y='10' width='20' height='20' fill='#336699'/>"
                  "<rect x='60' y='50' width='20' height='20' fill='#336699'/></g></g>");
    assert_near(look(d, 30, 20), (Expected)SOURCE, 0.012, "first");
    assert_near(look(d, 30, 60), (Expected)SOURCE, 0.012, "second");
    assert_near(look(d, 30, 40), (Expected)CLEAR, 0.012, "between them");
    g_assert_cmpint(d->shapes[d->n_shapes - 1].clip, >=, 0);
}

/* Porter and Duff 1984. */
static void test_composites(void)
{
    const double g = half_orange;
#define COMPOSITE(how) FLOOD "<feComposite in='SourceGraphic' in2='flood' " how "/>"
    check(COMPOSITE(""), 40, 40, (Expected)SOURCE);
    check(COMPOSITE(""), 80, 80, (Expected){1, g, 0, 0.5});
    check(COMPOSITE("operator='in'"), 40, 40, (Expected){0.2, 0.4, 0.6, 0.5});
    check(COMPOSITE("operator='in'"), 80, 80, (Expected)CLEAR);
    check(COMPOSITE("operator='out'"), 40, 40, (Expected){0.2, 0.4, 0.6, 0.5});
    check(COMPOSITE("operator='out'"), 80, 80, (Expected)CLEAR);
    check(COMPOSITE("operator='xor'"), 40, 40, (Expected){0.2, 0.4, 0.6, 0.5});
    check(COMPOSITE("operator='xor'"), 80, 80, (Expected){1, g, 0, 0.5});
    check(COMPOSITE("operator='atop'"), 40, 40, (Expected){0.2, 0.4, 0.6, 0.5 + 0.5 * 0});
    check(COMPOSITE("operator='lighter'"), 40, 40, (Expected){0.7, 0.4 + g / 2, 0.6, 1});
    check(FLOOD "<feComposite in='flood' in2='SourceGraphic' operator='atop'/>", 40, 40,
          (Expected){0.6, (g + 0.4) / 2, 0.3, 1});
    check(FLOOD "<feComposite in='flood' in2='SourceGraphic' operator='out'/>", 80, 80,
          (Expected){1, g, 0, 0.5});
    check(FLOOD "<feComposite in='flood' in2='SourceGraphic' operator='out'/>", 40, 40,
          (Expected)CLEAR);
    /* k1 a b + k2 a + k3 b + k4, of colours times alpha; a is the source, b the flood */
    const double p[4] = {0.2, 0.4, 0.6, 1}, q[4] = {0.5, g / 2, 0, 0.5};
    double v[4];
    for (int i = 0; i < 4; i++)
        v[i] = 0.5 * p[i] * q[i] + 0.25 * p[i] + 0.125 * q[i] + 0.1;
    check(COMPOSITE("operator='arithmetic' k1='.5' k2='.25' k3='.125' k4='.1'"), 40, 40,
          (Expected){v[0] / v[3], v[1] / v[3], v[2] / v[3], v[3]});
    check(COMPOSITE("operator='arithmetic' k2='-1' k3='.5'"), 40, 40, (Expected)CLEAR);
    check(COMPOSITE("operator='arithmetic' k3='3'"), 80, 80, (Expected){1, 1.5 * g, 0, 1});
}

/* Of premultiplied colours: 9.3 of Filter Effects 1, as in SVG 1.1, 15.9. */
static void test_blends_of_filters(void)
{
    static const char *const modes[] = {"normal", "multiply", "screen", "darken", "lighten"};
    const double q[4] = {0.5, half_orange / 2, 0, 0.5};
    for (size_t m = 0; m < G_N_ELEMENTS(modes); m++) {
        double c[3];
        for (int i = 0; i < 3; i++) {
            const double a = source[i], b = q[i], qb = 0.5;
            const double of[] = {a, (1 - qb) * a + a * b, a + b - a * b, MIN((1 - qb) * a + b, a),
                                 MAX((1 - qb) * a + b, a)};
            c[i] = of[m]; /* the source is opaque, so that the alpha is 1 */
        }
        g_autofree char *steps =
            g_strdup_printf(FLOOD "<feBlend in='SourceGraphic' in2='flood' mode='%s'/>", modes[m]);
        check(steps, 40, 40, (Expected){c[0], c[1], c[2], 1});
        check(steps, 80, 80, (Expected){1, half_orange, 0, 0.5});
    }
}

static void test_colours_step_by_step(void)
{
#define THEN(step) "<feOffset/>" step /* so that it is a picture */
    check(THEN("<feColorMatrix type='luminanceToAlpha'/>"), 40, 40,
          (Expected){0, 0, 0, 0.2125 * 0.2 + 0.7154 * 0.4 + 0.0721 * 0.6});
    check(THEN("<feColorMatrix values='0 1 0 0 0  0 0 1 0 0  1 0 0 0 0  0 0 0 .5 .25'/>"), 40, 40,
          (Expected){0.4, 0.6, 0.2, 0.75});
    check(THEN("<feColorMatrix values='0 1 0 0 0  0 0 1 0 0  1 0 0 0 0  0 0 0 .5 .25'/>"), 80, 80,
          (Expected){0, 0, 0, 0.25});
    check(THEN("<feColorMatrix values='1 0 0 .5 0  0 1 0 -.5 .1  0 0 1 2 0  0 0 0 1 0'/>"), 40, 40,
          (Expected){0.7, 0, 1, 1});
    check(THEN("<feColorMatrix type='saturate' values='0'/>"), 40, 40,
          (Expected){0.3718, 0.3718, 0.3718, 1});
    check(THEN("<feColorMatrix type='saturate'/>"), 40, 40, (Expected)SOURCE);
    check(THEN("<feColorMatrix type='hueRotate'/>"), 40, 40, (Expected)SOURCE);
#define TRANSFER(inside) THEN("<feComponentTransfer>" inside "</feComponentTransfer>")
    check(TRANSFER("<feFuncR type='linear' slope='.5' intercept='.25'/>"), 40, 40,
          (Expected){0.35, 0.4, 0.6, 1});
    check(TRANSFER("<feFuncG type='gamma' amplitude='2' exponent='2' offset='.1'/>"), 40, 40,
          (Expected){0.2, 0.42, 0.6, 1});
    check(TRANSFER("<feFuncR type='table' tableValues='0 1 0'/><feFuncG type='table' "
                   "tableValues='0 1 0'/><feFuncB type='table' tableValues='0,1,0'/>"),
          40, 40, (Expected){0.4, 0.8, 0.8, 1});
    check(TRANSFER("<feFuncR type='discrete' tableValues='.1 .5 1'/><feFuncG type='discrete' "
                   "tableValues='.1 .5 1'/><feFuncB type='discrete' tableValues='0 1'/>"),
          40, 40, (Expected){0.1, 0.5, 1, 1});
    check(TRANSFER("<feFuncR type='identity'/><feFuncG/><feFuncB type='table'/>"), 40, 40,
          (Expected)SOURCE);
    check(TRANSFER("<feFuncA type='linear' slope='.5'/>"), 40, 40, (Expected){0.2, 0.4, 0.6, 0.5});
    check(TRANSFER("<feFuncA type='table' tableValues='.25 1'/>"), 80, 80,
          (Expected){0, 0, 0, 0.25});
    check(TRANSFER("<feFuncR type='table' tableValues='1 1'/>"), 40, 40,
          (Expected){1, 0.4, 0.6, 1});
    /* in linear light, which is where nothing else is said */
    g_autoptr(DtDrawing) d = filtered(TRANSFER("<feFuncR type='linear' slope='.5'/>"), "linearRGB");
    const double linear = pow((0.2 + 0.055) / 1.055, 2.4) / 2;
    assert_near(look(d, 40, 40), (Expected){1.055 * pow(linear, 1 / 2.4) - 0.055, 0.4, 0.6, 1},
                0.012, "linear light");
}

static double normal(double x)
{
    return 0.5 * erfc(-x / sqrt(2));
}

static void check_alpha(const char *steps, double x, double y, double alpha, double slip)
{
    g_autoptr(DtDrawing) d = filtered(steps, "sRGB");
    const double found = look(d, x, y).alpha;
    if (fabs(found - alpha) > slip)
        g_error("%s: alpha %.3f and not %.3f at %g, %g", steps, found, alpha, x, y);
}

/* Three boxes are near the normal distribution. */
static void test_blur(void)
{
    for (double x = 8; x <= 32; x += 4)
        check_alpha("<feGaussianBlur stdDeviation='5'/>", x, 40, normal((x - 20) / 5), 0.02);
    for (double x = 48; x <= 72; x += 4)
        check_alpha("<feGaussianBlur stdDeviation='5'/>", x, 40, normal((60 - x) / 5), 0.02);
    check_alpha("<feGaussianBlur stdDeviation='5'/>", 20, 20, 0.25, 0.02);
    check_alpha("<feGaussianBlur stdDeviation='5'/>", 40, 60, 0.5, 0.02);
    check_alpha("<feGaussianBlur stdDeviation='5 0'/>", 20, 58, 0.5, 0.02);
    check_alpha("<feGaussianBlur stdDeviation='5 0'/>", 40, 18, 0, 0.005);
    check_alpha("<feGaussianBlur stdDeviation='0,5'/>", 40, 15, normal(-1), 0.02);
    check_alpha("<feGaussianBlur stdDeviation='0,5'/>", 18, 40, 0, 0.005);
    check_alpha("<feGaussianBlur/>", 18, 40, 0, 0.005);
    check_alpha("<feGaussianBlur stdDeviation='2'/>", 22, 40, normal(1), 0.02);
    /* in shares of the element's box, 40 mm wide and high */
    g_autoptr(DtDrawing) d = read_page(
        "<filter id='f' x='-.5' y='-.5' width='2' height='2' primitiveUnits='objectBoundingBox'>"
        "<feGaussianBlur stdDeviation='.125'/></filter><rect " RECT " filter='url(#f)'/>");
    g_assert_cmpfloat_with_epsilon(look(d, 15, 40).alpha, normal(-1), 0.02);
    g_assert_cmpfloat_with_epsilon(look(d, 40, 25).alpha, normal(1), 0.02);
}

static void test_tiles_shadows_and_regions(void)
{
#define TILED                                                                                      \
    "<feFlood flood-color='red' x='10' y='10' width='5' height='5'/>"                              \
    "<feOffset x='10' y='10' width='10' height='10'/><feTile/>"
    const Expected red = {1, 0, 0, 1};
    check(TILED, 12, 12, red);
    check(TILED, 17, 12, (Expected)CLEAR);
    check(TILED, 12, 17, (Expected)CLEAR);
    check(TILED, 32, 52, red);
    check(TILED, 37, 52, (Expected)CLEAR);
    check(TILED, 3, 93, red);
    check(TILED, 7, 93, (Expected)CLEAR);
    check("<feDropShadow dx='30' dy='0' stdDeviation='0' flood-color='red' flood-opacity='.5'/>",
          80, 40, (Expected){1, 0, 0, 0.5});
    check("<feDropShadow dx='30' dy='0' stdDeviation='0' flood-color='red' flood-opacity='.5'/>",
          55, 40, (Expected)SOURCE);
    check("<feDropShadow stdDeviation='0' flood-color='red'/>", 61, 61, red); /* 2 mm either way */
    check("<feDropShadow stdDeviation='0' flood-color='red'/>", 63, 40, (Expected)CLEAR);
    check_alpha("<feDropShadow dx='0' dy='0'/>", 60, 60, 0.25, 0.03); /* blurred by 2 */
    check("<feFlood flood-color='red' width='50' height='30'/>", 49, 29, red);
    check("<feFlood flood-color='red' width='50' height='30'/>", 51, 20, (Expected)CLEAR);
    check("<feFlood flood-color='red' width='50%' height='30'/>", 20, 31, (Expected)CLEAR);
    check("<feFlood flood-color='red' x='50%' y='30'/>", 51, 31, red);
    check("<feFlood flood-color='red' x='50%' y='30'/>", 49, 31, (Expected)CLEAR);
    /* the filter's own region, a tenth beyond the box on each side where none is said */
    g_autoptr(DtDrawing) d = read_page(
        "<filter id='f'><feFlood flood-color='red'/></filter><rect " RECT " filter='url(#f)'/>");
    assert_near(look(d, 16.5, 63.5), red, 0.012, "within the region");
    assert_box(dt_lines_box(&d->shapes[0].outline), 16, 16, 64, 64);
}

/* Whatever lies beyond a step's region is clear on each of its sides, up to the edge of the picture, rotated or not. */
static void test_all_beyond_a_region_is_clear(void)
{
    static const double angles[] = {0, 30};
    for (size_t i = 0; i < G_N_ELEMENTS(angles); i++) {
        g_autofree char *content = g_strdup_printf(
            "<filter id='f' filterUnits='userSpaceOnUse' x='0' y='0' width='100' height='100'>"
            "<feFlood flood-color='red'/><feOffset x='40' y='45' width='20' height='15'/></filter>"
            "<g transform='rotate(%g 50 50)'><rect " RECT " filter='url(#f)'/></g>",
            angles[i]);
        g_autoptr(DtDrawing) d = read_page(content);
        const DtAffine back = dt_affine_then(
            dt_affine_translate(-50, -50),
            dt_affine_then(dt_affine_rotate(-angles[i] * G_PI / 180), dt_affine_translate(50, 50)));
        for (int x = 1; x < 100; x += 2)
            for (int y = 1; y < 100; y += 2) {
                const DtPoint q = dt_affine_apply(back, dt_point(x, y));
                const DtBox region = {40, 45, 60, 60};
                const gboolean within = dt_box_contains(dt_box_grow(region, -0.5), q);
                if (!within && dt_box_contains(dt_box_grow(region, 0.5), q))
                    continue; /* on its edge */
                g_autofree char *what = g_strdup_printf("%d, %d at %g", x, y, angles[i]);
                assert_near(look(d, x, y), within ? (Expected){1, 0, 0, 1} : (Expected)CLEAR, 0.012,
                            what);
            }
    }
}

/* Dots of every cap in a picture (SVG 2, 13.5.4): square ones lie along the x axis of the user space. */
static void test_dots_in_a_picture(void)
{
    static const struct {
        const char *cap;
        gboolean middle, corner;
    } caps[] = {{"square", TRUE, TRUE}, {"round", TRUE, FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(caps); i++) {
        g_autofree char *content = g_strdup_printf(
            "<filter id='f' filterUnits='userSpaceOnUse' x='0' y='0' width='100' height='100'>"
            "<feOffset/></filter><path d='M20 20h0M50 30h0M70 80h0' stroke='#336699' "
            "stroke-width='10' stroke-linecap='%s' filter='url(#f)'/>",
            caps[i].cap);
        g_autoptr(DtDrawing) d = read_page(content);
        const DtPoint at[] = {{20, 20}, {50, 30}, {70, 80}};
        for (size_t k = 0; k < G_N_ELEMENTS(at); k++) {
            assert_near(look(d, at[k].x, at[k].y), (Expected)SOURCE, 0.012, "middle of a dot");
            g_assert_cmpfloat_with_epsilon(look(d, at[k].x + 4.5, at[k].y + 4.5).alpha,
                                           caps[i].corner ? 1 : 0, 0.05);
            g_assert_cmpfloat_with_epsilon(look(d, at[k].x + 5.5, at[k].y).alpha, 0, 0.05);
        }
    }
}

static void test_what_is_not_drawn(void)
{
    static const char *const steps[] = {
        "<feTurbulence/>",
        "<feOffset in='FillPaint'/>",
        FLOOD "<feComposite in2='flood' operator='best'/>",
        FLOOD "<feBlend in2='BackgroundImage'/>",
        FLOOD "<feBlend in2='flood' mode='hue'/>",
        THEN("<feColorMatrix type='unknown'/>"),
        THEN("<feColorMatrix values='1 0 0'/>"),
        TRANSFER("<feFuncR type='unknown' tableValues='0 1'/>"),
        "<feMerge><feMergeNode in='StrokePaint'/></feMerge>",
        "<feMerge><feMergeNode in='BackgroundAlpha'/></feMerge>",
    };
    for (size_t i = 0; i < G_N_ELEMENTS(steps); i++) {
        g_autoptr(DtDrawing) d = filtered(steps[i], "sRGB");
        g_assert_cmpuint(d->n_shapes, ==, 1); /* without it */
        assert_box(dt_lines_box(&d->shapes[0].outline), 20, 20, 60, 60);
        assert_colour(d->shapes[0].fill.colour, 0.2, 0.4, 0.6, 1);
        g_assert_cmpuint(d->n_notes, ==, 1);
        g_assert_nonnull(strstr(d->notes[0].text, "a filter is not drawn"));
    }
}

/* Filter functions (Filter Effects 1, 12 and 13) --------------------------------------------------- */

static void check_function(const char *functions, Expected e)
{
    g_autofree char *content = g_strdup_printf("<rect " RECT " style='filter:%s'/>", functions);
    g_autoptr(DtDrawing) d = read_page(content);
    g_assert_cmpuint(d->n_shapes, ==, 1);
    const DtColour c = d->shapes[0].fill.colour;
    assert_near(c, e, 0.002, functions);
}

static void test_filter_functions(void)
{
    const double grey = 0.2126 * 0.2 + 0.7152 * 0.4 + 0.0722 * 0.6;
    check_function("grayscale(1)", (Expected){grey, grey, grey, 1});
    check_function("grayscale()", (Expected){grey, grey, grey, 1});
    check_function("grayscale(300%)", (Expected){grey, grey, grey, 1});
    check_function("grayscale(50%)",
                   (Expected){(grey + 0.2) / 2, (grey + 0.4) / 2, (grey + 0.6) / 2, 1});
    check_function("saturate(2)", (Expected){2 * 0.2 - grey, 2 * 0.4 - grey, 2 * 0.6 - grey, 1});
    check_function("sepia(1)", (Expected){0.393 * 0.2 + 0.769 * 0.4 + 0.189 * 0.6,
                                          0.349 * 0.2 + 0.686 * 0.4 + 0.168 * 0.6,
                                          0.272 * 0.2 + 0.534 * 0.4 + 0.131 * 0.6, 1});
    check_function("sepia(.25)",
                   (Expected){(0.393 * 0.2 + 0.769 * 0.4 + 0.189 * 0.6 + 3 * 0.2) / 4,
                              (0.349 * 0.2 + 0.686 * 0.4 + 0.168 * 0.6 + 3 * 0.4) / 4,
                              (0.272 * 0.2 + 0.534 * 0.4 + 0.131 * 0.6 + 3 * 0.6) / 4, 1});
    check_function("invert(1)", (Expected){0.8, 0.6, 0.4, 1});
    check_function("invert(25%)", (Expected){0.35, 0.45, 0.55, 1});
    check_function("brightness(1.5)", (Expected){0.3, 0.6, 0.9, 1});
    check_function("brightness(200%)", (Expected){0.4, 0.8, 1, 1});
    check_function("contrast(2)", (Expected){0, 0.3, 0.7, 1});
    check_function("contrast(.5)", (Expected){0.35, 0.45, 0.55, 1});
    /* the turn by 90 degrees: 0.213 - 0.213 sin, and so on */
    check_function("hue-rotate(90deg)", (Expected){0.000 * 0.2 + 0.000 * 0.4 + 1.000 * 0.6,
                                                   0.356 * 0.2 + 0.855 * 0.4 - 0.211 * 0.6,
                                                   -0.574 * 0.2 + 1.430 * 0.4 + 0.144 * 0.6, 1});
    check_function("hue-rotate(.25turn)", (Expected){0.6, 0.2866, 0.5436, 1});
    check_function("hue-rotate()", (Expected)SOURCE);
    check_function("invert(1) brightness(.5)", (Expected){0.4, 0.3, 0.2, 1});
    check_function("brightness(.5) invert(1)", (Expected){0.9, 0.8, 0.7, 1});
    check_function("none", (Expected)SOURCE);
}

static void test_functions_that_make_pictures(void)
{
#define WITH(functions) "<rect " RECT " style='filter:" functions "'/>"
    g_autoptr(DtDrawing) shadow = read_page(WITH("drop-shadow(30px 5px red)"));
    assert_near(look(shadow, 85, 60), (Expected){1, 0, 0, 1}, 0.012, "shadow");
    assert_near(look(shadow, 85, 23), (Expected)CLEAR, 0.012, "beside the shadow");
    assert_near(look(shadow, 40, 40), (Expected)SOURCE, 0.012, "what casts it");
    g_autoptr(DtDrawing) first = read_page(WITH("drop-shadow(lime 10px 30px 0px)"));
    assert_near(look(first, 40, 85), (Expected){0, 1, 0, 1}, 0.012, "shadow below");
    g_autoptr(DtDrawing) blurred = read_page(WITH("blur(5px)"));
    g_assert_cmpfloat_with_epsilon(look(blurred, 15, 40).alpha, normal(-1), 0.02);
    g_autoptr(DtDrawing) faint = read_page(WITH("opacity(40%)"));
    assert_near(look(faint, 40, 40), (Expected){0.2, 0.4, 0.6, 0.4}, 0.012, "opacity");
    static const char *const wrong[] = {WITH("drop-shadow(5px)"), WITH("sharpen(2)"),
                                        WITH("blur(red)")};
    for (size_t i = 0; i < G_N_ELEMENTS(wrong); i++) {
        g_autoptr(DtDrawing) d = read_page(wrong[i]);
        assert_colour(d->shapes[0].fill.colour, 0.2, 0.4, 0.6, 1);
        g_assert_cmpuint(d->n_notes, >, 0);
    }
}

/* mix-blend-mode (Compositing and Blending 1, 10) -------------------------------------------------- */

static double soft_light(double b, double s)
{
    const double d = b <= 0.25 ? ((16 * b - 12) * b + 4) * b : sqrt(b);
    return s <= 0.5 ? b - (1 - 2 * s) * b * (1 - b) : b + (2 * s - 1) * (d - b);
}

static double blended(int mode, double b, double s)
{
    switch (mode) {
    case 0:
        return b * s;
    case 1:
        return b + s - b * s;
    case 2:
        return b <= 0.5 ? 2 * b * s : 1 - 2 * (1 - b) * (1 - s);
    case 3:
        return MIN(b, s);
    case 4:
        return MAX(b, s);
    case 5:
        return b == 0 ? 0 : s == 1 ? 1 : MIN(1, b / (1 - s));
    case 6:
        return b == 1 ? 1 : s == 0 ? 0 : 1 - MIN(1, (1 - b) / s);
    case 7:
        return s <= 0.5 ? 2 * b * s : 1 - 2 * (1 - b) * (1 - s);
    case 8:
        return soft_light(b, s);
    case 9:
        return fabs(b - s);
    case 10:
        return b + s - 2 * b * s;
    default:
        return MIN(1, b + s);
    }
}

static void test_blend_modes(void)
{
    static const char *const modes[] = {"multiply",   "screen",      "overlay",    "darken",
                                        "lighten",    "color-dodge", "color-burn", "hard-light",
                                        "soft-light", "difference",  "exclusion",  "plus-lighter"};
    const double b[3] = {0.8, 0.2, 0.4}, s[3] = {0.2, 0.4, 0.6}; /* #cc3366 and #336699 */
    for (int m = 0; m < (int)G_N_ELEMENTS(modes); m++) {
        g_autofree char *content =
            g_strdup_printf("<rect x='10' y='10' width='60' height='40' fill='#cc3366'/>"
                            "<rect " RECT " style='mix-blend-mode:%s'/>",
                            modes[m]);
        g_autoptr(DtDrawing) d = read_page(content);
        assert_near(
            look(d, 40, 40),
            (Expected){blended(m, b[0], s[0]), blended(m, b[1], s[1]), blended(m, b[2], s[2]), 1},
            0.012, modes[m]);
        assert_near(look(d, 40, 55), (Expected)SOURCE, 0.012, "beside what lies beneath");
    }
}

static double lum(const double c[3])
{
    return 0.3 * c[0] + 0.59 * c[1] + 0.11 * c[2];
}

/* SetLum and ClipColor. */
static Expected with_lum(const double c[3], double l)
{
    double v[3], low = 1, high = 0;
    const double d = l - lum(c);
    for (int i = 0; i < 3; i++) {
        v[i] = c[i] + d;
        low = MIN(low, v[i]);
        high = MAX(high, v[i]);
    }
    for (int i = 0; i < 3; i++) {
        if (low < 0)
            v[i] = l + (v[i] - l) * l / (l - low);
        if (high > 1)
            v[i] = l + (v[i] - l) * (1 - l) / (high - l);
    }
    return (Expected){v[0], v[1], v[2], 1};
}

static void test_blends_of_hue_and_light(void)
{
    const double b[3] = {0.8, 0.2, 0.4}, s[3] = {0.2, 0.4, 0.6};
    /* the saturations are 0.6 and 0.4; the middle of the source lies half-way, that of the backdrop a
     * third of the way up */
    const double hue[3] = {0, 0.3, 0.6}, saturation[3] = {0.4, 0, 0.4 / 3};
    const struct {
        const char *mode;
        Expected e;
    } cases[] = {{"hue", with_lum(hue, lum(b))},
                 {"saturation", with_lum(saturation, lum(b))},
                 {"color", with_lum(s, lum(b))},
                 {"luminosity", with_lum(b, lum(s))}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *content =
            g_strdup_printf("<rect x='10' y='10' width='60' height='60' fill='#cc3366'/>"
                            "<rect " RECT " style='mix-blend-mode:%s'/>",
                            cases[i].mode);
        g_autoptr(DtDrawing) d = read_page(content);
        assert_near(look(d, 40, 40), cases[i].e, 0.015, cases[i].mode);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/filters/moved", test_moved_flooded_and_merged);
    g_test_add_func("/art/filters/no-such-name", test_names_that_nothing_has);
    g_test_add_func("/art/filters/light", test_light_in_which_steps_mix);
    g_test_add_func("/art/filters/long-tables", test_tables_of_many_values);
    g_test_add_func("/art/filters/clipped-after", test_clips_come_after_filters);
    g_test_add_func("/art/filters/composites", test_composites);
    g_test_add_func("/art/filters/blends", test_blends_of_filters);
    g_test_add_func("/art/filters/colours", test_colours_step_by_step);
    g_test_add_func("/art/filters/blur", test_blur);
    g_test_add_func("/art/filters/regions", test_tiles_shadows_and_regions);
    g_test_add_func("/art/filters/beyond", test_all_beyond_a_region_is_clear);
    g_test_add_func("/art/filters/dots", test_dots_in_a_picture);
    g_test_add_func("/art/filters/not-drawn", test_what_is_not_drawn);
    g_test_add_func("/art/filters/functions", test_filter_functions);
    g_test_add_func("/art/filters/pictures", test_functions_that_make_pictures);
    g_test_add_func("/art/filters/blend-modes", test_blend_modes);
    g_test_add_func("/art/filters/hue-and-light", test_blends_of_hue_and_light);
    return g_test_run();
}
