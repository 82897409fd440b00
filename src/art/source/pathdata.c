/* pathdata: path data by the grammar of SVG 1.1 8.3. Everything before an error is drawn, as F.2
 * of its implementation notes requires. */
#include "art/private.h"

typedef struct {
    const char *p;
    DtPath *out;
    DtPoint at, start;   /* current point; start of the subpath */
    DtPoint control;     /* last control point, for S and T */
    char last;           /* command of that control point */
    gboolean move_owed;  /* a subpath begins at `start` with the next drawing command */
    gboolean whole_arcs; /* one cubic per arc */
} Reader;

static inline char upper(char c)
{
    return (char)(c & ~0x20);
}

static inline gboolean point(Reader *r, gboolean relative, DtPoint *to)
{
    double x, y;
    const char *p = art_skip_comma(r->p);
    gboolean both = art_number(&p, &x);
    if (both) {
        p = art_skip_comma(p);
        both = art_number(&p, &y);
    }
    r->p = p;
    if (!both)
        return FALSE;
    *to = relative ? (DtPoint){r->at.x + x, r->at.y + y} : (DtPoint){x, y};
    return TRUE;
}

static gboolean coordinate(Reader *r, double *v)
{
    r->p = art_skip_comma(r->p);
    return art_number(&r->p, v);
}

/* A flag is one digit and needs nothing after it. */
static gboolean flag(Reader *r, gboolean *v)
{
    r->p = art_skip_comma(r->p);
    if (*r->p != '0' && *r->p != '1')
        return FALSE;
    *v = *r->p++ == '1';
    return TRUE;
}

static void owe_move(Reader *r, DtPoint to)
{
    r->at = r->start = to;
    r->move_owed = TRUE;
}

static void pay_move(Reader *r)
{
    if (r->move_owed)
        dt_path_move(r->out, r->start);
    r->move_owed = FALSE;
}

static void line_to(Reader *r, DtPoint to)
{
    pay_move(r);
    dt_path_line(r->out, to);
    r->at = to;
}

/* Merges the cubics from the given verb and point on into one. */
static void join_pieces(DtPath *p, gsize verb, gsize point)
{
    p->pts[point + 1] = p->pts[p->n_pts - 2];
    p->pts[point + 2] = p->pts[p->n_pts - 1];
    p->n_pts = point + 3;
    p->n_verb = verb + 1;
}

static gboolean arc(Reader *r, gboolean relative)
{
    double rx, ry, degrees;
    gboolean large, sweep;
    DtPoint to;
    if (!coordinate(r, &rx) || !coordinate(r, &ry) || !coordinate(r, &degrees) ||
        !flag(r, &large) || !flag(r, &sweep) || !point(r, relative, &to))
        return FALSE;
    pay_move(r);
    gsize verbs = r->out->n_verb, points = r->out->n_pts;
    dt_path_arc(r->out, rx, ry, degrees * G_PI / 180, large, sweep, to);
    if (r->whole_arcs && r->out->n_verb > verbs + 1)
        join_pieces(r->out, verbs, points);
    r->at = to;
    return TRUE;
}

static gboolean cubic(Reader *r, gboolean relative, gboolean smooth)
{
    DtPoint c1 = r->at, c2, to;
    if (smooth && (r->last == 'C' || r->last == 'S'))
        c1 = (DtPoint){2 * r->at.x - r->control.x, 2 * r->at.y - r->control.y};
    if (!smooth && !point(r, relative, &c1))
        return FALSE;
    if (!point(r, relative, &c2) || !point(r, relative, &to))
        return FALSE;
    pay_move(r);
    dt_path_cubic(r->out, c1, c2, to);
    r->control = c2;
    r->at = to;
    return TRUE;
}

static gboolean quadratic(Reader *r, gboolean relative, gboolean smooth)
{
    DtPoint c = r->at, to;
    if (smooth && (r->last == 'Q' || r->last == 'T'))
        c = (DtPoint){2 * r->at.x - r->control.x, 2 * r->at.y - r->control.y};
    if (!smooth && !point(r, relative, &c))
        return FALSE;
    if (!point(r, relative, &to))
        return FALSE;
    pay_move(r);
    dt_path_quad(r->out, c, to);
    r->control = c;
    r->at = to;
    return TRUE;
}

/* One set of arguments of the command. */
static gboolean segment(Reader *r, char command)
{
    gboolean relative = (command & 0x20) != 0;
    DtPoint to;
    double v;
    switch (upper(command)) {
    case 'L':
        if (!point(r, relative, &to))
            return FALSE;
        line_to(r, to);
        return TRUE;
    case 'H':
        if (!coordinate(r, &v))
            return FALSE;
        line_to(r, (DtPoint){relative ? r->at.x + v : v, r->at.y});
        return TRUE;
    case 'V':
        if (!coordinate(r, &v))
            return FALSE;
        line_to(r, (DtPoint){r->at.x, relative ? r->at.y + v : v});
        return TRUE;
    case 'C':
        return cubic(r, relative, FALSE);
    case 'S':
        return cubic(r, relative, TRUE);
    case 'Q':
        return quadratic(r, relative, FALSE);
    case 'T':
        return quadratic(r, relative, TRUE);
    case 'A':
        return arc(r, relative);
    default:
        return FALSE;
    }
}

static gboolean more_arguments(const Reader *r)
{
    const char *p = art_skip_comma(r->p);
    return *p != '\0' && (guchar)((*p | 0x20) - 'a') >= 26;
}

/* A command with all its sets of arguments. */
static gboolean command(Reader *r, char c)
{
    char kind = upper(c);
    if (kind == 'Z') {
        if (!r->move_owed)
            dt_path_close(r->out);
        else { /* "M x y z" is a dot */
            pay_move(r);
            dt_path_close(r->out);
        }
        owe_move(r, r->start);
        r->last = 'Z';
        return TRUE;
    }
    char each = c;
    gboolean first = TRUE;
    do {
        if (first && kind == 'M') {
            DtPoint to;
            if (!point(r, c == 'm', &to))
                return FALSE;
            owe_move(r, to);
            each = c == 'm' ? 'l' : 'L';
            r->last = 'M';
        } else {
            if (!segment(r, each))
                return FALSE;
            r->last = upper(each);
        }
        first = FALSE;
    } while (more_arguments(r));
    return TRUE;
}

static gboolean read_path(Reader *r, gsize *error_at)
{
    const char *d = r->p;
    gboolean begun = FALSE;
    for (;;) {
        r->p = art_skip_space(r->p);
        if (*r->p == '\0')
            return TRUE;
        char c = *r->p;
        const char *here = r->p++;
        if (!memchr("MmLlHhVvCcSsQqTtAaZz", c, 20) || (!begun && c != 'M' && c != 'm')) {
            *error_at = (gsize)(here - d);
            return FALSE;
        }
        begun = TRUE;
        if (!command(r, c)) {
            *error_at = (gsize)(r->p - d);
            return FALSE;
        }
    }
}

gboolean dt_art_path_data(const char *d, DtPath *out, gsize *error_at)
{
    return read_path(&(Reader){.p = d, .out = out}, error_at);
}

void dt_art_path_vertices(const char *d, DtPath *out)
{
    gsize ignored; /* reported when the path is drawn */
    (void)read_path(&(Reader){.p = d, .out = out, .whole_arcs = TRUE}, &ignored);
}
