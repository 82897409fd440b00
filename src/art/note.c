/* note: what could not be drawn as painted; each text once, with a count. */
#include "art/private.h"
#include "art/style/style.h"

#include <stdarg.h>

#define MAX_NOTES 1000

struct ArtNotes {
    GHashTable *by_text; /* text → its place in the reader's notes, from 1 */
    GHashTable *places;  /* text and element, of those counted */
    GArray *counts;      /* of guint, for each note */
    guint beyond;        /* omitted because there are too many */
};

struct ArtNotes *dt_art_notes_new(void)
{
    struct ArtNotes *a = g_new0(struct ArtNotes, 1);
    a->by_text = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    a->places = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
    a->counts = g_array_new(FALSE, FALSE, sizeof(guint));
    return a;
}

/* Whether the note is new for its element; `place` receives its position. */
static gboolean is_first(struct ArtNotes *a, guint note, guint64 place)
{
    guint64 *key = g_new(guint64, 1);
    *key = place * MAX_NOTES + note;
    return g_hash_table_add(a->places, key);
}

static void add(ArtReader *r, int line, guint64 place, const char *format, va_list args)
{
    struct ArtNotes *a = r->noted;
    if (r->mode == ART_MODE_BOX)
        return;
    char *text = g_strdup_vprintf(_(format), args);
    guint at = GPOINTER_TO_UINT(g_hash_table_lookup(a->by_text, text));
    if (at > 0) {
        if (is_first(a, at - 1, place))
            g_array_index(a->counts, guint, at - 1)++;
        g_free(text);
    } else if (r->notes->len == MAX_NOTES) {
        a->beyond++;
        g_free(text);
    } else {
        guint one = 1;
        DtArtNote note = {line, g_strdup(text)};
        g_array_append_val(r->notes, note);
        g_array_append_val(a->counts, one);
        g_hash_table_insert(a->by_text, text, GUINT_TO_POINTER(r->notes->len));
        is_first(a, r->notes->len - 1, place);
    }
}

void dt_art_note(ArtReader *r, const ArtNode *n, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    add(r, n->line, (guint64)GPOINTER_TO_SIZE(n), format, args);
    va_end(args);
}

void dt_art_note_attr(ArtReader *r, const ArtNode *n, ArtName name)
{
    const char *value = dt_art_attr(n, name);
    dt_art_note(r, n, "%s: %.60s is not understood: ignored", dt_art_name_text(name),
                *value ? value : "''");
}

void dt_art_note_length(ArtReader *r, const ArtNode *n, ArtName name)
{
    ArtLength l;
    const char *value = dt_art_attr(n, name);
    if (value && strcmp(value, "auto") != 0 && !dt_art_length(value, &l))
        dt_art_note_attr(r, n, name);
}

void dt_art_note_line(ArtReader *r, int line, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    add(r, line, (guint64)line, format, args);
    va_end(args);
}

void dt_art_notes_finish(ArtReader *r)
{
    struct ArtNotes *a = r->noted;
    for (guint i = 0; i < r->notes->len; i++) {
        guint n = g_array_index(a->counts, guint, i);
        DtArtNote *note = &g_array_index(r->notes, DtArtNote, i);
        if (n < 2)
            continue;
        char *counted = g_strdup_printf("%u × %s", n, note->text);
        g_free(note->text);
        note->text = counted;
    }
    if (a->beyond > 0) {
        DtArtNote note = {1, g_strdup_printf(_("%u further notes are left out"), a->beyond)};
        g_array_append_val(r->notes, note);
    }
    g_hash_table_unref(a->by_text);
    g_hash_table_unref(a->places);
    g_array_free(a->counts, TRUE);
    g_free(a);
    r->noted = NULL;
}
