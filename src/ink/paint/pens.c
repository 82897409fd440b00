/* pens: artwork colours to the pens of the rack. */
#include "ink/paint/pens.h"

#include "ink/fill/tone.h"

#include <math.h>
#include <string.h>

/* Colours up to this far apart cannot be told apart: a unit of CIEDE2000 (common practice, no
 * source). */
#define NOTICEABLE 1.0
/* Nor can those whose red, green and blue differ by less than this, which near white may be two of
 * those units. */
#define SAME (4.5 / 255)
/* Colours that differ by no more than this are reported as one. */
#define ALIKE 2.3
/* Tones are left bare up to this difference from the paper: about 2 % of black ink. */
#define FAINTEST 0.5
/* No two colours whose red, green or blue differ by more than this look alike. */
#define SURELY_APART 0.15
/* Results about the paper are cached for this many colours, in steps of 1/1023. */
#define ANSWERS 4096
#define STEPS 1023

/* Colours whose lightness differs by more than this do not look alike: CIEDE2000 reduces it by a
 * factor of at most 1.75. */
#define LIGHTNESS_APART (1.75 * ALIKE)
/* Steps of lightness, from 0 to 100, of which only neighbours look alike. */
#define SHADES 25
/* The matches of this many colours that were recorded last are remembered. */
#define RECORDED 64

/* A user's rule for a colour applies to colours that differ by less than this. */
#define RULED 3.0

/* What a colour, pen and second pen were recorded as. */
typedef struct {
    gboolean is_known;
    DtColour colour;
    int pen, across;
    guint match;
} Recorded;

struct DtPens {
    const DtDrawing *d;
    const DtRack *rack;
    const DtInkOptions *o;
    DtColour paper;
    DtLab paper_lab, *pen_lab;
    GHashTable *known; /* packed colour and forced pen -> index + 1 into matches */
    GArray *matches;   /* DtInkMatch: of colours that look alike and have one pen, the first */
    GArray *labs;      /* DtLab, of each match */
    GArray *of_shade[SHADES];    /* guint: the matches of each step of lightness, in order */
    gboolean taken_back;         /* ink recorded for one pen went to another */
    Recorded recorded[RECORDED]; /* each in the place of its colour */
    uint32_t *answers; /* whether colours look like the paper: 1 + 2 * key + answer, 0 for none */
};

DtPens *dt_pens_new(const DtDrawing *d, const DtRack *rack, const DtInkOptions *o)
{
    DtPens *p = g_new0(DtPens, 1);
    p->d = d;
    p->rack = rack;
    p->o = o;
    p->paper = o->paper;
    p->paper.alpha = 1;
    p->paper_lab = dt_colour_lab(o->paper);
    p->pen_lab = g_new(DtLab, rack->n);
    for (size_t i = 0; i < rack->n; i++)
        p->pen_lab[i] = dt_colour_lab(rack->pens[i].colour);
    p->known = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
    p->matches = g_array_new(FALSE, FALSE, sizeof(DtInkMatch));
    p->labs = g_array_new(FALSE, FALSE, sizeof(DtLab));
    p->answers = g_new0(uint32_t, ANSWERS);
    return p;
}

void dt_pens_free(DtPens *p)
{
    if (!p)
        return;
    g_free(p->pen_lab);
    g_hash_table_unref(p->known);
    g_array_free(p->matches, TRUE);
    g_array_free(p->labs, TRUE);
    for (guint i = 0; i < SHADES; i++)
        if (p->of_shade[i])
            g_array_unref(p->of_shade[i]);
    g_free(p->answers);
    g_free(p);
}

/* Whether two lists of words, separated by white space, have one in common. */
static gboolean share_word(const char *a, const char *b)
{
    static const char space[] = " \t\r\n\f";
    if (!a || !b)
        return FALSE;
    for (a += strspn(a, space); *a; a += strspn(a, space)) {
        size_t na = strcspn(a, space);
        for (const char *w = b + strspn(b, space); *w; w += strspn(w, space)) {
            size_t nb = strcspn(w, space);
            if (na == nb && memcmp(a, w, na) == 0)
                return TRUE;
            w += nb;
        }
        a += na;
    }
    return FALSE;
}

/* Groups are nested, so the walk up is bounded by their number even if parents form a circle. */
static gboolean in_group(const DtDrawing *d, int group, const DtPen *pen)
{
    for (size_t i = 0; i < d->n_groups && group >= 0 && (size_t)group < d->n_groups; i++) {
        const DtGroup *g = &d->groups[group];
        if (share_word(g->id, pen->groups) || share_word(g->classes, pen->classes))
            return TRUE;
        group = g->parent;
    }
    return FALSE;
}

int dt_pens_asked(const DtPens *p, const DtShape *s)
{
    for (size_t i = 0; i < p->rack->n; i++)
        if (share_word(s->classes, p->rack->pens[i].classes))
            return (int)i;
    for (size_t i = 0; i < p->rack->n; i++)
        if (share_word(s->id, p->rack->pens[i].groups) ||
            in_group(p->d, s->group, &p->rack->pens[i]))
            return (int)i;
    return -1;
}

int dt_pens_ruled(const DtPens *p, DtColour c)
{
    if (p->o->n_rules == 0)
        return -1;
    DtLab lab = dt_colour_lab(c);
    for (size_t i = 0; i < p->o->n_rules; i++)
        if (dt_colour_difference(lab, dt_colour_lab(p->o->rules[i].colour)) < RULED)
            return p->o->rules[i].pen;
    return -1;
}

static gboolean differ_by(DtColour a, DtColour b, double by)
{
    return fabs(a.r - b.r) > by || fabs(a.g - b.g) > by || fabs(a.b - b.b) > by;
}

static gboolean looks_like(DtColour a, DtColour b, double distance)
{
    return distance <= NOTICEABLE || !differ_by(a, b, SAME);
}

/* Only what cannot be told from the paper is left bare: everything else that was painted is
 * drawn, and the report says if no pen is near. A pen of the paper's own colour still has
 * priority over the paper. */
static DtInkMatch nearest(const DtPens *p, DtColour c)
{
    DtLab lab = dt_colour_lab(c);
    DtInkMatch m = {c, -1, dt_colour_difference(lab, p->paper_lab), 0, -1, 1, 0, 0};
    double bound = looks_like(c, p->paper, m.distance) ? m.distance : G_MAXDOUBLE;
    for (size_t i = 0; i < p->rack->n; i++) {
        double d = dt_colour_difference(lab, p->pen_lab[i]);
        if (d <= bound && (m.pen < 0 || d < m.distance)) {
            m.pen = (int)i;
            m.distance = bound = d;
        }
    }
    return m;
}

/* The difference if a pen covers the share of the paper that gives the colour's lightness. */
static double toned_distance(const DtPens *p, DtColour c, size_t pen)
{
    DtColour ink = p->rack->pens[pen].colour;
    DtColour seen = dt_tone_mix(p->paper, ink, dt_ink_coverage(c, ink, p->paper));
    return dt_colour_difference(dt_colour_lab(c), dt_colour_lab(seen));
}

static DtInkMatch nearest_toned(const DtPens *p, DtColour c)
{
    DtInkMatch m = {c, -1, dt_colour_difference(dt_colour_lab(c), p->paper_lab), 0, -1, 1, 0, 0};
    if (m.distance <= FAINTEST)
        return m;
    for (size_t i = 0; i < p->rack->n; i++) {
        double d = toned_distance(p, c, i);
        if (m.pen < 0 || d < m.distance) {
            m.pen = (int)i;
            m.distance = d;
        }
    }
    return m;
}

static gint64 pack(DtColour c, int pen, gboolean toned)
{
    gint64 key = 2 * (pen + 1) + (toned ? 1 : 0);
    double parts[3] = {c.r, c.g, c.b};
    for (int i = 0; i < 3; i++)
        key = key * 4096 + (gint64)lround(CLAMP(parts[i], 0, 1) * 4095);
    return key;
}

static DtInkMatch match_asked(const DtPens *p, DtColour c, int pen, gboolean toned)
{
    double d = toned ? toned_distance(p, c, (size_t)pen)
                     : dt_colour_difference(dt_colour_lab(c), p->pen_lab[pen]);
    return (DtInkMatch){c, pen, d,
                        0, -1,  toned ? dt_ink_coverage(c, p->rack->pens[pen].colour, p->paper) : 1,
                        0, d};
}

/* Whether two colours surely do not look alike, by their chroma alone. Of CIEDE2000's terms (Sharma,
 * Wu and Dalal 2005) that of the rotation leaves at least 1 - sin 60 degrees of those of chroma and
 * hue; neither is divided by more than 1 + 0.045 C', where C' is at most 1.5 C. */
static gboolean differ_in_chroma(DtLab a, DtLab b)
{
    const double kept = 1 - 0.8661, mean = (fabs(a.a) + fabs(a.b) + fabs(b.a) + fabs(b.b)) / 2;
    const double most = ALIKE * (1 + 0.045 * 1.5 * mean), da = a.a - b.a, db = a.b - b.b;
    return (da * da + db * db) * kept > most * most;
}

static guint shade_of(double l)
{
    return (guint)CLAMP(l / LIGHTNESS_APART, 0, SHADES - 1);
}

static GArray *in_shade(DtPens *p, guint shade)
{
    if (p->of_shade[shade] == NULL)
        p->of_shade[shade] = g_array_new(FALSE, FALSE, sizeof(guint));
    return p->of_shade[shade];
}

/* The first match of a shade, below `end`, that looks like this one; otherwise `end`. */
static guint find_match(DtPens *p, guint shade, const DtInkMatch *m, DtLab lab, guint end)
{
    const GArray *of = in_shade(p, shade);
    for (guint k = 0; k < of->len; k++) {
        const guint i = g_array_index(of, guint, k);
        if (i >= end)
            break;
        const DtLab other = g_array_index(p->labs, DtLab, i);
        const DtInkMatch *known = &g_array_index(p->matches, DtInkMatch, i);
        if (known->pen == m->pen && known->across == m->across &&
            fabs(other.l - lab.l) <= LIGHTNESS_APART && !differ_in_chroma(lab, other) &&
            dt_colour_difference(lab, other) <= ALIKE)
            return i;
    }
    return end;
}

/* The number of the match that represents this one: the earliest that looks like it, or itself. */
static guint add_match(DtPens *p, DtInkMatch m)
{
    DtLab lab = dt_colour_lab(m.colour);
    const guint shade = shade_of(lab.l), n = p->matches->len;
    guint found = n;
    for (guint i = shade > 0 ? shade - 1 : 0; i <= MIN(shade + 1, SHADES - 1); i++)
        found = find_match(p, i, &m, lab, found);
    if (found < n)
        return found;
    g_array_append_val(p->matches, m);
    g_array_append_val(p->labs, lab);
    g_array_append_val(in_shade(p, shade), n);
    return n;
}

static int choose(DtPens *p, int asked, DtColour c, double area_mm2, gboolean toned)
{
    if (asked < 0)
        asked = dt_pens_ruled(p, c);
    gint64 key = pack(c, asked, toned);
    gpointer known = g_hash_table_lookup(p->known, &key);
    if (!known) {
        DtInkMatch m = asked >= 0 ? match_asked(p, c, asked, toned)
                       : toned    ? nearest_toned(p, c)
                                  : nearest(p, c);
        known = GUINT_TO_POINTER(add_match(p, m) + 1);
        g_hash_table_insert(p->known, g_memdup2(&key, sizeof key), known);
    }
    DtInkMatch *m = &g_array_index(p->matches, DtInkMatch, GPOINTER_TO_UINT(known) - 1);
    m->area_mm2 += area_mm2;
    return m->pen;
}

int dt_pens_choose(DtPens *p, DtColour c, int asked, double area_mm2)
{
    return choose(p, asked, dt_colour_over(c, p->paper), area_mm2, FALSE);
}

int dt_pens_choose_tone(DtPens *p, DtColour c, int asked, double area_mm2, double *coverage)
{
    c = dt_colour_over(c, p->paper);
    int pen = choose(p, asked, c, area_mm2, TRUE);
    *coverage = pen < 0 ? 0 : dt_ink_coverage(c, p->rack->pens[pen].colour, p->paper);
    return pen;
}

static gboolean is_taken_for_paper(const DtPens *p, DtColour c)
{
    DtLab lab = dt_colour_lab(c);
    double d = dt_colour_difference(lab, p->paper_lab);
    if (!looks_like(c, p->paper, d))
        return FALSE;
    for (size_t i = 0; i < p->rack->n; i++)
        if (!differ_by(c, p->rack->pens[i].colour, SURELY_APART) &&
            dt_colour_difference(lab, p->pen_lab[i]) <= d)
            return FALSE;
    return TRUE;
}

gboolean dt_pens_looks_like_paper(DtPens *p, DtColour c)
{
    c = dt_colour_over(c, p->paper);
    if (differ_by(c, p->paper, SURELY_APART))
        return FALSE;
    uint32_t r = (uint32_t)lround(CLAMP(c.r, 0, 1) * STEPS);
    uint32_t g = (uint32_t)lround(CLAMP(c.g, 0, 1) * STEPS);
    uint32_t b = (uint32_t)lround(CLAMP(c.b, 0, 1) * STEPS);
    uint32_t key = (r << 20) + (g << 10) + b;
    uint32_t *kept = &p->answers[(key * 2654435761u) >> 20];
    if (*kept == 0 || (*kept - 1) / 2 != key) {
        DtColour step = {r / (double)STEPS, g / (double)STEPS, b / (double)STEPS, 1};
        *kept = 1 + 2 * key + (is_taken_for_paper(p, step) ? 1 : 0);
    }
    return (*kept - 1) % 2 != 0;
}

/* The number of the match for a record without area. A search for the same colour and pens would
 * find it again, since matches are only added. */
static guint recorded_match(DtPens *p, DtInkMatch m)
{
    const double place = 255 * (m.colour.r + 5 * m.colour.g + 17 * m.colour.b) + m.pen;
    Recorded *r = &p->recorded[(guint)CLAMP(place, 0, 1e6) % RECORDED];
    if (r->is_known && dt_colour_equal(r->colour, m.colour) && r->pen == m.pen &&
        r->across == m.across)
        return r->match;
    DtLab lab = dt_colour_lab(m.colour);
    m.before = dt_colour_difference(lab, p->pen_lab[0]);
    for (size_t i = 1; i < p->rack->n; i++)
        m.before = MIN(m.before, dt_colour_difference(lab, p->pen_lab[i]));
    *r = (Recorded){TRUE, m.colour, m.pen, m.across, add_match(p, m)};
    return r->match;
}

void dt_pens_record(DtPens *p, DtInkMatch m)
{
    const double area = m.area_mm2;
    p->taken_back |= area < 0;
    m.area_mm2 = 0;
    const guint i = recorded_match(p, m);
    DtInkMatch *k = &g_array_index(p->matches, DtInkMatch, i);
    const double sum = k->area_mm2 + area;
    if (sum > 0) {
        k->distance = (k->distance * k->area_mm2 + m.distance * area) / sum;
        k->coverage = (k->coverage * k->area_mm2 + m.coverage * area) / sum;
        k->across_coverage = (k->across_coverage * k->area_mm2 + m.across_coverage * area) / sum;
    }
    k->area_mm2 = sum;
}

void dt_pens_report(const DtPens *p, DtInkReport *r)
{
    r->matches = g_new(DtInkMatch, p->matches->len + 1);
    r->n = 0;
    for (guint i = 0; i < p->matches->len; i++) {
        const DtInkMatch *m = &g_array_index(p->matches, DtInkMatch, i);
        if (m->area_mm2 > 1e-9 || !p->taken_back)
            r->matches[r->n++] = *m;
    }
}

/* Lost length that is worth a note, mm. */
#define LEAST_UNSEEN 1.0
/* The share of ink beside fine shapes from which on it is: they look more than twice as heavy. */
#define MOST_BESIDE 0.5

char *dt_ink_report_note(const DtInkReport *r, size_t i)
{
    if (r->judged_alone && i-- == 0)
        return g_strdup(
            _("translucent areas cross too often to be mixed: each paint is judged by itself, "
              "fills are dense, and what hides less than half is left out"));
    if (r->dense_gradients > 0 && i-- == 0)
        return g_strdup_printf(P_("%zu gradient is drawn in dense ink, without its tones",
                                  "%zu gradients are drawn in dense ink, without their tones",
                                  r->dense_gradients),
                               r->dense_gradients);
    if (r->dense_pictures > 0 && i-- == 0)
        return g_strdup_printf(P_("%zu picture is drawn in dense ink, without its tones",
                                  "%zu pictures are drawn in dense ink, without their tones",
                                  r->dense_pictures),
                               r->dense_pictures);
    if (r->points_wanted > 0 && i-- == 0)
        return g_strdup_printf(_("the tones take %zu points, but only %zu are allowed: they come "
                                 "out lighter than stated"),
                               r->points_wanted, r->points);
    if (r->faint > 0 && i-- == 0)
        return g_strdup_printf(
            P_("%zu translucent paint or overlap of such hides too little to be drawn",
               "%zu translucent paints or overlaps of such hide too little to be drawn", r->faint),
            r->faint);
    if (r->beside > MOST_BESIDE && i-- == 0)
        return g_strdup_printf(
            _("%.0f %% of the ink lies beside the shapes that it draws, which are finer than the "
              "pen: they come out darker than stated (a finer pen or a larger scale shows them)"),
            100 * r->beside);
    if (r->texture_mm2 > 0 && i-- == 0)
        return g_strdup_printf(
            _("%.0f mm² are textures of parts finer than the pen: their mean colours are drawn "
              "instead (a finer pen or a larger scale shows the parts)"),
            r->texture_mm2);
    if (r->crowded_mm >= LEAST_UNSEEN && i-- == 0)
        return g_strdup_printf(
            r->thinned_out
                ? _("%.0f mm of lines finer than the pen are left out where they crowd")
                : _("lines finer than the pen crowd, about %.0f mm too many: at the pen's width "
                    "they come out far darker than the artwork (thin-out leaves some out)"),
            r->crowded_mm);
    if (isnan(r->unseen_mm) && i-- == 0)
        return g_strdup(_("it has too many narrow parts to tell whether the ink shows them all"));
    if (r->unseen_mm >= LEAST_UNSEEN && i-- == 0)
        return g_strdup_printf(_("%.0f mm of thin lines, letters or other narrow parts do not "
                                 "show: the ink on them is "
                                 "like that beside them (most of it near X %.0f, Y %.0f mm)"),
                               r->unseen_mm, r->unseen_at.x, r->unseen_at.y);
    if (r->together > 0 && i-- == 0)
        return g_strdup_printf(P_("%zu paint comes in too many parts to choose for each by itself: "
                                  "all have the same pen "
                                  "and coverage",
                                  "%zu paints come in too many parts to choose for each by itself: "
                                  "all of a paint have "
                                  "the same pen and coverage",
                                  r->together),
                               r->together);
    if (r->unsearched && i-- == 0)
        return g_strdup(
            _("there is too much ink to look for thin lines that lie free: they keep the "
              "nearest pen, though a lighter one might look nearer"));
    return NULL;
}

void dt_ink_report_clear(DtInkReport *r)
{
    g_free(r->matches);
    memset(r, 0, sizeof *r);
}
