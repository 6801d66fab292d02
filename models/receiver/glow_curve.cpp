#include "models/receiver/glow_curve.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/error.hpp"
#include "models/numeric/elementary.hpp"
#include "models/numeric/hermite.hpp"

namespace driftglow::receiver {

namespace {

constexpr int fewest_nodes = 128;
constexpr int most_nodes = 4096;

// Value at `t` in 0..1 of the cubic with the given ends and slopes by t; linear beyond t = 1.
double hermite_and_on(double t, double f0, double f1, double d0, double d1) {
  return t > 1.0 ? f1 + (t - 1.0) * d1 : numeric::hermite(t, f0, f1, d0, d1);
}

double plain(const SteadyState& a, const SteadyState& b, double t, double OperatingPoint::*member) {
  const double h = b.value.emf_peak - a.value.emf_peak;
  return hermite_and_on(t, a.value.*member, b.value.*member, h * (a.slope.*member), h * (b.slope.*member));
}

// Slope of ln f over ln E.
double log_slope(const SteadyState& s, double OperatingPoint::*member) {
  return s.value.emf_peak * (s.slope.*member) / (s.value.*member);
}

// Slopes above three times the chord would let the cubic turn back (Fritsch & Carlson 1980 [fritsch1980]).
double logarithmic(const SteadyState& a, const SteadyState& b, double log_t, double log_h,
                   double OperatingPoint::*member) {
  const double f0 = numeric::logarithm(a.value.*member), f1 = numeric::logarithm(b.value.*member);
  const double limit = std::fmax(0.0, 3.0 * (f1 - f0));
  const double d0 = std::clamp(log_h * log_slope(a, member), 0.0, limit);
  const double d1 = std::clamp(log_h * log_slope(b, member), 0.0, limit);
  return numeric::exponential(hermite_and_on(log_t, f0, f1, d0, d1));
}

// Index of the interval's right end.
std::size_t right_end(const std::vector<SteadyState>& points, double emf_peak) {
  const auto above = std::upper_bound(points.begin() + 1, points.end() - 1, emf_peak,
                                      [](double e, const SteadyState& s) { return e < s.value.emf_peak; });
  return static_cast<std::size_t>(above - points.begin());
}

double current_at(const SteadyState& a, const SteadyState& b, double emf_peak,
                  double OperatingPoint::*member) {
  if (a.value.emf_peak == 0.0) {
    // Below the first lit point, where the current is below all use: the tank is linear, the current falls at
    // least so.
    return b.value.*member * emf_peak / b.value.emf_peak;
  }
  const double log_a = numeric::logarithm(a.value.emf_peak);
  const double log_h = numeric::logarithm(b.value.emf_peak) - log_a;
  return logarithmic(a, b, (numeric::logarithm(emf_peak) - log_a) / log_h, log_h, member);
}

}  // namespace

double GlowCurve::mean_current(double emf_peak) const {
  const std::size_t i = right_end(points_, emf_peak);
  return current_at(points_[i - 1], points_[i], emf_peak, &OperatingPoint::mean_current);
}

double GlowCurve::mean_current_antiparallel(double emf_peak) const {
  if (!design_.antiparallel) {
    return 0.0;
  }
  const std::size_t i = right_end(points_, emf_peak);
  return current_at(points_[i - 1], points_[i], emf_peak, &OperatingPoint::mean_current_antiparallel);
}

OperatingPoint GlowCurve::at(double emf_peak) const {
  const std::size_t i = right_end(points_, emf_peak);
  const SteadyState &a = points_[i - 1], &b = points_[i];
  const double t = (emf_peak - a.value.emf_peak) / (b.value.emf_peak - a.value.emf_peak);
  return {emf_peak,
          current_at(a, b, emf_peak, &OperatingPoint::mean_current),
          current_at(a, b, emf_peak, &OperatingPoint::peak_current),
          plain(a, b, t, &OperatingPoint::forward_peak),
          plain(a, b, t, &OperatingPoint::reverse_peak),
          plain(a, b, t, &OperatingPoint::real_power),
          plain(a, b, t, &OperatingPoint::reactive_power),
          mean_current_antiparallel(emf_peak),
          design_.antiparallel ? current_at(a, b, emf_peak, &OperatingPoint::peak_current_antiparallel) : 0.0,
          plain(a, b, t, &OperatingPoint::coil_loss),
          plain(a, b, t, &OperatingPoint::capacitor_loss),
          plain(a, b, t, &OperatingPoint::led_power)};
}

double GlowCurve::threshold_emf(double mean_current) const {
  return threshold_emf(mean_current, {1.0, 0.0});
}

double GlowCurve::threshold_emf(double wanted, const Weights& weights) const {
  const double first = weights.first, second = weights.second;
  if (!(wanted > 0.0 && first >= 0.0 && second >= 0.0 && first + second > 0.0)) {
    throw LogicError("glow curve: the threshold must be positive, weights not negative and not both zero");
  }
  const auto weighted = [&](const OperatingPoint& p) {
    return first * p.mean_current + second * p.mean_current_antiparallel;
  };
  const auto above = std::find_if(points_.begin(), points_.end(),
                                  [&](const SteadyState& s) { return weighted(s.value) >= wanted; });
  if (above == points_.end()) {
    return std::numeric_limits<double>::infinity();
  }
  double low = (above - 1)->value.emf_peak, high = above->value.emf_peak;
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    const double sum = first * mean_current(middle) + second * mean_current_antiparallel(middle);
    (sum < wanted ? low : high) = middle;
  }
  // The cubic's root is close: Newton in the logarithms, in which the current is nearly straight.
  double emf = high;
  SteadyStateSolver solver(design_, omega_, nodes_);
  for (int i = 0; i < 8; ++i) {
    const SteadyState s = solver.solve(emf);
    const double sum = weighted(s.value);
    const double change = std::log(wanted / sum) / (s.value.emf_peak * weighted(s.slope) / sum);
    emf *= std::exp(change);
    if (std::fabs(change) < 1e-4) {
      break;
    }
  }
  return emf;
}

GlowCurve solve_glow_curve(const TankDesign& design, double omega, double emf_max) {
  if (!(std::isfinite(emf_max) && emf_max > 0.0)) {
    throw LogicError("glow curve: the largest EMF must be positive");
  }
  GlowCurve curve(design, omega);
  for (curve.nodes_ = fewest_nodes;; curve.nodes_ *= 2) {
    SteadyStateSolver solver(design, omega, curve.nodes_);
    curve.points_ = {solver.solve(0.0)};
    // First point: the unloaded tank's peak would carry 0.1 uA, so the mean is some tenth of that.
    double knee = design.led.forward_voltage(1e-7);
    if (design.antiparallel) {
      knee = std::fmin(knee, design.antiparallel->forward_voltage(1e-7));
    }
    double emf = std::fmin(emf_max, knee / std::abs(linear_response(design, omega).voltage));
    curve.points_.push_back(solver.solve(emf));
    while (emf < emf_max) {
      double steepness = log_slope(curve.points_.back(), &OperatingPoint::mean_current);
      if (design.antiparallel) {
        steepness =
            std::fmax(steepness, log_slope(curve.points_.back(), &OperatingPoint::mean_current_antiparallel));
      }
      const double growth = std::fmin(0.14, (design.antiparallel ? 0.7 : 0.9) / std::fmax(1.0, steepness));
      emf = emf * (1.0 + 1.3 * growth) < emf_max ? emf * (1.0 + growth) : emf_max;
      curve.points_.push_back(solver.solve(emf));
    }
    SteadyStateSolver finer(design, omega, 2 * curve.nodes_);
    const auto misses = [&](const SteadyState& s) {
      const OperatingPoint fine = finer.solve(s.value.emf_peak).value;
      const auto differs = [&](double OperatingPoint::*member, double least) {
        return std::fabs(fine.*member - s.value.*member) > 1e-4 * std::fmax(s.value.*member, least);
      };
      // Where two LEDs differ, the current of the dimmer one may be next to nothing.
      return differs(&OperatingPoint::mean_current, design.antiparallel ? 1e-9 : 0.0) ||
             (design.antiparallel && differs(&OperatingPoint::mean_current_antiparallel, 1e-9));
    };
    if (curve.nodes_ == most_nodes ||
        (!misses(curve.points_[curve.points_.size() / 2]) && !misses(curve.points_.back()))) {
      return curve;
    }
  }
}

}  // namespace driftglow::receiver
