// A report read back with forbearance: a part that is missing or of another type reads as nothing, never as an error.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>

namespace sheetloupe::reading {

using Json = nlohmann::ordered_json;

inline std::string text(const Json& json, const char* key) {
  const auto it = json.find(key);
  return it != json.end() && it->is_string() ? it->get<std::string>() : "";
}

inline std::optional<double> number(const Json& json, const char* key) {
  const auto it = json.find(key);
  return it != json.end() && it->is_number() ? std::optional(it->get<double>()) : std::nullopt;
}

/// An object that outlives the call as long as `json` does.
inline const Json& member(const Json& json, const char* key) {
  static const Json none = Json::object();
  const auto it = json.find(key);
  return it != json.end() && it->is_object() ? *it : none;
}

inline Json list(const Json& json, const char* key) {
  const auto it = json.find(key);
  return it != json.end() && it->is_array() ? *it : Json::array();
}

}  // namespace sheetloupe::reading
