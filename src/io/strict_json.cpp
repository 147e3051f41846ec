#include "sheetloupe/io/strict_json.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"

namespace sheetloupe {
namespace {

constexpr int kDeepest = 64;

std::string place_in(std::string_view text, std::size_t byte) {
  const std::string_view before = text.substr(0, std::min(byte, text.size()));
  const auto line = 1 + std::count(before.begin(), before.end(), '\n');
  const std::size_t start = before.rfind('\n');
  const std::size_t column = start == std::string_view::npos ? before.size() : before.size() - start - 1;
  return "line " + std::to_string(line) + ", column " + std::to_string(std::max<std::size_t>(column, 1));
}

// Depth is checked before parsing: the parser recurses.
void check_depth(std::string_view text, const std::string& where) {
  int depth = 0;
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted) {
      if (c == '\\') ++i;
      if (c == '"') quoted = false;
      continue;
    }
    if (c == '"') quoted = true;
    if (c == '[' || c == '{') ++depth;
    if (c == ']' || c == '}') --depth;
    if (depth > kDeepest) {
      throw InputError({"the JSON is nested too deeply", where, "more than " + std::to_string(kDeepest) + " levels",
                        "a few levels", "Check the brackets"});
    }
  }
}

std::string shown(const Json& value) {
  std::string text = value.dump(-1, ' ', false, Json::error_handler_t::replace);
  if (text.size() > 60) text = text.substr(0, 57) + "...";
  return text;
}

// Edit distance (Levenshtein 1966), for naming the key that was probably meant.
std::size_t distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t corner = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t above = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, corner + (a[i - 1] == b[j - 1] ? 0U : 1U)});
      corner = above;
    }
  }
  return row[b.size()];
}

std::string number_text(double value) {
  std::string text = std::to_string(value);
  text.erase(text.find_last_not_of('0') + 1);
  if (!text.empty() && text.back() == '.') text.pop_back();
  return text;
}

std::string range_text(double least, double most) {
  const bool low = least > -1e300, high = most < 1e300;
  if (low && high) return "a number from " + number_text(least) + " to " + number_text(most);
  if (low) return "a number from " + number_text(least) + " up";
  return "a number";
}

}  // namespace

std::string nearest_name(std::string_view word, const std::vector<std::string>& known) {
  return *std::min_element(known.begin(), known.end(), [&](const std::string& a, const std::string& b) {
    return distance(word, a) < distance(word, b);
  });
}

Json parse_json(std::string_view text, const std::string& where) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
  check_depth(text, where);
  std::vector<std::set<std::string>> keys;
  std::string twice;
  const Json::parser_callback_t watch = [&](int, Json::parse_event_t event, Json& parsed) {
    if (event == Json::parse_event_t::object_start) keys.emplace_back();
    if (event == Json::parse_event_t::object_end && !keys.empty()) keys.pop_back();
    if (event == Json::parse_event_t::key && !keys.empty() && !keys.back().insert(parsed.get<std::string>()).second) {
      twice = parsed.get<std::string>();
    }
    return true;
  };
  Json json;
  try {
    json = Json::parse(text.begin(), text.end(), watch);
  } catch (const Json::parse_error& e) {
    throw InputError({"this is not valid JSON", where, place_in(text, e.byte), "JSON",
                      "Look there for a missing comma, quote or bracket"});
  } catch (const Json::exception& e) {
    throw InputError({"this JSON holds a value that cannot be read", where, e.what(), "plain numbers and text", ""});
  }
  if (!twice.empty())
    throw InputError({"a key is given twice", where + ": " + twice, "", "each key once", "Remove one"});
  if (!json.is_object()) throw InputError({"the file does not hold a JSON object", where, shown(json), "{ ... }", ""});
  return json;
}

Json read_json(const std::filesystem::path& path) {
  constexpr std::size_t kLargest = std::size_t{64} << 20U;
  return parse_json(read_file(path, kLargest), path.string());
}

JsonReader::JsonReader(const Json& object, std::string where) : json_(object), where_(std::move(where)) {
  if (!json_.is_object()) throw InputError({"wrong type", where_, shown(json_), "an object { ... }", ""});
}

void JsonReader::only(std::initializer_list<std::string_view> known) const {
  for (const auto& [key, value] : json_.items()) {
    if (std::find(known.begin(), known.end(), key) != known.end()) continue;
    const std::string nearest = nearest_name(key, {known.begin(), known.end()});
    throw InputError(
        {"unknown key " + shown(Json(key)), where_, "", "perhaps \"" + nearest + "\"", "Rename the key or remove it"});
  }
}

void JsonReader::schema_version(int expected) const {
  const auto version = integer("schema_version", 0, 1 << 30);
  if (version && *version != expected) {
    throw InputError({"this schema_version is not known", where_, std::to_string(*version), std::to_string(expected),
                      "The file may come from a newer sheetloupe"});
  }
}

const Json* JsonReader::find(std::string_view key) const {
  const auto it = json_.find(std::string(key));
  return it == json_.end() || it->is_null() ? nullptr : &*it;
}

bool JsonReader::has(std::string_view key) const { return find(key) != nullptr; }

void JsonReader::fail(std::string_view key, const std::string& expected) const {
  const Json* value = find(key);
  throw InputError({"wrong value for \"" + std::string(key) + "\"", where_, value ? shown(*value) : "nothing", expected,
                    "Correct it or leave the key out"});
}

std::optional<double> JsonReader::number(std::string_view key, double least, double most) const {
  const Json* value = find(key);
  if (!value) return {};
  if (!value->is_number()) fail(key, range_text(least, most));
  const double x = value->get<double>();
  if (!std::isfinite(x) || x < least || x > most) fail(key, range_text(least, most));
  return x;
}

std::optional<double> JsonReader::positive(std::string_view key, double most) const {
  const auto x = number(key, 0.0, most);
  if (x && *x <= 0.0) fail(key, "a number above 0, at most " + number_text(most));
  return x;
}

std::optional<int> JsonReader::integer(std::string_view key, int least, int most) const {
  const auto x = number(key, least, most);
  if (!x) return {};
  if (*x != std::floor(*x)) fail(key, "a whole number from " + std::to_string(least) + " to " + std::to_string(most));
  return static_cast<int>(*x);
}

std::optional<std::string> JsonReader::text(std::string_view key) const {
  const Json* value = find(key);
  if (!value) return {};
  if (!value->is_string()) fail(key, "text in quotes");
  return value->get<std::string>();
}

std::optional<std::string> JsonReader::choice(std::string_view key,
                                              std::initializer_list<std::string_view> choices) const {
  auto value = text(key);
  if (!value || std::find(choices.begin(), choices.end(), *value) != choices.end()) return value;
  std::string list;
  for (const std::string_view c : choices) list += (list.empty() ? "" : ", ") + std::string(c);
  fail(key, "one of " + list);
}

std::optional<std::vector<double>> JsonReader::numbers(std::string_view key, std::initializer_list<std::size_t> lengths,
                                                       double least, double most) const {
  const Json* value = find(key);
  if (!value) return {};
  std::string expected = "a list of numbers from " + number_text(least) + " to " + number_text(most);
  if (lengths.size() > 0) expected = "a list of " + std::to_string(*lengths.begin()) + expected.substr(9);
  if (!value->is_array()) fail(key, expected);
  std::vector<double> list;
  for (const Json& member : *value) {
    if (!member.is_number()) fail(key, expected);
    const double x = member.get<double>();
    if (!std::isfinite(x) || x < least || x > most) fail(key, expected);
    list.push_back(x);
  }
  if (lengths.size() > 0 && std::find(lengths.begin(), lengths.end(), list.size()) == lengths.end())
    fail(key, expected);
  return list;
}

std::vector<JsonReader> JsonReader::list(std::string_view key) const {
  const Json* value = find(key);
  if (!value) return {};
  if (!value->is_array()) fail(key, "a list [ ... ]");
  std::vector<JsonReader> members;
  for (std::size_t i = 0; i < value->size(); ++i) {
    members.emplace_back((*value)[i], where_ + ": " + std::string(key) + "[" + std::to_string(i) + "]");
  }
  return members;
}

std::optional<JsonReader> JsonReader::object(std::string_view key) const {
  const Json* value = find(key);
  if (!value) return {};
  return JsonReader(*value, where_ + ": " + std::string(key));
}

}  // namespace sheetloupe
