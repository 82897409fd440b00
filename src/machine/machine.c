/* machine: being built. */
#include "drawtrue/machine.h"
