#include "sim/flight/pulse.hpp"
