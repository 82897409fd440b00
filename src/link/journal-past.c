/* journal-past: how long the last runs of a machine have taken, against their estimates. */
#include "link/journal-sql.h"

/* What the machine's last runs show: sums of estimates, of real times and of homing times, and
 * for how many the homing is known. A run whose clock was not real time (a virtual machine), or
 * which spent most of its time waiting for a person, is ignored. */
typedef struct {
    double estimate_s, time_s, home_s;
    size_t homed;
} Past;

/* Only undisturbed runs: neither paused, nor held, nor homed again for a resume. */
static Past read_past(DtJournal *j, const char *machine)
{
    Past past = {0};
    sqlite3_stmt *s = NULL;
    if (sqlite3_prepare_v2(j->db,
                           "SELECT estimate_s, time_s, home_s FROM (SELECT id, estimate_s, time_s,"
                           " (SELECT SUM(CAST(text AS REAL)) FROM events WHERE run=id AND"
                           " kind='homed') AS home_s FROM runs WHERE machine=? AND status='done'"
                           " AND NOT EXISTS (SELECT 1 FROM events WHERE run=id AND"
                           " kind IN ('paused', 'held', 'recovering'))"
                           " AND (SELECT COUNT(*) FROM events WHERE run=id AND kind='homed') < 2)"
                           " WHERE time_s - IFNULL(home_s, 0) BETWEEN estimate_s/2 AND estimate_s*2"
                           " ORDER BY id DESC LIMIT 10",
                           -1, &s, NULL) == SQLITE_OK) {
        sqlite3_bind_text(s, 1, machine, -1, SQLITE_TRANSIENT);
        while (sqlite3_step(s) == SQLITE_ROW) {
            past.homed += sqlite3_column_type(s, 2) != SQLITE_NULL;
            past.estimate_s += sqlite3_column_double(s, 0);
            past.time_s += sqlite3_column_double(s, 1);
            past.home_s += sqlite3_column_double(s, 2);
        }
    }
    sqlite3_finalize(s);
    return past;
}

double dt_journal_pace(DtJournal *j, const char *machine)
{
    Past past = read_past(j, machine);
    return past.estimate_s > 0 ? (past.time_s - past.home_s) / past.estimate_s : 1;
}

double dt_journal_home_s(DtJournal *j, const char *machine)
{
    Past past = read_past(j, machine);
    return past.homed > 0 ? past.home_s / (double)past.homed : -1;
}
