// Words and figures as the page writes them.
#pragma once

#include <initializer_list>
#include <string>
#include <string_view>
#include <vector>

#include "io/report/json_figures.h"

namespace sheetloupe::page {

/// Text made safe for HTML.
std::string escaped(std::string_view text);

/// What lies at the path of keys; a null value when any of them is missing.
const Json& at(const Json& json, std::initializer_list<const char*> path);
/// The list at the key; empty when there is none.
const Json& list_at(const Json& json, const char* key);
/// The text at the key, escaped; `otherwise` when it is missing or no text.
std::string text_of(const Json& json, const char* key, const std::string& otherwise = "");
double number_of(const Json& value, double otherwise = 0.0);

/// A figure with `digits` decimals and a true minus sign; "cannot tell" when it is null.
std::string number(const Json& value, int digits);
std::string number(double value, int digits);
/// "97.3 %", or "all" where that would read 100.0 %.
std::string share_words(double share);

/// Value, its u95 in grey, unit, kept on one line: "240.1 <span>+-0.3</span> mm". Degrees stand before the u95.
std::string measured(const Json& value, const Json& u95, int digits, const std::string& unit);
/// An area: mm2 below 1000 mm2, cm2 from there on.
std::string area(double mm2, double u95_mm2);
/// "2026-03-02" as "2 Mar 2026"; any other text as it is.
std::string date_words(const std::string& date);
/// Names of cloths and weaves for people: "twill-2x2" as "twill 2 x 2".
std::string weave_words(const std::string& pattern);
std::string plural(int n, const std::string& one, const std::string& many);
/// First letter made a capital.
std::string sentence(std::string text);

std::string list(const std::vector<std::string>& lines, const char* tag = "ul");
/// Lines of a definition list with a label column.
std::string entry(const std::string& name, const std::string& value);
std::string section(const std::string& id, const std::string& name, const std::string& gloss, const std::string& body,
                    bool keep_together = true);

std::string base64(std::string_view bytes);

/// The first face of a role, or null.
const Json* face_of(const Json& report, std::string_view role);
/// True when the face exists and is measured in mm.
bool in_mm(const Json* face);

/// An SVG path of a GeoJSON polygon's rings, and its area less its holes.
std::string path_of(const Json& polygon_coordinates);
double polygon_area_mm2(const Json& polygon_coordinates);

}  // namespace sheetloupe::page
