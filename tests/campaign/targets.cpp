// Tells Highway that the machine has only some instruction sets: preloaded before a program (LD_PRELOAD).
// VECTORS  Bits of the instruction sets that it may use, of those that it has.
#include <cstdint>
#include <cstdlib>
#include <dlfcn.h>

namespace hwy {

std::int64_t SupportedTargets() {
    using Supported = std::int64_t (*)();
    const auto real = reinterpret_cast<Supported>(dlsym(RTLD_NEXT, "_ZN3hwy16SupportedTargetsEv"));
    const char* only = std::getenv("VECTORS");
    const std::int64_t all = real();
    return only == nullptr ? all : all & std::strtoll(only, nullptr, 0);
}

}  // namespace hwy
