// Where to drill: as many good rings as the usable map can give.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/usable.h"

namespace sheetloupe {

/// One line of an order, sizes already in mm.
struct RingOrder {
  std::string name;
  double inner_diameter_mm = 0.0;
  double wall_mm = 0.0;
  double width_mm = 0.0;     // along the finger: must fit the sheet's thickness
  std::optional<int> count;  // none: "fill"
  int priority = 1;          // 1 goes first
  double value = 1.0;
  double accept_pinhole_mm = 0.0;
  std::string size_remark;  // where tables differ on the size it was ordered by; else empty
};

struct HoleSaw {
  std::string name;
  double outer_mm = 0.0;
  double kerf_mm = 0.0;
};

/// An orders file, contract section 6. Omitted allowances are 0.
struct Orders {
  std::vector<RingOrder> rings;
  std::vector<HoleSaw> saws;
  double web_mm = 0.0;
  double edge_margin_mm = 0.0;
  double turning_allowance_mm = 0.0;
  double face_allowance_mm = 0.0;
  double drill_wander_mm = 0.0;
  double template_mm = 0.0;
};

/// What a defect must keep clear of. Only `annulus` is used for plans; the others measure what the harmless core and
/// kerf are worth.
enum class Harm { annulus, disc, whole_circle };

/// The search's work in energy evaluations by default: about 1 s for 60 blanks on two cores of a rented server.
inline constexpr std::uint64_t kDefaultEvaluations = 100000;

struct PlacementOptions {
  std::uint64_t evaluations = 0;  // energy evaluations; 0: the default budget
  std::uint64_t seed = 1;
  int threads = 1;                                              // the plan does not depend on it
  std::vector<SheetPoint> pins;                                 // a blank is kept here
  std::vector<Circle> avoid;                                    // no saw may touch these
  std::vector<Circle> taken;                                    // holes already cut; the web is kept from them
  int first_number = 1;                                         // of the blanks' ids
  std::function<bool(int placed, double share_done)> progress;  // false: stop with the best plan so far
  Harm harm = Harm::annulus;
  bool leftover_strip = true;     // counted orders that all find room are gathered in the narrowest strip
  std::vector<SheetPoint> start;  // centres of an earlier plan of a single ring, tried first
};

struct Blank {
  std::string id;  // "H-014-01"
  std::string ring;
  SheetPoint centre;
  std::string saw;
  double saw_outer_mm = 0.0;
  double kerf_mm = 0.0;
  double inner_diameter_mm = 0.0;  // of the ring
  double outer_diameter_mm = 0.0;  // of the ring: inner + 2 wall
  // How far it could be off before a defect or barred place touches its annulus, beyond e; infinite when there is none.
  double clearance_mm = 0.0;
  std::vector<std::string> harmless_defects;  // ids in its core or kerf
};

struct Unplaced {
  std::string ring;
  int count = 0;
  std::string reason;
};

struct Plan {
  std::vector<Blank> blanks;
  std::vector<Unplaced> unplaced;
  int bound_proven = 0;    // no plan can hold more blanks of the smallest saw used
  int bound_flawless = 0;  // what the same sheet without a flaw would hold, by the same search
  std::uint64_t evaluations = 0;
  std::uint64_t seed = 1;
  std::string stopped_by;  // "evaluations", "interrupted", "complete"
};

/// Places counted orders by priority, then fills by value. A ring that finds no place is in `unplaced` with the reason.
/// Same input, same plan, whatever the number of threads. Throws InputError: no outline in the map, no saws, sizes that
/// are no sizes, a pinned place where no ring can be cut.
Plan place_blanks(const UsableMap& map, const Orders& orders, const PlacementOptions& options = {});

}  // namespace sheetloupe
