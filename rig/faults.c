/* faults: what goes wrong on the way and on the board, when the rig file asks for it.
 *
 *     list = garble 2 at byte 500; reset at line 40; lose at every 0.0001; switch x at time 12.5
 *
 * Each is a kind, an amount where it has one, an axis where it has one, and when: at the Nth byte
 * towards the board, at the Nth line answered, at a time of the machine's clock, or at random with
 * a probability per byte (per line for kinds that spoil replies). */
#include "inside.h"

#include <math.h>
#include <string.h>

typedef struct {
    const char *name;
    double standard; /* amount where none is given */
    gboolean axis;
} Kind;

static const Kind kinds[FAULTS] = {
    [FAULT_LOSE] = {"lose", 1, FALSE}, /* bytes towards the board */
    [FAULT_DOUBLE] = {"double", 1, FALSE},
    [FAULT_GARBLE] = {"garble", 1, FALSE}, /* one bit of each is turned over */
    [FAULT_STRAY] = {"stray", 0, FALSE},   /* a byte of this value that nobody sent */
    [FAULT_LOSE_REPLY] = {"lose-reply", 1, FALSE},
    [FAULT_DOUBLE_REPLY] = {"double-reply", 1, FALSE},
    [FAULT_GARBLE_REPLY] = {"garble-reply", 1, FALSE},
    [FAULT_CUT_REPLY] = {"cut-reply", 1, FALSE},
    [FAULT_STALE_REPLY] = {"stale-reply", 1, FALSE},
    [FAULT_SWAP_REPLIES] = {"swap-replies", 1, FALSE},
    [FAULT_FORGE_REPLY] = {"forge-reply", 1, FALSE},
    [FAULT_MERGE_REPLIES] = {"merge-replies", 1, FALSE},
    [FAULT_LATE_REPLY] = {"late-reply", 0.5, FALSE}, /* s of real time */
    [FAULT_RESET] = {"reset", 0, FALSE},
    [FAULT_SILENCE] = {"silence", 0, FALSE}, /* s of real time; 0: for good */
    [FAULT_UNPLUG] = {"unplug", 0, FALSE},   /* until plugged in again; the board resets */
    [FAULT_CUT] = {"cut", 0, FALSE},         /* the same, but the board runs on */
    [FAULT_SWITCH] = {"switch", 0, TRUE},    /* closed until the next homing */
    [FAULT_SLIP] = {"slip", 1, TRUE},        /* mm by which a cord slips unnoticed */
};

static const char *const whens[] = {"byte", "line", "time", "every"};

static gboolean read_number(const char *text, double *value)
{
    char *end;
    *value = g_ascii_strtod(text, &end);
    return end != text && *end == '\0' && isfinite(*value) && *value >= 0;
}

static gboolean read_when(char **words, RigFault *f)
{
    for (unsigned i = 0; i < G_N_ELEMENTS(whens); i++)
        if (g_strcmp0(words[0], "at") == 0 && g_strcmp0(words[1], whens[i]) == 0 && words[2] &&
            words[3] == NULL) {
            f->when = i;
            return read_number(words[2], &f->at);
        }
    return FALSE;
}

static gboolean read_one(char **words, RigFault *f)
{
    *f = (RigFault){.kind = FAULTS};
    for (int i = 0; i < FAULTS; i++)
        if (g_strcmp0(words[0], kinds[i].name) == 0)
            f->kind = (RigFaultKind)i;
    if (f->kind == FAULTS)
        return FALSE;
    f->amount = kinds[f->kind].standard;
    words++;
    if (kinds[f->kind].axis) {
        if (g_strcmp0(*words, "x") != 0 && g_strcmp0(*words, "y") != 0)
            return FALSE;
        f->axis = **words == 'y';
        words++;
    }
    if (*words && strcmp(*words, "at") != 0) {
        if (!read_number(*words, &f->amount))
            return FALSE;
        words++;
    }
    return read_when(words, f);
}

gboolean dt_rig_faults_read(RigFaults *f, const char *text, guint32 seed, char **problem)
{
    *f = (RigFaults){.silence_s = -1, .unplug_s = -1};
    f->list = g_array_new(FALSE, FALSE, sizeof(RigFault));
    f->rand = g_rand_new_with_seed(seed);
    g_auto(GStrv) parts = g_strsplit(text, ";", -1);
    for (int i = 0; parts[i]; i++) {
        g_strstrip(parts[i]);
        g_autoptr(GRegex) spaces = g_regex_new("\\s+", 0, 0, NULL);
        g_auto(GStrv) words = g_regex_split(spaces, parts[i], 0);
        RigFault one;
        if (*parts[i] == '\0')
            continue;
        if (!read_one(words, &one)) {
            *problem = g_strdup(parts[i]);
            return FALSE;
        }
        g_array_append_val(f->list, one);
    }
    return TRUE;
}

void dt_rig_faults_clear(RigFaults *f)
{
    if (f->list)
        g_array_unref(f->list);
    if (f->rand)
        g_rand_free(f->rand);
    for (gsize i = 0; i < G_N_ELEMENTS(f->earlier); i++)
        g_free(f->earlier[i]);
    g_free(f->held_back);
}

static void happen(DtRig *r, const RigFault *one)
{
    RigFaults *f = &r->faults;
    RigAxis *axis = &r->machine.axis[one->axis];
    f->happened++;
    switch (one->kind) {
    case FAULT_LATE_REPLY:
        f->armed[one->kind] = 1;
        f->late_s = one->amount;
        break;
    case FAULT_RESET:
        f->reset = TRUE;
        break;
    case FAULT_STRAY:
        if (f->strays < RIG_STRAYS)
            f->stray[f->strays++] = (uint8_t)one->amount;
        break;
    case FAULT_SILENCE:
        f->silence_s = one->amount;
        break;
    case FAULT_UNPLUG:
    case FAULT_CUT:
        f->unplug_s = one->amount;
        f->power = one->kind == FAULT_UNPLUG;
        break;
    case FAULT_SWITCH:
        axis->forced = TRUE;
        break;
    case FAULT_SLIP:
        axis->motor += one->amount;
        break;
    default:
        f->armed[one->kind] += (unsigned)one->amount;
        break;
    }
}

/* Whether a fault happens at this byte or line. */
static void look(DtRig *r, gboolean line)
{
    RigFaults *f = &r->faults;
    for (guint i = 0; i < f->list->len; i++) {
        RigFault *one = &g_array_index(f->list, RigFault, i);
        gboolean of_reply = one->kind >= FAULT_LOSE_REPLY && one->kind <= FAULT_LATE_REPLY;
        if (one->when == EVERY) {
            if (of_reply == line && g_rand_double(f->rand) < one->at)
                happen(r, one);
        } else if (!one->done && one->when == (line ? AT_LINE : AT_BYTE) &&
                   (double)(line ? f->lines : f->bytes) >= one->at) {
            one->done = TRUE;
            happen(r, one);
        }
    }
}

void dt_rig_faults_time(DtRig *r)
{
    for (guint i = 0; i < r->faults.list->len; i++) {
        RigFault *one = &g_array_index(r->faults.list, RigFault, i);
        if (one->when == AT_TIME && !one->done && (double)r->now >= one->at * 1e6) {
            one->done = TRUE;
            happen(r, one);
        }
    }
}

void dt_rig_faults_line(DtRig *r)
{
    r->faults.lines++;
    if (r->faults.list->len)
        look(r, TRUE);
}

static gboolean spoils(RigFaults *f, RigFaultKind kind)
{
    if (f->armed[kind] == 0)
        return FALSE;
    f->armed[kind]--;
    return TRUE;
}

unsigned dt_rig_faults_byte(DtRig *r, uint8_t byte, uint8_t out[RIG_STRAYS + 2])
{
    RigFaults *f = &r->faults;
    out[0] = byte;
    f->bytes++;
    if (f->list->len == 0)
        return 1;
    look(r, FALSE);
    unsigned n = 0;
    while (n < f->strays) {
        out[n] = f->stray[n];
        n++;
    }
    f->strays = 0;
    if (spoils(f, FAULT_LOSE))
        return n;
    if (spoils(f, FAULT_GARBLE))
        byte = (uint8_t)(byte ^ 1u << g_rand_int_range(f->rand, 0, 8));
    out[n++] = byte;
    if (spoils(f, FAULT_DOUBLE))
        out[n++] = byte;
    return n;
}

/* Replies ----------------------------------------------------------------------------------- */

static void remember(RigFaults *f, const char *text)
{
    const gsize n = G_N_ELEMENTS(f->earlier);
    g_free(f->earlier[n - 1]);
    memmove(f->earlier + 1, f->earlier, (n - 1) * sizeof *f->earlier);
    f->earlier[0] = g_strdup(text);
}

/* A reply as the board would have given it to the next line, which it may not have seen yet. */
static char *forge(const char *text)
{
    const char *digit = text + strcspn(text, "0123456789");
    char *end;
    const guint64 n = g_ascii_strtoull(digit, &end, 10);
    return g_strdup_printf("%.*s%" G_GUINT64_FORMAT "%s", (int)(digit - text), text, n + 1, end);
}

/* The text of one reply, spoilt. */
static char *spoil(RigFaults *f, const char *text)
{
    const gsize oldest = G_N_ELEMENTS(f->earlier) - 1;
    if (spoils(f, FAULT_STALE_REPLY) && f->earlier[oldest] != NULL)
        return g_strdup(f->earlier[oldest]);
    char *spoilt = g_strdup(text);
    if (spoils(f, FAULT_GARBLE_REPLY) && *text) {
        uint8_t *byte = (uint8_t *)spoilt + g_rand_int_range(f->rand, 0, (gint32)strlen(text));
        *byte = (uint8_t)(*byte ^ 1u << g_rand_int_range(f->rand, 0, 8));
        if (*byte == 0)
            *byte = 0x80; /* the port takes text */
    }
    if (spoils(f, FAULT_CUT_REPLY) && *text)
        spoilt[g_rand_int_range(f->rand, 0, (gint32)strlen(text))] = '\0';
    return spoilt;
}

char *dt_rig_faults_reply(DtRig *r, const char *text)
{
    RigFaults *f = &r->faults;
    if (f->list->len == 0)
        return g_strconcat(text, "\n", NULL);
    if (spoils(f, FAULT_LATE_REPLY))
        r->late_until = g_get_monotonic_time() + (gint64)(f->late_s * 1e6);
    if (spoils(f, FAULT_LOSE_REPLY))
        return g_strdup("");
    g_autoptr(GString) out = g_string_new(NULL);
    g_autofree char *spoilt = spoil(f, text);
    remember(f, text);
    if (f->held_back == NULL && spoils(f, FAULT_SWAP_REPLIES)) {
        f->held_back = g_steal_pointer(&spoilt);
        return g_strdup("");
    }
    g_string_append_printf(out, "%s%s", spoilt, spoils(f, FAULT_MERGE_REPLIES) ? "" : "\n");
    if (spoils(f, FAULT_DOUBLE_REPLY))
        g_string_append_printf(out, "%s\n", spoilt);
    if (f->held_back != NULL)
        g_string_append_printf(out, "%s\n", f->held_back);
    g_clear_pointer(&f->held_back, g_free);
    if (spoils(f, FAULT_FORGE_REPLY)) {
        g_autofree char *forged = forge(text);
        g_string_append_printf(out, "%s\n", forged);
    }
    return g_strdup(out->str);
}
