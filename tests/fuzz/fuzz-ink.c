/* fuzz-ink: any bytes as shapes with paints, strokes, dashes and clips. Either strokes that are
 * sound, or one error. */
#include "drawtrue/base.h"
#include "drawtrue/ink.h"

#include <math.h>
#include <string.h>

enum { MOST_POINTS = 300, MOST_SHAPES = 24 };

typedef struct {
    const uint8_t *p;
    size_t n;
    size_t points;
} Bytes;

static unsigned take(Bytes *b)
{
    if (b->n == 0)
        return 0;
    b->n--;
    return *b->p++;
}

static double take_length(Bytes *b)
{
    unsigned hi = take(b), lo = take(b);
    int v = (int)(hi << 8 | lo) - 32768;
    if (v == 32767)
        return NAN;
    if (v == 32766)
        return 1e300;
    return v % 2 ? v / 128.0 : v / 20.0; /* fine and coarse grids: points meet often */
}

static void take_lines(Bytes *b, DtLines *out)
{
    dt_lines_init(out);
    unsigned rings = take(b) % 3 + 1;
    for (unsigned i = 0; i < rings; i++) {
        unsigned n = take(b) % 40, closed = take(b) % 2;
        dt_lines_begin(out);
        dt_lines_point(out, dt_point(take_length(b), take_length(b)));
        for (unsigned k = 1; k < n && b->points < MOST_POINTS; k++, b->points++)
            dt_lines_point(out, dt_point(take_length(b), take_length(b)));
        if (closed)
            dt_lines_close(out);
    }
}

static DtPaint take_paint(Bytes *b)
{
    unsigned kind = take(b);
    DtColour c = {take(b) / 255.0, take(b) / 255.0, take(b) / 255.0,
                  kind & 4 ? 1 : kind % 37 / 36.0};
    return (DtPaint){kind & 3 ? DT_PAINT_FLAT : DT_PAINT_NONE, c, NULL};
}

static void take_shape(Bytes *b, DtShape *s, double *dash)
{
    static const char *const classes[] = {NULL, "dashed", "bold dotted", ""};
    memset(s, 0, sizeof *s);
    take_lines(b, &s->outline);
    s->rule = take(b) % 2 ? DT_FILL_EVENODD : DT_FILL_NONZERO;
    s->fill = take_paint(b);
    s->stroke.paint = take_paint(b);
    s->stroke.width = fabs(take_length(b)) / 20;
    s->stroke.cap = (DtCap)(take(b) % 3);
    s->stroke.join = (DtJoin)(take(b) % 3);
    s->stroke.miter_limit = 4;
    s->stroke.user_to_mm = (DtAffine){take_length(b) / 50, 0, take_length(b) / 200, 1, 0, 0};
    for (int i = 0; i < 3; i++)
        dash[i] = take_length(b) / 10;
    s->stroke.dash = dash;
    s->stroke.n_dash = take(b) % 4;
    s->stroke.dash_offset = take_length(b);
    s->stroke_first = take(b) % 2;
    s->clip = (int)(take(b) % 4) - 2 < 0 ? -1 : (int)(take(b) % 2);
    s->classes = classes[take(b) % 4];
    s->line = 1;
}

static void check(const DtStrokes *s, size_t n_pens, int n_shapes)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        if (k->first + k->n > s->n_pts || k->n < 2 || k->pen >= n_pens || k->shape >= n_shapes)
            g_error("a stroke is not sound");
    }
    for (size_t i = 0; i < s->n_pts; i++)
        if (!isfinite(s->pts[i].x) || !isfinite(s->pts[i].y))
            g_error("a point is not finite");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    Bytes b = {data, size, 0};
    DtPen pens[2] = {{.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = 0.4, .dot_gain = 1},
                     {.name = (char *)"red",
                      .colour = {0.8, 0, 0, 1},
                      .tip = 0.2 + take(&b) / 50.0,
                      .classes = (char *)"bold",
                      .dot_gain = 1}};
    DtRack rack = {pens, 2};
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    unsigned flags = take(&b);
    o.hatch = (DtHatch)(flags % 5);
    o.hide = (flags & 4) != 0;
    o.dedupe = (flags & 8) != 0;
    o.fill = (flags & 16) == 0;
    o.tone = (flags & 32) != 0;
    o.solid = (flags & 64) != 0;
    o.picture = (DtPicture)(flags / 4 % 6);
    o.angle = take(&b) / 40.0;
    o.pitch = take(&b) % 8 ? 0 : 0.3 + take(&b);
    DtClipRegion regions[2] = {{.clip = -1}, {.clip = 0}};
    take_lines(&b, &regions[0].outline);
    take_lines(&b, &regions[1].outline);
    DtClip clips[2] = {{&regions[0], 1, -1}, {regions, 2, take(&b) % 2 ? 0 : -1}};
    DtShape shapes[MOST_SHAPES];
    double dash[MOST_SHAPES][3];
    size_t n = 0;
    while (n < MOST_SHAPES && b.n > 0)
        take_shape(&b, &shapes[n], dash[n]), n++;
    DtDrawing d = {
        .path = (char *)"fuzz.svg", .shapes = shapes, .n_shapes = n, .clips = clips, .n_clips = 2};
    DtStrokes s;
    dt_strokes_init(&s);
    g_autoptr(GError) error = NULL;
    if (!dt_ink_trace(&d, &rack, &o, &s, NULL, &error) != (error != NULL))
        g_error("either strokes or an error");
    check(&s, 2, (int)n);
    dt_strokes_clear(&s);
    for (size_t i = 0; i < n; i++)
        dt_lines_clear(&shapes[i].outline);
    dt_lines_clear(&regions[0].outline);
    dt_lines_clear(&regions[1].outline);
    return 0;
}
