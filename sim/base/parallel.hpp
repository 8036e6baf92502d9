// One fork-join loop over threads. Results never depend on the thread count: callers write disjoint outputs.
#pragma once

#include <cstdint>
#include <functional>

namespace spotwright::base {

/// As many threads as a user may ask for.
inline constexpr int most_threads = 1024;

/// Runs `body(i)` once for every i in [0, count), on up to `threads` threads, and waits for all.
/// Indices are handed out one at a time, so bodies of unequal length share the cores well.
/// Where the system gives fewer threads, the loop goes on with those it has, at least the calling one.
/// @param threads  0: as many as the machine has cores.
/// @throws whatever a body throws: the exception of the lowest index, after all threads have stopped.
void parallel_for(std::int64_t count, int threads, const std::function<void(std::int64_t)>& body);

}  // namespace spotwright::base
