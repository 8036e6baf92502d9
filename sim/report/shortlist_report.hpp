// The comparison of a shelf for a job: one HTML file to hand on.
#pragma once

#include <filesystem>
#include <string>

#include "sim/record/atomic_file.hpp"
#include "sim/study/shortlist.hpp"

namespace spotwright::report {

/// The page. @param date  ISO 8601; the same date and list give the same bytes.
[[nodiscard]] std::string shortlist_html(const scenario::Job& job, const study::Shortlist& list,
                                         const std::string& date);

/// A page whose file is open before the long work.
class ShortlistReport {
public:
    /// @throws ScenarioError  The name does not end in .html.  @throws IoError  The file cannot be written.
    ShortlistReport(const std::filesystem::path& out, const scenario::Job& job, std::string when);

    /// Writes the page and gives the file its name. Once, and last. @throws IoError
    void commit(const study::Shortlist& list);

private:
    record::AtomicFile file_;
    const scenario::Job& job_;
    std::string when_;
};

}  // namespace spotwright::report
