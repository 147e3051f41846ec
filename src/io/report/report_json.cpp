#include "sheetloupe/io/report_json.h"

#include "io/report/json_figures.h"
#include "sheetloupe/io/version.h"

namespace sheetloupe {

Json report_to_json(const Inspection& inspection, const Json& sheet) {
  Json json = {
      {"schema_version", 1}, {"tool", {{"name", "sheetloupe"}, {"version", version_text()}}}, {"sheet", sheet}};
  json["faces"] = Json::array();
  for (const FaceResult& face : inspection.faces) json["faces"].push_back(face_to_json(face));
  json["edges"] = Json::array();
  for (const EdgeReading& edge : inspection.edges) json["edges"].push_back(edge_to_json(edge));
  json["laminate"] = laminate_to_json(inspection.laminate);
  json["remarks"] = inspection.remarks;
  return json;
}

}  // namespace sheetloupe
