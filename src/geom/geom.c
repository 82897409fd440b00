/* geom: being built. */
#include "drawtrue/geom.h"
