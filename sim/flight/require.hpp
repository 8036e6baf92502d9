// What the station's functions refuse.
#pragma once

#include "sim/base/errors.hpp"

namespace spotwright::flight {

/// @throws DomainError  What is required does not hold.
inline void require(bool holds, const char* name, double value, const char* allowed) {
    if (!holds) throw base::DomainError(name, value, allowed);
}

}  // namespace spotwright::flight
