/* reader: turns blocks into canonical actions (NISTIR 6556: chapter 3, order of execution in
 * table 8). */
#include "code/read/rs274.h"

#include <glib/gprintf.h>

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <string.h>

void dt_reader_fault(DtReader *r, DtFaultKind kind, int column, const char *format, ...)
{
    char text[FAULT_TEXT];
    va_list args;
    va_start(args, format);
    g_vsnprintf(text, sizeof text, _(format), args);
    va_end(args);
    dt_block_fault(&r->block, r->listener.fault, r->user, kind, column, "%s", text);
}

static void tell(DtReader *r, const DtAction *a)
{
    if (r->listener.action)
        r->listener.action(r->user, a);
}

static int g_column(const DtCodeBlock *b, int group)
{
    return b->words[b->g_word[group]].column;
}

/* Targets ------------------------------------------------------------------------------------ */

static double length_unit(const DtReader *r, int axis)
{
    return axis < 3 ? r->unit : 1; /* rotary axes are in degrees */
}

static int system_of(const DtReader *r)
{
    short code = r->modal[G_SYSTEM];
    return code <= 590 ? (code - 540) / 10 : code - 585;
}

/* Where the axis words move the axes: machine coordinates. */
static void read_target(DtReader *r, double to[AXES], gboolean machine)
{
    const DtCodeBlock *b = &r->block;
    memcpy(to, r->at, sizeof r->at);
    gboolean absolute = reader_use(r, G_DISTANCE) == 900;
    if (absolute && !machine && r->modal[G_SYSTEM] != 540)
        r->origin_relied |= !(r->origins_set & (1u << system_of(r)));
    int axes = b->has & AXIS_LETTERS & ~(LETTER('X') | LETTER('Y')) ? AXES : 2;
    for (int axis = 0; axis < axes; axis++) {
        if (!(b->has & LETTER(dt_axis_letters[axis])))
            continue;
        double v = block_value(b, dt_axis_letters[axis]) * length_unit(r, axis);
        if (v != 0) /* zero is zero in any unit */
            reader_use(r, G_UNITS);
        to[axis] = machine ? v : absolute ? v + r->offset[axis] : r->at[axis] + v;
    }
}

double dt_reader_feed(DtReader *r, double length)
{
    if (r->feed_word <= 0)
        return 0;
    if (reader_use(r, G_FEED_MODE) == 930)
        return length * r->feed_word / 60; /* F is the inverse of its duration in minutes */
    return r->feed_word * r->feed_unit / 60;
}

void dt_reader_move(DtReader *r, DtActionKind kind, const double to[AXES], double feed)
{
    DtAction a;
    a.kind = kind;
    a.feed = feed;
    a.machine = FALSE;
    memcpy(a.from, r->at, sizeof a.from);
    memcpy(a.to, to, sizeof a.to);
    memcpy(r->at, to, sizeof r->at);
    tell(r, &a);
}

static double path_length(const double from[AXES], const double to[AXES])
{
    double dx = to[0] - from[0], dy = to[1] - from[1], dz = to[2] - from[2];
    return sqrt(dx * dx + dy * dy + dz * dz);
}

/* Motion (steps 20 and 19) -------------------------------------------------------------------- */

static void check_feed(DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    int column = b->n_words ? b->words[0].column : 1;
    if (reader_use(r, G_FEED_MODE) == 930 && !(b->has & LETTER('F')))
        dt_reader_fault(r, FAULT_FEED, column, "inverse time feed needs an F in each line");
    else if (r->feed_word < 0)
        dt_reader_fault(r, FAULT_FEED, column, "a move at feed, and no F was given before it");
    else if (r->feed_word == 0)
        dt_reader_fault(r, FAULT_FEED, b->has & LETTER('F') ? block_column(b, 'F') : column,
                        "a move at feed with a feed of zero");
}

static gboolean uses_axes_otherwise(const DtCodeBlock *b)
{
    return (b->g_groups & 1u) && dt_g_codes[b->g[G_NON_MODAL]].axes;
}

/* An arc by its centre alone, which some controls treat as a full turn; the standard does not. */
static gboolean is_full_circle(const DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    const short mode = r->modal[G_MOTION];
    return r->own && r->own->open && (mode == 20 || mode == 30) &&
           (b->has & (LETTER('I') | LETTER('J') | LETTER('K'))) && !(b->has & AXIS_LETTERS);
}

static void do_motion(DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    gboolean axes = (b->has & AXIS_LETTERS) != 0, said = (b->g_groups & (1u << G_MOTION)) != 0;
    if (uses_axes_otherwise(b) || (!axes && !said && !is_full_circle(r)))
        return;
    short mode = r->modal[G_MOTION];
    int column = said ? g_column(b, G_MOTION) : b->n_words ? b->words[0].column : 1;
    if (mode == 800) {
        if (axes)
            dt_reader_fault(r, FAULT_COMBINATION, column, "axis words with no motion mode (G80)");
        return;
    }
    const gboolean full_circle = is_full_circle(r);
    if (!axes && !full_circle) {
        dt_reader_fault(r, FAULT_COMBINATION, column, "G%g needs an axis word", mode / 10.0);
        return;
    }
    reader_use(r, G_MOTION);
    gboolean machine = (b->g_groups & 1u) && b->g[G_NON_MODAL] == 530;
    double to[AXES];
    read_target(r, to, machine);
    if (mode == 0) {
        dt_reader_move(r, ACT_TRAVERSE, to, 0);
        return;
    }
    if (mode != 382 || r->feed_word <= 0)
        check_feed(r);
    if (mode == 10 || mode == 382)
        dt_reader_move(r, ACT_FEED, to, dt_reader_feed(r, path_length(r->at, to)));
    else if (mode == 20 || mode == 30)
        dt_reader_arc(r, to);
    else
        dt_reader_cycle(r, to);
}

static void refresh_offset(DtReader *r)
{
    int system = system_of(r);
    for (int axis = 0; axis < AXES; axis++)
        r->offset[axis] = r->origin[system][axis] + r->axis_offset[axis];
}

static void keep_parameter(DtReader *r, int index, double value)
{
    r->parameters.value[index] = value;
    r->parameters.set[index] = 1;
}

static void do_home(DtReader *r, int which)
{
    DtAction a = {.kind = ACT_HOME};
    if (r->block.has & AXIS_LETTERS) {
        double by[AXES];
        read_target(r, by, FALSE);
        dt_reader_move(r, ACT_TRAVERSE, by, 0);
    }
    memcpy(a.from, r->at, sizeof a.from);
    memcpy(a.to, r->at, sizeof a.to);
    for (int axis = 0; axis < AXES; axis++) /* a plotter has switches for X and Y */
        if (axis < 2 || (r->block.has & LETTER(dt_axis_letters[axis])))
            a.to[axis] = r->home[which][axis];
    memcpy(r->at, a.to, sizeof r->at);
    tell(r, &a);
}

static void do_set_system(DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    int column = g_column(b, G_NON_MODAL);
    double p = b->has & LETTER('P') ? block_value(b, 'P') : 0;
    if (!(b->has & LETTER('L')) || block_value(b, 'L') != 2 || p < 1 || p > 9 || p != floor(p)) {
        dt_reader_fault(r, FAULT_COMBINATION, column,
                        "G10 is written G10 L2 P1 to P9 and axis words");
        return;
    }
    int system = (int)p - 1;
    r->origins_set |= 1u << system;
    for (int axis = 0; axis < AXES; axis++)
        if (b->has & LETTER(dt_axis_letters[axis])) {
            r->origin[system][axis] = block_value(b, dt_axis_letters[axis]) * length_unit(r, axis);
            keep_parameter(r, 5221 + 20 * system + axis, block_value(b, dt_axis_letters[axis]));
        }
    reader_use(r, G_UNITS);
    refresh_offset(r);
}

static void do_axis_offset(DtReader *r, int code)
{
    const DtCodeBlock *b = &r->block;
    if (code == 920 && !(b->has & AXIS_LETTERS)) {
        dt_reader_fault(r, FAULT_COMBINATION, g_column(b, G_NON_MODAL), "G92 needs an axis word");
        return;
    }
    reader_use(r, G_UNITS);
    for (int axis = 0; axis < AXES; axis++) {
        double base = r->offset[axis] - r->axis_offset[axis];
        if (code == 920 && (b->has & LETTER(dt_axis_letters[axis])))
            r->axis_offset[axis] =
                r->at[axis] - base - block_value(b, dt_axis_letters[axis]) * length_unit(r, axis);
        else if (code == 921 || code == 922)
            r->axis_offset[axis] = 0;
        else if (code == 923)
            r->axis_offset[axis] = r->saved_offset[axis];
        if (code == 920 || code == 921)
            r->saved_offset[axis] = r->axis_offset[axis];
        if (code == 920 || code == 921)
            keep_parameter(r, 5211 + axis, r->axis_offset[axis] / length_unit(r, axis));
    }
    refresh_offset(r);
}

static void do_non_modal(DtReader *r)
{
    int code = r->block.g[G_NON_MODAL];
    if (code == 280 || code == 300)
        do_home(r, code == 300);
    else if (code == 100)
        do_set_system(r);
    else if (code >= 920 && code <= 923)
        do_axis_offset(r, code);
}

/* The other steps ------------------------------------------------------------------------------ */

static void do_dwell(DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    if (!(b->g_groups & 1u) || b->g[G_NON_MODAL] != 40)
        return;
    if (!(b->has & LETTER('P'))) {
        dt_reader_fault(r, FAULT_COMBINATION, g_column(b, G_NON_MODAL), "G4 needs P");
        return;
    }
    DtAction a = {.kind = ACT_DWELL, .seconds = block_value(b, 'P')};
    if (a.seconds < 0) {
        dt_reader_fault(r, FAULT_VALUE, block_column(b, 'P'), "a dwell cannot be negative");
        return;
    }
    tell(r, &a);
}

static void do_words(DtReader *r)
{
    static const struct {
        char letter;
        const char *what;
    } positive[] = {{'F', N_("feed")},
                    {'S', N_("spindle speed")},
                    {'T', N_("tool")},
                    {'H', N_("tool length number")},
                    {'D', N_("tool radius number")}};
    const DtCodeBlock *b = &r->block;
    for (size_t i = 0; i < G_N_ELEMENTS(positive); i++)
        if ((b->has & LETTER(positive[i].letter)) && block_value(b, positive[i].letter) < 0)
            dt_reader_fault(r, FAULT_VALUE, block_column(b, positive[i].letter),
                            "the %s cannot be negative", _(positive[i].what));
    if (b->has & LETTER('S')) {
        r->spindle_speed = MAX(block_value(b, 'S'), 0);
        r->speed_said = TRUE;
    }
    if (b->has & LETTER('T'))
        r->tool = (int)CLAMP(block_value(b, 'T'), 0, 1e6);
}

static void set_modal(DtReader *r, int group)
{
    if (!(r->block.g_groups & (1u << group)))
        return;
    r->modal[group] = r->block.g[group];
    r->said |= 1u << group;
}

static void do_spindle(DtReader *r)
{
    int code = r->block.m[M_SPINDLE];
    r->spindle_turn = code == 3 ? 1 : code == 4 ? -1 : 0;
    DtAction a = {.kind = ACT_SPINDLE,
                  .turn = r->spindle_turn,
                  .speed = r->spindle_speed,
                  .speed_said = r->speed_said};
    tell(r, &a);
}

/* A speed alone changes a spindle that is turning. */
static void do_speed_alone(DtReader *r)
{
    if (r->spindle_turn == 0 && !(r->own && r->own->open))
        return; /* in programs from elsewhere, a servo's S needs no spindle word */
    DtAction a = {.kind = ACT_SPINDLE,
                  .turn = r->spindle_turn,
                  .speed = r->spindle_speed,
                  .speed_said = TRUE};
    tell(r, &a);
}

static void reset_at_end(DtReader *r)
{
    memset(r->axis_offset, 0, sizeof r->axis_offset);
    r->modal[G_SYSTEM] = 540;
    r->modal[G_PLANE] = 170;
    r->modal[G_DISTANCE] = 900;
    r->modal[G_FEED_MODE] = 940;
    r->modal[G_MOTION] = 10;
    r->spindle_turn = 0;
    r->ended = TRUE;
    refresh_offset(r);
}

static void do_stop(DtReader *r)
{
    int code = r->block.m[M_STOP];
    DtAction a = {.kind = code == 1                 ? ACT_MAY_PAUSE
                          : code == 0 || code == 60 ? ACT_PAUSE
                                                    : ACT_END};
    tell(r, &a);
    if (a.kind == ACT_END)
        reset_at_end(r);
}

/* Letters that are allowed only with a certain code. */
static void check_letters_used(DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    uint32_t idle = b->has & (LETTER('I') | LETTER('J') | LETTER('K') | LETTER('R') | LETTER('L') |
                              LETTER('P') | LETTER('Q') | LETTER('D') | LETTER('H'));
    if (idle == 0 || b->own_code)
        return;
    gboolean motion_here =
        (b->g_groups & (1u << G_MOTION)) || (b->has & AXIS_LETTERS) || is_full_circle(r);
    short mode = motion_here && !uses_axes_otherwise(b)
                     ? b->g_groups & (1u << G_MOTION) ? b->g[G_MOTION] : r->modal[G_MOTION]
                     : -1;
    int other = b->g_groups & 1u ? b->g[G_NON_MODAL] : -1;
    if (mode == 20 || mode == 30)
        idle &= ~(LETTER('I') | LETTER('J') | LETTER('K') | LETTER('R'));
    if (mode >= 810 && mode <= 890)
        idle &= ~(LETTER('R') | LETTER('L') | LETTER('P') | LETTER('Q') | LETTER('I') |
                  LETTER('J') | LETTER('K'));
    if (other == 40)
        idle &= ~LETTER('P');
    if (other == 100)
        idle &= ~(LETTER('P') | LETTER('L'));
    if (b->g_groups & (1u << G_RADIUS))
        idle &= ~LETTER('D');
    if (b->g_groups & (1u << G_LENGTH))
        idle &= ~LETTER('H');
    for (char letter = 'A'; letter <= 'Z'; letter++)
        if (idle & LETTER(letter))
            dt_reader_fault(r, FAULT_COMBINATION, block_column(b, letter),
                            "%c is given, but no code in the line uses it", letter);
}

static void check_combinations(DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    check_letters_used(r);
    if (uses_axes_otherwise(b) && (b->g_groups & (1u << G_MOTION)) && b->g[G_MOTION] != 800)
        dt_reader_fault(r, FAULT_COMBINATION, g_column(b, G_MOTION),
                        "G%g and G%g both use the axis words of this line",
                        b->g[G_NON_MODAL] / 10.0, b->g[G_MOTION] / 10.0);
    if ((b->g_groups & 1u) && b->g[G_NON_MODAL] == 530) {
        short mode = b->g_groups & (1u << G_MOTION) ? b->g[G_MOTION] : r->modal[G_MOTION];
        if (mode != 0 && mode != 10)
            dt_reader_fault(r, FAULT_COMBINATION, g_column(b, G_NON_MODAL),
                            "G53 can only be used with G0 or G1");
    }
}

static void set_unit(DtReader *r)
{
    set_modal(r, G_UNITS);
    r->unit = r->modal[G_UNITS] == 200 ? 25.4 : 1;
}

/* One block, in the published order (table 8). A line of axis words alone takes a shortcut. */
static void execute(DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    const uint32_t plain_letters = LETTER('X') | LETTER('Y') | LETTER('F') | LETTER('N');
    if (b->has & LETTER('F')) { /* 3, before the units of this line: 12 */
        r->feed_word = MAX(block_value(b, 'F'), 0);
        r->feed_unit = r->unit;
    }
    if (b->m_groups == 0 && (b->g_groups & ~(1u << G_MOTION)) == 0 &&
        (b->has & ~plain_letters) == 0) {
        if ((b->has & LETTER('F')) && block_value(b, 'F') < 0)
            do_words(r);
        set_modal(r, G_MOTION);
        do_motion(r);
        return;
    }
    check_combinations(r);
    set_modal(r, G_FEED_MODE);        /* 2, and 3 is done */
    do_words(r);                      /* 4, 5 */
    if (b->m_groups & (1u << M_TOOL)) /* 6 */
        tell(r, &(DtAction){.kind = ACT_TOOL, .tool = r->tool});
    if (b->m_groups & (1u << M_SPINDLE)) /* 7; coolant and overrides move nothing */
        do_spindle(r);
    else if (b->has & LETTER('S'))
        do_speed_alone(r);
    do_dwell(r);            /* 10 */
    set_modal(r, G_PLANE);  /* 11 */
    set_unit(r);            /* 12 */
    set_modal(r, G_RADIUS); /* 13 */
    set_modal(r, G_LENGTH); /* 14 */
    set_modal(r, G_SYSTEM); /* 15 */
    refresh_offset(r);
    set_modal(r, G_PATH);     /* 16 */
    set_modal(r, G_DISTANCE); /* 17 */
    set_modal(r, G_RETRACT);  /* 18 */
    set_modal(r, G_MOTION);
    if (b->g_groups & 1u) /* 19 */
        do_non_modal(r);
    do_motion(r);                     /* 20 */
    if (b->m_groups & (1u << M_STOP)) /* 21 */
        do_stop(r);
}

static void set_parameters(DtReader *r)
{
    const DtCodeBlock *b = &r->block;
    for (int i = 0; i < b->n_settings; i++)
        keep_parameter(r, b->setting[i].index, b->setting[i].value);
}

/* Letters of other controllers may count on: what they mean can depend on the value before. */
static void follow_values(DtReader *r)
{
    DtCodeBlock *b = &r->block;
    for (int i = 0; i < b->n_words && !b->deleted; i++) {
        const DtCodeWord *w = &b->words[i];
        const int letter = w->letter - 'A';
        if (dt_letters[letter] != NULL)
            continue;
        b->before[letter] = r->last_value[letter];
        r->last_value[letter] = w->value;
    }
}

/* What follows the second of two lines of a percent sign is not part of the program (NISTIR 6556, 3.3). Two
 * with nothing between them are one beginning. */
static void follow_percents(DtReader *r)
{
    DtCodeBlock *b = &r->block;
    b->closes = b->percent && r->demarcated && r->worded;
    r->worded |= b->n_words > 0;
    r->demarcated |= b->percent && !r->begun;
    r->begun |= strspn(b->text, " \t\r") < b->len;
    r->ended |= b->closes;
}

void dt_reader_line(DtReader *r, const char *text, size_t len)
{
    DtCodeBlock *b = &r->block;
    b->line = ++r->line;
    dt_block_read(b, text, len, &r->parameters, r->own, r->listener.fault, r->user);
    follow_values(r);
    follow_percents(r);
    if (r->listener.block)
        r->listener.block(r->user, b);
    if (!b->deleted && b->faults == 0) {
        if (b->n_words > 0)
            execute(r);
        if (b->n_settings > 0)
            set_parameters(r); /* after all values of the line have been found */
    }
    if (r->listener.end_of_block)
        r->listener.end_of_block(r->user, b);
}

void dt_reader_skip_line(DtReader *r, size_t len)
{
    static const char nothing[] = "\n";
    DtCodeBlock *b = &r->block;
    b->line = ++r->line;
    dt_block_read(b, nothing, 0, &r->parameters, NULL, NULL, NULL);
    dt_reader_fault(r, FAULT_LINE_LONG, 1, "the line is %zu bytes long", len);
    if (r->listener.block)
        r->listener.block(r->user, b);
    if (r->listener.end_of_block)
        r->listener.end_of_block(r->user, b);
}

gboolean dt_reader_read(DtReader *r, DtLineSource *lines, const char *path, GError **error)
{
    const char *text;
    size_t len;
    while (dt_source_next(lines, &text, &len))
        if (text != NULL)
            dt_reader_line(r, text, len);
        else
            dt_reader_skip_line(r, len);
    if (lines->failure != 0)
        g_set_error(error, DT_ERROR, lines->failure == EISDIR ? DT_ERROR_INPUT : DT_ERROR_IO,
                    "%s: %s", path, g_strerror(lines->failure));
    return lines->failure == 0;
}

gboolean dt_reader_read_text(DtReader *r, const char *text, gsize len)
{
    DtLineSource lines;
    dt_source_open_text(&lines, text, len);
    dt_reader_read(r, &lines, "", NULL);
    dt_source_close(&lines);
    return lines.mark;
}

DtReader *dt_reader_new(const DtListener *listener, const DtVocabulary *own, void *user)
{
    DtReader *r = g_new0(DtReader, 1);
    r->listener = *listener;
    r->user = user;
    r->own = own;
    r->unit = r->feed_unit = 1;
    r->feed_word = -1;
    const short defaults[MODAL_GROUPS] = {
        [G_MOTION] = 10,  [G_PLANE] = 170,  [G_DISTANCE] = 900, [G_FEED_MODE] = 940,
        [G_UNITS] = 210,  [G_RADIUS] = 400, [G_LENGTH] = 490,   [G_RETRACT] = 980,
        [G_SYSTEM] = 540, [G_PATH] = 640};
    memcpy(r->modal, defaults, sizeof defaults);
    for (int i = 0; i < AXES; i++) {
        keep_parameter(r, 5161 + i, 0);
        keep_parameter(r, 5181 + i, 0);
        keep_parameter(r, 5211 + i, 0);
        for (int system = 0; system < 9; system++)
            keep_parameter(r, 5221 + 20 * system + i, 0);
    }
    keep_parameter(r, 5220, 1);
    return r;
}

void dt_reader_free(DtReader *r)
{
    g_free(r);
}
