// Writes training examples for the ply count: the readings of every tried count on the project's own generated edges.
//   write_edge_examples FIRST_SEED COUNT LEAST_PX MOST_PX OUT.csv
// One line a count: seed, level, true count, true and found height of the cut, true px a ply, count, readings.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <opencv2/core.hpp>

#include "plies/readings.h"
#include "plies/visible_face.h"
#include "sheetloupe/scene_edge.h"

using namespace sheetloupe;
using namespace sheetloupe::plies;

namespace {

void write(std::FILE* out, std::uint64_t seed, double least_px, double most_px) {
  const int level = static_cast<int>(seed % 3);
  const EdgeScene scene = random_edge_scene(static_cast<EdgeLevel>(level), least_px, most_px, seed);
  const EdgePhoto photo = render_edge_photo(scene);
  const Band band = find_band(photo.bgr);
  if (!band.found) return;
  const GreyRows rows = grey_rows(photo.bgr, band);
  const cv::Mat1f whole = straighten(rows, band, shown_rows(band), kFaceMargin, shown_columns(band));
  const PlainStrips strips = find_plain_strips(whole, shown_rows(band), band);
  const Band cut = cut_off(band, strips, strips.top.chance > 0.5, strips.bottom.chance > 0.5);
  Evidence evidence(straighten(rows, cut, shown_rows(cut), 0, shown_columns(cut)));
  for (const Candidate& c : read_candidates(evidence, 2, std::min(40, static_cast<int>(cut.height_px / 4.5)))) {
    std::fprintf(out, "%llu,%d,%d,%.2f,%.2f,%.2f,%d", static_cast<unsigned long long>(seed), level, scene.plies,
                 photo.band_px, cut.height_px, scene.ply_px, c.lines.n);
    for (const double r : c.readings) std::fprintf(out, ",%.4f", r);
    std::fprintf(out, "\n");
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 6) {
    std::fprintf(stderr, "write_edge_examples FIRST_SEED COUNT LEAST_PX MOST_PX OUT.csv\n");
    return 2;
  }
  std::FILE* out = std::fopen(argv[5], "w");
  if (!out) return 2;
  std::fprintf(out, "seed,level,truth,band,found,ply,n");
  for (const char* name : reading_names()) std::fprintf(out, ",%s", name);
  std::fprintf(out, "\n");
  const std::uint64_t first = std::strtoull(argv[1], nullptr, 10), count = std::strtoull(argv[2], nullptr, 10);
  for (std::uint64_t seed = first; seed < first + count; ++seed)
    write(out, seed, std::atof(argv[3]), std::atof(argv[4]));
  std::fclose(out);
  return 0;
}
