/* reading: what the words of a program mean for the pen under each possible reading. */
#include "code/mend/reading.h"

#include <math.h>
#include <string.h>

/* Words of another controller ----------------------------------------------------------------- */

static gboolean is_foreign_word(const DtVocabulary *v, const DtCodeWord *w)
{
    if (w->letter == 'M')
        return !(w->value >= 0 && w->value < M_NUMBERS && w->value == floor(w->value) &&
                 (dt_m_codes[(int)w->value].known || dt_vocabulary_takes_m(v, (int)w->value)));
    return w->letter != 'G' && dt_letters[w->letter - 'A'] == NULL &&
           !dt_vocabulary_takes_letter(v, w->letter);
}

const DtCodeWord *dt_reading_foreign_word(const DtVocabulary *v, const DtCodeBlock *b)
{
    for (int i = 0; i < b->n_words; i++)
        if (is_foreign_word(v, &b->words[i]))
            return &b->words[i];
    return NULL;
}

/* M words that may switch a pen: not those of spindle, stops, tools and overrides. */
static gboolean may_switch(const DtCodeWord *w)
{
    if (w->letter != 'M')
        return w->letter != 'G' && dt_letters[w->letter - 'A'] == NULL;
    const double code = w->value;
    if (!(code >= 0 && code < M_NUMBERS && dt_m_codes[(int)code].known))
        return TRUE;
    return dt_m_codes[(int)code].group == M_COOLANT;
}

gboolean dt_reading_line_key(const DtCodeBlock *b, char key[DT_LINE_KEY])
{
    gboolean any = FALSE;
    gsize at = 0;
    key[0] = '\0';
    for (int i = 0; i < b->n_words && !any; i++)
        any = may_switch(&b->words[i]);
    for (int i = 0; i < b->n_words && any; i++) {
        const DtCodeWord *w = &b->words[i];
        if (!may_switch(w) && strchr("SPQDT", w->letter) == NULL)
            continue;
        at += (gsize)g_snprintf(key + at, DT_LINE_KEY - at, "%s%c%.9g", at ? " " : "", w->letter,
                                w->value);
        if (at >= DT_LINE_KEY)
            return FALSE; /* too long for a pen's line */
    }
    return any;
}

/* The pen ------------------------------------------------------------------------------------- */

static DtPenState after_letter(const DtReading *r, const DtCodeBlock *b)
{
    const gboolean moves = (b->has & (LETTER('X') | LETTER('Y'))) != 0;
    const gboolean bears = (b->has & LETTER(r->letter)) != 0;
    const gboolean draws = r->kind == READ_RISING    ? block_rises(b, r->letter)
                           : r->kind == READ_ABOVE_0 ? bears && block_value(b, r->letter) > 0
                                                     : bears;
    return moves && draws ? PEN_DOWN : moves || bears ? PEN_UP : PEN_UNKNOWN;
}

gboolean dt_reading_goes_by_letter(const DtReading *r)
{
    return r->kind == READ_LETTER || r->kind == READ_RISING || r->kind == READ_ABOVE_0;
}

DtPenState dt_reading_block(const DtReading *r, const DtPenRule *rule, const DtCodeBlock *b)
{
    char key[DT_LINE_KEY];
    if (dt_reading_goes_by_letter(r))
        return after_letter(r, b);
    if (r->kind == READ_MACHINE) {
        if (rule->kind != LIFT_BY_OWN_WORD || !b->own_code)
            return PEN_UNKNOWN;
        return dt_block_matches(b, &rule->down) ? PEN_DOWN
               : dt_block_matches(b, &rule->up) ? PEN_UP
                                                : PEN_UNKNOWN;
    }
    if (r->kind != READ_LINE || !dt_reading_line_key(b, key))
        return PEN_UNKNOWN;
    return strcmp(key, r->down) == 0 ? PEN_DOWN : strcmp(key, r->up) == 0 ? PEN_UP : PEN_UNKNOWN;
}

static DtPenState side(const DtReading *r, double value)
{
    return (value > r->threshold) == r->down_is_high ? PEN_DOWN : PEN_UP;
}

static DtPenState after_spindle(const DtReading *r, const DtPenRule *rule, const DtCodeBlock *b,
                                const DtAction *a)
{
    char key[DT_LINE_KEY];
    if (r->kind == READ_SPINDLE && (b->m_groups & (1u << M_SPINDLE)))
        return r->down_of_turn[a->turn + 1] && !(a->turn && a->speed_said && a->speed == 0)
                   ? PEN_DOWN
                   : PEN_UP; /* S0 does not turn it */
    if (r->kind == READ_SPEED && !dt_reading_line_key(b, key))
        return a->turn == 0 && r->turns ? PEN_UP : side(r, a->speed);
    if (r->kind != READ_MACHINE || rule->kind != LIFT_BY_SPINDLE ||
        (a->turn == 0 && !(b->m_groups & (1u << M_SPINDLE))))
        return PEN_UNKNOWN;
    if (!a->speed_said)
        return a->turn ? PEN_DOWN : PEN_UP;
    return dt_pen_after_spindle(rule, a->turn, a->speed);
}

gboolean dt_reading_goes_by_z(const DtReading *r, const DtPenRule *rule)
{
    return (r->kind == READ_HEIGHT && r->axis == 2) ||
           (r->kind == READ_MACHINE && rule->kind == LIFT_BY_Z);
}

DtPenState dt_reading_action(const DtReading *r, const DtPenRule *rule, const DtCodeBlock *b,
                             const DtAction *a)
{
    if (a->kind == ACT_SPINDLE)
        return after_spindle(r, rule, b, a);
    if (a->kind != ACT_TRAVERSE && a->kind != ACT_FEED && a->kind != ACT_ARC)
        return PEN_UNKNOWN;
    const int axis = r->kind == READ_HEIGHT ? r->axis : 2;
    const gboolean says = a->to[axis] != a->from[axis] || (b->has & LETTER(dt_axis_letters[axis]));
    if (!says)
        return PEN_UNKNOWN;
    if (r->kind == READ_HEIGHT)
        return side(r, a->to[axis]);
    if (r->kind == READ_MACHINE && rule->kind == LIFT_BY_Z)
        return dt_pen_at_z(rule, a->to[2]);
    return PEN_UNKNOWN;
}

/* As text ------------------------------------------------------------------------------------- */

static char *with_rapids(const DtReading *r, char *text, const char *tail)
{
    if (!r->rapids_draw)
        return text;
    char *more = g_strconcat(text, tail, NULL);
    g_free(text);
    return more;
}

static const char *turn_name(const DtReading *r)
{
    if (r->down_of_turn[0] && r->down_of_turn[2])
        return "on";
    return r->down_of_turn[1] ? "off" : r->down_of_turn[2] ? "m3" : "m4";
}

/* In the form that dt_reading_parse() reads, and so never translated. */
static const char *side_name(const DtReading *r)
{
    return r->down_is_high ? "above" : "below";
}

char *dt_reading_option(const DtReading *r)
{
    char *text = NULL;
    switch (r->kind) {
    case READ_MACHINE:
        text = g_strdup("machine");
        break;
    case READ_SPINDLE:
        text = g_strdup_printf("spindle:%s", turn_name(r));
        break;
    case READ_SPEED:
        text = g_strdup_printf("s-%s:%.6g", side_name(r), r->threshold);
        break;
    case READ_HEIGHT:
        text = g_strdup_printf("%c-%s:%.6g", g_ascii_tolower(dt_axis_letters[r->axis]),
                               side_name(r), r->threshold);
        break;
    case READ_LINE:
        text = g_strdup_printf("line:%s=down,%s=up", r->down, r->up);
        break;
    case READ_LETTER:
        text = g_strdup_printf("letter:%c", r->letter);
        break;
    case READ_RISING:
        text = g_strdup_printf("rising:%c", r->letter);
        break;
    case READ_ABOVE_0:
        text = g_strdup_printf("positive:%c", r->letter);
        break;
    case READ_MOVES:
        text = g_strdup("moves");
        break;
    }
    return with_rapids(r, text, "+rapids");
}

char *dt_reading_words(const DtReading *r)
{
    char *text = NULL;
    switch (r->kind) {
    case READ_MACHINE:
        text = g_strdup(_("this machine's own pen words"));
        break;
    case READ_SPINDLE:
        text = g_strdup_printf(_("the pen is down while the spindle %s"),
                               r->down_of_turn[0] && r->down_of_turn[2] ? _("turns (M3, M4)")
                               : r->down_of_turn[1]                     ? _("stands (M5)")
                               : r->down_of_turn[2]                     ? _("turns by M3")
                                                                        : _("turns by M4"));
        break;
    case READ_SPEED:
        text = g_strdup_printf(_("the pen is down at S %s %.6g"),
                               r->down_is_high ? _("above") : _("below"), r->threshold);
        break;
    case READ_HEIGHT:
        text = g_strdup_printf(_("the pen is down at %c %s %.6g%s"), dt_axis_letters[r->axis],
                               r->down_is_high ? _("above") : _("below"), r->threshold,
                               r->axis == 2 ? " mm" : " degrees");
        break;
    case READ_LINE:
        text = g_strdup_printf(_("%s lowers the pen and %s lifts it"), r->down, r->up);
        break;
    case READ_LETTER:
        text =
            g_strdup_printf(_("moves with a word %c draw, and moves without it travel"), r->letter);
        break;
    case READ_RISING:
        text = g_strdup_printf(_("moves in which %c rises draw, and all others travel"), r->letter);
        break;
    case READ_ABOVE_0:
        text = g_strdup_printf(_("moves with %c above 0 draw, and all others travel"), r->letter);
        break;
    case READ_MOVES:
        text = g_strdup(_("moves at feed (G1, G2, G3) draw and rapids (G0) travel"));
        break;
    }
    return with_rapids(r, text, _(", and rapids (G0) draw too"));
}

/* "-above:60" or "-below:1.5". */
static gboolean parse_side(const char *text, DtReading *out)
{
    out->down_is_high = g_str_has_prefix(text, "-above:");
    if (!out->down_is_high && !g_str_has_prefix(text, "-below:"))
        return FALSE;
    const char *number = text + strlen("-above:");
    char *end;
    out->threshold = g_ascii_strtod(number, &end);
    return end != number && *end == '\0' && isfinite(out->threshold);
}

static gboolean parse_turn(const char *text, DtReading *out)
{
    out->kind = READ_SPINDLE;
    out->down_of_turn[0] = strcmp(text, "on") == 0 || strcmp(text, "m4") == 0;
    out->down_of_turn[1] = strcmp(text, "off") == 0;
    out->down_of_turn[2] = strcmp(text, "on") == 0 || strcmp(text, "m3") == 0;
    return out->down_of_turn[0] || out->down_of_turn[1] || out->down_of_turn[2];
}

/* A line of words in the normalised spelling used as a key. */
static gboolean parse_key(const char *text, char key[DT_LINE_KEY])
{
    static const DtVocabulary open = {.open = TRUE};
    g_autofree char *copy = NULL;
    DtCodeBlock b;
    dt_pen_read_line(&b, text, &open, &copy);
    return b.faults == 0 && dt_reading_line_key(&b, key);
}

static gboolean parse_line(const char *text, DtReading *out)
{
    out->kind = READ_LINE;
    g_auto(GStrv) parts = g_strsplit(text, ",", -1);
    for (char **p = parts; *p; p++) {
        char *equals = strrchr(*p, '=');
        if (equals == NULL)
            return FALSE;
        *equals = '\0';
        const gboolean down = strcmp(equals + 1, "down") == 0;
        if ((!down && strcmp(equals + 1, "up") != 0) || !parse_key(*p, down ? out->down : out->up))
            return FALSE;
    }
    return *out->down != '\0' && *out->up != '\0';
}

static gboolean parse_axis(const char *text, DtReading *out)
{
    out->kind = READ_HEIGHT;
    for (int i = 2; i < AXES && *text != '\0'; i++)
        if (dt_axis_letters[i] == g_ascii_toupper(*text))
            out->axis = i;
    return out->axis >= 2 && parse_side(text + 1, out);
}

static gboolean parse_letter(const char *text, DtReadingKind kind, DtReading *out)
{
    out->kind = kind;
    out->letter = g_ascii_toupper(*text);
    return g_ascii_isalpha(*text) && text[1] == '\0' && dt_letters[out->letter - 'A'] == NULL;
}

gboolean dt_reading_parse(const char *option, DtReading *out, GError **error)
{
    *out = (DtReading){0};
    g_autofree char *text = g_strdup(option);
    gboolean good;
    if (g_str_has_suffix(text, "+rapids")) {
        out->rapids_draw = TRUE;
        text[strlen(text) - strlen("+rapids")] = '\0';
    }
    if (strcmp(text, "machine") == 0) {
        out->kind = READ_MACHINE;
        good = TRUE;
    } else if (strcmp(text, "moves") == 0) {
        out->kind = READ_MOVES;
        good = !out->rapids_draw;
    } else if (strcmp(text, "spindle") == 0) {
        good = parse_turn("on", out);
    } else if (g_str_has_prefix(text, "spindle:")) {
        good = parse_turn(text + strlen("spindle:"), out);
    } else if (g_str_has_prefix(text, "line:")) {
        good = parse_line(text + strlen("line:"), out);
    } else if (g_str_has_prefix(text, "letter:")) {
        good = parse_letter(text + strlen("letter:"), READ_LETTER, out);
    } else if (g_str_has_prefix(text, "rising:")) {
        good = parse_letter(text + strlen("rising:"), READ_RISING, out);
    } else if (g_str_has_prefix(text, "positive:")) {
        good = parse_letter(text + strlen("positive:"), READ_ABOVE_0, out);
    } else if (g_str_has_prefix(text, "s-")) {
        out->kind = READ_SPEED;
        good = parse_side(text + 1, out);
    } else {
        good = parse_axis(text, out);
    }
    if (!good)
        g_set_error(
            error, DT_ERROR, DT_ERROR_USAGE,
            "'%s' is not a way to recognise the pen; it is one of: spindle:on, spindle:off, "
            "spindle:m3, spindle:m4, s-above:N, s-below:N, z-below:N, z-above:N, "
            "line:WORDS=down,WORDS=up, letter:L, rising:L, positive:L, moves, machine",
            option);
    return good;
}
