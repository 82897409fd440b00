/* proof: being built. */
#include "drawtrue/proof.h"
