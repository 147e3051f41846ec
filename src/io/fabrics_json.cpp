#include "sheetloupe/io/fabrics_json.h"

#include <algorithm>
#include <filesystem>

#include "sheetloupe/io/models.h"
#include "sheetloupe/io/strict_json.h"

namespace sheetloupe {
namespace {

WeavePattern weave_of(const JsonReader& r) {
  const auto name = r.choice("weave", {"plain", "twill-2x2", "satin-5"});
  if (!name) r.fail("weave", "plain, twill-2x2 or satin-5");
  return *name == "plain" ? WeavePattern::plain : *name == "satin-5" ? WeavePattern::satin_5 : WeavePattern::twill_2x2;
}

Fabric parse_fabric(const JsonReader& r, double density) {
  r.only({"name", "weave", "tow", "tex", "areal_g_m2"});
  const auto name = r.text("name");
  const auto tex = r.positive("tex", 10000), areal = r.positive("areal_g_m2", 5000);
  if (!name) r.fail("name", "the cloth's name");
  if (!tex) r.fail("tex", "the weight of one tow, g per km");
  if (!areal) r.fail("areal_g_m2", "the weight of the cloth, g per m2");
  r.text("tow");
  return {*name, weave_of(r), *tex, *areal, density};
}

std::vector<Fabric> fabrics_of(const Json& json, const std::string& where) {
  const JsonReader r(json, where);
  r.only({"schema_version", "fibre_density_g_cm3", "sources", "fabrics"});
  r.schema_version(1);
  const auto density = r.number("fibre_density_g_cm3", 1, 3);
  if (!density) r.fail("fibre_density_g_cm3", "the fibre's density, g per cm3");
  std::vector<Fabric> fabrics;
  for (const JsonReader& entry : r.list("fabrics")) {
    Fabric fabric = parse_fabric(entry, *density);
    const bool twice =
        std::any_of(fabrics.begin(), fabrics.end(), [&](const Fabric& f) { return f.name == fabric.name; });
    if (twice) entry.fail("name", "a name of its own");
    fabrics.push_back(std::move(fabric));
  }
  return fabrics;
}

}  // namespace

std::vector<Fabric> parse_fabrics(std::string_view text, const std::string& where) {
  return fabrics_of(parse_json(text, where), where);
}

const std::vector<Fabric>& known_fabrics() {
  static const std::vector<Fabric> fabrics = [] {
    const std::filesystem::path path = model_path("fabrics.json");
    return std::filesystem::exists(path) ? fabrics_of(read_json(path), path.string()) : std::vector<Fabric>{};
  }();
  return fabrics;
}

}  // namespace sheetloupe
