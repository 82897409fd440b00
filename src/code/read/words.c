/* words: the tables of NISTIR 6556: letters (table 3), G codes with their modal groups (tables 4
 * and 5), M codes (tables 4 and 7). */
#include "code/read/rs274.h"

const char dt_axis_letters[AXES] = {'X', 'Y', 'Z', 'A', 'B', 'C'};

const char *const dt_letters[26] = {
    ['A' - 'A'] = "A axis",
    ['B' - 'A'] = "B axis",
    ['C' - 'A'] = "C axis",
    ['D' - 'A'] = "tool radius number",
    ['F' - 'A'] = "feed",
    ['G' - 'A'] = "function",
    ['H' - 'A'] = "tool length number",
    ['I' - 'A'] = "arc centre along X",
    ['J' - 'A'] = "arc centre along Y",
    ['K' - 'A'] = "arc centre along Z",
    ['L' - 'A'] = "repeats",
    ['M' - 'A'] = "miscellaneous function",
    ['N' - 'A'] = "line number",
    ['P' - 'A'] = "dwell or key",
    ['Q' - 'A'] = "depth of a peck",
    ['R' - 'A'] = "arc radius or retract plane",
    ['S' - 'A'] = "spindle speed",
    ['T' - 'A'] = "tool",
    ['X' - 'A'] = "X axis",
    ['Y' - 'A'] = "Y axis",
    ['Z' - 'A'] = "Z axis",
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
    [0] = G(G_MOTION, "travel"),
    [10] = G(G_MOTION, "straight line at feed"),
    [20] = G(G_MOTION, "clockwise arc"),
    [30] = G(G_MOTION, "anticlockwise arc"),
    [40] = G(G_NON_MODAL, "dwell"),
    [100] = G_AXES("set a coordinate system"),
    [170] = G(G_PLANE, "XY plane"),
    [180] = G(G_PLANE, "XZ plane"),
    [190] = G(G_PLANE, "YZ plane"),
    [200] = G(G_UNITS, "inches"),
    [210] = G(G_UNITS, "millimetres"),
    [280] = G_AXES("home"),
    [300] = G_AXES("second home"),
    [382] = G(G_MOTION, "straight probe"),
    [400] = G(G_RADIUS, "no tool radius compensation"),
    [410] = G(G_RADIUS, "tool radius compensation, left"),
    [420] = G(G_RADIUS, "tool radius compensation, right"),
    [430] = G(G_LENGTH, "tool length offset"),
    [490] = G(G_LENGTH, "no tool length offset"),
    [530] = G(G_NON_MODAL, "in machine coordinates"),
    [540] = G(G_SYSTEM, "coordinate system 1"),
    [550] = G(G_SYSTEM, "coordinate system 2"),
    [560] = G(G_SYSTEM, "coordinate system 3"),
    [570] = G(G_SYSTEM, "coordinate system 4"),
    [580] = G(G_SYSTEM, "coordinate system 5"),
    [590] = G(G_SYSTEM, "coordinate system 6"),
    [591] = G(G_SYSTEM, "coordinate system 7"),
    [592] = G(G_SYSTEM, "coordinate system 8"),
    [593] = G(G_SYSTEM, "coordinate system 9"),
    [610] = G(G_PATH, "exact path"),
    [611] = G(G_PATH, "exact stop"),
    [640] = G(G_PATH, "continuous path"),
    [800] = G(G_MOTION, "no motion mode"),
    [810] = G(G_MOTION, "drilling cycle"),
    [820] = G(G_MOTION, "drilling cycle with dwell"),
    [830] = G(G_MOTION, "peck drilling cycle"),
    [840] = G(G_MOTION, "tapping cycle"),
    [850] = G(G_MOTION, "boring cycle"),
    [860] = G(G_MOTION, "boring cycle, spindle stop"),
    [870] = G(G_MOTION, "back boring cycle"),
    [880] = G(G_MOTION, "boring cycle, manual retract"),
    [890] = G(G_MOTION, "boring cycle with dwell"),
    [900] = G(G_DISTANCE, "absolute distances"),
    [910] = G(G_DISTANCE, "incremental distances"),
    [920] = G_AXES("set the axis offsets"),
    [921] = G(G_NON_MODAL, "clear the axis offsets"),
    [922] = G(G_NON_MODAL, "suspend the axis offsets"),
    [923] = G(G_NON_MODAL, "restore the axis offsets"),
    [930] = G(G_FEED_MODE, "inverse time feed"),
    [940] = G(G_FEED_MODE, "feed in units per minute"),
    [980] = G(G_RETRACT, "cycles return to the first level"),
    [990] = G(G_RETRACT, "cycles return to the R level"),
};

#define M(group, says)                                                                             \
    {                                                                                              \
        1, group, 0, says                                                                          \
    }

const DtCodeRule dt_m_codes[M_NUMBERS] = {
    [0] = M(M_STOP, "pause"),
    [1] = M(M_STOP, "optional pause"),
    [2] = M(M_STOP, "end of the program"),
    [3] = M(M_SPINDLE, "spindle on, clockwise"),
    [4] = M(M_SPINDLE, "spindle on, anticlockwise"),
    [5] = M(M_SPINDLE, "spindle off"),
    [6] = M(M_TOOL, "tool change"),
    [7] = M(M_COOLANT, "mist on"),
    [8] = M(M_COOLANT, "flood on"),
    [9] = M(M_COOLANT, "coolant off"),
    [30] = M(M_STOP, "end of the program"),
    [48] = M(M_OVERRIDE, "overrides on"),
    [49] = M(M_OVERRIDE, "overrides off"),
    [60] = M(M_STOP, "pallet shuttle and pause"),
};
