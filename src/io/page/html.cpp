#include "io/page/html.h"

#include <openssl/evp.h>

#include <array>
#include <cctype>
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

const Json& at(const Json& json, std::initializer_list<const char*> path) {
  static const Json kNull(nullptr);
  const Json* here = &json;
  for (const char* key : path) {
    if (!here->is_object()) return kNull;
    const auto found = here->find(key);
    if (found == here->end()) return kNull;
    here = &*found;
  }
  return *here;
}

const Json& list_at(const Json& json, const char* key) {
  static const Json kEmpty = Json::array();
  const Json& value = at(json, {key});
  return value.is_array() ? value : kEmpty;
}

std::string text_of(const Json& json, const char* key, const std::string& otherwise) {
  const Json& value = at(json, {key});
  return value.is_string() && !value.get<std::string>().empty() ? escaped(value.get<std::string>()) : otherwise;
}

double number_of(const Json& value, double otherwise) { return value.is_number() ? value.get<double>() : otherwise; }

std::string number(double value, int digits) {
  char buffer[64];
  std::snprintf(buffer, sizeof buffer, "%.*f", digits, std::abs(value));
  const bool minus = value < 0 && std::string_view(buffer).find_first_of("123456789") != std::string_view::npos;
  return (minus ? "\u2212" : "") + std::string(buffer);
}

std::string share_words(double share) { return share >= 0.9995 ? "all" : number(100 * share, 1) + " %"; }

std::string number(const Json& value, int digits) {
  return value.is_number() ? number(value.get<double>(), digits) : "cannot tell";
}

std::string measured(const Json& value, const Json& u95, int digits, const std::string& unit) {
  if (!value.is_number()) return "cannot tell";
  const bool degrees = unit == "\u00b0";
  std::string text = "<span class=\"nb\">" + number(value, digits) + (degrees ? unit : "");
  if (u95.is_number()) text += " <span class=\"u\">\u00b1" + number(u95, digits) + "</span>";
  return text + (degrees || unit.empty() ? "" : " " + unit) + "</span>";
}

std::string area(double mm2, double u95_mm2) {
  const bool large = mm2 >= 1000;
  return measured(large ? mm2 / 100 : mm2, large ? u95_mm2 / 100 : u95_mm2, large ? 1 : 0,
                  large ? "cm\u00b2" : "mm\u00b2");
}

std::string date_words(const std::string& date) {
  constexpr std::array<const char*, 12> kMonths = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                   "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  int year = 0, month = 0, day = 0, end = 0;
  if (std::sscanf(date.c_str(), "%4d-%2d-%2d%n", &year, &month, &day, &end) != 3 || month < 1 || month > 12 ||
      end != static_cast<int>(date.size()))
    return date;
  return std::to_string(day) + " " + kMonths.at(static_cast<std::size_t>(month) - 1) + " " + std::to_string(year);
}

std::string weave_words(const std::string& pattern) {
  if (pattern == "twill-2x2") return "twill 2 \u00d7 2";
  return pattern == "satin-5" ? "satin of 5" : pattern;
}

std::string plural(int n, const std::string& one, const std::string& many) {
  return std::to_string(n) + " " + (n == 1 ? one : many);
}

std::string sentence(std::string text) {
  if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string list(const std::vector<std::string>& lines, const char* tag) {
  std::string html = std::string("<") + tag + ">";
  for (const std::string& line : lines) html += "<li>" + line + "</li>";
  return html + "</" + tag + ">";
}

std::string entry(const std::string& name, const std::string& value) {
  return "<dt>" + name + "</dt><dd>" + value + "</dd>\n";
}

std::string section(const std::string& id, const std::string& name, const std::string& gloss, const std::string& body,
                    bool keep_together) {
  return std::string("<section") + (keep_together ? " class=\"keep\"" : "") + " aria-labelledby=\"h-" + id +
         "\">\n<h2 id=\"h-" + id + "\">" + name + (gloss.empty() ? "" : " <span>" + gloss + "</span>") + "</h2>\n" +
         body + "</section>\n";
}

std::string base64(std::string_view bytes) {
  std::string text(4 * ((bytes.size() + 2) / 3) + 1, '\0');  // with the end mark that the library writes
  text.resize(static_cast<std::size_t>(EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()),
                                                       reinterpret_cast<const unsigned char*>(bytes.data()),
                                                       static_cast<int>(bytes.size()))));
  return text;
}

const Json* face_of(const Json& report, std::string_view role) {
  for (const Json& face : list_at(report, "faces")) {
    if (at(face, {"role"}) == std::string(role)) return &face;
  }
  return nullptr;
}

bool in_mm(const Json* face) { return face && at(*face, {"status"}) == "measured"; }

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

double polygon_area_mm2(const Json& rings) {
  double total = 0;
  bool outer = true;
  for (const Json& ring : rings) {
    double twice = 0;
    for (std::size_t i = 0; i + 1 < ring.size(); ++i)
      twice += ring[i][0].get<double>() * ring[i + 1][1].get<double>() -
               ring[i + 1][0].get<double>() * ring[i][1].get<double>();
    total += (outer ? 0.5 : -0.5) * std::abs(twice);
    outer = false;
  }
  return total;
}

}  // namespace sheetloupe::page
