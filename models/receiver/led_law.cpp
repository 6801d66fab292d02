#include "models/receiver/led_law.hpp"

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/numeric/elementary.hpp"

namespace driftglow::receiver {

namespace {

// omega + ln omega = y. Start within 20 %, then two steps of fourth order.
double wright_omega(double y) {
  if (y < -37.0) {
    return numeric::exponential(y);
  }
  double omega;
  if (y < 1.0) {
    const double e = numeric::exponential(y);
    omega = e / (1.0 + e * (1.0 - 0.27 * e / (1.0 + e)));
  } else {
    omega = y - numeric::logarithm(y);
  }
  for (int step = 0; step < 2; ++step) {
    const double rest = y - numeric::logarithm(omega) - omega;
    const double one = 1.0 + omega;
    const double square = 2.0 * one * (one + 2.0 / 3.0 * rest);
    omega *= 1.0 + rest / one * (square - rest) / (square - 2.0 * rest);
  }
  return omega;
}

void require(bool good, const char* sentence) {
  if (!good) {
    throw InputError(sentence);
  }
}

}  // namespace

LedLaw::LedLaw(const LedParameters& parameters) : parameters_(parameters) {
  const auto positive = [](double x) { return std::isfinite(x) && x > 0.0; };
  require(positive(parameters.ideality), "LED: the ideality factor must be a positive number");
  require(positive(parameters.saturation_current), "LED: the saturation current must be a positive number");
  require(std::isfinite(parameters.series_resistance) && parameters.series_resistance >= 0.0,
          "LED: the series resistance must be zero or positive");
  require(positive(parameters.temperature), "LED: the temperature must be above absolute zero");
  require(positive(parameters.reverse.breakdown), "LED: the reverse breakdown voltage must be positive");
  require(std::isfinite(parameters.reverse.leakage) && parameters.reverse.leakage >= 0.0,
          "LED: the reverse leakage must be zero or positive");
  slope_voltage_ =
      parameters.ideality * constant::boltzmann * parameters.temperature / constant::elementary_charge;
  inverse_slope_voltage_ = 1.0 / slope_voltage_;
  resistance_ratio_ = parameters.series_resistance * parameters.saturation_current * inverse_slope_voltage_;
  omega_offset_ = resistance_ratio_ > 0.0 ? resistance_ratio_ + std::log(resistance_ratio_) : 0.0;
  breakdown_bend_ = parameters.reverse.breakdown / 50.0;
  breakdown_conductance_ = 10e-3 / (parameters.reverse.breakdown / 20.0 - 0.5 * breakdown_bend_);
}

double LedLaw::forward_voltage(double current) const {
  return slope_voltage_ * std::log1p(current / parameters_.saturation_current) +
         current * parameters_.series_resistance;
}

LedLaw::Response LedLaw::respond(double voltage) const {
  const double x = voltage * inverse_slope_voltage_;
  const double saturation = parameters_.saturation_current;
  // `flow` = i + I_s = I_s e^u, u the junction voltage in units of n_id V_T.
  double flow, current;
  if (resistance_ratio_ > 0.0) {
    const double omega = wright_omega(x + omega_offset_);
    flow = omega * slope_voltage_ / parameters_.series_resistance;
    current = x < 1.0 ? saturation * std::expm1(x + resistance_ratio_ - omega) : flow - saturation;
  } else {
    flow = saturation * numeric::exponential(x);
    current = x < 1.0 ? saturation * std::expm1(x) : flow - saturation;
  }
  const double inverse = 1.0 / (slope_voltage_ + parameters_.series_resistance * flow);
  Response r{current, flow * inverse, slope_voltage_ * flow * inverse * inverse * inverse};
  if (voltage < 0.0) {
    const double scale = 2.0 / parameters_.reverse.breakdown;
    const double leak = parameters_.reverse.leakage * scale * scale;
    r.current -= leak * voltage * voltage;
    r.conductance -= 2.0 * leak * voltage;
    r.curvature -= 2.0 * leak;
    const double beyond = -voltage - parameters_.reverse.breakdown;
    if (beyond > 0.0 && beyond < breakdown_bend_) {
      r.current -= breakdown_conductance_ * beyond * beyond / (2.0 * breakdown_bend_);
      r.conductance += breakdown_conductance_ * beyond / breakdown_bend_;
      r.curvature -= breakdown_conductance_ / breakdown_bend_;
    } else if (beyond > 0.0) {
      r.current -= breakdown_conductance_ * (beyond - 0.5 * breakdown_bend_);
      r.conductance += breakdown_conductance_;
    }
  }
  return r;
}

LedLaw LedLaw::shifted(double shift) const {
  LedParameters p = parameters_;
  p.saturation_current *= std::exp(-shift * inverse_slope_voltage_);
  return LedLaw(p);
}

}  // namespace driftglow::receiver
