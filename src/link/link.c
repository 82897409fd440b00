/* link: being built. */
#include "drawtrue/link.h"
