/* words: parses a line of RS-274 into its words, strictly: each letter once, each modal group
 * once (NISTIR 6556 table 4), nothing that is not understood. */
#include "core.h"

typedef struct {
    char letter;
    uint8_t group;
    uint16_t tenths;
} Word;

/* Every G and M word that this controller has; the value letters follow them in the numbering of
 * DtSettings.words. */
static const DTC_FLASH Word words[] = {
    {'G', DTC_GROUP_MOTION, 0},     {'G', DTC_GROUP_MOTION, 10},    {'G', DTC_GROUP_MOTION, 20},
    {'G', DTC_GROUP_MOTION, 30},    {'G', DTC_GROUP_ONCE, 40},      {'G', DTC_GROUP_PLANE, 170},
    {'G', DTC_GROUP_UNITS, 200},    {'G', DTC_GROUP_UNITS, 210},    {'G', DTC_GROUP_ONCE, 280},
    {'G', DTC_GROUP_DISTANCE, 900}, {'G', DTC_GROUP_DISTANCE, 910}, {'G', DTC_GROUP_FEED_MODE, 940},
    {'M', DTC_GROUP_STOP, 0},       {'M', DTC_GROUP_STOP, 20},      {'M', DTC_GROUP_STOP, 300},
    {'M', DTC_GROUP_SPINDLE, 30},   {'M', DTC_GROUP_SPINDLE, 50},
};
enum { WORDS = sizeof words / sizeof words[0] };

static const DTC_FLASH char letters[DTC_VALUES] = {'N', 'X', 'Y', 'I', 'J', 'R', 'F', 'S', 'P'};

char dtc_value_letter(int slot)
{
    return letters[slot];
}

static int value_slot(char letter)
{
    int slot = 0;
    while (slot < DTC_VALUES && letters[slot] != letter)
        slot++;
    return slot;
}

int dt_controller_word_row(char letter, uint16_t tenths)
{
    for (int row = 0; row < WORDS; row++)
        if (words[row].letter == letter && words[row].tenths == tenths)
            return row;
    int slot = value_slot(letter);
    return slot < DTC_VALUES ? WORDS + slot : -1;
}

/* The parser's position. */
typedef struct {
    DtController *c;
    DtRxCount at, end;
    uint8_t byte;     /* the present byte; 0 at the end */
    bool word_before; /* the last byte belonged to a word */
} Reader;

static void look(Reader *r)
{
    r->byte = r->at < r->end ? dtc_rx(r->c, r->at) : 0;
}

static void go_on(Reader *r)
{
    r->at++;
    look(r);
}

static void skip_spaces(Reader *r)
{
    while (r->byte == ' ' || r->byte == '\t') {
        go_on(r);
        r->word_before = false;
    }
}

static DtcReason skip_comment(Reader *r)
{
    if (r->c->set->quirks & DT_QUIRK_NO_COMMENTS)
        return DTC_NO_COMMENTS;
    for (go_on(r); r->at < r->end; go_on(r)) {
        if (r->byte == '(')
            return DTC_COMMENT;
        if (r->byte == DTC_LOST) {
            r->c->detail = (char)DTC_LOST;
            return DTC_CHARACTER;
        }
        if (r->byte == ')') {
            go_on(r);
            r->word_before = false;
            return DTC_FINE;
        }
    }
    return DTC_COMMENT;
}

/* RS-274 allows spaces anywhere in a number. */
static DtcReason read_number(Reader *r, DtcNumber *n)
{
    bool digits = false, point = false;
    *n = (DtcNumber){0, 0, 0, false};
    skip_spaces(r);
    if (r->byte == '+' || r->byte == '-') {
        n->negative = r->byte == '-';
        go_on(r);
    }
    for (;; go_on(r)) {
        uint8_t ch = r->byte;
        if (ch == ' ' || ch == '\t') {
            continue;
        } else if (ch == '.' && !point) {
            point = true;
        } else if (ch >= '0' && ch <= '9') {
            uint8_t digit = (uint8_t)(ch - '0');
            digits = true;
            if (point && n->places == 9) {
                continue;
            } else if (point) {
                n->part = n->part * 10 + digit;
                n->places++;
            } else if (n->whole > 99999999) {
                return DTC_LARGE;
            } else {
                n->whole = n->whole * 10 + digit;
            }
        } else {
            break;
        }
    }
    return digits ? DTC_FINE : DTC_NUMBER;
}

static bool is_taken(const DtController *c, int row)
{
    const uint32_t allowed = c->set->words;
    return row >= 0 && (allowed == UINT32_MAX || (allowed >> row & 1) != 0);
}

static DtcReason add_code(DtController *c, DtcWords *w, char letter, const DtcNumber *n)
{
    c->detail_number = n->whole;
    /* No word of this controller has a decimal. */
    const bool odd = n->negative || n->part || n->whole > 999;
    const uint16_t tenths = (uint16_t)(n->whole * 10);
    const int row = odd ? -1 : dt_controller_word_row(letter, tenths);
    if (row >= WORDS || !is_taken(c, row))
        return DTC_UNKNOWN;
    uint8_t group = words[row].group;
    if (w->word[group] != DTC_NONE)
        return DTC_GROUP;
    w->word[group] = tenths;
    return DTC_FINE;
}

static DtcReason add_value(DtController *c, DtcWords *w, char letter, const DtcNumber *n)
{
    int slot = value_slot(letter);
    uint16_t bit = (uint16_t)(1u << slot);
    if (slot == DTC_VALUES || !is_taken(c, WORDS + slot))
        return DTC_UNKNOWN;
    if (w->given & bit)
        return DTC_TWICE;
    if (slot == DTC_N && (n->negative || n->part || n->whole > 99999))
        return DTC_LARGE;
    w->given |= bit;
    w->value[slot] = *n;
    return DTC_FINE;
}

static DtcReason read_word(Reader *r, DtcWords *w, bool first)
{
    DtController *c = r->c;
    uint8_t byte = r->byte;
    if (byte >= 'a' && byte <= 'z')
        byte ^= 'a' ^ 'A';
    char letter = (char)byte;
    c->detail = letter;
    c->detail_number = UINT32_MAX;
    if (letter < 'A' || letter > 'Z')
        return DTC_CHARACTER;
    if (r->word_before && (c->set->quirks & DT_QUIRK_SPACES))
        return DTC_SPACE;
    go_on(r);
    DtcNumber n;
    DtcReason reason = read_number(r, &n);
    if (reason != DTC_FINE)
        return reason;
    /* Spaces inside a number were skipped with it: one before the next letter separates it. */
    r->word_before = dtc_rx(c, (DtRxCount)(r->at - 1)) > ' ';
    if (letter == 'G' || letter == 'M')
        return add_code(c, w, letter, &n);
    if (letter == 'N' && !first)
        return DTC_N_PLACE;
    return add_value(c, w, letter, &n);
}

/* The number of a parameter, behind its #. */
static DtcReason read_parameter_number(Reader *r, uint16_t *parameter, float *value)
{
    DtcNumber n;
    go_on(r);
    if (read_number(r, &n) != DTC_FINE || n.negative || n.part)
        return DTC_PARAMETER_FORM;
    r->c->detail_number = n.whole;
    *parameter = (uint16_t)n.whole;
    return n.whole <= UINT16_MAX && dtc_settings_value(r->c, *parameter, value) ? DTC_FINE
                                                                                : DTC_PARAMETER;
}

/* NISTIR 6556, 3.3.2.2: a parameter setting, here of a number or of another parameter's value. */
static DtcReason read_setting(Reader *r, DtcWords *w)
{
    DtLine *l = &r->c->line;
    float value;
    if (w->parameters == 2)
        return DTC_PARAMETER_ALONE;
    DtcReason reason = read_parameter_number(r, &l->parameter[w->parameters], &value);
    if (reason != DTC_FINE)
        return reason;
    uint16_t other;
    skip_spaces(r);
    if (r->byte != '=')
        return DTC_PARAMETER_FORM;
    go_on(r);
    skip_spaces(r);
    if (r->byte == '#') {
        reason = read_parameter_number(r, &other, &value);
        if (reason != DTC_FINE)
            return reason;
    } else {
        DtcNumber n;
        if (read_number(r, &n) != DTC_FINE)
            return DTC_PARAMETER_FORM;
        value = dtc_number_float(&n);
    }
    r->word_before = false;
    l->value[w->parameters++] = value;
    return DTC_FINE;
}

static DtcReason read_part(Reader *r, DtcWords *w, bool first)
{
    return r->byte == '('   ? skip_comment(r)
           : r->byte == '#' ? read_setting(r, w)
                            : read_word(r, w, first);
}

DtcReason dtc_words_read(DtController *c, DtRxCount length, DtcWords *out)
{
    Reader r = {.c = c, .end = length};
    look(&r);
    out->given = 0;
    out->deleted = false;
    out->parameters = 0;
    for (int group = 0; group < DTC_GROUPS; group++)
        out->word[group] = DTC_NONE;
    skip_spaces(&r);
    if (r.byte == '/') {
        out->deleted = true;
        go_on(&r);
    }
    bool first = true;
    for (skip_spaces(&r); r.at < r.end; skip_spaces(&r)) {
        DtcReason reason = read_part(&r, out, first);
        if (reason != DTC_FINE)
            return reason;
        first = false;
    }
    return DTC_FINE;
}
