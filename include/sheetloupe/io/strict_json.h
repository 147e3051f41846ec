// JSON from people: every surprise is one clear message that names file and key.
#pragma once

#include <filesystem>
#include <initializer_list>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace sheetloupe {

using Json = nlohmann::ordered_json;

/// Parses text. Throws InputError on bad syntax (line and column), duplicate keys, depth over 64, a root that is no
/// object. A byte-order mark is passed over.
Json parse_json(std::string_view text, const std::string& where);
Json read_json(const std::filesystem::path& path);

/// The one of `known` (not empty) that was probably meant by `word`.
std::string nearest_name(std::string_view word, const std::vector<std::string>& known);

/// A JSON object being read key by key; `where` grows with the path inside the file.
class JsonReader {
 public:
  JsonReader(const Json& object, std::string where);

  /// Throws when a key is not among `known`, naming the nearest.
  void only(std::initializer_list<std::string_view> known) const;
  void schema_version(int expected) const;

  bool has(std::string_view key) const;
  /// Typed values; throw InputError with key, found and expected. A missing key is none.
  std::optional<double> number(std::string_view key, double least = -std::numeric_limits<double>::max(),
                               double most = std::numeric_limits<double>::max()) const;
  std::optional<double> positive(std::string_view key, double most = 1e6) const;
  std::optional<int> integer(std::string_view key, int least, int most) const;
  std::optional<std::string> text(std::string_view key) const;
  std::optional<std::string> choice(std::string_view key, std::initializer_list<std::string_view> choices) const;
  /// A list of numbers of one of the given lengths (empty list of lengths: any).
  std::optional<std::vector<double>> numbers(std::string_view key, std::initializer_list<std::size_t> lengths,
                                             double least, double most) const;
  /// The members of a list, each with its own place in messages; empty when the key is missing.
  std::vector<JsonReader> list(std::string_view key) const;
  std::optional<JsonReader> object(std::string_view key) const;
  const Json& json() const { return json_; }
  const std::string& where() const { return where_; }
  [[noreturn]] void fail(std::string_view key, const std::string& expected) const;

 private:
  const Json* find(std::string_view key) const;
  const Json& json_;
  std::string where_;
};

}  // namespace sheetloupe
