#include "models/receiver/glow_family.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/numeric/elementary.hpp"

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

double hermite(double t, double f0, double f1, double d0, double d1) {
  const double rise = f1 - f0;
  return f0 + t * (d0 + t * (3.0 * rise - 2.0 * d0 - d1 + t * (d0 + d1 - 2.0 * rise)));
}

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
                                       : hermite(t, y, y + step_, d0, d1);
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

double FamilyCurve::log_emf_at(double log_current) const {
  const double place = (log_current - lowest_) / step_;
  const int last = static_cast<int>(log_emf_.size()) - 2;
  const int i = std::clamp(static_cast<int>(std::floor(place)), 0, last);
  const double t = place - i;
  const double d0 = step_ * emf_slope_[i], d1 = step_ * emf_slope_[i + 1];
  return t < 0.0   ? log_emf_[i] + t * d0
         : t > 1.0 ? log_emf_[i + 1] + (t - 1.0) * d1
                   : hermite(t, log_emf_[i], log_emf_[i + 1], d0, d1);
}

GlowFamily::GlowFamily(const ToleranceBox& box, const GlowLimits& limits, double omega, double emf_max)
    : box_(box), limits_(limits), omega_(omega), emf_max_(emf_max) {
  check(box.centre);
  const auto positive = [](double x) { return std::isfinite(x) && x > 0.0; };
  const auto fraction = [](double x) { return x >= 0.0 && x < 1.0; };
  if (!positive(omega) || !positive(emf_max) || !fraction(box.inductance) || !fraction(box.capacitance) ||
      !(std::isfinite(box.led_voltage) && box.led_voltage >= 0.0) || !positive(limits.on_mean_current) ||
      !positive(limits.mean_current_rating) || !positive(limits.peak_current_rating) ||
      !positive(limits.reverse_voltage_rating)) {
    throw LogicError("glow family: frequency, EMF and limits must be positive, tolerances within 0 and 1");
  }
  nodes_ = {box.inductance > 0.0 ? 3 : 1, box.capacitance > 0.0 ? 3 : 1, box.led_voltage > 0.0 ? 2 : 1};
  // The lowest LED voltage gives the highest current.
  for (int i = 0; i < nodes_[0]; ++i) {
    for (int j = 0; j < nodes_[1]; ++j) {
      pending_.push_back(scouts_.size());
      scouts_.push_back({{nodes_[0] == 1 ? 0.0 : i - 1.0, nodes_[1] == 1 ? 0.0 : j - 1.0, -1.0}});
    }
  }
}

BuiltOffset GlowFamily::offset_at(const Place& place) const {
  return {place[0] * box_.inductance, place[1] * box_.capacitance, place[2] * box_.led_voltage};
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
  const double dark = design.led.forward_voltage(darkest) / unloaded_gain(design, omega_);
  const auto currents = [&](int time_steps) {
    SteadyStateSolver solver(design, omega_, time_steps);
    for (double emf = dark; emf < 0.5 * emf_max_; emf *= 1.5) {
      solver.solve(emf);
    }
    const double half = solver.solve(0.5 * emf_max_).value.mean_current;
    return std::array<double, 2>{half, solver.solve(emf_max_).value.mean_current};
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
    const double mean = s.value.mean_current, steepness = s.value.emf_peak * s.slope.mean_current / mean;
    const double by_log_current = s.value.emf_peak / steepness;
    // I = 2 conj(S)/E, E real.
    const double per_emf = 2.0 / s.value.emf_peak, real = per_emf * s.value.real_power,
                 imaginary = -per_emf * s.value.reactive_power;
    return Point{
        std::log(mean),
        {log_emf, std::log(s.value.peak_current / mean), std::log(s.value.reverse_peak), real, imaginary},
        {1.0 / steepness, by_log_current * s.slope.peak_current / s.value.peak_current - 1.0,
         by_log_current * s.slope.reverse_peak / s.value.reverse_peak,
         by_log_current * (per_emf * s.slope.real_power - real / s.value.emf_peak),
         -by_log_current * (per_emf * s.slope.reactive_power + imaginary / s.value.emf_peak)}};
  };
  const auto good = [](const Point& p) {
    const auto finite = [](double x) { return std::isfinite(x); };
    return finite(p.log_current) && std::all_of(p.value, p.value + 5, finite) &&
           std::all_of(p.slope, p.slope + 5, finite) && p.slope[0] > 0.0;
  };
  const double highest = lowest_ + step_ * (levels_ - 1);
  curve.points.clear();
  curve.regular = false;
  // The LED's pulses are some tenth of the period wide at the lowest level.
  double log_emf =
      std::log(design.led.forward_voltage(10.0 * std::exp(lowest_)) / unloaded_gain(design, omega_));
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
  curve.levels.resize(3 * levels_);
  curve.coil_current.clear();
  std::size_t right = 1;
  for (int k = 0; k < levels_; ++k) {
    const double level = lowest_ + step_ * k;
    while (right + 1 < points.size() && points[right].log_current < level) {
      ++right;
    }
    const Point &a = points[right - 1], &b = points[right];
    const double h = b.log_current - a.log_current, t = (level - a.log_current) / h;
    double at[5];
    for (int value = 0; value < 5; ++value) {
      at[value] = hermite(t, a.value[value], b.value[value], h * a.slope[value], h * b.slope[value]);
    }
    for (int value = 0; value < 3; ++value) {
      curve.levels[3 * k + value] = at[value];
    }
    curve.coil_current.emplace_back(at[3], at[4]);
  }
  curve.regular = true;
}

void GlowFamily::start_levels() {
  curves_.clear();
  middle_voltage_.clear();
  middle_led_current_.clear();
  double largest = darkest;
  for (const Scout& scout : scouts_) {
    largest = std::fmax(largest, scout.current);
    time_steps_ = std::max(time_steps_, scout.time_steps);
  }
  const double top = headroom_ * largest;
  // Peaks of the mean's hundredfold do not occur at a conduction of some degrees.
  const double least = std::min({depth * top, 0.5 * limits_.on_mean_current,
                                 0.5 * limits_.mean_current_rating, 0.01 * limits_.peak_current_rating});
  lowest_ = std::log(least);
  const double range = std::log(top) - lowest_;
  levels_ = 1 + static_cast<int>(std::ceil(range / level_step_));
  step_ = range / (levels_ - 1);

  curve_at_.assign((finest + 1) * (finest + 1) * (finest + 1), -1);
  const bool varies = nodes_ != std::array<int, 3>{1, 1, 1};
  for (int i = 1; i <= (varies ? probes : 1); ++i) {
    // Multiples of irrational numbers lie evenly in the box.
    Curve probe{};
    const double stride[3] = {std::sqrt(2.0), std::sqrt(3.0), std::sqrt(5.0)};
    for (int d = 0; d < 3; ++d) {
      probe.place[d] = nodes_[d] == 1 ? 0.0 : 2.0 * (i * stride[d] - std::floor(i * stride[d])) - 1.0;
    }
    pending_.push_back(curves_.size());
    curves_.push_back(std::move(probe));
  }
  probes_ = reduced_ = curves_.size();
}

void GlowFamily::ask_for_nodes() {
  for (int i = 0; i < nodes_[0]; ++i) {
    for (int j = 0; j < nodes_[1]; ++j) {
      for (int k = 0; k < nodes_[2]; ++k) {
        const int index[3] = {finest_index(i, nodes_[0]), finest_index(j, nodes_[1]),
                              finest_index(k, nodes_[2])};
        int& at = curve_at_[(index[0] * (finest + 1) + index[1]) * (finest + 1) + index[2]];
        if (at >= 0) {
          continue;
        }
        at = static_cast<int>(curves_.size());
        pending_.push_back(curves_.size());
        Curve node{};
        for (int d = 0; d < 3; ++d) {
          node.place[d] = 2 * index[d] == finest ? 0.0 : -std::cos(constant::pi * index[d] / finest);
        }
        curves_.push_back(std::move(node));
      }
    }
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
    add_balance(built_design(box_.centre, offset), offset.led_voltage, -1.0, node.levels);
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
    const std::complex<double> voltage = std::exp(node.levels[3 * k]) - branches.impedance * current;
    middle_voltage_.push_back(std::abs(voltage) - offset.led_voltage);
    middle_led_current_.push_back((current / voltage - branches.admittance) * std::abs(voltage));
  }
}

// Adds `sign` times ln E of the first harmonic's balance to the levels.
void GlowFamily::add_balance(const TankDesign& design, double shift, double sign,
                             std::vector<double>& levels) const {
  const Branches branches(design, omega_);
  const std::complex<double> unloaded = 1.0 + branches.impedance * branches.admittance;
  for (int k = 0; k < levels_; ++k) {
    const double voltage = std::fmax(middle_voltage_[k] + shift, 0.1 * middle_voltage_[k]);
    const std::complex<double> emf = unloaded * voltage + branches.impedance * middle_led_current_[k];
    levels[3 * k] += sign * 0.5 * numeric::logarithm(std::norm(emf));
  }
}

// Node values interpolated at a place, the balance taken off.
std::vector<double> GlowFamily::interpolated(const Place& place, const std::array<int, 3>& nodes) const {
  const auto in_inductance = lagrange(place[0], nodes[0]), in_capacitance = lagrange(place[1], nodes[1]),
             in_voltage = lagrange(place[2], nodes[2]);
  std::vector<double> sum(3 * levels_, 0.0);
  for (int i = 0; i < nodes[0]; ++i) {
    for (int j = 0; j < nodes[1]; ++j) {
      const double weight = in_inductance[i] * in_capacitance[j];
      const std::size_t row =
          (static_cast<std::size_t>(finest_index(i, nodes[0])) * (finest + 1) + finest_index(j, nodes[1])) *
          (finest + 1);
      for (int k = 0; k < nodes[2]; ++k) {
        const double share = weight * in_voltage[k];
        const double* levels = curves_[curve_at_[row + finest_index(k, nodes[2])]].levels.data();
        for (std::size_t value = 0; value < sum.size(); ++value) {
          sum[value] += share * levels[value];
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
  add_balance(design, offset.led_voltage, 1.0, levels);
  return curve_of(levels, unloaded_gain(design, omega_));
}

FamilyCurve GlowFamily::curve_of(const std::vector<double>& levels, double gain) const {
  FamilyCurve curve;
  curve.lowest_ = lowest_;
  curve.step_ = step_;
  for (int k = 0; k < levels_; ++k) {
    curve.log_emf_.push_back(levels[3 * k]);
    curve.emf_slope_.push_back(slope_of([&](int i) { return levels[3 * i]; }, k, levels_, step_));
  }
  const auto up_to_most = [&](double emf) { return emf <= emf_max_ ? emf : infinite; };
  const auto emf_of_mean = [&](double mean) {
    return up_to_most(numeric::exponential(curve.log_emf_at(numeric::logarithm(mean))));
  };
  // EMF where a value of the levels, raised by `rise` each, passes `limit`; both logarithms.
  const auto emf_of = [&](int which, double rise, double limit, double below) {
    const auto value = [&](int i) { return levels[3 * i + which] + rise * i; };
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
      (hermite(middle, f0, f1, d0, d1) < limit ? low : high) = middle;
    }
    return up_to_most(numeric::exponential(curve.log_emf_at(lowest_ + step_ * (right - 1 + high))));
  };
  curve.on_emf_ = emf_of_mean(limits_.on_mean_current);
  // Below the lowest level the LED takes no current worth the name: the tank is linear.
  curve.over_rating_emf_ =
      std::min({emf_of_mean(limits_.mean_current_rating),
                emf_of(1, step_, numeric::logarithm(limits_.peak_current_rating) - lowest_, infinite),
                emf_of(2, 0.0, numeric::logarithm(limits_.reverse_voltage_rating),
                       limits_.reverse_voltage_rating / gain)});
  return curve;
}

FamilyCurve GlowFamily::at(const BuiltOffset& offset) const {
  if (!usable_) {
    throw LogicError("glow family: not usable, or not solved yet");
  }
  const auto part = [](double value, double tolerance) { return tolerance > 0.0 ? value / tolerance : 0.0; };
  return curve_at({part(offset.inductance, box_.inductance), part(offset.capacitance, box_.capacitance),
                   part(offset.led_voltage, box_.led_voltage)});
}

// ln I from which the EMF of a current matters: thresholds, and where the tag shines.
double GlowFamily::least_log_current(double top) const {
  return std::log(std::fmin(top / 30.0, 0.5 * limits_.on_mean_current));
}

// Whether some curve reaches the highest level before emf_max: the scouts missed the resonance.
bool GlowFamily::ends_early() const {
  return std::any_of(curves_.begin(), curves_.end(), [&](const Curve& curve) {
    return curve.levels[3 * (levels_ - 1)] < std::log(emf_max_);
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
    error_.rating =
        std::fmax(error_.rating,
                  std::fabs(shortened(got.over_rating_emf()) / shortened(solved.over_rating_emf()) - 1.0));
  }
}

// Largest change of ln E at the probes' levels up to emf_max if only every other node of a dimension were
// used.
double GlowFamily::emf_change(int dimension) const {
  auto fewer = nodes_;
  fewer[dimension] = (nodes_[dimension] + 1) / 2;
  double largest = 0.0;
  for (std::size_t i = 0; i < probes_; ++i) {
    const auto coarse = interpolated(curves_[i].place, fewer), fine = interpolated(curves_[i].place, nodes_);
    for (int k = 0; k < levels_ && curves_[i].levels[3 * k] <= std::log(emf_max_); ++k) {
      largest = std::fmax(largest, std::fabs(coarse[3 * k] - fine[3 * k]));
    }
  }
  return largest;
}

// Twice the intervals in the dimensions that change most; false where that would be too much.
bool GlowFamily::refine() {
  const auto allowed = [](const std::array<int, 3>& nodes) {
    return *std::max_element(nodes.begin(), nodes.end()) <= finest + 1 &&
           nodes[0] * nodes[1] * nodes[2] <= most_nodes;
  };
  std::array<double, 3> change{};
  for (int d = 0; d < 3; ++d) {
    change[d] = nodes_[d] < 3 ? 0.0 : emf_change(d);
  }
  const auto most = std::max_element(change.begin(), change.end());
  auto more = nodes_, one_more = nodes_;
  for (int d = 0; d < 3; ++d) {
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
