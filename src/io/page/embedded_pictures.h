// The pictures that the page carries, made small enough to travel with it.
#pragma once

#include <filesystem>
#include <map>
#include <opencv2/core.hpp>
#include <string>

#include "io/page/sections.h"

namespace sheetloupe::page {

/// The flat faces and the edge overlays that `inspect` left in `folder`, by name; those that are missing are left out.
/// Together at most about 4 MB, so that a page stays under 6 MB.
std::map<std::string, Picture> embedded_pictures(const std::filesystem::path& folder);

/// One of them as the page carries it: `jpeg`, which holds `picture`, where it is small enough, else packed smaller.
Picture embedded_picture(const std::string& name, const cv::Mat& picture, const std::string& jpeg = {});

}  // namespace sheetloupe::page
