/* program: runs the reader and the judge over a file, a line at a time. */
#include "code/program/program.h"

#include <errno.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

gboolean dt_program_fail(const DtProgram *g, GError **error, size_t line, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *text = g_strdup_vprintf(_(format), list);
    va_end(list);
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s:%zu: %s", g->path, line, text);
    return FALSE;
}

static gboolean fail_io(const DtProgram *g, GError **error)
{
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", g->path, g_strerror(errno));
    return FALSE;
}

/* State --------------------------------------------------------------------------------------- */

static void take_place(DtProgramState *s, const DtJudge *j, DtPoint to)
{
    if (to.x != s->at.x)
        s->side[0] = to.x > s->at.x ? 1 : -1;
    if (to.y != s->at.y)
        s->side[1] = to.y > s->at.y ? 1 : -1;
    s->at = to;
    s->carriage = j->carriage.at;
    s->lean[0] = j->carriage.lean[0];
    s->lean[1] = j->carriage.lean[1];
    s->tip = j->ink_at;
}

/* As fast as the feed and the axes allow. */
static double least_s(const DtProfile *p, DtPoint d, double feed_mm_s)
{
    const double at_feed = hypot(d.x, d.y) / feed_mm_s;
    return MAX(at_feed, MAX(fabs(d.x) / p->speed[0], fabs(d.y) / p->speed[1]));
}

static void on_move(const DtMove *m, size_t line, void *user)
{
    (void)line;
    DtProgram *g = user;
    DtProgramState *s = &g->state;
    const DtPoint from = s->at;
    switch (m->kind) {
    case DT_MOVE_PEN_DOWN:
        s->pen_down = TRUE;
        s->begun++;
        break;
    case DT_MOVE_PEN_UP:
        s->drawn += s->pen_down ? 1 : 0;
        s->pen_down = FALSE;
        break;
    case DT_MOVE_HOME:
        take_place(s, &g->judge, m->to);
        s->side[0] = s->side[1] = 1;
        s->homed = g->homes = TRUE;
        break;
    case DT_MOVE_TRAVEL:
    case DT_MOVE_DRAW:
    case DT_MOVE_SLACK:
        take_place(s, &g->judge, m->to);
        g->work_s += least_s(g->profile, dt_point_sub(m->to, from), m->feed_mm_s);
        g->moves = TRUE;
        s->ink_mm = g->found.ink_mm;
        if (g->watch != NULL)
            g->watch(s, g->watch_user);
        break;
    case DT_MOVE_PEN_CHANGE:
    case DT_MOVE_TURN_PAPER:
    case DT_MOVE_END:
        break;
    }
}

/* An S word stays in force for later pen words. If the pen is lifted by a speed, every pen word
 * states one. */
static double pen_speed(const DtJudge *j)
{
    const DtPenRule *rule = &j->rule;
    const gboolean modal =
        rule->kind == LIFT_BY_SPINDLE && rule->up_turn == 0 && j->reader->speed_said;
    return modal ? j->reader->spindle_speed : -1;
}

/* The state of the reader and the judge after a line. */
static void follow(DtProgram *g)
{
    const DtJudge *j = &g->judge;
    const DtReader *r = j->reader;
    DtProgramState *s = &g->state;
    s->motion = r->said & (1u << G_MOTION) ? r->modal[G_MOTION] / 10 : -1;
    s->unit = r->unit;
    s->feed = r->feed_word > 0 ? r->feed_word * r->feed_unit / r->unit : 0;
    s->speed = pen_speed(j);
    s->relative = r->modal[G_DISTANCE] == 910;
    s->offset = dt_point(r->offset[0], r->offset[1]);
    s->tip = j->ink_at;
    s->ink_mm = g->found.ink_mm;
    s->travel_mm = g->found.travel_mm;
    s->seconds = MAX(s->seconds, dt_pace_so_far(&j->pace));
    s->pen_index = j->pen_number;
    if (dt_block_turns_paper(&r->block))
        s->turns_paper = TRUE;
    else if (dt_pen_comment(&r->block, s->pen))
        s->turns_paper = FALSE;
}

/* What the sender cannot restate before drawing starts in the middle. */
static const char *lost_in_the_middle(const DtProgram *g)
{
    const DtReader *r = g->judge.reader;
    if (g->sets_parameters)
        return _("parameters");
    if (r->modal[G_SYSTEM] != 540 || r->offset[0] != 0 || r->offset[1] != 0 || r->offset[2] != 0)
        return _("an origin of its own");
    if (r->modal[G_PLANE] != 170)
        return _("another plane for arcs");
    return r->modal[G_FEED_MODE] == 930 ? _("inverse time feed") : NULL;
}

/* Life ---------------------------------------------------------------------------------------- */

static gboolean start(DtProgram *g, GError **error)
{
    const DtJudgeOptions o = {.listener = on_move, .user = g};
    if (!dt_judge_begin(&g->judge, g->profile, &o, &g->found, error))
        return FALSE;
    g->state = (DtProgramState){
        .motion = -1, .unit = 1, .speed = -1, .side = {1, 1}, .tip = g->judge.ink_at};
    g->has_stop = g->sets_parameters = FALSE;
    g->judge.tries_limits = g->tries_limits;
    return TRUE;
}

static void stop(DtProgram *g)
{
    dt_judge_clear(&g->judge);
    dt_inspection_clear(&g->found);
}

DtProgram *dt_program_open(const DtProfile *p, const char *path, GError **error)
{
    DtLineSource lines;
    if (!dt_source_open(&lines, path, error))
        return NULL;
    DtProgram *g = g_new0(DtProgram, 1);
    g->profile = p;
    g->path = g_strdup(path);
    g->lines = lines;
    if (start(g, error))
        return g;
    dt_source_close(&g->lines);
    g_free(g->path);
    g_free(g);
    return NULL;
}

void dt_program_close(DtProgram *g)
{
    if (g == NULL)
        return;
    stop(g);
    dt_source_close(&g->lines);
    g_free(g->path);
    g_free(g);
}

gboolean dt_program_rewind(DtProgram *g, GError **error)
{
    stop(g);
    dt_source_rewind(&g->lines);
    return start(g, error);
}

void dt_program_let_try_limits(DtProgram *g)
{
    g->tries_limits = TRUE;
    g->judge.tries_limits = TRUE;
}

const DtProgramState *dt_program_state(const DtProgram *g)
{
    return &g->state;
}

gboolean dt_program_knows(const DtProgram *g, const char *word)
{
    const DtVocabulary *v = &g->judge.words;
    if (word[1] == '\0')
        return dt_vocabulary_takes_letter(v, *word);
    const double number = g_ascii_strtod(word + 1, NULL);
    return *word == 'G' ? dt_vocabulary_takes_g(v, (int)lround(number * 10))
                        : dt_vocabulary_takes_m(v, (int)lround(number));
}

void dt_program_watch(DtProgram *g, DtProgramWatch watch, void *user)
{
    g->watch = watch;
    g->watch_user = user;
}

const char *dt_program_made_for(const DtProgram *g)
{
    return *g->made_for != '\0' ? g->made_for : g->found.made_for;
}

/* The file ------------------------------------------------------------------------------------ */

static gboolean hash_file(const DtProgram *g, char sha256[65], GError **error)
{
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    guchar buffer[16384];
    ssize_t n;
    for (off_t at = 0; (n = pread(g->lines.fd, buffer, sizeof buffer, at)) > 0; at += n)
        g_checksum_update(sum, buffer, n);
    g_strlcpy(sha256, g_checksum_get_string(sum), 65);
    return n == 0 || fail_io(g, error);
}

gboolean dt_program_remember_file(DtProgram *g, GError **error)
{
    return (fstat(g->lines.fd, &g->seen) == 0 || fail_io(g, error)) &&
           hash_file(g, g->sha256, error);
}

/* A checked program must not change: a run reads it for hours. A file of which only the time has
 * changed is the same. */
static gboolean is_as_checked(DtProgram *g, GError **error)
{
    struct stat now;
    char sha256[65];
    if (*g->sha256 == '\0')
        return TRUE;
    if (fstat(g->lines.fd, &now) != 0)
        return fail_io(g, error);
    if (now.st_size == g->seen.st_size && now.st_mtim.tv_sec == g->seen.st_mtim.tv_sec &&
        now.st_mtim.tv_nsec == g->seen.st_mtim.tv_nsec)
        return TRUE;
    if (!hash_file(g, sha256, error))
        return FALSE;
    if (strcmp(sha256, g->sha256) == 0) {
        g->seen = now;
        return TRUE;
    }
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: the file was changed while it was being drawn", g->path);
    return FALSE;
}

static gboolean next_text(DtProgram *g, const char **text, size_t *len, GError **error)
{
    const gboolean more = dt_source_next(&g->lines, text, len);
    if (!more && g->lines.failure != 0) {
        errno = g->lines.failure;
        return fail_io(g, error);
    }
    return is_as_checked(g, error) && more;
}

/* Lines --------------------------------------------------------------------------------------- */

static gboolean has_motion_code(const DtCodeBlock *b)
{
    return (b->g_groups & (1u << G_MOTION)) != 0;
}

static DtLineKind kind_of(const DtProgram *g, const DtCodeBlock *b, size_t begun, gsize len)
{
    if (len == 0)
        return DT_LINE_BLANK;
    if (g->state.begun > begun)
        return DT_LINE_PEN_DOWN;
    if (g->judge.pen_commanded)
        return g->state.pen_down ? DT_LINE_PEN_DOWN : DT_LINE_PEN_UP;
    if (g->homes)
        return DT_LINE_HOME;
    if ((b->g_groups & 1u) && b->g[G_NON_MODAL] == 40)
        return DT_LINE_DWELL;
    return g->moves ? DT_LINE_MOVE : DT_LINE_OTHER;
}

/* M0, M1 or M60; the index of its word, -1 if there is none. */
static int stop_word(const DtCodeBlock *b)
{
    const int code = b->m_groups & (1u << M_STOP) ? b->m[M_STOP] : -1;
    return code == 0 || code == 1 || code == 60 ? b->m_word[M_STOP] : -1;
}

static gboolean read_line(DtProgram *g, const char *text, size_t len, DtProgramLine *line,
                          GError **error)
{
    const DtCodeBlock *b = &g->judge.reader->block;
    const size_t begun = g->state.begun;
    const double dwell_s = g->found.dwell_s;
    g->work_s = 0;
    g->homes = g->moves = FALSE;
    *line = (DtProgramLine){.number = g->judge.reader->line + 1, .from = g->state.at};
    if (text != NULL)
        dt_reader_line(g->judge.reader, text, len);
    else
        dt_reader_skip_line(g->judge.reader, len);
    follow(g);
    g->sets_parameters |= b->n_settings > 0;
    g->refused = g->judge.refused;
    if (g->refused)
        return dt_program_fail(g, error, line->number, "%s",
                               dt_finding_list_last(&g->judge.findings));
    const int stop = b->deleted || b->percent ? -1 : stop_word(b);
    line->len = dt_program_write_wire(g, b, stop, line->text, sizeof line->text);
    line->kind = kind_of(g, b, begun, line->len);
    line->names_motion = has_motion_code(b);
    line->names_feed = (b->has & LETTER('F')) != 0;
    line->dwell_s = g->found.dwell_s - dwell_s;
    line->work_s = g->work_s + line->dwell_s;
    if (stop < 0)
        return TRUE;
    DtProgramLine waits = {
        .number = line->number, .kind = DT_LINE_STOP, .text = "M0", .len = 2, .from = g->state.at};
    g->has_stop = line->len > 0;
    *(g->has_stop ? &g->stop : line) = waits;
    return TRUE;
}

gboolean dt_program_next(DtProgram *g, DtProgramLine *line, GError **error)
{
    const char *text;
    size_t len;
    g->refused = FALSE;
    if (g->has_stop) {
        *line = g->stop;
        g->has_stop = FALSE;
        return TRUE;
    }
    return next_text(g, &text, &len, error) && read_line(g, text, len, line, error);
}

/* Whether the next line is only a dwell. */
static gboolean dwells_next(DtProgram *g, GError **error)
{
    const char *text;
    size_t len;
    DtCodeBlock b;
    if (g->has_stop || !next_text(g, &text, &len, error) || text == NULL)
        return FALSE;
    dt_block_read(&b, text, len, &g->judge.reader->parameters, &g->judge.words, NULL, NULL);
    dt_source_unread(&g->lines, text);
    return !b.deleted && (b.g_groups & 1u) && b.g[G_NON_MODAL] == 40 && b.m_groups == 0 &&
           !b.own_code && !(b.has & AXIS_LETTERS);
}

gboolean dt_program_seek(DtProgram *g, size_t drawn, GError **error)
{
    DtProgramLine line;
    g_autoptr(GError) problem = NULL;
    if (!dt_program_rewind(g, error) || drawn == 0)
        return drawn == 0;
    while (g->state.drawn < drawn && dt_program_next(g, &line, &problem))
        ;
    while (problem == NULL && g->state.drawn >= drawn && dwells_next(g, &problem) &&
           dt_program_next(g, &line, &problem))
        ;
    const char *lost = lost_in_the_middle(g);
    if (problem != NULL)
        g_propagate_error(error, g_steal_pointer(&problem));
    else if (g->state.drawn < drawn)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: the program has only %zu strokes",
                    g->path, g->state.drawn);
    else if (lost != NULL)
        dt_program_fail(g, error, g->judge.reader->line,
                        "drawing cannot begin after stroke %zu: the lines before it set %s, which "
                        "the controller may have lost; 'drawtrue mend' writes a program without",
                        drawn, lost);
    else
        return TRUE;
    return FALSE;
}
