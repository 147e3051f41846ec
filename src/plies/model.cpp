#include "plies/model.h"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <string>

#include "sheetloupe/errors.h"

namespace sheetloupe::plies {

std::vector<double> parse_weights(std::string_view text) {
  const auto& names = reading_names();
  if (text.find_first_not_of(" \t\r\n") == std::string_view::npos) return {};
  std::vector<double> weights(names.size(), 0.0);
  std::vector<bool> given(names.size(), false);
  std::istringstream lines{std::string(text)};
  for (std::string line; std::getline(lines, line);) {
    if (line.empty() || line[0] == '#') continue;
    std::istringstream words(line);
    std::string name;
    double weight = 0;
    const bool read = static_cast<bool>(words >> name >> weight) && std::isfinite(weight);
    const auto place = std::find(names.begin(), names.end(), name);
    const auto i = static_cast<std::size_t>(place - names.begin());
    if (!read || place == names.end() || given[i])
      throw InputError({"weights of the ply count cannot be read", "plies.txt", line, "one line a reading: name weight",
                        "Train them anew or take the file that came with the program"});
    weights[i] = weight;
    given[i] = true;
  }
  const auto missing = std::find(given.begin(), given.end(), false);
  if (missing != given.end())
    throw InputError({"a weight of the ply count is missing", "plies.txt", "", names[missing - given.begin()],
                      "Train them anew or take the file that came with the program"});
  return weights;
}

std::vector<double> chances(const std::vector<Candidate>& candidates, const std::vector<double>& weights) {
  std::vector<double> chance;
  for (const Candidate& c : candidates) {
    double score = 0;
    for (std::size_t i = 0; i < weights.size(); ++i) score += weights[i] * c.readings[i];
    chance.push_back(score);
  }
  if (chance.empty()) return chance;
  const double most = *std::max_element(chance.begin(), chance.end());
  double sum = 0;
  for (double& c : chance) sum += c = std::exp(c - most);
  for (double& c : chance) c /= sum;
  return chance;
}

}  // namespace sheetloupe::plies
