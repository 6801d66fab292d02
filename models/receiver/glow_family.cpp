#include "models/receiver/glow_family.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/numeric/elementary.hpp"
#include "models/numeric/hermite.hpp"

namespace driftglow::receiver {

namespace {

constexpr int fewest_time_steps = 128, most_time_steps = 4096;
constexpr int probes = 12;
constexpr int finest = 16;  // intervals of the finest grid of the box
constexpr double finest_level_step = 0.15;
constexpr double depth = 1e-3;  // lowest level over the highest
constexpr double most_headroom = 3.0;
constexpr double darkest = 1e-7;  // A, families are followed at least so far
constexpr double promised_emf_error = 1e-4, promised_current_error = 2e-3;
constexpr double wanted_rating_error = 5e-4;  // of the EMF; promised too
constexpr double infinite = std::numeric_limits<double>::infinity();

// Derivative of evenly spaced values by the quartic through five of them (error O(step^4)).
double slope_of(const auto& value, int i, int count, double step) {
  const int first = std::clamp(i - 2, 0, count - 5);
  static constexpr double weight[5][5] = {{-25.0, 48.0, -36.0, 16.0, -3.0},
                                          {-3.0, -10.0, 18.0, -6.0, 1.0},
                                          {1.0, -8.0, 0.0, 8.0, -1.0},
                                          {-1.0, 6.0, -18.0, 10.0, 3.0},
                                          {3.0, -16.0, 36.0, -48.0, 25.0}};
  double sum = 0.0;
  for (int k = 0; k < 5; ++k) {
    sum += weight[i - first][k] * value(first + k);
  }
  return sum / (12.0 * step);
}

// Lagrange weights at x for Chebyshev's extrema -cos(pi k/(n - 1)), in the barycentric form
// (Berrut & Trefethen 2004 [berrut2004]); one node: constant.
std::array<double, finest + 1> lagrange(double x, int n) {
  std::array<double, finest + 1> weight{};
  if (n == 1) {
    weight[0] = 1.0;
    return weight;
  }
  double sum = 0.0;
  for (int k = 0; k < n; ++k) {
    const double distance = x + std::cos(constant::pi * k / (n - 1));
    if (distance == 0.0) {
      weight.fill(0.0);
      weight[k] = 1.0;
      return weight;
    }
    weight[k] = (k % 2 == 0 ? 1.0 : -1.0) * (k == 0 || k == n - 1 ? 0.5 : 1.0) / distance;
    sum += weight[k];
  }
  for (int k = 0; k < n; ++k) {
    weight[k] /= sum;
  }
  return weight;
}

// Index along the finest grid of node k of n; the grids are nested.
int finest_index(int k, int n) {
  return n == 1 ? finest / 2 : k * (finest / (n - 1));
}

// Z and Y of LinearResponse, whose E - V = Z I and I = Y V.
struct Branches {
  Branches(const TankDesign& design, double omega) {
    const LinearResponse linear = linear_response(design, omega);
    impedance = (1.0 - linear.voltage) / linear.current;
    admittance = linear.current / linear.voltage;
  }
  std::complex<double> impedance, admittance;
};

// Forward voltage [V] of the LED that conducts first.
double knee(const TankDesign& design, double current) {
  const double first = design.led.forward_voltage(current);
  return design.antiparallel ? std::fmin(first, design.antiparallel->forward_voltage(current)) : first;
}

double unloaded_gain(const TankDesign& design, double omega) {
  return std::abs(linear_response(design, omega).voltage);
}

}  // namespace

TankDesign built_design(const TankDesign& centre, const BuiltOffset& offset) {
  TankDesign built = centre;
  built.inductance *= 1.0 + offset.inductance;
  built.capacitance *= 1.0 + offset.capacitance;
  built.led = centre.led.shifted(offset.led_voltage);
  if (centre.antiparallel) {
    built.antiparallel = centre.antiparallel->shifted(offset.antiparallel_voltage);
  }
  return built;
}

double FamilyCurve::current_within(std::size_t i, double log_emf) const {
  const double h = log_emf_[i + 1] - log_emf_[i], t = (log_emf - log_emf_[i]) / h;
  const double y = lowest_ + step_ * static_cast<double>(i);
  const double d0 = h / emf_slope_[i], d1 = h / emf_slope_[i + 1];
  const double log_current = t < 0.0   ? y + t * d0
                             : t > 1.0 ? y + step_ + (t - 1.0) * d1
                                       : numeric::hermite(t, y, y + step_, d0, d1);
  return numeric::exponential(log_current);
}

double FamilyCurve::mean_current_at_log(double log_emf) const {
  const auto above = std::upper_bound(log_emf_.begin() + 1, log_emf_.end() - 1, log_emf);
  return current_within(static_cast<std::size_t>(above - log_emf_.begin()) - 1, log_emf);
}

void FamilyCurve::mean_current_at_log(std::span<const double> log_emf, std::span<double> current) const {
  std::size_t i = 0;
  for (std::size_t k = 0; k < log_emf.size(); ++k) {
    while (i + 2 < log_emf_.size() && log_emf[k] >= log_emf_[i + 1]) {
      ++i;
    }
    current[k] = current_within(i, log_emf[k]);
  }
}

FamilyCurve::Currents FamilyCurve::currents_at_log(double log_emf) const {
  const double sum = mean_current_at_log(log_emf);
  const double last = static_cast<double>(log_emf_.size()) - 1.0;
  const double place = std::clamp((numeric::logarithm(sum) - lowest_) / step_, 0.0, last);
  const auto i = std::min(static_cast<std::size_t>(place), log_emf_.size() - 2);
  const int count = static_cast<int>(log_emf_.size());
  const auto part = [&](const std::vector<double>& log_share) {
    const auto value = [&](int k) { return log_share[k]; };
    const double d0 = step_ * slope_of(value, static_cast<int>(i), count, step_),
                 d1 = step_ * slope_of(value, static_cast<int>(i) + 1, count, step_);
    return sum * numeric::exponential(numeric::hermite(place - static_cast<double>(i), log_share[i],
                                                       log_share[i + 1], d0, d1));
  };
  return {part(log_share_[0]), part(log_share_[1])};
}

double FamilyCurve::log_emf_at(double log_current) const {
  const double place = (log_current - lowest_) / step_;
  const int last = static_cast<int>(log_emf_.size()) - 2;
  const int i = std::clamp(static_cast<int>(std::floor(place)), 0, last);
  const double t = place - i;
  const double d0 = step_ * emf_slope_[i], d1 = step_ * emf_slope_[i + 1];
  return t < 0.0   ? log_emf_[i] + t * d0
         : t > 1.0 ? log_emf_[i + 1] + (t - 1.0) * d1
                   : numeric::hermite(t, log_emf_[i], log_emf_[i + 1], d0, d1);
}

GlowFamily::GlowFamily(const ToleranceBox& box, const GlowLimits& limits, double omega, double emf_max)
    : box_(box),
      limits_(limits),
      omega_(omega),
      emf_max_(emf_max),
      kinds_(box.centre.antiparallel ? most_kinds : first_share) {
  check(box.centre);
  const auto positive = [](double x) { return std::isfinite(x) && x > 0.0; };
  const auto fraction = [](double x) { return x >= 0.0 && x < 1.0; };
  if (!positive(omega) || !positive(emf_max) || !fraction(box.inductance) || !fraction(box.capacitance) ||
      !(std::isfinite(box.led_voltage) && box.led_voltage >= 0.0) || !positive(limits.on_mean_current) ||
      !positive(limits.mean_current_rating) || !positive(limits.peak_current_rating) ||
      !positive(limits.reverse_voltage_rating) ||
      limits.second.has_value() != box.centre.antiparallel.has_value() ||
      !(std::isfinite(box.antiparallel_voltage) && box.antiparallel_voltage >= 0.0) ||
      (limits.second &&
       (!positive(limits.second->weight) || !positive(limits.second->mean_current_rating) ||
        !positive(limits.second->peak_current_rating) || !positive(limits.second->reverse_voltage_rating)))) {
    throw LogicError("glow family: frequency, EMF and limits must be positive, tolerances within 0 and 1");
  }
  const bool pair = limits.second.has_value();
  nodes_ = {box.inductance > 0.0 ? 3 : 1, box.capacitance > 0.0 ? 3 : 1, box.led_voltage > 0.0 ? 2 : 1,
            pair && box.antiparallel_voltage > 0.0 ? 2 : 1};
  // The lowest LED voltage gives the highest current.
  for (int i = 0; i < nodes_[0]; ++i) {
    for (int j = 0; j < nodes_[1]; ++j) {
      pending_.push_back(scouts_.size());
      scouts_.push_back({{nodes_[0] == 1 ? 0.0 : i - 1.0, nodes_[1] == 1 ? 0.0 : j - 1.0, -1.0, -1.0}});
    }
  }
}

BuiltOffset GlowFamily::offset_at(const Place& place) const {
  return {place[0] * box_.inductance, place[1] * box_.capacitance, place[2] * box_.led_voltage,
          place[3] * box_.antiparallel_voltage};
}

void GlowFamily::solve(std::size_t job) {
  if (stage_ == Stage::scouts) {
    scout(scouts_.at(pending_.at(job)));
  } else {
    follow(curves_.at(pending_.at(job)));
  }
}

// Current at emf_max, and the time steps it takes.
void GlowFamily::scout(Scout& scout) const {
  const TankDesign design = built_design(box_.centre, offset_at(scout.place));
  const double dark = knee(design, darkest) / unloaded_gain(design, omega_);
  const auto currents = [&](int time_steps) {
    SteadyStateSolver solver(design, omega_, time_steps);
    for (double emf = dark; emf < 0.5 * emf_max_; emf *= 1.5) {
      solver.solve(emf);
    }
    const double half = glow_current(solver.solve(0.5 * emf_max_).value);
    return std::array<double, 2>{half, glow_current(solver.solve(emf_max_).value)};
  };
  scout.time_steps = fewest_time_steps;
  for (auto coarse = currents(scout.time_steps);; scout.time_steps *= 2) {
    const auto fine = currents(2 * scout.time_steps);
    scout.current = coarse[1];
    if (scout.time_steps == most_time_steps || (std::fabs(fine[0] - coarse[0]) <= 1e-4 * coarse[0] &&
                                                std::fabs(fine[1] - coarse[1]) <= 1e-4 * coarse[1])) {
      return;
    }
    coarse = fine;
  }
}

// Steady states from below the lowest level to above the highest, about a level apart, brought to the levels
// by cubics through values and slopes.
void GlowFamily::follow(Curve& curve) const {
  const TankDesign design = built_design(box_.centre, offset_at(curve.place));
  SteadyStateSolver solver(design, omega_, time_steps_);
  const auto point_at = [&](double log_emf) {
    const SteadyState s = solver.solve(std::exp(log_emf));
    const double sum = glow_current(s.value), steepness = s.value.emf_peak * glow_current(s.slope) / sum;
    const double by_log_current = s.value.emf_peak / steepness;
    // I = 2 conj(S)/E, E real.
    const double per_emf = 2.0 / s.value.emf_peak, real = per_emf * s.value.real_power,
                 imaginary = -per_emf * s.value.reactive_power;
    Point made{std::log(sum),
               {},
               {},
               {real, imaginary},
               {by_log_current * (per_emf * s.slope.real_power - real / s.value.emf_peak),
                -by_log_current * (per_emf * s.slope.reactive_power + imaginary / s.value.emf_peak)}};
    made.value[level_emf] = log_emf;
    made.slope[level_emf] = 1.0 / steepness;
    const auto set = [&](Kind kind, double OperatingPoint::*member, bool over_sum) {
      made.value[kind] = std::log(over_sum ? s.value.*member / sum : s.value.*member);
      made.slope[kind] = by_log_current * (s.slope.*member) / (s.value.*member) - (over_sum ? 1.0 : 0.0);
    };
    set(peak, &OperatingPoint::peak_current, true);
    set(reverse, &OperatingPoint::reverse_peak, false);
    if (kinds_ == most_kinds) {
      set(first_share, &OperatingPoint::mean_current, true);
      set(second_share, &OperatingPoint::mean_current_antiparallel, true);
      set(second_peak, &OperatingPoint::peak_current_antiparallel, true);
      set(forward, &OperatingPoint::forward_peak, false);
    }
    return made;
  };
  const auto good = [&](const Point& p) {
    const auto finite = [](double x) { return std::isfinite(x); };
    return finite(p.log_current) && std::all_of(p.value, p.value + kinds_, finite) &&
           std::all_of(p.slope, p.slope + kinds_, finite) && finite(std::norm(p.coil_current)) &&
           finite(std::norm(p.coil_slope)) && p.slope[0] > 0.0;
  };
  const double highest = lowest_ + step_ * (levels_ - 1);
  curve.points.clear();
  curve.regular = false;
  // The LED's pulses are some tenth of the period wide at the lowest level.
  double log_emf = std::log(knee(design, 10.0 * std::exp(lowest_)) / unloaded_gain(design, omega_));
  Point point = point_at(log_emf);
  for (int i = 0;
       i < 30 && good(point) && !(std::fabs(point.log_current - lowest_ + 0.2 * step_) < 0.2 * step_); ++i) {
    log_emf += std::clamp(point.slope[0] * (lowest_ - 0.2 * step_ - point.log_current), -0.3, 0.3);
    point = point_at(log_emf);
  }
  while (good(point) && curve.points.size() < 300) {
    const double rise = curve.points.empty() ? 0.0 : point.log_current - curve.points.back().log_current;
    if (rise < 0.0) {
      return;
    }
    const double bend = rise > 0.0 ? (point.slope[0] - curve.points.back().slope[0]) / rise : 0.0;
    curve.points.push_back(point);
    if (point.log_current >= highest) {
      break;
    }
    log_emf += std::clamp(level_step_ * (point.slope[0] + 0.5 * level_step_ * bend), 1e-3, 0.3);
    point = point_at(log_emf);
  }
  const auto& points = curve.points;
  if (points.size() < 2 || points.front().log_current > lowest_ || points.back().log_current < highest) {
    return;
  }
  curve.levels.resize(kinds_ * levels_);
  curve.coil_current.clear();
  std::size_t right = 1;
  for (int k = 0; k < levels_; ++k) {
    const double level = lowest_ + step_ * k;
    while (right + 1 < points.size() && points[right].log_current < level) {
      ++right;
    }
    const Point &a = points[right - 1], &b = points[right];
    const double h = b.log_current - a.log_current, t = (level - a.log_current) / h;
    for (int kind = 0; kind < kinds_; ++kind) {
      curve.levels[kinds_ * k + kind] =
          numeric::hermite(t, a.value[kind], b.value[kind], h * a.slope[kind], h * b.slope[kind]);
    }
    curve.coil_current.emplace_back(numeric::hermite(t, a.coil_current.real(), b.coil_current.real(),
                                                     h * a.coil_slope.real(), h * b.coil_slope.real()),
                                    numeric::hermite(t, a.coil_current.imag(), b.coil_current.imag(),
                                                     h * a.coil_slope.imag(), h * b.coil_slope.imag()));
  }
  curve.regular = true;
}

// Mean current, of a pair the weighted sum; of a slope likewise.
double GlowFamily::glow_current(const OperatingPoint& point) const {
  return limits_.second ? point.mean_current + limits_.second->weight * point.mean_current_antiparallel
                        : point.mean_current;
}

void GlowFamily::start_levels() {
  curves_.clear();
  middle_voltage_.clear();
  middle_led_current_.clear();
  middle_share_.clear();
  double largest = darkest;
  for (const Scout& scout : scouts_) {
    largest = std::fmax(largest, scout.current);
    time_steps_ = std::max(time_steps_, scout.time_steps);
  }
  const double top = headroom_ * largest;
  // Peaks of the mean's hundredfold do not occur at a conduction of some degrees.
  double least = std::min({depth * top, 0.5 * limits_.on_mean_current, 0.5 * limits_.mean_current_rating,
                           0.01 * limits_.peak_current_rating});
  if (const auto& second = limits_.second) {
    least = std::min({least, 0.5 * second->weight * second->mean_current_rating,
                      0.01 * second->weight * second->peak_current_rating});
  }
  lowest_ = std::log(least);
  const double range = std::log(top) - lowest_;
  levels_ = 1 + static_cast<int>(std::ceil(range / level_step_));
  step_ = range / (levels_ - 1);

  curve_at_.assign((finest + 1) * (finest + 1) * (finest + 1) * (finest + 1), -1);
  const bool varies = nodes_ != Nodes{1, 1, 1, 1};
  for (int i = 1; i <= (varies ? probes : 1); ++i) {
    // Multiples of irrational numbers lie evenly in the box.
    Curve probe{};
    const double stride[dimensions] = {std::sqrt(2.0), std::sqrt(3.0), std::sqrt(5.0), std::sqrt(7.0)};
    for (int d = 0; d < dimensions; ++d) {
      probe.place[d] = nodes_[d] == 1 ? 0.0 : 2.0 * (i * stride[d] - std::floor(i * stride[d])) - 1.0;
    }
    pending_.push_back(curves_.size());
    curves_.push_back(std::move(probe));
  }
  probes_ = reduced_ = curves_.size();
}

void GlowFamily::ask_for_nodes() {
  const int all = nodes_[0] * nodes_[1] * nodes_[2] * nodes_[3];
  for (int number = 0; number < all; ++number) {
    // The last dimension runs fastest.
    int index[dimensions], at = 0;
    for (int d = dimensions - 1, rest = number; d >= 0; rest /= nodes_[d], --d) {
      index[d] = finest_index(rest % nodes_[d], nodes_[d]);
    }
    for (const int i : index) {
      at = at * (finest + 1) + i;
    }
    if (curve_at_[at] >= 0) {
      continue;
    }
    curve_at_[at] = static_cast<int>(curves_.size());
    pending_.push_back(curves_.size());
    Curve node{};
    for (int d = 0; d < dimensions; ++d) {
      node.place[d] = 2 * index[d] == finest ? 0.0 : -std::cos(constant::pi * index[d] / finest);
    }
    curves_.push_back(std::move(node));
  }
}

void GlowFamily::next_round() {
  pending_.clear();
  if (stage_ == Stage::scouts) {
    start_levels();
    stage_ = Stage::nodes;
    ask_for_nodes();
    return;
  }
  const bool regular =
      std::all_of(curves_.begin(), curves_.end(), [](const Curve& curve) { return curve.regular; });
  stage_ = Stage::finished;
  const bool first = middle_voltage_.empty(), too_short = regular && first && ends_early();
  if (!regular || (too_short && headroom_ > most_headroom)) {
    error_ = {infinite, infinite, infinite};
    return;
  }
  if (first) {
    const bool too_coarse = level_error() > 0.7 * wanted_emf_error && level_step_ > finest_level_step;
    if (too_short || too_coarse) {
      headroom_ *= too_short ? 1.5 : 1.0;
      level_step_ *= too_coarse ? 0.5 : 1.0;
      discarded_ += static_cast<int>(curves_.size());
      stage_ = Stage::nodes;
      start_levels();
      ask_for_nodes();
      return;
    }
    take_middle();
  }
  for (; reduced_ < curves_.size(); ++reduced_) {
    Curve& node = curves_[reduced_];
    const BuiltOffset offset = offset_at(node.place);
    add_balance(built_design(box_.centre, offset), offset, -1.0, node.levels);
  }
  measure();
  const bool as_wanted = error_.emf <= wanted_emf_error && error_.current <= wanted_current_error &&
                         error_.rating <= wanted_rating_error;
  if (!as_wanted && refine()) {
    stage_ = Stage::nodes;
    ask_for_nodes();
    return;
  }
  usable_ = error_.emf <= promised_emf_error && error_.current <= promised_current_error &&
            error_.rating <= wanted_rating_error;
}

// What the balance is drawn from: the LED's first harmonics at a node in the middle of the box.
void GlowFamily::take_middle() {
  std::size_t index = 0;
  for (const int n : nodes_) {
    index = index * (finest + 1) + finest_index((n - 1) / 2, n);
  }
  const Curve& node = curves_[curve_at_[index]];
  const BuiltOffset offset = offset_at(node.place);
  const Branches branches(built_design(box_.centre, offset), omega_);
  for (int k = 0; k < levels_; ++k) {
    const std::complex<double> current = node.coil_current[k];
    const double* level = &node.levels[kinds_ * k];
    const std::complex<double> voltage = std::exp(level[level_emf]) - branches.impedance * current;
    middle_share_.push_back(
        kinds_ == most_kinds ? 1.0 / (1.0 + std::exp(level[second_share] - level[first_share])) : 1.0);
    middle_voltage_.push_back(std::abs(voltage) - middle_shift(k, offset));
    middle_led_current_.push_back((current / voltage - branches.admittance) * std::abs(voltage));
  }
}

// Of the node voltage at a level.
double GlowFamily::middle_shift(int level, const BuiltOffset& offset) const {
  const double share = middle_share_[level];
  return share * offset.led_voltage + (1.0 - share) * offset.antiparallel_voltage;
}

// Adds `sign` times ln E of the first harmonic's balance to the levels.
void GlowFamily::add_balance(const TankDesign& design, const BuiltOffset& offset, double sign,
                             std::vector<double>& levels) const {
  const Branches branches(design, omega_);
  const std::complex<double> unloaded = 1.0 + branches.impedance * branches.admittance;
  for (int k = 0; k < levels_; ++k) {
    const double voltage = std::fmax(middle_voltage_[k] + middle_shift(k, offset), 0.1 * middle_voltage_[k]);
    const std::complex<double> emf = unloaded * voltage + branches.impedance * middle_led_current_[k];
    levels[kinds_ * k] += sign * 0.5 * numeric::logarithm(std::norm(emf));
  }
}

// Node values interpolated at a place, the balance taken off.
std::vector<double> GlowFamily::interpolated(const Place& place, const Nodes& nodes) const {
  const auto in_inductance = lagrange(place[0], nodes[0]), in_capacitance = lagrange(place[1], nodes[1]),
             in_voltage = lagrange(place[2], nodes[2]), in_second = lagrange(place[3], nodes[3]);
  std::vector<double> sum(kinds_ * levels_, 0.0);
  for (int i = 0; i < nodes[0]; ++i) {
    for (int j = 0; j < nodes[1]; ++j) {
      const double weight = in_inductance[i] * in_capacitance[j];
      const std::size_t row =
          (static_cast<std::size_t>(finest_index(i, nodes[0])) * (finest + 1) + finest_index(j, nodes[1])) *
          (finest + 1);
      for (int k = 0; k < nodes[2]; ++k) {
        const std::size_t line = (row + finest_index(k, nodes[2])) * (finest + 1);
        for (int l = 0; l < nodes[3]; ++l) {
          const double share = weight * in_voltage[k] * in_second[l];
          const double* levels = curves_[curve_at_[line + finest_index(l, nodes[3])]].levels.data();
          for (std::size_t value = 0; value < sum.size(); ++value) {
            sum[value] += share * levels[value];
          }
        }
      }
    }
  }
  return sum;
}

FamilyCurve GlowFamily::curve_at(const Place& place) const {
  const BuiltOffset offset = offset_at(place);
  TankDesign design = box_.centre;
  design.inductance *= 1.0 + offset.inductance;
  design.capacitance *= 1.0 + offset.capacitance;
  std::vector<double> levels = interpolated(place, nodes_);
  add_balance(design, offset, 1.0, levels);
  return curve_of(levels, unloaded_gain(design, omega_));
}

FamilyCurve GlowFamily::curve_of(const std::vector<double>& levels, double gain) const {
  FamilyCurve curve;
  curve.lowest_ = lowest_;
  curve.step_ = step_;
  for (int k = 0; k < levels_; ++k) {
    curve.log_emf_.push_back(levels[kinds_ * k]);
    curve.emf_slope_.push_back(slope_of([&](int i) { return levels[kinds_ * i]; }, k, levels_, step_));
    if (kinds_ == most_kinds) {
      curve.log_share_[0].push_back(levels[kinds_ * k + first_share]);
      curve.log_share_[1].push_back(levels[kinds_ * k + second_share]);
    }
  }
  const auto up_to_most = [&](double emf) { return emf <= emf_max_ ? emf : infinite; };
  const auto emf_of_mean = [&](double mean) {
    return up_to_most(numeric::exponential(curve.log_emf_at(numeric::logarithm(mean))));
  };
  // EMF where a value of the levels, raised by `rise` each, passes `limit`; both logarithms.
  const auto emf_of = [&](Kind which, double rise, double limit, double below) {
    const auto value = [&](int i) { return levels[kinds_ * i + which] + rise * i; };
    int right = 0;
    while (right < levels_ && value(right) < limit) {
      ++right;
    }
    if (right == 0) {
      return up_to_most(below);
    }
    if (right == levels_ || !(curve.log_emf_[right - 1] < numeric::logarithm(emf_max_))) {
      return infinite;
    }
    const double f0 = value(right - 1), f1 = value(right);
    const double d0 = step_ * slope_of(value, right - 1, levels_, step_),
                 d1 = step_ * slope_of(value, right, levels_, step_);
    double low = 0.0, high = 1.0;
    for (int i = 0; i < 30; ++i) {
      const double middle = 0.5 * (low + high);
      (numeric::hermite(middle, f0, f1, d0, d1) < limit ? low : high) = middle;
    }
    return up_to_most(numeric::exponential(curve.log_emf_at(lowest_ + step_ * (right - 1 + high))));
  };
  curve.on_emf_ = emf_of_mean(limits_.on_mean_current);
  // Below the lowest level the LED takes no current worth the name: the tank is linear.
  const auto emf_of_current = [&](Kind which, double limit) {
    return emf_of(which, step_, numeric::logarithm(limit) - lowest_, infinite);
  };
  const auto emf_of_voltage = [&](Kind which, double limit) {
    return emf_of(which, 0.0, numeric::logarithm(limit), limit / gain);
  };
  const auto& second = limits_.second;
  curve.over_rating_emf_ = std::min({second ? emf_of_current(first_share, limits_.mean_current_rating)
                                            : emf_of_mean(limits_.mean_current_rating),
                                     emf_of_current(peak, limits_.peak_current_rating),
                                     emf_of_voltage(reverse, limits_.reverse_voltage_rating)});
  if (second) {
    curve.over_rating_emf_ =
        std::min({curve.over_rating_emf_, emf_of_current(second_share, second->mean_current_rating),
                  emf_of_current(second_peak, second->peak_current_rating),
                  emf_of_voltage(forward, second->reverse_voltage_rating)});
  }
  return curve;
}

FamilyCurve GlowFamily::at(const BuiltOffset& offset) const {
  if (!usable_) {
    throw LogicError("glow family: not usable, or not solved yet");
  }
  const auto part = [](double value, double tolerance) { return tolerance > 0.0 ? value / tolerance : 0.0; };
  return curve_at({part(offset.inductance, box_.inductance), part(offset.capacitance, box_.capacitance),
                   part(offset.led_voltage, box_.led_voltage),
                   part(offset.antiparallel_voltage, box_.antiparallel_voltage)});
}

// ln I from which the EMF of a current matters: thresholds, and where the tag shines.
double GlowFamily::least_log_current(double top) const {
  return std::log(std::fmin(top / 30.0, 0.5 * limits_.on_mean_current));
}

// Whether some curve reaches the highest level before emf_max: the scouts missed the resonance.
bool GlowFamily::ends_early() const {
  return std::any_of(curves_.begin(), curves_.end(), [&](const Curve& curve) {
    return curve.levels[kinds_ * (levels_ - 1)] < std::log(emf_max_);
  });
}

// Largest error of the EMF between the probes' own levels.
double GlowFamily::level_error() const {
  double largest = 0.0;
  for (std::size_t i = 0; i < probes_; ++i) {
    const FamilyCurve solved = curve_of(curves_[i].levels, 1.0);
    const double from = least_log_current(solved.mean_current_at_log(std::log(emf_max_)));
    for (const Point& point : curves_[i].points) {
      if (point.log_current >= from && point.value[0] <= std::log(emf_max_)) {
        largest = std::fmax(largest, std::fabs(solved.log_emf_at(point.log_current) - point.value[0]));
      }
    }
  }
  return largest;
}

void GlowFamily::measure() {
  error_ = {};
  const double log_emf_max = std::log(emf_max_);
  const auto shortened = [&](double emf) { return std::fmin(emf, emf_max_); };
  for (std::size_t i = 0; i < probes_; ++i) {
    const Curve& probe = curves_[i];
    const FamilyCurve got = curve_at(probe.place);
    const double gain = unloaded_gain(built_design(box_.centre, offset_at(probe.place)), omega_);
    const FamilyCurve solved = curve_of(probe.levels, gain);
    const double top = solved.mean_current_at_log(log_emf_max);
    const double from = least_log_current(top);
    for (const Point& point : probe.points) {
      if (point.value[0] > log_emf_max) {
        break;
      }
      const double current = std::exp(point.log_current);
      error_.current =
          std::fmax(error_.current, std::fabs(got.mean_current_at_log(point.value[0]) - current) /
                                        std::fmax(current, 0.03 * top));
      if (point.log_current >= from) {
        error_.emf = std::fmax(error_.emf, std::fabs(got.log_emf_at(point.log_current) - point.value[0]));
      }
    }
    if (limits_.second) {
      error_.current = std::fmax(error_.current, share_error(probe, top));
    }
    error_.rating =
        std::fmax(error_.rating,
                  std::fabs(shortened(got.over_rating_emf()) / shortened(solved.over_rating_emf()) - 1.0));
  }
}

// Largest error of either LED's part of the weighted sum, over the sum or 3 % of `top`.
double GlowFamily::share_error(const Curve& probe, double top) const {
  const auto got = interpolated(probe.place, nodes_);
  double largest = 0.0;
  for (int k = 0; k < levels_ && probe.levels[kinds_ * k] <= std::log(emf_max_); ++k) {
    const double sum = std::exp(lowest_ + step_ * k);
    for (const Kind kind : {first_share, second_share}) {
      const double weight = kind == first_share ? 1.0 : limits_.second->weight;
      const double miss = std::exp(got[kinds_ * k + kind]) - std::exp(probe.levels[kinds_ * k + kind]);
      largest = std::fmax(largest, weight * std::fabs(miss) * sum / std::fmax(sum, 0.03 * top));
    }
  }
  return largest;
}

// Largest change of ln E at the probes' levels up to emf_max if only every other node of a dimension were
// used.
double GlowFamily::emf_change(int dimension) const {
  auto fewer = nodes_;
  fewer[dimension] = (nodes_[dimension] + 1) / 2;
  double largest = 0.0;
  for (std::size_t i = 0; i < probes_; ++i) {
    const auto coarse = interpolated(curves_[i].place, fewer), fine = interpolated(curves_[i].place, nodes_);
    for (int k = 0; k < levels_ && curves_[i].levels[kinds_ * k] <= std::log(emf_max_); ++k) {
      largest = std::fmax(largest, std::fabs(coarse[kinds_ * k] - fine[kinds_ * k]));
    }
  }
  return largest;
}

// Twice the intervals in the dimensions that change most; false where that would be too much.
bool GlowFamily::refine() {
  const auto allowed = [](const Nodes& nodes) {
    return *std::max_element(nodes.begin(), nodes.end()) <= finest + 1 &&
           nodes[0] * nodes[1] * nodes[2] * nodes[3] <= most_nodes;
  };
  std::array<double, dimensions> change{};
  for (int d = 0; d < dimensions; ++d) {
    change[d] = nodes_[d] < 3 ? 0.0 : emf_change(d);
  }
  const auto most = std::max_element(change.begin(), change.end());
  auto more = nodes_, one_more = nodes_;
  for (int d = 0; d < dimensions; ++d) {
    // Two nodes tell nothing of the curvature: on to three as soon as anything is missing.
    if (nodes_[d] == 2 || (nodes_[d] > 2 && change[d] >= 0.3 * *most)) {
      more[d] = 2 * nodes_[d] - 1;
    }
  }
  one_more[most - change.begin()] = 2 * nodes_[most - change.begin()] - 1;
  if (!allowed(more)) {
    more = one_more;
  }
  if (more == nodes_ || !allowed(more)) {
    return false;
  }
  nodes_ = more;
  return true;
}

}  // namespace driftglow::receiver
