// The sawn edge itself. Rendered upright, one ply after another, then turned, blurred and developed like a phone photo.
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "scene/noise.h"
#include "sheetloupe/scene.h"
#include "sheetloupe/scene_edge.h"

namespace sheetloupe {
namespace {

using scene::noise1;
using scene::noise2;

// Smooth noise of two octaves, about [-1, 1].
double rolling(double x, std::uint64_t seed) { return 0.7 * noise1(x, seed) + 0.4 * noise1(2.3 * x + 17, seed + 1); }

// The long yarn lies above the tow end number `j` in the section along one yarn.
bool yarn_above(WeavePattern weave, long j) {
  const auto turn = [&](long period) { return ((j % period) + period) % period; };
  if (weave == WeavePattern::plain) return turn(2) == 0;
  if (weave == WeavePattern::satin_5) return turn(5) != 0;
  return turn(4) < 2;
}

class Edge {
 public:
  explicit Edge(const EdgeScene& s) : s_(s), random_(s.seed ^ 0xED6EULL) {
    const double turn = std::abs(s.tilt_deg) * CV_PI / 180;
    width_ = cvCeil(s.size.width * std::cos(turn) + s.size.height * std::sin(turn)) + 8;
    height_ = cvCeil(s.size.height * std::cos(turn) + s.size.width * std::sin(turn)) + 8;
    middle_ = height_ / 2.0 + (s.centre - 0.5) * s.size.height * std::cos(turn);
    draw_gaps();
    for (int k = 0; k <= s.plies; ++k) {
      lines_.emplace_back(width_);
      for (int x = 0; x < width_; ++x) lines_[k][x] = line_at(k, x);
    }
    for (int k = 0; k < s.plies; ++k) {
      start_.push_back(random_.between(0, 20));
      shift_.push_back(random_.between(0, 5));
      tone_.push_back(1 + s.tone * random_.normal());
      pitch_.push_back(s.pitch_px * (1 + 0.03 * random_.normal()));
    }
  }

  cv::Mat3f upright() {
    draw_ground();
    cv::Mat3f picture(height_, width_);
    for (int y = 0; y < height_; ++y) {
      for (int x = 0; x < width_; ++x) picture(y, x) = at(x, y);
    }
    return picture;
  }

  // photo from upright: turned about the middle of the band.
  cv::Matx23d turn() const {
    const double a = s_.tilt_deg * CV_PI / 180, c = std::cos(a), si = std::sin(a);
    const double px = (s_.size.width - 1) / 2.0, py = s_.centre * s_.size.height, ux = (width_ - 1) / 2.0;
    return {c, -si, px - c * ux + si * middle_, si, c, py - si * ux - c * middle_};
  }

  void truth(EdgePhoto& photo) const {
    const cv::Matx23d m = turn();
    for (const auto& line : lines_) {
      std::vector<ImagePoint> points;
      for (int x = 0; x < width_; x += 16) {
        const ImagePoint p{m(0, 0) * x + m(0, 1) * line[x] + m(0, 2), m(1, 0) * x + m(1, 1) * line[x] + m(1, 2)};
        if (p.x >= 0 && p.x < s_.size.width && inside(x)) points.push_back(p);
      }
      photo.interfaces.push_back(std::move(points));
    }
    double sum = 0;
    int count = 0;
    for (int x = 0; x < width_; x += 4) {
      const double h = lines_.back()[x] - lines_.front()[x];
      const double px = m(0, 0) * x + m(0, 1) * middle_ + m(0, 2);
      if (px < 0 || px >= s_.size.width || !inside(x)) continue;
      sum += h;
      ++count;
      photo.height_px.push_back({px, h});
    }
    photo.band_px = count ? sum / count : 0;
  }

 private:
  void draw_gaps() {
    std::vector<double> gaps;
    double sum = 0;
    for (int k = 0; k < s_.plies; ++k) {
      gaps.push_back(std::clamp(1 + s_.gap_cv * random_.normal(), 0.7, 1.3));
      sum += gaps.back();
    }
    double y = 0;
    share_.push_back(0);
    for (const double g : gaps) share_.push_back((y += g) / sum);
  }

  bool inside(double x) const {
    if (s_.one_end > 0) return x < s_.one_end * width_;
    if (s_.one_end < 0) return x > (1 + s_.one_end) * width_;
    return true;
  }

  double line_at(int k, double x) const {
    const double along = x / width_ - 0.5, total = s_.plies * s_.ply_px * (1 + s_.taper * along);
    const double top = middle_ - total / 2 + s_.bow_px * (4 * along * along - 0.5);
    if (k == 0 || k == s_.plies) {
      return top + share_[k] * total +
             s_.face_rough_px *
                 (rolling(x / (0.9 * s_.pitch_px), s_.seed + 40 + k) + 0.25 * noise1(x / 3.0, s_.seed + 70 + k));
    }
    const double own = rolling(x / (0.8 * s_.pitch_px) + 31 * k, s_.seed + 3);
    const double common = rolling(x / (1.1 * s_.pitch_px), s_.seed + 5);
    return top + share_[k] * total +
           s_.waviness * s_.ply_px * 1.6 * (s_.nesting * common + (1 - 0.6 * s_.nesting) * own);
  }

  // The face lines with their chips.
  double dented(int k, int x) const {
    double y = lines_[k][x];
    for (const EdgeBlot& chip : s_.chips) {
      if ((chip.across < 0.5) != (k == 0)) continue;
      const double d = (x - chip.along * width_) / chip.half_length_px;
      if (std::abs(d) < 1) y += (k == 0 ? 1 : -1) * chip.half_height_px * (1 - d * d);
    }
    return y;
  }

  cv::Vec3f at(int x, int y) const {
    if (!inside(x)) return ground(x, y);
    const double top = dented(0, x), bottom = dented(s_.plies, x);
    const double face_top =
        s_.face_px > 0 && !s_.face_below ? s_.face_px * (1 + 0.12 * rolling(x / 400.0, s_.seed + 8)) : 0;
    const double face_bottom = s_.face_px > 0 && s_.face_below ? s_.face_px : 0;
    // Pixels that the border crosses are mixed.
    const double cover = std::clamp(std::min(y + 0.5 - top + face_top, bottom + face_bottom - y + 0.5), 0.0, 1.0);
    if (cover <= 0) return ground(x, y);
    cv::Vec3f v;
    if (face_top > 0 && y < top) {
      v = face(x, (top - y) / face_top);
    } else if (face_bottom > 0 && y > bottom) {
      v = face(x, (y - bottom) / face_bottom);
    } else {
      const double cut = cut_at(x, y);
      for (int c = 0; c < 3; ++c) v[c] = static_cast<float>(cut * s_.tint[c]);
      smear(v, x, y);
    }
    const auto share = static_cast<float>(cover);
    return cover < 1 ? share * v + (1 - share) * ground(x, y) : v;
  }

  // A glossy or satin face seen at a low angle: soft patches of the weave, out of focus, no fine grain.
  cv::Vec3f face(int x, double away) const {
    const double j = std::floor(x / s_.pitch_px + 0.3 * noise1(x / 55.0, s_.seed + 9));
    const double patch = 0.22 * noise1(j * 7.3 + 0.5, s_.seed + 10) + 0.2 * rolling(x / 210.0, s_.seed + 11);
    double v = s_.light * s_.face_light * (1 + patch + 0.25 * (away - 0.5));
    if (s_.face_rim && away < 0.12)
      v *= 0.8 + 1.2 * std::max(0.0, noise1(x / 6.0, s_.seed + 12));  // the broken rim of the cut
    const auto f = static_cast<float>(v);
    return {f, f, f};
  }

  double cut_at(int x, int y) const {
    int k = 0;
    while (k + 1 < s_.plies && y >= lines_[k + 1][x]) ++k;
    const double top = lines_[k][x], bottom = lines_[k + 1][x], height = std::max(1.0, bottom - top);
    double v = fibre(k, x, y, (y - top) / height);
    v = resin(k, x, y - top, v);
    v = resin(k + 1, x, bottom - y, v);
    v *= saw(x, y) * dark_spots(x, y);
    v = crack(x, y, v);
    return s_.light * v * (1 + 0.12 * noise2(x / 500.0, y / 200.0, s_.seed + 21));
  }

  // One long yarn and one tow end in every column, one above the other; they swap places along the length.
  double fibre(int k, int x, int y, double q) const {
    const double phase = x / pitch_[k] + start_[k];
    const long j = static_cast<long>(std::floor(phase));
    const long off = static_cast<long>(std::floor(shift_[k] + s_.cut_angle * x / pitch_[k] * 4));
    const double t = phase - static_cast<double>(j) - 0.5;
    const bool above = yarn_above(s_.weave, j + off);
    const double centre = above ? 0.72 : 0.28, lens = std::pow(t / 0.49, 2) + std::pow((q - centre) / 0.25, 2);
    const double ply = tone_[k];
    if (lens < 1) {
      const double tow = 1 + s_.tone * noise1(j * 3.7 + 100 * k + 0.5, s_.seed + 22);
      const double rim = std::min(1.0, (1 - lens) / 0.12);
      const double grain =
          s_.grain * (0.8 * noise2(x / 1.6, y / 1.6, s_.seed + 23) + 0.5 * noise2(x / 3.1, y / 3.1, s_.seed + 24));
      return ply * tow * s_.tow_end * (1 + grain) * (0.82 + 0.18 * rim);
    }
    // The yarn bends with its path, and its fibres run with it.
    const double bend = 0.18 * (above ? -1 : 1) * std::cos(CV_PI * t) * s_.ply_px;
    return ply * (1 + s_.streak * (noise2(x / 70.0 + 13 * k, (y - bend) / 1.9, s_.seed + 25) +
                                   0.5 * noise2(x / 200.0, (y - bend) / 5.0 + 7 * k, s_.seed + 26)));
  }

  double resin(int k, int x, double away, double v) const {
    if (k == 0 || k == s_.plies) return v;
    const double there =
        std::clamp(3 * (0.5 * (1 + rolling(x / 160.0 + 50 * k, s_.seed + 30)) - s_.resin_gone + 0.15), 0.0, 1.0);
    const double half = 0.5 * s_.resin_width * s_.ply_px * (1 + 0.5 * rolling(x / 90.0 + 77 * k, s_.seed + 31));
    const double share = there * std::clamp(half - away + 0.5, 0.0, 1.0);
    return v * (1 - share) + share * s_.resin;
  }

  double saw(int x, int y) const {
    if (s_.saw == 0) return 1;
    const double u = s_.saw == 1   ? x + 0.06 * y
                     : s_.saw == 2 ? x + std::sqrt(std::max(0.0, 4e6 - (y - middle_) * (y - middle_)))
                                   : y + 0.01 * x;
    const double patch = std::max(0.0, rolling(x / 300.0, s_.seed + 32));
    return 1 + s_.saw_depth * patch * (noise1(u / 4.0, s_.seed + 33) + 0.7 * noise1(u / 14.0, s_.seed + 34));
  }

  double dark_spots(int x, int y) const {
    double v = 1;
    for (const EdgeBlot& spot : s_.voids) {
      const double cy = lines_[0][x] + (0.06 + 0.88 * spot.across) * (lines_.back()[x] - lines_[0][x]);
      const double d =
          std::pow((x - spot.along * width_) / spot.half_length_px, 2) + std::pow((y - cy) / spot.half_height_px, 2);
      if (d < 1) v = 0.2;
    }
    return v;
  }

  double crack(int x, int y, double v) const {
    for (const EdgeCrack& c : s_.cracks) {
      const double along = static_cast<double>(x) / width_;
      if (along < c.from || along > c.to) continue;
      const double path = lines_[c.below_ply][x] + 0.05 * s_.ply_px * noise1(x / 7.0, s_.seed + 35);
      const double half = 0.5 * c.opening_px * std::min({1.0, (along - c.from) * 25, (c.to - along) * 25});
      if (std::abs(y - path) < half) v = 0.15;
    }
    return v;
  }

  void smear(cv::Vec3f& v, int x, int y) const {
    for (const EdgeBlot& blot : s_.smears) {
      const double cy = lines_[0][x] + blot.across * (lines_.back()[x] - lines_[0][x]);
      const double d =
          std::pow((x - blot.along * width_) / blot.half_length_px, 2) + std::pow((y - cy) / blot.half_height_px, 2);
      const auto share = static_cast<float>(0.8 * std::clamp(1.6 - 1.6 * d, 0.0, 1.0));
      const auto dull = static_cast<float>(s_.light);
      v = v * (1 - share) + cv::Vec3f(0.8F, 1.0F, 1.1F) * (share * dull);
    }
  }

  // The ground's own pattern is coarse: every fourth pixel is worked out, the rest mixed.
  void draw_ground() {
    cv::Mat1f coarse(height_ / 4 + 2, width_ / 4 + 2);
    for (int r = 0; r < coarse.rows; ++r) {
      for (int c = 0; c < coarse.cols; ++c) {
        const double x = 4.0 * c, y = 4.0 * r;
        double v = 1 + 0.12 * noise2(x / 600.0, y / 600.0, s_.seed + 50);
        if (s_.ground == EdgeGround::wood)
          v *= 1 + 0.1 * noise2(x / 420.0, y / 26.0, s_.seed + 51) + 0.04 * noise2(x / 60.0, y / 8.0, s_.seed + 52);
        coarse(r, c) = static_cast<float>(v);
      }
    }
    cv::resize(coarse, ground_, {4 * coarse.cols, 4 * coarse.rows}, 0, 0, cv::INTER_LINEAR);
  }

  cv::Vec3f ground(int x, int y) const {
    static constexpr double kTone[5][3] = {
        {0.74, 0.77, 0.78}, {0.3, 0.32, 0.33}, {0.03, 0.033, 0.036}, {0.24, 0.4, 0.55}, {0.5, 0.3, 0.15}};
    const auto& tone = kTone[static_cast<int>(s_.ground)];
    double v = ground_(std::clamp(y, 0, ground_.rows - 1), std::clamp(x, 0, ground_.cols - 1));
    if (s_.ground == EdgeGround::grey) v *= 0.6 + 0.9 * noise1(s_.seed * 0.37 + 0.5, s_.seed + 53) * 0.5 + 0.2;
    const int column = std::clamp(x, 0, width_ - 1);
    const double below = y - lines_.back()[column], above = lines_.front()[column] - s_.face_px - y;
    if (inside(x) && below > 0) v *= 1 - s_.shadow * std::exp(-below / (1.6 * s_.ply_px + 25));
    if (inside(x) && above > 0) v *= 1 - 0.25 * s_.shadow * std::exp(-above / 18.0);
    return {static_cast<float>(v * tone[0]), static_cast<float>(v * tone[1]), static_cast<float>(v * tone[2])};
  }

  const EdgeScene& s_;
  SceneRandom random_;
  int width_ = 0, height_ = 0;
  double middle_ = 0;
  std::vector<double> share_, start_, shift_, tone_, pitch_;
  std::vector<std::vector<double>> lines_;
  cv::Mat1f ground_;
};

// Lens and phone: blur, hand tremor, falling light to the corners, tone curve, noise, sharpening.
cv::Mat develop(cv::Mat light, const EdgeScene& s) {
  cv::GaussianBlur(light, light, {}, s.blur_px);
  if (s.motion_px > 0.3) {
    const int reach = cvCeil(s.motion_px / 2);
    cv::Mat kernel = cv::Mat::zeros(2 * reach + 1, 1, CV_32F);
    for (int i = -reach; i <= reach; ++i)
      kernel.at<float>(i + reach) = static_cast<float>(std::clamp(s.motion_px / 2 - std::abs(i) + 0.5, 0.0, 1.0));
    kernel /= cv::sum(kernel)[0];
    cv::filter2D(light, light, -1, kernel);
  }
  SceneRandom random(s.seed ^ 0xCA3ULL);
  std::vector<float> curve(4096);
  for (std::size_t i = 0; i < curve.size(); ++i) {
    const double v = static_cast<double>(i) / 2048.0;
    curve[i] = static_cast<float>(255 * std::pow(v / (1 + 0.15 * v * v), 1 / 2.2));
  }
  cv::Mat3f tones(light.size());
  for (int y = 0; y < light.rows; ++y) {
    for (int x = 0; x < light.cols; ++x) {
      const double dx = (x - light.cols / 2.0) / light.cols, dy = (y - light.rows / 2.0) / light.cols;
      const double gain = s.exposure * (1 - s.vignette * 2 * (dx * dx + dy * dy));
      const double n = s.noise * (random.uniform() + random.uniform() + random.uniform() - 1.5) * 2;
      for (int c = 0; c < 3; ++c) {
        const double v = std::max(0.0, gain * light.at<cv::Vec3f>(y, x)[c]);
        const double place = std::min(4094.0, v * 2048);
        const auto i = static_cast<std::size_t>(place);
        tones(y, x)[c] =
            static_cast<float>(curve[i] + (place - static_cast<double>(i)) * (curve[i + 1] - curve[i]) + n);
      }
    }
  }
  cv::Mat3f soft;
  cv::GaussianBlur(tones, tones, {}, 0.5);
  cv::GaussianBlur(tones, soft, {}, 1.6);
  cv::Mat bgr, sharp = tones + s.sharpen * (tones - soft);
  sharp.convertTo(bgr, CV_8UC3);
  return bgr;
}

}  // namespace

EdgePhoto render_edge_photo(const EdgeScene& scene) {
  Edge edge(scene);
  EdgePhoto photo;
  edge.truth(photo);
  cv::Mat light;
  cv::warpAffine(edge.upright(), light, edge.turn(), scene.size, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  photo.bgr = develop(light, scene);
  return photo;
}

}  // namespace sheetloupe
