// Ring sizes of the trade to an inside diameter; mm are the master.
#pragma once

#include <optional>
#include <string>

namespace sheetloupe {

enum class SizeSystem { us, uk, jp, iso };

/// Sources do not agree on every system: `sources_differ_mm` is how far published tables lie from this diameter.
struct InnerSize {
  double diameter_mm = 0.0;
  double sources_differ_mm = 0.0;
};

/// us   "0" to "20" in quarters; US and Canada: 0.458 in + 0.032 in a size. No standard governs it; suppliers' tables
///      depart by up to 0.11 mm.
/// uk   "A" to "Z", then "Z+1" to "Z+12"; halves as "P 1/2" or "P1/2": A is 37.5 mm round, 1.25 mm a letter
///      (BS 6820:1987 as quoted second-hand). Published tables differ by half a letter, 0.20 mm.
/// jp   "1" to "40": 13 mm and a third of a millimetre a size (JIS S 4700 as quoted second-hand).
/// iso  "30" to "90": the inner circumference in mm (ISO 8653:2016); tenths are read as they stand.
/// None when it is no such size.
std::optional<InnerSize> ring_size(SizeSystem system, const std::string& size);

/// How the sizes of a system are written, for messages: "a letter A to Z, ...".
std::string how_written(SizeSystem system);

/// What a maker should know before turning a mandrel to this size: that tables differ, and by how much. Empty when the
/// size is a definition.
std::string size_remark(SizeSystem system, const std::string& size);

}  // namespace sheetloupe
