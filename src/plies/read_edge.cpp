#include "sheetloupe/plies.h"

namespace sheetloupe {

EdgeReading read_edge(const cv::Mat&, const EdgeOptions& options) {
  EdgeReading reading;
  reading.plies_laid = options.plies_laid;
  reading.reason = "This version does not read edge photos yet.";
  return reading;
}

}  // namespace sheetloupe
