// Signals that end the program.
#pragma once

namespace spotwright::cli {

/// Makes the program end cleanly by SIGINT, SIGTERM, SIGHUP, SIGXCPU and SIGPIPE: unfinished files are removed,
/// standard error says what happened (a closed pipe says nothing), and the shell sees the signal. Those that are
/// ignored stay ignored. A limit of file sizes becomes an error of writing.
void handle_signals();

/// Ends the program by SIGALRM after a time, likewise. @param seconds  Positive.
void limit_time(double seconds);

}  // namespace spotwright::cli
