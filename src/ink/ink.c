/* ink: being built. */
#include "drawtrue/ink.h"
