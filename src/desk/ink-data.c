/* ink-data: see ink-data.h. */
#include "desk/ink-data.h"

#include <string.h>

enum { HEADER = 64, MAGIC = 0x314B4E49 };

typedef struct {
    GArray *xy, *first, *begin, *end, *pen;
    double home_s; /* travel is left out once it is over */
    double base_s;
} Arrays;

static void add_point(Arrays *a, DtPoint p)
{
    const float xy[2] = {(float)p.x, (float)p.y};
    g_array_append_vals(a->xy, xy, 2);
}

static void begin_stroke(Arrays *a, DtPoint at, double when_s, unsigned pen)
{
    const guint32 first = a->xy->len / 2;
    const float begin = (float)(when_s - a->base_s);
    const guint8 index = (guint8)MIN(pen, 254);
    g_array_append_val(a->first, first);
    g_array_append_val(a->begin, begin);
    g_array_append_val(a->end, begin);
    g_array_append_val(a->pen, index);
    add_point(a, at);
}

/* Strokes are counted as in the program's index: from pen down to pen up. */
static void collect(Arrays *a, const DtMoves *m, const double *at_s)
{
    gboolean down = FALSE;
    DtPoint at = {0, 0};
    for (size_t i = 0; i < m->n; i++) {
        const DtMove *move = &m->m[i];
        if (move->kind == DT_MOVE_HOME && a->first->len == 0)
            a->base_s = a->home_s;
        if (move->kind == DT_MOVE_PEN_DOWN && !down) {
            begin_stroke(a, i + 1 < m->n && m->m[i + 1].kind == DT_MOVE_DRAW ? at : move->ink,
                         at_s[i], move->pen);
            down = TRUE;
        } else if (move->kind == DT_MOVE_DRAW && down) {
            add_point(a, move->ink);
            g_array_index(a->end, float, a->end->len - 1) = (float)(at_s[i] - a->base_s);
        } else if (move->kind == DT_MOVE_PEN_UP) {
            down = FALSE;
        }
        at = move->ink;
    }
}

static void put(GByteArray *to, const GArray *from, guint size)
{
    g_byte_array_append(to, (const guint8 *)from->data, from->len * size);
}

static GBytes *pack(const Arrays *a, double total_s, double home_s)
{
    const guint32 n = a->first->len - 1, points = a->xy->len / 2;
    const guint32 numbers[4] = {MAGIC, n, points, 0};
    const double times[2] = {total_s, home_s};
    guint8 header[HEADER] = {0};
    memcpy(header, numbers, sizeof numbers);
    memcpy(header + sizeof numbers, times, sizeof times);
    GByteArray *bytes = g_byte_array_sized_new(HEADER + points * 8 + n * 13 + 4);
    g_byte_array_append(bytes, header, HEADER);
    put(bytes, a->xy, sizeof(float));
    put(bytes, a->first, sizeof(guint32));
    put(bytes, a->begin, sizeof(float));
    put(bytes, a->end, sizeof(float));
    put(bytes, a->pen, 1);
    return g_byte_array_free_to_bytes(bytes);
}

GBytes *dt_desk_ink_bytes(const DtMoves *m, const DtTimes *t, DtInkSummary *out)
{
    G_STATIC_ASSERT(G_BYTE_ORDER ==
                    G_LITTLE_ENDIAN); /* true on every system that drawtrue is built for */
    Arrays a = {g_array_new(FALSE, FALSE, sizeof(float)),
                g_array_new(FALSE, FALSE, sizeof(guint32)),
                g_array_new(FALSE, FALSE, sizeof(float)),
                g_array_new(FALSE, FALSE, sizeof(float)),
                g_array_new(FALSE, FALSE, 1),
                t->home_s,
                0};
    collect(&a, m, t->at_s);
    const guint32 last = a.xy->len / 2;
    g_array_append_val(a.first, last);
    const double total_s = MAX(0, t->total_s - t->home_s);
    *out = (DtInkSummary){a.first->len - 1, last, total_s, t->home_s};
    GBytes *bytes = pack(&a, total_s, t->home_s);
    g_array_free(a.xy, TRUE);
    g_array_free(a.first, TRUE);
    g_array_free(a.begin, TRUE);
    g_array_free(a.end, TRUE);
    g_array_free(a.pen, TRUE);
    return bytes;
}

double dt_desk_ink_begin_s(GBytes *ink, const DtInkSummary *sum, size_t i)
{
    gsize len = 0;
    const guint8 *data = ink != NULL ? g_bytes_get_data(ink, &len) : NULL;
    const gsize at = HEADER + sum->points * 8 + (sum->strokes + 1) * 4 + i * sizeof(float);
    float begin_s = 0;
    if (data != NULL && i < sum->strokes && at + sizeof begin_s <= len)
        memcpy(&begin_s, data + at, sizeof begin_s);
    return begin_s;
}

void dt_desk_own_order(const DtMoves *m, const DtTimes *t, DtOwnOrder *out)
{
    memset(out->pen, 255, sizeof out->pen);
    out->known = TRUE;
    out->total_s = MAX(0, t->total_s - t->home_s);
    out->changes = t->changes;
    double base_s = 0;
    for (size_t i = 0; i < m->n; i++) {
        const double from_s = (i > 0 ? t->at_s[i - 1] : 0) - base_s, to_s = t->at_s[i] - base_s;
        if (m->m[i].kind == DT_MOVE_HOME)
            base_s = t->home_s;
        if (m->m[i].kind != DT_MOVE_DRAW || out->total_s <= 0)
            continue;
        const double scale = DT_OWN_PARTS / out->total_s;
        const size_t from = (size_t)CLAMP(from_s * scale, 0, DT_OWN_PARTS - 1);
        const size_t to = (size_t)CLAMP(to_s * scale, 0, DT_OWN_PARTS - 1);
        for (size_t k = from; k <= to; k++)
            out->pen[k] = (uint8_t)MIN(m->m[i].pen, 254);
    }
}
