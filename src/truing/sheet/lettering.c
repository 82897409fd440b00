/* lettering: what a sheet says in words: numbers, names and arrows. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>
#include <string.h>

void dt_sheet_add_path(DtTestSheet *s, DtSheetKind part, const DtPoint *p, size_t n)
{
    for (size_t i = 0; i + 1 < n; i++) {
        const DtMark m = dt_sheet_mark(DT_MARK_LETTER, part, -1, p[i], p[i + 1]);
        dt_sheet_add(s, &m);
    }
    if (n == 1) {
        const DtMark dot = dt_sheet_mark(DT_MARK_LETTER, part, -1, p[0], p[0]);
        dt_sheet_add(s, &dot);
    }
}

static void add_letters(DtTestSheet *s, DtSheetKind part, DtLines *letters, DtPoint at)
{
    dt_lines_transform(letters, dt_affine_translate(at.x, at.y));
    for (size_t i = 0; i < letters->n; i++)
        dt_sheet_add_path(s, part, dt_lines_at(letters, i), dt_lines_count(letters, i));
}

gboolean dt_sheet_add_text(DtTestSheet *s, DtSheetKind part, const char *text, DtPoint at,
                           double cap_height, double align, GError **error)
{
    g_auto(DtLines) lines = {0};
    double width = 0;
    g_autofree char *ascii = dt_base_comment_text(text);
    if (!dt_art_letters(ascii, cap_height, &lines, &width, error))
        return FALSE;
    add_letters(s, part, &lines, dt_point(at.x - align * width, at.y));
    return TRUE;
}

gboolean dt_sheet_add_text_within(DtTestSheet *s, DtSheetKind part, const char *text, DtPoint at,
                                  double cap_height, double room, GError **error)
{
    g_autofree char *ascii = dt_base_comment_text(text);
    for (;;) {
        g_auto(DtLines) lines = {0};
        const size_t n = strlen(ascii);
        double width = 0;
        if (!dt_art_letters(ascii, cap_height, &lines, &width, error))
            return FALSE;
        if (width <= room || n == 0) {
            add_letters(s, part, &lines, at);
            return TRUE;
        }
        ascii[MIN(n - 1, (size_t)((double)n * MAX(room, 0) / width))] = '\0';
    }
}

void dt_sheet_add_arrow(DtTestSheet *s, DtSheetKind part, DtPoint from, DtPoint to)
{
    const double head_mm = 1, length = dt_point_distance(from, to);
    const DtPoint way = dt_point_scale(dt_point_sub(to, from), head_mm / length);
    const DtPoint foot = dt_point_sub(to, way), across = dt_point(-way.y / 2, way.x / 2);
    const DtPoint one_stroke[] = {
        from, foot, dt_point_add(foot, across), to, dt_point_sub(foot, across), foot};
    dt_sheet_add_path(s, part, one_stroke, G_N_ELEMENTS(one_stroke));
}
