// A phone looks down on a table: face, side walls, shadow, wood, and four printed strips held by tape.
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "scene/noise.h"
#include "sheetloupe/markers.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {
namespace {

using scene::noise2;

constexpr double kFaceStep = 0.06, kStripStep = 0.05;  // mm a texel

// Sheet frame with z up from the table; x right, y down: left-handed, so depth grows downward along the view.
struct Eye {
  cv::Matx33d rotation;  // camera from sheet
  cv::Vec3d position;
  double focal_px, k1;
  cv::Point2d middle;
};

Eye eye_of(const SceneCamera& camera, double face_z) {
  const double tilt = camera.tilt_deg * CV_PI / 180, toward = camera.tilt_toward_deg * CV_PI / 180,
               roll = camera.roll_deg * CV_PI / 180;
  // Looking down: camera z is -sheet z; tilted toward a direction, then rolled.
  const cv::Vec3d forward(std::sin(tilt) * std::cos(toward), std::sin(tilt) * std::sin(toward), -std::cos(tilt));
  cv::Vec3d right(1, 0, 0);
  right -= forward * right.dot(forward);
  right /= cv::norm(right);
  // y of the picture runs down the sheet; the frame is left-handed, hence the order.
  cv::Vec3d down(forward[1] * right[2] - forward[2] * right[1], forward[2] * right[0] - forward[0] * right[2],
                 forward[0] * right[1] - forward[1] * right[0]);
  if (down[1] < 0) down = -down;
  const cv::Vec3d r2 = right * std::cos(roll) + down * std::sin(roll),
                  d2 = down * std::cos(roll) - right * std::sin(roll);
  Eye eye;
  eye.rotation = cv::Matx33d(r2[0], r2[1], r2[2], d2[0], d2[1], d2[2], forward[0], forward[1], forward[2]);
  eye.position = cv::Vec3d(camera.over.x, camera.over.y, face_z) - forward * (camera.height_mm / std::cos(tilt));
  eye.focal_px = camera.focal_35mm_mm / 43.2666 * std::hypot(camera.size.width, camera.size.height);
  eye.k1 = camera.k1;
  eye.middle = {(camera.size.width - 1) / 2.0, (camera.size.height - 1) / 2.0};
  return eye;
}

cv::Point2d project(const Eye& eye, const cv::Vec3d& p) {
  const cv::Vec3d q = eye.rotation * (p - eye.position);
  const double u = q[0] / q[2], v = q[1] / q[2], g = 1 + eye.k1 * (u * u + v * v);
  return {eye.middle.x + eye.focal_px * g * u, eye.middle.y + eye.focal_px * g * v};
}

cv::Vec3d ray(const Eye& eye, double px, double py) {
  const double ud = (px - eye.middle.x) / eye.focal_px, vd = (py - eye.middle.y) / eye.focal_px;
  double u = ud, v = vd;
  for (int i = 0; i < 6; ++i) {
    const double g = 1 + eye.k1 * (u * u + v * v);
    u = ud / g;
    v = vd / g;
  }
  return eye.rotation.t() * cv::Vec3d(u, v, 1);
}

struct StripPose {
  cv::Point2d middle;
  double angle;
};

// Around the sheet, a finger's width off, each a little askew.
std::array<StripPose, 4> strip_poses(const SceneSheet& sheet, std::uint64_t seed) {
  SceneRandom random(seed + 77);
  const double w = sheet.width_mm, h = sheet.height_mm;
  std::array<StripPose, 4> poses = {
      {{{w / 2, -34}, 0}, {{w + 34, h / 2}, CV_PI / 2}, {{w / 2, h + 34}, 0}, {{-34, h / 2}, CV_PI / 2}}};
  for (StripPose& pose : poses) {
    pose.angle += random.between(-0.06, 0.06);
    pose.middle += cv::Point2d(random.between(-4, 4), random.between(-4, 4));
  }
  return poses;
}

cv::Mat1f strip_texture(int strip) {
  cv::Mat1f texture(cvRound(kStripWidthMm / kStripStep), cvRound(kStripLengthMm / kStripStep), 0.80F);
  for (int k = 0; k < kMarkersPerStrip; ++k) {
    const cv::Mat bits = marker_bits(strip * kMarkersPerStrip + k);
    const double cell = kMarkerSideMm / bits.cols / kStripStep;
    const double left = (kMarkerCentresMm[k] - kMarkerSideMm / 2) / kStripStep,
                 top = (kStripWidthMm - kMarkerSideMm) / 2 / kStripStep;
    for (int r = 0; r < bits.rows; ++r) {
      for (int c = 0; c < bits.cols; ++c) {
        if (bits.at<unsigned char>(r, c) > 0) continue;
        const cv::Rect box(cvRound(left + c * cell), cvRound(top + r * cell),
                           cvRound(left + (c + 1) * cell) - cvRound(left + c * cell),
                           cvRound(top + (r + 1) * cell) - cvRound(top + r * cell));
        texture(box) = 0.035F;
      }
    }
  }
  return texture;
}

cv::Vec3f wood(double x, double y, std::uint64_t seed) {
  const double ring = noise2(x / 60.0, y / 6.0, seed) + 0.5 * noise2(x / 25.0, y / 1.6, seed + 1),
               fine = 0.25 * noise2(x / 4.0, y / 0.35, seed + 2);
  const double k = 1 + 0.22 * ring + 0.12 * fine;
  return {static_cast<float>(0.14 * k), static_cast<float>(0.26 * k), static_cast<float>(0.40 * k)};
}

class Stage {
 public:
  Stage(const SceneSheet& sheet, bool back, const SceneLight& light, const Eye& eye)
      : sheet_(sheet), light_(light), eye_(eye), poses_(strip_poses(sheet, sheet.seed + (back ? 5 : 0))) {
    face_ = render_face(sheet, back, light, kFaceStep).light;
    for (int k = 0; k < kStripCount; ++k) strips_[k] = strip_texture(k);
  }

  cv::Vec3f look(double px, double py) const {
    const cv::Vec3d d = ray(eye_, px, py);
    const double t_face = (sheet_.thickness_mm - eye_.position[2]) / d[2];
    const cv::Vec3d face = eye_.position + d * t_face;
    if (on_sheet(face[0], face[1])) return texel(face[0] / kFaceStep - 0.5, face[1] / kFaceStep - 0.5) * 2.2F;
    const double t_table = -eye_.position[2] / d[2];
    // Between face height and table the ray may meet a side wall: then its table point lies under the sheet.
    const cv::Vec3d foot = eye_.position + d * t_table;
    if (on_sheet(foot[0], foot[1])) return {0.012F, 0.012F, 0.012F};
    const double w = shadow(foot[0], foot[1]);
    for (int k = 0; k < kStripCount; ++k) {
      cv::Vec3f paper;
      if (on_strip(k, foot[0], foot[1], paper)) return paper * static_cast<float>(w);
    }
    return wood(foot[0], foot[1], sheet_.seed) * static_cast<float>(w);
  }

 private:
  bool on_sheet(double x, double y) const { return x >= 0 && y >= 0 && x <= sheet_.width_mm && y <= sheet_.height_mm; }

  cv::Vec3f texel(double x, double y) const {
    const int i = std::clamp(static_cast<int>(std::floor(y)), 0, face_.rows - 2),
              j = std::clamp(static_cast<int>(std::floor(x)), 0, face_.cols - 2);
    const auto v = static_cast<float>(std::clamp(y - i, 0.0, 1.0)), u = static_cast<float>(std::clamp(x - j, 0.0, 1.0));
    return (1 - v) * ((1 - u) * face_.at<cv::Vec3f>(i, j) + u * face_.at<cv::Vec3f>(i, j + 1)) +
           v * ((1 - u) * face_.at<cv::Vec3f>(i + 1, j) + u * face_.at<cv::Vec3f>(i + 1, j + 1));
  }

  bool on_strip(int k, double x, double y, cv::Vec3f& paper) const {
    const double c = std::cos(poses_[k].angle), s = std::sin(poses_[k].angle), dx = x - poses_[k].middle.x,
                 dy = y - poses_[k].middle.y;
    const double along = c * dx + s * dy + kStripLengthMm / 2, across = -s * dx + c * dy + kStripWidthMm / 2;
    if (along < 0 || across < 0 || along >= kStripLengthMm || across >= kStripWidthMm) return false;
    const auto value = strips_[k](std::min(strips_[k].rows - 1, static_cast<int>(across / kStripStep)),
                                  std::min(strips_[k].cols - 1, static_cast<int>(along / kStripStep)));
    paper = {value, value, value};
    return true;
  }

  // The sheet's shadow on the table: a soft copy of its outline moved away from the lamp.
  double shadow(double x, double y) const {
    const double k = sheet_.thickness_mm / std::max(0.2, light_.direction[2]);
    const double sx = x + light_.direction[0] * k, sy = y + light_.direction[1] * k;
    const double out = std::max({-sx, sx - sheet_.width_mm, -sy, sy - sheet_.height_mm});
    const double soft = 1.5;
    return 0.45 + 0.55 / (1 + std::exp(-out / (0.35 * soft)));
  }

  const SceneSheet& sheet_;
  const SceneLight& light_;
  const Eye& eye_;
  std::array<StripPose, 4> poses_;
  cv::Mat face_;
  std::array<cv::Mat1f, kStripCount> strips_;
};

}  // namespace

ScenePhoto render_photo(const SceneSheet& sheet, bool back, const SceneLight& light, const SceneCamera& camera) {
  const Eye eye = eye_of(camera, sheet.thickness_mm);
  const Stage stage(sheet, back, light, eye);
  cv::Mat linear(camera.size, CV_32FC3);
  constexpr int kSub = 2;  // samples a pixel and axis
  cv::parallel_for_(cv::Range(0, linear.rows), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      for (int c = 0; c < linear.cols; ++c) {
        cv::Vec3f sum(0, 0, 0);
        for (int i = 0; i < kSub; ++i) {
          for (int j = 0; j < kSub; ++j) sum += stage.look(c + (j + 0.5) / kSub - 0.5, r + (i + 0.5) / kSub - 0.5);
        }
        const double vx = (c - eye.middle.x) / linear.cols, vy = (r - eye.middle.y) / linear.cols;
        linear.at<cv::Vec3f>(r, c) = sum * static_cast<float>((1 - 0.5 * (vx * vx + vy * vy)) / (kSub * kSub));
      }
    }
  });
  cv::GaussianBlur(linear, linear, {}, camera.blur_px);
  SceneRandom random(sheet.seed + (back ? 11 : 10));
  ScenePhoto photo;
  photo.bgr = cv::Mat(camera.size, CV_8UC3);
  for (int r = 0; r < linear.rows; ++r) {
    for (int c = 0; c < linear.cols; ++c) {
      const cv::Vec3f v = linear.at<cv::Vec3f>(r, c);
      // The sum of four uniforms is Gaussian enough for sensor noise.
      const double n =
          camera.noise * 1.73 * (random.uniform() + random.uniform() + random.uniform() + random.uniform() - 2);
      for (int k = 0; k < 3; ++k) {
        photo.bgr.at<cv::Vec3b>(r, c)[k] =
            cv::saturate_cast<unsigned char>(255 * std::pow(std::max(0.F, v[k]), 1 / 2.2) + n);
      }
    }
  }
  const double w = sheet.width_mm, h = sheet.height_mm, z = sheet.thickness_mm;
  const std::array<cv::Vec3d, 4> corners = {{{0, 0, z}, {w, 0, z}, {w, h, z}, {0, h, z}}};
  for (int i = 0; i < 4; ++i) {
    const cv::Point2d p = project(eye, corners[i]);
    photo.corners_px[i] = {p.x, p.y};
  }
  return photo;
}

}  // namespace sheetloupe
