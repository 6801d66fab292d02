#include "models/swirl_flow/monotone.hpp"

#include <algorithm>
#include <cmath>

namespace driftglow::swirl_flow {
namespace {

// One-sided parabola at an end, kept monotone; steps and chords from the end inwards.
double end_slope(double step, double next_step, double chord, double next_chord) {
  const double slope = ((2.0 * step + next_step) * chord - step * next_chord) / (step + next_step);
  if (slope * chord <= 0.0) return 0.0;
  if (chord * next_chord <= 0.0 && std::fabs(slope) > 3.0 * std::fabs(chord)) return 3.0 * chord;
  return slope;
}

}  // namespace

std::vector<double> monotone_slopes(const std::vector<double>& x, const std::vector<double>& y) {
  const std::size_t n = x.size();
  std::vector<double> step(n - 1), chord(n - 1), slope(n);
  for (std::size_t i = 0; i + 1 < n; ++i) {
    step[i] = x[i + 1] - x[i];
    chord[i] = (y[i + 1] - y[i]) / step[i];
  }
  if (n == 2) return {chord[0], chord[0]};
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double a = chord[i - 1], b = chord[i];
    const double wa = 2.0 * step[i] + step[i - 1], wb = step[i] + 2.0 * step[i - 1];
    slope[i] = a * b > 0.0 ? (wa + wb) / (wa / a + wb / b) : 0.0;
  }
  slope[0] = end_slope(step[0], step[1], chord[0], chord[1]);
  slope[n - 1] = end_slope(step[n - 2], step[n - 3], chord[n - 2], chord[n - 3]);
  return slope;
}

std::vector<double> monotone_resampled(const std::vector<double>& x, const std::vector<double>& y,
                                       const std::vector<double>& x_new) {
  const auto slope = monotone_slopes(x, y);
  std::vector<double> result;
  result.reserve(x_new.size());
  for (const double at : x_new) {
    if (at <= x.front()) {
      result.push_back(y.front());
    } else if (at >= x.back()) {
      result.push_back(y.back());
    } else {
      const auto i = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), at) - x.begin()) - 1;
      const double step = x[i + 1] - x[i], t = (at - x[i]) / step, u = 1.0 - t;
      result.push_back(u * u * (1.0 + 2.0 * t) * y[i] + t * t * (1.0 + 2.0 * u) * y[i + 1] +
                       step * t * u * (u * slope[i] - t * slope[i + 1]));
    }
  }
  return result;
}

}  // namespace driftglow::swirl_flow
