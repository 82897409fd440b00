/* simulate: figures of the controller's firmware on the simulated 8-bit chip.
 *
 *     simulate FIRMWARE.elf BYTES-OF-STATIC-RAM ADDRESS-OF-THE-MAIN-LOOP'S-FUNCTION */
#include "chip.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double us = CHIP_CLOCK / 1e6;
static gboolean all_good = TRUE;

/* The figures that have a bar, each the worst of all legs; printed as the table's rows at the end. */
static struct {
    double interrupt, off, p99, worst, rate, load, lines, lost, ram;
} sum;

static void figure(const char *what, double value, const char *unit, double bar, gboolean at_least)
{
    const gboolean good = at_least ? value >= bar : value <= bar;
    g_autofree char *measured = g_strdup_printf("%.1f %s", value, unit);
    g_autofree char *limit = g_strdup_printf("%s %g %s", at_least ? ">=" : "<=", bar, unit);
    printf("= %-46s %-34s %-24s %s\n", what, measured, limit, good ? "" : "NO");
}

static void print_table(void)
{
    figure("half steps a second, both axes together", sum.rate, "", 20000, TRUE);
    figure("longest step interrupt", sum.interrupt, "us", 40, FALSE);
    figure("longest time with interrupts off", sum.off, "us", 20, FALSE);
    figure("step times against the ideal: p99", sum.p99, "us", 10, FALSE);
    figure("step times against the ideal: worst", sum.worst, "us", 50, FALSE);
    figure("load at the default speeds", sum.load, "%", 40, FALSE);
    figure("RAM with the deepest stack", sum.ram, "bytes", 1800, FALSE);
    figure("short segments a second, worst mixture", sum.lines, "", 300, TRUE);
    figure("  bytes lost and segments late there", sum.lost, "", 0, FALSE);
}

static void row(const char *what, double value, const char *unit, double most, double least)
{
    const gboolean good = value <= most && value >= least;
    all_good &= good;
    printf("  %-52s %9.1f %s%s\n", what, value, unit, good ? "" : "   OUT OF BOUNDS");
}

/* Closed form: one move from rest to rest along (dx, dy), each axis stepping where the way is half way
 * between two of its half steps. */
typedef struct {
    double d[2], speed[2], acceleration[2], pull_in[2], steps_per_mm[2];
} Move;

static double share(const Move *m, const double limit[2], double length)
{
    double least = 1e9;
    for (int i = 0; i < 2; i++)
        if (m->d[i] != 0)
            least = MIN(least, limit[i] * length / fabs(m->d[i]));
    return least;
}

static double ideal_us(const Move *m, double s)
{
    const double length = hypot(m->d[0], m->d[1]), a = share(m, m->acceleration, length);
    const double v0 = share(m, m->pull_in, length);
    const double top = MIN(share(m, m->speed, length), sqrt(v0 * v0 + a * length));
    const double ramp = (top * top - v0 * v0) / (2 * a), ramp_s = (top - v0) / a;
    if (s <= ramp)
        return 1e6 * 2 * s / (v0 + sqrt(v0 * v0 + 2 * a * s));
    if (s <= length - ramp)
        return 1e6 * (ramp_s + (s - ramp) / top);
    const double whole = 1e6 * (2 * ramp_s + (length - 2 * ramp) / top), left = length - s;
    return whole - 1e6 * 2 * left / (v0 + sqrt(v0 * v0 + 2 * a * left));
}

static int by_size(gconstpointer a, gconstpointer b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* How far the steps are from their ideal times; the move's own start is the middle of all. */
static void compare_times(const Chip *c, const Move *m, double *p99, double *worst)
{
    const double length = hypot(m->d[0], m->d[1]);
    g_autoptr(GArray) off = g_array_new(FALSE, FALSE, sizeof(double));
    unsigned n[2] = {0, 0};
    for (guint i = 0; i < c->steps->len; i++) {
        const ChipStep s = g_array_index(c->steps, ChipStep, i);
        const double steps = fabs(m->d[s.axis]) * m->steps_per_mm[s.axis];
        const double at = (n[s.axis]++ + 0.5) / steps * length;
        const double e = (double)s.cycle / us - ideal_us(m, at);
        g_array_append_val(off, e);
    }
    g_array_sort(off, by_size);
    const double middle = g_array_index(off, double, off->len / 2);
    for (guint i = 0; i < off->len; i++)
        g_array_index(off, double, i) = fabs(g_array_index(off, double, i) - middle);
    g_array_sort(off, by_size);
    *p99 = g_array_index(off, double, off->len * 99 / 100);
    *worst = g_array_index(off, double, off->len - 1);
}

static gboolean leg(Chip *c, const char *what, const char *program, double limit_s, double *seconds)
{
    const unsigned answered = c->answered;
    const uint64_t start = c->avr->cycle;
    chip_forget(c);
    if (!chip_send(c, program, limit_s)) {
        printf("%s: FAILED\n", what);
        all_good = FALSE;
        return FALSE;
    }
    const uint64_t cycles = c->avr->cycle - start;
    *seconds = (double)cycles / CHIP_CLOCK;
    printf("%s: %.2f s, %u half steps, %u lines, %u bytes\n", what, *seconds, c->steps->len,
           c->answered - answered, c->bytes);
    row("step interrupt, mean", (double)c->steps_us / MAX(c->interrupts, 1u) / us, "us", 40, 0);
    row("step interrupt, longest", (double)c->longest / us, "us", 40, 0);
    sum.interrupt = MAX(sum.interrupt, (double)c->longest / us);
    sum.off = MAX(sum.off, (double)c->longest_off / us);
    row("the same with what comes in between", (double)c->longest_wall / us, "us", 1e9, 0);
    row("interrupts off, longest", (double)c->longest_off / us, "us", 20, 0);
    row("in interrupts", 100 * (double)c->in_interrupts / (double)cycles, "%", 100, 0);
    c->load = 100 * (1 - (double)c->idle / (double)cycles);
    row("load: all but the main loop's idle turns", c->load, "%", 100, 0);
    return TRUE;
}

static void time_move(Chip *c, const char *what, const char *line, const Move *m, double least_rate)
{
    double s, p99, worst;
    if (!leg(c, what, line, 60, &s))
        return;
    compare_times(c, m, &p99, &worst);
    sum.p99 = MAX(sum.p99, p99);
    sum.worst = MAX(sum.worst, worst);
    row("step times against the closed form, p99", p99, "us", 10, 0);
    row("the same, worst", worst, "us", 50, 0);
    const double length = hypot(m->d[0], m->d[1]), top = share(m, m->speed, length) / length;
    const double rate =
        top * (fabs(m->d[0]) * m->steps_per_mm[0] + fabs(m->d[1]) * m->steps_per_mm[1]);
    sum.rate = MAX(sum.rate, rate);
    row("half steps a second, both axes, at full speed", rate, "", 1e9, least_rate);
}

static uint16_t crc(const char *text)
{
    uint16_t sum = 0;
    for (; *text; text++) {
        sum ^= (uint16_t)(*text << 8);
        for (int bit = 0; bit < 8; bit++)
            sum = (uint16_t)(sum & 0x8000 ? sum << 1 ^ 0x1021 : sum << 1);
    }
    return sum;
}

static void add_checked(GString *s, unsigned *n, const char *body)
{
    g_autofree char *line = g_strdup_printf("N%u%s", (*n)++, body);
    g_string_append_printf(s, "%s(*%04X)\n", line, crc(line));
}

/* Short segments as a sender writes them, each with number and check; every tenth piece is an arc, a
 * question comes every 20 lines, and the pen goes up and down every 400. */
static char *mixture(unsigned segments, double length, unsigned *lines)
{
    GString *s = g_string_new("");
    unsigned n = 1;
    double x = 20, y = 20;
    add_checked(s, &n, "F975");
    for (unsigned i = 1; i <= segments; i++) {
        const double angle = i * 0.01;
        const double to_x = x + length * cos(angle), to_y = y + length * sin(angle);
        g_autofree char *body = i % 10 == 0 ? g_strdup_printf("G3X%.3fY%.3fR5", to_x, to_y)
                                            : g_strdup_printf("G1X%.3fY%.3f", to_x, to_y);
        add_checked(s, &n, body);
        x = to_x;
        y = to_y;
        if (i % 20 == 0)
            g_string_append(s, "\x05\n");
        if (i % 400 == 0) {
            add_checked(s, &n, "M5");
            add_checked(s, &n, "M3S40");
        }
    }
    add_checked(s, &n, "M5");
    *lines = n - 1;
    return g_string_free(s, FALSE);
}

static void segments_a_second(Chip *c)
{
    double s;
    unsigned lines;
    g_autofree char *program = mixture(3000, 0.05, &lines);
    if (!leg(c, "short segments: 0.05 mm, arcs, checks, questions, servo", program, 60, &s))
        return;
    sum.lines = lines / s;
    row("lines a second", lines / s, "", 1e9, 300);
    row("bytes a second, of 11520", c->bytes / s, "", 1e9, 0);
    chip_send(c, "\x05\nM5\n", 5);
    const char *state = g_strrstr(c->said->str, "state ");
    const gboolean lost =
        state == NULL || strstr(state, "lost") || strstr(state, "late") || strstr(state, "overrun");
    sum.lost = lost;
    row("bytes lost, segments late (0: none)", lost, "", 0, 0);
}

static void measure(Chip *c)
{
    double s;
    leg(c, "homing", "G28\n", 60, &s);
    const int home[2] = {c->position[0], c->position[1]};
    const Move usual = {{56.25, 45}, {15, 12}, {150, 100}, {4, 3}, {100, 100}};
    time_move(c, "long diagonal at the default speeds", "G0X56.25Y45\nM5\n", &usual, 0);
    sum.load = c->load;
    row("load at the default speeds", c->load, "%", 40, 0);
    leg(c, "arc", "G1X56F900\nG2X56Y45I5J0\nM5\n", 30, &s);
    leg(c, "fast settings", "#412=100#422=100\n#413=1000#423=1000\n#414=10#424=10\nG0X10Y10\nM5\n",
        30, &s);
    const Move fast = {{150, 150}, {100, 100}, {1000, 1000}, {10, 10}, {100, 100}};
    time_move(c, "long diagonal, 20000 half steps a second", "G0X160Y160\nM5\n", &fast, 20000);
    const Move odd = {{-150, -110}, {100, 100}, {1000, 1000}, {10, 10}, {100, 100}};
    time_move(c, "a slanted one back", "G0X10Y50\nM5\n", &odd, 0);
    leg(c, "too fast", "#412=101\nG0X20Y20\nM5\n", 30, &s);
    row("refused", strstr(c->said->str, "needs 20100 steps a second, most is 20000") != NULL, "", 1,
        1);
    c->refused--;
    leg(c, "usual settings, a little faster",
        "#412=20#422=20\n#413=400#423=400\n#414=4#424=4\nG0X20Y20\nM5\n", 30, &s);
    segments_a_second(c);
    leg(c, "back", "G0X20Y20\nM5\n", 30, &s);
    const int x = c->position[0] - home[0], y = c->position[1] - home[1];
    row("steps lost", abs(x - 2000) + abs(y - 2000), "", 0, 0);
    row("lines refused", c->refused, "", 0, 0);
}

int main(int argc, char **argv)
{
    if (argc != 4)
        return 2;
    Chip c = {0};
    const unsigned data = (unsigned)atoi(argv[2]);
    if (!chip_start(&c, argv[1], (uint32_t)strtoul(argv[3], NULL, 16)) ||
        !chip_wait_for_greeting(&c)) {
        printf("the firmware does not start\n");
        return 1;
    }
    measure(&c);
    sum.ram = data + CHIP_RAM_END - c.deepest;
    row("RAM, static and deepest stack", sum.ram, "bytes", 1800, 0);
    print_table();
    chip_stop(&c);
    return all_good ? 0 : 1;
}
