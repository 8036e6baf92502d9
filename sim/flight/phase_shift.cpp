#include "sim/flight/phase_shift.hpp"
