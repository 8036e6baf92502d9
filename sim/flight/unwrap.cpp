#include "sim/flight/unwrap.hpp"
