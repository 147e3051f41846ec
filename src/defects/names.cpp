#include "sheetloupe/defects.h"

namespace sheetloupe {

std::string_view name_of(DefectLabel label) {
  switch (label) {
    case DefectLabel::sound:
      return "sound";
    case DefectLabel::dry_spot:
      return "dry_spot";
    case DefectLabel::pinhole:
      return "pinhole";
    case DefectLabel::resin_rich:
      return "resin_rich";
    case DefectLabel::not_judged:
      break;
  }
  return "not_judged";
}

}  // namespace sheetloupe
