#include "support/matchers.h"
