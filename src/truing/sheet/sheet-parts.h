/* sheet-parts: what the parts of a sheet have in common. Private to the room. */
#pragma once

#include "drawtrue/truing.h"

/* Where a part is drawn: commanded mm on the bed. */
typedef DtBox DtSheetArea;

/* A vernier: two combs of ticks that meet in a line along `axis`, the main one below it (left of it, for
 * Y), the other above. Tick k of the main comb stands at `at` + k * pitch along the axis, that of the
 * vernier at `at` + shift + k * (pitch - least). */
typedef struct {
    DtSheetKind part;
    int axis, row;
    DtPoint at; /* of tick 0, on the line in which the combs meet */
    double pitch, least,
        shift;       /* pitch and least count may both be negative: tick numbers then fall */
    int first, last; /* ticks */
    gboolean
        one_way; /* all ticks are drawn in the same direction: the combs are of different axes */
    gboolean
        opposed; /* ticks of both combs are drawn one after the other, the vernier's against the way
                                  * of the main comb's; both axes' approach is the main comb's */
    gboolean main_above;         /* the main comb lies above the line */
    int main_from, vernier_from; /* the way in which the axis comes to the ticks: +1 or -1 */
    const char *name;            /* beside it, such as "X1" */
} DtVernier;

void dt_vernier_add_main(DtTestSheet *s, const DtVernier *v);
void dt_vernier_add_vernier(DtTestSheet *s, const DtVernier *v);
/* Both combs, where they are opposed. */
void dt_vernier_add_opposed(DtTestSheet *s, const DtVernier *v);
/* The numbers of the vernier's ticks. */
gboolean dt_vernier_add_letters(DtTestSheet *s, const DtVernier *v, GError **error);
/* Beside the end of the combs: its name; an arrow for each comb in the way in which the axis came to it. */
gboolean dt_vernier_add_name(DtTestSheet *s, const DtVernier *v, GError **error);
void dt_vernier_add_arrows(DtTestSheet *s, const DtVernier *v);
/* How far a vernier reaches across its line either way, numbers included; and the height of numbers. */
extern const double dt_vernier_below_mm, dt_vernier_above_mm;

/* Text in single-line letters; `align` 0: from `at` to the right, 0.5: centred, 1: up to `at`. */
gboolean dt_sheet_add_text(DtTestSheet *s, DtSheetKind part, const char *text, DtPoint at,
                           double cap_height, double align, GError **error);
/* From `at` to the right, as many letters as are not wider than `room` mm. */
gboolean dt_sheet_add_text_within(DtTestSheet *s, DtSheetKind part, const char *text, DtPoint at,
                                  double cap_height, double room, GError **error);
/* A polyline of `n` points, drawn as letters are: never measured. */
void dt_sheet_add_path(DtTestSheet *s, DtSheetKind part, const DtPoint *p, size_t n);
/* An arrow of which the head is at `to`. */
void dt_sheet_add_arrow(DtTestSheet *s, DtSheetKind part, DtPoint from, DtPoint to);

/* Strokes of each pen for a scan, beside the part for scans. */
gboolean dt_sheet_add_scan_pens(DtTestSheet *s, const DtProfile *p, GError **error);
/* The tone steps of a pen: ten hatched steps from light to dark in a strip along X, above a strip of bars that cover a
 * known share, each `strip_mm` high; `at` is the lower left corner. */
gboolean dt_sheet_add_tones(DtTestSheet *s, const DtProfile *p, size_t pen, DtPoint at,
                            double strip_mm, GError **error);
/* What they take up, names and numbers included. */
DtPoint dt_sheet_tones_size(const DtProfile *p, size_t pen, double strip_mm);
/* Three such steps and a dense one for a scan, in a row; and what they take up. */
void dt_sheet_add_scan_tones(DtTestSheet *s, const DtProfile *p, size_t pen, DtPoint at);
DtPoint dt_sheet_scan_tones_size(const DtProfile *p, size_t pen);

/* Orders what is lettering. */
gboolean dt_sheet_tour_letters(DtTestSheet *s, const DtProfile *p, GError **error);

/* Rows of the slack part from here on are verniers that show twist: DT_SLACK_TWIST_ROW + 2 * axis + 0 or 1. */
enum { DT_SLACK_TWIST_ROW = 24 };
/* Rows of the speed part from those of X to those of Y: its ladders, and one that only sheets of earlier versions
 * have. */
enum { DT_SPEED_ROWS = 3 };
/* The ladder of accelerations, and its rung that has the profile's own value. */
enum { DT_SPEED_SHARP = 1, DT_SPEED_OWN_RUNG = 2 };
/* The jump of speed at a start or a reversal, mm/s, that goes with an acceleration. */
double dt_sheet_jump(const DtProfile *p, int axis, double acceleration);
/* Pitch of ticks that a pen of this tip keeps apart. */
double dt_sheet_pitch(const DtProfile *p);
/* FALSE with DT_ERROR_INPUT where the area is smaller than what the part needs. */
gboolean dt_sheet_need_room(DtSheetArea area, double w, double h, const char *part, GError **error);

/* A part within its area; each fails with DT_ERROR_INPUT where the area is too small. */
gboolean dt_sheet_add_slack(DtTestSheet *s, const DtProfile *p, DtSheetArea area, int axis,
                            GError **error);
gboolean dt_sheet_add_scale(DtTestSheet *s, DtSheetArea area, int axis, GError **error);
/* What of the area the axes also reach, `reach` mm, once the paper was turned. */
DtSheetArea dt_sheet_turnable(const DtTestSheet *s, const DtProfile *p, DtSheetArea area,
                              DtBox reach);
gboolean dt_sheet_add_square(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error);
/* What is drawn of it after the paper was turned. */
gboolean dt_sheet_add_square_turned(DtTestSheet *s, const DtProfile *p, DtSheetArea area,
                                    GError **error);
/* Where a place of that lies, as far as the profile knows the machine, on the paper in its first position. */
DtPoint dt_sheet_unturned_place(const DtTestSheet *s, const DtProfile *p, DtPoint at);
gboolean dt_sheet_add_settle(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error);
gboolean dt_sheet_add_speed(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error);
/* The height that it needs. */
double dt_sheet_pens_height(const DtProfile *p, DtSheetArea area);
gboolean dt_sheet_add_pens(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error);

/* The paper in its first position, commanded mm on the bed. */
DtBox dt_sheet_paper(const DtTestSheet *s);
/* A part of a sheet as a picture: commanded mm on the bed; text below it, or NULL. */
typedef struct {
    DtBox area;
    const char *title, *text;
    gboolean
        as_known; /* what is drawn after the turn lies where the profile's scale and squareness bring it */
    DtPoint ring;   /* a circle around what is asked about */
    double ring_mm; /* its radius; 0: none */
} DtSheetView;
/* Errors as for dt_proof_write(). */
gboolean dt_sheet_write_view(const DtTestSheet *s, const DtProfile *p, const DtSheetView *view,
                             const char *path, int width_px, GError **error);
