// One function of several cases, for std::visit.
#pragma once

namespace spotwright::base {

/// `std::visit(Cases{[](const A&) {...}, [](const B&) {...}}, variant)`: a case that is missing does not compile.
template <class... Functions>
struct Cases : Functions... {
    using Functions::operator()...;
};
template <class... Functions>
Cases(Functions...) -> Cases<Functions...>;

}  // namespace spotwright::base
