/* marks: what the text of a drawing speaks of. */
#include "marks.h"

#include <gio/gio.h>
#include <string.h>

static char *unpack(const char *data, gsize len)
{
    g_autoptr(GInputStream) packed = g_memory_input_stream_new_from_data(data, (gssize)len, NULL);
    g_autoptr(GZlibDecompressor) gunzip = g_zlib_decompressor_new(G_ZLIB_COMPRESSOR_FORMAT_GZIP);
    g_autoptr(GInputStream) plain = g_converter_input_stream_new(packed, G_CONVERTER(gunzip));
    g_autoptr(GOutputStream) out = g_memory_output_stream_new_resizable();
    g_output_stream_splice(out, plain, G_OUTPUT_STREAM_SPLICE_NONE, NULL, NULL);
    g_output_stream_write(out, "", 1, NULL, NULL);
    g_output_stream_close(out, NULL, NULL);
    return g_memory_output_stream_steal_data(G_MEMORY_OUTPUT_STREAM(out));
}

char *marks_read(const char *path)
{
    char *data = NULL;
    gsize len = 0;
    if (!g_file_get_contents(path, &data, &len, NULL))
        return NULL;
    if (len < 2 || (guchar)data[0] != 0x1f || (guchar)data[1] != 0x8b)
        return data;
    char *text = unpack(data, len);
    g_free(data);
    return text;
}

static gboolean has_any(const char *text, const char *const *marks)
{
    for (; *marks; marks++)
        if (strstr(text, *marks))
            return TRUE;
    return FALSE;
}

gboolean marks_dynamic(const char *text)
{
    static const char *const marks[] = {"<filter", "<animate", "<set ",
                                        "<script", "<feImage", NULL};
    return has_any(text, marks);
}

gboolean marks_filtered(const char *text)
{
    static const char *const marks[] = {"filter:url", "filter: url", "filter=\"url", "filter='url",
                                        NULL};
    return has_any(text, marks);
}

gboolean marks_flat(const char *text)
{
    static const char *const marks[] = {"Gradient", "<pattern", "<image", "filter", "<mask", NULL};
    return !has_any(text, marks);
}

char *marks_features(const char *text)
{
    static const struct {
        const char *mark, *name;
    } all[] = {{"filter:url", "filter"},   {"filter=\"url", "filter"}, {"<mask", "mask"},
               {"<text", "text"},          {"<image", "image"},        {"<pattern", "pattern"},
               {"<marker", "marker"},      {"<clipPath", "clip"},      {"Gradient", "gradient"},
               {"flowRoot", "flowed text"}};
    GString *s = g_string_new(NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(all); i++)
        if (strstr(text, all[i].mark) && !strstr(s->str, all[i].name))
            g_string_append_printf(s, "%s%s", s->len ? "+" : "", all[i].name);
    if (s->len == 0)
        g_string_append(s, "plain");
    return g_string_free(s, FALSE);
}
