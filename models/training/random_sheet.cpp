// Which sheets the nets see: cloths, flaws and lamps over wide ranges, sound sheets and odd but sound tows among them.
#include <cmath>

#include "random_face.h"

namespace sheetloupe::training {
namespace {

void random_cloth(SceneRandom& r, SceneSheet& sheet) {
  sheet.width_mm = r.between(75, 125);
  sheet.height_mm = r.between(70, 105);
  sheet.seed = static_cast<std::uint64_t>(r.uniform() * 1e9);
  const double kind = r.uniform();
  sheet.pattern = kind < 0.45 ? WeavePattern::twill_2x2 : kind < 0.75 ? WeavePattern::plain : WeavePattern::satin_5;
  sheet.warp_deg = r.uniform() < 0.3 ? r.between(30, 60) : r.between(-8, 8);
  sheet.weft_deg = sheet.warp_deg + 90 + r.between(-7, 7);
  if (r.uniform() < 0.5) std::swap(sheet.warp_deg, sheet.weft_deg), sheet.weft_deg += 180;
  sheet.warp_pitch_mm = r.between(1.4, 2.9);
  sheet.weft_pitch_mm = sheet.warp_pitch_mm * r.between(0.85, 1.18);
  for (int n = static_cast<int>(r.between(1, 4)); n > 0; --n) {
    const double radius = r.between(14, 40), most = 0.11 * radius;
    sheet.drags.push_back({{r.between(0, sheet.width_mm), r.between(0, sheet.height_mm)},
                           radius,
                           {r.between(-most, most), r.between(-most, most)}});
  }
  SceneLook& look = sheet.look;
  for (double* value : {&look.tones, &look.twist, &look.crimp}) *value = log_between(r, 0.4, 2.2);
  look.streaks = log_between(r, 0.4, 3.2);
  look.gaps = r.between(0.3, 1.35);
  look.wander = r.between(0.0, 0.14);
  look.waves = r.uniform() < 0.5 ? r.between(0.0, 0.1) : 0.0;
  look.lens = r.between(0.0, 0.5);
  look.relief = r.uniform() < 0.5 ? r.between(0.0, 0.3) : 0.0;
  look.floats = r.uniform() < 0.7 ? r.between(0.0, 0.5) : 0.0;
  look.streak_width = log_between(r, 0.8, 3.5);
  look.bunching = r.uniform() < 0.3 ? r.between(0.0, 0.12) : 0.0;
  look.dry_coat = r.between(0.0, 1.0);
  // Dry fibres lose the resin's gloss, or stand out one by one; gaps stay dark or fill with stray light.
  look.dry_streaks = look.streaks * log_between(r, 1, 16);  // a quarter of the wetted cloth's to four times
  look.dry_fuzz = r.uniform() < 0.5 ? log_between(r, 0.1, 1.5) : 0.0;
  look.dry_gaps = r.between(0.2, 1.25);
  look.dry_sheen = r.uniform() < 0.6 ? log_between(r, 0.005, 0.3) : 0.0;
  look.dry_lobe = log_between(r, 0.03, 0.8);
  look.fill = r.uniform() < 0.5 ? r.between(0.86, 1.0) : 1.0;
  // Matte cloth lighter than the wetted sheet, as light and darker.
  sheet.dry_albedo = log_between(r, 0.01, 0.45);
}

// Missing picks, gaps and pressed tows are the weaver's, not the moulder's.
void odd_tows(SceneRandom& r, SceneSheet& sheet) {
  const auto tow = [&](bool warp) {
    // A count that surely crosses the sheet: that of a point inside it.
    const double a = (warp ? sheet.warp_deg : sheet.weft_deg) * CV_PI / 180;
    const double x = r.between(0.1, 0.9) * sheet.width_mm, y = r.between(0.1, 0.9) * sheet.height_mm;
    const double across = x * -std::sin(a) - y * std::cos(a);
    return static_cast<int>(std::floor(warp ? across / -sheet.warp_pitch_mm : across / sheet.weft_pitch_mm));
  };
  if (r.uniform() < 0.2) {
    const bool warp = r.uniform() < 0.4;
    sheet.tow_faults.push_back({warp, tow(warp), true, 0.0});
  }
  if (r.uniform() < 0.35) {
    for (int n = static_cast<int>(r.between(1, 4)); n > 0; --n) {
      const bool warp = r.uniform() < 0.5;
      sheet.tow_faults.push_back({warp, tow(warp), false, r.between(0.1, 0.5)});
    }
  }
}

SceneDefect random_pit(SceneRandom& r, SheetPoint at) {
  SceneDefect d{DefectLabel::pinhole, at, log_between(r, 0.15, 1.0), r.between(0.45, 1), 1};
  d.pit.smooth = true;
  d.pit.stretch = r.uniform() < 0.5 ? 1.0 : r.between(1.0, 1.6);
  d.pit.rim_turn = r.between(0, 2 * CV_PI);
  d.pit.floor = r.uniform() < 0.6 ? log_between(r, 0.001, 0.006) : log_between(r, 0.004, 0.03);
  // Upright walls as of a drill, or sloping ones; a rim that mirrors the lamp, one that only draws up resin, or none.
  d.pit.bowl = r.uniform() < 0.6 ? r.between(0.2, 1.0) : 0.0;
  if (d.pit.bowl > 0) d.strength = r.between(0.6, 1);
  const double rim = r.uniform();
  d.bright_rim = rim < 0.35;
  d.pit.rim_gain = rim > 0.35 && rim < 0.8 ? log_between(r, 0.15, 2.5) : 0.0;
  d.pit.rim_light = log_between(r, 0.03, 0.6);
  d.pit.rim_mm = r.between(0.08, 0.3);
  d.pit.rim_one_sided = r.uniform() < 0.5 ? r.between(0.3, 1.0) : 0.0;
  if (r.uniform() < 0.25) {  // dust packed into it
    d.pit.floor = log_between(r, 0.08, 1.2);
    d.strength = std::max(d.strength, 0.6);
    d.bright_rim = false;
    d.pit.rim_gain = 0;
  }
  return d;
}

}  // namespace

SceneSheet random_sheet(SceneRandom& r, std::vector<Hole>& holes) {
  SceneSheet sheet;
  random_cloth(r, sheet);
  odd_tows(r, sheet);
  if (r.uniform() < 0.25) return sheet;  // sound
  const auto place = [&] { return SheetPoint{r.between(2, sheet.width_mm - 2), r.between(2, sheet.height_mm - 2)}; };
  const auto seed = [&] { return static_cast<std::uint64_t>(r.uniform() * 1e9); };
  const auto border = [&] {
    SceneBorder b;
    b.soft_mm = log_between(r, 0.25, 2.0);
    b.by_tows = r.uniform() < 0.5 ? r.between(0.0, 1.0) : 0.0;
    b.patchy = r.uniform() < 0.4 ? r.between(0.0, 0.7) : 0.0;
    return b;
  };
  if (r.uniform() < 0.8) {
    for (int n = static_cast<int>(r.between(1, 6)); n > 0; --n) {
      SceneDefect d{DefectLabel::dry_spot, place(), log_between(r, 1.5, 15), r.between(0.3, 1), seed()};
      d.border = border();
      sheet.front.push_back(d);
    }
  }
  if (r.uniform() < 0.4) {
    for (int n = static_cast<int>(r.between(1, 4)); n > 0; --n) {
      SceneDefect d{DefectLabel::resin_rich, place(), log_between(r, 1.5, 10), r.between(0.45, 1), seed()};
      d.border = border();
      d.border.patchy = 0;
      sheet.front.push_back(d);
    }
  }
  for (int n = static_cast<int>(r.between(4, 28)); n > 0; --n) {
    sheet.front.push_back(random_pit(r, place()));
    holes.push_back({sheet.front.back().at, 2 * sheet.front.back().radius_mm});
  }
  return sheet;
}

SceneLight random_light(SceneRandom& r, const SceneSheet& sheet) {
  const auto toward = [&] {
    const double turn = r.between(0, 2 * CV_PI), up = r.between(0.35, 1.4);
    return std::array<double, 3>{std::cos(turn) * std::cos(up), std::sin(turn) * std::cos(up), std::sin(up)};
  };
  SceneLight light;
  light.direction = toward();
  light.gloss = log_between(r, 6, 110);
  light.ambient = r.between(0.15, 0.9);
  light.second_model = r.uniform() < 0.5;
  if (r.uniform() < 0.4) light.facets = r.between(0.2, 1.0), light.facet_gloss = log_between(r, 8, 120);
  if (r.uniform() < 0.4) light.second = toward(), light.second_strength = r.between(0.15, 1.0);
  if (r.uniform() < 0.7) light.lamp_mm = log_between(r, 250, 1500);
  if (r.uniform() < 0.7) {
    light.eye_mm = r.between(250, 600);
    light.eye_over = {r.between(-60, 60 + sheet.width_mm), r.between(-60, 60 + sheet.height_mm)};
  }
  light.room = log_between(r, 0.3, 3.0);
  if (r.uniform() < 0.3) light.coat = log_between(r, 0.05, 3.0), light.coat_gloss = log_between(r, 40, 3000);
  return light;
}

}  // namespace sheetloupe::training
