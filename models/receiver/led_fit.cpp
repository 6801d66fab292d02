#include "models/receiver/led_fit.hpp"

#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <limits>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::receiver {

namespace {

using Points = std::span<const std::pair<double, double>>;

struct Linear {
  double ideality, resistance, squares;
};

double clamp_ideality(double n) {
  return std::clamp(n, ideality_lowest, ideality_highest);
}

// Best n_id and R_s within their bounds for one I_s. The problem is convex in two variables, so its minimum
// is the free one if feasible, else the best of the three edges.
Linear best_linear(Points points, double thermal_voltage, double saturation_current) {
  double bb = 0.0, bc = 0.0, cc = 0.0, bv = 0.0, cv = 0.0;
  const auto basis = [&](double i) { return thermal_voltage * std::log1p(i / saturation_current); };
  for (const auto& [i, v] : points) {
    const double b = basis(i);
    bb += b * b;
    bc += b * i;
    cc += i * i;
    bv += b * v;
    cv += i * v;
  }
  const auto with_squares = [&](double n, double r) {
    double sum = 0.0;
    for (const auto& [i, v] : points) {
      const double miss = n * basis(i) + r * i - v;
      sum += miss * miss;
    }
    return Linear{n, r, sum};
  };
  const double determinant = bb * cc - bc * bc;
  const double n = (bv * cc - cv * bc) / determinant, r = (cv * bb - bv * bc) / determinant;
  if (determinant > 0.0 && r >= 0.0 && n == clamp_ideality(n)) {
    return with_squares(n, r);
  }
  Linear best = with_squares(clamp_ideality(bv / bb), 0.0);
  for (const double edge : {ideality_lowest, ideality_highest}) {
    const Linear other = with_squares(edge, std::max(0.0, (cv - edge * bc) / cc));
    best = other.squares < best.squares ? other : best;
  }
  return best;
}

void check(Points points) {
  if (points.size() < 3) {
    throw InputError("LED points: at least three (current, voltage) points are needed to fit the law");
  }
  double last_current = 0.0, last_voltage = 0.0;
  for (const auto& [i, v] : points) {
    if (!(std::isfinite(i) && std::isfinite(v) && i > last_current && v > 0.0 && v >= last_voltage)) {
      throw InputError("LED points: currents must be positive and rise, voltages be positive and not fall");
    }
    last_current = i;
    last_voltage = v;
  }
}

}  // namespace

LedFit fit_led(Points points, const ReverseData& reverse, double temperature) {
  check(points);
  const double thermal_voltage = constant::boltzmann * temperature / constant::elementary_charge;
  const auto squares = [&](double log_saturation) {
    return best_linear(points, thermal_voltage, std::exp(log_saturation)).squares;
  };
  // At n_id = 1 the first point fixes the smallest I_s; above the first point's current the junction is no
  // longer seen.
  const double highest = std::log(points.front().first);
  const double lowest = highest - points.front().second / (ideality_lowest * thermal_voltage) - 10.0;
  constexpr int steps = 400;
  const double stride = (highest - lowest) / steps;
  double best = lowest, best_squares = std::numeric_limits<double>::infinity();
  for (int i = 0; i <= steps; ++i) {
    const double trial = lowest + i * stride;
    const double s = squares(trial);
    if (s < best_squares) {
      best = trial;
      best_squares = s;
    }
  }
  // Half of the digits: a minimum is not defined better than that.
  const double log_saturation = boost::math::tools::brent_find_minima(squares, best - stride, best + stride,
                                                                      std::numeric_limits<double>::digits / 2)
                                    .first;
  const double saturation_current = std::exp(log_saturation);
  const Linear linear = best_linear(points, thermal_voltage, saturation_current);
  LedFit fit{LedLaw({linear.ideality, saturation_current, linear.resistance, temperature, reverse}), 0.0};
  for (const auto& [i, v] : points) {
    fit.worst_residual = std::max(fit.worst_residual, std::fabs(fit.law.forward_voltage(i) - v));
  }
  return fit;
}

bool has_point_within_factor_ten(Points points, double current) {
  return std::any_of(points.begin(), points.end(), [&](const auto& point) {
    return point.first <= 10.0 * current && current <= 10.0 * point.first;
  });
}

}  // namespace driftglow::receiver
