#include "sim/library/preferred_values.hpp"

#include <charconv>
#include <cmath>
#include <string>

#include "models/error.hpp"

namespace driftglow::library {
namespace {

// E24 and the coarser series taken from it keep their historical values; E48 and E96 are 10^(i/count) rounded
// to three digits.
constexpr double e24_values[] = {1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
                                 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1};

std::vector<double> every(int stride) {
  std::vector<double> values;
  for (int i = 0; i < 24; i += stride) values.push_back(e24_values[i]);
  return values;
}

std::vector<double> rounded_powers(int count) {
  std::vector<double> values;
  for (int i = 0; i < count; ++i) values.push_back(std::round(100 * std::pow(10., double(i) / count)) / 100);
  return values;
}

// value * 10^exponent as a decimal literal would give it, so that 4.7 nF is the same double everywhere.
double scaled(double value, int exponent) {
  const std::string text = std::to_string(int(std::lround(value * 100))) + "e" + std::to_string(exponent - 2);
  double result = 0;
  std::from_chars(text.data(), text.data() + text.size(), result);
  return result;
}

}  // namespace

const std::vector<double>& decade(Series series) {
  static const auto e6 = every(4), e12 = every(2), e24 = every(1);
  static const auto e48 = rounded_powers(48), e96 = rounded_powers(96);
  switch (series) {
    case Series::e6:
      return e6;
    case Series::e12:
      return e12;
    case Series::e24:
      return e24;
    case Series::e48:
      return e48;
    case Series::e96:
      return e96;
  }
  throw LogicError("unknown series of preferred values");
}

Neighbours neighbours(double value, Series series) {
  if (!(value >= 1e-30 && value <= 1e30)) throw LogicError("value outside the range of preferred values");
  const int exponent = int(std::floor(std::log10(value)));
  Neighbours result{0, 0};
  for (int e = exponent - 1; e <= exponent + 1; ++e) {
    for (const double step : decade(series)) {
      const double candidate = scaled(step, e);
      if (candidate <= value) result.below = candidate;
      if (candidate >= value) {
        result.above = candidate;
        return result;
      }
    }
  }
  throw LogicError("no preferred value found");
}

double nearest(double value, Series series) {
  const auto [below, above] = neighbours(value, series);
  return value / below <= above / value ? below : above;
}

}  // namespace driftglow::library
