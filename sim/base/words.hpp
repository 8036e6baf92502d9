// Words and numbers as people type and read them.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/printable.hpp"

namespace spotwright::base {

/// The candidate closest to `word` by edit distance (insert, delete, replace, each 1), case ignored. Where none is
/// within a third of the word's length plus one, the first that contains the word (see `names_with`), as when a unit is
/// left out. Empty where there is none, so that no far-fetched name is offered, and for a word of more than 64
/// characters.
[[nodiscard]] std::string nearest_word(std::string_view word, std::span<const std::string> candidates);

/// Candidates that contain every part of `word`, case ignored; parts are separated by `-`, `_`, `.` or blanks, and in
/// each candidate one part must begin with it. A part of six letters or more may differ by one letter, as "aluminum"
/// does from "aluminium". Short candidates first, then in alphabetical order.
/// Empty for a word of fewer than three or more than 64 characters.
[[nodiscard]] std::vector<std::string> names_with(std::string_view word, std::span<const std::string> candidates);

/// The names that may have been meant: those with the word in them, at most `most`; else the nearest one, if any.
[[nodiscard]] std::vector<std::string> similar_names(std::string_view word, std::span<const std::string> candidates,
                                                     std::size_t most = 16);

/// The hint of an error: "did you mean `word`?"; empty without a word.
[[nodiscard]] std::string did_you_mean(std::string_view word);

/// "did you mean `a`, `b` or `c`?"; empty without a word.
[[nodiscard]] std::string did_you_mean(std::span<const std::string> words);

/// A length for people, to some significant digits: in um below a millimetre, in mm from there on, "0 um" where it is
/// less than an atom's breadth and so mere rounding. @param digits  Of the number, > 0.
[[nodiscard]] std::string length_text(double metres, int digits);

/// A number for people: `digits` significant digits, no trailing zeros, an exponent only below 1e-4 and from 1e9 on.
/// @param digits  > 0.
[[nodiscard]] std::string number_text(double value, int digits);

/// Decimals with which an uncertainty shows two significant digits (GUM 7.2.6) in a unit, after rounding: at most 9.
/// Negative above 99 units: -2 means that numbers are rounded to hundreds. Empty unless the uncertainty is positive and
/// finite.
[[nodiscard]] std::optional<int> decimals_for(double uncertainty, double unit);

/// An uncertainty, or a standard deviation, for people: two significant digits without an exponent, trailing zeros
/// kept. "0" where more than nine decimals would be needed.
[[nodiscard]] std::string two_digits(double uncertainty);

/// An uncertainty of a length for people: two significant digits, the unit by size as in `length_text`. A value that is
/// 0 or not finite has the text of `length_text`. [m]
[[nodiscard]] std::string uncertainty_text(double metres);

/// A number that fills the whole of a text, as `std::from_chars` reads it: a point for the decimals, no space, no `+`
/// in front. None for anything else, also for one that no `double` can hold.
[[nodiscard]] std::optional<double> number_of(std::string_view text);

/// A number for people, rounded to so many decimals. @param decimals  Negative: to tens (-1), hundreds (-2), ...
[[nodiscard]] std::string decimal_text(double value, int decimals);

/// A value for people, in a unit that is not named: rounded to the second significant digit of its uncertainty.
/// @param otherwise  Decimals where `decimals_for` gives none.
[[nodiscard]] std::string value_text(double value, double uncertainty, double unit, int otherwise);

/// A length for people, in the unit of `length_text`, rounded to the second significant digit of its uncertainty.
/// Without an uncertainty above 0 it has four significant digits. [m]
[[nodiscard]] std::string rounded_length_text(double metres, std::optional<double> uncertainty);

/// A number in text with its sign: "+" before a positive one.
[[nodiscard]] std::string with_sign(const std::string& number);

/// "a, b or c".
[[nodiscard]] std::string alternatives(std::span<const std::string> words);

}  // namespace spotwright::base
