#include "sim/flight/air.hpp"
