/* code: being built. */
#include "drawtrue/code.h"
