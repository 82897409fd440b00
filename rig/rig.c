/* rig: being built. */
#include "drawtrue/rig.h"
