// The printed strips (contract, section 2) as a PDF page.
#pragma once

#include <string>

namespace sheetloupe {

enum class StripPaper { a4, letter };

/// PDF bytes of one landscape page with the four strips at 100 %.
std::string strips_pdf(StripPaper paper);

}  // namespace sheetloupe
