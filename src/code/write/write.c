/* write: moves as RS-274 text in the words of one controller. */
#include "code/write/arcs.h"
#include "code/dialect.h"
#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

typedef struct {
    const DtProfile *profile;
    DtVocabulary words;
    GString *out, *line;
    double arc_tolerance; /* 0: no arcs */
    int longest;          /* bytes that a line of ours may take; 0: any */
    int decimals[2];
    char written[2][40]; /* the coordinate that stands last in the text; "" where none does */
    char feed[40];
    int motion; /* modal G0 or G1; -1 where the text has not said it */
    enum { PEN_UNKNOWN, PEN_UP, PEN_DOWN } pen;
    DtPoint at;
    size_t polyline;        /* of the last stroke comment; G_MAXSIZE for none */
    char lacking[8];   /* first word that was needed and is not in the dialect */
    gboolean too_long; /* a line did not fit */
} Writer;

static void end_line(Writer *w)
{
    if (w->line->len == 0)
        return;
    g_string_append_len(w->out, w->line->str, (gssize)w->line->len);
    g_string_append_c(w->out, '\n');
    g_string_truncate(w->line, 0);
}

/* A line of the profile's own, as it stands there. */
static void put_line(Writer *w, const char *text)
{
    end_line(w);
    if (text && *text) {
        g_string_append(w->line, text);
        end_line(w);
    }
}

static void need(Writer *w, gboolean taken, const char *word)
{
    if (!taken && w->lacking[0] == '\0')
        g_strlcpy(w->lacking, word, sizeof w->lacking);
}

static void put_word(Writer *w, char letter, const char *number)
{
    if (w->words.gap_needed && w->line->len > 0)
        g_string_append_c(w->line, ' ');
    g_string_append_c(w->line, letter);
    g_string_append(w->line, number);
    if (letter != 'G')
        need(w, dt_vocabulary_takes_letter(&w->words, letter), (const char[]){letter, '\0'});
    if (w->longest > 0 && w->line->len > (gsize)w->longest)
        w->too_long = TRUE;
}

/* Text in a comment: no brackets, no controls, ASCII alone, within the longest line. */
static void put_comment(Writer *w, const char *text)
{
    end_line(w);
    gboolean round = w->words.round_comments;
    if (!round && !w->words.semicolon_comments)
        return;
    g_autofree char *ascii = g_str_to_ascii(text, "C");
    for (char *c = ascii; *c; c++)
        *c = *c == '(' ? '[' : *c == ')' ? ']' : *c == ';' ? ',' : *c < ' ' || *c > '~' ? ' ' : *c;
    int room = w->longest > 0 ? w->longest - (round ? 2 : 1) : G_MAXINT;
    if (room < 1)
        return;
    g_string_append_printf(w->line, round ? "(%.*s)" : ";%.*s", room, ascii);
    end_line(w);
}

static void put_g(Writer *w, int code)
{
    char word[8];
    g_snprintf(word, sizeof word, "G%d", code);
    need(w, dt_vocabulary_takes_g(&w->words, code * 10), word);
    put_word(w, 'G', word + 1);
}

/* Says units and distances, where this controller knows a choice of them. */
static void put_modes(Writer *w)
{
    if (dt_vocabulary_takes_g(&w->words, 200) || dt_vocabulary_takes_g(&w->words, 210))
        put_g(w, 21);
    if (dt_vocabulary_takes_g(&w->words, 900) || dt_vocabulary_takes_g(&w->words, 910))
        put_g(w, 90);
    end_line(w);
}

static void put_dwell(Writer *w, double seconds)
{
    end_line(w);
    if (!(seconds > 0) || !dt_vocabulary_takes_g(&w->words, 40))
        return; /* a controller without a dwell waits for its servo itself */
    char number[40];
    dt_number_write(ceil(seconds / w->words.dwell_unit_s * 1000 - 1e-6) / 1000, 3, number);
    put_g(w, 4);
    put_word(w, 'P', number);
    end_line(w);
}

static void lift(Writer *w)
{
    if (w->pen == PEN_UP)
        return;
    put_line(w, w->profile->dialect.pen_up);
    put_dwell(w, w->profile->lift_s);
    w->pen = PEN_UP;
}

static void drop(Writer *w)
{
    if (w->pen == PEN_DOWN)
        return;
    put_line(w, w->profile->dialect.pen_down);
    put_dwell(w, w->profile->drop_s);
    w->pen = PEN_DOWN;
}

static void forget_modal(Writer *w)
{
    w->written[0][0] = w->written[1][0] = w->feed[0] = '\0';
    w->motion = -1;
}

static void say_stroke(Writer *w, const DtMove *m)
{
    const DtRack *rack = &w->profile->rack;
    const char *pen = m->pen < rack->n ? rack->pens[m->pen].name : NULL;
    g_autofree char *text =
        g_strdup_printf("stroke %" G_GSIZE_FORMAT " pen %s", m->polyline + 1, pen ? pen : "?");
    put_comment(w, text);
    w->polyline = m->polyline;
    forget_modal(w); /* so that a resume may begin here */
}

/* A feed in mm/min, never above the one asked for. */
static void feed_text(double feed_mm_s, char *out)
{
    double per_minute = feed_mm_s * 60;
    if (per_minute >= 100)
        dt_number_write(floor(per_minute + 1e-6), 0, out);
    else
        dt_number_write(MAX(floor(per_minute * 1000 + 1e-6) / 1000, 0.001), 3, out);
}

/* A feed that was said already will do where it is at most 2 % slower than asked. */
static gboolean is_near_enough(const char *said, double feed_mm_s)
{
    double per_minute = feed_mm_s * 60, have = g_ascii_strtod(said, NULL);
    return have <= per_minute * (1 + 1e-9) && have >= per_minute * 0.98;
}

static void go(Writer *w, int motion, DtPoint to, double feed_mm_s)
{
    char text[2][40], feed[40] = "";
    dt_number_write(to.x, w->decimals[0], text[0]);
    dt_number_write(to.y, w->decimals[1], text[1]);
    w->at = to;
    gboolean changed[2] = {strcmp(text[0], w->written[0]) != 0,
                           strcmp(text[1], w->written[1]) != 0};
    if (!changed[0] && !changed[1])
        return; /* shorter than what the controller tells apart */
    if (motion == 1) {
        feed_text(feed_mm_s, feed);
        if (is_near_enough(w->feed, feed_mm_s))
            strcpy(feed, w->feed);
        if (strcmp(feed, w->feed) != 0) {
            int whole = (int)(strlen(text[0]) + strlen(text[1]) + strlen(feed)) + 8;
            if (w->longest > 0 && whole > w->longest) {
                put_word(w, 'F', feed);
                end_line(w);
                strcpy(w->feed, feed);
            }
        }
    }
    if (w->motion != motion)
        put_g(w, motion);
    if (changed[0])
        put_word(w, 'X', text[0]);
    if (changed[1])
        put_word(w, 'Y', text[1]);
    if (motion == 1 && strcmp(feed, w->feed) != 0)
        put_word(w, 'F', feed);
    end_line(w);
    w->motion = motion;
    strcpy(w->written[0], text[0]);
    strcpy(w->written[1], text[1]);
    if (motion == 1)
        strcpy(w->feed, feed);
}

/* Arcs ---------------------------------------------------------------------------------------- */

static double round_to(double value, int decimals)
{
    double unit = pow(10, decimals);
    return round(value * unit) / unit;
}

/* The rounded point that the text stands for. */
static DtPoint as_written(const Writer *w, DtPoint p)
{
    return dt_point(round_to(p.x, w->decimals[0]), round_to(p.y, w->decimals[1]));
}

/* The centre moved onto the line of points as far from both ends, so that the ends as written meet
 * one radius. */
static DtPoint even_centre(DtPoint from, DtPoint to, DtPoint centre)
{
    DtPoint chord = dt_point_sub(to, from), middle = dt_point_lerp(from, to, 0.5);
    double along = dt_point_dot(dt_point_sub(centre, middle), chord) / dt_point_dot(chord, chord);
    return dt_point_sub(centre, dt_point_scale(chord, along));
}

static void put_arc(Writer *w, DtPoint to, const DtArcFit *fit, double feed_mm_s)
{
    char number[40], feed[40];
    DtPoint from = as_written(w, w->at), end = as_written(w, to);
    DtPoint centre = even_centre(from, end, fit->centre);
    int motion = fit->sweep < 0 ? 2 : 3, fine = MAX(w->decimals[0], w->decimals[1]) + 1;
    feed_text(feed_mm_s, feed);
    if (is_near_enough(w->feed, feed_mm_s))
        strcpy(feed, w->feed);
    if (strcmp(feed, w->feed) != 0) { /* on a line of its own: arcs are long as they are */
        put_word(w, 'F', feed);
        end_line(w);
        strcpy(w->feed, feed);
    }
    if (w->motion != motion)
        put_g(w, motion);
    w->motion = motion;
    dt_number_write(to.x, w->decimals[0], w->written[0]);
    put_word(w, 'X', w->written[0]);
    dt_number_write(to.y, w->decimals[1], w->written[1]);
    put_word(w, 'Y', w->written[1]);
    dt_number_write(centre.x - from.x, fine, number);
    put_word(w, 'I', number);
    dt_number_write(centre.y - from.y, fine, number);
    put_word(w, 'J', number);
    end_line(w);
    w->at = to;
}

/* Whether the arc keeps within the travel even where it bulges. */
static gboolean bulges_within(const Writer *w, const DtPoint *p, size_t n)
{
    DtBox bed = {0, 0, w->profile->travel[0], w->profile->travel[1]};
    bed = dt_box_grow(bed, -w->arc_tolerance);
    for (size_t i = 0; i < n; i++)
        if (!dt_box_contains(bed, p[i]))
            return FALSE;
    return TRUE;
}

/* Writes moves from m[0] on as an arc, where one fits; returns how many it stands for. */
static size_t try_arc(Writer *w, const DtMove *m, size_t n)
{
    DtPoint p[MOST_ARC_POINTS];
    size_t k = 0;
    double feed = G_MAXDOUBLE;
    if (w->pen != PEN_DOWN || w->arc_tolerance <= 0)
        return 0;
    p[k++] = w->at;
    while (k < MOST_ARC_POINTS && k <= n && m[k - 1].kind == DT_MOVE_DRAW &&
           m[k - 1].polyline == m[0].polyline) {
        p[k] = m[k - 1].to;
        k++;
    }
    DtArcFit fit;
    size_t good = k >= LEAST_ARC_POINTS ? dt_arc_fit(p, k, w->arc_tolerance, &fit) : 0;
    if (good == 0 || !bulges_within(w, p, good))
        return 0;
    for (size_t i = 0; i + 1 < good; i++)
        feed = MIN(feed, m[i].feed_mm_s);
    put_arc(w, p[good - 1], &fit, feed);
    return good - 1;
}

static void change_pen(Writer *w, const DtMove *m)
{
    const DtRack *rack = &w->profile->rack;
    lift(w);
    g_autofree char *text =
        g_strdup_printf("pen %s", m->pen < rack->n ? rack->pens[m->pen].name : "?");
    put_comment(w, text);
    put_line(w, "M0");
    forget_modal(w);
}

static void finish(Writer *w)
{
    lift(w);
    DtPoint park = w->profile->park;
    gboolean at_rest = (w->at.x == 0 && w->at.y == 0) || (w->at.x == park.x && w->at.y == park.y);
    if (!at_rest)
        go(w, 0, dt_point(0, 0), 0);
    put_line(w, w->profile->dialect.program_end);
}

static void put_move(Writer *w, const DtMove *m)
{
    gboolean in_stroke = m->kind == DT_MOVE_TRAVEL || m->kind == DT_MOVE_DRAW ||
                         m->kind == DT_MOVE_SLACK || m->kind == DT_MOVE_PEN_DOWN;
    if (in_stroke && w->polyline != m->polyline && m->polyline != G_MAXSIZE)
        say_stroke(w, m);
    switch (m->kind) {
    case DT_MOVE_HOME:
        lift(w);
        put_line(w, w->profile->dialect.home);
        forget_modal(w);
        w->at = dt_point(0, 0);
        break;
    case DT_MOVE_TRAVEL:
        go(w, 0, m->to, 0);
        break;
    case DT_MOVE_DRAW:
    case DT_MOVE_SLACK:
        go(w, w->pen == PEN_DOWN ? 1 : 0, m->to, m->feed_mm_s);
        break;
    case DT_MOVE_PEN_UP:
        lift(w);
        break;
    case DT_MOVE_PEN_DOWN:
        drop(w);
        break;
    case DT_MOVE_PEN_CHANGE:
        change_pen(w, m);
        break;
    case DT_MOVE_END:
        finish(w);
        break;
    }
}

static void say_head(Writer *w)
{
    const DtProfile *p = w->profile;
    g_autofree char *file = p->path ? g_path_get_basename(p->path) : g_strdup("built in");
    g_autofree char *text = g_strdup_printf("drawtrue " DT_VERSION " for %s, profile %s",
                                            p->name ? p->name : "a plotter", file);
    put_comment(w, text);
    put_modes(w);
}

static gboolean may_write(const DtProfile *p, const DtMoves *m, GError **error)
{
    const DtDialect *d = &p->dialect;
    const char *name = p->path ? p->path : "profile";
    const char *lacks = NULL;
    for (size_t i = 0; i < m->n && lacks == NULL; i++)
        if (m->m[i].kind == DT_MOVE_HOME && !(d->home && *d->home))
            lacks = "line that homes it";
        else if (m->m[i].kind == DT_MOVE_PEN_DOWN && !(d->pen_down && *d->pen_down))
            lacks = "line that drops the pen";
        else if (m->m[i].kind == DT_MOVE_PEN_UP && !(d->pen_up && *d->pen_up))
            lacks = "line that lifts the pen";
    if (lacks)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: the controller has no %s, which this "
                    "job needs",
                    name, lacks);
    return lacks == NULL;
}

static gboolean fits(const Writer *w, const char *text, const char *what, const char *name,
                     GError **error)
{
    if (w->longest == 0 || text == NULL || strlen(text) <= (size_t)w->longest)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: %s is %zu bytes long, and a line may have %d on this controller", name, what,
                strlen(text), w->longest);
    return FALSE;
}

enum { SHORTEST_USABLE_LINE = 24 }; /* "G1 Y-123.456" */

static gboolean lines_fit(const Writer *w, const char *name, GError **error)
{
    const DtDialect *d = &w->profile->dialect;
    if (w->longest > 0 && w->longest < SHORTEST_USABLE_LINE) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: lines of %d bytes are too short for a move; at least %d are needed", name,
                    d->longest_line, SHORTEST_USABLE_LINE + d->longest_line - w->longest);
        return FALSE;
    }
    return fits(w, d->home, "the line that homes", name, error) &&
           fits(w, d->pen_down, "the line that drops the pen", name, error) &&
           fits(w, d->pen_up, "the line that lifts the pen", name, error) &&
           fits(w, d->program_end, "the program's last line", name, error);
}

/* Arcs as far as the dialect has them. */
static double arc_tolerance(const Writer *w, const DtWriteOptions *o)
{
    const DtVocabulary *v = &w->words;
    gboolean arcs = o && dt_vocabulary_takes_g(v, 20) && dt_vocabulary_takes_g(v, 30) &&
                    dt_vocabulary_takes_letter(v, 'I') && dt_vocabulary_takes_letter(v, 'J');
    return arcs ? o->arc_tolerance : 0;
}

char *dt_code_write(const DtProfile *p, const DtMoves *m, gsize *len, GError **error)
{
    return dt_code_write_as(p, m, NULL, len, error);
}

char *dt_code_write_as(const DtProfile *p, const DtMoves *m, const DtWriteOptions *o, gsize *len,
                       GError **error)
{
    const char *name = p->path ? p->path : "profile";
    Writer w = {.profile = p, .motion = -1, .polyline = G_MAXSIZE};
    if (!dt_vocabulary_compile(&p->dialect, name, &w.words, error) || !may_write(p, m, error))
        return NULL;
    w.longest = w.words.longest_line - w.words.overhead;
    if (!lines_fit(&w, name, error))
        return NULL;
    for (int axis = 0; axis < 2; axis++)
        w.decimals[axis] = dt_number_decimals(p->steps_per_mm[axis], p->dialect.decimals);
    w.out = g_string_sized_new(m->n * 16 + 256);
    w.line = g_string_sized_new(128);
    say_head(&w);
    w.arc_tolerance = arc_tolerance(&w, o);
    for (size_t i = 0; i < m->n && !dt_work_stopped();) {
        dt_work_report((double)i / (double)m->n);
        size_t as_arc = m->m[i].kind == DT_MOVE_DRAW ? try_arc(&w, &m->m[i], m->n - i) : 0;
        if (as_arc == 0)
            put_move(&w, &m->m[i]);
        i += MAX(as_arc, 1);
    }
    end_line(&w);
    g_string_free(w.line, TRUE);
    const gboolean stopped = !dt_work_check(error);
    if (stopped || w.lacking[0] || w.too_long) {
        g_string_free(w.out, TRUE);
        if (stopped)
            return NULL;
        if (w.lacking[0])
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "%s: the controller's words lack %s, which this job needs", name,
                        w.lacking);
        else
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "%s: a move does not fit into the %d bytes that a line may have", name,
                        p->dialect.longest_line);
        return NULL;
    }
    if (len)
        *len = w.out->len;
    return g_string_free(w.out, FALSE);
}
