#include "inspect/locate.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

namespace sheetloupe {
namespace {

constexpr Measured kUnknownThickness{6.0, 3.0};

// What the strips in the picture leave to be wished for.
std::vector<std::string> marker_advice(const MarkerSearch& search, std::optional<int> datum_strip) {
  std::vector<std::string> advice;
  if (!search.duplicated_ids.empty()) {
    std::string ids;
    for (const int id : search.duplicated_ids) ids += (ids.empty() ? "" : ", ") + std::to_string(id);
    advice.push_back("Markers seen more than once were left out (ids " + ids +
                     "): keep only one print of each strip in the picture.");
  }
  const bool seen = std::any_of(search.markers.begin(), search.markers.end(), [&](const Marker& marker) {
    return datum_strip && marker.id / kMarkersPerStrip == *datum_strip;
  });
  if (datum_strip && !seen) {
    advice.push_back("Strip " + std::to_string(*datum_strip) +
                     ", which sheet.json names for the top side, is not seen: the frame follows the phone instead. "
                     "Photograph the sheet with that strip in the picture.");
  }
  return advice;
}

// Front cameras and some programs save a photo as a mirror shows it. One marker or two may read as others of the set in
// a mirror; a strip's worth does not.
bool is_mirrored(const cv::Mat& bgr, std::size_t read_straight) {
  constexpr std::size_t kFew = 3;
  if (read_straight > kFew) return false;
  cv::Mat mirror;
  cv::flip(bgr, mirror, 1);
  return find_markers(mirror).markers.size() > kFew + read_straight;
}

void set_sides(const Outline& outline, ScaleInput& input) {
  input.corners_px = outline.corners_px;
  input.corner_u95_px = outline.corner_u95_px;
  input.outline_px = outline.polygon_px;
  input.side_sd_px = outline.side_sd_px;
}

// Without strips the sides were looked for in the photo as it is. The map that they gave shows them straight and tells
// wall from face: they are looked at once more, and the scale follows.
void look_again(const Photo& photo, const InspectInput& input, const ScaleOptions& options, ScaleInput scale_input,
                Located& located) {
  if (!located.scale.map) return;
  Outline outline = find_outline_again(photo.bgr, located.outline, located.markers, *located.scale.map,
                                       thickness_of(input.standards), input.datum_strip);
  if (!outline.found) return;
  set_sides(outline, scale_input);
  Scale scale = scale_from_sides(scale_input, options);
  if (!scale.map) return;
  located.outline = std::move(outline);
  located.scale = std::move(scale);
}

cv::Mat face_mask(const cv::Size& size, const Outline& outline) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8UC1);
  std::vector<cv::Point> polygon;
  for (const ImagePoint& p : outline.polygon_px) polygon.emplace_back(cvRound(p.x), cvRound(p.y));
  if (polygon.size() >= 3) cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{polygon}, cv::Scalar(255));
  return mask;
}

}  // namespace

Mm thickness_of(const LengthStandards& standards) {
  return Mm(standards.thickness_mm.value_or(kUnknownThickness).value);
}

Located locate(const Photo& photo, const LengthStandards& standards, const InspectInput& input,
               const InspectOptions& options, const std::function<void(const std::string& stage)>& tell) {
  Located located;
  tell("strips");
  MarkerSearch search = find_markers(photo.bgr);
  located.advice = marker_advice(search, input.datum_strip);
  located.markers = std::move(search.markers);
  located.mirrored = is_mirrored(photo.bgr, located.markers.size());
  ScaleInput scale_input;
  scale_input.markers = located.markers;
  scale_input.image_size = photo.bgr.size();
  scale_input.turned_quarter = photo.turned_quarter;
  scale_input.focal_35mm_mm = photo.focal_35mm_mm;
  scale_input.standards = standards;
  tell("scale");
  const Scale table = located.markers.empty() ? Scale{} : fit_scale(scale_input, options.scale);
  tell("outline");
  located.outline =
      find_outline(photo.bgr, located.markers, table.map.get(), thickness_of(input.standards), input.datum_strip);
  if (!located.outline.found) {
    located.scale = table;
    return located;
  }
  tell("scale with the sides");
  set_sides(located.outline, scale_input);
  located.scale = table.map ? fit_scale(scale_input, options.scale) : scale_from_sides(scale_input, options.scale);
  if (!table.map) look_again(photo, input, options.scale, scale_input, located);
  located.face = face_mask(photo.bgr.size(), located.outline);
  const cv::Rect box = cv::boundingRect(located.face);
  located.blown = blown_levels(photo.bgr(box), located.face(box), paper_level(photo.bgr, located.markers));
  if (located.scale.source == ScaleSource::none && located.scale.reason.empty()) located.scale.reason = table.reason;
  return located;
}

}  // namespace sheetloupe
