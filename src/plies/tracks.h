// For one assumed count: where the lines between the plies run, and how they compare with lines half way between.
#pragma once

#include <vector>

#include "plies/evidence.h"

namespace sheetloupe::plies {

struct Hypothesis {
  int n = 0;
  double sigma = 1.0;
  int polarity = 1;                         // 1 bright lines, -1 dark ones
  double merit = 0.0;                       // of the placing, per ply
  double mean_z = 0.0;                      // ridge height of the mean profile on the lines, in scatters
  std::vector<double> rows;                 // n + 1 lines, first and last are the faces; row units of Evidence
  std::vector<std::vector<double>> tracks;  // n - 1 inner lines in every window
  std::vector<double> line_values, control_values;
  double left_right = 0.0;  // likeness of the lines' values in the left and in the right half
  double t = 0.0;           // two-sample t of lines against controls
};

/// Places n - 1 lines where ridges and swapping agree best with plies of like height.
Hypothesis place_lines(Evidence& evidence, int n);
/// Follows lines and controls along the length and compares them.
void follow_lines(Evidence& evidence, Hypothesis& hypothesis);

}  // namespace sheetloupe::plies
