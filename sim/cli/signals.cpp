#include "sim/cli/signals.hpp"

#include <sys/time.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <csignal>
#include <string_view>

#include "sim/record/unfinished.hpp"

namespace spotwright::cli {

namespace {

struct Ending {
    int signal;
    std::string_view words;
};

constexpr std::array endings{
    Ending{
        SIGALRM,
        "\nspotwright: the time limit is reached (SIGALRM). Unfinished files are removed, older ones are unchanged.\n"},
    Ending{SIGINT, "\nspotwright: interrupted (SIGINT). Unfinished files are removed, older ones are unchanged.\n"},
    Ending{SIGTERM, "\nspotwright: terminated (SIGTERM). Unfinished files are removed, older ones are unchanged.\n"},
    Ending{SIGHUP, "\nspotwright: hung up (SIGHUP). Unfinished files are removed, older ones are unchanged.\n"},
    Ending{
        SIGXCPU,
        "\nspotwright: the limit of processor time is reached (SIGXCPU). Unfinished files are removed, older ones are "
        "unchanged.\n"},
    Ending{SIGPIPE, ""}};

// Calls only what POSIX allows in a handler. The handler is reset when it is entered, so that raising ends the program.
void end_by(int signal) {
    for (const Ending& ending : endings) {
        if (ending.signal != signal || ending.words.empty()) continue;
        static_cast<void>(!::write(STDERR_FILENO, ending.words.data(), ending.words.size()));
    }
    record::remove_unfinished();
    sigset_t only;
    sigemptyset(&only);
    sigaddset(&only, signal);
    pthread_sigmask(SIG_UNBLOCK, &only, nullptr);
    raise(signal);
}

}  // namespace

void handle_signals() {
    std::signal(SIGXFSZ, SIG_IGN);  // writing then fails with the reason
    struct sigaction action {};
    action.sa_handler = end_by;
    action.sa_flags = static_cast<int>(SA_RESETHAND);
    sigfillset(&action.sa_mask);
    for (const Ending& ending : endings) {
        struct sigaction before {};
        if (sigaction(ending.signal, nullptr, &before) == 0 && before.sa_handler == SIG_IGN) continue;
        sigaction(ending.signal, &action, nullptr);
    }
}

void limit_time(double seconds) {
    // Also where whoever started the program ignores or blocks the signal.
    struct sigaction action {};
    action.sa_handler = end_by;
    action.sa_flags = static_cast<int>(SA_RESETHAND);
    sigfillset(&action.sa_mask);
    sigaction(SIGALRM, &action, nullptr);
    sigset_t only;
    sigemptyset(&only);
    sigaddset(&only, SIGALRM);
    pthread_sigmask(SIG_UNBLOCK, &only, nullptr);
    itimerval limit{};
    limit.it_value.tv_sec = static_cast<time_t>(seconds);
    limit.it_value.tv_usec = static_cast<suseconds_t>(1e6 * (seconds - std::floor(seconds)));
    setitimer(ITIMER_REAL, &limit, nullptr);
}

}  // namespace spotwright::cli
