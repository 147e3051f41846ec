#include "markers/dictionary.h"

#include <algorithm>
#include <opencv2/core/version.hpp>
#if CV_VERSION_MAJOR > 4 || (CV_VERSION_MAJOR == 4 && CV_VERSION_MINOR >= 7)
#define SHEETLOUPE_NEW_MARKER_INTERFACE
#include <opencv2/objdetect/aruco_detector.hpp>
#else
#include <opencv2/aruco.hpp>
#endif

#include "sheetloupe/markers.h"

namespace sheetloupe {
namespace markers {
namespace {

void set_up(cv::aruco::DetectorParameters& parameters, double least_perimeter_rate) {
  parameters.minMarkerPerimeterRate = least_perimeter_rate;
  parameters.maxMarkerPerimeterRate = 2.0;
  parameters.adaptiveThreshWinSizeMin = 7;
  parameters.adaptiveThreshWinSizeMax = 47;
  parameters.adaptiveThreshWinSizeStep = 20;
  parameters.polygonalApproxAccuracyRate = 0.05;
}

}  // namespace

std::vector<RawMarker> detect_raw(const cv::Mat& grey, double least_side_px) {
  const double least_perimeter_rate = 4 * least_side_px / std::max(grey.cols, grey.rows);
  std::vector<std::vector<cv::Point2f>> corners;
  std::vector<int> ids;
#ifdef SHEETLOUPE_NEW_MARKER_INTERFACE
  cv::aruco::DetectorParameters parameters;
  set_up(parameters, least_perimeter_rate);
  parameters.cornerRefinementMethod = cv::aruco::CORNER_REFINE_NONE;
  cv::aruco::ArucoDetector detector(cv::aruco::getPredefinedDictionary(cv::aruco::DICT_4X4_50), parameters);
  detector.detectMarkers(grey, corners, ids);
#else
  const auto parameters = cv::aruco::DetectorParameters::create();
  set_up(*parameters, least_perimeter_rate);
  parameters->cornerRefinementMethod = cv::aruco::CORNER_REFINE_NONE;
  cv::aruco::detectMarkers(grey, cv::aruco::getPredefinedDictionary(cv::aruco::DICT_4X4_50), corners, ids, parameters);
#endif
  std::vector<RawMarker> found;
  for (std::size_t i = 0; i < ids.size(); ++i) {
    found.push_back({ids[i], {corners[i][0], corners[i][1], corners[i][2], corners[i][3]}});
  }
  return found;
}

}  // namespace markers

cv::Mat marker_bits(int id) {
  cv::Mat picture;
#ifdef SHEETLOUPE_NEW_MARKER_INTERFACE
  cv::aruco::generateImageMarker(cv::aruco::getPredefinedDictionary(cv::aruco::DICT_4X4_50), id, 6, picture, 1);
#else
  cv::aruco::drawMarker(cv::aruco::getPredefinedDictionary(cv::aruco::DICT_4X4_50), id, 6, picture, 1);
#endif
  return picture;
}

}  // namespace sheetloupe
