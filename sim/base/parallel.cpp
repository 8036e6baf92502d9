#include "sim/base/parallel.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <limits>
#include <mutex>
#include <new>
#include <system_error>
#include <thread>
#include <vector>

namespace spotwright::base {

#ifndef __EMSCRIPTEN__
namespace {

// Threads take the next index each; the exception of the lowest index is the one that comes out.
void share_out(std::int64_t count, int used, const std::function<void(std::int64_t)>& body) {
    std::atomic<std::int64_t> next{0};
    std::mutex failure_lock;
    std::int64_t failed_index = std::numeric_limits<std::int64_t>::max();
    std::exception_ptr failure;

    const auto work = [&] {
        for (std::int64_t i = next.fetch_add(1); i < count; i = next.fetch_add(1)) {
            try {
                body(i);
            } catch (...) {
                const std::lock_guard guard(failure_lock);
                if (i < failed_index) {
                    failed_index = i;
                    failure = std::current_exception();
                }
                next.store(count);
            }
        }
    };

    {
        std::vector<std::jthread> others;
        try {
            for (int t = 1; t < used; ++t) others.emplace_back(work);
        } catch (const std::system_error&) {  // the system gives no more of them: those there are do the work
        } catch (const std::bad_alloc&) {
        }
        work();
    }
    if (failure) std::rethrow_exception(failure);
}

}  // namespace
#endif

void parallel_for(std::int64_t count, int threads, const std::function<void(std::int64_t)>& body) {
#ifdef __EMSCRIPTEN__  // a page has no shared memory, so everything runs on the thread that calls
    static_cast<void>(threads);
#else
    const auto wanted = threads > 0 ? threads : static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
    const auto used = static_cast<int>(std::min<std::int64_t>(wanted, count));
    if (used > 1) {
        share_out(count, used, body);
        return;
    }
#endif
    for (std::int64_t i = 0; i < count; ++i) body(i);
}

}  // namespace spotwright::base
