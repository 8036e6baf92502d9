// Small helpers for words people type and read.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace spotwright::base {

/// The candidate closest to `word` by edit distance (insert, delete, replace, each 1), case ignored.
/// Empty when none is within a third of the word's length plus one, so that no far-fetched name is offered, and for a
/// word of more than 64 characters.
[[nodiscard]] std::string nearest_word(std::string_view word, std::span<const std::string> candidates);

/// The hint of an error: "did you mean `word`?"; empty without a word.
[[nodiscard]] std::string did_you_mean(std::string_view word);

/// A length for people, to some significant digits: in um below a millimetre, in mm from there on, "0 um" where it is
/// less than an atom's breadth and so mere rounding. @param digits  Of the number, > 0.
[[nodiscard]] std::string length_text(double metres, int digits);

/// Whether a byte is a control character of ASCII: U+0000 to U+001F, U+007F.
[[nodiscard]] bool is_control(char c);

/// Text from outside that cannot disturb a terminal, a line or a file: control characters become spaces.
[[nodiscard]] std::string printable(std::string_view text);

/// "a, b or c".
[[nodiscard]] std::string alternatives(std::span<const std::string> words);

}  // namespace spotwright::base
