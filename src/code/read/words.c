/* words: the tables of NISTIR 6556: letters (table 3), G codes with their modal groups (tables 4
 * and 5), M codes (tables 4 and 7). */
#include "code/read/rs274.h"

const char dt_axis_letters[AXES] = {'X', 'Y', 'Z', 'A', 'B', 'C'};

const char *const dt_letters[26] = {
    ['A' - 'A'] = N_("A axis"),
    ['B' - 'A'] = N_("B axis"),
    ['C' - 'A'] = N_("C axis"),
    ['D' - 'A'] = N_("tool radius number"),
    ['F' - 'A'] = N_("feed"),
    ['G' - 'A'] = N_("function"),
    ['H' - 'A'] = N_("tool length number"),
    ['I' - 'A'] = N_("arc centre along X"),
    ['J' - 'A'] = N_("arc centre along Y"),
    ['K' - 'A'] = N_("arc centre along Z"),
    ['L' - 'A'] = N_("repeats"),
    ['M' - 'A'] = N_("miscellaneous function"),
    ['N' - 'A'] = N_("line number"),
    ['P' - 'A'] = N_("dwell or key"),
    ['Q' - 'A'] = N_("depth of a peck"),
    ['R' - 'A'] = N_("arc radius or retract plane"),
    ['S' - 'A'] = N_("spindle speed"),
    ['T' - 'A'] = N_("tool"),
    ['X' - 'A'] = N_("X axis"),
    ['Y' - 'A'] = N_("Y axis"),
    ['Z' - 'A'] = N_("Z axis"),
};

#define G(group, says)                                                                             \
    {                                                                                              \
        1, group, 0, says                                                                          \
    }
#define G_AXES(says)                                                                               \
    {                                                                                              \
        1, G_NON_MODAL, 1, says                                                                    \
    }

const DtCodeRule dt_g_codes[G_TENTHS] = {
    [0] = G(G_MOTION, N_("travel")),
    [10] = G(G_MOTION, N_("straight line at feed")),
    [20] = G(G_MOTION, N_("clockwise arc")),
    [30] = G(G_MOTION, N_("anticlockwise arc")),
    [40] = G(G_NON_MODAL, N_("dwell")),
    [100] = G_AXES(N_("set a coordinate system")),
    [170] = G(G_PLANE, N_("XY plane")),
    [180] = G(G_PLANE, N_("XZ plane")),
    [190] = G(G_PLANE, N_("YZ plane")),
    [200] = G(G_UNITS, N_("inches")),
    [210] = G(G_UNITS, N_("millimetres")),
    [280] = G_AXES(N_("home")),
    [300] = G_AXES(N_("second home")),
    [382] = G(G_MOTION, N_("straight probe")),
    [400] = G(G_RADIUS, N_("no tool radius compensation")),
    [410] = G(G_RADIUS, N_("tool radius compensation, left")),
    [420] = G(G_RADIUS, N_("tool radius compensation, right")),
    [430] = G(G_LENGTH, N_("tool length offset")),
    [490] = G(G_LENGTH, N_("no tool length offset")),
    [530] = G(G_NON_MODAL, N_("in machine coordinates")),
    [540] = G(G_SYSTEM, N_("coordinate system 1")),
    [550] = G(G_SYSTEM, N_("coordinate system 2")),
    [560] = G(G_SYSTEM, N_("coordinate system 3")),
    [570] = G(G_SYSTEM, N_("coordinate system 4")),
    [580] = G(G_SYSTEM, N_("coordinate system 5")),
    [590] = G(G_SYSTEM, N_("coordinate system 6")),
    [591] = G(G_SYSTEM, N_("coordinate system 7")),
    [592] = G(G_SYSTEM, N_("coordinate system 8")),
    [593] = G(G_SYSTEM, N_("coordinate system 9")),
    [610] = G(G_PATH, N_("exact path")),
    [611] = G(G_PATH, N_("exact stop")),
    [640] = G(G_PATH, N_("continuous path")),
    [800] = G(G_MOTION, N_("no motion mode")),
    [810] = G(G_MOTION, N_("drilling cycle")),
    [820] = G(G_MOTION, N_("drilling cycle with dwell")),
    [830] = G(G_MOTION, N_("peck drilling cycle")),
    [840] = G(G_MOTION, N_("tapping cycle")),
    [850] = G(G_MOTION, N_("boring cycle")),
    [860] = G(G_MOTION, N_("boring cycle, spindle stop")),
    [870] = G(G_MOTION, N_("back boring cycle")),
    [880] = G(G_MOTION, N_("boring cycle, manual retract")),
    [890] = G(G_MOTION, N_("boring cycle with dwell")),
    [900] = G(G_DISTANCE, N_("absolute distances")),
    [910] = G(G_DISTANCE, N_("incremental distances")),
    [920] = G_AXES(N_("set the axis offsets")),
    [921] = G(G_NON_MODAL, N_("clear the axis offsets")),
    [922] = G(G_NON_MODAL, N_("suspend the axis offsets")),
    [923] = G(G_NON_MODAL, N_("restore the axis offsets")),
    [930] = G(G_FEED_MODE, N_("inverse time feed")),
    [940] = G(G_FEED_MODE, N_("feed in units per minute")),
    [980] = G(G_RETRACT, N_("cycles return to the first level")),
    [990] = G(G_RETRACT, N_("cycles return to the R level")),
};

#define M(group, says)                                                                             \
    {                                                                                              \
        1, group, 0, says                                                                          \
    }

const DtCodeRule dt_m_codes[M_NUMBERS] = {
    [0] = M(M_STOP, N_("pause")),
    [1] = M(M_STOP, N_("optional pause")),
    [2] = M(M_STOP, N_("end of the program")),
    [3] = M(M_SPINDLE, N_("spindle on, clockwise")),
    [4] = M(M_SPINDLE, N_("spindle on, anticlockwise")),
    [5] = M(M_SPINDLE, N_("spindle off")),
    [6] = M(M_TOOL, N_("tool change")),
    [7] = M(M_COOLANT, N_("mist on")),
    [8] = M(M_COOLANT, N_("flood on")),
    [9] = M(M_COOLANT, N_("coolant off")),
    [30] = M(M_STOP, N_("end of the program")),
    [48] = M(M_OVERRIDE, N_("overrides on")),
    [49] = M(M_OVERRIDE, N_("overrides off")),
    [60] = M(M_STOP, N_("pallet shuttle and pause")),
};
