// Runs the program as a user does, in a folder of its own.
#pragma once

#include <sys/wait.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>

namespace spotwright::support {

/// A folder of one test's own, removed with everything in it.
class Folder {
public:
    Folder() {
        std::string name = (std::filesystem::temp_directory_path() / "spotwright-cli-XXXXXX").string();
        path_ = mkdtemp(name.data());
    }
    ~Folder() { std::filesystem::remove_all(path_); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    [[nodiscard]] std::string operator/(const std::string& name) const { return (path_ / name).string(); }
    [[nodiscard]] std::string write(const std::string& name, const std::string& text) const {
        std::ofstream(path_ / name) << text;
        return (path_ / name).string();
    }
    [[nodiscard]] std::size_t files() const {
        return static_cast<std::size_t>(
            std::distance(std::filesystem::directory_iterator(path_), std::filesystem::directory_iterator()));
    }

private:
    std::filesystem::path path_;
};

struct Run {
    int code = 0;
    std::string out;
    std::string err;
};

inline std::string contents(const std::string& path) {
    std::ifstream in(path);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

inline Run run(const std::string& arguments, const std::string& before = "", const std::string& output = "") {
    const Folder folder;
    const std::string out = output.empty() ? folder / "out" : output;
    const std::string err = folder / "err";
    const std::string command = before + " '" SPOTWRIGHT_PROGRAM "' " + arguments + " >" + out + " 2>" + err;
    const int status = std::system(command.c_str());
    const std::string printed = output.empty() ? contents(out) : "";  // a device may have no end
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, printed, contents(err)};
}

inline constexpr const char* white = "[target]\nmaterial = \"white-ceramic\"\n[run]\nreadings = 300\n";

}  // namespace spotwright::support
