// Generated faces with their true directions and what the weave stage reads on them, as files for the numeric checks;
// or the stage's reading of any picture laid flat.
//   weave_pictures DIR                     six faces: DIR/k.png, k_{true,read}_{warp,weft}.tiff, faces.json
//   weave_pictures read PICTURE MASK STEM MM_PER_PX   STEM_{read}_{warp,weft}.tiff, the reading on stdout
#include <array>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <string>

#include "sheetloupe/scene.h"
#include "sheetloupe/weave.h"
#include "support/flat_scene.h"

namespace {

using namespace sheetloupe;

constexpr double kPx = 0.12;  // mm
const char* const kNames[] = {"unknown", "plain", "twill-2x2", "satin-5"};

void write_reading(const std::string& stem, const WeaveAnalysis& weave) {
  cv::imwrite(stem + "_read_warp.tiff", weave.warp_deg);
  cv::imwrite(stem + "_read_weft.tiff", weave.weft_deg);
}

// Axis of a tow set at the centre of each square millimetre, from the generator's counts.
cv::Mat1f axes_of(const cv::Mat1f& count) {
  const cv::Size size(static_cast<int>(count.cols * kPx), static_cast<int>(count.rows * kPx));
  cv::Mat1f out(size, std::nanf(""));
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const int y = cvRound((r + 0.5) / kPx - 0.5), x = cvRound((c + 0.5) / kPx - 0.5);
      if (y < 3 || x < 3 || y + 3 >= count.rows || x + 3 >= count.cols) continue;
      out(r, c) = static_cast<float>(wrap_axis_degrees(
          std::atan2(-(count(y, x + 3) - count(y, x - 3)), -(count(y + 3, x) - count(y - 3, x))) * 180 / CV_PI));
    }
  }
  return out;
}

SceneSheet face_number(int k, SceneRandom& random) {
  SceneSheet sheet;
  sheet.width_mm = 110;
  sheet.height_mm = 90;
  sheet.pattern = std::array{WeavePattern::plain, WeavePattern::twill_2x2, WeavePattern::satin_5}[k % 3];
  sheet.warp_deg = random.between(-8, 8) + (k == 4 ? 40 : 0);
  sheet.weft_deg = sheet.warp_deg + 90 + random.between(-1.5, 1.5);
  sheet.warp_pitch_mm = random.between(1.8, 2.4);
  sheet.weft_pitch_mm = sheet.warp_pitch_mm * random.between(0.9, 1.1);
  sheet.seed = static_cast<std::uint64_t>(400 + k);
  for (int i = 0; i < 3; ++i) {
    // Local bumps of up to 12 degrees, as the stage is meant to follow.
    sheet.drags.push_back(random_drag(random, {13, 20}, {6, 12}, {20, 90}, {20, 70}));
  }
  return sheet;
}

int own_faces(const std::string& folder) {
  std::ofstream list(folder + "/faces.json");
  list << "[";
  for (int k = 0; k < 6; ++k) {
    SceneRandom random(static_cast<std::uint64_t>(400 + k));
    const SceneSheet sheet = face_number(k, random);
    SceneLight light = random_lamp(random);
    light.second_model = k >= 3;
    // Lamp and phone are near, so which tow set shines changes over the face.
    light.lamp_mm = random.between(250, 500);
    light.eye_mm = random.between(250, 400);
    light.eye_over = {55, 45};
    const RectifiedSheet flat = flat_scene(sheet, light, kPx);
    const SceneFace truth = render_face(sheet, false, light, kPx);
    const std::string stem = folder + "/" + std::to_string(k);
    cv::imwrite(stem + ".png", flat.bgr);
    cv::imwrite(stem + "_true_warp.tiff", axes_of(truth.warp_count));
    cv::imwrite(stem + "_true_weft.tiff", axes_of(truth.weft_count));
    const WeaveAnalysis weave = analyse_weave(flat);
    if (!weave.found) return 1;
    write_reading(stem, weave);
    list << (k > 0 ? "," : "") << "{\"weave\":\"" << kNames[static_cast<int>(sheet.pattern)]
         << "\",\"mm_per_px\":" << kPx << ",\"warp_deg\":" << sheet.warp_deg << ",\"weft_deg\":" << sheet.weft_deg
         << ",\"warp_pitch_mm\":" << sheet.warp_pitch_mm << ",\"weft_pitch_mm\":" << sheet.weft_pitch_mm << "}";
  }
  list << "]\n";
  return 0;
}

int read_one(const std::string& picture, const std::string& mask, const std::string& stem, double mm_per_px) {
  RectifiedSheet sheet;
  sheet.bgr = cv::imread(picture, cv::IMREAD_COLOR);
  sheet.cloth = cv::imread(mask, cv::IMREAD_GRAYSCALE);
  cv::inRange(sheet.bgr, cv::Scalar(250, 250, 250), cv::Scalar(255, 255, 255), sheet.glare);
  sheet.mm_per_px = sheet.photo_mm_per_px = mm_per_px;
  const WeaveAnalysis weave = analyse_weave(sheet);
  std::printf(
      "{\"found\":%s,\"weave\":\"%s\",\"warp_deg\":%.4f,\"weft_deg\":%.4f,\"warp_pitch_mm\":%.4f,"
      "\"weft_pitch_mm\":%.4f,\"coverage\":%.4f}\n",
      weave.found ? "true" : "false", kNames[static_cast<int>(weave.pattern)], weave.warp.degrees(),
      weave.weft.degrees(), weave.warp_pitch.value(), weave.weft_pitch.value(), weave.coverage);
  if (weave.found) write_reading(stem, weave);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 2) return own_faces(argv[1]);
  if (argc == 6 && std::string(argv[1]) == "read") return read_one(argv[2], argv[3], argv[4], std::stod(argv[5]));
  std::fputs("weave_pictures DIR | weave_pictures read PICTURE MASK STEM MM_PER_PX\n", stderr);
  return 2;
}
