/* sheet-log: test sheets of a machine, what was read from them, and the corrections that were
 * written to its profile as a result; kept in the journal. `journal` is the journal's file, NULL
 * for the default place. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/machine.h"

#include <stddef.h>

typedef struct {
    gint64 number; /* counted for each machine from 1 */
    double at;     /* seconds since 1970 */
    char *machine;
    char *profile;     /* path; "" for the built-in one */
    char *profile_sum; /* checksum of what must not change before it is read,
                      * dt_truing_drive_sum(); "": unknown */
    char *program_sum; /* SHA-256 of the program */
    char *sheet;       /* its commanded marks, JSON */
    char *readings;    /* JSON; "" for none yet */
    char *figures;     /* what was solved from them, JSON; "" for none yet */
    /* of the best run of the same program */
    gboolean begun, drawn; /* drawn to its end */
    size_t strokes, strokes_drawn;
    gboolean corrected; /* corrections from it were written to a profile and not undone */
} DtSheetRecord;

void dt_sheet_record_clear(DtSheetRecord *r);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtSheetRecord, dt_sheet_record_clear)

/* The number for a machine's next sheet. */
gboolean dt_sheet_log_next(const char *journal, const char *machine, gint64 *number,
                           GError **error);
/* Enters a sheet; DT_ERROR_INPUT if another one has been given its number meanwhile. */
gboolean dt_sheet_log_add(const char *journal, const DtSheetRecord *r, GError **error);
/* Number 0: the machine's last sheet. DT_ERROR_INPUT if there is none. */
gboolean dt_sheet_log_read(const char *journal, const char *machine, gint64 number,
                           DtSheetRecord *out, GError **error);
/* Whether a program is a test sheet of a machine whose controller accepts no comments, by which others say that they go
 * beyond the profile's limits on purpose. FALSE if the journal or the file cannot be read. */
gboolean dt_sheet_log_is_sheet(const char *journal, const DtProfile *p, const char *program);
/* All sheets of a machine, or of all machines if it is NULL, oldest first: a GArray of
 * DtSheetRecord, freed with g_array_unref(). Empty if the journal does not exist. */
GArray *dt_sheet_log_read_all(const char *journal, const char *machine, GError **error);
/* Stores what was read from a sheet, or solved, replacing what was there; NULL keeps it. */
gboolean dt_sheet_log_keep(const char *journal, const char *machine, gint64 number,
                           const char *readings, const char *figures, GError **error);

/* Corrections written to a profile from a sheet. */
typedef struct {
    gint64 id, number; /* of the sheet */
    double at;
    char *before;    /* the whole text of the profile before */
    char *after_sum; /* SHA-256 of its text after */
} DtCorrectionRecord;

void dt_correction_record_clear(DtCorrectionRecord *r);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtCorrectionRecord, dt_correction_record_clear)

/* Records that corrections are written to the profile at `path`, whose text was `before`. */
gboolean dt_sheet_log_correct(const char *journal, const char *machine, const char *path,
                              const DtCorrectionRecord *r, GError **error);
/* The last correction of this profile that has not been undone; DT_ERROR_INPUT if there is none. */
gboolean dt_sheet_log_last_correction(const char *journal, const char *path,
                                      DtCorrectionRecord *out, GError **error);
gboolean dt_sheet_log_take_back(const char *journal, gint64 id, GError **error);
