// The trained decisions, run through OpenCV's dnn on weave-locked channels.
#pragma once

#include <opencv2/dnn.hpp>
#include <vector>

#include "defects/pinholes.h"

namespace sheetloupe::defects {

/// The net in these bytes, to run on the processor. `what` names the file in errors. Throws InputError.
cv::dnn::Net load_net(const std::vector<unsigned char>& onnx, const char* what);
[[noreturn]] void refuse_net(const char* what);

/// Points that stand out from the sheet's own scatter and that the patch net takes for pits as well. Throws InputError
/// when the bytes are no net of the expected shape.
PinholeSearch find_pinholes(const Locked& locked, double mm_per_px, double warp_deg, double weft_deg, double least_px,
                            const AskedRates& rates, const std::vector<unsigned char>& onnx);

}  // namespace sheetloupe::defects
