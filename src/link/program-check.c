/* program-check: proves a whole program before anything moves. */
#include "link/program-inside.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

static gboolean knows_word(const DtProgram *g, Word w)
{
    if (w.letter == 'M' && w.value >= 0 && w.value <= 1)
        return TRUE; /* the sender itself waits at these */
    char name[G_ASCII_DTOSTR_BUF_SIZE + 1] = {w.letter, '\0'};
    if (w.letter == 'G' || w.letter == 'M')
        g_ascii_formatd(name + 1, sizeof name - 1, "%g", w.value);
    return g_hash_table_contains(g->words, name);
}

static gboolean check_words(const DtProgram *g, const Words *w, GError **error)
{
    if (g_hash_table_size(g->words) == 0)
        return TRUE; /* the profile does not say */
    for (size_t i = 0; i < w->n; i++)
        if (!knows_word(g, w->word[i])) {
            char value[G_ASCII_DTOSTR_BUF_SIZE];
            return dt_program_fail(
                g, error,
                "the controller of this profile does not take '%c%s'; 'drawtrue mend' "
                "makes such a file fit",
                w->word[i].letter, g_ascii_formatd(value, sizeof value, "%g", w->word[i].value));
        }
    return TRUE;
}

static gboolean check_axis(const DtProgram *g, int axis, double at, GError **error)
{
    const double travel = g->profile->travel[axis];
    if (at >= -1e-6 && at <= travel + 1e-6)
        return TRUE;
    return dt_program_fail(g, error, "%c %.3f mm is outside of the machine's travel, 0 to %g mm",
                           'X' + axis, at, travel);
}

static gboolean check_travel(const DtProgram *g, GError **error)
{
    const DtBox *b = &g->reach;
    return dt_box_is_empty(*b) ||
           (check_axis(g, 0, b->x0, error) && check_axis(g, 0, b->x1, error) &&
            check_axis(g, 1, b->y0, error) && check_axis(g, 1, b->y1, error));
}

static gboolean check_line(const DtProgram *g, const DtProgramLine *line, const Words *w,
                           gsize extra, GError **error)
{
    const DtDialect *d = &g->profile->dialect;
    if (d->longest_line > 0 && line->len + extra > (gsize)d->longest_line)
        return dt_program_fail(g, error, "the line is %zu bytes long; this controller takes %d",
                               line->len + extra, d->longest_line);
    if (d->window > 0 && line->len + extra + 2 > (gsize)d->window)
        return dt_program_fail(
            g, error, "the line does not fit the controller's window of %d bytes", d->window);
    return check_words(g, w, error) && check_travel(g, error);
}

static void count_line(DtProgramTotals *out, const DtProgramLine *line, const DtTrack *track)
{
    if (line->kind == DT_LINE_STOP)
        out->changes++;
    if (line->kind == DT_LINE_HOME && track->ink_mm + track->travel_mm <= 0)
        out->homes = TRUE;
}

gboolean dt_program_hash(DtProgram *g, char sha256[65], GError **error)
{
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    guchar buffer[16384];
    ssize_t n;
    for (off_t at = 0; (n = pread(fileno(g->file), buffer, sizeof buffer, at)) > 0; at += n)
        g_checksum_update(sum, buffer, n);
    g_strlcpy(sha256, g_checksum_get_string(sum), 65);
    if (n == 0)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", g->path, g_strerror(errno));
    return FALSE;
}

/* From here on the file is held to be as it is now. */
static gboolean remember_file(DtProgram *g, GError **error)
{
    if (fstat(fileno(g->file), &g->seen) == 0)
        return dt_program_hash(g, g->sha256, error);
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", g->path, g_strerror(errno));
    return FALSE;
}

gboolean dt_program_check(DtProgram *g, DtProgramTotals *out, GError **error)
{
    *out = (DtProgramTotals){0};
    if (!remember_file(g, error))
        return FALSE;
    g_strlcpy(out->sha256, g->sha256, sizeof out->sha256);
    dt_program_rewind(g);
    const gsize extra = g->profile->dialect.line_check ? strlen("N99999") + strlen("(*FFFF)") : 0;
    DtProgramLine line;
    Words words;
    g_autoptr(GError) problem = NULL;
    while (dt_program_read_line(g, &line, &words, &problem)) {
        if (!check_line(g, &line, &words, extra, &problem))
            break;
        count_line(out, &line, &g->track);
    }
    if (problem != NULL) {
        g_propagate_error(error, g_steal_pointer(&problem));
        return FALSE;
    }
    dt_program_end_stretch(g);
    out->lines = g->number;
    out->strokes = g->track.begun;
    out->seconds = g->track.seconds;
    out->ink_mm = g->track.ink_mm;
    out->travel_mm = g->track.travel_mm;
    if (out->strokes == 0 && out->travel_mm <= 0)
        return dt_program_fail(g, error, "the program draws nothing");
    if (g->track.pen_down)
        return dt_program_fail(g, error, "the program ends with the pen down");
    dt_program_rewind(g);
    return TRUE;
}
