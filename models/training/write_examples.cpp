// Writes training examples for the defect nets: weave-locked cues and pinhole patches of random faces beside their
// truth.
//   write_examples FIRST_SEED COUNT FOLDER
// One file a face, little endian: int32 rows, columns, cue planes, candidates, holes; then cues int8 (asinh z * 26),
// judged share uint8 (* 255), labels uint8 (255 no answer asked), and for each candidate its truth uint8 (0 none, 1
// pinhole, 2 unsure), diameter in 0.01 mm uint8, number of the hole int16 (-1 none), score float32 and patch int8
// (value * 31).
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <opencv2/imgproc.hpp>
#include <string>

#include "defects/cues.h"
#include "defects/pinholes.h"
#include "random_face.h"

using namespace sheetloupe;

namespace {

template <class T>
void put(std::ofstream& out, T value) {
  out.write(reinterpret_cast<const char*>(&value), sizeof value);
}

// Truth of every node: the kind that covers most of it.
void put_labels(std::ofstream& out, const training::RandomFace& face, const defects::Cues& cues) {
  const int block = cvRound(cues.mm_per_node / face.sheet.mm_per_px);
  for (int y = 0; y < cues.judged.rows; ++y) {
    for (int x = 0; x < cues.judged.cols; ++x) {
      const cv::Rect cell(x * block, y * block, block, block);
      unsigned char label = 0;
      for (const int kind : {1, 3}) {
        if (2 * cv::countNonZero(face.labels(cell) == kind) > block * block) label = static_cast<unsigned char>(kind);
      }
      if (label != 0 && cv::countNonZero(face.cover(cell))) label = 255;
      if (cues.judged(y, x) < 0.3F) label = 255;
      put(out, label);
    }
  }
}

struct Truth {
  unsigned char kind = 0;
  double diameter_mm = 0;
  int hole = -1;
};

Truth truth_at(const training::RandomFace& face, cv::Point pixel) {
  Truth truth;
  const SheetPoint at = face.sheet.sheet_from_pixel(pixel.x, pixel.y);
  for (std::size_t k = 0; k < face.holes.size(); ++k) {
    const double d = distance_mm(at, face.holes[k].at), reach = 0.5 * face.holes[k].diameter_mm;
    if (d < std::max(reach, 0.3))
      truth = {1, face.holes[k].diameter_mm, static_cast<int>(k)};
    else if (d < reach + 0.6 && truth.kind == 0)
      truth.kind = 2;
  }
  const unsigned char label = face.labels(pixel);
  if (truth.kind == 0 && (label == 1 || label == 3)) truth.kind = 2;
  if (face.cover(pixel) && truth.kind == 1) truth.kind = 2;
  return truth;
}

void write_face(std::uint64_t seed, const std::string& folder) {
  const training::RandomFace face = training::random_face(seed);
  const defects::Locked locked = defects::lock(face.sheet, face.weave);
  const defects::Cues cues = defects::measure_cues(face.sheet, locked);
  std::ofstream out(folder + "/" + std::to_string(seed) + ".bin", std::ios::binary);
  const auto finds = defects::pinhole_candidates(
      locked, 0.1, face.weave.warp.degrees(), face.weave.weft.degrees(), 3.0,
      static_cast<std::size_t>(0.0004 * static_cast<double>(cv::countNonZero(locked.judged))) + 1);
  for (const int n : {cues.judged.rows, cues.judged.cols, static_cast<int>(defects::kCueCount),
                      static_cast<int>(finds.size()), static_cast<int>(face.holes.size())})
    put(out, n);
  for (const cv::Mat1f& z : cues.z) {
    for (const float v : z) put(out, static_cast<signed char>(cvRound(std::clamp(std::asinh(v), -4.8F, 4.8F) * 26)));
  }
  for (const float v : cues.judged) put(out, static_cast<unsigned char>(cvRound(std::clamp(v, 0.F, 1.F) * 255)));
  put_labels(out, face, cues);
  for (const defects::PinholeFind& find : finds) {
    const Truth truth = truth_at(face, find.at);
    put(out, truth.kind);
    put(out, static_cast<unsigned char>(std::min(255.0, 100 * truth.diameter_mm)));
    put(out, static_cast<short>(truth.hole));
    put(out, static_cast<float>(find.score));
    for (const float v : defects::pinhole_patch(locked, 0.1, find.at))
      put(out, static_cast<signed char>(cvRound(v * 31)));
  }
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 4) {
    std::fprintf(stderr, "write_examples FIRST_SEED COUNT FOLDER\n");
    return 2;
  }
  cv::setNumThreads(1);
  const std::uint64_t first = std::stoull(arguments[1]), faces = std::stoull(arguments[2]);
  for (std::uint64_t seed = first; seed < first + faces; ++seed) write_face(seed, arguments[3]);
  return 0;
}
