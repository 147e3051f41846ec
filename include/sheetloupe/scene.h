// A small generator of sheet photos with exact truth, for the demo, the tests and training. Truth first, disturbance
// second; of the measuring code it uses only the printed strips' dimensions
// and marker patterns, which are checked on the printed page instead.
#pragma once

#include <array>
#include <cstdint>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "sheetloupe/defects.h"
#include "sheetloupe/geometry.h"
#include "sheetloupe/weave.h"

namespace sheetloupe {

/// A smooth bulge by which the cloth was dragged: displacement `by` mm at its middle, Gaussian of `radius` mm.
struct SceneDrag {
  SheetPoint at;
  double radius = 25.0;
  SheetPoint by;
};

/// How the border and the inside of a dry spot or pool look.
struct SceneBorder {
  double soft_mm = 0.0;  // width of the fade, centred on the outline; 0: the generator's own, inside the outline
  double by_tows = 0.0;  // how far the outline follows whole tows, [0, 1]
  double patchy = 0.0;   // resin left in islands inside, [0, 1]
};

/// How a pit looks; light is linear, where wetted cloth is about 0.02 to 0.3.
struct ScenePit {
  bool smooth = false;       // borders spread over a tenth of a millimetre; off: hard
  double floor = 0.003;      // light from its floor; what fills it when bright
  double rim_light = 0.25;   // of a bright rim
  double rim_mm = 0.2;       // its width
  double rim_turn = 0.0;     // rad, the side it shines from
  double rim_one_sided = 0;  // 0 all round, 1 only on that side
  double stretch = 1.0;      // length over width, along rim_turn
  double bowl = 0.0;         // share of the radius over which its wall slopes; 0 an upright wall
  double rim_gain = 0.0;     // how much lighter the resin drawn up around it makes the cloth below
};

struct SceneDefect {
  DefectLabel kind = DefectLabel::dry_spot;
  SheetPoint at;
  double radius_mm = 5.0;   // nominal; dry spots and pools are ragged: use the labels for areas
  double strength = 1.0;    // how far from sound to fully so, (0, 1]
  std::uint64_t seed = 1;   // of the ragged outline
  bool bright_rim = false;  // pinholes
  SceneBorder border = {};  // dry spots and pools
  ScenePit pit = {};        // pinholes
};

/// How strongly the cloth shows what makes tows differ; 1 is the generator's own look.
struct SceneLook {
  double streaks = 1.0, dry_streaks = 1.0;  // fibre streaks of wetted and of dry cloth
  double tones = 1.0;                       // brightness from tow to tow
  double twist = 1.0, crimp = 1.0;          // fibre directions within the face and out of it
  double gaps = 1.0;                        // shadow between tows, (0, 1.4]
  double wander = 0.0;                      // tow borders off their places, gaps of unequal depth, crossings' own tones
  double waves = 0.0;                       // the face's slope, rad, over some 25 mm
  double lens = 0.0;                        // slope of a tow's own surface at its edges, rad
  double relief = 0.0;                      // how far the coat's surface follows tows and crimp, [0, 1]
  double dry_coat = 1.0;                    // how much of the coat's mirror a dry spot keeps, [0, 1]
  double dry_sheen = 0.0, dry_lobe = 0.3;   // highlight of dry fibres and how narrow it is beside that of wetted ones
  double dry_gaps = 0.6;                    // how far gaps and crimp shade dry cloth as well
  double dry_fuzz = 0.0;                    // bare and broken fibres: grains of light about 0.15 mm wide
  double fill = 1.0;                        // width of a tow over its spacing: below 1 holes show between tows
  double floats = 0.0;                      // brightness and fibre direction from float to float, [0, 0.5]
  double streak_width = 1.0;                // of the fibre streaks, beside a fourteenth and a thirtieth of a tow
  double bunching = 0.0;                    // tows pressed together and apart, in tow widths over some ten tows
};

/// A tow that is missing, or a gap beside it: sound cloth all the same.
struct SceneTowFault {
  bool warp = true;
  int tow = 0;
  bool missing = false;
  double gap_tows = 0.0;            // width of the gap at the tow's lower border, tow widths
  int from = -100000, to = 100000;  // crossings, counted along the other set, between which the tow is missing
  bool closed_up = false;           // missing, and its neighbours moved together
};

/// The sheet itself; sheet frame, mm.
struct SceneSheet {
  double width_mm = 240.0, height_mm = 180.0, thickness_mm = 6.1;
  WeavePattern pattern = WeavePattern::twill_2x2;
  double warp_deg = 1.0, weft_deg = 91.0;  // nominal axes
  double warp_pitch_mm = 2.3, weft_pitch_mm = 2.3;
  std::vector<SceneDrag> drags;
  std::vector<SceneDefect> front, back;  // each in its own face's frame
  double dry_albedo = 0.09;              // matte cloth without resin, [0.01, 0.3]
  int plies = 12;
  std::uint64_t seed = 1;
  SceneLook look = {};
  std::vector<SceneTowFault> tow_faults;
};

struct SceneLight {
  std::array<double, 3> direction = {-0.4, -0.5, 0.77};  // toward the lamp, sheet frame with z up
  double gloss = 40.0;                                   // lobe exponent of wetted fibres
  double ambient = 0.35;
  bool second_model = false;  // the other fibre shading model
  double facets = 0.0;        // share of the highlight thrown back by the tows' rounded surface, [0, 1]
  double facet_gloss = 30.0;
  double coat = 0.0, coat_gloss = 400.0;            // the lamp's mirror image in the clear coat
  double room = 1.0;                                // the dim room's image in it
  double lamp_mm = 0.0;                             // distance of the lamp from the sheet's middle; 0: far off
  std::array<double, 3> second = {0.4, 0.3, 0.87};  // toward a second lamp
  double second_strength = 0.0;
  double eye_mm = 0.0;  // height of the eye; 0: far off
  SheetPoint eye_over;
};

struct SceneCamera {
  cv::Size size{3264, 2448};
  double focal_35mm_mm = 26.0;
  double k1 = 0.01;
  SheetPoint over{120.0, 90.0};  // where the optical axis meets the face, mm
  double height_mm = 420.0;
  double tilt_deg = 8.0, tilt_toward_deg = 40.0, roll_deg = 3.0;
  double blur_px = 0.8, noise = 1.5;  // grey levels
};

/// Maps of one face at `mm_per_px`, origin 0,0: picture CV_32FC3 (linear light), labels CV_8UC1, tow counts CV_32F.
struct SceneFace {
  cv::Mat light, labels, warp_count, weft_count;
};

SceneFace render_face(const SceneSheet& sheet, bool back, const SceneLight& light, double mm_per_px);

struct ScenePhoto {
  cv::Mat bgr;                           // CV_8UC3
  std::array<ImagePoint, 4> corners_px;  // top face, clockwise from the datum corner
};

/// The face on a wooden table with four strips taped around it.
ScenePhoto render_photo(const SceneSheet& sheet, bool back, const SceneLight& light, const SceneCamera& camera);

/// A close-up of a cut edge, front face up, CV_8UC3; `px_per_mm` at the band.
cv::Mat render_edge(const SceneSheet& sheet, double length_mm, double px_per_mm, std::uint64_t seed);

/// Seeded random numbers from raw engine bits: the same on every library.
class SceneRandom {
 public:
  explicit SceneRandom(std::uint64_t seed) : state_(seed * 0x9E3779B97F4A7C15ULL + 0x632BE59BD9B4E019ULL) {}
  double uniform();  // [0, 1)
  double between(double low, double high) { return low + (high - low) * uniform(); }
  double normal();

 private:
  std::uint64_t state_;
};

}  // namespace sheetloupe
