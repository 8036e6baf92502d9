// The parallel loop: every index once, any number of threads, and errors that come back.

#include <pthread.h>

#include <atomic>
#include <chrono>
#include <set>
#include <stdexcept>
#include <thread>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/base/parallel.hpp"

using spotwright::base::parallel_for;

TEST_CASE("every index is visited exactly once, whatever the number of threads", "[base][determinism]") {
    for (const int threads : {0, 1, 2, 7}) {
        for (const std::int64_t count : {0, 1, 2, 6, 7, 8, 1000}) {
            std::vector<std::atomic<int>> visits(static_cast<std::size_t>(count));
            parallel_for(count, threads, [&](std::int64_t i) { ++visits[static_cast<std::size_t>(i)]; });
            INFO(threads << " threads, " << count << " indices");
            CHECK(std::all_of(visits.begin(), visits.end(), [](const auto& each) { return each == 1; }));
        }
    }
}

TEST_CASE("a negative count is no work", "[base][unit]") {
    int calls = 0;
    parallel_for(-5, 2, [&](std::int64_t) { ++calls; });
    CHECK(calls == 0);
}

TEST_CASE("all threads take part, and no more than were asked for", "[base][unit]") {
    std::atomic<int> inside{0};
    std::atomic<int> most{0};
    parallel_for(3, 3, [&](std::int64_t) {
        const int now = ++inside;
        most = std::max(most.load(), now);
        // Stays until all three are here at once; the limit only keeps a failing test from hanging.
        const auto limit = std::chrono::steady_clock::now() + std::chrono::seconds(20);
        while (inside < 3 && std::chrono::steady_clock::now() < limit) std::this_thread::yield();
    });
    CHECK(inside == 3);
    std::atomic<int> running{0};
    std::atomic<bool> too_many{false};
    parallel_for(200, 2, [&](std::int64_t) {
        if (++running > 2) too_many = true;
        std::this_thread::yield();
        --running;
    });
    CHECK_FALSE(too_many);
}

TEST_CASE("a loop goes on with the threads it has where the system gives no more", "[base][unit]") {
    pthread_attr_t usual;
    REQUIRE(pthread_getattr_default_np(&usual) == 0);
    pthread_attr_t huge;
    REQUIRE(pthread_getattr_default_np(&huge) == 0);
    REQUIRE(pthread_attr_setstacksize(&huge, std::size_t{1} << 47U) == 0);  // more than there are addresses
    REQUIRE(pthread_setattr_default_np(&huge) == 0);
    CHECK_THROWS_AS(std::thread([] {}).join(), std::system_error);
    std::atomic<int> visits{0};
    CHECK_NOTHROW(parallel_for(100, 4, [&](std::int64_t) { ++visits; }));
    pthread_setattr_default_np(&usual);
    CHECK(visits == 100);
}

TEST_CASE("what a body throws is thrown again, the lowest index first", "[base][unit]") {
    for (const int threads : {1, 2, 7}) {
        INFO(threads);
        CHECK_THROWS_WITH(parallel_for(500, threads,
                                       [](std::int64_t i) {
                                           if (i >= 100) throw std::runtime_error(std::to_string(i));
                                       }),
                          "100");
    }
}

TEST_CASE("of two errors the one of the lower index is thrown, whichever came first", "[base][determinism]") {
    for (const std::int64_t early : {0, 1}) {
        INFO("first to throw: " << early);
        std::atomic<int> inside{0};
        const auto body = [&](std::int64_t i) {
            ++inside;
            while (inside < 2) std::this_thread::yield();
            if (i != early) std::this_thread::sleep_for(std::chrono::milliseconds(20));
            throw std::runtime_error(std::to_string(i));
        };
        CHECK_THROWS_WITH(parallel_for(2, 2, body), "0");
    }
}

TEST_CASE("after an error the remaining indices are left out and all threads have stopped", "[base][unit]") {
    std::atomic<std::int64_t> visited{0};
    CHECK_THROWS_AS(parallel_for(1'000'000, 4,
                                 [&](std::int64_t) {
                                     ++visited;
                                     throw std::invalid_argument("first");
                                 }),
                    std::invalid_argument);
    CHECK(visited <= 4);
    const std::int64_t at_return = visited;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
    CHECK(visited == at_return);
}

TEST_CASE("a loop may stand inside a loop", "[base][unit]") {
    std::atomic<int> visits{0};
    parallel_for(4, 2, [&](std::int64_t) { parallel_for(5, 2, [&](std::int64_t) { ++visits; }); });
    CHECK(visits == 20);
}
