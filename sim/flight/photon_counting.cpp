#include "sim/flight/photon_counting.hpp"
