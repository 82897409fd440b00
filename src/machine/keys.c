/* keys: the one table of all keys of a profile. */
#include "machine/keys.h"

#include <string.h>

#define FIELD(f) offsetof(DtProfile, f)
#define PEN(f) offsetof(DtPen, f)

/* One row for each axis. */
#define BOTH_AXES(section, name, type, unit, least, most, preset_x, preset_y, field, help)         \
    {section, name "_x", type, unit, least, most, preset_x, FIELD(field[0]), help},                \
    {                                                                                              \
        section, name "_y", type, unit, least, most, preset_y, FIELD(field[1]), NULL               \
    }

const DtKeySection dt_key_sections[] = {
    {"machine", N_("Which machine this is.")},
    {"motion",
     N_("The two axes. X is the carriage on its rails, Y the way across it. The origin is where "
        "homing leaves the carriage. Seen from where that corner is at your lower left, X grows to "
        "the right and Y away from you; if not, drawings are mirrored: swap X and Y.")},
    {"drive",
     N_("The drive train, from which the steps per mm follow: half steps of a motor turn times "
        "the gear ratio, over the cord that one turn of the pulley takes up, "
        "pi times (pulley + cord).")},
    {"lift", N_("How the pen goes up and down, and how long it takes to settle.")},
    {"corrections",
     N_("What was measured on this machine's own paper. Leave these as they are until "
        "you have drawn and measured a test sheet.")},
    {"supply", N_("What feeds the motors, and what they draw.")},
    {"controller",
     N_("What the controller takes and what it says. \\x05 and the like stand for bytes.")},
    {"board",
     N_("What our own board keeps beside the motion above; 'drawtrue machine --send' writes both. "
        "Of no use with another controller, which has settings of its own.")},
    {"paper", N_("The sheet and where it lies.")},
    {"pen", N_("One section for each pen of the rack: [pen NAME]. Light pens draw first; with "
               "--solid the pens "
               "draw in this order.")},
};
const gsize dt_n_key_sections = G_N_ELEMENTS(dt_key_sections);

const DtKey dt_keys[] = {
    {"machine", "name", DT_KEY_TEXT, DT_UNIT_NONE, 0, 80, "plotter", FIELD(name),
     N_("Its name in reports and at the head of programs.")},

    BOTH_AXES("motion", "travel", DT_KEY_NUMBER, DT_UNIT_LENGTH, 10, 5000, "300 mm", "220 mm",
              travel,
              N_("Distance from home to the far end of the axis. Nothing is ever sent beyond it.")),
    BOTH_AXES("motion", "speed", DT_KEY_NUMBER, DT_UNIT_SPEED, 0.1, 1000, "15 mm/s", "12 mm/s",
              speed,
              N_("The fastest speed at which the axis never loses a step, with some reserve.")),
    BOTH_AXES("motion", "acceleration", DT_KEY_NUMBER, DT_UNIT_ACCELERATION, 1, 50000, "150 mm/s2",
              "100 mm/s2", acceleration, N_("How quickly the axis may gain or lose speed.")),
    BOTH_AXES("motion", "pull_in", DT_KEY_NUMBER, DT_UNIT_SPEED, 0, 1000, "4 mm/s", "3 mm/s",
              pull_in,
              N_("The speed at which the motor may start, stop or reverse without a ramp "
                 "(its pull-in rate). 0: it always needs a ramp.")),
    BOTH_AXES("motion", "steps_per_mm", DT_KEY_NUMBER, DT_UNIT_PER_LENGTH, 0.5, 10000, NULL, NULL,
              steps_per_mm,
              N_("Half steps for one mm. Left out, it follows from the drive train.")),

    {"motion", "ink_tolerance", DT_KEY_NUMBER, DT_UNIT_LENGTH, 0, 1, "0.035 mm",
     FIELD(ink_tolerance),
     N_("By how much the ink may leave the planned line where that saves time: reversals that "
        "small are left out, corners rounded, and an axis turns round a little early, so that it "
        "takes up its lost motion while the other goes on. 0: as exactly as the motors can.")},

    BOTH_AXES("drive", "motor_steps", DT_KEY_NUMBER, DT_UNIT_NONE, 4, 100000, "64", "64",
              motor_steps, N_("Half steps in one turn of the motor itself, before its gear.")),
    BOTH_AXES("drive", "gear", DT_KEY_RATIO, DT_UNIT_NONE, 0.01, 10000, "25792/405", "25792/405",
              gear, N_("Motor turns for one turn of the pulley; a fraction keeps it exact.")),
    BOTH_AXES("drive", "pulley", DT_KEY_NUMBER, DT_UNIT_LENGTH, 0.5, 500, "12.4 mm", "12.4 mm",
              pulley_diameter, N_("Diameter of the pulley at the bottom of its groove.")),
    BOTH_AXES("drive", "cord", DT_KEY_NUMBER, DT_UNIT_LENGTH, 0, 20, "0.6 mm", "0.6 mm",
              cord_diameter, N_("Diameter of the cord.")),

    {"lift", "drop_time", DT_KEY_NUMBER, DT_UNIT_TIME, 0, 10, "0.15 s", FIELD(drop_s),
     N_("Time from the word that drops the pen until its tip rests on the paper.")},
    {"lift", "lift_time", DT_KEY_NUMBER, DT_UNIT_TIME, 0, 10, "0.1 s", FIELD(lift_s),
     N_("Time from the word that lifts the pen until its tip is clear of the paper.")},
    {"lift", "change_time", DT_KEY_NUMBER, DT_UNIT_TIME, 0, 3600, "60 s", FIELD(change_s),
     N_("What one pen change by hand takes; it is reported apart from the drawing time.")},
    {"lift", "change_at", DT_KEY_POINT, DT_UNIT_LENGTH, 0, 5000, "0, 0", FIELD(change_at),
     N_("Where the carriage waits, pen up, while the pen is changed.")},
    {"lift", "park", DT_KEY_POINT, DT_UNIT_LENGTH, 0, 5000, "0, 0", FIELD(park),
     N_("Where the carriage rests, pen up, after a drawing. 0, 0 is home.")},

    BOTH_AXES("corrections", "scale", DT_KEY_NUMBER, DT_UNIT_NONE, 0.8, 1.25, "1", "1", scale,
              N_("Length of a drawn line over the length that was asked for: 150.6 mm of ink for "
                 "150 mm is 1.004.")),
    {"corrections", "square", DT_KEY_NUMBER, DT_UNIT_ANGLE, -10 * G_PI / 180, 10 * G_PI / 180,
     "0 deg", FIELD(square),
     N_("How far the axes are from square. Positive where Y leans to the right, so that a drawn "
        "rectangle's upper edge is shifted to the right.")},
    BOTH_AXES(
        "corrections", "backlash", DT_KEY_TABLE, DT_UNIT_LENGTH, 0, 5, "0 mm", "0 mm", backlash,
        N_("Lost motion when the axis reverses, as measured on paper: one length, or where it "
           "changes along the axis a list of position:value in mm, 0:0.12 150:0.20 300:0.38.")),
    BOTH_AXES(
        "corrections", "position", DT_KEY_TABLE, DT_UNIT_LENGTH, -5, 5, "0 mm", "0 mm", position,
        N_("Where the axis is off its place although its scale is right, over the position along "
           "it: a list of position:error in mm, 0:0 100:0.15 200:-0.05, positive where the ink "
           "lies too far from home.")),
    BOTH_AXES("corrections", "straight", DT_KEY_TABLE, DT_UNIT_LENGTH, -5, 5, "0 mm", "0 mm",
              straight,
              N_("How far a line along the axis bows, over the position along it: a list of "
                 "position:shift in mm, positive towards + of the other axis.")),
    BOTH_AXES(
        "corrections", "pulley_error", DT_KEY_NUMBER, DT_UNIT_LENGTH, 0, 5, "0 mm", "0 mm",
        pulley_error,
        N_("Amplitude of the error that repeats with each turn of a pulley bored off centre.")),
    BOTH_AXES(
        "corrections", "pulley_phase", DT_KEY_NUMBER, DT_UNIT_ANGLE, -2 * G_PI, 2 * G_PI, "0 deg",
        "0 deg", pulley_phase,
        N_("Where that error stands at the origin: 0 deg where it is about to push the ink away "
           "from home.")),
    BOTH_AXES(
        "corrections", "twist", DT_KEY_TABLE, DT_UNIT_LENGTH, -2, 2, "0 mm", "0 mm", twist,
        N_("How far the axis shifts where the other one turns round, because its carriage is loose "
           "on its rails: one length or a list of position:shift in mm, positive where it shifts "
           "away from home as the other sets out away from home.")),

    {"supply", "voltage", DT_KEY_NUMBER, DT_UNIT_VOLTAGE, 1, 60, "5 V", FIELD(supply_v),
     N_("Voltage of the supply that feeds motors and board.")},
    {"supply", "current", DT_KEY_NUMBER, DT_UNIT_CURRENT, 0.05, 100, "2 A", FIELD(supply_a),
     N_("Current that the supply can give continuously; see its label.")},
    BOTH_AXES("supply", "motor_current", DT_KEY_NUMBER, DT_UNIT_CURRENT, 0, 20, "0.2 A", "0.2 A",
              motor_a,
              N_("Current of the motor with two windings on, which a half step can need.")),
    {"supply", "servo_current", DT_KEY_NUMBER, DT_UNIT_CURRENT, 0, 20, "0.65 A", FIELD(servo_a),
     N_("Current of the lifting servo when it is stalled, the worst case.")},
    {"supply", "board_current", DT_KEY_NUMBER, DT_UNIT_CURRENT, 0, 20, "0.1 A", FIELD(board_a),
     N_("Current of the board itself.")},

    {"controller", "bit_rate", DT_KEY_WHOLE, DT_UNIT_BIT_RATE, 300, 4000000, "115200 bit/s",
     FIELD(dialect.baud), N_("Bit rate of the serial line.")},
    {"controller", "greeting", DT_KEY_BYTES, DT_UNIT_NONE, 0, 80, "drawtrue controller",
     FIELD(dialect.greeting),
     N_("How its first line after a reset begins; empty where it sends none.")},
    {"controller", "accept", DT_KEY_BYTES, DT_UNIT_NONE, 0, 80, "taken", FIELD(dialect.accept),
     N_("How a reply begins that accepts a line.")},
    {"controller", "refuse", DT_KEY_BYTES, DT_UNIT_NONE, 0, 80, "refused", FIELD(dialect.refuse),
     N_("How a reply begins that refuses a line.")},
    {"controller", "notices", DT_KEY_BYTES, DT_UNIT_NONE, 0, 200, "", FIELD(dialect.notices),
     N_("How lines begin that it sends of its own accord and that answer nothing, separated by "
        "commas: "
        "busy, heat.")},
    {"controller", "reply_timeout", DT_KEY_NUMBER, DT_UNIT_TIME, 0.05, 600, "5 s",
     FIELD(dialect.reply_timeout_s),
     N_("How long it may keep silent over a line that moves nothing before it counts as lost.")},
    {"controller", "words", DT_KEY_TEXT, DT_UNIT_NONE, 0, 2000,
     "G0 G1 G2 G3 G4 G17 G20 G21 G28 G90 G91 G94 M0 M2 M3 M5 M30 F I J N P R S0..100 X Y",
     FIELD(dialect.words),
     N_("The words it accepts: whole G and M words, and the letters that carry numbers, S0..255 "
        "with a range, G4+P with what must stand beside it. Also comment:round, semicolon, both or "
        "none; gap:needed or free between words; dwell:s or ms; delete:taken or refused for lines "
        "that begin with a slash; expressions:taken or refused; untried:G2 for a word that learn "
        "could not try, which is not used until the mark is taken away.")},
    {"controller", "pen_down", DT_KEY_BYTES, DT_UNIT_NONE, 1, 80, "M3 S40", FIELD(dialect.pen_down),
     N_("The line that drops the pen.")},
    {"controller", "pen_up", DT_KEY_BYTES, DT_UNIT_NONE, 1, 80, "M5", FIELD(dialect.pen_up),
     N_("The line that lifts the pen.")},
    {"controller", "home", DT_KEY_BYTES, DT_UNIT_NONE, 0, 80, "G28", FIELD(dialect.home),
     N_("The line that homes both axes; empty where the machine is homed by hand.")},
    {"controller", "program_end", DT_KEY_BYTES, DT_UNIT_NONE, 0, 80, "M2",
     FIELD(dialect.program_end), N_("The last line of a program; empty: none.")},
    {"controller", "ask_state", DT_KEY_BYTES, DT_UNIT_NONE, 0, 16, "\\x05",
     FIELD(dialect.ask_state), N_("Sent to ask at once for its state; empty where it has none.")},
    {"controller", "hold", DT_KEY_BYTES, DT_UNIT_NONE, 0, 16, "\\x13", FIELD(dialect.hold),
     N_("Sent to halt the motion at once; empty where it has none.")},
    {"controller", "go_on", DT_KEY_BYTES, DT_UNIT_NONE, 0, 16, "\\x11\\x11", FIELD(dialect.go_on),
     N_("Sent to go on after a halt or a stop; empty where it has none. Our board wants its "
        "byte twice, so that no single byte of noise sets the machine going.")},
    {"controller", "abandon", DT_KEY_BYTES, DT_UNIT_NONE, 0, 16, "\\x18\\x18",
     FIELD(dialect.abandon),
     N_("Sent to abandon the job: stop, pen up, forget; empty where it has none. Our board wants "
        "its byte twice, so that no single byte of noise ends a job.")},
    {"controller", "window", DT_KEY_WHOLE, DT_UNIT_BYTES, 0, 65536, "128 bytes",
     FIELD(dialect.window),
     N_("Size of its receive buffer. 0: unknown, so each line waits for the reply to the "
        "last.")},
    {"controller", "blocks", DT_KEY_WHOLE, DT_UNIT_NONE, 1, 512, "16", FIELD(dialect.blocks),
     N_("How many moves it plans ahead. Where it has too few, or they come too slowly over the "
        "wire, it slows down.")},
    {"controller", "reply_delay", DT_KEY_NUMBER, DT_UNIT_TIME, 0, 10, "1 ms",
     FIELD(dialect.reply_delay_s),
     N_("Time from the end of a reply on the wire until this computer has read it.")},
    {"controller", "longest_line", DT_KEY_WHOLE, DT_UNIT_BYTES, 12, 4096, "80 bytes",
     FIELD(dialect.longest_line), N_("The longest line it accepts, not counting the line end.")},
    {"controller", "decimals", DT_KEY_WHOLE, DT_UNIT_NONE, 0, 6, "3", FIELD(dialect.decimals),
     N_("Digits after the point that it can use; 3 is a thousandth of a mm.")},
    {"controller", "line_check", DT_KEY_FLAG, DT_UNIT_NONE, 0, 0, "yes", FIELD(dialect.line_check),
     N_("Whether it checks the CRC that a comment at a line's end carries.")},
    {"controller", "settings", DT_KEY_FLAG, DT_UNIT_NONE, 0, 0, "no", FIELD(dialect.settings),
     N_("Whether it is our own board or another that gives its settings as our board does: each "
        "run then compares them with this profile and says what differs.")},

    {"board", "pen_up_pulse", DT_KEY_NUMBER, DT_UNIT_TIME, 1e-4, 3e-3, "1 ms",
     FIELD(pen_up_pulse_s), N_("Pulse width of the servo while the pen is up.")},
    {"board", "pen_pulse_per_s", DT_KEY_NUMBER, DT_UNIT_TIME, 0, 1e-4, "0.01 ms",
     FIELD(pen_pulse_per_s),
     N_("Added to the pulse width for each S of the line that drops the pen: with M3 S40, 40 "
        "times.")},
    {"board", "pen_fall_time", DT_KEY_NUMBER, DT_UNIT_TIME, 0, 10, "0 s", FIELD(pen_fall_s),
     N_("Time that the servo takes to lower the pen softly; 0: at once.")},
    {"board", "home_speed", DT_KEY_NUMBER, DT_UNIT_SPEED, 0.1, 1000, "8 mm/s", FIELD(home_speed),
     N_("Speed of homing, towards the switches.")},
    {"board", "home_pull_off", DT_KEY_NUMBER, DT_UNIT_LENGTH, 0.1, 50, "2 mm", FIELD(home_pull_off),
     N_("Distance from each switch to the origin; more than the axis's lost motion.")},
    {"board", "motor_rest", DT_KEY_NUMBER, DT_UNIT_TIME, 0, 60000, "120 s", FIELD(motor_rest_s),
     N_("Time at rest after which the motors are switched off; 0: never.")},
    {"board", "switch_time", DT_KEY_NUMBER, DT_UNIT_TIME, 0, 0.02, "0.15 ms", FIELD(switch_s),
     N_("Time for which a switch must stay pressed to count: longer than the spikes of the motors' "
        "noise.")},
    BOTH_AXES("board", "switch_opens", DT_KEY_FLAG, DT_UNIT_NONE, 0, 0, "no", "no", switch_opens,
              N_("Whether the axis's switch opens when it is pressed.")),
    BOTH_AXES("board", "motor_reversed", DT_KEY_FLAG, DT_UNIT_NONE, 0, 0, "no", "no",
              motor_reversed, N_("Whether the axis's motor turns the other way.")),

    {"paper", "size", DT_KEY_PAPER, DT_UNIT_NONE, 0, 40, "A5 landscape", FIELD(paper_name),
     N_("By its ISO 216 name, A0 to A10 or B0 to B10, upright unless landscape is said, or as "
        "WIDTHxHEIGHT in mm: 210x148.")},
    {"paper", "at", DT_KEY_POINT, DT_UNIT_LENGTH, -5000, 5000, "0, 0", FIELD(paper_at),
     N_("Where the sheet's lower left corner lies on the bed.")},
    {"paper", "margin", DT_KEY_NUMBER, DT_UNIT_LENGTH, 0, 1000, "10 mm", FIELD(margin),
     N_("Kept free on all four sides when a drawing is fitted to the sheet.")},

    {"pen", "colour", DT_KEY_COLOUR, DT_UNIT_NONE, 0, 0, "#000000", PEN(colour),
     N_("Colour of its ink on the paper; the artwork's colours go to the nearest pen.")},
    {"pen", "tip", DT_KEY_NUMBER, DT_UNIT_LENGTH, 0.02, 50, "0.4 mm", PEN(tip),
     N_("Width of its line.")},
    {"pen", "tip_life", DT_KEY_NUMBER, DT_UNIT_LENGTH, 0, 1e9, "0 m", PEN(tip_life),
     N_("Ink that a tip lays before it is worn, by its maker or by your own pens; 0: not known. "
        "The log counts against it.")},
    {"pen", "offset", DT_KEY_POINT, DT_UNIT_LENGTH, -100, 100, "0, 0", PEN(offset),
     N_("Where its tip sits in the holder, against the first pen's: to the right, and away from "
        "you.")},
    {"pen", "classes", DT_KEY_TEXT, DT_UNIT_NONE, 0, 1000, "", PEN(classes),
     N_("Artwork classes that it draws whatever their colour.")},
    {"pen", "groups", DT_KEY_TEXT, DT_UNIT_NONE, 0, 1000, "", PEN(groups),
     N_("Ids of artwork groups that it draws whatever their colour.")},
    {"pen", "dot_gain", DT_KEY_NUMBER, DT_UNIT_NONE, 1, 10, "1", PEN(dot_gain),
     N_("How much darker its hatches look than the paper that they cover, as the n of Yule and "
        "Nielsen. 1: not at all; 2: as on soft paper that scatters light.")},
    {"pen", "over", DT_KEY_TEXT, DT_UNIT_NONE, 0, 1000, "", PEN(over),
     N_("Measured colours where its ink lies on that of other pens, such as green #5a3a20, red "
        "#802020. Where none is given, inks multiply.")},
};
const gsize dt_n_keys = G_N_ELEMENTS(dt_keys);

static const struct {
    const char *section, *old, *name;
} renamed[] = {
    {"motion", "fastest_x", "speed_x"},
    {"motion", "fastest_y", "speed_y"},
};

const char *dt_key_name_now(const char *section, const char *name)
{
    for (gsize i = 0; i < G_N_ELEMENTS(renamed); i++)
        if (strcmp(renamed[i].section, section) == 0 && strcmp(renamed[i].old, name) == 0)
            return renamed[i].name;
    return name;
}

static gboolean in_range(const DtKey *k, double v)
{
    return v >= k->least && v <= k->most;
}

char *dt_key_range(const DtKey *k)
{
    double size = dt_value_unit_size(k->unit);
    const char *unit = dt_value_unit_name(k->unit);
    switch (k->type) {
    case DT_KEY_NUMBER:
    case DT_KEY_RATIO:
    case DT_KEY_WHOLE:
    case DT_KEY_POINT:
    case DT_KEY_TABLE:
        return g_strdup_printf(_("%g to %g%s%s"), k->least / size, k->most / size, *unit ? " " : "",
                               unit);
    default:
        return NULL;
    }
}

static gboolean refuse_range(const DtKey *k, const char *text, char **why)
{
    g_autofree char *range = dt_key_range(k);
    *why = g_strdup_printf(_("'%s' is out of range: %s"), text, range);
    return FALSE;
}

static gboolean set_text(const DtKey *k, char **field, const char *text, char **why)
{
    g_autofree char *bytes = NULL;
    if (k->type == DT_KEY_BYTES) {
        if (!dt_value_bytes(text, &bytes, why))
            return FALSE;
    } else {
        bytes = g_strdup(text);
        for (const char *c = bytes; *c; c++)
            if (g_ascii_iscntrl(*c)) {
                *why = g_strdup(_("it holds a control character"));
                return FALSE;
            }
    }
    if (!in_range(k, (double)strlen(bytes))) {
        *why = *bytes ? g_strdup_printf(_("it is longer than %g bytes"), k->most)
                      : g_strdup(_("it must not be empty"));
        return FALSE;
    }
    g_free(*field);
    *field = g_steal_pointer(&bytes);
    return TRUE;
}

static gboolean set_table(const DtKey *k, DtTable *field, const char *text, char **why)
{
    DtTable t;
    if (!dt_value_table(text, &t, why))
        return FALSE;
    gboolean good = TRUE;
    for (gsize i = 0; i < t.n && good; i++) {
        if (!in_range(k, t.value[i]))
            good = refuse_range(k, text, why);
        else if (i && ABS(t.value[i] - t.value[i - 1]) > 0.5 * (t.at[i] - t.at[i - 1])) {
            *why =
                g_strdup_printf(_("from %g to %g mm it changes by more than half of the way, which "
                                  "no drive does"),
                                t.at[i - 1], t.at[i]);
            good = FALSE;
        }
    }
    if (!good) {
        g_free(t.at);
        g_free(t.value);
        return FALSE;
    }
    dt_key_clear(k, (char *)field - k->offset);
    *field = t;
    return TRUE;
}

static gboolean set_paper(DtProfile *p, const char *text, char **why)
{
    g_autoptr(GError) error = NULL;
    double w, h;
    if (!dt_machine_paper(text, &w, &h, &error)) {
        *why = g_strdup(error->message);
        return FALSE;
    }
    p->paper_w = w;
    p->paper_h = h;
    return TRUE;
}

static gboolean set_number(const DtKey *k, double *field, const char *text, char **why)
{
    double v;
    if (k->type == DT_KEY_RATIO ? !dt_value_ratio(text, &v, why)
                                : !dt_value_number(text, k->unit, &v, why))
        return FALSE;
    if (!in_range(k, v))
        return refuse_range(k, text, why);
    *field = v;
    return TRUE;
}

static gboolean set_whole(const DtKey *k, int *field, const char *text, char **why)
{
    int v;
    if (!dt_value_whole(text, k->unit, &v, why))
        return FALSE;
    if (!in_range(k, v))
        return refuse_range(k, text, why);
    *field = v;
    return TRUE;
}

static gboolean set_point(const DtKey *k, DtPoint *field, const char *text, char **why)
{
    DtPoint v;
    if (!dt_value_point(text, &v, why))
        return FALSE;
    if (!in_range(k, v.x) || !in_range(k, v.y))
        return refuse_range(k, text, why);
    *field = v;
    return TRUE;
}

gboolean dt_key_set(const DtKey *k, gpointer base, const char *text, char **why)
{
    gpointer field = (char *)base + k->offset;
    switch (k->type) {
    case DT_KEY_NUMBER:
    case DT_KEY_RATIO:
        return set_number(k, field, text, why);
    case DT_KEY_WHOLE:
        return set_whole(k, field, text, why);
    case DT_KEY_FLAG:
        return dt_value_flag(text, field, why);
    case DT_KEY_POINT:
        return set_point(k, field, text, why);
    case DT_KEY_COLOUR:
        return dt_value_colour(text, field, why);
    case DT_KEY_TABLE:
        return set_table(k, field, text, why);
    case DT_KEY_PAPER:
        return set_paper(base, text, why) && set_text(k, field, text, why);
    case DT_KEY_TEXT:
    case DT_KEY_BYTES:
        return set_text(k, field, text, why);
    }
    return FALSE;
}

void dt_key_clear(const DtKey *k, gpointer base)
{
    gpointer field = (char *)base + k->offset;
    if (k->type == DT_KEY_TABLE) {
        DtTable *t = field;
        g_free(t->at);
        g_free(t->value);
        *t = (DtTable){NULL, NULL, 0};
    } else if (k->type == DT_KEY_TEXT || k->type == DT_KEY_BYTES || k->type == DT_KEY_PAPER) {
        g_clear_pointer((char **)field, g_free);
    }
}

void dt_key_own(const DtKey *k, gpointer base)
{
    gpointer field = (char *)base + k->offset;
    if (k->type == DT_KEY_TABLE) {
        DtTable *t = field;
        t->at = g_memdup2(t->at, t->n * sizeof *t->at);
        t->value = g_memdup2(t->value, t->n * sizeof *t->value);
    } else if (k->type == DT_KEY_TEXT || k->type == DT_KEY_BYTES || k->type == DT_KEY_PAPER) {
        *(char **)field = g_strdup(*(char **)field);
    }
}
