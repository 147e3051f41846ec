#include "sheetloupe/io/orders_json.h"

#include <algorithm>
#include <cstdio>

#include "io/report/json_figures.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/models.h"
#include "sheetloupe/io/strict_json.h"
#include "sheetloupe/ring_sizes.h"

namespace sheetloupe {
namespace {

constexpr std::initializer_list<const char*> kSizes = {"us_size", "uk_size", "jp_size", "iso_size",
                                                       "inner_diameter_mm"};

std::string number_name(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.10g", value);
  return text;
}

struct Inner {
  double diameter_mm;
  std::string remark;
};

Inner inner_diameter(const JsonReader& r) {
  int given = 0;
  for (const char* key : kSizes) given += r.has(key) ? 1 : 0;
  if (given != 1) {
    throw InputError({"a ring needs one size", r.where(), std::to_string(given) + " of them",
                      "one of us_size, uk_size, jp_size, iso_size, inner_diameter_mm", "Keep one"});
  }
  if (const auto mm = r.number("inner_diameter_mm", 5, 200)) return {*mm, ""};
  const struct {
    const char* key;
    SizeSystem system;
  } systems[] = {{"us_size", SizeSystem::us},
                 {"uk_size", SizeSystem::uk},
                 {"jp_size", SizeSystem::jp},
                 {"iso_size", SizeSystem::iso}};
  for (const auto& [key, system] : systems) {
    if (!r.has(key)) continue;
    const bool letters = system == SizeSystem::uk;
    const std::string size = letters ? r.text(key).value_or("") : number_name(r.number(key, -1e6, 1e6).value_or(-1));
    const auto inner = ring_size(system, size);
    if (!inner) r.fail(key, how_written(system));
    return {inner->diameter_mm, size_remark(system, size)};
  }
  r.fail("inner_diameter_mm", "a size");
}

RingOrder parse_ring(const JsonReader& r) {
  r.only({"name", "us_size", "uk_size", "jp_size", "iso_size", "inner_diameter_mm", "wall_mm", "width_mm", "count",
          "priority", "value", "accept_pinhole_mm"});
  RingOrder ring;
  ring.name = r.text("name").value_or("ring");
  const Inner inner = inner_diameter(r);
  ring.inner_diameter_mm = inner.diameter_mm;
  ring.size_remark = inner.remark;
  const auto wall = r.positive("wall_mm", 50), width = r.positive("width_mm", 100);
  if (!wall) r.fail("wall_mm", "the ring's wall in mm");
  if (!width) r.fail("width_mm", "the ring's width in mm");
  ring.wall_mm = *wall;
  ring.width_mm = *width;
  if (r.has("count") && r.json()["count"].is_string()) {
    if (r.text("count") != "fill") r.fail("count", "a whole number, or \"fill\"");
  } else {
    ring.count = r.integer("count", 0, 100000);
    if (!ring.count) r.fail("count", "a whole number, or \"fill\"");
  }
  ring.priority = r.integer("priority", 1, 1000).value_or(1);
  ring.value = r.number("value", 0, 1e6).value_or(1.0);
  ring.accept_pinhole_mm = r.number("accept_pinhole_mm", 0, 5).value_or(0.0);
  return ring;
}

HoleSaw parse_saw(const JsonReader& r) {
  r.only({"name", "outer_mm", "kerf_mm"});
  const auto outer = r.positive("outer_mm", 300), kerf = r.positive("kerf_mm", 20);
  if (!outer) r.fail("outer_mm", "the saw's outside diameter in mm");
  if (!kerf) r.fail("kerf_mm", "the width of its cut in mm");
  if (2 * *kerf >= *outer) r.fail("kerf_mm", "less than half the saw's diameter");
  return {r.text("name").value_or(number_name(*outer)), *outer, *kerf};
}

// None when the file is not there.
std::vector<HoleSaw> saw_kit() {
  const std::filesystem::path path = model_path("saws.json");
  std::vector<HoleSaw> saws;
  if (!std::filesystem::exists(path)) return saws;
  const Json json = read_json(path);
  const JsonReader r(json, path.string());
  r.only({"schema_version", "saws"});
  r.schema_version(1);
  for (const JsonReader& saw : r.list("saws")) saws.push_back(parse_saw(saw));
  return saws;
}

}  // namespace

Orders parse_orders(std::string_view text, const std::string& where) {
  const Json json = parse_json(text, where);
  const JsonReader r(json, where);
  r.only({"schema_version", "rings", "saws", "web_mm", "edge_margin_mm", "turning_allowance_mm", "face_allowance_mm",
          "drill_wander_mm", "template_mm"});
  r.schema_version(1);
  Orders orders;
  for (const JsonReader& ring : r.list("rings")) orders.rings.push_back(parse_ring(ring));
  for (const JsonReader& saw : r.list("saws")) orders.saws.push_back(parse_saw(saw));
  if (orders.rings.empty()) r.fail("rings", "at least one ring");
  if (!r.has("saws")) orders.saws = saw_kit();
  if (orders.saws.empty()) r.fail("saws", "at least one saw: {\"name\": \"30\", \"outer_mm\": 30, \"kerf_mm\": 1.5}");
  orders.web_mm = r.number("web_mm", 0, 100).value_or(0.0);
  orders.edge_margin_mm = r.number("edge_margin_mm", 0, 200).value_or(0.0);
  orders.turning_allowance_mm = r.number("turning_allowance_mm", 0, 20).value_or(0.0);
  orders.face_allowance_mm = r.number("face_allowance_mm", 0, 20).value_or(0.0);
  orders.drill_wander_mm = r.number("drill_wander_mm", 0, 20).value_or(0.0);
  orders.template_mm = r.number("template_mm", 0, 20).value_or(0.0);
  return orders;
}

Orders read_orders(const std::filesystem::path& path) {
  return parse_orders(read_file(path, std::size_t{4} << 20U), path.string());
}

std::vector<std::string> size_remarks(const Orders& orders) {
  std::vector<std::string> remarks;
  for (const RingOrder& ring : orders.rings) {
    const bool told = std::find(remarks.begin(), remarks.end(), ring.size_remark) != remarks.end();
    if (!ring.size_remark.empty() && !told) remarks.push_back(ring.size_remark);
  }
  return remarks;
}

Json plan_to_json(const Plan& plan) {
  Json blanks = Json::array(), unplaced = Json::array();
  for (const Blank& b : plan.blanks) {
    blanks.push_back({{"id", b.id},
                      {"ring", b.ring},
                      {"centre_mm", point_json(b.centre)},
                      {"saw", b.saw},
                      {"saw_outer_mm", b.saw_outer_mm},
                      {"kerf_mm", b.kerf_mm},
                      {"inner_diameter_mm", figure(b.inner_diameter_mm, 3)},
                      {"outer_diameter_mm", figure(b.outer_diameter_mm, 3)},
                      {"clearance_mm", figure(b.clearance_mm, 2)},
                      {"harmless_defects", b.harmless_defects}});
  }
  for (const Unplaced& u : plan.unplaced)
    unplaced.push_back({{"ring", u.ring}, {"count", u.count}, {"reason", u.reason}});
  return {{"schema_version", 1},
          {"blanks", blanks},
          {"unplaced", unplaced},
          {"bound", {{"proven", plan.bound_proven}, {"flawless_sheet", plan.bound_flawless}}},
          {"search", {{"evaluations", plan.evaluations}, {"seed", plan.seed}, {"stopped_by", plan.stopped_by}}}};
}

std::vector<Circle> read_taken(const std::filesystem::path& path) {
  const Json json = read_json(path);
  const JsonReader r(json, path.string());
  r.schema_version(1);
  std::vector<Circle> taken;
  for (const JsonReader& blank : r.list("blanks")) {
    const auto centre = blank.numbers("centre_mm", {2}, -1e4, 1e4);
    const auto outer = blank.positive("saw_outer_mm", 300);
    if (!centre) blank.fail("centre_mm", "[x, y] in mm");
    if (!outer) blank.fail("saw_outer_mm", "the saw's outside diameter in mm");
    taken.push_back({{(*centre)[0], (*centre)[1]}, Mm(*outer / 2)});
  }
  return taken;
}

std::string plan_to_csv(const Plan& plan) {
  const auto quoted = [](const std::string& text) {
    if (text.find_first_of(",\"\n\r") == std::string::npos) return text;
    std::string out = "\"";
    for (const char c : text) out += c == '"' ? "\"\"" : std::string(1, c);
    return out + "\"";
  };
  std::string csv = "id,ring,saw,x_mm,y_mm,x_inch,y_inch\r\n";
  for (const Blank& b : plan.blanks) {
    char numbers[120];
    std::snprintf(numbers, sizeof numbers, "%.2f,%.2f,%.4f,%.4f", b.centre.x, b.centre.y, b.centre.x / 25.4,
                  b.centre.y / 25.4);
    csv += quoted(b.id) + "," + quoted(b.ring) + "," + quoted(b.saw) + "," + numbers + "\r\n";
  }
  return csv;
}

}  // namespace sheetloupe
