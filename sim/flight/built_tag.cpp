#include "sim/flight/built_tag.hpp"

#include <cmath>
#include <limits>

namespace driftglow::flight {
namespace {

constexpr int table_intervals = 512;

double within(double tolerance, pcg32& stream) {
  return tolerance * (2.0 * uniform(stream) - 1.0);
}

BuiltFit built(const receiver::TankDesign& tank, const LedPlan& led, double omega, double linkage_max) {
  const auto curve = receiver::solve_glow_curve(tank, omega, omega * linkage_max);
  std::vector<double> current(table_intervals + 1);
  for (int i = 0; i <= table_intervals; ++i) {
    current[i] = curve.mean_current(omega * linkage_max * i / table_intervals);
  }
  const double on = curve.threshold_emf(led.on_mean_current) / omega;
  const double over = over_rating_emf(curve, led) / omega;
  return {on * on, over * over, CurrentTable(linkage_max, std::move(current))};
}

}  // namespace

CurrentTable::CurrentTable(double linkage_max, std::vector<double> mean_current)
    : nodes_per_linkage_(static_cast<double>(mean_current.size() - 1) / linkage_max),
      mean_current_(std::move(mean_current)) {}

receiver::TankDesign nominal_tank(const TankPlan& tank, const LedPlan& led) {
  return {tank.inductance,   tank.resistance,          tank.capacitance,
          tank.loss_tangent, led.junction_capacitance, led.law};
}

double over_rating_emf(const receiver::GlowCurve& curve, const LedPlan& led) {
  const auto over = [&](double emf) {
    const auto point = curve.at(emf);
    return point.mean_current > led.mean_current_rating || point.peak_current > led.peak_current_rating ||
           point.reverse_peak > led.reverse_voltage_rating;
  };
  double low = 0.0, high = curve.emf_max();
  if (!over(high)) return std::numeric_limits<double>::infinity();
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    (over(middle) ? high : low) = middle;
  }
  return high;
}

std::vector<BuiltFit> build_tag(const TankPlan& tank, const std::vector<LedPlan>& leds, double omega,
                                double linkage_max, pcg32& stream) {
  TankPlan drawn = tank;
  drawn.inductance *= 1.0 + within(tank.tolerances.inductance, stream);
  drawn.capacitance *= 1.0 + within(tank.tolerances.capacitance, stream);
  std::vector<BuiltFit> fits;
  for (const LedPlan& led : leds) {
    auto design = nominal_tank(drawn, led);
    design.led = led.law.shifted(within(tank.tolerances.led_voltage, stream));
    fits.push_back(built(design, led, omega, linkage_max));
  }
  return fits;
}

}  // namespace driftglow::flight
