// The trained decision on pinholes, on weave-locked channels.
#pragma once

#include <vector>

#include "defects/pinholes.h"

namespace sheetloupe::defects {

/// Points that stand out from the sheet's own scatter and that the patch net takes for pits as well. Throws InputError
/// when the bytes are no net of the expected shape.
PinholeSearch find_pinholes(const Locked& locked, double mm_per_px, double warp_deg, double weft_deg, double least_px,
                            const AskedRates& rates, const std::vector<unsigned char>& onnx);

}  // namespace sheetloupe::defects
