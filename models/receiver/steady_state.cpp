#include "models/receiver/steady_state.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <limits>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/numeric/elementary.hpp"

namespace driftglow::receiver {

namespace {

// phi_k(A h) h^k = integral of exp(A(h - s)) s^(k-1)/(k-1)! over a step, k = 1..4, and exp(A h) for k = 0, by
// their Taylor series sum_j A^j h^(j+k)/(j+k)!.
Eigen::Matrix2d phi(const Eigen::Matrix2d& a, double step, int k) {
  double factor = 1.0;
  for (int j = 1; j <= k; ++j) {
    factor *= step / j;
  }
  Eigen::Matrix2d term = factor * Eigen::Matrix2d::Identity(), sum = term;
  for (int j = 1; j <= 200; ++j) {
    term = (term * a) * (step / (j + k));
    sum += term;
    if (term.cwiseAbs().sum() <= 1e-18 * sum.cwiseAbs().maxCoeff()) {
      break;
    }
  }
  return sum;
}

}  // namespace

SteadyStateSolver::SteadyStateSolver(const TankDesign& design, double omega, int nodes)
    : design_(design), nodes_(nodes), node_(nodes) {
  check(design);
  if (!(std::isfinite(omega) && omega > 0.0) || nodes < 96) {
    throw LogicError("steady state: needs a positive frequency and at least 96 nodes (48 harmonics)");
  }
  inverse_capacitance_ = 1.0 / (omega * design.total_capacitance());
  loss_conductance_ = design.loss_conductance(omega);
  linear_ = linear_response(design, omega);
  knee_ = design.led.forward_voltage(1e-7);
  narrowest_ = design.led.slope_voltage();
  knee_antiparallel_ = std::numeric_limits<double>::infinity();
  if (design.antiparallel) {
    knee_antiparallel_ = design.antiparallel->forward_voltage(1e-7);
    narrowest_ = std::fmin(narrowest_, design.antiparallel->slope_voltage());
  }

  const double reactance = omega * design.inductance, step = 2.0 * constant::pi / nodes;
  Eigen::Matrix2d a;
  a << -loss_conductance_ * inverse_capacitance_, inverse_capacitance_, -1.0 / reactance,
      -design.resistance / reactance;
  propagator_ = phi(a, step, 0);
  // Moments of s^k/step^k against the propagator, then the cubic Hermite basis in s/step.
  const Eigen::Vector2d entry(-inverse_capacitance_, 0.0);
  Eigen::Vector2d moment[4];
  double factorial = 1.0, power = 1.0;
  for (int k = 0; k < 4; ++k) {
    moment[k] = phi(a, step, k + 1) * entry * (factorial / power);
    factorial *= k + 1;
    power *= step;
  }
  weight_value_[0] = moment[0] - 3.0 * moment[2] + 2.0 * moment[3];
  weight_value_[1] = 3.0 * moment[2] - 2.0 * moment[3];
  weight_slope_[0] = step * (moment[1] - 2.0 * moment[2] + moment[3]);
  weight_slope_[1] = step * (moment[3] - moment[2]);

  for (int n = 0; n < nodes; ++n) {
    const auto turn = numeric::sine_cosine(step * n);
    cosine_.push_back(turn.cosine);
    sine_.push_back(turn.sine);
    linear_voltage_.push_back(linear_.voltage.real() * turn.cosine - linear_.voltage.imag() * turn.sine);
    linear_voltage_slope_.push_back(-linear_.voltage.real() * turn.sine -
                                    linear_.voltage.imag() * turn.cosine);
    node_[n].rest.setZero();
    node_[n].rest_slope.setZero();
    node_[n].voltage = 0.0;
  }
}

void SteadyStateSolver::evaluate(double emf_peak) {
  const double x = inverse_capacitance_;
  for (int n = 0; n < nodes_; ++n) {
    Node& node = node_[n];
    node.voltage = node.rest[0] + emf_peak * linear_voltage_[n];
    node.led = respond(design_, node.voltage);
    const double g = node.led.conductance, g2 = node.led.curvature;
    node.voltage_slope = emf_peak * linear_voltage_slope_[n] +
                         (node.rest[1] - loss_conductance_ * node.rest[0] - node.led.current) * x;
    node.by_voltage = g2 * node.voltage_slope - g * (loss_conductance_ + g) * x;
    node.by_current = g * x;
    node.led_by_emf = g * linear_voltage_[n];
    node.led_slope_by_emf = g2 * linear_voltage_[n] * node.voltage_slope +
                            g * (linear_voltage_slope_[n] - g * linear_voltage_[n] * x);
  }
}

// One Newton correction of all nodes, and the derivative of the solution by E. Returns the largest correction
// of a node voltage [V] before cutting.
double SteadyStateSolver::sweep() {
  const Eigen::Vector2d &w0 = weight_value_[0], &w1 = weight_value_[1], &s0 = weight_slope_[0],
                        &s1 = weight_slope_[1];
  Eigen::Matrix2d round = Eigen::Matrix2d::Identity();
  Eigen::Vector2d carry = Eigen::Vector2d::Zero(), carry_by_emf = Eigen::Vector2d::Zero();
  for (int n = 0; n < nodes_; ++n) {
    Node& here = node_[n];
    const Node& next = node_[n + 1 == nodes_ ? 0 : n + 1];
    const double g0 = here.led.conductance, g1 = next.led.conductance;
    Eigen::Matrix2d from = propagator_, to;
    from.col(0) += w0 * g0 + s0 * here.by_voltage;
    from.col(1) += s0 * here.by_current;
    to.col(0) = Eigen::Vector2d(1.0, 0.0) - w1 * g1 - s1 * next.by_voltage;
    to.col(1) = Eigen::Vector2d(0.0, 1.0) - s1 * next.by_current;
    const Eigen::Vector2d miss = propagator_ * here.rest + w0 * here.led.current + w1 * next.led.current +
                                 s0 * (g0 * here.voltage_slope) + s1 * (g1 * next.voltage_slope) - next.rest;
    const Eigen::Vector2d by_emf =
        w0 * here.led_by_emf + w1 * next.led_by_emf + s0 * here.led_slope_by_emf + s1 * next.led_slope_by_emf;
    const Eigen::Matrix2d inverse = to.inverse();
    here.link = inverse * from;
    here.source = inverse * miss;
    here.source_by_emf = inverse * by_emf;
    carry = here.link * carry + here.source;
    carry_by_emf = here.link * carry_by_emf + here.source_by_emf;
    round = here.link * round;
  }
  const Eigen::Matrix2d close = (Eigen::Matrix2d::Identity() - round).inverse();
  Eigen::Vector2d change = close * carry, by_emf = close * carry_by_emf;
  double largest = 0.0;
  bool finite = true;
  for (Node& node : node_) {
    finite = finite && std::isfinite(change[0]) && std::isfinite(change[1]);
    largest = std::fmax(largest, std::fabs(change[0]));
    node.rest += change;
    node.rest[0] -= overshoot(node.voltage, node.voltage + change[0]);
    node.rest_slope = by_emf;
    change = node.link * change + node.source;
    by_emf = node.link * by_emf + node.source_by_emf;
  }
  return finite ? largest : std::numeric_limits<double>::infinity();
}

// What to take off a step of a node voltage [V]: above the knee the exponential makes a long step upwards
// (with a second LED downwards too) overshoot, so what lies beyond is cut to its logarithm (common practice).
double SteadyStateSolver::overshoot(double from, double to) const {
  const auto cut = [](double excess, double width) {
    return excess > 2.0 * width ? excess - width * std::log1p(excess / width) : 0.0;
  };
  if (design_.antiparallel && to < from)
    return -cut(-to - std::fmax(-from, knee_antiparallel_), design_.antiparallel->slope_voltage());
  return cut(to - std::fmax(from, knee_), design_.led.slope_voltage());
}

bool SteadyStateSolver::newton(double emf_peak) {
  for (int n = 0; n < nodes_; ++n) {
    Node& node = node_[n];
    node.rest += (emf_peak - emf_peak_) * node.rest_slope;
    node.rest[0] -= overshoot(node.voltage, node.rest[0] + emf_peak * linear_voltage_[n]);
  }
  // Newton is quadratic: a correction of 1e-5 of the LED's slope voltage leaves about 1e-10.
  const double small = 1e-5 * narrowest_;
  for (int iteration = 0; iteration < 40; ++iteration) {
    evaluate(emf_peak);
    const double change = sweep();
    if (!std::isfinite(change)) {
      return false;
    }
    if (change <= small) {
      evaluate(emf_peak);
      emf_peak_ = emf_peak;
      return true;
    }
  }
  return false;
}

SteadyState SteadyStateSolver::solve(double emf_peak) {
  std::vector<Node> start;
  while (emf_peak_ != emf_peak) {
    start = node_;
    const double from = emf_peak_;
    double to = emf_peak;
    for (int halving = 0; !newton(to); ++halving) {
      if (halving == 30) {
        throw LogicError("steady state: Newton's iteration does not converge");
      }
      node_ = start;
      to = 0.5 * (from + to);
    }
  }
  return summary(emf_peak);
}

SteadyState SteadyStateSolver::summary(double emf_peak) const {
  SteadyState s{};
  s.value.emf_peak = emf_peak;
  s.slope.emf_peak = 1.0;
  double real = 0.0, imaginary = 0.0, real_slope = 0.0, imaginary_slope = 0.0;
  const double R = design_.resistance, G = loss_conductance_;
  int highest = 0, lowest = 0;
  for (int n = 0; n < nodes_; ++n) {
    const Node& node = node_[n];
    const double by_emf = linear_voltage_[n] + node.rest_slope[0];
    const double linear_current = linear_.current.real() * cosine_[n] - linear_.current.imag() * sine_[n];
    const double current = emf_peak * linear_current + node.rest[1];
    s.value.coil_loss += R * current * current;
    s.slope.coil_loss += 2.0 * R * current * (linear_current + node.rest_slope[1]);
    s.value.capacitor_loss += G * node.voltage * node.voltage;
    s.slope.capacitor_loss += 2.0 * G * node.voltage * by_emf;
    s.value.led_power += node.voltage * node.led.current;
    s.slope.led_power += (node.led.current + node.voltage * node.led.conductance) * by_emf;
    const auto first = design_.antiparallel ? design_.led.respond(node.voltage) : node.led;
    if (first.current > 0.0) {
      s.value.mean_current += first.current;
      s.slope.mean_current += first.conductance * by_emf;
    }
    if (design_.antiparallel && node.voltage < 0.0) {
      const auto second = design_.antiparallel->respond(-node.voltage);
      s.value.mean_current_antiparallel += second.current;
      s.slope.mean_current_antiparallel -= second.conductance * by_emf;
    }
    real += node.rest[1] * cosine_[n];
    imaginary -= node.rest[1] * sine_[n];
    real_slope += node.rest_slope[1] * cosine_[n];
    imaginary_slope -= node.rest_slope[1] * sine_[n];
    highest = node.voltage > node_[highest].voltage ? n : highest;
    lowest = node.voltage < node_[lowest].voltage ? n : lowest;
  }
  for (OperatingPoint* sums : {&s.value, &s.slope}) {
    for (const auto sum :
         {&OperatingPoint::mean_current, &OperatingPoint::mean_current_antiparallel,
          &OperatingPoint::coil_loss, &OperatingPoint::capacitor_loss, &OperatingPoint::led_power})
      sums->*sum /= nodes_;
  }

  // S = E conj(I)/2 with I the fundamental of the coil current.
  const double twice = 2.0 / nodes_;
  real = emf_peak * linear_.current.real() + twice * real;
  imaginary = emf_peak * linear_.current.imag() + twice * imaginary;
  real_slope = linear_.current.real() + twice * real_slope;
  imaginary_slope = linear_.current.imag() + twice * imaginary_slope;
  s.value.real_power = 0.5 * emf_peak * real;
  s.slope.real_power = 0.5 * (real + emf_peak * real_slope);
  s.value.reactive_power = -0.5 * emf_peak * imaginary;
  s.slope.reactive_power = -0.5 * (imaginary + emf_peak * imaginary_slope);

  // Extreme of the cubic through the two nodes around it, at the root of its slope; the derivative by E of an
  // extreme is that of the function at that place.
  struct Extreme {
    double value, by_emf;
  };
  const double step = 2.0 * constant::pi / nodes_;
  const auto extreme = [&](int n) {
    const double turning = node_[n].voltage_slope * node_[n == 0 ? nodes_ - 1 : n - 1].voltage_slope;
    const int first = turning <= 0.0 && n > 0 ? n - 1 : turning <= 0.0 ? nodes_ - 1 : n;
    const int second = first + 1 == nodes_ ? 0 : first + 1;
    const Node &a = node_[first], &b = node_[second];
    const double rise = b.voltage - a.voltage, da = step * a.voltage_slope, db = step * b.voltage_slope;
    // slope(t) = da + 2 c2 t + 3 c3 t^2
    const double c2 = 3.0 * rise - 2.0 * da - db, c3 = da + db - 2.0 * rise;
    const double discriminant = std::sqrt(std::fmax(0.0, c2 * c2 - 3.0 * c3 * da));
    const double denominator = -c2 + (c2 <= 0.0 ? discriminant : -discriminant);
    const double t = denominator != 0.0 ? std::clamp(da / denominator, 0.0, 1.0) : 0.0;
    const double by_a = linear_voltage_[first] + a.rest_slope[0],
                 by_b = linear_voltage_[second] + b.rest_slope[0];
    return Extreme{a.voltage + t * (da + t * (c2 + t * c3)), by_a + t * (by_b - by_a)};
  };
  const Extreme top = extreme(highest), bottom = extreme(lowest);
  s.value.forward_peak = top.value;
  s.slope.forward_peak = top.by_emf;
  s.value.reverse_peak = -bottom.value;
  s.slope.reverse_peak = -bottom.by_emf;
  const auto peak = design_.led.respond(top.value);
  s.value.peak_current = peak.current;
  s.slope.peak_current = peak.conductance * top.by_emf;
  if (design_.antiparallel) {
    const auto other = design_.antiparallel->respond(-bottom.value);
    s.value.peak_current_antiparallel = other.current;
    s.slope.peak_current_antiparallel = -other.conductance * bottom.by_emf;
  }
  return s;
}

}  // namespace driftglow::receiver
