/* machine: what follows from a profile. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"

#include <math.h>
#include <string.h>

/* Computed from the profile; both reports use it. */
typedef struct {
    double steps_per_mm[2], drive_steps_per_mm[2], finest_mm[2];
    double diagonal_mm_s;    /* fastest along 45 degrees */
    double best_mm_s;        /* fastest in any direction */
    double sheet_diagonal_s; /* pen up across the profile's sheet */
    double highest_rate;     /* half steps per second, the faster axis */
    double need_a, need_w;
    double line_bytes, line_s; /* time of a move on the wire */
    double shortest_mm; /* moves shorter than this, one after the other, keep the motors waiting */
    DtBox reach;
} Facts;

static Facts find_facts(const DtProfile *p)
{
    Facts f;
    DtCost cost = dt_profile_cost(p);
    for (int i = 0; i < 2; i++) {
        f.steps_per_mm[i] = p->steps_per_mm[i];
        f.drive_steps_per_mm[i] = dt_machine_drive_steps(p, i);
        f.finest_mm[i] = 1 / p->steps_per_mm[i];
    }
    f.diagonal_mm_s = dt_route_speed_along(&cost, dt_point(1, 1));
    f.best_mm_s = hypot(p->speed[0], p->speed[1]);
    f.sheet_diagonal_s = dt_route_move_s(&cost, dt_point(0, 0), dt_point(p->paper_w, p->paper_h));
    f.highest_rate = MAX(p->speed[0] * p->steps_per_mm[0], p->speed[1] * p->steps_per_mm[1]);
    f.need_a = p->motor_a[0] + p->motor_a[1] + p->servo_a + p->board_a;
    f.need_w = f.need_a * p->supply_v;
    f.reach = dt_machine_reach(p);
    f.line_bytes =
        strlen("X123.45Y123.45\n") + (p->dialect.line_check ? strlen("N12345(*1A2B)") : 0);
    f.line_s = f.line_bytes * 10 / p->dialect.baud; /* 8N1: ten bits a byte */
    if (p->dialect.window <= 0)                     /* each line waits for the reply to the
                                                     * previous one */
        f.line_s +=
            (double)strlen("taken 12345\n") * 10 / p->dialect.baud + p->dialect.reply_delay_s;
    f.shortest_mm = f.line_s * f.best_mm_s;
    return f;
}

/* A reserve of a quarter, as supplies are commonly chosen. */
static double advised_a(const Facts *f)
{
    return 1.25 * f->need_a;
}

static void append_supply(GString *s, const DtProfile *p, const Facts *f)
{
    g_string_append_printf(s,
                           _("supply           motors %.2f + %.2f A, servo %.2f A, board %.2f A: "
                             "%.2f A at %g V (%.1f W)\n"
                             "                 the supply gives %g A; with a quarter in reserve it "
                             "should give %.2f A\n"),
                           p->motor_a[0], p->motor_a[1], p->servo_a, p->board_a, f->need_a,
                           p->supply_v, f->need_w, p->supply_a, advised_a(f));
    if (p->supply_a < f->need_a)
        g_string_append(
            s, _("  CAUTION        this supply is too small: it will overheat or drop out, "
                 "and steps are lost\n"));
    else if (p->supply_a < advised_a(f))
        g_string_append(s, _("  caution        this supply has little in reserve\n"));
    g_string_append(
        s,
        _("  caution        a computer's port is not a supply: a USB 2.0 port is meant for 0.5 A "
          "at most.\n"
          "                 Feed the motors from a supply of their own with a fuse, and leave "
          "work\n"
          "                 on mains voltage to a qualified person, by your local rules.\n"
          "  caution        keep fingers, hair and sleeves away from cords and pulleys while it is "
          "on\n"));
}

static char *describe_text(const DtProfile *p, const Facts *f)
{
    GString *s = g_string_new(NULL);
    g_string_append_printf(s, _("machine          %s (%s)\n"), p->name,
                           p->path ? p->path : _("built-in profile"));
    g_string_append_printf(s, _("travel           x %g mm, y %g mm\n"), p->travel[0], p->travel[1]);
    for (int i = 0; i < 2; i++) {
        g_string_append_printf(s, _("steps per mm     %c %.4f, so the finest step is %.4f mm\n"),
                               i ? 'y' : 'x', f->steps_per_mm[i], f->finest_mm[i]);
        if (fabs(f->drive_steps_per_mm[i] / f->steps_per_mm[i] - 1) > 0.01)
            g_string_append_printf(s,
                                   _("  note           the drive train would make %.4f; the "
                                     "profile's own number is used\n"),
                                   f->drive_steps_per_mm[i]);
    }
    g_string_append_printf(s,
                           _("fastest          x %g mm/s, y %g mm/s, at 45 degrees %.1f mm/s, at "
                             "best %.1f mm/s\n"),
                           p->speed[0], p->speed[1], f->diagonal_mm_s, f->best_mm_s);
    g_string_append_printf(s, _("                 that is %.0f half steps a second at most\n"),
                           f->highest_rate);
    g_string_append_printf(s, _("corner to corner %.1f s with the pen up over %s (%g by %g mm)\n"),
                           f->sheet_diagonal_s, p->paper_name, p->paper_w, p->paper_h);
    g_string_append_printf(s,
                           _("reach            x %.2f to %.2f mm, y %.2f to %.2f mm for every pen, "
                             "corrections applied\n"),
                           f->reach.x0, f->reach.x1, f->reach.y0, f->reach.y1);
    g_string_append_printf(
        s,
        _("wire             %d bit/s: a move of %.0f bytes takes %.1f ms; where moves "
          "shorter than\n                 %.2f mm follow one another, the wire and not "
          "the motors sets the pace\n"),
        p->dialect.baud, f->line_bytes, 1000 * f->line_s, f->shortest_mm);
    g_string_append_printf(
        s,
        _("homing           %.0f s on average; %.0f s from home, %.0f s from the far "
          "corner\n"),
        dt_machine_home_s(p), dt_machine_home_from_s(p, dt_point(0, 0)),
        dt_machine_home_from_s(p, dt_point(p->travel[0], p->travel[1])));
    g_string_append_printf(s, _("pen              lift %g s, drop %g s\n"), p->lift_s, p->drop_s);
    for (size_t i = 0; i < p->rack.n; i++)
        g_string_append_printf(s, "%-16s %s, %g mm\n", i ? "" : _("pens"), p->rack.pens[i].name,
                               p->rack.pens[i].tip);
    append_supply(s, p, f);
    return g_string_free(s, FALSE);
}

static void add_pens(JsonBuilder *b, const DtRack *rack)
{
    dt_json_begin_array(b, "pens");
    for (size_t i = 0; i < rack->n; i++) {
        json_builder_begin_object(b);
        dt_json_text(b, "name", rack->pens[i].name);
        dt_json_number(b, "tip_mm", rack->pens[i].tip);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static char *describe_json(const DtProfile *p, const Facts *f)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "name", p->name);
    dt_json_numbers(b, "travel_mm", p->travel, 2);
    dt_json_numbers(b, "steps_per_mm", f->steps_per_mm, 2);
    dt_json_numbers(b, "drive_steps_per_mm", f->drive_steps_per_mm, 2);
    dt_json_numbers(b, "finest_step_mm", f->finest_mm, 2);
    dt_json_numbers(b, "speed_mm_s", p->speed, 2);
    dt_json_number(b, "fastest_diagonal_mm_s", f->diagonal_mm_s);
    dt_json_number(b, "fastest_any_mm_s", f->best_mm_s);
    dt_json_number(b, "highest_step_rate_per_s", f->highest_rate);
    dt_json_number(b, "line_on_wire_s", f->line_s);
    dt_json_number(b, "shortest_fast_move_mm", f->shortest_mm);
    dt_json_number(b, "home_least_s", dt_machine_home_from_s(p, dt_point(0, 0)));
    dt_json_number(b, "home_most_s",
                   dt_machine_home_from_s(p, dt_point(p->travel[0], p->travel[1])));
    dt_json_text(b, "paper", p->paper_name);
    dt_json_number(b, "paper_w_mm", p->paper_w);
    dt_json_number(b, "paper_h_mm", p->paper_h);
    dt_json_number(b, "sheet_diagonal_s", f->sheet_diagonal_s);
    dt_json_numbers(b, "reach_low_mm", (double[]){f->reach.x0, f->reach.y0}, 2);
    dt_json_numbers(b, "reach_high_mm", (double[]){f->reach.x1, f->reach.y1}, 2);
    dt_json_number(b, "supply_v", p->supply_v);
    dt_json_number(b, "supply_a", p->supply_a);
    dt_json_number(b, "need_a", f->need_a);
    dt_json_number(b, "need_w", f->need_w);
    dt_json_number(b, "advised_a", advised_a(f));
    dt_json_flag(b, "supply_suffices", p->supply_a >= f->need_a);
    add_pens(b, &p->rack);
    return dt_json_end(b);
}

char *dt_report_machine(const DtProfile *p, gboolean json)
{
    Facts f = find_facts(p);
    return json ? describe_json(p, &f) : describe_text(p, &f);
}
