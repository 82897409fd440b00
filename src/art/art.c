/* art: turns a file into a drawing, and answers questions about drawings. */
#include "art/source/raster.h"
#include "art/text/text.h"

#include "drawtrue/work.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <unistd.h>
#include <zlib.h>

void dt_art_fail(ArtReader *r, int line, const char *format, ...)
{
    if (r->error)
        return;
    va_list args;
    va_start(args, format);
    g_autofree char *text = g_strdup_vprintf(_(format), args);
    va_end(args);
    g_set_error(&r->error, DT_ERROR, DT_ERROR_INPUT, "%s:%d: %s", r->doc->name, line, text);
}

/* Reading -------------------------------------------------------------------------------------- */

static gboolean is_gzip(const char *data, gsize len)
{
    return len > 2 && (guchar)data[0] == 0x1f && (guchar)data[1] == 0x8b;
}

/* RFC 1952 through zlib, never more than the limit in memory. */
static char *unpack(const char *data, gsize len, const char *name, gsize *out_len, GError **error)
{
    z_stream z = {.next_in = (Bytef *)(gpointer)data, .avail_in = (uInt)len};
    if (inflateInit2(&z, 16 + MAX_WBITS) != Z_OK) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: not enough memory to unpack it", name);
        return NULL;
    }
    gsize cap = MAX(len * 4, 4096), n = 0;
    char *out = g_malloc(cap + 1);
    int state = Z_OK;
    while (state == Z_OK && n <= ART_MAX_BYTES) {
        if (n == cap) {
            cap = MIN(cap * 2, ART_MAX_BYTES + 4096);
            out = g_realloc(out, cap + 1);
        }
        z.next_out = (Bytef *)out + n;
        z.avail_out = (uInt)(cap - n);
        state = inflate(&z, Z_NO_FLUSH);
        n = cap - z.avail_out;
        if (state == Z_BUF_ERROR && z.avail_out == 0)
            state = Z_OK;
        /* RFC 1952, 2.2: a file may consist of several members. */
        if (state == Z_STREAM_END && is_gzip((const char *)z.next_in, z.avail_in))
            state = inflateReset(&z);
    }
    inflateEnd(&z);
    if (n > ART_MAX_BYTES) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s:1: unpacks to more than %u MB", name,
                    (unsigned)(ART_MAX_BYTES >> 20));
    } else if (state != Z_STREAM_END) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s:1: its gzip data is %s", name,
                    state == Z_BUF_ERROR ? _("cut off") : "damaged");
    } else {
        out[n] = '\0';
        *out_len = n;
        return out;
    }
    g_free(out);
    return NULL;
}

static void free_path(gpointer p)
{
    dt_path_clear(p);
    g_free(p);
}

static void take_over(ArtReader *r)
{
    DtDrawing *d = r->d;
    dt_art_notes_finish(r);
    d->n_shapes = r->shapes->len;
    d->n_clips = r->clips->len;
    d->n_groups = r->groups->len;
    d->n_notes = r->notes->len;
    d->shapes = (DtShape *)(void *)g_array_free(r->shapes, FALSE);
    d->clips = (DtClip *)(void *)g_array_free(r->clips, FALSE);
    d->groups = (DtGroup *)(void *)g_array_free(r->groups, FALSE);
    d->notes = (DtArtNote *)(void *)g_array_free(r->notes, FALSE);
    g_array_free(r->clip_rects, TRUE);
    g_hash_table_unref(r->clip_cache);
    g_hash_table_unref(r->memo);
    g_ptr_array_unref(r->spare_paths);
    dt_lines_clear(&r->scratch);
    dt_art_shaper_free(r->shaper);
    dt_art_single_line_free(r->single_line);
}

/* A drawing without any size is as large as its contents. */
static void size_by_content(DtDrawing *d)
{
    DtBox b = dt_art_box(d);
    if (dt_box_is_empty(b) || !(dt_box_width(b) > 0 && dt_box_height(b) > 0))
        return;
    d->view = b;
    d->width = dt_box_width(b);
    d->height = dt_box_height(b);
}

/* Room for a shape for nearly every element, so that the array need not grow and move. */
static GArray *room_for_shapes(gsize n_nodes)
{
    guint expected = (guint)MIN(n_nodes, ART_MAX_VISITS);
    GArray *shapes = g_array_sized_new(FALSE, FALSE, sizeof(DtShape), expected);
    dt_art_expect_use(shapes->data, expected * sizeof(DtShape));
    return shapes;
}

static void tell(ArtReader *r, const ArtUndrawn *u)
{
    const char *mark = strstr(u->why, "%s");
    dt_art_note(r, u->node, "%.*s%.40s%s", (int)(mark - u->why), u->why, u->name, mark + 2);
}

static DtDrawing *draw(ArtDoc *doc, const DtArtOptions *options, GError **error)
{
    ArtReader r = {
        .d = g_new0(DtDrawing, 1),
        .store = doc->store,
        .doc = doc,
        .o = *options,
        .root = {.rem = 16, .variables = doc->has_variables},
        .region_clip = -1,
        .shapes = room_for_shapes(doc->n_nodes),
        .clips = g_array_new(FALSE, FALSE, sizeof(DtClip)),
        .groups = g_array_new(FALSE, FALSE, sizeof(DtGroup)),
        .notes = g_array_new(FALSE, FALSE, sizeof(DtArtNote)),
        .clip_rects = g_array_new(FALSE, FALSE, sizeof(DtBox)),
        .spare_paths = g_ptr_array_new_with_free_func(free_path),
        .clip_cache = g_hash_table_new_full(NULL, NULL, NULL, g_free),
        .memo = g_hash_table_new(NULL, NULL),
    };
    r.root.reader = &r;
    r.noted = dt_art_notes_new();
    r.d->path = g_strdup(doc->name);
    r.d->store = doc->store;
    for (guint i = 0; i < doc->undrawn->len; i++)
        tell(&r, doc->undrawn->pdata[i]);
    dt_art_animations_freeze(&r);
    dt_art_page_hint(&r);
    r.sheet = doc->has_sheets ? dt_art_sheet_new(&r) : NULL;
    if (doc->outside_sheet > 0)
        dt_art_note_line(&r, doc->outside_sheet,
                         "a style sheet outside of this file is not fetched: left out");
    dt_art_walk_root(&r);
    if (!r.error)
        dt_work_check(&r.error);
    if (dt_art_sheet_is_beyond(r.sheet))
        dt_art_fail(&r, doc->root->line, "its style sheets take more than %u comparisons",
                    (unsigned)ART_MAX_MATCHES);
    dt_art_sheet_free(r.sheet);
    dt_art_variables_free(&r.root);
    take_over(&r);
    if (r.error) {
        g_propagate_error(error, r.error);
        dt_drawing_free(r.d);
        return NULL;
    }
    if (r.sized_by_content)
        size_by_content(r.d);
    return r.d;
}

/* Fills in the default options if there are none. */
static gboolean check_options(const DtArtOptions **options, GError **error)
{
    static const DtArtOptions usual = DT_ART_OPTIONS_DEFAULT;
    if (!*options)
        *options = &usual;
    const DtArtOptions *o = *options;
    if (o->tolerance > 0 && o->tolerance <= 1000 && o->default_width > 0 && o->default_height > 0 &&
        o->page > 0)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                "the tolerance must be above 0 mm and at most 1000 mm, the page above 0 mm and its "
                "number above 0");
    return FALSE;
}

/* Takes ownership of `data`, which is NUL-terminated. */
static DtDrawing *read_text(char *data, gsize len, const char *name, const DtArtOptions *options,
                            GError **error)
{
    if (len > ART_MAX_BYTES) {
        g_free(data);
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s:1: larger than %u MB", name,
                    (unsigned)(ART_MAX_BYTES >> 20));
        return NULL;
    }
    ArtDoc doc = {.store = dt_art_store_new(),
                  .tree = dt_art_store_new(),
                  .source = data,
                  .name = name,
                  .undrawn = g_ptr_array_new()};
    doc.has_variables = dt_art_has_variables(data, len);
    DtDrawing *d = NULL;
    if (dt_art_xml_parse(&doc, len, error))
        d = draw(&doc, options, error);
    else
        dt_art_store_free(doc.store);
    dt_art_doc_clear(&doc);
    return d;
}

static char *copied(const char *data, gsize len)
{
    char *copy = g_malloc(len + 1);
    dt_art_expect_use(copy, len + 1);
    if (len > 0)
        memcpy(copy, data, len);
    copy[len] = '\0';
    return copy;
}

/* Whether an XML document begins so: with '<', in whatever encoding, after a byte order mark or space. */
static gboolean begins_as_xml(const char *data, gsize len)
{
    static const char skipped[] = "\xef\xbb\xbf\xfe\xff \t\r\n";
    gsize at = 0;
    while (at < len && (data[at] == '\0' || strchr(skipped, data[at])))
        at++;
    return at < len && data[at] == '<';
}

static void append_note(DtDrawing *d, const char *text)
{
    d->notes = g_renew(DtArtNote, d->notes, d->n_notes + 1);
    d->notes[d->n_notes++] = (DtArtNote){1, g_strdup(text)};
}

/* What is to be said of a page of a PDF file. */
static void tell_page(DtDrawing *d, const ArtPageSeen *seen, const GPtrArray *of_page,
                      gboolean larger_unit, const DtArtOptions *options)
{
    for (gsize i = 0; i < d->n_notes; i++)
        d->notes[i].line = 1; /* the file has none of the converted page's lines */
    g_autofree char *difference = dt_art_pdf_difference(d, seen);
    if (difference)
        append_note(d, difference);
    for (guint i = 0; i < of_page->len; i++)
        append_note(d, g_ptr_array_index(of_page, i));
    if (larger_unit)
        append_note(d, "the page sets a unit of its own (UserUnit), which is not supported: it may "
                       "be drawn too small");
    if (options->single_line_text)
        append_note(d, "the words of the page are set upright and black, in place of its letters");
}

/* Takes ownership of `data`, a drawing of any kind, and turns it into SVG text. */
static DtDrawing *read_any(char *data, gsize len, const char *name, const DtArtOptions *options,
                           GError **error)
{
    char *text = data;
    gboolean pdf = FALSE, larger_unit = FALSE, picture = dt_art_is_raster(data, len);
    g_autoptr(GPtrArray) of_page = g_ptr_array_new_with_free_func(g_free);
    ArtPageSeen seen = {0};
    if (is_gzip(data, len))
        text = unpack(data, len, name, &len, error);
    else if (picture)
        text = dt_art_raster_page(data, len, &len);
    else if ((pdf = dt_art_is_pdf(data, len))) {
        larger_unit = dt_art_pdf_has_unit(data, len);
        text = dt_art_pdf_page(data, len, name, options, &len, &seen, of_page, error);
    }
    if (text != data)
        g_free(data);
    if (text && !pdf && options->page > 1) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: it has no page %d: only PDF files have several pages here", name,
                    options->page);
        g_clear_pointer(&text, g_free);
    }
    if (text && len > 0 && !begins_as_xml(text, len)) {
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "%s:1: it is no drawing of a kind that is read here: SVG, PDF, PNG, JPEG, GIF, WebP, "
            "TIFF or BMP",
            name);
        g_clear_pointer(&text, g_free);
    }
    DtDrawing *d = text ? read_text(text, len, name, options, error) : NULL;
    if (d && picture && d->n_shapes == 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s:1: %s", name,
                    d->n_notes > 0 ? d->notes[0].text : _("a picture without pixels"));
        g_clear_pointer(&d, dt_drawing_free);
    }
    if (d && pdf)
        tell_page(d, &seen, of_page, larger_unit, options);
    dt_art_page_seen_clear(&seen);
    return d;
}

DtDrawing *dt_art_read_data(const char *data, gsize len, const char *name,
                            const DtArtOptions *options, GError **error)
{
    if (!check_options(&options, error))
        return NULL;
    return read_any(copied(data, MIN(len, ART_MAX_BYTES + 1)), MIN(len, ART_MAX_BYTES + 1), name,
                    options, error);
}

/* All of standard input. */
static char *read_standard_input(gsize *len, GError **error)
{
    gsize room = 1 << 16, n = 0;
    char *data = g_malloc(room + 1);
    for (;;) {
        if (n == room)
            data = g_realloc(data, (room *= 2) + 1);
        gssize got = read(STDIN_FILENO, data + n, room - n);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0 || n > ART_MAX_BYTES) {
            g_set_error(error, DT_ERROR, got < 0 ? DT_ERROR_IO : DT_ERROR_INPUT,
                        "standard input: %s", got < 0 ? g_strerror(errno) : _("more than 256 MB"));
            g_free(data);
            return NULL;
        }
        if (got == 0)
            break;
        n += (gsize)got;
    }
    data[n] = '\0';
    *len = n;
    return data;
}

DtDrawing *dt_art_read(const char *path, const DtArtOptions *options, GError **error)
{
    if (!check_options(&options, error))
        return NULL;
    gsize len = 0;
    gboolean standard = strcmp(path, "-") == 0;
    char *data = standard ? read_standard_input(&len, error)
                          : dt_base_read_file(path, ART_MAX_BYTES, &len, error);
    return data ? read_any(data, len, standard ? _("standard input") : path, options, error) : NULL;
}

static void free_shapes(DtDrawing *d)
{
    d->n_shapes = d->n_clips = d->n_groups = 0;
    g_clear_pointer(&d->shapes, g_free);
    g_clear_pointer(&d->clips, g_free);
    g_clear_pointer(&d->groups, g_free);
    g_clear_pointer(&d->store, dt_art_store_free);
}

void dt_drawing_forget_shapes(DtDrawing *d)
{
    d->forgotten_box = dt_art_box(d);
    d->is_forgotten = TRUE;
    free_shapes(d);
}

void dt_drawing_free(DtDrawing *d)
{
    if (!d)
        return;
    free_shapes(d);
    for (gsize i = 0; i < d->n_notes; i++)
        g_free(d->notes[i].text);
    g_free(d->path);
    g_free(d->notes);
    g_free(d);
}

gboolean dt_art_is_artwork(const char *path)
{
    char head[1024];
    if (strcmp(path, "-") == 0 || g_str_has_suffix(path, ".svg") || g_str_has_suffix(path, ".svgz"))
        return TRUE;
    const int fd = dt_base_open_file(path, NULL); /* opening a pipe must not block */
    FILE *f = fd >= 0 ? fdopen(fd, "rb") : NULL;
    if (!f)
        return TRUE;
    gsize len = fread(head, 1, sizeof head, f);
    fclose(f);
    return begins_as_xml(head, len) || is_gzip(head, len) || dt_art_is_raster(head, len) ||
           dt_art_is_pdf(head, len);
}

/* Questions ------------------------------------------------------------------------------------ */

double dt_art_stroke_width_mm(const DtStrokeStyle *s)
{
    return s->width * sqrt(fabs(dt_affine_determinant(s->user_to_mm)));
}

DtBox dt_art_box(const DtDrawing *d)
{
    DtBox box = d->is_forgotten ? d->forgotten_box : DT_BOX_EMPTY;
    for (gsize i = 0; i < d->n_shapes; i++) {
        const DtShape *s = &d->shapes[i];
        double reach = 0;
        if (s->stroke.paint.kind != DT_PAINT_NONE)
            reach = s->stroke.width / 2 * dt_affine_max_stretch(s->stroke.user_to_mm);
        box = dt_box_union(box, dt_box_grow(dt_lines_box(&s->outline), reach));
    }
    return box;
}

void dt_art_place(DtDrawing *d, DtAffine m)
{
    for (gsize i = 0; i < d->n_shapes; i++) {
        DtShape *s = &d->shapes[i];
        dt_lines_transform(&s->outline, m);
        s->stroke.user_to_mm = dt_affine_then(s->stroke.user_to_mm, m);
    }
    for (gsize i = 0; i < d->n_clips; i++)
        for (gsize j = 0; j < d->clips[i].n_regions; j++)
            dt_lines_transform(&d->clips[i].regions[j].outline, m);
    DtAffine back;
    gboolean invertible = dt_affine_invert(m, &back);
    for (guint i = 0; i < d->store->tones->len && invertible; i++) {
        DtTone *t = d->store->tones->pdata[i];
        t->to_tone = dt_affine_then(back, t->to_tone);
    }
    for (guint i = 0; i < d->store->softs->len && invertible; i++)
        dt_art_mask_alpha_place(d->store->softs->pdata[i], back);
    d->view = dt_affine_apply_box(m, d->view);
}
