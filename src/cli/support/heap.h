// The process's memory, made ready for pictures.
#pragma once

namespace sheetloupe::cli {

/// Before anything else in a program; acts on the whole process.
void set_up_heap();

}  // namespace sheetloupe::cli
