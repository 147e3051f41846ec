// What bad input is answered with.
#pragma once

#include <string>

#include "sheetloupe/errors.h"

namespace sheetloupe {

/// The words with which `f` refuses its input; empty when it takes it.
template <class F>
std::string refusal(const F& f) {
  try {
    f();
  } catch (const InputError& e) {
    return e.what();
  }
  return "";
}

}  // namespace sheetloupe
