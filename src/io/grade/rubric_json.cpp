#include "sheetloupe/io/rubric_json.h"

#include <algorithm>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/models.h"
#include "sheetloupe/io/strict_json.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

constexpr const char* kPublished = "published";
constexpr const char* kFromMemory = "from memory";
constexpr const char* kCommonPractice = "common practice";

const char* name_of(Sureness sure) {
  switch (sure) {
    case Sureness::published:
      return kPublished;
    case Sureness::from_memory:
      return kFromMemory;
    default:
      return kCommonPractice;
  }
}

Sureness sureness(const JsonReader& r, std::string_view key) {
  const auto name = r.choice(key, {kPublished, kFromMemory, kCommonPractice});
  if (!name) r.fail(key, "published, from memory or common practice");
  return *name == kPublished    ? Sureness::published
         : *name == kFromMemory ? Sureness::from_memory
                                : Sureness::common_practice;
}

void read_sureness(const JsonReader& r, Limit& limit) {
  if (r.has("sure") && r.json()["sure"].is_object()) {
    const JsonReader each = *r.object("sure");
    each.only({"A", "B"});
    limit.sure_a = sureness(each, "A");
    limit.sure_b = sureness(each, "B");
  } else {
    limit.sure_a = limit.sure_b = sureness(r, "sure");
  }
}

Measure measure_of(const JsonReader& r) {
  const auto name = r.text("measure");
  std::string known;
  for (const MeasureInfo& info : all_measures()) {
    if (name && info.name == *name) return info.measure;
    known += (known.empty() ? "" : ", ") + std::string(info.name);
  }
  r.fail("measure", "one of " + known);
}

Limit parse_limit(const JsonReader& r) {
  r.only({"measure", "zone_mm", "at_most", "at_least", "required", "sure", "source"});
  Limit limit;
  limit.measure = measure_of(r);
  limit.zone_mm = r.positive("zone_mm", 1000);
  limit.at_least = r.has("at_least");
  const char* key = limit.at_least ? "at_least" : "at_most";
  if (r.has("at_least") == r.has("at_most")) r.fail("at_most", "either at_most or at_least: {\"A\": 3, \"B\": 5}");
  const JsonReader bounds = *r.object(key);
  bounds.only({"A", "B"});
  const auto a = bounds.number("A", 0, 1e6), b = bounds.number("B", 0, 1e6);
  if (!a) bounds.fail("A", "the limit of grade A");
  if (!b) bounds.fail("B", "the limit of grade B");
  limit.a = *a;
  limit.b = *b;
  if (r.has("required")) {
    if (!r.json()["required"].is_boolean()) r.fail("required", "true or false");
    limit.required = r.json()["required"].get<bool>();
  }
  read_sureness(r, limit);
  const auto source = r.text("source");
  if (!source) r.fail("source", "where the number comes from; \"no source\" is an answer");
  limit.source = *source;
  return limit;
}

Rubric rubric_of(const Json& json, const std::string& where) {
  const JsonReader r(json, where);
  r.only({"schema_version", "name", "title", "grades", "least_judged_percent", "back_required", "weave_zone_deg",
          "limits"});
  r.schema_version(1);
  Rubric rubric;
  const auto name = r.text("name");
  if (!name || name->empty()) r.fail("name", "the rubric's name");
  rubric.name = *name;
  rubric.title = r.text("title").value_or("");
  const auto grades = r.object("grades");
  if (!grades) r.fail("grades", "{\"A\": \"...\", \"B\": \"...\", \"C\": \"...\"}");
  grades->only({"A", "B", "C"});
  for (std::size_t i = 0; i < 3; ++i) {
    const std::string letter(1, static_cast<char>('A' + i));
    const auto meaning = grades->text(letter);
    if (!meaning) grades->fail(letter, "what the grade means");
    rubric.meaning[i] = *meaning;
  }
  rubric.least_judged_share = r.number("least_judged_percent", 0, 100).value_or(rubric.least_judged_share);
  rubric.weave_zone_deg = r.number("weave_zone_deg", 0.5, 45).value_or(rubric.weave_zone_deg);
  if (r.has("back_required")) {
    if (!json["back_required"].is_boolean()) r.fail("back_required", "true or false");
    rubric.back_required = json["back_required"].get<bool>();
  }
  for (const JsonReader& limit : r.list("limits")) rubric.limits.push_back(parse_limit(limit));
  check(rubric);
  return rubric;
}

fs::path shipped() { return model_path("rubrics"); }

std::string shipped_names() {
  std::vector<std::string> names;
  std::error_code ignored;
  for (const auto& entry : fs::directory_iterator(shipped(), ignored)) {
    if (entry.path().extension() == ".json") names.push_back(entry.path().stem().string());
  }
  std::sort(names.begin(), names.end());
  std::string list;
  for (const std::string& name : names) list += (list.empty() ? "" : ", ") + name;
  return list;
}

}  // namespace

Rubric parse_rubric(std::string_view text, const std::string& where) {
  return rubric_of(parse_json(text, where), where);
}

Rubric read_rubric(const std::string& name_or_file) {
  const bool plain = name_or_file.find_first_of("/\\.") == std::string::npos;
  const fs::path path = plain ? shipped() / (name_or_file + ".json") : fs::path(name_or_file);
  if (plain && !fs::exists(path)) {
    throw InputError({"no rubric of that name", "--rubric", name_or_file, shipped_names(),
                      "Give one of these names, or a file such as ./our-rubric.json"});
  }
  return parse_rubric(read_file(path, std::size_t{1} << 20U), path.string());
}

Json rubric_to_json(const Rubric& rubric) {
  Json limits = Json::array();
  for (const Limit& l : rubric.limits) {
    Json limit = {{"measure", info_of(l.measure).name}};
    if (l.zone_mm) limit["zone_mm"] = *l.zone_mm;
    limit[l.at_least ? "at_least" : "at_most"] = {{"A", l.a}, {"B", l.b}};
    if (l.required) limit["required"] = true;
    limit["sure"] = {{"A", name_of(l.sure_a)}, {"B", name_of(l.sure_b)}};
    limit["source"] = l.source;
    limits.push_back(limit);
  }
  return {{"schema_version", 1},
          {"name", rubric.name},
          {"title", rubric.title},
          {"grades", {{"A", rubric.meaning[0]}, {"B", rubric.meaning[1]}, {"C", rubric.meaning[2]}}},
          {"least_judged_percent", rubric.least_judged_share},
          {"back_required", rubric.back_required},
          {"weave_zone_deg", rubric.weave_zone_deg},
          {"limits", limits}};
}

}  // namespace sheetloupe
