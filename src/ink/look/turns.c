/* turns: directions of open hatches. */
#include "drawtrue/work.h"
#include "ink/look/board.h"
#include "ink/trace.h"

/* Lines of a pen over an open hatch of the same pen are lost among its lines if they run along these on more than this,
 * mm. */
#define LOST_ALONG 3.0

static gboolean is_open_field(const DtLookArea *a)
{
    return !a->narrow && !a->fixed && dt_recipe_is_one_way(a->recipe) &&
           a->recipe.share[0] < DT_LOOK_SHOWS_OVER;
}

/* Whether two areas are seen as one field, such as those on either side of a strip. */
static gboolean is_one_field(const DtLookArea *a, const DtLookArea *other)
{
    return is_open_field(a) && is_open_field(other) &&
           dt_recipe_same_pens(a->recipe, other->recipe) && a->turn == other->turn &&
           dt_colour_difference(a->lab, other->lab) < DT_LOOK_ONE_PAINT;
}

/* The numbers of the areas that make up a field. */
static GArray *areas_of_field(const DtBoard *b, int area)
{
    GArray *field = g_array_new(FALSE, FALSE, sizeof(int));
    for (int i = 0; i < (int)b->n; i++)
        if (is_one_field(&b->areas[i], &b->areas[area]))
            g_array_append_val(field, i);
    return field;
}

/* The length of lines that would be lost in a field with another direction; G_MAXDOUBLE: it could not be told apart
 * from others then. */
static double lost_along(const DtBoard *b, const GArray *field, int turn)
{
    double sum = 0;
    for (guint k = 0; k < field->len; k++) {
        const int i = g_array_index(field, int, k);
        const DtLookArea *a = &b->areas[i];
        if (turn != a->turn && dt_board_turnout(b, i, a->recipe, turn).spoiled > 0)
            return G_MAXDOUBLE;
        sum += a->along ? a->along[a->recipe.pen[0] * DT_LOOK_TURNS + turn] : 0;
    }
    return sum;
}

static void turn_field(DtBoard *b, const GArray *field)
{
    const int now = b->areas[g_array_index(field, int, 0)].turn;
    int best = now;
    double least = lost_along(b, field, now);
    for (int turn = 0; turn < DT_LOOK_TURNS && least > LOST_ALONG; turn++) {
        const double lost = lost_along(b, field, turn);
        if (lost < least / 2) {
            least = lost;
            best = turn;
        }
    }
    for (guint k = 0; k < field->len; k++)
        b->areas[g_array_index(field, int, k)].turn = best;
}

void dt_board_turn_off_lines(DtBoard *b)
{
    g_autofree gboolean *done = g_new0(gboolean, b->n + 1);
    for (int i = 0; i < (int)b->n && !dt_work_stopped(); i++) {
        if (done[i] || !b->areas[i].along || !is_open_field(&b->areas[i]))
            continue;
        g_autoptr(GArray) field = areas_of_field(b, i);
        for (guint k = 0; k < field->len; k++)
            done[g_array_index(field, int, k)] = TRUE;
        turn_field(b, field);
    }
}
