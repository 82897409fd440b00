/* keys: the rig file. One table is the only copy of each key's name, place, unit, range, default
 * and meaning; both the reader and the template use it. */
#include "inside.h"

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

typedef enum { NUMBER, YES_NO, TEXT, TABLE } Kind;

typedef struct {
    const char *section, *name;
    Kind kind;
    size_t offset;
    double least, most;
    const char *unit, *standard, *help;
} Key;

#define AT(field) offsetof(RigTruth, field)
#define AT_Y(field) (offsetof(RigTruth, field) + sizeof(double))

static const Key keys[] = {
    {"controller", "steps_per_mm_x", NUMBER, AT(steps_per_mm), 1, 3800, "half steps/mm", "100",
     N_("what the controller takes for a millimetre")},
    {"controller", "steps_per_mm_y", NUMBER, AT_Y(steps_per_mm), 1, 3800, "half steps/mm", "100",
     ""},
    {"controller", "speed_x", NUMBER, AT(speed), 0.1, 1000, "mm/s", "15", N_("fastest")},
    {"controller", "speed_y", NUMBER, AT_Y(speed), 0.1, 1000, "mm/s", "12", ""},
    {"controller", "acceleration_x", NUMBER, AT(acceleration), 1, 100000, "mm/s2", "150", ""},
    {"controller", "acceleration_y", NUMBER, AT_Y(acceleration), 1, 100000, "mm/s2", "100", ""},
    {"controller", "pull_in_x", NUMBER, AT(pull_in), 0, 100, "mm/s", "4",
     N_("speed at which the motor starts, stops or reverses without a ramp")},
    {"controller", "pull_in_y", NUMBER, AT_Y(pull_in), 0, 100, "mm/s", "3", ""},
    {"controller", "travel_x", NUMBER, AT(travel), 10, 2000, "mm", "300",
     N_("from the origin; moves beyond are refused")},
    {"controller", "travel_y", NUMBER, AT_Y(travel), 10, 2000, "mm", "220", ""},
    {"controller", "home_speed", NUMBER, AT(home_speed), 0.1, 100, "mm/s", "8", ""},
    {"controller", "pull_off", NUMBER, AT(pull_off), 0.1, 50, "mm", "2",
     N_("from the switch to the origin")},
    {"controller", "chord", NUMBER, AT(chord), 0.0001, 1, "mm", "0.005",
     N_("by which a chord may miss its arc")},
    {"controller", "pen_up_us", NUMBER, AT(pen_up_us), 100, 3000, "us", "1000",
     N_("servo pulse at M5")},
    {"controller", "pen_us_per_s", NUMBER, AT(pen_us_per_s), 0, 100, "us", "10",
     N_("M3 Sn: pen_up_us + n * pen_us_per_s, n up to 100")},
    {"controller", "pen_wait_s", NUMBER, AT(pen_wait_s), 0, 10, "s", "0",
     N_("waited by the controller itself after M3 and M5")},
    {"controller", "settle_s", NUMBER, AT(settle_s), 0, 10, "s", "0.3",
     N_("waited after the pen is put down again when a hold ends")},

    {"truth", "scale_x", NUMBER, AT(scale), 0.5, 2, "", "1.008", N_("true mm per commanded mm")},
    {"truth", "scale_y", NUMBER, AT_Y(scale), 0.5, 2, "", "0.994", ""},
    {"truth", "square", NUMBER, AT(square_deg), -10, 10, "degrees", "0.4",
     N_("angle between the axes less a right angle")},
    {"truth", "backlash_x", TABLE, AT(backlash[0]), 0, 10, "mm", "0:0.12 300:0.38",
     N_("lost motion, or position:lost motion pairs")},
    {"truth", "backlash_y", TABLE, AT(backlash[1]), 0, 10, "mm", "0.45", ""},
    {"truth", "wave", NUMBER, AT(wave), 0, 10, "mm", "0.05",
     N_("straightness deviation of both rails, peak to valley (ISO 230-1)")},
    {"truth", "wave_length", NUMBER, AT(wave_length), 1, 10000, "mm", "140", ""},
    {"truth", "start_x", NUMBER, AT(start), -1, 2000, "mm", "37.3", N_("the carriage at power on")},
    {"truth", "start_y", NUMBER, AT_Y(start), -1, 2000, "mm", "52.8", ""},
    {"truth", "over_low", NUMBER, AT(over_low), 0.1, 100, "mm", "1.5",
     N_("from switch to end stop")},
    {"truth", "over_high", NUMBER, AT(over_high), 0, 100, "mm", "3",
     N_("from the far end of the travel to its stop")},
    {"truth", "home_corner", TEXT, AT(corner), 0, 0, "", "lower-left",
     N_("where the switches are: lower-left, lower-right, upper-left or upper-right of the bed")},
    {"truth", "torque_x", NUMBER, AT(torque), 0, 1e7, "mm/s2", "0",
     N_("acceleration that the motor's peak torque gives its whole load at standstill; 0: it never "
        "loses a step")},
    {"truth", "torque_y", NUMBER, AT_Y(torque), 0, 1e7, "mm/s2", "0", ""},
    {"truth", "no_load_x", NUMBER, AT(no_load), 0.1, 10000, "mm/s", "60",
     N_("speed at which nothing is left of the torque; it falls in a straight line")},
    {"truth", "no_load_y", NUMBER, AT_Y(no_load), 0.1, 10000, "mm/s", "60", ""},
    {"truth", "friction_x", NUMBER, AT(friction), 0, 1e6, "mm/s2", "0",
     N_("deceleration by friction, which the torque has to overcome")},
    {"truth", "friction_y", NUMBER, AT_Y(friction), 0, 1e6, "mm/s2", "0", ""},
    {"truth", "ring_x", NUMBER, AT(ring_hz), 0, 1000, "Hz", "0",
     N_("at which the carriage swings on its cord; 0: a rigid cord")},
    {"truth", "ring_y", NUMBER, AT_Y(ring_hz), 0, 1000, "Hz", "0", ""},
    {"truth", "ring_damping_x", NUMBER, AT(ring_damping), 0.001, 2, "", "0.1", N_("damping ratio")},
    {"truth", "ring_damping_y", NUMBER, AT_Y(ring_damping), 0.001, 2, "", "0.1", ""},
    {"truth", "pulley_x", NUMBER, AT(pulley), 0, 5, "mm", "0",
     N_("amplitude of the position error of a pulley bored off centre")},
    {"truth", "pulley_y", NUMBER, AT_Y(pulley), 0, 5, "mm", "0", ""},
    {"truth", "pulley_period_x", NUMBER, AT(pulley_period), 0.1, 1000, "mm", "40.84",
     N_("one turn of it: pi times (pulley + cord)")},
    {"truth", "pulley_period_y", NUMBER, AT_Y(pulley_period), 0.1, 1000, "mm", "40.84", ""},
    {"truth", "pulley_phase_x", NUMBER, AT(pulley_phase), -360, 360, "degrees", "0",
     N_("at the origin")},
    {"truth", "pulley_phase_y", NUMBER, AT_Y(pulley_phase), -360, 360, "degrees", "0", ""},
    {"truth", "gear_x", NUMBER, AT(gear), 0, 5, "mm", "0",
     N_("amplitude of the position error of the gear's teeth")},
    {"truth", "gear_y", NUMBER, AT_Y(gear), 0, 5, "mm", "0", ""},
    {"truth", "gear_period_x", NUMBER, AT(gear_period), 0.01, 1000, "mm", "1.5", N_("one tooth")},
    {"truth", "gear_period_y", NUMBER, AT_Y(gear_period), 0.01, 1000, "mm", "1.5", ""},
    {"truth", "slack_scatter_x", NUMBER, AT(slack_scatter), 0, 2, "mm", "0",
     N_("standard deviation of the lost motion from reversal to reversal")},
    {"truth", "slack_scatter_y", NUMBER, AT_Y(slack_scatter), 0, 2, "mm", "0", ""},
    {"truth", "position_x", TABLE, AT(position[0]), -10, 10, "mm", "",
     N_("position error along the rail, added to that of the scale: position:error pairs")},
    {"truth", "position_y", TABLE, AT(position[1]), -10, 10, "mm", "", ""},
    {"truth", "straight_x", TABLE, AT(straight[0]), -10, 10, "mm", "",
     N_("straightness: shift across the rail of X, over the position along it")},
    {"truth", "straight_y", TABLE, AT(straight[1]), -10, 10, "mm", "", ""},
    {"truth", "twist_x", TABLE, AT(twist[0]), -10, 10, "mm", "",
     N_("shift along X when Y turns round, over the position along X (a carriage that is loose on "
        "its rails)")},
    {"truth", "twist_y", TABLE, AT(twist[1]), -10, 10, "mm", "", ""},
    {"truth", "twist_way", NUMBER, AT(twist_way), 0.001, 10, "mm", "0.3",
     N_("travel of the other axis over which the twist happens")},
    {"truth", "switch_scatter", NUMBER, AT(switch_scatter), 0, 2, "mm", "0",
     N_("standard deviation of where a switch closes")},
    {"truth", "drift_x", NUMBER, AT(drift), -10, 10, "mm/h", "0", N_("of the origin, over time")},
    {"truth", "drift_y", NUMBER, AT_Y(drift), -10, 10, "mm/h", "0", ""},

    {"pen", "drop_s", NUMBER, AT(drop_s), 0, 10, "s", "0.12", N_("until the pen is on the paper")},
    {"pen", "lift_s", NUMBER, AT(lift_s), 0, 10, "s", "0.08", N_("until it is off the paper")},
    {"pen", "down_us", NUMBER, AT(pen_down_us), 100, 3000, "us", "1250",
     N_("servo pulse from which on the pen drops")},
    {"pen", "play", NUMBER, AT(play), 0, 5, "mm", "0",
     N_("of the tip in its holder: it is dragged behind by half of it")},
    {"pen", "bounce_s", NUMBER, AT(bounce_s), 0, 1, "s", "0",
     N_("how long a fallen pen leaves the paper again; each bounce is half as long as the last")},
    {"pen", "order", TEXT, AT(pen_order), 0, 0, "", "",
     N_("pens in the order in which they are inserted, separated by spaces, where no comment (pen "
        "NAME) names them")},
    {"pen", "merge", NUMBER, AT(merge), 1e-6, 1, "mm", "0.008",
     N_("ink points closer than this to a straight line are left out")},

    {"board", "baud", NUMBER, AT(baud), 300, 10000000, "bit/s", "115200",
     N_("8N1: 10 bits a byte")},
    {"board", "rx_bytes", NUMBER, AT(rx_bytes), 16, 4096, "bytes", "128",
     N_("receive buffer; what comes beyond it is lost")},
    {"board", "boot_s", NUMBER, AT(boot_s), 0, 60, "s", "0",
     N_("from reset to greeting; bytes that come meanwhile are lost")},
    {"board", "reply_delay_s", NUMBER, AT(reply_delay_s), 0, 10, "s", "0",
     N_("from the end of a reply on the wire until the sender has read it")},
    {"board", "reset_on_open", YES_NO, AT(reset_on_open), 0, 0, "", "yes",
     N_("opening the port resets the board")},

    {"vocabulary", "words", TEXT, AT(words), 0, 0, "", "",
     N_("words it accepts, separated by spaces; empty: all that the core has")},
    {"vocabulary", "spaces", YES_NO, AT(spaces), 0, 0, "", "no",
     N_("words must be separated by a space")},
    {"vocabulary", "comments", YES_NO, AT(comments), 0, 0, "", "yes", N_("comments are accepted")},
    {"vocabulary", "check", YES_NO, AT(check), 0, 0, "", "yes",
     N_("the check of a line is verified")},
    {"vocabulary", "ask", YES_NO, AT(ask), 0, 0, "", "yes", N_("ENQ is answered with the state")},
    {"vocabulary", "hold", YES_NO, AT(hold), 0, 0, "", "yes", N_("DC1, DC3 and CAN act at once")},
    {"vocabulary", "longest_line", NUMBER, AT(longest_line), 0, 255, "bytes", "0",
     N_("longer lines are refused; 0: as long as the buffer")},
    {"vocabulary", "accept", TEXT, AT(accept), 0, 0, "", "taken",
     N_("reply to a line that is taken")},
    {"vocabulary", "refuse", TEXT, AT(refuse), 0, 0, "", "refused", N_("reply to one that is not")},
    {"vocabulary", "numbers", YES_NO, AT(numbers), 0, 0, "", "yes",
     N_("replies carry the line's number")},
    {"vocabulary", "greeting", TEXT, AT(greeting), 0, 0, "", "drawtrue controller 1 ready",
     N_("first line after a reset; empty: none")},

    {"scan", "sheet_w", NUMBER, AT(scan.sheet), 10, 2000, "mm", "210", N_("the sheet's width")},
    {"scan", "sheet_h", NUMBER, AT_Y(scan.sheet), 10, 2000, "mm", "148", N_("and height")},
    {"scan", "sheet_x", NUMBER, AT(scan.sheet_at), -1000, 2000, "mm", "0",
     N_("its lower left corner on the bed")},
    {"scan", "sheet_y", NUMBER, AT_Y(scan.sheet_at), -1000, 2000, "mm", "0", ""},
    {"scan", "dpi", NUMBER, AT(scan.dpi), 50, 1200, "dpi", "300", N_("resolution")},
    {"scan", "turn", NUMBER, AT(scan.turn), 0, 3, "quarters", "0",
     N_("how the sheet lies on the glass, clockwise")},
    {"scan", "rotation", NUMBER, AT(scan.rotation), -45, 45, "degrees", "0",
     N_("and how far off that")},
    {"scan", "skew", NUMBER, AT(scan.skew), -5, 5, "degrees", "0",
     N_("between the scanner's two axes, less a right angle")},
    {"scan", "scale_x", NUMBER, AT(scan.scale), 0.9, 1.1, "", "1", N_("of its line of sensors")},
    {"scan", "scale_y", NUMBER, AT_Y(scan.scale), 0.9, 1.1, "", "1", N_("of its carriage")},
    {"scan", "wave", NUMBER, AT(scan.wave), 0, 2, "mm", "0",
     N_("waviness of its carriage, peak to valley, along and across")},
    {"scan", "wave_length", NUMBER, AT(scan.wave_length), 1, 1000, "mm", "90", ""},
    {"scan", "border", NUMBER, AT(scan.border), 0, 100, "mm", "4", N_("seen around the sheet")},
    {"scan", "blur", NUMBER, AT(scan.blur), 0, 2, "mm", "0.04",
     N_("standard deviation of the lens")},
    {"scan", "spread", NUMBER, AT(scan.spread), 0, 20, "mm", "0",
     N_("standard deviation by which light spreads in the paper, so that hatches look darker")},
    {"scan", "noise", NUMBER, AT(scan.noise), 0, 64, "levels of 255", "2",
     N_("standard deviation")},
    {"scan", "paper", NUMBER, AT(scan.paper), 0, 1, "", "0.95", N_("brightness of the paper")},
    {"scan", "lid", NUMBER, AT(scan.lid), 0, 1, "", "0.8", N_("brightness of the scanner's lid")},
    {"scan", "uneven", NUMBER, AT(scan.uneven), 0, 0.9, "", "0.1",
     N_("share by which the width of a line varies along it")},
    {"scan", "quality", NUMBER, AT(scan.quality), 1, 100, "", "90", N_("of a JPEG file")},
    {"scan", "card", NUMBER, AT(scan.card), -1, 1, "", "-1",
     N_("brightness of a card on the glass; below 0: no card")},
    {"scan", "card_x", NUMBER, AT(scan.card_at), 0, 2000, "mm", "60",
     N_("its middle, from the left edge of what is scanned")},
    {"scan", "card_y", NUMBER, AT_Y(scan.card_at), 0, 2000, "mm", "40",
     N_("and from the upper edge")},
    {"scan", "card_turn", NUMBER, AT(scan.card_turn), -180, 180, "degrees", "0",
     N_("of its long side, clockwise")},
    {"scan", "card_w", NUMBER, AT(scan.card_size), 10, 200, "mm", "85.60", N_("its size")},
    {"scan", "card_h", NUMBER, AT_Y(scan.card_size), 10, 200, "mm", "53.98", ""},
    {"scan", "seed", NUMBER, AT(scan.seed), 0, 4294967295.0, "", "1", N_("of the noise")},

    {"faults", "seed", NUMBER, AT(seed), 0, 4294967295.0, "", "1", N_("of the random numbers")},
    {"faults", "list", TEXT, AT(faults), 0, 0, "", "",
     N_("what goes wrong: KIND [AMOUNT] [x|y] at byte|line|time|every N; ...")},
};

typedef struct {
    const char *name;
    const char *text;
    GError **error;
} Where;

/* The line of a key in the file, 0 if it cannot be found. */
static int find_line(const char *text, const char *section, const char *key)
{
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    gboolean inside = FALSE;
    for (int i = 0; lines[i]; i++) {
        char *line = g_strstrip(lines[i]);
        if (*line == '[') {
            g_autofree char *head = g_strdup_printf("[%s]", section);
            inside = g_str_has_prefix(line, head);
            if (inside && key == NULL)
                return i + 1;
        } else if (inside && key && g_str_has_prefix(line, key)) {
            const char *rest = line + strlen(key);
            if (*g_strchug((char *)rest) == '=' || *rest == ' ')
                return i + 1;
        }
    }
    return 0;
}

static gboolean complain(const Where *w, const char *section, const char *key, const char *format,
                         ...) G_GNUC_PRINTF(4, 5);

static gboolean complain(const Where *w, const char *section, const char *key, const char *format,
                         ...)
{
    va_list args;
    va_start(args, format);
    g_autofree char *message = g_strdup_vprintf(_(format), args);
    va_end(args);
    g_set_error(w->error, DT_ERROR, DT_ERROR_INPUT, "%s:%d: %s", w->name,
                find_line(w->text, section, key), message);
    return FALSE;
}

static gboolean read_double(const char *text, double *value)
{
    char *end;
    *value = g_ascii_strtod(text, &end);
    return end != text && *end == '\0' && isfinite(*value);
}

static gboolean read_table(const Where *w, const Key *k, const char *text, RigTable *t)
{
    g_auto(GStrv) parts = g_strsplit_set(text, " \t", -1);
    t->n = 0;
    for (int i = 0; parts[i]; i++) {
        if (*parts[i] == '\0')
            continue;
        char *colon = strchr(parts[i], ':');
        double at = 0, value;
        if (colon)
            *colon = '\0';
        if (!read_double(colon ? colon + 1 : parts[i], &value) ||
            (colon && !read_double(parts[i], &at)))
            return complain(w, k->section, k->name, "%s: not a number: '%s'", k->name, parts[i]);
        if (value < k->least || value > k->most)
            return complain(w, k->section, k->name, "%s: %g is not from %g to %g mm", k->name,
                            value, k->least, k->most);
        if (t->n == G_N_ELEMENTS(t->at) || (t->n > 0 && at <= t->at[t->n - 1]))
            return complain(w, k->section, k->name, "%s: up to %u pairs in rising position",
                            k->name, (unsigned)G_N_ELEMENTS(t->at));
        t->at[t->n] = at;
        t->value[t->n++] = value;
    }
    return TRUE;
}

static gboolean store(const Where *w, const Key *k, const char *text, RigTruth *t)
{
    char *field = (char *)t + k->offset;
    switch (k->kind) {
    case NUMBER: {
        double value;
        if (!read_double(text, &value))
            return complain(w, k->section, k->name, "%s: not a number: '%s'", k->name, text);
        if (value < k->least || value > k->most)
            return complain(w, k->section, k->name, "%s: %s is not from %g to %g %s", k->name, text,
                            k->least, k->most, k->unit);
        memcpy(field, &value, sizeof value);
        return TRUE;
    }
    case YES_NO: {
        gboolean yes = strcmp(text, "yes") == 0;
        if (!yes && strcmp(text, "no") != 0)
            return complain(w, k->section, k->name, "%s: 'yes' or 'no', not '%s'", k->name, text);
        memcpy(field, &yes, sizeof yes);
        return TRUE;
    }
    case TEXT: {
        char *copy = g_strdup(text);
        g_free(*(char **)(void *)field);
        memcpy(field, &copy, sizeof copy);
        return TRUE;
    }
    default:
        return read_table(w, k, text, (RigTable *)(void *)field);
    }
}

static const Key *find_key(const char *section, const char *name)
{
    for (gsize i = 0; i < G_N_ELEMENTS(keys); i++)
        if (strcmp(keys[i].section, section) == 0 && strcmp(keys[i].name, name) == 0)
            return &keys[i];
    return NULL;
}

static gboolean no_such_key(const Where *w, const char *section, const char *name)
{
    const Key *nearest = &keys[0];
    for (gsize i = 1; i < G_N_ELEMENTS(keys); i++)
        if (dt_base_edit_distance(name, keys[i].name) < dt_base_edit_distance(name, nearest->name))
            nearest = &keys[i];
    return complain(w, section, name, "no key '%s' in [%s]; did you mean '%s' in [%s]?", name,
                    section, nearest->name, nearest->section);
}

/* A pen: "#1a2b3c 0.4", and where its tip sits in the holder, "#1a2b3c 0.4 0.3 -0.2". */
static gboolean read_pen(const Where *w, const char *name, const char *text, RigTruth *t)
{
    unsigned r, g, b;
    char tip[32], across[32] = "0", along[32] = "0";
    double width, offset[2];
    const int n = sscanf(text, "#%2x%2x%2x %31s %31s %31s", &r, &g, &b, tip, across, along);
    if ((n != 4 && n != 6) || !read_double(tip, &width) || width <= 0 || width > 20)
        return complain(w, "pens", name, "%s: a colour and a tip width, like '#1a2b3c 0.4'", name);
    if (!read_double(across, &offset[0]) || !read_double(along, &offset[1]) ||
        fabs(offset[0]) > 50 || fabs(offset[1]) > 50)
        return complain(w, "pens", name, "%s: the place in the holder is two numbers up to 50 mm",
                        name);
    t->pens = g_renew(RigPen, t->pens, t->n_pens + 1);
    t->pens[t->n_pens++] =
        (RigPen){g_strdup(name), r / 255.0, g / 255.0, b / 255.0, width, {offset[0], offset[1]}};
    return TRUE;
}

static gboolean read_section(const Where *w, GKeyFile *file, const char *section, RigTruth *t)
{
    g_auto(GStrv) names = g_key_file_get_keys(file, section, NULL, NULL);
    for (int i = 0; names && names[i]; i++) {
        g_autofree char *text = g_key_file_get_string(file, section, names[i], NULL);
        if (text == NULL)
            return complain(w, section, names[i], "%s: cannot be read", names[i]);
        g_strchomp(text);
        if (strcmp(section, "pens") == 0) {
            if (!read_pen(w, names[i], text, t))
                return FALSE;
            continue;
        }
        const Key *k = find_key(section, names[i]);
        if (k == NULL)
            return no_such_key(w, section, names[i]);
        if (!store(w, k, text, t))
            return FALSE;
    }
    return TRUE;
}

static gboolean is_section(const char *name)
{
    for (gsize i = 0; i < G_N_ELEMENTS(keys); i++)
        if (strcmp(keys[i].section, name) == 0)
            return TRUE;
    return strcmp(name, "pens") == 0;
}

static gboolean check_words(const Where *w, const RigTruth *t)
{
    g_auto(GStrv) words = g_strsplit_set(t->words, " \t", -1);
    for (int i = 0; words[i]; i++) {
        double number = 0;
        if (*words[i] == '\0')
            continue;
        if (words[i][1] != '\0' && !read_double(words[i] + 1, &number))
            return complain(w, "vocabulary", "words", "words: '%s' is not a word", words[i]);
        if (dt_controller_word_row(words[i][0], (uint16_t)(number * 10)) < 0)
            return complain(w, "vocabulary", "words", "words: the core has no word '%s'", words[i]);
    }
    return TRUE;
}

static gboolean check_corner(const Where *w, const RigTruth *t)
{
    static const char *const corners[] = {"lower-left", "lower-right", "upper-left", "upper-right",
                                          NULL};
    return g_strv_contains(corners, t->corner) ||
           complain(w, "truth", "home_corner", "home_corner: '%s' is not one of the four corners",
                    t->corner);
}

gboolean dt_rig_truth_read(RigTruth *t, const char *text, const char *name, GError **error)
{
    *t = (RigTruth){0};
    Where w = {name, text, error};
    for (gsize i = 0; i < G_N_ELEMENTS(keys); i++)
        store(&w, &keys[i], keys[i].standard, t);
    g_autoptr(GKeyFile) file = g_key_file_new();
    g_autoptr(GError) parse = NULL;
    if (!g_key_file_load_from_data(file, text, strlen(text), G_KEY_FILE_NONE, &parse)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", name, parse->message);
        return FALSE;
    }
    g_auto(GStrv) sections = g_key_file_get_groups(file, NULL);
    for (int i = 0; sections[i]; i++) {
        if (!is_section(sections[i]))
            return complain(&w, sections[i], NULL, "no section [%s]", sections[i]);
        if (!read_section(&w, file, sections[i], t))
            return FALSE;
    }
    return check_corner(&w, t) && check_words(&w, t);
}

void dt_rig_truth_clear(RigTruth *t)
{
    for (gsize i = 0; i < G_N_ELEMENTS(keys); i++)
        if (keys[i].kind == TEXT)
            g_free(*(char **)(void *)((char *)t + keys[i].offset));
    for (unsigned i = 0; i < t->n_pens; i++)
        g_free(t->pens[i].name);
    g_free(t->pens);
}

static uint32_t word_mask(const char *text)
{
    g_auto(GStrv) words = g_strsplit_set(text, " \t", -1);
    uint32_t mask = 0;
    for (int i = 0; words[i]; i++) {
        if (*words[i] == '\0')
            continue;
        double tenths = words[i][1] ? g_ascii_strtod(words[i] + 1, NULL) * 10 : 0;
        mask |= 1u << dt_controller_word_row(words[i][0], (uint16_t)tenths);
    }
    return mask ? mask : UINT32_MAX;
}

void dt_rig_truth_settings(const RigTruth *t, DtSettings *out)
{
    *out = dt_settings_default;
    for (int i = 0; i < 2; i++) {
        out->steps_per_mm[i] = (float)t->steps_per_mm[i];
        out->speed[i] = (float)t->speed[i];
        out->acceleration[i] = (float)t->acceleration[i];
        out->pull_in[i] = (float)t->pull_in[i];
        out->travel[i] = (float)t->travel[i];
    }
    out->home_speed = (float)t->home_speed;
    out->pull_off = (float)t->pull_off;
    out->chord = (float)t->chord;
    out->pen_up_us = (uint16_t)t->pen_up_us;
    out->pen_us_per_s = (uint16_t)t->pen_us_per_s;
    out->pen_wait_ms = (uint16_t)(t->pen_wait_s * 1000);
    out->settle_ms = (uint16_t)(t->settle_s * 1000);
    out->longest_line = (uint16_t)t->longest_line;
    out->rx_bytes = (uint16_t)t->rx_bytes;
    out->words = word_mask(t->words);
    out->quirks =
        (uint8_t)((t->spaces ? DT_QUIRK_SPACES : 0) | (t->comments ? 0 : DT_QUIRK_NO_COMMENTS) |
                  (t->check ? 0 : DT_QUIRK_NO_CHECK) | (t->ask ? 0 : DT_QUIRK_NO_ASK) |
                  (t->hold ? 0 : DT_QUIRK_NO_HOLD));
}

const RigPen *dt_rig_truth_pen(const RigTruth *t, const char *name)
{
    static const RigPen standard[] = {
        {(char *)"black", 0.10, 0.10, 0.12, 0.4, {0, 0}},
        {(char *)"red", 0.80, 0.12, 0.12, 0.4, {0, 0}},
        {(char *)"blue", 0.10, 0.25, 0.70, 0.4, {0, 0}},
        {(char *)"green", 0.10, 0.50, 0.22, 0.4, {0, 0}},
        {(char *)"brown", 0.45, 0.28, 0.12, 0.4, {0, 0}},
        {(char *)"orange", 0.90, 0.45, 0.05, 0.4, {0, 0}},
        {(char *)"violet", 0.45, 0.15, 0.55, 0.4, {0, 0}},
        {(char *)"pen", 0.10, 0.10, 0.12, 0.4, {0, 0}},
    };
    for (unsigned i = 0; i < t->n_pens; i++)
        if (strcmp(t->pens[i].name, name) == 0)
            return &t->pens[i];
    for (gsize i = 0; i < G_N_ELEMENTS(standard); i++)
        if (strcmp(standard[i].name, name) == 0)
            return &standard[i];
    return &standard[g_str_hash(name) % (G_N_ELEMENTS(standard) - 1)];
}

char *dt_rig_template(void)
{
    GString *s = g_string_new(_("# The truth of a virtual machine. Every key may be left out.\n"));
    const char *section = "";
    for (gsize i = 0; i < G_N_ELEMENTS(keys); i++) {
        const Key *k = &keys[i];
        if (strcmp(section, k->section) != 0)
            g_string_append_printf(s, "\n[%s]\n", k->section);
        section = k->section;
        if (*k->help || *k->unit) {
            const char *between = *k->help && *k->unit ? ", " : "";
            g_string_append_printf(s, "# %s%s%s", dt_messages_find(k->help), between, k->unit);
            if (k->kind == NUMBER || k->kind == TABLE)
                g_string_append_printf(s, _(" (%g to %.10g)"), k->least, k->most);
            g_string_append_c(s, '\n');
        }
        g_string_append_printf(s, "%s = %s\n", k->name, k->standard);
    }
    g_string_append(s, _("\n# Pens: name = #colour tip-width-in-mm, and where the tip sits in the "
                         "holder: x y in mm\n"));
    g_string_append(s, "[pens]\n");
    return g_string_free(s, FALSE);
}
