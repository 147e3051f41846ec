// Tails and quantiles of the usual distributions.
#pragma once

namespace sheetloupe::trend {

/// Regularised incomplete beta function I_x(a, b), a, b > 0, x in [0, 1]; to 1e-12.
double incomplete_beta(double a, double b, double x);

/// Two-sided p of Student's t with `degrees` > 0 of freedom.
double student_p(double t, double degrees);
/// The t that a two-sided share of 5 % lies beyond.
double student_95(double degrees);

/// P(F > f) with (d1, d2) degrees of freedom.
double f_tail(double f, double d1, double d2);

/// P(X >= count) for a Poisson variable with this mean.
double poisson_tail(int count, double mean);

}  // namespace sheetloupe::trend
