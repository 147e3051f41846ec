#include "sheetloupe/inspect.h"

#include <algorithm>
#include <mutex>
#include <opencv2/imgproc.hpp>

#include "inspect/locate.h"
#include "sheetloupe/registration.h"
#include "sheetloupe/side_by_side.h"
#include "sheetloupe/thickness.h"

namespace sheetloupe {
namespace {

RectifiedSheet laid_flat(const Photo& photo, const SheetMap& map, const Outline& outline, const cv::Vec3d& blown,
                         RectifyOptions options) {
  options.blown = blown;
  return rectify(photo, map, outline, options);
}

void fill_outline_mm(FaceResult& face) {
  face.outline_mm.clear();
  for (std::size_t i = 0; i < 4; ++i) face.corners_mm[i] = face.scale.map->sheet_from_image(face.outline.corners_px[i]);
  for (const ImagePoint& p : face.outline.polygon_px) face.outline_mm.push_back(face.scale.map->sheet_from_image(p));
  face.width_mm = distance_mm(face.corners_mm[0], face.corners_mm[1]);
  face.height_mm = distance_mm(face.corners_mm[0], face.corners_mm[3]);
}

// A scale error r moves a corner by r R (R half the diagonal) from where it lies; all of the positions' error may be
// one.
double length_u95(const FaceResult& face) {
  return face.scale.position_u95_mm / (0.5 * std::hypot(face.width_mm, face.height_mm));
}

// A scale error r moves a corner by r R (R half the diagonal) and a side by at most r R sqrt(2); each of the two
// corners of a side adds its own picking error.
double side_u95_mm(const FaceResult& face) {
  const double corner_mm = face.outline.corner_u95_px * face.sheet.photo_mm_per_px;
  return std::sqrt(2.0) * std::hypot(face.scale.position_u95_mm, corner_mm);
}

LengthStandards standards_of(const FaceInput& face, const InspectInput& input) {
  return face.role == "back" ? seen_from_back(input.standards, input.turned == Turned::left_right) : input.standards;
}

// What is known of the thickness by place: caliper readings, and the edges whose place on the sheet is told.
std::vector<ThicknessPoint> thickness_points(const std::vector<EdgeReading>& edges, const InspectInput& input,
                                             double width_mm, double height_mm) {
  std::vector<ThicknessPoint> points;
  for (const auto& [x, y, thickness] : input.thickness_at_mm) points.push_back({{x, y}, thickness});
  for (const EdgeReading& edge : edges) {
    const auto from = input.edge_from_mm.find(edge.side);
    if (from == input.edge_from_mm.end() || edge.face_visible) continue;
    const auto profile = locate_profile(edge, from->second, width_mm, height_mm);
    points.insert(points.end(), profile.begin(), profile.end());
  }
  return points;
}

struct Raised {
  CornerRise rise;
  FramePose pose;
};

// How the face leans because the sheet on the table is thicker at one end: by the thickness at the four corners.
// Nothing where it is not known, or where the sides alone give the scale: their corners already are the face's.
std::optional<Raised> raised_of(const FaceResult& face, const std::vector<EdgeReading>& edges,
                                const InspectInput& input) {
  constexpr double kLeastRiseMm = 0.02;  // a caliper's own step
  if (!input.standards.thickness_mm || face.scale.source == ScaleSource::sides) return {};
  const double w = face.width_mm, h = face.height_mm;
  const ThicknessField field(thickness_points(edges, input, w, h));
  if (field.empty() || w <= 0 || h <= 0) return {};
  Raised raised{{{}, w, h}, {}};
  const std::array<SheetPoint, 4> corners = {{{0, 0}, {w, 0}, {w, h}, {0, h}}};
  double most = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    SheetPoint p = corners[i];
    if (face.role == "back")
      p = input.turned == Turned::left_right ? SheetPoint{w - p.x, p.y} : SheetPoint{p.x, h - p.y};
    raised.rise.mm[i] = field.at(p) - input.standards.thickness_mm->value;
    most = std::max(most, std::abs(raised.rise.mm[i]));
  }
  if (most < kLeastRiseMm) return {};
  raised.pose = raised_pose(*face.scale.map, raised.rise, face.outline.corners_px);
  return raised;
}

// The further photos of a face, laid flat in the frame of the first. What does not fit is left out and said.
std::vector<RectifiedSheet> further_photos(const FaceInput& face, const Located& first,
                                           const std::optional<Raised>& raised, FaceResult& result,
                                           const InspectInput& input, const InspectOptions& options) {
  // Strips of two photos of one untouched layout agree to a few tenths of a millimetre; a strip that was moved between
  // the photos is off by far more.
  constexpr double kLargestResidualMm = 1.0;
  std::vector<RectifiedSheet> sheets;
  for (std::size_t i = 1; i < face.photos.size(); ++i) {
    const Photo& photo = face.photos[i];
    const Located other = locate(photo, standards_of(face, input), input, options, [](const std::string&) {});
    const Registration registered =
        register_photo(*first.scale.map, first.markers, other.scale.map, other.markers, thickness_of(input.standards));
    if (!registered.map || registered.residual_mm > kLargestResidualMm) {
      result.advice.push_back(photo.file + " was left out: its strips do not tie it to " + face.photos[0].file +
                              ". Keep strips and sheet untouched between photos.");
      continue;
    }
    const auto map = raised ? raised_map(registered.map, raised->rise, raised->pose) : registered.map;
    // Cloth, outline and glare as this photo shows them.
    sheets.push_back(laid_flat(photo, *map, other.outline, other.blown, options.rectify));
  }
  return sheets;
}

// Brings every picture to the raster of the first, so that one pixel is one place.
void align_rasters(std::vector<RectifiedSheet>& sheets) {
  const RectifiedSheet& first = sheets.front();
  for (std::size_t i = 1; i < sheets.size(); ++i) {
    RectifiedSheet& s = sheets[i];
    // Pixel centres: mm = origin + (c + 0.5) k; so c' = (c + 0.5) k1/k2 + (o1 - o2)/k2 - 0.5.
    const double k = first.mm_per_px / s.mm_per_px;
    const cv::Matx23d target(k, 0, 0.5 * k - 0.5 + (first.origin.x - s.origin.x) / s.mm_per_px, 0, k,
                             0.5 * k - 0.5 + (first.origin.y - s.origin.y) / s.mm_per_px);
    const auto warp = [&](const cv::Mat& from, int interpolation) {
      cv::Mat to;
      cv::warpAffine(from, to, target, first.bgr.size(), interpolation | cv::WARP_INVERSE_MAP, cv::BORDER_CONSTANT);
      return to;
    };
    s.bgr = warp(s.bgr, cv::INTER_LINEAR);
    s.cloth = warp(s.cloth, cv::INTER_NEAREST);
    s.glare = warp(s.glare, cv::INTER_NEAREST);
    s.mm_per_px = first.mm_per_px;
    s.origin = first.origin;
  }
}

// `edges`: those read before, for the face's height by place.
FaceResult inspect_face(const FaceInput& face, const std::vector<EdgeReading>& edges, const InspectInput& input,
                        const InspectOptions& options) {
  const auto tell = [&](const std::string& stage) {
    if (options.progress) options.progress(face.role + ": " + stage);
  };
  FaceResult result;
  result.role = face.role;
  for (const Photo& photo : face.photos) {
    result.photo_files.push_back(photo.file);
    result.photo_sha256.push_back(photo.sha256);
  }
  const Photo& photo = face.photos.front();
  const Located first = locate(photo, standards_of(face, input), input, options, tell);
  result.scale = first.scale;
  result.outline = first.outline;
  result.advice = first.advice;
  result.advice.insert(result.advice.end(), first.scale.advice.begin(), first.scale.advice.end());
  if (first.mirrored) {
    result.status = FaceStatus::not_measured;
    result.reason =
        "The photo is mirrored: its strips read only in a mirror. Take it with the camera at the back of the phone, or "
        "turn mirroring off, and do not flip it afterwards.";
    return result;
  }
  if (!first.outline.found) {
    result.status = FaceStatus::not_measured;
    result.reason = first.outline.reason;
    return result;
  }
  PhotoCheckOptions checking;
  checking.blown = first.blown;
  if (!first.scale.map) {
    result.status = FaceStatus::measured_in_px;
    result.reason = first.scale.reason;
    result.check = check_photo(photo, first.face, 0.0, checking);
    result.advice.insert(result.advice.end(), result.check.advice.begin(), result.check.advice.end());
    return result;
  }
  result.status = FaceStatus::measured;
  fill_outline_mm(result);
  const std::optional<Raised> raised = raised_of(result, edges, input);
  if (raised) {
    result.scale.map = raised_map(first.scale.map, raised->rise, raised->pose);
    fill_outline_mm(result);
  }
  tell("laying flat");
  result.sheet = laid_flat(photo, *result.scale.map, first.outline, checking.blown, options.rectify);
  tell("photo check");
  result.check = check_photo(photo, first.face, result.sheet.photo_mm_per_px, checking);
  result.sheet.blur_sigma_px = result.check.blur_sigma_px;
  result.sheet.length_u95 = length_u95(result);
  result.advice.insert(result.advice.end(), result.check.advice.begin(), result.check.advice.end());
  result.side_u95_mm = side_u95_mm(result);
  tell("weave");
  result.weave = analyse_weave(result.sheet, options.weave);
  result.weave_zones = find_weave_zones(result.weave, options.weave_limit_deg);
  tell("defects");
  std::vector<RectifiedSheet> sheets = further_photos(face, first, raised, result, input, options);
  sheets.insert(sheets.begin(), result.sheet);
  align_rasters(sheets);
  result.defects = find_defects(sheets, result.weave, face.role == "back" ? "B" : "F", options.defects);
  return result;
}

FaceFindings findings_of(const FaceResult& face) {
  return {face.role, face.width_mm, face.height_mm, face.outline_mm, face.defects, face.weave_zones};
}

// A back whose outline does not match the front's was turned another way, or is another sheet. The sides differ by
// more than both uncertainties together and more than a trimmed edge can lean over the thickness (common practice, no
// source: 2 mm).
bool same_outline(const FaceResult& front, const FaceResult& back) {
  const double allowed = 2.0 + std::hypot(front.side_u95_mm, back.side_u95_mm);
  return std::abs(front.width_mm - back.width_mm) <= allowed && std::abs(front.height_mm - back.height_mm) <= allowed;
}

// Edge profiles carry the caliper's mean and only their spread is new, so a difference of less than the caliper's own
// 0.1 mm (95 %) is none.
std::vector<ThinZone> zones_of(const Inspection& inspection, const InspectInput& input, const FaceResult& front) {
  constexpr double kToleranceMm = 0.1;
  if (!input.standards.thickness_mm) return {};
  double tolerance = kToleranceMm;
  for (const EdgeReading& edge : inspection.edges) {
    if (input.edge_from_mm.count(edge.side) && !edge.face_visible)
      tolerance = std::max(tolerance, edge.thickness_u95_mm);
  }
  const ThicknessField field(thickness_points(inspection.edges, input, front.width_mm, front.height_mm));
  return thin_zones(field, front.outline_mm, input.standards.thickness_mm->value, tolerance);
}

void build_map(Inspection& inspection, const InspectInput& input) {
  const FaceResult* front = nullptr;
  const FaceResult* back = nullptr;
  for (const FaceResult& face : inspection.faces) {
    if (face.status == FaceStatus::measured) (face.role == "back" ? back : front) = &face;
  }
  if (!front) return;
  std::vector<FaceFindings> faces = {findings_of(*front)};
  double position_u95_mm = front->scale.position_u95_mm;
  if (back && same_outline(*front, *back)) {
    faces.push_back(findings_of(*back));
    position_u95_mm = std::max(position_u95_mm, back->scale.position_u95_mm);
  } else if (back) {
    inspection.remarks.push_back(
        "The back's outline does not match the front's, so its defects are not on the usable map. Check that both "
        "photos "
        "show this sheet, held the same way up, and \"turned\" in sheet.json.");
  }
  std::optional<double> thickness;
  if (input.standards.thickness_mm) thickness = input.standards.thickness_mm->value;
  inspection.usable = build_usable_map(faces, input.turned, position_u95_mm, input.sheet_id, thickness,
                                       zones_of(inspection, input, *front));
  add_usable_features(inspection.usable);
}

EdgeReading inspect_edge(const EdgeInput& edge, const InspectInput& input, const InspectOptions& options) {
  if (options.progress) options.progress("edge " + edge.side);
  EdgeOptions edge_options = options.edges;
  if (input.standards.thickness_mm) edge_options.thickness_mm = input.standards.thickness_mm->value;
  edge_options.plies_laid = input.plies_laid;
  edge_options.markers = find_markers(edge.photo.bgr, {.close_up = true}).markers;
  edge_options.print = print_scale(input.standards);
  EdgeReading reading = read_edge(edge.photo.bgr, edge_options);
  reading.side = edge.side;
  return reading;
}

}  // namespace

Inspection inspect_sheet(const InspectInput& input, const InspectOptions& options) {
  Inspection inspection;
  inspection.faces.resize(input.faces.size());
  inspection.edges.resize(input.edges.size());
  std::mutex telling;
  InspectOptions shared = options;
  if (options.progress) {
    shared.progress = [&](const std::string& stage) {
      const std::scoped_lock one_at_a_time(telling);
      options.progress(stage);
    };
  }
  const auto done = [&] {
    if (options.part_done) options.part_done();
  };
  const auto read_one_edge = [&](std::size_t i) {
    inspection.edges[i] = inspect_edge(input.edges[i], input, shared);
    done();
  };
  // Edges whose place is told say how high the face lies and are read before it. Else the faces come first: they take
  // longest.
  const std::size_t faces = input.faces.size();
  const std::size_t before = input.edge_from_mm.empty() ? 0 : input.edges.size(), beside = input.edges.size() - before;
  side_by_side(before, read_one_edge, options.threads);
  const std::vector<EdgeReading> told(inspection.edges.begin(),
                                      inspection.edges.begin() + static_cast<std::ptrdiff_t>(before));
  side_by_side(
      faces + beside,
      [&](std::size_t i) {
        if (i >= faces) return read_one_edge(i - faces);
        inspection.faces[i] = inspect_face(input.faces[i], told, input, shared);
        done();
      },
      options.threads);
  for (const FaceResult& face : inspection.faces) {
    if (!input.fabric || face.status != FaceStatus::measured) continue;
    const auto against = check_fabric(*input.fabric, face.weave);
    if (against) inspection.remarks.push_back(face.role + ": " + *against);
  }
  inspection.laminate = read_laminate(
      inspection.edges, input.fabric,
      input.standards.thickness_mm ? input.standards.thickness_mm : thickness_by_strips(inspection.edges));
  if (const auto differ = compare_edges(inspection.edges)) inspection.remarks.push_back(*differ);
  if (options.progress) options.progress("usable map");
  build_map(inspection, input);
  return inspection;
}

}  // namespace sheetloupe
