/* machines: one table of controllers. */
#include "machines.h"

#include <string.h>

#define PLAIN "G0 G1 G4 G21 G28 G90 M2 M3 M5 F N P S X Y"
#define BUILT_IN                                                                                   \
    "G0 G1 G2 G3 G4 G17 G20 G21 G28 G90 G91 G94 M0 M2 M3 M5 M30 F I J N P R S0..100 X Y"
#define ARCS PLAIN " G2 G3 G17 G20 G91 G94 M0 M30 I J R"
#define FULL ARCS " G10 G18 G19 G53 G54 G55 G80 G81 G92 G92.1 G93 G98 K L Q Z expressions:taken"

static const struct {
    const char *name, *words, *down, *up; /* NULL: as built in */
    int longest;                          /* 0: as built in */
    gboolean no_check;
} machines[] = {
    {"plain", PLAIN, NULL, NULL, 0, FALSE},
    {"arcs", ARCS, NULL, NULL, 0, FALSE},
    {"full", FULL, NULL, NULL, 0, FALSE},
    {"z", "G0 G1 G4 G21 G28 G90 M2 F N P X Y Z", "G1 Z-1 F300", "G0 Z3", 0, FALSE},
    {"zfull", FULL, "G1 Z-1 F300", "G0 Z3", 0, FALSE},
    {"own", PLAIN " M41 M42", "M41", "M42", 0, FALSE},
    {"laconic", PLAIN " comment:none gap:needed", NULL, NULL, 40, TRUE},
    {"semicolon", PLAIN " comment:both", NULL, NULL, 0, FALSE},
    {"milliseconds", PLAIN " dwell:ms", NULL, NULL, 0, FALSE},
    {"nodwell", "G0 G1 G21 G28 G90 M2 M3 M5 F N S X Y", NULL, NULL, 0, FALSE},
    {"builtin", NULL, NULL, NULL, 0, FALSE},
    {"oneplane", "G0 G1 G2 G3 G4 G21 G28 G90 M2 M3 M5 F I J N P S X Y", NULL, NULL, 0, FALSE},
    {"toolchanger", BUILT_IN " T M6", NULL, NULL, 0, FALSE},
    {"takesz", BUILT_IN " Z", NULL, NULL, 0, FALSE},
    {"bothways", BUILT_IN, "M3 S60", "M3 S10", 0, FALSE},
    {"inverted", BUILT_IN, "M5", "M3 S40", 0, FALSE},
    {"parked", BUILT_IN, NULL, NULL, 0, FALSE},
    {"ranged", "G0 G1 G4 G21 G28 G90 M2 M3 M5 F N P S0..255 X Y", NULL, NULL, 0, FALSE},
};

static void replace(char **text, const char *by)
{
    if (by == NULL)
        return;
    g_free(*text);
    *text = g_strdup(by);
}

DtProfile *machine_by_name(const char *name)
{
    for (size_t i = 0; i < G_N_ELEMENTS(machines); i++) {
        if (strcmp(name, machines[i].name) != 0)
            continue;
        DtProfile *p = dt_profile_new();
        replace(&p->dialect.words, machines[i].words);
        replace(&p->dialect.pen_down, machines[i].down);
        replace(&p->dialect.pen_up, machines[i].up);
        if (machines[i].longest)
            p->dialect.longest_line = machines[i].longest;
        if (machines[i].no_check)
            p->dialect.line_check = FALSE;
        if (strcmp(name, "parked") == 0)
            p->park = dt_point(5, 200);
        return p;
    }
    return NULL;
}
