/* art: being built. */
#include "drawtrue/art.h"
