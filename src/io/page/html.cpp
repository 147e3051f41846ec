#include "io/page/html.h"

#include <cmath>
#include <cstdio>

namespace sheetloupe::page {

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

std::string number(double value, int digits) {
  char buffer[64];
  std::snprintf(buffer, sizeof buffer, "%.*f", digits, std::abs(value));
  const bool minus = value < 0 && std::string_view(buffer).find_first_of("123456789") != std::string_view::npos;
  return (minus ? "\u2212" : "") + std::string(buffer);
}

std::string number(const Json& value, int digits) {
  return value.is_number() ? number(value.get<double>(), digits) : "cannot tell";
}

std::string measured(const Json& value, const Json& u95, int digits, const std::string& unit) {
  if (!value.is_number()) return "cannot tell";
  std::string text = number(value, digits);
  if (u95.is_number()) text += " <span class=\"u\">\u00b1" + number(u95, digits) + "</span>";
  return text + (unit == "\u00b0" ? "" : " ") + unit;
}

std::string base64(std::string_view bytes) {
  constexpr char kDigits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve(bytes.size() * 4 / 3 + 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    unsigned v = 0;
    for (std::size_t k = 0; k < 3; ++k)
      v = v << 8U | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    for (std::size_t k = 0; k < 4; ++k) out += i + k <= bytes.size() ? kDigits[v >> (18 - 6 * k) & 63U] : '=';
  }
  return out;
}

const Json* face_of(const Json& report, std::string_view role) {
  const auto faces = report.find("faces");
  if (faces == report.end()) return nullptr;
  for (const Json& face : *faces) {
    if (face.value("role", "") == role) return &face;
  }
  return nullptr;
}

std::string path_of(const Json& rings) {
  std::string path;
  for (const Json& ring : rings) {
    char command = 'M';
    for (std::size_t i = 0; i + 1 < ring.size(); ++i) {
      char buffer[64];
      std::snprintf(buffer, sizeof buffer, "%c%.2f %.2f", command, ring[i][0].get<double>(), ring[i][1].get<double>());
      path += buffer;
      command = 'L';
    }
    path += 'Z';
  }
  return path;
}

}  // namespace sheetloupe::page
