/* route: being built. */
#include "drawtrue/route.h"
