// The trend page: what the sheets of a log say together. Made from one JSON model, so that page and figures agree.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "sheetloupe/io/log.h"

namespace sheetloupe {

/// Charts, causes, density, effects and forecast of these rows (oldest first, with shapes); `outcomes`: every word on
/// every blank, in order. Each finding ends in a sentence to act on.
nlohmann::ordered_json trend_model(const std::vector<LogRow>& rows, const std::vector<LogOutcome>& outcomes);

/// One self-contained page.
std::string trend_page(const nlohmann::ordered_json& model);

}  // namespace sheetloupe
