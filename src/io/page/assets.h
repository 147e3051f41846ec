// Style and script of the page, built into the program.
#pragma once

namespace sheetloupe::page {

extern const char* const kStyle;
extern const char* const kScript;

}  // namespace sheetloupe::page
